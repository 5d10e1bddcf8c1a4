"""Near and dynamic retinoscopy in the trade's words."""

from typing import Final

from voicelog.exam.near import Accommodation, DarkResult, Method

ACCOMMODATION: Final[dict[Method, str]] = {
    "estimate": "accommodation (monocular estimate)",
    "nott": "accommodation (Nott)",
}


def dark_text(found: DarkResult) -> str:
    """ "+1.00 -0.50 x 080 (adult, less 1.25 D)", or what stands in its way."""
    what = str(found.net) if found.net else "; ".join(problem.text for problem in found.problems)
    return f"{what} ({found.adjustment.age}, less {found.adjustment.taken_off_d:.2f} D)"


def accommodation_text(found: Accommodation) -> str:
    """ "lag 0.50 D (target 40 cm, neutral 50 cm)", "lead 0.25 D"."""
    kind = "lead" if found.lag_d < 0 else "lag"
    text = f"{kind} {abs(found.lag_d):.2f} D"
    if found.target_cm is None or found.neutral_cm is None:
        return text
    return f"{text} (target {found.target_cm:g} cm, neutral {found.neutral_cm:g} cm)"
