"""What is done before the eye without a look being told: lenses put in or out, the streak laid; reflex and notes."""

from typing import ClassVar, Literal

from voicelog.exam.entries.base import BaseEntry, BaseFinding, Quantity, ask, eye_words, refuse
from voicelog.exam.entries.context import Context, InPlace
from voicelog.exam.entries.lenses import Axis, TrialLenses, exact_d
from voicelog.exam.entries.placing import ask_which_lens, placed
from voicelog.exam.entries.reading import lens_changes, place_words
from voicelog.optics import written_power
from voicelog.phrases import meanings as say


class LensesEntry(BaseEntry):
    """All lenses before one eye from here on; parts that stayed say which entry put them there."""

    said: ClassVar = say.Lenses
    title: ClassVar = "lenses"
    code: ClassVar = "lenses"

    kind: Literal["lenses"] = "lenses"
    eye: say.OneEye
    lenses: TrialLenses
    sphere_from: str | None = None
    cylinder_from: str | None = None

    def words(self) -> str:
        """ "right eye: sphere +2.00 in place"."""
        return f"{eye_words(self.eye)}{self.lenses.words()}" + ("" if self.lenses.empty else " in place")

    def quantities(self) -> tuple[Quantity, ...]:
        """Sphere, cylinder and axis, as far as they are there."""
        found = []
        if self.lenses.sphere_d is not None:
            found.append(Quantity("sphere", self.lenses.sphere_d, "[diop]"))
        if self.lenses.cylinder is not None:
            found.append(Quantity("cylinder", self.lenses.cylinder.power_d, "[diop]"))
            found.append(Quantity("axis", self.lenses.cylinder.axis_deg, "deg"))
        return tuple(found)

    @classmethod
    def from_meaning(cls, meaning: say.Lenses, context: Context) -> "LensesEntry":
        """The frame after it. Raises NeedsAnswer."""
        eye = context.eye(None)
        before = context.now.eyes[eye].in_place
        return cls(eye=eye, **lens_changes(_after(meaning, before, context)))  # type: ignore[arg-type]

    def corrected(self, meaning: say.Lenses, context: Context) -> "LensesEntry":
        """Another lens was in place: what is named changes, the rest stays."""
        before = InPlace(self.lenses, self.sphere_from, self.cylinder_from)
        return self.with_changes(**lens_changes(_after(meaning, before, context)))


def _after(meaning: say.Lenses, before: InPlace, context: Context) -> InPlace:
    if meaning.remove == "all":
        return InPlace()
    if meaning.remove == "cylinder":
        return InPlace(before.lenses.with_cylinder(None), before.sphere_from, None)
    if meaning.remove == "lens":
        if before.lenses.sphere_d is not None and before.lenses.cylinder is not None:
            raise refuse("sphere and cylinder are in: say cylinder out, or lenses out", context.meaning)
        return InPlace()
    if meaning.lens is None:
        raise refuse("which lens?", context.meaning)
    if meaning.instead_of is not None:
        if meaning.instead_of.dioptres is None:
            raise refuse("the lens taken out was not clear: say it again, with its sign", context.meaning)
        out_d = exact_d(meaning.instead_of)
        if out_d not in (before.lenses.sphere_d, before.lenses.cylinder_d):
            raise refuse(
                f"{written_power(out_d)} is not in place ({before.lenses.words()}): say the lens again",
                context.meaning,
            )
    base = context.in_place(before) if meaning.lens.on_top else before
    ask_which_lens(meaning.lens, base, context)
    return placed(meaning.lens, base, context.meaning)


class PlaceEntry(BaseEntry):
    """The streak is laid for one meridian; nothing was said of the reflex yet."""

    said: ClassVar = say.Place
    title: ClassVar = "streak"
    code: ClassVar = "streak"

    kind: Literal["place"] = "place"
    eye: say.OneEye
    meridian_deg: Axis
    named: say.Naming

    def words(self) -> str:
        """ "right eye: streak vertical (power along 180)"."""
        return f"{eye_words(self.eye)}{place_words(self.meridian_deg, self.named)}"

    @classmethod
    def from_meaning(cls, meaning: say.Place, context: Context) -> "PlaceEntry":
        """The meridian then in hand. Raises NeedsAnswer."""
        eye = context.eye(None)
        meridian_deg = context.meridian_deg(meaning.where, eye)
        return cls(eye=eye, meridian_deg=meridian_deg, named=meaning.where.names or context.now.habit)


_REFLEX_WORDS = {"none": "no reflex", "unclear": "reflex unclear", "good_red": "good red reflex"}


class ReflexEntry(BaseFinding):
    """How the reflex looks, in one meridian (degrees) or altogether."""

    said: ClassVar = say.Reflex
    title: ClassVar = "reflex"
    code: ClassVar = "reflex"

    kind: Literal["reflex"] = "reflex"
    eye: say.OneEye
    reflex: say.ReflexLook
    meridian_deg: Axis | None = None

    @property
    def slot(self) -> None:
        """Each look counts."""
        return

    def words(self) -> str:
        """ "right eye: scissors reflex"."""
        return f"{eye_words(self.eye)}{self.value_words()}"

    def value_words(self) -> str:
        """ "scissors reflex along 180"."""
        look = _REFLEX_WORDS.get(self.reflex, f"{self.reflex.replace('_', ' ')} reflex")
        return look if self.meridian_deg is None else f"{look} along {self.meridian_deg:03d}"

    @classmethod
    def from_meaning(cls, meaning: say.Reflex, context: Context) -> "ReflexEntry":
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        eye = context.eye(meaning.eye)
        place = None if meaning.where is None else context.meridian_deg(meaning.where, eye)
        return cls(eye=eye, reflex=meaning.reflex, meridian_deg=place)


class NoteEntry(BaseFinding):
    """Words kept as they were heard; nobody has proofed them."""

    said: ClassVar = say.Note
    title: ClassVar = "note (as heard, not proofed)"
    code: ClassVar = "note"

    kind: Literal["note"] = "note"
    eye: say.OneEye | None = None
    text: str

    @property
    def slot(self) -> None:
        """Each note counts."""
        return

    def value_words(self) -> str:
        """The words."""
        return self.text

    @classmethod
    def from_meaning(cls, meaning: say.Note, context: Context) -> "NoteEntry":
        """The note, with the eye that was in hand. Raises NeedsAnswer when it has no words."""
        if not meaning.text:
            raise ask("repeat", "note what? Say note and the words in one breath", context.meaning)
        return cls(eye=context.now.eye, text=meaning.text)
