"""What the entries that follow are taken with: mirror, drops or none, pass, naming habit, technique."""

from typing import ClassVar, Literal

from voicelog.exam.entries.base import BaseEntry, BaseFinding, eye_words, refuse
from voicelog.exam.entries.context import Context, Dryness, Mirror
from voicelog.exam.entries.drops import DropsEntry
from voicelog.phrases import meanings as say


class MirrorEntry(BaseEntry):
    """How the sleeve is set from here on; a concave mirror turns every motion round."""

    said: ClassVar = say.Mirror
    title: ClassVar = "mirror"
    code: ClassVar = "mirror"

    kind: Literal["mirror"] = "mirror"
    mirror: Mirror

    def words(self) -> str:
        """ "concave mirror from here on"."""
        return f"{self.mirror} mirror from here on"

    @classmethod
    def from_meaning(cls, meaning: say.Mirror, context: Context) -> "MirrorEntry":
        """The setting said."""
        return cls(mirror=meaning.mirror)


class ConditionEntry(BaseEntry):
    """Whether the readings that follow are dry or under cycloplegia; `eye` "both" unless one was named."""

    said: ClassVar = say.Condition
    title: ClassVar = "condition"
    code: ClassVar = "condition"

    kind: Literal["condition"] = "condition"
    condition: Dryness
    eye: say.Eyes

    def words(self) -> str:
        """ "both eyes: wet (cycloplegic) from here on"."""
        name = "wet (cycloplegic)" if self.condition == "wet" else "dry"
        return f"{eye_words(self.eye)}{name} from here on"

    @classmethod
    def from_meaning(cls, meaning: say.Condition, context: Context) -> "ConditionEntry":
        """Of both eyes unless one is named; wet, of the one that had drops where one alone had. Raises NeedsAnswer."""
        eye: say.Eyes = "both" if meaning.eye in (None, "both") else context.eye(meaning.eye)
        if meaning.eye is None and meaning.condition == "wet":
            eye = _with_drops(context) or eye
        return cls(condition=meaning.condition, eye=eye)


def _with_drops(context: Context) -> say.OneEye | None:
    """The one eye that had cycloplegic drops; None when both had, or none."""
    eyes: tuple[say.OneEye, say.OneEye] = ("right", "left")
    found = [
        eye for eye in eyes if context.now.dryness(eye) == "wet" and context.now.finding(DropsEntry, eye)
    ]
    return found[0] if len(found) == 1 else None


class PassEntry(BaseEntry):
    """Another retinoscopy of one eye begins; each is solved by itself."""

    said: ClassVar = say.Pass
    title: ClassVar = "pass"
    code: ClassVar = "pass"

    kind: Literal["pass"] = "pass"
    eye: say.OneEye
    number: int

    def words(self) -> str:
        """ "right eye: pass 2"."""
        return f"{eye_words(self.eye)}pass {self.number}"

    @classmethod
    def from_meaning(cls, meaning: say.Pass, context: Context) -> "PassEntry":
        """The next pass of the eye in hand. Raises NeedsAnswer when the one in hand has no reading."""
        eye = context.eye(None)
        here = context.now.eyes[eye]
        if not here.pass_has_readings:
            raise refuse(f"pass {here.next_pass_number} of the {eye} eye has no reading yet")
        number = here.next_pass_number + 1
        if meaning.number not in (None, number):
            raise refuse(f"the next pass of the {eye} eye is pass {number}: say it again", context.meaning)
        return cls(eye=eye, number=number)


class HabitEntry(BaseEntry):
    """What a bare direction names from here on: the streak, or the meridian of power."""

    said: ClassVar = say.Habit
    title: ClassVar = "naming habit"
    code: ClassVar = "naming-habit"

    kind: Literal["habit"] = "habit"
    naming: say.Naming

    def words(self) -> str:
        """ "bare directions name the streak"."""
        return "bare directions name the " + ("streak" if self.naming == "streak" else "meridian of power")

    @classmethod
    def from_meaning(cls, meaning: say.Habit, context: Context) -> "HabitEntry":
        """The habit said."""
        return cls(naming=meaning.naming)


TECHNIQUES = {
    "spheres": "two spheres",
    "sphere_cylinder": "sphere and cylinder",
    "cylinders": "two cylinders",
}


class TechniqueEntry(BaseFinding):
    """The technique that is meant to be used."""

    said: ClassVar = say.Technique
    title: ClassVar = "technique"
    code: ClassVar = "technique"

    kind: Literal["technique"] = "technique"
    technique: Literal["spheres", "sphere_cylinder", "cylinders"]

    def value_words(self) -> str:
        """ "two spheres"."""
        return TECHNIQUES[self.technique]

    @classmethod
    def from_meaning(cls, meaning: say.Technique, context: Context) -> "TechniqueEntry":
        """The technique said."""
        return cls(technique=meaning.technique)
