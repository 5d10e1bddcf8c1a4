"""What the templates are given: values at a glance, drawings at their angles, plots that agree with the optics."""

import math
import re
from pathlib import Path

import numpy as np
import pytest
from uncertainties import correlated_values

from tests.english import load
from tests.page.test_live import RIGHT
from tests.record.cases import dictated
from voicelog.exam.state import ExamState
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.optics import MeridianReading, solve_readings
from voicelog.page.drawings import HEIGHT, TICKS, WIDTH, cross
from voicelog.page.plots import meridian_plot, sequence_plot
from voicelog.page.rendering import templates
from voicelog.page.reviewing import exam_review
from voicelog.page.values import said_value, signed
from voicelog.page.view import changed, live_view, rows
from voicelog.page.waveform import waveform
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.record.journal import Journal
from voicelog.screen.eyes import PassRow
from voicelog.screen.findings import FindingRow
from voicelog.session import Session
from voicelog.settings import Settings

READER = LineReader(load(), EXAM_RULES, Layer.WRITTEN)


def typed(*lines: str, settings: Settings | None = None) -> ExamState:
    """The state after these lines."""
    session = Session(settings or Settings())
    for line in lines:
        session.type_line(line)
    return session.state


@pytest.mark.parametrize(
    ("phrase", "huge"),
    [
        ("streak ninety neutral at plus two and a quarter", "+2.25"),
        ("streak ninety with", "with"),
        ("cylinder minus one and a half axis thirty", "-1.50 x 030"),
        ("correction axis ninety five", "x 095"),
        ("not plus three minus three", "-3.00"),
        ("working distance sixty seven", "67 cm"),
        ("another plus a half", "add +0.50"),
        ("right eye", "right eye"),
        ("neutral at three", "± 3.00"),
        ("neutral at plano", "plano"),
        ("sphere plus ten and a quarter cylinder minus one axis one oh five", ""),
    ],
)
def test_what_was_said_at_a_glance(phrase: str, huge: str) -> None:
    shown = said_value(READER.understand(phrase).readings[0][0])

    assert shown.huge == huge
    assert shown.words


@pytest.mark.parametrize(
    ("lines", "huge"),
    [
        (("streak ninety neutral at plus two and a quarter",), "+2.25"),
        (("sphere plus one", "streak ninety with"), "with"),
        (("sphere plus one", "streak ninety neutral"), "neutral"),
        (("streak ninety against at minus one",), "against -1.00"),
        (("sphere plus one", "cylinder minus one and a half axis thirty"), "-1.50 x 030"),
        (("sphere plus one", "another plus a half"), "+1.50"),
        (("sphere plus one cylinder minus one axis thirty",), ""),  # too long
        (("streak ninety neutral at plus three", "not plus three minus three"), "-3.00"),
        (("working distance sixty seven",), "67 cm"),
        (("left eye",), "left eye"),
        (("acuity unaided six nine",), ""),
    ],
)
def test_what_was_entered_at_a_glance(lines: tuple[str, ...], huge: str) -> None:
    last = live_view(typed("right eye", *lines)).last

    assert last.mark == "entered"
    assert last.value.huge == huge
    assert last.value.words


def test_minus_signs_are_true_ones_and_hyphens_stay() -> None:
    assert (
        signed("-1.25 x 035, +0.75 ± 0.2 (-3.00) well-made 20-3")
        == "−1.25 x 035, +0.75 ± 0.2 (−3.00) well-made 20-3"
    )


@pytest.mark.parametrize("naming", ["streak", "meridian"])
def test_the_place_is_named_in_the_chosen_habit(naming: str) -> None:
    said = {"streak": RIGHT[2], "meridian": RIGHT[2].replace("streak", "streak")}[naming]
    state = typed(*RIGHT[:2], said, settings=Settings(naming=naming))  # type: ignore[arg-type]

    view = live_view(state)

    assert (
        view.place
        == {"streak": ("streak 125", "power along 035"), "meridian": ("meridian 035", "streak 125")}[naming]
    )
    assert view.eyes[0].meridians[0].place == view.place


def test_without_a_distance_there_is_gross_and_no_net() -> None:
    view = live_view(typed("right eye", RIGHT[2], RIGHT[3]))

    assert [(each.gross, each.net) for each in view.eyes[0].meridians] == [("+2.25", ""), ("+1.00", "")]
    assert view.distance == "not said"
    assert "the working distance was not said" in view.open
    assert view.eyes[0].sphere == ""


def test_findings_of_every_kind_have_their_row_and_their_eye() -> None:
    view = live_view(
        typed(
            "right eye",
            "acuity unaided six nine",
            "refined minus one",
            "vertex 12",
            "pupils distance 63",
            "drops tropicamide both eyes at nine oh five",
            "acuity left eye unaided six twelve",
        )
    )

    assert view.findings == (
        FindingRow("acuity unaided", ("6/9",), ("6/12",), ()),
        FindingRow("subjective", ("-1.00 DS",), (), ()),
        FindingRow("back vertex distance", (), (), ("12 mm",)),
        FindingRow("pupillary distance, far", (), (), ("63 mm",)),
        FindingRow("drops", (), (), ("tropicamide, at 9:05",)),
    )


def test_a_line_of_several_entries_has_a_row_for_each() -> None:
    state = typed("streak 90 neutral at +1", "streak 180 neutral at +2", "right eye", "scratch that")

    found = [(row.id, row.number, row.mark, row.words, row.state) for row in rows(state)]

    assert found == [
        ("1", 1, "asked", "streak 90 neutral at +1", "live"),
        ("2", 2, "asked", "streak 180 neutral at +2", "live"),
        ("3", 3, "entered", "right eye", "live"),
        ("3.2", 3, "entered", "", "live"),
        ("3.3", 3, "entered", "", "withdrawn"),
        ("4", 4, "entered", "scratch that", "live"),
    ]
    assert changed(state) == {"3.3": "withdrawn"}


def test_a_line_that_enters_one_thing_and_asks_another_shows_both() -> None:
    state = typed("streak 90 neutral at +1", "streak 180 neutral at 2", "right eye")

    found = [(row.id, row.mark, row.note) for row in rows(state, 2)]

    assert found == [
        ("3", "entered", "right eye"),
        ("3.2", "entered", "right eye: streak vertical (power along 180) neutral, sphere +1.00"),
        ("3-3", "asked", "2.00: plus or minus?"),
    ]


def test_what_waits_is_shown_with_the_question_it_waits_for() -> None:
    view = live_view(typed("streak 90 neutral at +1", "streak 180 neutral at +2", "streak 45 with at +1"))

    assert view.waiting == "2 wait: which eye?"
    assert view.waits == "asked which eye; entries wait"
    assert (view.last.mark, view.last.value.huge) == ("asked", "with +1.00")


def test_a_reading_whose_place_a_later_one_took_is_shown_as_such() -> None:
    state = typed("working distance 50", "right eye", "streak 90 neutral at +1", "streak 90 neutral at +2")
    view = live_view(state)

    assert [(each.gross, each.superseded) for each in view.eyes[0].meridians] == [
        ("+1.00", True),
        ("+2.00", False),
    ]
    assert changed(state) == {"3": "superseded"}
    assert [arm.power for arm in view.eyes[0].drawing.arms] == ["plano"]


def test_brackets_show_an_estimate_that_is_not_neutral_yet() -> None:
    lines = ("streak 90 with at +2", "streak 90 against at +2.5", "streak 180 neutral at +1")
    view = live_view(typed("working distance 50", "right eye", *lines))

    assert view.eyes[0].sphere == ""
    assert re.fullmatch(r"all looks: about .*±.*, from 3 looks, .*; not neutral yet", view.eyes[0].estimate)
    assert "about +2.25 ± 0.6" in view.eyes[0].problems[0]


def test_dry_and_wet_stand_side_by_side_and_the_condition_in_hand_is_shown() -> None:
    dry = ("working distance 50", "right eye", "streak 90 neutral at +3", "streak 180 neutral at +3")
    wet = ("drops cyclopentolate both eyes", "streak 90 neutral at +6", "streak 180 neutral at +6")

    assert live_view(typed(*dry)).eyes[0].condition == "dry"
    view = live_view(typed(*dry, *wet)).eyes[0]
    assert view.condition == "wet (cycloplegic)"
    assert view.results == (("dry", "+1.00 DS"), ("wet (cycloplegic)", "+4.00 DS"))
    assert view.passes == (
        PassRow("pass 1", "dry", "+1.00 DS"),
        PassRow("pass 2", "wet", "+4.00 DS"),
    )


def test_what_a_reading_was_taken_with_is_shown_where_it_differs_from_now() -> None:
    view = live_view(
        typed(
            "working distance 67",
            "right eye",
            "streak 90 neutral at +3",
            "working distance 50",
            "mirror concave",
            "streak 180 neutral at +1",
        )
    )

    assert [each.taken for each in view.eyes[0].meridians] == ["67 cm", "concave mirror"]
    assert (view.distance, view.mirror) == ("50 cm", "concave")


@pytest.mark.parametrize("angle", [1, 35, 90, 125, 180])
def test_arms_lie_along_their_meridians_and_labels_stay_inside(angle: int) -> None:
    state = typed("right eye", f"meridian {angle} neutral at plus one")

    (arm,) = cross(state.eyes["right"], now=False).arms

    line = arm.line
    assert math.degrees(math.atan2(line.y1 - line.y2, line.x2 - line.x1)) % 180 == pytest.approx(
        angle % 180, abs=0.2
    )
    assert 30 <= arm.x <= WIDTH - 30
    assert 14 <= arm.y <= HEIGHT - 14
    assert len(TICKS) == 36


def test_the_cross_says_whether_its_powers_are_net_and_gives_none_to_what_is_not_neutral() -> None:
    seen = ("right eye", "meridian 90 neutral at plus two", "meridian 180 against")

    without = cross(typed(*seen).eyes["right"], now=False)
    known = cross(typed("working distance 50", *seen).eyes["right"], now=False)

    assert (without.powers, [arm.power for arm in without.arms]) == ("gross", ["+2.00", ""])
    assert (known.powers, [arm.power for arm in known.arms]) == ("net", ["plano", ""])
    assert known.says == "net: plano along 090, not neutral along 180"


def test_the_curve_and_its_band_agree_with_the_optics_and_with_another_library() -> None:
    """Fit: the exact lens of `solve_readings`. Band: the `uncertainties` package carries the covariance along."""
    state = typed(*RIGHT)
    eye = state.eyes["right"]
    plot = meridian_plot(eye, "right")
    assert plot is not None
    curve, band = (
        np.array(re.findall(r"[-\d.]+", path), float).reshape(-1, 2) for path in (plot.curve, plot.band)
    )
    zero, one = (next(t.at for t in plot.y_ticks if t.text == text) for text in ("0.00", "+1.00"))

    def power(heights: np.ndarray) -> np.ndarray:
        return (heights - zero) / (one - zero)

    angles = np.arange(0, 181, 3)
    exact = solve_readings(
        [MeridianReading(each.meridian_deg, each.net_d) for each in eye.readings if each.net_d is not None]
    ).exact
    spread = eye.solution.uncertainty
    assert exact is not None
    assert spread is not None
    assert eye.solution.vector is not None
    vector = eye.solution.vector
    m, j0, j45 = correlated_values([vector.m_d, vector.j0_d, vector.j45_d], spread.covariance)
    sd = np.array(
        [
            (m + j0 * math.cos(2 * math.radians(a)) + j45 * math.sin(2 * math.radians(a))).std_dev
            for a in angles
        ]
    )

    fitted = power(curve[:, 1])
    assert fitted == pytest.approx(np.array([exact.power_along_d(float(a or 180)) for a in angles]), abs=0.02)
    upper, lower = power(band[: len(angles), 1]), power(band[len(angles) :, 1][::-1])
    assert upper - fitted == pytest.approx(2 * sd, abs=0.03)
    assert fitted - lower == pytest.approx(2 * sd, abs=0.03)


def test_brackets_say_what_the_motions_leave_open() -> None:
    state = typed(
        "working lens in",
        "right eye",
        "meridian ninety with at plus one",
        "meridian ninety against at plus two",
        "meridian one eighty against at plus three",
    )

    plot = meridian_plot(state.eyes["right"], "right")

    assert plot is not None
    both, above_open = plot.brackets
    ticks = {tick.text: tick.at for tick in plot.y_ticks}
    assert both.top == pytest.approx(ticks["+2.00"])
    assert both.bottom == pytest.approx(ticks["+1.00"])
    assert (both.open_top, both.open_bottom) == (False, False)
    assert (above_open.open_top, above_open.open_bottom) == (False, True)
    assert [sign.shape for sign in plot.signs] == ["up", "down", "down"]


def test_a_concave_mirror_turns_the_signs_round() -> None:
    state = typed("working lens in", "mirror concave", "right eye", "meridian ninety with at plus one")

    plot = sequence_plot(state.eyes["right"], "right")

    assert plot is not None
    assert [sign.shape for sign in plot.signs] == ["down"]


def test_nothing_read_has_no_plots() -> None:
    eye = typed("right eye").eyes["right"]

    assert meridian_plot(eye, "right") is None
    assert sequence_plot(eye, "right") is None


def test_the_waveform_follows_the_loudness() -> None:
    samples = np.concatenate([np.zeros(800), np.full(800, 0.1), np.full(800, -0.4)]).astype(np.float32)

    heights = [int(h) for h in re.findall(r"v(\d+)", waveform(samples))]

    assert len(heights) == 80
    assert (heights[0], heights[40], heights[-1]) == (2, 8, 32)
    assert waveform(np.zeros(0, np.float32)).count("M") == 80


def test_what_all_looks_say_is_drawn_where_it_says_more_than_the_neutral_lenses() -> None:
    lines = ("working distance 50", "right eye", "streak 90 neutral at +1", "streak 180 neutral at +1")
    looked = meridian_plot(typed(*lines, "streak 180 with at +0.5").eyes["right"], "right")
    neutral = meridian_plot(typed(*lines).eyes["right"], "right")

    assert neutral is not None
    assert looked is not None
    assert neutral.looks == ""
    assert looked.looks.count("M") == 2


@pytest.mark.parametrize(("distance", "shown"), [((), "gross"), (("working distance 50",), "net")])
def test_the_review_says_whether_the_steps_of_all_looks_are_net(
    tmp_path: Path, distance: tuple[str, ...], shown: str
) -> None:
    lines = ("right eye", "streak 90 with at +2", "streak 90 against at +2.5", "streak 180 neutral at +1")
    with Journal.open(tmp_path) as journal:
        store, _ = dictated(journal, (*distance, *lines))
        assert store.record is not None
        review = exam_review(store.exam, store.record, journal.clips, under_way=False)
    macro = templates().get_template("exam_parts.html").module.results  # type: ignore[attr-defined]

    assert f"by all looks, {shown} along 090: " in macro(review)
