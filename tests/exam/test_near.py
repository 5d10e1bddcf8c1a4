"""Near and dynamic retinoscopy of one eye: which readings count, and what they make."""

import pytest
from voicelog.exam.lenses import LensesInPlace

from voicelog.exam.near import Accommodation, DarkReading, NearFindings, nott
from voicelog.optics import DistanceError


def whole(
    sphere: float, cylinder: float | None = None, axis: int | None = None, age: str = "adult"
) -> DarkReading:
    return DarkReading(1, age, None, LensesInPlace(sphere, cylinder, axis))  # type: ignore[arg-type]


def along(meridian: int, sphere: float, age: str = "infant") -> DarkReading:
    return DarkReading(1, age, meridian, LensesInPlace(sphere))  # type: ignore[arg-type]


def result(*readings: DarkReading, form: str = "minus") -> str:
    found = NearFindings(readings, form=form).dark  # type: ignore[arg-type]
    assert found is not None
    return str(found.net) if found.net else "; ".join(each.code for each in found.problems)


def test_a_whole_lens_less_the_adjustment() -> None:
    """The worked example of the laboratory sheet that tests/published names; then the same at other ages."""
    assert result(whole(2.25, -0.5, 80)) == "+1.00 -0.50 x 080"
    assert result(whole(2.25, -0.5, 80, "child")) == "+1.25 -0.50 x 080"
    assert result(whole(2.25, -0.5, 80, "infant")) == "+1.50 -0.50 x 080"
    assert result(whole(2.25, -0.5, 80), form="plus") == "+0.50 +0.50 x 170"


def test_two_meridians_make_a_refraction() -> None:
    """Infant: 0.75 off both meridians; power +3.25 along 90 and +1.25 along 180 is +3.25 -2.00 x 90."""
    assert result(along(90, 4.0)) == "meridian_missing"
    assert result(along(90, 4.0), along(180, 2.0)) == "+3.25 -2.00 x 090"


def test_a_whole_lens_replaces_and_a_meridian_after_it_begins_anew() -> None:
    assert result(along(90, 4.0), along(180, 2.0), whole(1.25)) == "plano"
    assert result(whole(9.0), along(90, 4.0), along(180, 2.0)) == "+3.25 -2.00 x 090"
    assert result(whole(9.0), along(90, 4.0)) == "meridian_missing"


def test_two_ages_are_not_put_together() -> None:
    found = NearFindings((along(90, 4.0), along(180, 2.0, "child"))).dark

    assert found is not None
    assert found.net is None
    assert found.exact is None
    assert found.problems[0].text.startswith("near retinoscopy in the dark was said for infant and child")


def test_readings_that_disagree_give_no_refraction() -> None:
    assert result(along(90, 4.0), along(90, 1.0), along(180, 2.0)) == "disagreement"


def test_dynamic_findings_say_the_response_where_the_target_is_known() -> None:
    by_nott = nott(3, 40, 50)

    assert by_nott.lag_d == pytest.approx(0.5)
    assert by_nott.response is not None
    assert by_nott.response.response_d == pytest.approx(2.0)
    assert Accommodation(4, "estimate", 0.5).response is None
    with pytest.raises(DistanceError):
        nott(3, 0.4, 0.5)


def test_an_eye_without_readings_has_no_result() -> None:
    assert NearFindings().dark is None
