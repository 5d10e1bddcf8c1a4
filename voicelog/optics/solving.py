"""From meridian readings to a refraction: every reading neutral, repeats averaged."""

from collections.abc import Sequence

from voicelog.optics import checks
from voicelog.optics.checks import Form
from voicelog.optics.looks import solve_looks
from voicelog.optics.readings import Look, MeridianReading
from voicelog.optics.rounding import QUARTER_D
from voicelog.optics.solution import LooksSolution
from voicelog.optics.uncertainty import ErrorModel


def solve_readings(
    readings: Sequence[MeridianReading],
    allowance_d: float = 0.0,
    *,
    form: Form = "minus",
    power_step_d: float = QUARTER_D,
    axis_step_deg: int = 1,
    errors: ErrorModel | None = None,
) -> LooksSolution:
    """Solve meridian readings for the refraction, by the rules of `solve_looks`.

    `allowance_d` (dioptres) is taken off every reading once; give 0 for net readings or when the
    working lens is in and counted apart. Repeats of one meridian are averaged.
    Raises NotFiniteError, PowerRangeError, FormError, StepError for unusable arguments.
    """
    checks.form(form)
    return solve_looks(
        [Look(reading.meridian_deg, reading.power_d, "neutral") for reading in readings],
        allowance_d=allowance_d,
        form=form,
        power_step_d=power_step_d,
        axis_step_deg=axis_step_deg,
        errors=errors,
        repeats="mean",
    )
