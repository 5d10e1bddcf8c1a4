"""The result at another back vertex distance is told and changes nothing; checked against printed values."""

import pytest

from tests.exam.typing import Typist
from tests.published.test_published_vertex import AT_12_MM
from voicelog.exam.entries import VertexEntry

HEAD = "right eye\nworking distance 50\nvertex 12"
TORIC = f"{HEAD}\nstreak 90 neutral plus 13\nstreak 180 neutral plus 15"
ASKED = [
    "result at vertex 14",
    "the result at vertex 14 please",
    "what's the result at vertex fourteen",
    "what is the result at 14 mm",
    "at vertex fourteen what is it",
    "what would it be at vertex 14",
    "net at a vertex distance of 14 mm",
    "rx at bvd 14",
    "prescription at a back vertex distance of fourteen millimetres",
    "convert it to vertex 14",
]


def typed(lines: str) -> Typist:
    typist = Typist()
    for line in lines.splitlines():
        assert typist.type(line).outcome == "accepted", line
    return typist


@pytest.mark.parametrize("line", ASKED)
def test_a_vertex_distance_that_is_asked_about_is_not_entered(line: str) -> None:
    """It once took the place of the one that was noted."""
    typist = typed(TORIC)

    told = typist.type(line)

    # +13.00 -2.00 x 090 in the trial lens: 13/(1 + 0.002 x 13) and 11/(1 + 0.002 x 11), by F/(1 - dF).
    assert told.reply == (
        "right eye: +12.67 -1.91 x 090 at 14 mm, from +13.00 -2.00 x 090 at 12 mm; left eye: no result"
    )
    assert told.acts == ()
    assert typist.state.findings.last(VertexEntry) == VertexEntry(vertex_mm=12)


@pytest.mark.parametrize(
    "line",
    [
        "result now at vertex 14",
        "the result if vertex is 14",
        "result with vertex 14",
        "and the result for vertex 14",
        "work out the result at vertex 14",
        "so what is the power at vertex 14",
        "tell me the refraction at vertex distance fourteen",
    ],
)
def test_no_wording_of_that_question_changes_what_was_noted(line: str) -> None:
    typist = typed(TORIC)

    typist.type(line)

    assert typist.state.findings.last(VertexEntry) == VertexEntry(vertex_mm=12)


@pytest.mark.parametrize(("spectacle_d", "printed"), AT_12_MM.items())
def test_the_result_at_the_cornea_as_printed(spectacle_d: float, printed: tuple[float, float]) -> None:
    """The tables of tests/published; +2.00 is what 50 cm takes off."""
    typist = typed(f"{HEAD}\nneutral all round {spectacle_d + 2:+.2f}")

    assert typist.type("result at the cornea for the right eye").reply.startswith(
        f"right eye: {printed[0]:+.2f} at the cornea, from"
    )


def test_a_toric_result_at_the_cornea_as_printed() -> None:
    """optometry.fans, "Vertex distance", October 2020: +13.00 at 12 mm is +15.40; each meridian moves by itself."""
    assert typed(TORIC).type("power at the cornea").reply.startswith("right eye: +15.40 -2.73 x 090")


@pytest.mark.parametrize(
    ("lines", "reply"),
    [
        (
            "right eye\nworking distance 50\nneutral all round plus 4",
            "the back vertex distance of the trial lens was not said: nothing can be worked out from it",
        ),
        (HEAD, "right eye: no result; left eye: no result"),
    ],
)
def test_what_cannot_be_worked_out_is_said(lines: str, reply: str) -> None:
    assert typed(lines).type("result at vertex 14").reply == reply


def test_a_distance_that_no_frame_has_is_not_worked_out() -> None:
    assert typed(TORIC).type("result at vertex 40").reply == "40 mm is no back vertex distance (5 to 25 mm)"
