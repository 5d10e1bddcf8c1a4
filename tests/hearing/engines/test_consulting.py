"""The second listener of the letters: asked where they are not sure, by itself, and loaded only then."""

from dataclasses import dataclass, field
from math import inf

import numpy as np
import pytest

from tests.english import ENGLISH, load
from tests.hearing.test_letter_decision import OTHER, READING, heard
from voicelog.errors import MissingPartError
from voicelog.hearing.decision import decide, default_limits
from voicelog.hearing.engines import chosen
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.engines.consulting import Consulting, preference
from voicelog.hearing.engines.letters_engine import LettersEngine
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.engines.protocol import HeardWord, Hearing, Hypothesis, Samples
from voicelog.phrases.lines import LineReader
from voicelog.settings import Settings

SOUND = np.zeros(16000, np.float32)


@dataclass
class Scripted:
    """A listener that always hears the same."""

    hearing: Hearing
    name: str = "scripted"
    asked: list[str] = field(default_factory=list)

    def hear(self, samples: Samples, rule: str) -> Hearing:
        """What was written down for it."""
        self.asked.append(rule)
        return self.hearing


SURE, UNSURE = heard(READING), heard(READING, margin=2.0)
NOTHING = Hearing("scripted", (), "hello", 0.0, 0.0)


@pytest.mark.parametrize(
    ("first", "other", "opinion", "outcome"),
    [
        (SURE, UNSURE, None, "accepted"),
        (NOTHING, SURE, None, "ignored"),
        (UNSURE, SURE, 12.0, "accepted"),
        (UNSURE, heard(OTHER, rival=READING, margin=3.0), -3.0, "asked"),
        (UNSURE, heard(OTHER, rival="right eye"), -inf, "asked"),
        (UNSURE, NOTHING, -inf, "asked"),
    ],
)
def test_it_is_asked_where_the_first_is_not_sure(
    first: Hearing, other: Hearing, opinion: float | None, outcome: str
) -> None:
    second = Scripted(other)
    hearing = Consulting(load(), Scripted(first), lambda: second).hear(SOUND, "line")

    assert second.asked == ([] if opinion is None else ["line"])
    assert hearing.second_opinion == opinion
    assert hearing.hypotheses == first.hypotheses
    assert decide(hearing, ENGLISH) == outcome


def test_it_is_made_once_and_only_when_it_is_needed() -> None:
    made: list[Scripted] = []

    def make() -> Scripted:
        made.append(Scripted(UNSURE))
        return made[-1]

    first = Scripted(SURE)
    both = Consulting(load(), first, make)
    both.hear(SOUND, "line")
    assert not made
    first.hearing = UNSURE
    both.hear(SOUND, "line")
    both.hear(SOUND, "line")
    assert len(made) == 1


def test_every_fifteen_and_fifty_can_be_doubted() -> None:
    fifty = Scripted(heard("streak fifty with"))
    assert Consulting(load(), fifty, lambda: fifty).hear(SOUND, "line").second_opinion is None
    doubting = Consulting(load(), fifty, lambda: Scripted(NOTHING), doubting_numbers=True)
    assert decide(doubting.hear(SOUND, "line"), ENGLISH) == "asked"
    eye = Scripted(heard("right eye"))
    assert (
        Consulting(load(), eye, lambda: eye, doubting_numbers=True).hear(SOUND, "line").second_opinion is None
    )


def test_bare_numbers_need_both() -> None:
    """As answers to a question: "ninety"; with other words around them they do not."""
    (said,) = LineReader(load(), "answers_axis").understand("ninety").readings
    word = HeardWord("ninety", 0.0, 0.5, 0.0, True)
    bare = Hearing("scripted", (Hypothesis("ninety", said, 0.0),), "ninety", 0.0, 0.0, None, (word,), 12.0)
    assert decide(bare, ENGLISH) == "accepted"

    for other, outcome in ((bare, "accepted"), (NOTHING, "asked")):
        both = Consulting(load(), Scripted(bare), lambda other=other: Scripted(other))  # type: ignore[misc]
        assert decide(both.hear(SOUND, "answers_axis"), ENGLISH) == outcome


def test_an_only_phrase_is_preferred_to_nothing() -> None:
    alone = Hearing("scripted", SURE.hypotheses[:1], "", 0.0, 0.0)

    assert preference(SURE, alone) == inf


def test_the_settings_choose() -> None:
    assert isinstance(chosen_engine(Settings(policy="single"), load()), LettersEngine)
    assert isinstance(chosen_engine(Settings(policy="normal"), load()), Consulting)
    assert isinstance(chosen_engine(Settings(engine="moonshine", policy="single"), load()), MoonshineEngine)


def missing(*_: object) -> object:
    """Stands for a part that is not there."""
    raise MissingPartError("it is missing")


def test_without_its_model_moonshine_listens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chosen, "LettersEngine", missing)
    assert isinstance(chosen_engine(Settings(policy="normal"), load()), MoonshineEngine)

    monkeypatch.setattr(chosen, "model_folder", missing)
    with pytest.raises(MissingPartError, match="it is missing"):
        chosen_engine(Settings(), load())


def test_without_moonshine_the_letters_listen_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chosen, "model_folder", missing)

    assert isinstance(chosen_engine(Settings(policy="normal"), load()), LettersEngine)


def test_limits_of_the_other_kind_are_left_alone() -> None:
    assert decide(SURE, ENGLISH, default_limits()) == decide(SURE, ENGLISH)
