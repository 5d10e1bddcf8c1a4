"""What is measured of frame and face: distance between the pupils, their size, back vertex distance."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, Quantity, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.limits import check_within
from voicelog.phrases import meanings as say

# Adults 45 to 80 mm, children from 40 mm (Dodgson, Proc. SPIE 2004;5291:36-46); infants less, near less.
LEAST_PUPILS_MM: Final = 35.0
GREATEST_PUPILS_MM: Final = 85.0
GREATEST_HALVES_APART_MM: Final = 6.0  # common practice, no source
LEAST_PUPIL_MM, GREATEST_PUPIL_MM = 1.0, 10.0  # common practice, no source
LEAST_VERTEX_MM, GREATEST_VERTEX_MM = 5.0, 25.0  # common practice, no source


class PupillaryDistanceEntry(BaseFinding):
    """A pupillary distance in millimetres: both together, or each from the middle of the nose, or one half so far."""

    said: ClassVar = say.PupilsDistance
    title: ClassVar = "pupillary distance"
    code: ClassVar = "pupillary-distance"

    kind: Literal["pupillary_distance"] = "pupillary_distance"
    at: Literal["far", "near"]
    both_mm: float | None = None
    right_mm: float | None = None
    left_mm: float | None = None

    @property
    def about(self) -> say.Eyes:
        """It belongs to both eyes."""
        return "both"

    @property
    def slot(self) -> str:
        """Far and near by themselves."""
        return f"pupillary distance {self.at}"

    @property
    def label(self) -> str:
        """ "pupillary distance, far"."""
        return f"pupillary distance, {self.at},"

    @property
    def total_mm(self) -> float | None:
        """Both together; None while one half only was said."""
        if self.both_mm is not None:
            return self.both_mm
        if self.right_mm is None or self.left_mm is None:
            return None
        return self.right_mm + self.left_mm

    def value_words(self) -> str:
        """ "63 mm (right 31, left 32)", "right 31 mm"."""
        halves = [
            f"{name} {half:g}"
            for name, half in (("right", self.right_mm), ("left", self.left_mm))
            if half is not None
        ]
        if self.total_mm is None:
            return f"{', '.join(halves)} mm"
        return f"{self.total_mm:g} mm" + (f" ({', '.join(halves)})" if halves else "")

    def quantities(self) -> tuple[Quantity, ...]:
        """All that is known of it."""
        sides = (("both", self.total_mm), ("right", self.right_mm), ("left", self.left_mm))
        return tuple(Quantity(side, value, "mm") for side, value in sides if value is not None)

    @classmethod
    def from_meaning(cls, meaning: say.PupilsDistance, context: Context) -> "PupillaryDistanceEntry":
        """A half joins the half that was said before. Raises NeedsAnswer."""
        at = meaning.at or "far"
        return cls._made(meaning, at, context.now.slot(f"pupillary distance {at}"), context)

    def corrected(self, meaning: say.PupilsDistance, context: Context) -> "PupillaryDistanceEntry":
        """Another value; the other half stays."""
        return self._made(meaning, meaning.at or self.at, self, context)

    @classmethod
    def _made(
        cls,
        meaning: say.PupilsDistance,
        at: Literal["far", "near"],
        before: BaseFinding | None,
        context: Context,
    ) -> "PupillaryDistanceEntry":
        if meaning.both_mm is not None:
            _within(meaning.both_mm, LEAST_PUPILS_MM, GREATEST_PUPILS_MM, "a pupillary distance", context)
            return cls(at=at, both_mm=meaning.both_mm)
        old = before if isinstance(before, cls) else cls(at=at)
        right = old.right_mm if meaning.right_mm is None else meaning.right_mm
        left = old.left_mm if meaning.left_mm is None else meaning.left_mm
        for half in (right, left):
            if half is not None:
                _within(
                    half, LEAST_PUPILS_MM / 2, GREATEST_PUPILS_MM / 2, "half a pupillary distance", context
                )
        if right is not None and left is not None and abs(right - left) > GREATEST_HALVES_APART_MM:
            text = f"halves of {right:g} and {left:g} mm are far apart: say them again"
            raise refuse(text, context.meaning)
        return cls(at=at, right_mm=right, left_mm=left)


Look = Literal["equal", "unequal", "equal_reactive", "sluggish", "fixed_dilated", "dilated", "miosed"]
LOOK_WORDS: Final[dict[str, str]] = {
    "equal_reactive": "equal and reactive",
    "fixed_dilated": "fixed and dilated",
}


class PupilsEntry(BaseFinding):
    """The size of the pupil of one eye or both, in millimetres, or how the two compare."""

    said: ClassVar = say.Pupils
    title: ClassVar = "pupil"
    code: ClassVar = "pupils"

    kind: Literal["pupils"] = "pupils"
    eye: say.Eyes
    size_mm: float | None = None
    look: Look | None = None

    @property
    def slot(self) -> str:
        """The comparison by itself."""
        return f"pupil look {self.eye}" if self.look else f"pupil {self.eye}"

    @property
    def label(self) -> str:
        """ "pupils", "pupil"."""
        return "pupils" if self.look or self.eye == "both" else "pupil"

    @property
    def export_code(self) -> str:
        """ "pupil-size" where it is a size."""
        return "pupils" if self.look else "pupil-size"

    def value_words(self) -> str:
        """ "4 mm", "unequal"."""
        return LOOK_WORDS.get(self.look, self.look) if self.look else f"{self.size_mm:g} mm"

    def quantities(self) -> tuple[Quantity, ...]:
        """The size."""
        return () if self.size_mm is None else (Quantity("size", self.size_mm, "mm"),)

    @classmethod
    def from_meaning(cls, meaning: say.Pupils, context: Context) -> "PupilsEntry":
        """A size is of the eye in hand unless one is named. Raises NeedsAnswer."""
        if meaning.look in ("equal", "unequal", "equal_reactive"):
            return cls(eye="both", look=meaning.look)
        if meaning.look is not None:
            return cls(eye="both" if meaning.eye == "both" else context.eye(meaning.eye), look=meaning.look)
        if meaning.size_mm is None:
            raise refuse("which size has the pupil?", context.meaning)
        _within(meaning.size_mm, LEAST_PUPIL_MM, GREATEST_PUPIL_MM, "a pupil", context)
        eye: say.Eyes = "both" if meaning.eye == "both" else context.eye(meaning.eye)
        return cls(eye=eye, size_mm=meaning.size_mm)

    def corrected(self, meaning: say.Pupils, context: Context) -> "PupilsEntry":
        """Another value; the eye stays unless it is named."""
        named = meaning if meaning.eye is not None else meaning.model_copy(update={"eye": self.eye})
        return PupilsEntry.from_meaning(named, context)


class VertexEntry(BaseFinding):
    """The back vertex distance: from the back of the trial lens to the eye, in millimetres."""

    said: ClassVar = say.Vertex
    title: ClassVar = "back vertex distance"
    code: ClassVar = "vertex-distance"

    kind: Literal["vertex"] = "vertex"
    vertex_mm: float

    def value_words(self) -> str:
        """ "12 mm"."""
        return f"{self.vertex_mm:g} mm"

    def quantities(self) -> tuple[Quantity, ...]:
        """The distance."""
        return (Quantity("distance", self.vertex_mm, "mm"),)

    @classmethod
    def from_meaning(cls, meaning: say.Vertex, context: Context) -> "VertexEntry":
        """Within what frames have. Raises NeedsAnswer."""
        _within(meaning.vertex_mm, LEAST_VERTEX_MM, GREATEST_VERTEX_MM, "a back vertex distance", context)
        return cls(vertex_mm=meaning.vertex_mm)

    def corrected(self, meaning: say.Vertex, context: Context) -> "VertexEntry":
        """Another value."""
        return VertexEntry.from_meaning(meaning, context)


def _within(value: float, least: float, greatest: float, what: str, context: Context) -> None:
    check_within(value, least, greatest, "mm", what, context.meaning)
