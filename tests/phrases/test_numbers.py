"""Number speech, said and written. The sayings are common practice, no source; see README "What to say"."""

import json

import pytest

from tests.english import load
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader, NotAPhraseError

POWERS = {
    "plus three": 3.0,
    "plus three point two five": 3.25,
    "plus three and a quarter": 3.25,
    "plus three twenty five": 3.25,
    "plus three two five": 3.25,
    "minus point five": -0.5,
    "minus a half": -0.5,
    "minus half": -0.5,
    "minus fifty": -0.5,
    "plus one half": 0.5,
    "plus oh point two five": 0.25,
    "plus zero point seven five": 0.75,
    "plus a quarter": 0.25,
    "plus twenty five": 0.25,
    "minus three quarters": -0.75,
    "minus seventy five": -0.75,
    "plano": 0.0,
    "plus one fifty": 1.5,
    "plus one and a half": 1.5,
    "plus one point five": 1.5,
    "plus one five oh": 1.5,
    "plus one point five oh": 1.5,
    "minus two and a quarter": -2.25,
    "minus nine and a quarter": -9.25,
    "minus nine point two five": -9.25,
    "minus nine twenty five": -9.25,
    "plus one seventy five": 1.75,
    "minus two hundred": -2.0,
    "plus two hundred and fifty": 2.5,
    "plus one hundred": 1.0,
    "plus six": 6.0,
    "minus ten": -10.0,
    "minus twelve": -12.0,
    "plus twelve fifty": 12.5,
    "plus twenty": 20.0,
    "minus twenty four seventy five": -24.75,
    "plus twenty twenty five": 20.25,
    "plus twenty five point oh": 25.0,
    "plus forty": 40.0,
    "plus fourteen": 14.0,
    "minus an eighth": -0.125,
    "plus point one two": 0.12,
    "plus two point three": 2.3,
    "negative one": -1.0,
    "plus two dioptres": 2.0,
}
WRITTEN_POWERS = {
    "+3": 3.0,
    "+3.00": 3.0,
    "-2.25": -2.25,
    "−2.25": -2.25,
    "+.5": 0.5,
    "plus 2.25": 2.25,
    "+175": 1.75,
    "-1025": -10.25,
    "+25": 0.25,
    "+50": 0.5,
    "+12.5": 12.5,
    "plus 2 and a quarter": 2.25,
    "plus 1/2": 0.5,
    "plus ½": 0.5,
}
AXES = {
    "ninety": 90,
    "one eighty": 180,
    "one eighteen": 118,
    "one seventy five": 175,
    "one hundred and five": 105,
    "one oh five": 105,
    "one seven two": 172,
    "one seventy two": 172,
    "oh nine oh": 90,
    "zero zero five": 5,
    "five": 5,
    "oh five": 5,
    "fifteen": 15,
    "fifty": 50,
    "one fifty": 150,
    "one fifteen": 115,
    "a hundred": 100,
    "one hundred": 100,
    "zero": 180,
    "nine zero": 90,
    "ninety degrees": 90,
    "two seventy": 270,
    "three sixty": 360,
    "one ninety": 190,
    "90": 90,
    "090": 90,
    "5": 5,
    "175": 175,
}
DISTANCES = {
    "sixty seven": 67,
    "fifty": 50,
    "sixty six point seven": 66.7,
    "sixty seven centimetres": 67,
    "six seven": 67,
    "one hundred": 100,
    "a hundred": 100,
    "two thirds of a metre": 66.667,
    "half a metre": 50,
    "one metre": 100,
    "point six seven metres": 67,
    "one fifty": 150,
    "67": 67,
    "67 cm": 67,
    "67cm": 67,
    "66.7": 66.7,
    "2/3": 66.667,
    "0.67": 67,
}


def value(rule: str, text: str, field: str) -> object:
    """The one value of a phrase, or None when it is none."""
    try:
        meanings = LineReader(load(), rule, Layer.WRITTEN).understand(text).readings
    except NotAPhraseError:
        return None
    assert len(meanings) == 1, meanings
    return json.loads(meanings[0][0].model_dump_json())[field]


@pytest.mark.parametrize(("text", "power_d"), (POWERS | WRITTEN_POWERS).items())
def test_powers(text: str, power_d: float | None) -> None:
    assert value("power", text, "power") == power_d


@pytest.mark.parametrize("text", ["three", "two and a quarter", "one fifty", "2.25", "a half"])
def test_a_power_without_a_sign_has_no_value(text: str) -> None:
    spoken = value("power", text, "power")

    assert isinstance(spoken, dict)
    assert spoken["sign"] is None
    assert spoken["size"] > 0


def test_two_bare_digits_are_unclear() -> None:
    """ "Two five" may be 2.5, or 2.25 with a word lost."""
    assert value("power", "minus two five", "power") == {"size": None, "sign": -1}


@pytest.mark.parametrize(("text", "axis_deg"), AXES.items())
def test_axes(text: str, axis_deg: int) -> None:
    assert value("axis", text, "axis") == axis_deg


@pytest.mark.parametrize(("text", "distance_cm"), DISTANCES.items())
def test_distances(text: str, distance_cm: float | None) -> None:
    assert value("distance", text, "distance") == distance_cm


@pytest.mark.parametrize(
    ("text", "digit"), [("zero", 0), ("oh", 0), ("one", 1), ("seven", 7), ("nine", 9), ("4", 4)]
)
def test_digits(text: str, digit: int) -> None:
    assert value("digit", text, "digit") == digit


@pytest.mark.parametrize("sign", [1, -1])
def test_every_quarter_step_to_25_d_can_be_said_and_written(sign: int) -> None:
    """Although few trial cases hold -9.25: what cannot be said would be taken for a neighbour."""
    words = {1: "plus", -1: "minus"}[sign]
    for quarters in range(1, 101):
        size = quarters / 4
        assert value("power", f"{sign * size:+.2f}", "power") == sign * size
        assert value("power", f"{words} {size:.2f}", "power") == sign * size


def test_every_axis_can_be_written_with_three_digits() -> None:
    assert [value("axis", f"{angle:03d}", "axis") for angle in range(1, 181)] == list(range(1, 181))
