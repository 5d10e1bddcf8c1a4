"""What may be meant two ways is asked about, and changes nothing before it is answered."""

import pytest

from tests.exam.typing import typed

TWO = "i name the streak\nright eye\nworking distance 67\nvertical is plus one\nhorizontal is plus two"


@pytest.mark.parametrize(
    ("line", "reply"),
    [
        ("vertical plus three horizontal", "not clear"),
        ("vertical horizontal plus three", "not clear"),
        ("minus plus three vertical", "not clear"),
        (
            "vertical a quarter more",
            "streak vertical (power along 180) was neutral with sphere +1.00, the last lens is sphere +2.00: which power?",
        ),
        ("vertical plus two net", "did you say: vertical (090) neutral, sphere +2.00; question: net?"),
        ("net vertical plus three", "did you say: question: net; vertical (090) neutral, sphere +3.00?"),
        (
            "right vertical plus three left eye",
            "did you say: right eye; left eye vertical (090) neutral, sphere +3.00?",
        ),
        (
            "no horizontal for the left",
            "the left eye has nothing of that kind to correct",
        ),
        (
            "no horizontal for the right",
            "change right eye: streak horizontal (power along 090) neutral, sphere +2.00 to horizontal (180)?",
        ),
    ],
)
def test_it_is_asked_about(line: str, reply: str) -> None:
    answers, state = typed(f"{TWO}\n{line}")

    assert answers[-1].reply == reply
    assert answers[-1].acts == ()
    assert [(each.meridian_deg, each.gross_d) for each in state.eyes["right"].neutral] == [
        (180, 1.0),
        (90, 2.0),
    ]


@pytest.mark.parametrize(
    "line",
    [
        "streak vertical is plus three streak horizontal is plus four",
        "vertical plus three horizontal plus four",
        "vertical plus three horizontal plus four what is the net",
        "right eye vertical plus three horizontal plus four",
    ],
)
def test_what_has_one_sense_enters(line: str) -> None:
    answers, state = typed(f"{TWO}\n{line}")

    assert answers[-1].outcome == "accepted"
    assert [each.gross_d for each in state.eyes["right"].neutral] == [3.0, 4.0]


@pytest.mark.parametrize(
    "line", ["vertical plus three in the other eye", "vertical plus three for the other eye"]
)
def test_in_the_other_eye_is_of_the_other_eye(line: str) -> None:
    _, state = typed(f"{TWO}\n{line}")

    assert state.eye == "left"
    assert [each.gross_d for each in state.eyes["left"].neutral] == [3.0]
    assert [each.gross_d for each in state.eyes["right"].neutral] == [1.0, 2.0]


def test_a_place_put_right_where_another_value_stands_is_asked_about() -> None:
    answers, state = typed(f"{TWO}\nthat was vertical")
    assert answers[-1].reply == (
        "right eye: streak vertical (power along 180) neutral, sphere +2.00, in the place of sphere +1.00?"
    )
    assert len(state.eyes["right"].neutral) == 2

    _, state = typed(f"{TWO}\nthat was vertical\nyes")
    assert [(each.meridian_deg, each.gross_d) for each in state.eyes["right"].neutral] == [(180, 2.0)]
