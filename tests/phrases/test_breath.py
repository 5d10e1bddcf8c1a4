"""Several entries in one breath, and what is put right before the breath ends."""

from contextlib import suppress
from typing import Any

import pytest

from tests.english import load
from tests.phrases.telling import all_told, told
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError

READER = LineReader(load(), "line", *TYPED)
IN_HAND = LineReader(load(), "line in_hand", *TYPED)
CLINIC = LineReader(load(), "line in_hand clinic", *TYPED)


def said(line: str) -> list[dict[str, Any]]:
    return all_told(READER, line)


def vertical(power: Any, names: str | None = None) -> dict[str, Any]:
    where = {"angle": 90} if names is None else {"names": names, "angle": 90}
    return {"kind": "reading", "where": where, "motion": "neutral", "lens": {"sphere": power}}


def test_a_whole_eye_in_one_breath() -> None:
    assert said("right eye working distance sixty seven streak vertical neutral plus two") == [
        {"kind": "eye", "eye": "right"},
        {"kind": "working_distance", "distance": 67.0},
        vertical(2.0, "streak"),
    ]


@pytest.mark.parametrize("lead", ["right let's take the", "other side", "on to the other eye"])
def test_an_eye_named_twice_is_gone_to_once(lead: str) -> None:
    assert said(f"{lead} left eye")[-1:] == [{"kind": "eye", "eye": "left"}]
    assert len(said("right let's take the right eye")) == 1


@pytest.mark.parametrize("what", ["", "subjective left ", "glasses left "])
def test_a_sphere_behind_its_cylinder_is_of_the_same_lens(what: str) -> None:
    (whole,) = said(f"{what}cylinder minus one axis five sphere plus two")
    assert whole["lens"] == {"sphere": 2.0, "cylinder": {"power": -1.0, "axis": 5}}


def test_entries_need_no_word_between_them() -> None:
    for line in (
        "vertical plus two horizontal plus three",
        "vertical plus two, and the horizontal is plus three",
        "plus two vertical plus three horizontal",
        "V +2.00, H +3.00",
        "+2.00 @ 90 +3.00 @ 180",
    ):
        one, other = said(line)
        assert one == vertical(2.0), line
        assert other["where"] == {"angle": 180}, line
        assert other["lens"] == {"sphere": 3.0}, line


@pytest.mark.parametrize(
    ("line", "power"),
    [
        ("vertical plus two no minus two", -2.0),
        ("vertical plus two sorry two point two five", 2.25),
        ("vertical minus three sorry plus three", 3.0),
        ("vertical plus one fifty or no one and three quarters", 1.75),
        ("vertical two and a half no plus three", 3.0),
    ],
)
def test_a_power_put_right_at_once_is_the_one_that_was_meant(line: str, power: float) -> None:
    assert said(line) == [vertical(power)]


def test_a_place_put_right_at_once_is_the_one_that_was_meant() -> None:
    assert said("horizontal no vertical minus two") == [vertical(-2.0)]
    assert said("horizontal meridian no vertical meridian minus two point five") == [
        vertical(-2.5, "meridian")
    ]


def test_a_sign_is_never_lent_to_a_number_that_puts_nothing_right() -> None:
    assert said("vertical plus two horizontal three")[1]["lens"] == {"sphere": {"size": 3.0, "sign": None}}


def test_an_eye_at_the_end_is_that_of_the_breath() -> None:
    one, other = said("plus two at ninety plus three at one eighty both eyes")
    assert one["eye"] == other["eye"] == "both"


def test_an_eye_that_nothing_takes_is_not_lost() -> None:
    assert said("lens out right eye") == [
        {"kind": "lenses", "remove": "lens"},
        {"kind": "eye", "eye": "right"},
    ]


def test_a_bare_place_behind_a_named_one_is_named_so_too() -> None:
    one, other = said("the ninety meridian plus two fifty and the one eighty plus three")
    assert one["where"] == {"names": "meridian", "angle": 90}
    assert other["where"] == {"names": "meridian", "angle": 180}


def test_a_correction_in_a_breath_of_its_own_stays_one() -> None:
    assert said("no plus two seventy five") == [
        {"kind": "correction", "entry": {"kind": "power", "power": 2.75}, "count": 1}
    ]


@pytest.mark.parametrize(
    "line",
    [
        "placing a plus one and three quarters before the eye",  # not +1 and then three quarters
        "power in the one fifty meridian minus three and a half",  # not meridian 1 and then meridian 50
        "vertical plus two fifty plus three",
    ],
)
def test_no_entry_ends_inside_a_number(line: str) -> None:
    understood = LineReader(load(), "line in_hand", *TYPED).loosely(line)

    assert understood is None or len(understood.readings[0]) == 1


def test_what_is_said_twice_is_meant_once_but_a_step_is_taken_twice() -> None:
    assert said("right eye right eye first") == [{"kind": "eye", "eye": "right"}]
    assert said("streak vertical with streak vertical with") == said("streak vertical with")
    assert said("up a quarter up a quarter") == 2 * said("up a quarter")


def test_a_power_put_right_before_its_place_is_the_one_that_was_meant() -> None:
    reader = LineReader(load(), "line in_hand", *TYPED)
    line = "plus two no wait plus two and a half no it's plus two and a quarter streak vertical"

    (reading,) = reader.understand(line).readings

    assert [told(meaning) for meaning in reading] == [vertical(2.25, "streak")]


def test_an_acuity_of_the_other_eye_is_with_the_same_correction() -> None:
    one, other = said("unaided right six nine left six twelve")

    assert (one["correction"], other["correction"]) == ("unaided", "unaided")


def test_a_lens_that_was_said_of_an_eye_goes_in_before_that_eye_or_is_asked_about() -> None:
    readings = READER.understand("plus two in on the left").readings

    assert ["eye", "lenses"] in [[each.kind for each in reading] for reading in readings]


def test_a_sphere_before_its_cylinder_is_of_the_same_lens() -> None:
    """With the cylinder alone the sphere in place would stay."""
    (reading,) = IN_HAND.understand("two fifty plus one minus by ninety").readings
    (lens,) = (told(meaning) for meaning in reading)

    assert lens["lens"] == {"sphere": 2.5, "cylinder": {"power": -1.0, "axis": 90}}


def test_across_a_streak_that_was_laid_the_direction_is_that_of_the_power() -> None:
    place, reading = said("streak vertical so horizontal power is plus two point seven five")

    assert place["where"] == {"names": "streak", "angle": 90}
    assert reading["where"] == {"names": "meridian", "angle": 180}


def test_a_question_with_both_eyes_behind_it_asks_for_both() -> None:
    for reading in READER.understand("read that back both eyes").readings:
        assert [told(meaning)["kind"] for meaning in reading] != ["tell", "eye"]


def test_what_is_taken_back_of_an_eye_is_of_that_eye() -> None:
    of_right = {"kind": "scratch", "count": 1, "eye": "right"}

    assert said("delete the vertical in the right eye") == [{**of_right, "where": {"angle": 90}}]
    assert said("undo the last one in the right eye") == [of_right]


def test_a_place_said_before_its_eye_is_gone_to_in_that_eye() -> None:
    assert said("streak vertical right eye") == [
        {"kind": "eye", "eye": "right"},
        {"kind": "place", "where": {"names": "streak", "angle": 90}},
    ]


def test_what_is_of_both_eyes_goes_on_with_neither() -> None:
    assert [each["kind"] for each in said("pupils six mil each eye")] == ["pupils"]
    assert [each["kind"] for each in said("now with the drops wet")] == ["condition"]


@pytest.mark.parametrize("line", ["patchy reflex", "the reflex is irregular", "reflex a bit uneven"])
def test_a_patchy_reflex_is_not_split(line: str) -> None:
    assert all_told(CLINIC, line) == [{"kind": "reflex", "reflex": "irregular"}]


@pytest.mark.parametrize(
    "where", ["in the other eye", "for the fellow eye", "in the left eye", "on both eyes"]
)
@pytest.mark.parametrize(
    "entry",
    [
        "vertical plus two",
        "dull reflex",
        "working distance fifty",
        "working lens in",
        "acuity six nine",
        "pupils four millimetres",
        "drops atropine one percent",
        "what have i got",
        "no minus",
        "make the vertical plus two",
        "delete the vertical",
        "cylinder minus one axis ten",
        "spectacles minus two",
        "swap those two",
        "next pass",
        "with",
    ],
)
def test_whatever_is_said_of_an_eye_behind_it_is_read(entry: str, where: str) -> None:
    """As one thing or as two; what has no eye, or not that one, is no reason to stop."""
    with suppress(NotAPhraseError):
        assert IN_HAND.understand(f"{entry} {where}").readings
