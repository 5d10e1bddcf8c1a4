"""Two things that nobody means together are not read out of one line."""

import pytest

from tests.english import load
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError
from voicelog.phrases.said_once import said_once

LINE = LineReader(load(), "line in_hand", *TYPED)


def _meant(line: str) -> list[say.Meaning]:
    """What a line says, without question."""
    (reading,) = LINE.understand(line).readings
    return list(reading)


@pytest.mark.parametrize("line", ["gone past neutral", "gone past neutral now", "not quite neutral now"])
def test_past_neutral_is_not_neutral(line: str) -> None:
    assert [each.motion for each in _meant(line) if isinstance(each, say.Reading)] == ["not_neutral"]


@pytest.mark.parametrize("line", ["nearly there neutral now", "overshot neutral now", "gone past it neutral"])
def test_not_neutral_and_neutral_in_one_breath_is_no_phrase(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


def test_the_sign_before_the_word_cylinder_is_the_cylinders() -> None:
    assert _meant("plus cylinder two and a quarter axis ninety") == _meant(
        "cylinder plus two and a quarter axis ninety"
    )


def test_a_sign_put_right_is_put_right_once() -> None:
    assert _meant("i said plus i meant minus") == _meant("sorry minus")


def test_an_axis_that_is_neutral_is_no_cylinders() -> None:
    with pytest.raises(NotAPhraseError, match="at ninety neutral plus one point five"):
        LINE.understand("axis ninety is neutral with plus one point five")


def test_with_another_lens_it_may_be_neutral_after_all() -> None:
    motions = [
        each.motion for each in _meant("overshot neutral with plus two") if isinstance(each, say.Reading)
    ]

    assert motions == ["not_neutral", "neutral"]


@pytest.mark.parametrize(
    "line", ["what have we got down for the right eye", "what have we got for the right eye"]
)
def test_an_eye_that_is_asked_about_is_not_gone_on_with(line: str) -> None:
    assert _meant(line) == [say.Tell(say="right")]


@pytest.mark.parametrize("line", ["left eye the reflex is dull", "left eye reflex is dull"])
def test_a_look_behind_an_eye_is_no_aside(line: str) -> None:
    assert _meant(line) == [say.Eye(eye="left"), say.Reflex(reflex="dull")]


def test_how_it_is_to_be_said_is_no_look_of_the_reflex() -> None:
    assert _meant("say that again a bit slower") == [say.Answer(answer="again")]
    with pytest.raises(NotAPhraseError):
        LINE.understand("what have i got a bit slower")


def test_the_words_of_one_number_are_not_made_two() -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand("ninety not one eighty")
    quarter = say.Lens(sphere=say.Power(size_d=0.25, sign=1), on_top=True)
    assert _meant("i give one quarter more") == [say.Lenses(lens=quarter)]
    with pytest.raises(NotAPhraseError):
        LINE.understand("one eighty meridian plus one point seven five also same")
    (swept,) = _meant("sweeping along the hundred and ten meridian plus five")
    assert isinstance(swept, say.Reading)
    assert swept.where == say.Where(names="meridian", angle=110)


def test_a_nought_that_begins_a_place_is_no_place_before() -> None:
    one, other = _meant("streak one eight zero plus one streak zero nine zero plus two")

    assert isinstance(one, say.Reading)
    assert isinstance(other, say.Reading)
    assert (one.where, other.where) == (
        say.Where(names="streak", angle=180),
        say.Where(names="streak", angle=90),
    )


def test_a_lens_that_is_said_twice_and_differently_is_asked_about() -> None:
    (lens,) = _meant("working lens plus two in both eyes plus one fifty")

    assert isinstance(lens, say.WorkingLens)
    assert lens.power == say.Power(size_d=None, sign=None)


@pytest.mark.parametrize(
    "line",
    [
        "streak lies up at sixty five",
        "vertical at sixty five",
        "streak vertical from sixty",
        "neutral at 43.50",
        "vertical neutral at 43.50",
    ],
)
def test_behind_a_place_alone_a_number_is_no_working_distance(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


def test_a_working_distance_before_a_place_or_behind_a_reading_stands() -> None:
    first, last = (
        _meant("working at fifty streak vertical"),
        _meant("vertical neutral plus two working at fifty"),
    )

    assert [each.kind for each in first] == ["working_distance", "place"]
    assert last[-1].kind == "working_distance"


@pytest.mark.parametrize(
    "line", ["right eye finish", "left eye and that is the lot", "vertical plus two finish"]
)
def test_what_ends_an_exam_is_said_by_itself(line: str) -> None:
    try:
        readings = LINE.understand(line).readings
    except NotAPhraseError:
        return
    assert all(
        each.kind not in ("finish", "next_patient", "discard") for reading in readings for each in reading
    )


def test_save_beside_finish_ends_it() -> None:
    assert {each.kind for each in _meant("save finish")} == {"save", "finish"}


def test_beside_an_eye_begin_tells_nothing() -> None:
    for line in ("right eye we begin", "o d start", "r e start"):
        assert [told.kind for told in _meant(line)] == ["eye"], line


def test_a_step_of_unclear_sign_and_a_cylinder_are_one_lens() -> None:
    (lens,) = _meant("take down plus one and a half minus a half axis ninety")

    assert isinstance(lens, say.Lenses)
    assert lens.lens == say.Lens(
        sphere=say.Power(size_d=1.5, sign=1),
        cylinder=say.Cylinder(power=say.Power(size_d=0.5, sign=-1), axis=90),
    )


def test_a_question_with_an_eye_is_that_eyes() -> None:
    for line in ("what've i got o s", "o s what have i got"):
        assert _meant(line) == [say.Tell(say="left")], line


@pytest.mark.parametrize(
    "line",
    ["vertical no minus", "streak vertical no minus", "dull reflex no minus", "acuity six nine no plus two"],
)
def test_a_value_put_right_behind_what_has_none_is_no_phrase(line: str) -> None:
    """The entry before this breath would change instead, whichever that is."""
    with pytest.raises(NotAPhraseError, match="do not go together"):
        LINE.understand(line)


@pytest.mark.parametrize(
    "line",
    [
        "the vertical must be plus three comma two five",
        "vertical no plus three and a quarter",
        "streak vertical sorry plus three and a quarter",
    ],
)
def test_a_power_put_right_behind_a_place_is_of_that_place(line: str) -> None:
    (change,) = _meant(line)

    assert isinstance(change, say.Change)
    assert change.where.angle_deg == 90
    assert change.power == say.Power(size_d=3.25, sign=1)


@pytest.mark.parametrize("line", ["vertical at fifty plus two", "streak ninety at fifty plus two"])
def test_one_entry_has_one_place(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


def test_what_is_asked_with_an_eye_is_no_motion() -> None:
    assert _meant("where are we with the right eye") == [say.Tell(say="right")]


def test_a_wrong_eye_that_is_named_is_moved_once() -> None:
    (moved,) = _meant("wrong eye that one is left eye")

    assert isinstance(moved, say.Move)
    assert moved.eye == "left"


@pytest.mark.parametrize(
    "line",
    [
        "putting minus one cylinder axis one eighty",
        "put in minus one cylinder axis one eighty",
        "minus one cylinder axis one eighty",
    ],
)
def test_a_lens_with_an_axis_is_a_cylinder(line: str) -> None:
    power = say.Power(size_d=1.0, sign=-1)

    assert _meant(line) == [say.Lenses(lens=say.Lens(cylinder=say.Cylinder(power=power, axis=180)))]


def test_a_lens_that_is_called_a_sphere_has_no_axis() -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand("putting in plus two sphere axis ninety")


@pytest.mark.parametrize("line", ["scissors at ninety", "dull reflex at sixty"])
def test_a_look_at_a_number_names_a_meridian_and_no_distance(line: str) -> None:
    (reflex,) = _meant(line)

    assert isinstance(reflex, say.Reflex)
    assert reflex.where is not None


@pytest.mark.parametrize(
    "line",
    [
        "streak horizontal plus three, no, just past it, plus two seventy five",
        "vertical plus two, not quite, plus two and a half",
    ],
)
def test_a_power_that_was_passed_on_from_is_no_reading(line: str) -> None:
    with pytest.raises(NotAPhraseError) as refused:
        LINE.understand(line)

    assert refused.value.likely
    (reading,) = LINE.understand(refused.value.nearest or "").readings
    assert [each.motion for each in reading if isinstance(each, say.Reading)] == ["neutral"]


def test_who_asks_for_what_was_dry_makes_nothing_dry() -> None:
    (told,) = _meant("what was the left without drops")

    assert told == say.Tell(say="dry", eye="left")


def test_the_place_of_a_power_that_is_put_right_is_no_place_put_right() -> None:
    """The last reading would be moved there, whichever that is."""
    (change,) = _meant("sorry the horizontal on the left should be plus three")

    assert isinstance(change, say.Change)
    assert (change.eye, change.where.angle_deg, change.power.dioptres) == ("left", 180, 3.0)


def test_a_streak_that_is_laid_at_the_end_is_for_what_comes() -> None:
    reading, place = _meant("streak vertical plus three, streak horizontal")

    assert isinstance(reading, say.Reading)
    assert isinstance(place, say.Place)
    assert (reading.where, place.where) == (
        say.Where(angle=90, names="streak"),
        say.Where(angle=180, names="streak"),
    )


@pytest.mark.parametrize("line", ["meridian now of vertical plus two", "streak down vertical plus two"])
def test_what_a_direction_names_is_never_passed_over(line: str) -> None:
    """Without its word the direction would be of what bare ones name: a quarter turn away."""
    with pytest.raises(NotAPhraseError) as caught:
        LINE.understand(line)

    assert "did you mean" not in str(caught.value)


def test_not_neutral_and_with_are_one_look() -> None:
    looks = [say.Reading(motion="not_neutral"), say.Reading(motion="with", manner=("still",))]

    assert said_once(looks) == (looks[1],)


def test_the_axis_of_an_eye_that_is_named_behind_correction() -> None:
    (right,) = said_once(_meant("correction right eye axis eighty"))

    assert right == say.Correction(entry=say.LooseAxis(axis=80), eye="right")


@pytest.mark.parametrize(
    "line", ["check that one again, I saw with movement", "back to the left one more look"]
)
def test_one_is_no_lens_where_it_counts_nothing(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


@pytest.mark.parametrize(
    "line",
    [
        "o d vertical meridian i mean o s vertical meridian plus one",
        "right eye no left eye vertical meridian plus one",
    ],
)
def test_an_eye_put_right_before_anything_was_read_of_it_moves_nothing(line: str) -> None:
    eye, *_, reading = said_once(_meant(line))
    assert eye == say.Eye(eye="left")
    assert isinstance(reading, say.Reading)
    assert not any(isinstance(each, say.Correction | say.Move) for each in said_once(_meant(line)))


@pytest.mark.parametrize(
    ("line", "before"),
    [
        ("with plus two fifty i see slight against", ()),
        ("with plus two fifty in the left eye i see slight against", (say.Eye(eye="left"),)),
    ],
)
def test_with_before_a_lens_is_no_motion_where_another_is_seen(
    line: str, before: tuple[say.Meaning, ...]
) -> None:
    *first, look = said_once(_meant(line))
    assert tuple(first) == before
    assert isinstance(look, say.Reading)
    assert (look.motion, look.manner) == ("against", ("slight",))
    assert look.lens == say.Lens(sphere=say.Power(size_d=2.5, sign=1))


def test_what_was_said_before_the_lens_of_a_look_stays() -> None:
    lens = say.Lens(sphere=say.Power(size_d=2.5, sign=1))
    breath = (say.Place(where=say.Where(names="streak", angle=90)), say.Reading(motion="with", lens=lens))

    against = say.Reading(motion="against")
    assert said_once((*breath, against)) == (breath[0], against.model_copy(update={"lens": lens}))
    left = say.Eye(eye="left")
    assert said_once((*breath, left, against))[:2] == (breath[0], left)


def test_a_part_of_an_eye_that_is_named_behind_correction_moves_nothing() -> None:
    (axis,) = said_once(_meant("sorry o d axis should be one oh five"))
    assert axis == say.Correction(entry=say.LooseAxis(axis=105), eye="right")
