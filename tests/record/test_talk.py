"""What is said in the room and is not for the log leaves no word and no sound behind: a byte search of the data folder."""

import io
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile

from tests.session.test_session import hearing
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

EVERY_S = 4.0  # somebody says something every four seconds
MARKS = ("zebrafish", "quixotic", "marmalade", "obsidian", "wheelbarrow", "tangerine", "kaleidoscope")
SENTENCES = (
    "my {} has the same trouble as my sister",
    "could you look at the {} please",
    "we went to the {} with two of the children",
    "that was about one {} and a half",
    "no not the {} the other one",
    "is the {} better or worse like this",
)
ENTRIES = ("streak 90 neutral at plus one", "acuity six nine", "scissors")


def talk(random: Random, number: int) -> str:
    """A sentence with words that nothing else holds, each told apart by its number."""
    return random.choice(SENTENCES).format(f"{random.choice(MARKS)}{number:05d}")


def sound(number: int, length_s: float = 0.5) -> Samples:
    """Noise that is this utterance's own."""
    noise = np.random.default_rng(number).standard_normal(round(length_s * SAMPLE_RATE_HZ)) * 0.1
    return noise.astype(np.float32)


def spoken(number: int, start_s: float, samples: Samples) -> Utterance:
    """An utterance as the end-pointer gives it, of these samples."""
    start = round(start_s * SAMPLE_RATE_HZ)
    end = start + samples.size
    return Utterance(
        number, samples, start, end, 0, 0, "pause", "pause", ((start, end),), 0.0, -20.0, -20.0, start_s
    )


def doubtful(text: str) -> Hearing:
    """Talk for which a listener found a phrase that does not fit it."""
    nearest = hearing("streak 90 neutral at plus one").hypotheses[0]
    return Hearing("script", (Hypothesis(nearest.text, nearest.meanings, -30.0),), text, -1.0, 0.0)


@pytest.mark.parametrize("minutes", [3, pytest.param(30, marks=pytest.mark.sweep)])
def test_talk_leaves_no_word_and_no_sound(tmp_path: Path, minutes: int) -> None:
    """Between entries, while a question is open, and while paused; with hearings that found nothing, and a wrong phrase."""
    random, clock = Random(minutes), moments()
    said: dict[int, str] = {}
    kept: list[int] = []
    folder = tmp_path / "data"
    with Journal.open(folder) as journal:
        session = Session(Settings(working_distance_cm=67), store=journal.begin(), now=lambda: next(clock))
        session.take_heard(hearing("right eye"))
        for number in range(round(minutes * 60 / EVERY_S)):
            at_s = number * EVERY_S
            match number % 45:
                case 10 | 20:
                    entry = ENTRIES[number % len(ENTRIES)]
                    line = session.take_heard(hearing(entry), spoken(number, at_s, sound(number)))
                    assert line.outcome == "accepted"
                    kept.append(number)
                case 25:  # a question without an answer, until the pause
                    session.take_heard(hearing("streak 60 neutral at one"))
                case 30:
                    session.take_heard(hearing("pause"))
                case 40:
                    session.take_heard(hearing("resume"))
                case _:
                    words = talk(random, number)
                    said[number] = words
                    heard = doubtful(words) if number % 3 == 0 else hearing(words)
                    line = session.take_heard(heard, spoken(number, at_s, sound(number)))
                    assert (line.outcome, line.text, line.acts) == ("ignored", "", ()), words
        lines = [each for each in session.state.events if isinstance(each, Line)]
        content = everything(folder)  # with the write-ahead file, as long as the journal is open
    content += everything(folder)

    assert {each.left_out for each in lines} >= {"talk", "paused"}
    assert not [words for words in said.values() if has_words(content, words)]
    assert not [number for number in said if has_sound(content, sound(number))]
    # The search does find what is there: the entries, in the same files.
    assert b"acuity six nine" in content
    assert [number for number in kept if has_sound(content, sound(number))] == kept != []


def moments() -> Iterator[datetime]:
    """A time for each event, a second apart."""
    start = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    return (start + timedelta(seconds=each) for each in count())


def everything(folder: Path) -> bytes:
    """All files of a folder, one behind the other."""
    return b"\0".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def has_words(content: bytes, sentence: str) -> bool:
    """Whether the word that nothing else holds is there, in any common encoding."""
    word = next(each for each in sentence.split() if each[-5:].isdigit())
    return any(word.encode(code) in content for code in ("utf-8", "utf-16-le", "utf-32-le"))


def has_sound(content: bytes, samples: Samples) -> bool:
    """Whether a piece of a sound is there: as floats, as 16-bit numbers, or as FLAC."""
    file = io.BytesIO()
    soundfile.write(file, samples, SAMPLE_RATE_HZ, format="FLAC", subtype="PCM_16")
    forms = ((samples * 32767).astype("<i2").tobytes(), samples.tobytes(), file.getvalue())
    return any(each[len(each) // 2 : len(each) // 2 + 32] in content for each in forms)
