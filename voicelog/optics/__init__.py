"""Pure numbers of refraction: lenses, power vectors, readings, solving, uncertainty.

Units are in the names (`sphere_d`, `axis_deg`, `distance_m`). Angles are TABO, 1 to 180 degrees, 0
written 180. Needs NumPy only and imports nothing else of this project.
"""

from voicelog.optics.angles import (
    axis_difference_deg,
    meridian_to_streak_deg,
    normalise_axis_deg,
    perpendicular_deg,
    streak_to_meridian_deg,
)
from voicelog.optics.checks import MAX_DISTANCE_M, MAX_POWER_D, MIN_DISTANCE_M, Form
from voicelog.optics.comparing import Difference, difference
from voicelog.optics.distance import WorkingDistance, allowance_slip
from voicelog.optics.errors import (
    AxisError,
    BoundsError,
    DistanceError,
    ErrorModelError,
    FormError,
    LensSetError,
    MotionError,
    NotFiniteError,
    OpticsError,
    PowerRangeError,
    RepeatsError,
    SeparationError,
    ShapeError,
    StepError,
)
from voicelog.optics.fitting import best_next_meridian_deg
from voicelog.optics.grouping import BELONGS_DEG, Repeats, group_looks
from voicelog.optics.lens_set import (
    COMMON_LENS_SET,
    LensEffort,
    LensSet,
    lens_effort,
    lenses_for_power,
    next_lens_to_try,
    trials_needed,
)
from voicelog.optics.looks import solve_looks
from voicelog.optics.motion import MeridianBounds, MotionReading, bounds_by_meridian
from voicelog.optics.near import Response, dark_refraction, estimate_lag_d, nott_lag_d
from voicelog.optics.predicting import cylinder_share, fits, predicted
from voicelog.optics.problems import Problem
from voicelog.optics.readings import Look, MeridianReading, Motion
from voicelog.optics.refraction import CrossedCylinders, PowerVector, SpheroCylinder, combine, combined_vector
from voicelog.optics.region import in_region
from voicelog.optics.rounding import round_power_d, round_refraction
from voicelog.optics.solution import Contradiction, Estimate, LooksSolution, MeridianSeen, Solution, Status
from voicelog.optics.solving import solve_readings
from voicelog.optics.tolerances import (
    ANSI_Z80_1_2015,
    Agreement,
    ToleranceTable,
    agreement,
)
from voicelog.optics.uncertainty import PUBLISHED_NEUTRALITY_SD_D, USUAL_ERRORS, ErrorModel, Uncertainty
from voicelog.optics.vertex import Stack, effective_power_d, move_refraction, stack_lenses
from voicelog.optics.visits import YearlyChange, yearly_change
from voicelog.optics.written import (
    from_written_power_d,
    is_of_eighths,
    written_axis,
    written_cm,
    written_power,
)

__all__ = [
    "ANSI_Z80_1_2015",
    "BELONGS_DEG",
    "COMMON_LENS_SET",
    "MAX_DISTANCE_M",
    "MAX_POWER_D",
    "MIN_DISTANCE_M",
    "PUBLISHED_NEUTRALITY_SD_D",
    "USUAL_ERRORS",
    "Agreement",
    "AxisError",
    "BoundsError",
    "Contradiction",
    "CrossedCylinders",
    "Difference",
    "DistanceError",
    "ErrorModel",
    "ErrorModelError",
    "Estimate",
    "Form",
    "FormError",
    "LensEffort",
    "LensSet",
    "LensSetError",
    "Look",
    "LooksSolution",
    "MeridianBounds",
    "MeridianReading",
    "MeridianSeen",
    "Motion",
    "MotionError",
    "MotionReading",
    "NotFiniteError",
    "OpticsError",
    "PowerRangeError",
    "PowerVector",
    "Problem",
    "Repeats",
    "RepeatsError",
    "Response",
    "SeparationError",
    "ShapeError",
    "Solution",
    "SpheroCylinder",
    "Stack",
    "Status",
    "StepError",
    "ToleranceTable",
    "Uncertainty",
    "WorkingDistance",
    "YearlyChange",
    "agreement",
    "allowance_slip",
    "axis_difference_deg",
    "best_next_meridian_deg",
    "bounds_by_meridian",
    "combine",
    "combined_vector",
    "cylinder_share",
    "dark_refraction",
    "difference",
    "effective_power_d",
    "estimate_lag_d",
    "fits",
    "from_written_power_d",
    "group_looks",
    "in_region",
    "is_of_eighths",
    "lens_effort",
    "lenses_for_power",
    "meridian_to_streak_deg",
    "move_refraction",
    "next_lens_to_try",
    "normalise_axis_deg",
    "nott_lag_d",
    "perpendicular_deg",
    "predicted",
    "round_power_d",
    "round_refraction",
    "solve_looks",
    "solve_readings",
    "stack_lenses",
    "streak_to_meridian_deg",
    "trials_needed",
    "written_axis",
    "written_cm",
    "written_power",
    "yearly_change",
]
