"""Corrections change exactly what they name."""

import pytest

from tests.exam.typing import Typist, exam, net, typed
from voicelog.exam.state import ExamState
from voicelog.exam.summary import summary

BOTH_EYES = """working distance fifty
right eye
streak horizontal neutral at plus three
streak vertical neutral at plus two
left eye
streak horizontal neutral at minus one
streak vertical neutral at minus two"""


def readings(state: ExamState) -> dict[str, list[tuple[int, float]]]:
    """Meridian and gross power of every neutral reading, eye by eye."""
    return {
        name: [(each.meridian_deg, each.gross_d) for each in eye.neutral] for name, eye in state.eyes.items()
    }


BEFORE = {"right": [(90, 3.0), (180, 2.0)], "left": [(90, -1.0), (180, -2.0)]}


def changed(**parts: list[tuple[int, float]]) -> dict[str, list[tuple[int, float]]]:
    """The readings as they were, but for one eye."""
    return {**BEFORE, **parts}


@pytest.mark.parametrize(
    ("said", "then"),
    [
        ("delete the vertical in the right eye", changed(right=[(90, 3.0)])),
        ("vertical was the right eye\nyes", changed(right=[(90, 3.0), (180, -2.0)], left=[(90, -1.0)])),
        ("correction minus two and a half", changed(left=[(90, -1.0), (180, -2.5)])),
        ("correction plus two", changed(left=[(90, -1.0), (180, 2.0)])),
        ("correction streak vertical neutral at minus four", changed(left=[(90, -1.0), (180, -4.0)])),
        ("correction streak horizontal neutral at minus four", changed(left=[(90, -4.0), (180, -2.0)])),
        ("correction meridian vertical neutral at minus four", changed(left=[(90, -4.0), (180, -2.0)])),
        ("correction streak 45", changed(left=[(90, -1.0), (135, -2.0)])),
        ("correction sphere minus three", changed(left=[(90, -1.0), (180, -3.0)])),
        ("change horizontal to minus three", changed(left=[(90, -3.0), (180, -2.0)])),
        ("change vertical to plus half", changed(left=[(90, -1.0), (180, 0.5)])),
        ("the horizontal must be minus three", changed(left=[(90, -3.0), (180, -2.0)])),
        ("at one eighty it should be minus three", changed(left=[(90, -3.0), (180, -2.0)])),
        ("streak horizontal no minus three", changed(left=[(90, -3.0), (180, -2.0)])),
        ("not minus two minus three", changed(left=[(90, -1.0), (180, -3.0)])),
        ("not minus two but plus two", changed(left=[(90, -1.0), (180, 2.0)])),
        ("scratch that", changed(left=[(90, -1.0)])),
        ("scratch that\nscratch that", changed(left=[])),
        ("correction minus five\nscratch that", BEFORE),
        ("correction minus five\nscratch that\nscratch that", changed(left=[(90, -1.0)])),
        ("change vertical to plus half\nscratch that", BEFORE),
    ],
)
def test_what_is_named_changes_and_nothing_else(said: str, then: dict[str, list[tuple[int, float]]]) -> None:
    assert readings(exam(BOTH_EYES)) == BEFORE
    _, state = typed(f"{BOTH_EYES}\n{said}")
    assert readings(state) == then


def test_wrong_eye_moves_what_was_said_since_the_eye_was_named() -> None:
    """It names all that it would move, with what it would replace there, and moves it after a yes."""
    answers, state = typed(f"{BOTH_EYES}\nwrong eye")
    assert answers[-1].reply == (
        "move to the right eye: left eye: streak horizontal (power along 090) neutral, sphere -1.00, instead of +3.00; "
        "left eye: streak vertical (power along 180) neutral, sphere -2.00, instead of +2.00?"
    )
    assert readings(state) == BEFORE

    _, state = typed(f"{BOTH_EYES}\nwrong eye\nyes")
    assert readings(state) == {"right": [(90, -1.0), (180, -2.0)], "left": []}
    assert state.eye == "right"

    answers, state = typed(f"{BOTH_EYES}\nwrong eye\nyes\nscratch that")
    assert readings(state) == BEFORE
    assert answers[-1].reply.endswith("; the left eye is in hand again")


def test_wrong_eye_leaves_what_was_said_before_the_eye_was_named_again() -> None:
    lines = "working distance 50\nright eye\nstreak 90 neutral at +1\nright eye\nstreak 90 neutral at +2"
    state = exam(f"{lines}\nwrong eye")

    assert readings(state) == {"right": [(180, 1.0)], "left": [(180, 2.0)]}


def test_wrong_eye_after_other_eye_stays() -> None:
    state = exam("right eye\nother eye\nstreak 90 neutral at +2\nwrong eye")

    assert readings(state) == {"right": [(180, 2.0)], "left": []}


def test_an_axis_is_put_right() -> None:
    state = exam("right eye\nworking lens in\nsphere +1\ncylinder -2 axis 19\ncorrection axis 90")

    assert state.eyes["right"].lenses.axis_deg == 90


def test_a_sphere_that_stayed_is_put_right_where_it_stayed() -> None:
    """The sphere named in the first line stood behind the cylinder of the second: it was one lens, misheard once."""
    lines = (
        "right eye\nworking lens in\nstreak horizontal neutral with sphere +1.25\n"
        "streak vertical neutral with cylinder -1.75 axis 90\nchange horizontal to +1.50"
    )

    assert net(exam(lines), "right") == "+1.50 -1.75 x 090"


def test_a_cylinder_put_right_by_name_keeps_the_sphere_and_its_axis() -> None:
    lines = "right eye\nworking lens in\nstreak vertical neutral with sphere +2 cylinder -1 axis 90"
    lens = exam(f"{lines}\ncorrection cylinder -1.50").eyes["right"].lenses

    assert (lens.sphere_d, lens.cylinder_d, lens.axis_deg) == (2.0, -1.5, 90)


def test_a_distance_is_put_right_for_the_readings_taken_at_it() -> None:
    lines = "right eye\nworking distance 57\nstreak 90 neutral at +2\nstreak 180 neutral at +2"

    assert net(exam(f"{lines}\ncorrection working distance 67"), "right") == "+0.50 DS"


@pytest.mark.parametrize(
    ("said", "reply"),
    [
        ("scratch that", "there is nothing to take back"),
        ("correction plus two", "there is no power to correct"),
        ("correction axis 90", "there is no cylinder axis to correct"),
        ("right eye\nchange vertical to plus one", "there is no neutral reading along 180 to correct"),
        ("right eye\ncorrection streak 90", "there is no reading to correct"),
        ("correction working distance 50", "there is no working distance to correct"),
        ("correction acuity 6/9", "there is no acuity to correct"),
        ("wrong eye", "no eye was named before"),
        ("not plus one plus two", "there is no entry with +1.00 once to correct"),
    ],
)
def test_a_correction_of_nothing_says_so_and_leaves_no_question(said: str, reply: str) -> None:
    answers, state = typed(said)

    assert (answers[-1].outcome, answers[-1].reply) == ("asked", reply)
    assert answers[-1].acts == ()
    assert state.question is None


@pytest.mark.parametrize(
    ("said", "reply"),
    [
        ("not plus one plus two", "there is no entry with +1.00 once to correct"),
        ("correction axis 45", "axis 45 is halfway between the meridians"),
        ("change 45 to plus one", "there is no neutral reading along 135 to correct"),
        ("correction streak 45 neutral at plus one", "there is no neutral reading along 135 to correct"),
        ("correction cylinder out", "there is no cylinder to correct"),
        ("correction plus forty", "beyond 30 D"),
        ("not plus two but plus one", "the left eye has no entry with +2.00 once to correct"),
    ],
)
def test_a_correction_that_does_not_fit_changes_nothing(said: str, reply: str) -> None:
    answers, state = typed(f"{BOTH_EYES}\n{said}")

    assert answers[-1].outcome == "asked"
    assert reply in answers[-1].reply
    assert readings(state) == BEFORE


def test_two_powers_in_one_line_are_not_chosen_between() -> None:
    answers, _ = typed(
        "right eye\nstreak 90 neutral with sphere +2 cylinder -1 axis 90\ncorrection plus three"
    )

    assert answers[-1].outcome == "asked"
    assert "correction sphere or correction cylinder" in answers[-1].reply


def test_the_ledger_keeps_what_was_corrected_and_withdrawn() -> None:
    state = exam("right eye\nstreak 90 neutral at +1\nnot +1 but +2\nstreak 180 neutral at +5\nscratch that")
    rows = state.ledger.rows.values()

    assert [(row.id, row.state, row.changed_by) for row in rows] == [
        ("1", "live", None),
        ("2", "corrected", 3),
        ("4", "withdrawn", 5),
    ]
    assert "sphere +1.00" in state.ledger.rows["2"].original.words()
    assert "sphere +2.00" in state.ledger.rows["2"].entry.words()
    assert [(row["id"], row["state"], row["changed_by"]) for row in summary(state)["ledger"]] == [
        (row.id, row.state, row.changed_by) for row in rows
    ]


@pytest.mark.parametrize(
    ("said", "parts"),
    [
        ("correction plus two", ("left eye", "streak vertical", "+2.00", "instead of -2.00")),
        ("change horizontal to minus three", ("left eye", "streak horizontal", "-3.00", "instead of -1.00")),
        ("not minus two but plus two", ("left eye", "streak vertical", "+2.00", "instead of -2.00")),
        ("correction streak 45", ("left eye", "streak 045", "instead of streak vertical")),
        ("correction working distance 67\nyes", ("67 cm", "instead of 50 cm", "right and left eye")),
        ("scratch that", ("taken back", "left eye", "streak vertical", "-2.00")),
    ],
)
def test_the_reply_names_eye_place_old_and_new(said: str, parts: tuple[str, ...]) -> None:
    answers, _ = typed(f"{BOTH_EYES}\n{said}")

    for part in parts:
        assert part in answers[-1].reply


def test_a_power_said_again_takes_the_place_of_the_one_before_and_can_be_taken_back() -> None:
    answers, state = typed(f"{BOTH_EYES}\nstreak vertical neutral at minus three")
    assert answers[-1].reply == (
        "left eye: streak vertical (power along 180) neutral, sphere -3.00, instead of -2.00"
    )
    assert readings(state) == changed(left=[(90, -1.0), (180, -3.0)])

    _, state = typed(f"{BOTH_EYES}\nstreak vertical neutral at minus three\nscratch that")
    assert readings(state) == BEFORE


def test_corrections_do_not_look_behind_a_new_pass_without_asking() -> None:
    answers, state = typed(f"{BOTH_EYES}\nnext pass\ncorrection minus five")

    assert answers[-1].outcome == "asked"
    assert "change left eye: streak vertical" in answers[-1].reply
    assert readings(state) == BEFORE


@pytest.mark.parametrize(
    ("said", "right"),
    [
        ("no make the cyl minus one fifty", [(20, 3.5), (110, 2.0)]),
        ("make the axis thirty", [(30, 3.5), (120, 1.75)]),
    ],
)
def test_a_lens_that_was_neutral_all_round_is_put_right_in_both_meridians(
    said: str, right: list[tuple[int, float]]
) -> None:
    _, state = typed(f"right eye\nworking distance 67\nplus 3.5 minus 1.75 by 20 neutral all round\n{said}")

    assert sorted(readings(state)["right"]) == right


@pytest.mark.parametrize(("answer", "left"), [("yes", 0), ("no", 1)])
def test_oops_take_that_one_out_asks_whether_the_entry_is_meant(answer: str, left: int) -> None:
    """It may be the lens in the frame or what was just entered; the cylinder is not meant."""
    typist = Typist()
    for line in ("working distance 67", "right eye", "streak vertical plus two"):
        typist.type(line)
    said = typist.type("oops take that one out")

    assert said.replies[-1].startswith("take back right eye: streak vertical")
    typist.type(answer)
    assert len(typist.state.eyes["right"].neutral) == left


@pytest.mark.parametrize(
    ("naming", "left_alone"),
    [("meridian", "meridian 040 (streak 130)"), ("streak", "streak 040 (power along 130)")],
)
def test_an_angle_is_put_right_by_the_one_that_was_named(naming: str, left_alone: str) -> None:
    """All looks named at the wrong one move; the power stays, and so does the other meridian."""
    typist = Typist()
    for line in (
        f"i name the {naming}",
        "working distance 66",
        "right eye",
        f"{naming} 40 plus two",
        f"{naming} 120 with",
        f"{naming} 120 plus three",
        "i meant one thirty, not one twenty",
    ):
        typist.type(line)
    looks = [row.entry.words() for row in typist.state.ledger.live if "sphere" in row.entry.words()]
    assert [words.removeprefix("right eye: ").split(" ")[1] for words in looks] == ["040", "130", "130"]
    assert looks[0] == f"right eye: {left_alone} neutral, sphere +2.00"
    assert looks[2].endswith("neutral, sphere +3.00")


def test_the_same_as_before_is_asked_about_where_it_may_be_of_two_readings() -> None:
    """The last lens, or what that meridian had: neither is taken in silence."""
    typist = Typist()
    for line in (
        "working distance 67",
        "right eye",
        "meridian 90 plus six",
        "meridian 180 plus six point seven five",
        "meridian 90 plus five point seven five",
    ):
        typist.type(line)
    assert typist.type("meridian 180 the same").outcome == "asked"
    answered = typist.type("plus six point seven five")
    assert answered.reply.startswith("right eye: meridian horizontal (streak 090) neutral, sphere +6.75")
