"""What the log asks about is told whole: a yes enters no value that the question did not show."""

import re
from itertools import islice
from random import Random

import pytest

from tests.english import load
from voicelog.exam import wording
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import LineReader
from voicelog.phrases.sampler import samples


def roughly(data: str) -> str:
    """Numbers to a tenth: what is no step of a lens (0.122 D) is asked about by itself, and written to a hundredth."""
    return re.sub(r"-?\d+\.\d+", lambda found: f"{float(found[0]):.1f}", data)


def plainly(meaning: say.Meaning) -> say.Meaning:
    """With what is meant where nothing is said: far, and both eyes for an addition."""
    if isinstance(meaning, say.PupilsDistance):
        return meaning.model_copy(update={"at": meaning.at or "far"})
    return (
        meaning.model_copy(update={"eye": meaning.eye or "both"})
        if isinstance(meaning, say.Addition)
        else meaning
    )


@pytest.mark.parametrize("count", [400, pytest.param(1000, marks=pytest.mark.sweep)])
@pytest.mark.parametrize("rule", ["finding", "near_finding"])
def test_findings_that_differ_are_told_otherwise(rule: str, count: int) -> None:
    """Powers that are not clear apart: they are asked for by themselves. The sweep draws more of them."""
    grammar = load()
    reader = LineReader(grammar, rule)
    told: dict[str, str] = {}
    for sample in islice(samples(grammar.walker(rule), Random(5)), count):
        understood = reader.phrase(sample.text)
        assert understood is not None
        for meaning in (each for one in understood.readings for each in one):
            words, whole = wording.meaning(meaning), roughly(plainly(meaning).model_dump_json())
            if "unclear power" not in words and "without a sign" not in words:
                assert told.setdefault(words, whole) == whole, sample.text
    assert len(told) > count / 3


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (
            "drops cyclopentolate one percent both eyes at nine fifteen",
            "drops cyclopentolate 1 %, both eyes, at 09:15",
        ),
        (
            "keratometry right forty three point five at one eighty forty four point two five at ninety",
            "keratometry right eye 43.5 at 180, 44.25 at 090",
        ),
        ("cover test near four left alternating exotropia", "cover test near 4 alternating left exotropia"),
        ("duochrome right red", "duochrome right eye red clearer"),
        ("left pupil sluggish", "left eye pupil sluggish"),
        ("near point of convergence six recovery nine", "near point of convergence 6 cm, recovery 9 cm"),
    ],
)
def test_as_they_are_told(line: str, words: str) -> None:
    (meanings,) = LineReader(load()).understand(line).readings

    assert [wording.meaning(each) for each in meanings] == [words]
