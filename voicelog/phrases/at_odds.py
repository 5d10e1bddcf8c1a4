"""Whether a reading of a line holds two things that nobody means together: it is no reading then."""

from itertools import pairwise
from typing import Final

from voicelog.phrases import meanings as say
from voicelog.phrases.matcher import Meanings


def is_at_odds(reading: Meanings) -> bool:
    """ "Gone past neutral" is not "gone past, and neutral"; "what have we down for the right eye" names no eye to go on
    with.
    """
    return (
        _ends_beside_another(reading)
        or any(map(_denied_light, reading))
        or (len(reading) > 1 and any(map(_is_empty_note, reading)))
        or any(map(_cuts_a_decimal, reading))
        or any(_place_of_a_power(*pair) for pair in pairwise(_without_eyes(reading)))
        or any(
            _denied(one, other)
            or _eye_asked_about(one, other)
            or _asked_how(one, other)
            or _angle_as_distance(one, other)
            or _second_place(one, other)
            or _is_pronoun(one, other)
            or _corrects_what_is_not_there(one, other)
            or _step_before_cylinder(one, other)
            or _sign_of_the_other(one, other)
            or _axis_of_a_neutral(one, other)
            or _two_eyes(one, other)
            or _asked_with(one, other)
            or _axis_of_a_sphere(one, other)
            for one, other in pairwise(reading)
        )
    )


ENDING: Final = frozenset({"finish", "next_patient", "discard"})
"""Kinds of order that end or discard an exam."""
_KEEPS: Final = ("save", "print")


def _ends_beside_another(reading: Meanings) -> bool:
    """ "RE finish, LE now" ends no exam: what ends or discards one is said by itself."""
    kinds = {each.kind for each in reading if not (isinstance(each, say.Plain) and each.kind in _KEEPS)}
    return not kinds.isdisjoint(ENDING) and len(kinds) > 1


def _denied_light(said: say.Meaning) -> bool:
    """ "No PL" is no light perception, and puts nothing right to light perception."""
    entry = said.entry if isinstance(said, say.Correction) else None
    return isinstance(entry, say.Acuity) and entry.value.category == "light_perception"


def _is_empty_note(said: say.Meaning) -> bool:
    """ "Right eye please note" begins no note: its words would be said in the same breath."""
    return isinstance(said, say.Note) and not said.text


_FIRST_OF_DECIMAL: Final = (2.0, 7.0)
_REST_OF_DECIMAL: Final = 5.0


def _cuts_a_decimal(said: say.Meaning) -> bool:
    """ "Minus seven five times one eighty" is three quarters: no sphere of seven with a cylinder of five."""
    lens = said.lens if isinstance(said, say.Lenses | say.Reading) else None
    if lens is None or lens.sphere is None or lens.cylinder is None or lens.sphere.sign is None:
        return False
    power = lens.cylinder.power
    rest = power.sign is None and power.size_d == _REST_OF_DECIMAL
    return rest and lens.sphere.size_d in _FIRST_OF_DECIMAL


def _step_before_cylinder(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Take down plus one and a half, minus a half axis ninety" is one lens that is written down: no step whose sign
    is unclear, and a cylinder with the sphere of before.
    """
    if not isinstance(one, say.Lenses) or not isinstance(other, say.Lenses):
        return False
    step, lens = one.lens, other.lens
    if step is None or lens is None or not step.on_top or step.sphere is None or step.sphere.sign is not None:
        return False
    return lens.sphere is None and lens.cylinder is not None


def _sign_of_the_other(one: say.Meaning, other: say.Meaning) -> bool:
    """ "I said plus, I meant minus" puts one sign right, once. The sign of "plus cylinder two" is the cylinder's."""
    if isinstance(one, say.Correction) and isinstance(other, say.Correction):
        return isinstance(one.entry, say.LooseSign) and isinstance(other.entry, say.LooseSign)
    if not isinstance(one, say.LooseSign) or not isinstance(other, say.Lenses) or other.lens is None:
        return False
    cylinder = other.lens.cylinder
    return cylinder is not None and cylinder.power.sign is None


def _axis_of_a_neutral(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Axis ninety is neutral with plus one" names where it is neutral, and puts no axis right."""
    for axis, look in ((one, other), (other, one)):
        if isinstance(axis, say.LooseAxis) and isinstance(look, say.Reading) and look.motion == "neutral":
            return look.where is None
    return False


def _two_eyes(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Start with the left, his right one is sore" goes to one eye: nothing is done in between."""
    return isinstance(one, say.Eye) and isinstance(other, say.Eye)


def _asked_with(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Where are we with the right eye" asks, and tells of no motion; nor does "what was it without drops" make
    anything dry.
    """
    if not isinstance(one, say.Tell):
        return False
    if isinstance(other, say.Condition):
        return True
    if not isinstance(other, say.Reading):
        return False
    return other.motion == "with" and other.where is None and other.lens is None


def _axis_of_a_sphere(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Putting minus one, cylinder axis one eighty" puts in a cylinder: a lens that has an axis is no sphere."""
    if not isinstance(one, say.Lenses) or one.lens is None or not isinstance(other, say.LooseAxis):
        return False
    return one.lens.sphere is not None and one.lens.cylinder is None


def _without_eyes(reading: Meanings) -> Meanings:
    return tuple(each for each in reading if not isinstance(each, say.Eye))


def _place_of_a_power(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Sorry, the horizontal on the left should be plus three" names whose power it is, and puts no place right."""
    if not isinstance(one, say.Correction) or not isinstance(other, say.Correction):
        return False
    return isinstance(one.entry, say.LooseWhere) and isinstance(other.entry, say.LoosePower)


def _denied(one: say.Meaning, other: say.Meaning) -> bool:
    """Not neutral, and in the same breath neutral with nothing changed. Nor is "plus two, not quite, plus two and a
    half" neutral with the first, or not with the second.
    """
    if isinstance(other, say.Correction):
        other = other.entry
    if not isinstance(one, say.Reading) or not isinstance(other, say.Reading):
        return False
    if one.motion == "neutral" and other.motion == "not_neutral" and other.where is None:
        return one.lens is not None and other.lens is not None
    unchanged = other.where is None and other.lens is None and other.between is None
    return one.motion == "not_neutral" and other.motion == "neutral" and unchanged


def _eye_asked_about(one: say.Meaning, other: say.Meaning) -> bool:
    return isinstance(one, say.Tell) and isinstance(other, say.Eye)


def _asked_how(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Say that again a bit slower" tells nothing of the reflex."""
    order = isinstance(one, say.Tell | say.Plain) or (isinstance(one, say.Answer) and one.answer == "again")
    return order and isinstance(other, say.Reflex)


def _angle_as_distance(one: say.Meaning, other: say.Meaning) -> bool:
    """ "The streak lies up at sixty five" names an angle: behind a place with nothing seen there is no distance. Nor is
    one behind "neutral" that names no lens: "neutral at 43.50".
    """
    bare = isinstance(one, say.Reading) and one.motion == "neutral" and one.lens is None
    return (bare or isinstance(one, say.Place | say.LooseWhere)) and isinstance(other, say.WorkingDistance)


def _second_place(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Vertical at fifty plus two" is of the vertical, or along fifty. A streak that was laid is followed by its own
    reading, or by that of the direction across it.
    """
    if not isinstance(one, say.Place | say.LooseWhere) or not isinstance(other, say.Reading):
        return False
    before, then = one.where.angle_deg, other.where.angle_deg if other.where is not None else None
    return before is not None and then is not None and (then - before) % 90 != 0


_WITHOUT_POWER: Final = (
    say.Place,
    say.LooseWhere,
    say.WorkingDistance,
    say.WorkingLens,
    say.Reflex,
    say.Acuity,
    say.Pupils,
    say.Drops,
)
"""Entries that have no power of their own."""


def _corrects_what_is_not_there(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Vertical, no, minus": the sign is of what was just said, which has none. The entry before this breath would
    change instead, whichever that is. Nor does "at ninety it should be plus two" say a distance.
    """
    if not isinstance(one, _WITHOUT_POWER) or not isinstance(other, say.Correction):
        return False
    return isinstance(other.entry, say.LoosePower | say.LooseSign)


def _is_pronoun(one: say.Meaning, other: say.Meaning) -> bool:
    """ "Horizontal one change to minus two" names the horizontal, and no power of one dioptre."""
    if not isinstance(one, say.Reading) or one.lens is None or one.lens.sphere is None:
        return False
    is_one = one.where is not None and one.lens.sphere.sign is None and one.lens.sphere.size_d == 1.0
    return is_one and one.motion == "neutral" and isinstance(other, say.Lenses)
