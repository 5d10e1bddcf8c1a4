"""Simulated examiners who slip and repair: the record is what they meant, or a question is open."""

from random import Random

import pytest

from tests.exam.person import Person


def dialogues(seeds: range) -> tuple[int, int]:
    """How many dialogues ended with a question open, and how many were said in all."""
    still_open = 0
    for seed in seeds:
        person = Person(Random(seed))
        person.speak()
        differences = person.silent_differences()
        assert differences == [], f"seed {seed}: {differences}\n" + "\n".join(person.said)
        still_open += bool(person.log.state.dialogue.questions)
    return still_open, len(seeds)


@pytest.mark.parametrize(
    "start", [0, 500, *(pytest.param(start, marks=pytest.mark.sweep) for start in range(1000, 2000, 500))]
)
def test_no_slip_changes_the_record_in_silence(start: int) -> None:
    """A thousand dialogues; the sweep says two thousand."""
    still_open, all_of_them = dialogues(range(start, start + 500))

    assert still_open <= 0.1 * all_of_them
