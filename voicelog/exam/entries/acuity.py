"""Acuity of one eye or both."""

from typing import ClassVar, Final, Literal

from voicelog.exam.acuity_lines import Notation, is_on_a_chart, logmar_of, written_acuity
from voicelog.exam.entries.base import BaseFinding, Quantity, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.entries.limits import check_within
from voicelog.phrases import meanings as say

Correction = Literal["unaided", "aided", "refined", "pinhole"]

# The finest and the coarsest line of the table of charts (acuity_lines.toml: 20/10; 20/2000, which is counting fingers
# at two feet, Holladay 2004), and half a line more.
FINEST_LOGMAR: Final = -0.35
COARSEST_LOGMAR: Final = 2.05
# Near charts go from N4.5 or N5 to N48 (common practice, from memory).
SMALLEST_PRINT: Final = 3.0
LARGEST_PRINT: Final = 80.0
# Jaeger's test types have 20 sizes (common practice, from memory; printers differ in what a size is).
LARGEST_JAEGER: Final = 20
# Cards of stripes go from 0.2 to 40 cycles per degree, and no eye resolves 60 (from memory).
COARSEST_CYCLES, FINEST_CYCLES = 0.1, 60.0
_NAMES: Final[dict[Correction | None, tuple[str, str]]] = {
    "unaided": ("acuity-unaided", "acuity unaided"),
    "aided": ("acuity-aided", "acuity with spectacles worn"),
    "refined": ("acuity-best-corrected", "acuity best corrected"),
    "pinhole": ("acuity-pinhole", "acuity with pinhole"),
    None: ("acuity", "acuity"),
}


class AcuityEntry(BaseFinding):
    """An acuity in the notation it was said in; `correction` None when it was not said."""

    said: ClassVar = say.Acuity
    title: ClassVar = "acuity"
    code: ClassVar = "acuity"

    kind: Literal["acuity"] = "acuity"
    eye: say.Eyes
    correction: Correction | None = None
    value: say.AcuityValue

    @property
    def slot(self) -> str:
        """Each correction by itself."""
        near = " near" if self.value.is_near else ""
        return f"acuity {self.eye} {self.correction}{near}"

    @property
    def label(self) -> str:
        """ "acuity best corrected"."""
        name = _NAMES[self.correction][1]
        return f"near {name}" if self.value.is_near else name

    @property
    def export_code(self) -> str:
        """ "acuity-best-corrected"."""
        return _NAMES[self.correction][0]

    def value_words(self) -> str:
        """ "6/9 -2", "0.8", "logMAR 0.10", "counting fingers"."""
        return acuity_words(self.value)

    def quantities(self) -> tuple[Quantity, ...]:
        """The logMAR of the line, to three decimals; none of words."""
        if self.value.cycles_per_degree is not None:
            return (Quantity("cycles-per-degree", self.value.cycles_per_degree, "{cycles}/deg"),)
        logmar = logmar_of(self.value)
        # Free of the sign of a zero.
        return () if logmar is None else (Quantity("logmar", round(logmar, 3) + 0.0, "1"),)

    @classmethod
    def from_meaning(cls, meaning: say.Acuity, context: Context) -> "AcuityEntry":
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        eye: say.Eyes = "both" if meaning.eye == "both" else context.eye(meaning.eye)
        return cls(eye=eye, correction=meaning.correction, value=checked_acuity(meaning.value, context))

    def corrected(self, meaning: say.Acuity, context: Context) -> "AcuityEntry":
        """Another value; eye and correction stay unless they are named."""
        return AcuityEntry(
            eye=meaning.eye or self.eye,
            correction=meaning.correction or self.correction,
            value=checked_acuity(meaning.value, context),
        )


def acuity_words(value: say.AcuityValue, notation: Notation | None = None) -> str:
    """ "6/9 -2", "0.8", "logMAR 0.10", "counting fingers"; in `notation`, by default as it was said."""
    shown = notation or ("logmar" if value.logmar is not None else None)
    mark = "logMAR " if shown == "logmar" and value.category is None else ""
    at = f" at {value.at_cm:g} cm" if value.at_cm is not None else ""
    return mark + written_acuity(value, notation) + at


def checked_acuity(value: say.AcuityValue, context: Context) -> say.AcuityValue:
    """An acuity that charts have, as it was. Raises NeedsAnswer."""
    if value.category is not None:
        return value
    if value.jaeger is not None:
        check_within(value.jaeger, 1, LARGEST_JAEGER, "", "a size of Jaeger print", context.meaning)
        return value
    if value.cycles_per_degree is not None:
        cycles = value.cycles_per_degree
        check_within(
            cycles, COARSEST_CYCLES, FINEST_CYCLES, "cycles per degree", "an acuity", context.meaning
        )
        return value
    if value.n_points is not None:
        check_within(value.n_points, SMALLEST_PRINT, LARGEST_PRINT, "points", "near print", context.meaning)
        return value
    logmar = logmar_of(value)
    if logmar is None or not FINEST_LOGMAR <= logmar <= COARSEST_LOGMAR:
        raise refuse(
            f"an acuity of {written_acuity(value)} is beyond every chart: say it again", context.meaning
        )
    if value.snellen is not None and not is_on_a_chart(value.snellen):
        context.confirm("no_chart_line", f"{written_acuity(value)} is on no usual chart: is it right?")
    return value
