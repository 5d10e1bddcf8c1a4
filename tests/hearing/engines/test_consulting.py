"""The judge of what the letters heard: asked about all but other talk, and loaded when it is first asked."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from tests.english import ENGLISH, load
from tests.hearing.test_letter_decision import OTHER, READING, heard
from voicelog.errors import MissingPartError
from voicelog.hearing.decision import decide, default_limits
from voicelog.hearing.engines import chosen
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.engines.consulting import Consulting, is_bare
from voicelog.hearing.engines.letters_engine import LettersEngine
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.engines.network import States
from voicelog.hearing.engines.protocol import Ending, HeardWord, Hearing, Hypothesis, Samples
from voicelog.hearing.engines.scoring import Exchanges, Opinion
from voicelog.phrases.lines import LineReader
from voicelog.settings import Settings

SOUND = np.zeros(16000, np.float32)


@dataclass
class Scripted:
    """A first listener that always hears the same, and to which the words of any phrase fit."""

    hearing: Hearing
    name: str = "scripted"

    def hear(self, samples: Samples, rule: str) -> Hearing:
        """What was written down for it."""
        return self.hearing

    def heard(self, samples: Samples, rule: str) -> tuple[Hearing, States]:
        """The same, with states of a second."""
        return self.hearing, np.zeros((1, 42, 288), np.float32)

    def words(self, samples: Samples, text: str) -> tuple[HeardWord, ...]:
        """Each word at its best."""
        return tuple(HeardWord(word, 0.0, 0.1, 0.0, True) for word in text.split())


@dataclass
class ScriptedJudge:
    """A judge that finds phrases as likely as was written down; its own transcript has a log probability of 0."""

    logs: list[float]
    text: str = "Mumble."
    apart: tuple[float, ...] = (9.0, 9.0)
    exchanges: Exchanges = field(default_factory=dict)
    asked: list[list[str]] = field(default_factory=list)
    listened: int = 0

    def states(self, samples: Samples) -> States:
        """Of a second; it is counted."""
        self.listened += 1
        return np.zeros((1, 42, 288), np.float32)

    def judge(self, states: States, phrases: list[str], exchanges: Exchanges) -> Opinion:
        """What was written down for it."""
        self.asked.append(phrases)
        self.exchanges = exchanges
        return Opinion(np.array(self.logs), np.array(self.apart), 0.0, self.text)


def consulting(first: Hearing, judge: ScriptedJudge) -> Consulting:
    return Consulting(load(), Scripted(first), lambda: judge)


SURE, UNSURE = heard(READING, margin=14.0, reach=14.0), heard(READING, margin=2.0)
NOTHING = Hearing("scripted", (), "hello", 0.0, 0.0)


@pytest.mark.parametrize(
    ("first", "logs", "opinion", "best", "outcome"),
    [
        (SURE, [-9.0, -20.0], 11.0, READING, "accepted"),
        (SURE, [-19.0, 0.0], 19.0, OTHER, "asked"),
        (UNSURE, [-5.0, -20.0], 15.0, READING, "accepted"),
        (UNSURE, [-5.0, -6.0], 1.0, READING, "asked"),
        (UNSURE, [-20.0, -5.0], 15.0, OTHER, "asked"),
        (UNSURE, [-23.0, -5.0], 18.0, OTHER, "accepted"),
        (UNSURE, [-8.0, -5.0], 3.0, OTHER, "asked"),
    ],
)
def test_both_count(first: Hearing, logs: list[float], opinion: float, best: str, outcome: str) -> None:
    judge = ScriptedJudge(logs)
    hearing = consulting(first, judge).hear(SOUND, "line")

    assert judge.asked == [[READING, OTHER]]
    assert hearing.second_opinion == opinion
    assert hearing.hypotheses[0].text == best
    assert decide(hearing, ENGLISH) == outcome


def test_a_word_that_the_judge_hears_as_another_is_asked_about() -> None:
    """However clear the rest: the letters found no rival there."""
    for apart, outcome in (((9.0, -9.0), "accepted"), ((-9.0, 9.0), "asked")):
        judge = ScriptedJudge([-9.0, -20.0], apart=apart)
        hearing = consulting(SURE, judge).hear(SOUND, "line")

        assert hearing.second_apart == apart[0]
        assert decide(hearing, ENGLISH) == outcome
    assert {"minus", "less"} <= judge.exchanges["plus"]
    assert {"fifty", "five"} <= judge.exchanges["fifteen"]


def test_other_talk_is_not_judged() -> None:
    judge = ScriptedJudge([])

    assert consulting(NOTHING, judge).hear(SOUND, "line") == NOTHING
    assert judge.asked == []


def test_the_score_is_the_first_listeners_own() -> None:
    """Also where another phrase is the best now: its own score, and its own words."""
    first = replace(heard(READING, score=-1.0, margin=2.0), ending=Ending(READING, 0.0, 3.0))
    hearing = consulting(first, ScriptedJudge([-20.0, -7.0])).hear(SOUND, "line")

    assert hearing.score == pytest.approx(-3.0)
    assert hearing.second_score == pytest.approx(-7.0)
    assert " ".join(word.text for word in hearing.words) == OTHER
    assert hearing.ending is None  # whether the other phrase may go on is not known


def test_the_judge_is_made_once_when_it_is_needed_or_before() -> None:
    made: list[ScriptedJudge] = []

    def make() -> ScriptedJudge:
        made.append(ScriptedJudge([0.0, -1.0]))
        return made[-1]

    first = Scripted(NOTHING)
    both = Consulting(load(), first, make)
    both.hear(SOUND, "line")
    assert not made
    first.hearing = SURE
    both.hear(SOUND, "line")
    both.hear(SOUND, "line")
    both.prepare()
    assert len(made) == 1

    Consulting(load(), first, make).prepare()
    assert len(made) == 2


def test_bare_numbers_need_both() -> None:
    """As answers to a question: "ninety"; with other words around them they do not."""
    reader = LineReader(load(), "answers_axis")
    said = [
        Hypothesis(text, reader.understand(text).readings[0], log)
        for text, log in (("ninety", 0.0), ("nineteen", -14.0))
    ]
    word = HeardWord("ninety", 0.0, 0.5, 0.0, True)
    bare = Hearing("scripted", tuple(said), "ninety", 0.0, 0.0, words=(word,), reach=14.0)
    assert decide(bare, ENGLISH) == "accepted"

    for logs, outcome in (([0.0, -9.0], "accepted"), ([-9.0, 0.0], "asked")):
        judge = ScriptedJudge(logs)
        assert decide(consulting(bare, judge).hear(SOUND, "answers_axis"), ENGLISH) == outcome
        assert judge.listened == 1  # by itself: both would mishear a bare number alike in the same states

    judge = ScriptedJudge([-9.0, -20.0])
    consulting(SURE, judge).hear(SOUND, "line")
    assert judge.listened == 0


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


@pytest.mark.parametrize(
    ("phrase", "bare"),
    [
        ("with", True),
        ("fifty", True),
        ("one seventy five", True),
        ("o s", True),
        ("o s plus two", False),
        ("plus fifty", False),
        ("left eye", False),
    ],
)
def test_one_word_or_numbers_or_letters_alone_are_bare(phrase: str, bare: bool) -> None:
    assert is_bare(phrase, load().language) == bare
