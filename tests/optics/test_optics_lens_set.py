"""Trial lenses: the fewest that make a power, and the search for neutral."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import repeatable
from voicelog.optics import (
    COMMON_LENS_SET,
    BoundsError,
    LensSet,
    LensSetError,
    PowerRangeError,
    lens_effort,
    lenses_for_power,
    next_lens_to_try,
    trials_needed,
)

SMALL = LensSet(spheres_d=(0.25, 0.5, 1.0, 2.0, 4.0), cylinders_d=(0.5, 1.0))


@pytest.mark.parametrize(
    ("power", "lenses"),
    [
        (-9.25, (-9.0, -0.25)),
        (5.75, (5.5, 0.25)),
        (0.0, ()),
        (4.0, (4.0,)),
        (-0.125, (-0.125,)),
        (15.0, (14.0, 1.0)),
        (30.0, (20.0, 10.0)),
        (7.125, (7.0, 0.125)),
    ],
)
def test_the_fewest_lenses_strongest_first(power: float, lenses: tuple[float, ...]) -> None:
    assert lenses_for_power(power) == lenses


def test_every_quarter_step_to_20_dioptres_can_be_made() -> None:
    for steps in range(-80, 81):
        lenses = lenses_for_power(steps / 4.0)
        assert sum(lenses) == steps / 4.0
        assert len(lenses) <= 2


@repeatable
@given(steps=st.integers(-40, 40))
def test_no_smaller_number_of_lenses_makes_it(steps: int) -> None:
    """Against trying every combination of the small set."""
    power = steps / 4.0
    signed = [sign * lens for lens in SMALL.spheres_d for sign in (1.0, -1.0)]
    possible = [
        count
        for count in range(4)
        if any(sum(pick) == power for pick in itertools.combinations_with_replacement(signed, count))
    ]
    if possible:
        lenses = lenses_for_power(power, SMALL)
        assert sum(lenses) == power
        assert len(lenses) == min(possible)
    else:
        with pytest.raises(LensSetError, match="cannot be made"):
            lenses_for_power(power, SMALL)


def test_mixed_signs_only_when_they_save_a_lens() -> None:
    assert lenses_for_power(3.0, SMALL) == (2.0, 1.0)
    assert lenses_for_power(3.75, SMALL) == (4.0, -0.25)


def test_cylinders_come_from_their_own_drawer() -> None:
    assert lenses_for_power(-2.25, cylinder=True) == (-2.0, -0.25)
    with pytest.raises(LensSetError, match="cylinder lenses"):
        lenses_for_power(9.0, SMALL, cylinder=True)


def test_a_power_beyond_the_set_is_refused_with_its_value() -> None:
    with pytest.raises(LensSetError, match=r"\+13.00 D cannot be made from at most 3 sphere lenses"):
        lenses_for_power(13.0, SMALL)
    with pytest.raises(PowerRangeError):
        lenses_for_power(41.0)


@pytest.mark.parametrize("spheres", [(), (0.5, 0.25), (-1.0, 1.0), (0.0, 1.0), (1.0, 1.0)])
def test_malformed_sets_are_refused(spheres: tuple[float, ...]) -> None:
    with pytest.raises(LensSetError, match="ascending"):
        LensSet(spheres_d=spheres)


def test_too_many_lenses_for_a_frame_are_refused() -> None:
    with pytest.raises(LensSetError, match="most_lenses is 4"):
        LensSet(most_lenses=4)


def search(neutral_d: float, start_d: float = 0.0, lens_set: LensSet = COMMON_LENS_SET) -> list[float]:
    """Follow the advice on an eye neutral at `neutral_d`, as an examiner would."""
    lower: float | None = None
    upper: float | None = None
    tried: list[float] = []
    while True:
        lens = next_lens_to_try(lower, upper, lens_set, start_d=start_d)
        if lens is None:
            return tried
        tried.append(lens)
        if lens == neutral_d:
            return tried
        lower, upper = (lens, upper) if lens < neutral_d else (lower, lens)


@repeatable
@given(neutral=st.integers(-80, 80).map(lambda k: k / 4), start=st.integers(-8, 8).map(lambda k: k / 4))
def test_the_search_always_ends_at_neutral(neutral: float, start: float) -> None:
    tried = search(neutral, start)

    assert tried[-1] == neutral
    assert len(set(tried)) == len(tried)
    assert len(tried) <= 14  # 0.25 D steps over 40 D: strides out and bisection back


@repeatable
@given(low=st.integers(-60, 60), width=st.integers(1, 60))
def test_between_two_bounds_no_search_is_shorter_in_the_worst_case(low: int, width: int) -> None:
    lower, upper = low / 4.0, (low + width) / 4.0

    def worst(lower_d: float, upper_d: float) -> int:
        lens = next_lens_to_try(lower_d, upper_d)
        return 0 if lens is None else 1 + max(worst(lower_d, lens), worst(lens, upper_d))

    assert worst(lower, upper) == trials_needed(width - 1)


def test_trials_needed_by_dynamic_programming() -> None:
    """The definition itself: best first lens, worst answer, for up to 40 candidates."""
    best = [0]
    for count in range(1, 41):
        best.append(1 + min(max(best[left], best[count - 1 - left]) for left in range(count)))

    assert [trials_needed(count) for count in range(41)] == best


def test_an_easier_lens_is_preferred_when_it_costs_nothing() -> None:
    """Six candidates need three trials whether +9.00 or +9.25 comes first: the single lens is offered."""
    assert next_lens_to_try(8.25, 10.0) == 9.0
    assert lenses_for_power(9.0) == (9.0,)


def test_nothing_lies_between_neighbours() -> None:
    assert next_lens_to_try(1.0, 1.25) is None
    assert next_lens_to_try(1.0, 1.5) == 1.25
    assert next_lens_to_try(1.0, 1.25, step_d=0.125) == 1.125


def test_one_bound_strides_outward_and_stops_at_the_limit() -> None:
    assert next_lens_to_try(None, None, start_d=1.5) == 1.5
    assert next_lens_to_try(0.0, None) == 1.0
    assert next_lens_to_try(2.0, None) == 4.0
    assert next_lens_to_try(None, -2.0) == -4.0
    assert next_lens_to_try(39.0, None) == 40.0
    assert next_lens_to_try(40.0, None) is None
    assert next_lens_to_try(None, -40.0) is None


def test_crossed_bounds_are_refused() -> None:
    with pytest.raises(BoundsError, match="not below"):
        next_lens_to_try(2.0, 1.0)


def test_effort_counts_trials_and_compares_with_the_best() -> None:
    effort = lens_effort([1.0, 1.0, 2.0, 1.5], -4.0, 4.0)

    assert effort.used == 3
    assert effort.best_possible == trials_needed(33) == 6
    with pytest.raises(BoundsError, match="above"):
        lens_effort([1.0], 4.0, -4.0)


@pytest.mark.parametrize(("power", "nearest"), [(1.49, 1.5), (-7.6, -8.0), (0.04, 0.0), (25.0, 20.0)])
def test_nearest_single_lens(power: float, nearest: float) -> None:
    assert COMMON_LENS_SET.nearest_single_d(power) == nearest
