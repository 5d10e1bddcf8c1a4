"""Made-up rows and hearings, for what can be counted without sound."""

from pathlib import Path

from tests.english import load
from voicelog.hearing.decision import Limits
from voicelog.hearing.engines.protocol import Hearing, Hypothesis
from voicelog.measuring.counting import Case, Heard
from voicelog.measuring.manifests import EXAM_RULES, Expecting, Row, Split
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader

READER = LineReader(load(), f"{EXAM_RULES} answer", Layer.WRITTEN)
LIMITS = Limits(
    accept_score=-5.0,
    accept_margin=2.0,
    ask_score=-10.0,
    teen_margin=4.0,
    odd_teen_margin=0.5,
    agree_opinion=0.003,
    agreed_margin=0.5,
)


def row(
    transcript: str,
    *,
    speaker: str = "ann",
    set_name: str = "phrases",
    condition: str = "quiet",
    snr_db: float | None = None,
    split: Split | None = None,
    rule: str = EXAM_RULES,
) -> Row:
    """A row, with what its transcript means."""
    rule, expected = Expecting(load(), (rule,)).expected(transcript)
    return Row(Path("a.flac"), transcript, speaker, rule, set_name, condition, snr_db, split, expected)


def heard(
    *texts_and_scores: tuple[str, float], free: str = "", second: float | None = None, seconds: float = 0.2
) -> Hearing:
    """A hearing with these hypotheses, scored against a free transcript of log probability 0."""
    hypotheses = tuple(
        Hypothesis(text, READER.understand(text).readings[0], score) for text, score in texts_and_scores
    )
    text = free or (texts_and_scores[0][0] if texts_and_scores else "something else altogether")
    return Hearing("made up", hypotheses, text, 0.0, seconds, second)


def phrase(said: str, hearing: Hearing, **about: object) -> Case:
    """A phrase as it was heard."""
    return Case(row(said, **about), (Heard(hearing, whole=True),), 0.0)  # type: ignore[arg-type]


def talk(minutes: float, *hearings: Hearing, whole: bool = True, speaker: str = "pat") -> Case:
    """A recording of other talk, as its stretches were heard."""
    return Case(
        row("", speaker=speaker, set_name="talk"),
        tuple(Heard(each, whole) for each in hearings),
        minutes * 60,
    )
