"""What the log asks. A question keeps what waits for its answer; it never keeps a value that was not said."""

from typing import Final, Literal

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Meaning, Model

Missing = Literal[
    "confirm",
    "sign",
    "size",
    "sphere",
    "axis",
    "eye",
    "where",
    "repeat",
    "distance",
    "motion",
    "value",
    "scope",
    "habit",
    "stayed",
    "reference",
]
"""What would settle a question; "value" is one power for a span, "scope" the eyes that a change is for, "stayed"
whether a lens that stayed changes where it stayed: yes and no both enter the reading."""

AXIS_ALONE: Final = "axis_alone"
"""The doubt whether an axis that was said alone is of the last cylinder."""
MERIDIANS: Final = "meridians"
"""The doubt whether two meridians are to lie along another axis."""
ORDER: Final = "order"
"""The doubt whether an exam is to be ended or discarded. Nothing waits for it."""

DISTANCE_UNCLEAR: Final = "distance_unclear"
"""The doubt whether the distance is still as before, where what named one was not understood."""
COMES_OUT: Final = "comes_out"
"""The doubt whether the working distance lens comes out, or another."""
FIRST_DISTANCE: Final = "first_distance"
"""The doubt whether a number alone is the working distance."""

_IN_QUESTION_BLOCKS = (
    say.Eye,
    say.WorkingDistance,
    say.WorkingLens,
    say.Lenses,
    say.Mirror,
    say.Habit,
    say.Condition,
    say.Pass,
    say.Place,
    say.Drops,
    say.Move,
    say.Swap,
    say.Scratch,
    say.Plain,
)


class Question(Model):
    """What the log asks: `candidate` is the entry that waits, `missing` what would settle it.

    `doubt` names the doubt that "yes" would lay to rest, `settled` those that were laid to rest before, so that each is
    asked once.
    """

    missing: Missing
    text: str
    candidate: Meaning | None = None
    rest: tuple[Meaning, ...] = ()
    """What was said in the same breath and waits with it."""
    doubt: str = ""
    settled: tuple[str, ...] = ()
    pinned: str | None = None
    """The id of the entry that a correction would change, as it was named in the question."""

    @property
    def blocks(self) -> bool:
        """Whether readings must wait: what they would be taken with (eye, distance, lens, mirror) is in question."""
        about = self.candidate.entry if isinstance(self.candidate, say.Correction) else self.candidate
        if self.doubt in (FIRST_DISTANCE, ORDER) or (self.missing == "distance" and about is None):
            return False  # readings that have no distance get the first one, whenever it is said
        of_all = self.missing in ("eye", "distance", "habit") or self.doubt == DISTANCE_UNCLEAR
        return of_all or isinstance(about, _IN_QUESTION_BLOCKS)


class NeedsAnswer(Exception):
    """A meaning cannot be entered before its question is answered."""

    def __init__(self, question: Question) -> None:
        super().__init__(question.text)
        self.question = question


class Stands(NeedsAnswer):
    """Nothing is to be changed: it is already as was said, and nothing needs to be answered. `text` says so."""

    def __init__(self, text: str) -> None:
        super().__init__(Question(missing="repeat", text=text))
        self.text = text
