"""Graded exercises are what their names say, their goals can be reached, and a teacher's set is taken or refused whole."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.practice.running import Run
from voicelog.optics import SpheroCylinder, axis_difference_deg
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel
from voicelog.practice.kinds import KINDS, NAMES, kind_named
from voicelog.practice.teacher_set import read_set
from voicelog.practice.telling_order import most_telling_lenses

SEEDS = range(200)


def written(name: str) -> list[Any]:
    return [kind_named(name).model(seed).refraction.minus_cylinder() for seed in SEEDS]


@pytest.mark.parametrize(
    ("name", "axis_deg", "within_deg"),
    [("with-the-rule", 180, 10), ("against-the-rule", 90, 10)],
)
def test_with_and_against_the_rule(name: str, axis_deg: float, within_deg: float) -> None:
    """With the rule is a minus cylinder near 180, against the rule one near 90 (a widely taught convention, from memory)."""
    assert all(abs(axis_difference_deg(each.axis_deg, axis_deg)) <= within_deg for each in written(name))
    assert len({each.axis_deg for each in written(name)}) > 10


def test_every_kind_is_what_it_is_called() -> None:
    assert not any(each.cylinder_d for each in written("spheres"))
    for each in written("oblique"):
        assert min(abs(axis_difference_deg(each.axis_deg, axis)) for axis in (45, 135)) <= 10
    assert {each.cylinder_d for each in written("small-cylinder")} == {-0.5, -0.75}
    assert all(each.sphere_d <= -6 or each.sphere_d >= 5 for each in written("high"))
    assert kind_named("scissors").model(1).coma_d_per_mm > 0
    assert kind_named("child").model(1).child


@pytest.mark.parametrize("kind", [KINDS[0], KINDS[3], KINDS[5]], ids=lambda kind: kind.name)
def test_a_goal_can_be_reached_and_leaves_room_to_find_the_band(kind: Any) -> None:
    needed = most_telling_lenses(Exercise(kind.model(1), 1))

    assert needed is not None
    assert needed + 2 <= kind.goal_lenses


@pytest.mark.sweep
@pytest.mark.parametrize("kind", KINDS, ids=NAMES)
def test_goals_of_many_eyes(kind: Any) -> None:
    needed = [most_telling_lenses(Exercise(kind.model(seed), seed)) for seed in range(20)]

    assert all(each is not None and each + 2 <= kind.goal_lenses for each in needed)


def test_the_most_telling_order_needs_fewer_lenses_than_every_step_in_turn() -> None:
    """Plano -1.00 x 180 at 50 cm: gross +1.00 along 90, +2.00 along 180; from plano up in quarters 4 + 8 lenses."""
    exercise = Exercise(EyeModel(SpheroCylinder(0.0, -1.0, 180.0)), 1, distance_cm=50.0)
    found = most_telling_lenses(exercise)

    assert found is not None
    assert 2 <= found < 4 + 8


def test_a_set_is_the_same_eyes_each_time(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text(
        'kinds = ["spheres", "oblique"]\ncount = 5\nseed = 7\neye = "both"\ntechnique = "cylinders"\n'
    )
    first, again = (read_set(path).exercises(50.0) for _ in range(2))

    assert first == again
    assert [each.kind for each in first] == ["spheres", "oblique", "spheres", "oblique", "spheres"]
    assert [each.eye for each in first] == ["right", "left", "right", "left", "right"]
    assert {(each.technique, each.distance_cm) for each in first} == {("cylinders", 50.0)}
    assert len({each.model.refraction for each in first}) == 5


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        ("", "kinds is missing: a list of spheres"),
        ("kinds = []", "kinds = []: allowed is a list of"),
        ('kinds = ["sphere"]', "sphere is no kind of exercise; there are spheres"),
        ('kinds = "spheres"', "kinds = 'spheres': allowed is"),
        ('kinds = ["spheres"]\ncount = 0', "count = 0: allowed is a whole number from 1 to 50"),
        ('kinds = ["spheres"]\ncount = 2.5', "count = 2.5"),
        ('kinds = ["spheres"]\nseed = -1', "seed = -1"),
        ('kinds = ["spheres"]\ntechnique = "guess"', "technique = 'guess'"),
        ('kinds = ["spheres"]\ndistance_cm = 5', "distance_cm = 5: allowed is 10 to 100"),
        ('kinds = ["spheres"]\ndistance_cm = nan', "distance_cm = nan"),
        ('kinds = ["spheres"]\nminutes = 5', "'minutes' is nothing that a set has"),
        ("kinds = [", "is no TOML to its end"),
        ("\x00\xff", "is not text in UTF-8"),
        ("high kinds", "is no TOML from line 1, column 6 on; a line looks like this"),
        ("x" * 70_000, "larger than 64 kB"),
    ],
)
def test_a_bad_set_is_refused_in_one_line(tmp_path: Path, content: str, complaint: str, run: Run) -> None:
    path = tmp_path / "set.toml"
    path.write_bytes(content.encode("latin-1"))
    status, out, err = run("--set", str(path))

    assert (status, out) == (2, "")
    assert complaint in err
    assert len(err.splitlines()) == 1


def test_a_set_that_is_not_there(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.toml"):
        with pytest.raises(PracticeError, match="cannot be read"):
            read_set(path)


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("--watch",), "--watch do not go together"),
        (("--seed", "3"), "--seed do not go together"),
        (("--working-lens", "in"), "--working-lens do not go together"),
        (("--distance", "67"), "--distance 67 is not the distance of the set, 50"),
    ],
)
def test_a_set_and_options_that_contradict_it(
    tmp_path: Path, arguments: tuple[str, ...], complaint: str, run: Run
) -> None:
    path = tmp_path / "set.toml"
    path.write_text('kinds = ["spheres"]\ndistance_cm = 50')
    status, _, err = run("--set", str(path), *arguments)

    assert status == 2
    assert complaint in err


def lines_for(exercise: Exercise) -> str:
    """The true readings of a sphere, as typed."""
    gross = exercise.model.refraction.sphere_d + 100.0 / exercise.distance_cm
    return (
        f"{exercise.eye} eye\nworking distance {exercise.distance_cm:g}\nstreak vertical neutral at {gross:+.2f}\n"
        f"streak horizontal neutral at {gross:+.2f}\ndone\n"
    )


def test_a_set_is_done_one_lesson_after_the_other(tmp_path: Path, run: Run) -> None:
    """Two of three: the lines end within the third, which is not counted."""
    path = tmp_path / "set.toml"
    path.write_text('title = "Day one"\nkinds = ["spheres"]\ncount = 3\ndistance_cm = 50')
    exercises = read_set(path).exercises()
    lines = lines_for(exercises[0]) + f"{exercises[1].eye} eye\nstreak vertical\ndone\n" + "right eye\n"
    found = json.loads(run("--set", str(path), "--json", stdin=lines)[1])

    assert (found["title"], found["set"]) == ("Day one", 3)
    assert [each["mistake"] for each in found["results"]] == [None, "unfinished"]
    assert [each["close"] for each in found["results"]] == [True, False]
    assert found["results"][0]["apart"]["largest_d"] == pytest.approx(0.0, abs=1e-9)
    assert found["results"][0]["goal_lenses"] == kind_named("spheres").goal_lenses

    text = run("--set", str(path), stdin=lines)[1]
    assert "Day one: 2 of 3" in text
    assert "2 of 3 done" in text
    assert "lesson 2, first mistake: unfinished" in text
    assert "no result" in text


def test_one_graded_exercise(run: Run) -> None:
    found = json.loads(run("--json", "--kind", "oblique", "--seed", "5")[1])

    assert found["truth"]["axis"] == kind_named("oblique").model(5).refraction.axis_deg
    assert "Goal: 14 lenses, 6 minutes." in " ".join(run("--kind", "oblique")[1].split())
    for other in (("--child",), ("--refraction", "+1.00"), ("--age", "40"), ("--reflex", "dull")):
        assert "the kind says what eye it is" in run("--kind", "oblique", *other)[2]
