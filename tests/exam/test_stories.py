"""Whole cases as a clinician meets them: which remarks are made, and that no others are.

The cases and what is expected of them are common practice, no source; limits and words have theirs in guidance.toml.
"""

import pytest

from tests.exam.typing import exam
from voicelog.exam.remarks import exam_remarks

RIGHT, LEFT, BOTH = "right", "left", None
WET = {("drops", BOTH), ("drops_cyclopentolate", BOTH), ("drops_tone", BOTH)}


def two_spheres(eye: str, first: str, second: str) -> str:
    """Neutral with the streak vertical, then horizontal, at 50 cm (2.00 D)."""
    return f"{eye} eye\nstreak vertical neutral at {first}\nstreak horizontal neutral at {second}\n"


AT_50 = "working distance fifty\n"
STORIES = {
    "infant of nine months, hyperopic under drops: no guideline reaches so far down": (
        "age nine months\ndrops cyclopentolate half a percent both eyes thirty minutes ago\n" + AT_50
        + two_spheres("right", "+5.00", "+5.00") + two_spheres("left", "+5.00", "+5.00"),
        WET,
    ),
    "infant of eighteen months, +5.00 under drops": (
        "age eighteen months\nvertex twelve\ndrops cyclopentolate one percent both eyes thirty minutes ago\n" + AT_50
        + two_spheres("right", "+7.00", "+7.00") + two_spheres("left", "+6.00", "+6.00"),
        WET | {("hyperopia_2013", RIGHT), ("at_cornea", RIGHT), ("anisometropia", BOTH)},
    ),
    "infant read ten minutes after the drops": (
        "age two years\ndrops cyclopentolate one percent both eyes ten minutes ago\n" + AT_50
        + two_spheres("right", "+4.00", "+4.00"),
        WET | {("read_early", RIGHT)},
    ),
    "white reflex of one eye in an infant": (
        "age eight months\nright eye\nwhite reflex\nleft eye\ngood red reflex",
        {("white_reflex", RIGHT), ("unequal_reflex", BOTH)},
    ),
    "white reflex of an eye while the other was not looked at": (
        "age eight months\nright eye\nwhite reflex", {("white_reflex", RIGHT)}),
    "no reflex in either eye, media dense": (
        "age seventy eight\nright eye\nno reflex\nleft eye\nno reflex", {("no_reflex", RIGHT), ("no_reflex", LEFT)}),
    "dull reflex of one eye at seventy": (
        "age seventy\n" + AT_50 + two_spheres("right", "+2.00", "+2.00") + "dull reflex\n" + two_spheres("left", "+2.00", "+2.00"),
        {("dull_reflex", RIGHT), ("unequal_reflex", BOTH)},
    ),
    "child of three, -2.00: within the limits": (
        "age three\n" + AT_50 + two_spheres("right", "0.00", "0.00") + two_spheres("left", "0.00", "0.00"), set()),
    "child of five, -2.00: above the older limit": (
        "age five\nright eye\nrefined sphere minus two\nleft eye\nrefined sphere minus two",
        {("myopia_2013", RIGHT), ("myopia_2013", LEFT)},
    ),
    "child of five, astigmatic in both": (
        "age five\nright eye\nrefined plus one cylinder minus two axis 180\nleft eye\nrefined plus one cylinder minus two axis 180",
        {("astigmatism_2013", RIGHT), ("astigmatism_2013", LEFT)},
    ),
    "child of four, anisometropic by cylinder only": (
        "age four years two months\nright eye\nrefined sphere 0.00\nleft eye\nrefined plus one cylinder minus two axis 180",
        {("astigmatism_2013", LEFT), ("anisometropia_cylinder", BOTH),
         ("anisometropia_2013", BOTH)},
    ),
    "child of four, spherical anisometropia of 1.50 D: above no limit of that age, remarked on as at any": (
        "age four years two months\nright eye\nrefined sphere +1.00\nleft eye\nrefined sphere +2.50",
        {("anisometropia", BOTH)},
    ),
    "adult, anisometropic by cylinder only": (
        "age forty\nright eye\nrefined sphere 0.00\nleft eye\nrefined plus one cylinder minus two axis 180",
        {("anisometropia_cylinder", BOTH)},
    ),
    "age not said, +4.25": (
        "vertex twelve\nright eye\nrefined sphere +4.25", {("age_not_noted", BOTH), ("at_cornea", RIGHT)}),
    "age not said, small ametropia": ("right eye\nrefined sphere +1.00\nleft eye\nrefined sphere +1.25", set()),
    "school child, -1.25 in both": (
        "age nine\nright eye\nrefined sphere -1.25\nleft eye\nrefined sphere -1.50", set()),
    "young adult, emmetropic": (
        "age twenty two\n" + AT_50 + two_spheres("right", "+2.00", "+2.00") + two_spheres("left", "+2.00", "+2.00"), set()),
    "high myope with a vertex distance": (
        "age thirty\nvertex twelve\nright eye\nrefined sphere -8.00\nleft eye\nrefined sphere -8.25",
        {("high_minus", RIGHT), ("high_minus", LEFT), ("at_cornea", RIGHT), ("at_cornea", LEFT)},
    ),
    "high myope without one": (
        "age thirty\nright eye\nrefined sphere -8.00", {("high_minus", RIGHT), ("vertex_not_noted", RIGHT)}),
    "keratoconic reflex with a large cylinder": (
        "age nineteen\nright eye\nscissors\nrefined -1.00 cylinder minus three fifty axis 70\nleft eye\ngood red reflex\nrefined -1.00 cylinder minus a half axis 110",
        {("scissors", RIGHT), ("large_cylinder", RIGHT), ("vertex_not_noted", RIGHT), ("anisometropia", BOTH),
         ("anisometropia_cylinder", BOTH)},
    ),
    "keratoconic reflex without any result": ("age nineteen\nright eye\nscissors", {("scissors", RIGHT)}),
    "aphakic, stacked lenses, with a vertex distance": (
        "age sixty\nvertex twelve\nright eye\nrefined sphere +10.00 cylinder -1.00 axis 90\n" + AT_50
        + "streak vertical neutral with sphere +12.00\nstreak horizontal neutral with cylinder -1.00 axis 180",
        {("high_plus", RIGHT), ("at_cornea", RIGHT), ("stacked", RIGHT)},
    ),
    "moderate lenses stacked: their sum will do": (
        "age sixty\n" + AT_50 + "right eye\nstreak vertical neutral with sphere +3.00\nstreak horizontal neutral with cylinder -1.00 axis 180",
        set(),
    ),
    "presbyope, near addition": (
        "age fifty\nright eye\nrefined sphere +0.50\nleft eye\nrefined sphere +0.50\naddition +1.75\nnear right n 5", set()),
    "amblyope: unequal corrected acuity": (
        "age thirty\nright eye\nrefined sphere +1.00\nacuity right refined 6/6\nleft eye\nrefined sphere +4.00\nacuity left refined 6/18",
        {("anisometropia", BOTH), ("unequal_acuity", BOTH), ("poor_acuity", LEFT)},
    ),
    "accommodation changes while it is read": (
        "age twelve\n" + AT_50 + two_spheres("right", "+1.00", "+1.00") + "changing reflex", {("changing_reflex", RIGHT)}),
    "latent hyperopia: dry and wet apart": (
        "age ten\n" + AT_50 + two_spheres("right", "+3.00", "+3.00")
        + "drops cyclopentolate one percent both eyes forty minutes ago\n" + two_spheres("right", "+5.00", "+5.00"),
        WET | {("latent_hyperopia", RIGHT)},
    ),
    "wet and dry alike in a myope": (
        "age twenty\n" + AT_50 + two_spheres("right", "0.00", "0.00")
        + "drops tropicamide one percent both eyes thirty minutes ago\n" + two_spheres("right", "+0.25", "+0.25"),
        {("drops", BOTH)},
    ),
    "phenylephrine 10 % beside tropicamide": (
        "age seventy\ndrops tropicamide one percent both eyes thirty minutes ago\ndrops phenylephrine ten percent both eyes",
        {("drops", BOTH), ("drops_phenylephrine_strong", BOTH)},
    ),
    "sudden shift of the worn lenses' wearer": (
        "age fifty five\n" + AT_50 + two_spheres("right", "+0.00", "+0.00") + "spectacles right sphere -0.50",
        {("shift_to_minus", RIGHT)},
    ),
    "unequal pupils and an afferent defect": (
        "age forty\npupils unequal\nleft r a p d", {("unequal_pupils", BOTH), ("afferent_defect", LEFT)}),
    "lag of accommodation beyond the usual": ("age eleven\nright eye\nestimate +1.25", {("large_lag", RIGHT)}),
    "passes that do not repeat": (
        "age thirty\n" + AT_50 + two_spheres("right", "+2.00", "+2.00") + "next pass\n" + two_spheres("right", "+3.00", "+3.00"),
        {("passes_apart", RIGHT)},
    ),
}  # fmt: skip


@pytest.mark.parametrize(("lines", "expected"), STORIES.values(), ids=STORIES.keys())
def test_remarks_expected_and_no_others(lines: str, expected: set[tuple[str, str | None]]) -> None:
    assert {(each.id, each.about) for each in exam_remarks(exam(lines))} == expected
