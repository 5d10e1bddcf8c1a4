"""What is said to the log itself: orders, questions, what is taken back or moved, notes, claims."""

from typing import Literal

from voicelog.phrases.meanings.base import EyeNamed, Lens, Model, OneEye, Where


class Plain(Model):
    """A phrase that says nothing but itself."""

    kind: Literal[
        "wrong_eye",
        "pause",
        "resume",
        "end_note",
        "redo",
        "start",
        "finish",
        "next_patient",
        "discard",
        "louder",
        "quieter",
        "show_everything",
        "show_less",
        "done",
        "save",
        "print",
        "mute",
        "read_back_off",
        "read_back_on",
    ]
    whole: bool = False
    """Of "discard": the exam is meant, and no open question."""


class Reference(Model):
    """The practice's own reference of the patient, in digits and letters."""

    kind: Literal["reference"] = "reference"
    text: str


class Scratch(Model):
    """Takes back the last entries (`count`), or the last one of a place or an eye ("delete the vertical")."""

    kind: Literal["scratch"] = "scratch"
    count: int = 1
    where: Where | None = None
    eye: OneEye | None = None
    all_of_eye: bool = False


class Keep(Model):
    """What was taken back of a place counts after all ("no, keep the vertical")."""

    kind: Literal["keep"] = "keep"
    where: Where


class Move(Model):
    """Entries belong to another eye: the last one, the last two, or all since the eye was named.

    `where`: the last reading of that place in the other eye ("the vertical was the left eye").
    """

    kind: Literal["move"] = "move"
    eye: EyeNamed
    scope: Literal["last", "two", "all"] = "last"
    where: Where | None = None


class Swap(Model):
    """Two values were said the wrong way round: of the two meridians in hand, or of the two eyes."""

    kind: Literal["swap"] = "swap"
    what: Literal["meridians", "eyes"]


class Note(Model):
    """Words to be kept as they were heard; `text` None: all until "end note"."""

    kind: Literal["note"] = "note"
    text: str | None = None


class Tell(Model):
    """A question to the log. `where` and `eye` narrow it.

    `vertex_mm` is of "at_vertex": how far from the cornea the lens would be (0: on it).
    """

    kind: Literal["tell"] = "tell"
    say: Literal[
        "last",
        "right",
        "left",
        "missing",
        "findings",
        "comparison",
        "remarks",
        "reading",
        "net",
        "cylinder",
        "equivalent",
        "other_form",
        "plus_form",
        "minus_form",
        "distance",
        "everything",
        "question",
        "state",
        "dry",
        "next_look",
        "estimate",
        "at_vertex",
    ]
    where: Where | None = None
    eye: OneEye | None = None
    vertex_mm: float | None = None


LessonOrder = Literal["tell", "hint", "look"]


class Lesson(Model):
    """An order to a lesson of practice: tell what is to be seen, give a hint, look again. No exam hears it."""

    kind: Literal["lesson"] = "lesson"
    order: LessonOrder


class Claim(Model):
    """A net result as the examiner says it ("net is plus one fifty minus one axis ten"): compared, never entered."""

    kind: Literal["claim"] = "claim"
    lens: Lens
