"""What came of one utterance, and of a list of them."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from tests.phrases.said.comparing import is_same
from tests.phrases.said.expected import expected
from tests.phrases.said.lists import Utterance, opened, utterances
from tests.phrases.said.understood import understood
from voicelog.exam.events import Line


class Verdict(StrEnum):
    """What came of an utterance, from good to bad."""

    RIGHT = "right"
    ASKED = "asked with the right guess"
    ASKED_ELSE = "asked otherwise"
    REFUSED = "refused"
    NO_TRACE = "no trace"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Scored:
    """An utterance, the lines that came of it, and what that is worth. Pauses may cut one that is spoken into several."""

    said: Utterance
    lines: tuple[Line, ...]
    verdict: Verdict


def judged(said: Utterance, *lines: Line) -> Verdict:
    """What came of an utterance.

    What is understood counts as right whatever the exam then asks of it: "2.50: plus or minus?". Asked is what was
    only guessed: "did you say ...?". What was heard and is left out as unclear counts as refused. What is entered must
    be all that was meant; else it is wrong, whatever is asked beside it.
    """
    if not lines:
        return Verdict.NO_TRACE
    told = [line for line in lines if line.meanings and not line.left_out]
    sure = [line for line in told if not guessed(line)]
    if not told:
        return Verdict.REFUSED
    got = understood([each for line in sure or told for each in line.meanings])
    heard = " ".join(line.text for line in lines)  # a note keeps its words as they were heard
    same = is_same(expected(said.structured), got, heard)
    if sure:
        return Verdict.RIGHT if same else Verdict.WRONG
    return Verdict.ASKED if same else Verdict.ASKED_ELSE


def guessed(line: Line) -> bool:
    """Whether a line was only asked about, all of it."""
    return line.question is not None and line.question.doubt == "unsure"


def typed(path: Path) -> Iterator[Scored]:
    """Every utterance of a list, typed in its context."""
    for said in utterances(path):
        line = opened(said.context).type_line(said.text)
        yield Scored(said, (line,), judged(said, line))


def shares(scored: Iterable[Scored]) -> dict[Verdict, float]:
    """Of all that was said, weighted by how often it is said, what came of it, in percent."""
    weights: defaultdict[Verdict, float] = defaultdict(float)
    for each in scored:
        weights[each.verdict] += each.said.weight
    total = sum(weights.values()) or 1.0
    return {verdict: 100 * weights[verdict] / total for verdict in Verdict}
