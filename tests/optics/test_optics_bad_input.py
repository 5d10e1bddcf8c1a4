"""Every unusable value raises a named error whose one line says what, the value, and what is allowed."""

import inspect
import math
from collections.abc import Callable

import pytest

from tests.optics.many_solves import solve_many
from voicelog import optics
from voicelog.optics import (
    AxisError,
    FormError,
    Look,
    MeridianReading,
    MotionReading,
    NotFiniteError,
    OpticsError,
    PowerRangeError,
    PowerVector,
    RepeatsError,
    SpheroCylinder,
    WorkingDistance,
    allowance_slip,
    axis_difference_deg,
    best_next_meridian_deg,
    combine,
    cylinder_share,
    effective_power_d,
    from_written_power_d,
    lens_effort,
    lenses_for_power,
    meridian_to_streak_deg,
    next_lens_to_try,
    normalise_axis_deg,
    perpendicular_deg,
    predicted,
    round_power_d,
    round_refraction,
    solve_looks,
    solve_readings,
    stack_lenses,
    streak_to_meridian_deg,
    written_axis,
    written_power,
)

LENS = SpheroCylinder(1.0, -1.0, 90)
PAIR = [MeridianReading(90, 1.0), MeridianReading(180, 2.0)]

Slots = dict[str, Callable[[float], object]]

POWER_SLOTS: Slots = {
    "sphere": lambda value: SpheroCylinder(value),
    "cylinder": lambda value: SpheroCylinder(0.0, value, 90),
    "reading": lambda value: MeridianReading(90, value),
    "motion": lambda value: MotionReading(90, value, "with"),
    "look": lambda value: Look(90, value, "with"),
    "allowance of looks": lambda value: solve_looks([], allowance_d=value),
    "allowance": lambda value: solve_readings(PAIR, value),
    "slip": lambda value: allowance_slip(LENS, LENS, value),
    "effective": lambda value: effective_power_d(value, 0.0),
    "rounded": lambda value: round_power_d(value),
    "made": lambda value: lenses_for_power(value),
    "lower": lambda value: next_lens_to_try(value, 40.0),
    "upper": lambda value: next_lens_to_try(-40.0, value),
    "only bound": lambda value: next_lens_to_try(value, None),
    "start": lambda value: next_lens_to_try(None, None, start_d=value),
    "effort": lambda value: lens_effort([], value, 40.0),
    "written": lambda value: from_written_power_d(value),
    "crossed": lambda value: optics.CrossedCylinders(value, 90, 0.0),
    "single": lambda value: optics.COMMON_LENS_SET.nearest_single_d(value),
}
AXIS_SLOTS: Slots = {
    "axis": lambda value: SpheroCylinder(0.0, -1.0, value),
    "meridian": lambda value: MeridianReading(value, 1.0),
    "motion": lambda value: MotionReading(value, 1.0, "with"),
    "look": lambda value: Look(value, 1.0, "neutral"),
    "predicted": lambda value: predicted(solve_looks([]), value),
    "share of": lambda value: cylinder_share(value, 90),
    "share along": lambda value: cylinder_share(90, value),
    "along": lambda value: LENS.power_along_d(value),
    "vector": lambda value: LENS.vector.power_along_d(value),
    "streak": lambda value: streak_to_meridian_deg(value),
    "back": lambda value: meridian_to_streak_deg(value),
    "across": lambda value: perpendicular_deg(value),
    "next": lambda value: best_next_meridian_deg([value]),
    "text": lambda value: written_axis(value),
    "crossed": lambda value: optics.CrossedCylinders(1.0, value, 0.0),
}
OTHER_SLOTS: Slots = {
    "normalise": lambda value: normalise_axis_deg(value),
    "difference": lambda value: axis_difference_deg(value, 90.0),
    "power vector": lambda value: PowerVector(0.0, value, 0.0),
    "text": lambda value: written_power(value),
    "distance": lambda value: WorkingDistance(value),
    "distance spread": lambda value: WorkingDistance(0.67, value),
    "shift": lambda value: effective_power_d(1.0, value),
    "gap": lambda value: stack_lenses([LENS, LENS], [value]),
    "step": lambda value: round_power_d(1.0, value),
    "error": lambda value: optics.ErrorModel(streak_sd_deg=value),
}


def one_line(error: pytest.ExceptionInfo[OpticsError]) -> str:
    text = str(error.value)
    assert text
    assert "\n" not in text
    return text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("use", [*POWER_SLOTS.values(), *AXIS_SLOTS.values(), *OTHER_SLOTS.values()])
def test_nan_and_infinities_are_refused_everywhere(use: Callable[[float], object], value: float) -> None:
    with pytest.raises(NotFiniteError) as error:
        use(value)

    assert repr(value) in one_line(error)


@pytest.mark.parametrize("value", ["1.5", None, [1.0]])
@pytest.mark.parametrize(
    "use",
    [
        POWER_SLOTS["sphere"],
        AXIS_SLOTS["meridian"],
        OTHER_SLOTS["distance"],
        OTHER_SLOTS["power vector"],
    ],
)
def test_what_is_no_number_is_refused(use: Callable[[object], object], value: object) -> None:
    with pytest.raises(NotFiniteError, match="a finite number is needed"):
        use(value)


@pytest.mark.parametrize("value", [40.01, -40.01, 1e9])
@pytest.mark.parametrize("use", POWER_SLOTS.values(), ids=POWER_SLOTS.keys())
def test_powers_beyond_40_dioptres_are_refused(use: Callable[[float], object], value: float) -> None:
    with pytest.raises(PowerRangeError) as error:
        use(value)

    assert f"{value:+.2f} D; allowed is -40.00 to +40.00 D" in one_line(error)


@pytest.mark.parametrize(
    "use",
    [
        POWER_SLOTS["allowance"],
        POWER_SLOTS["slip"],
        lambda value: solve_many([180, 90], [[1.0, 2.0]], value),
    ],
)
def test_a_negative_allowance_is_refused(use: Callable[[float], object]) -> None:
    with pytest.raises(PowerRangeError, match=r"is -1.50 D; allowed is 0.00 to \+40.00 D"):
        use(-1.5)


def test_forty_dioptres_are_accepted_and_their_transposition_too() -> None:
    assert SpheroCylinder(40.0).sphere_d == 40.0
    assert SpheroCylinder(-40.0, 40.0, 10).transposed() == SpheroCylinder(0.0, -40.0, 100)


def test_the_power_across_the_axis_is_limited_too() -> None:
    with pytest.raises(PowerRangeError, match=r"across the axis is \+50.00 D"):
        SpheroCylinder(30.0, 20.0, 90)
    with pytest.raises(PowerRangeError):
        combine([SpheroCylinder(30.0), SpheroCylinder(30.0)])


@pytest.mark.parametrize("value", [0, 181, -1, 360, 180.001])
@pytest.mark.parametrize("use", AXIS_SLOTS.values(), ids=AXIS_SLOTS.keys())
def test_axes_outside_1_to_180_are_refused(use: Callable[[float], object], value: float) -> None:
    with pytest.raises(AxisError) as error:
        use(value)

    assert f"{value:g}; allowed is 1 to 180" in one_line(error)


@pytest.mark.parametrize(
    "use",
    [
        lambda form: LENS.vector.to_sphero_cylinder(form),
        lambda form: LENS.in_form(form),
        lambda form: LENS.crossed_cylinders().to_sphero_cylinder(form),
        lambda form: combine([LENS], form),
        lambda form: round_refraction(LENS, form=form),
        lambda form: solve_readings(PAIR, form=form),
        lambda form: solve_looks([], form=form),
        lambda form: stack_lenses([LENS], form=form),
    ],
)
def test_an_unknown_cylinder_form_is_refused(use: Callable[[str], object]) -> None:
    with pytest.raises(FormError, match="'mixed'"):
        use("mixed")


def test_an_unknown_rule_for_repeats_is_refused() -> None:
    with pytest.raises(RepeatsError, match='\'first\'; allowed is "last" or "mean"'):
        solve_looks([], repeats="first")  # type: ignore[arg-type]


def test_every_error_has_the_one_base_and_a_docstring() -> None:
    errors = [
        value for value in vars(optics).values() if inspect.isclass(value) and issubclass(value, Exception)
    ]

    assert len(errors) >= 13
    assert all(issubclass(error, OpticsError) and issubclass(error, ValueError) for error in errors)
    assert all(error.__doc__ for error in errors)


def test_everything_public_is_documented() -> None:
    public = {name: getattr(optics, name) for name in optics.__all__}
    documented = {
        name: value for name, value in public.items() if inspect.isclass(value) or inspect.isfunction(value)
    }

    assert len(documented) > 50
    assert [name for name, value in documented.items() if not inspect.getdoc(value)] == []
