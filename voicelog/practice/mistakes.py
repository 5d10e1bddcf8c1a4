"""What a mistake in practice is."""

from dataclasses import dataclass
from typing import Literal

from voicelog.practice.eye import Glimpse

Code = Literal[
    "wrong_eye",
    "motion",
    "mirror",
    "sign",
    "turned_by_90",
    "other_habit",
    "cylinder_turned_by_90",
    "allowance_forgotten",
    "allowance_taken_twice",
    "stopped_early",
    "distance",
    "off_axis",
    "axis",
    "unfinished",
]


@dataclass(frozen=True, slots=True)
class Mistake:
    """What went wrong first: a code, the number of the entry (None: the exam as a whole), and words.

    `glimpse`: the look that tells it, to be shown again; None where no look does.
    """

    code: Code
    entry: int | None
    text: str
    glimpse: Glimpse | None = None
