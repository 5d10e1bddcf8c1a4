"""The cautions that go with every result that leaves the record."""

from typing import Final

SUBJECTIVE: Final = (
    "A subjective result as it was noted: whether to prescribe it is for a licensed person to decide."
)
BESIDE: Final = "Noted beside retinoscopy; not a prescription."
CAUTIONS: Final = (
    "An objective finding: a starting point for refinement by a licensed person, not a prescription.",
    "Local law decides who may refract, use drops, prescribe and keep records, and for how long.",
    "A white, absent or very unequal reflex, a new scissors reflex, a sudden change or poor corrected acuity: "
    "usual practice is to refer.",
)
