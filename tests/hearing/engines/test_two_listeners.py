"""The second listener, on real sound and with scripted firsts."""

import csv
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from tests.english import load
from voicelog.errors import MissingPartError
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.engines.sphinx import SphinxListener
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import WHOLE_LINES
from voicelog.phrases.lines import LineReader
from voicelog.phrases.word_sets import words_of

AUDIO = Path(__file__).parents[2] / "audio"


@pytest.fixture(scope="module", name="second")
def _second() -> SphinxListener:
    return SphinxListener(load())


def clip(speaker: str, transcript: str) -> Samples:
    """One packed test clip with a little silence around it."""
    with (AUDIO / "index.tsv").open(encoding="utf-8", newline="") as file:
        row = next(
            each
            for each in csv.DictReader(file, delimiter="\t")
            if (each["speaker"], each["transcript"]) == (speaker, transcript)
        )
    samples, rate_hz = soundfile.read(AUDIO / row["file"], dtype="float32")
    edges = (round((float(row["start_s"]) - 0.2) * rate_hz), round((float(row["end_s"]) + 0.2) * rate_hz))
    return np.asarray(soxr.resample(samples[slice(*edges)], rate_hz, SAMPLE_RATE_HZ), np.float32)


def any_clip() -> tuple[str, Samples]:
    """Some phrase by the first natural voice."""
    with (AUDIO / "index.tsv").open(encoding="utf-8", newline="") as file:
        row = next(
            each for each in csv.DictReader(file, delimiter="\t") if each["speaker"] == "kokoro-af_heart"
        )
    return row["transcript"], clip("kokoro-af_heart", row["transcript"])


def test_what_was_said_is_preferred_to_something_else(second: SphinxListener) -> None:
    transcript, samples = any_clip()
    words = " ".join(transcript.replace(",", " ").split())

    assert (second.preference(samples, words, "what is missing") or 0) > 0
    assert (second.preference(samples, "what is missing", words) or 0) < 0


def test_silence_gives_no_opinion_or_a_slight_one(second: SphinxListener) -> None:
    opinion = second.preference(np.zeros(16000, np.float32), "streak fifty with", "streak fifteen with")

    assert opinion is None or abs(opinion) < 1


def test_every_word_of_the_grammar_has_a_pronunciation(second: SphinxListener) -> None:
    grammar = load()
    listened_for = [name for name in grammar.rules if name in WHOLE_LINES or name.startswith("answers_")]
    words = set().union(*(words_of(grammar, name) for name in listened_for))

    assert len(words) > 100
    assert [word for word in sorted(words) if second._decoder.lookup_word(word) is None] == []


class Scripted:
    """A first listener that always hears the same, and a second that notes what it is asked."""

    name = "scripted"

    def __init__(self, *texts_and_logs: tuple[str, float]) -> None:
        reader = LineReader(load(), "entry", Layer.WRITTEN)
        hypotheses = [
            Hypothesis(text, reader.understand(text).readings[0], log) for text, log in texts_and_logs
        ]
        self.heard = Hearing(self.name, tuple(hypotheses), "", -1.0, 0.0)
        self.asked: list[tuple[str, str]] = []

    def hear(self, samples: Samples, rule: str) -> Hearing:
        return self.heard

    def preference(self, samples: Samples, phrase: str, other: str) -> float | None:
        self.asked.append((phrase, other))
        return 1.5


@pytest.mark.parametrize(
    ("heard", "asked"),
    [
        ([("right eye", -1.0)], []),
        ([("right eye", -1.0), ("left eye", -6.0)], []),
        ([("right eye", -1.0), ("left eye", -2.0)], [("right eye", "left eye")]),
        ([("streak fifty with", -1.0)], [("streak fifty with", "streak fifteen with")]),
        ([("streak sixty with", -1.0)], []),
        ([("streak sixteen with", -1.0)], [("streak sixteen with", "streak sixty with")]),
        ([("sphere plus one fifty", -1.0)], []),
        ([("sphere plus fifty", -1.0)], [("sphere plus fifty", "sphere plus fifteen")]),
    ],
)
def test_the_second_is_asked_only_where_the_first_may_be_wrong(
    heard: list[tuple[str, float]], asked: list[tuple[str, str]]
) -> None:
    script = Scripted(*heard)

    listeners = TwoListeners(load(), script, script, doubting_numbers=True)  # type: ignore[arg-type]
    hearing = listeners.hear(np.zeros(16000, np.float32))

    assert script.asked == asked
    assert hearing.second_opinion == (1.5 if asked else None)
    assert hearing.hypotheses == script.heard.hypotheses


def test_without_doubting_numbers_only_close_meanings_are_compared() -> None:
    script = Scripted(("streak fifty with", -1.0), ("streak fifteen with", -6.0))
    hearing = TwoListeners(load(), script, script).hear(np.zeros(16000, np.float32))  # type: ignore[arg-type]
    assert (script.asked, hearing.second_opinion) == ([], None)

    script = Scripted(("streak fifty with", -1.0), ("streak fifteen with", -4.0))
    hearing = TwoListeners(load(), script, script).hear(np.zeros(16000, np.float32))  # type: ignore[arg-type]
    assert (script.asked, hearing.second_opinion) == ([("streak fifty with", "streak fifteen with")], 1.5)


def test_a_word_it_cannot_pronounce_gives_no_opinion(second: SphinxListener) -> None:
    assert second.preference(np.zeros(16000, np.float32), "xyzzy", "plugh") is None


def test_a_missing_second_listener_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.hearing.engines.sphinx.find_spec", lambda _: None)

    with pytest.raises(MissingPartError, match="pip install pocketsphinx"):
        SphinxListener(load())
