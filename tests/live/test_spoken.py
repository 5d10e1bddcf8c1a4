"""What is read back can be said back: the grammar, which does not know this code, understands it as the same value."""

import pytest

from tests.english import load
from voicelog.live import spoken
from voicelog.optics import written_axis
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader


@pytest.fixture(scope="module", name="powers")
def _powers() -> LineReader:
    return LineReader(load(), "power", Layer.SAID)


def test_every_quarter_dioptre_is_understood_as_itself(powers: LineReader) -> None:
    for quarters in range(-120, 121):
        said = spoken.power(quarters / 4).split(",")[0]
        ((meaning,),) = powers.understand(said).readings
        assert isinstance(meaning, say.LoosePower)
        assert meaning.power.dioptres == quarters / 4, said


def test_every_axis_is_understood_as_itself_and_so_are_its_digits() -> None:
    axes = LineReader(load(), "axis", Layer.SAID)
    for axis_deg in range(1, 181):
        for said in spoken.spoken(written_axis(axis_deg)).split(", "):
            ((meaning,),) = axes.understand(said).readings
            assert isinstance(meaning, say.LooseAxis)
            assert meaning.axis_deg == axis_deg, said


@pytest.mark.parametrize(
    ("text", "heard"),
    [
        ("+3.00", "plus three"),
        ("-0.25", "minus point two five"),
        ("plano", "plano"),
        ("axis 015", "axis fifteen, one five"),
        ("axis 050", "axis fifty, five zero"),
        ("axis 115", "axis one hundred and fifteen, one one five"),
        ("axis 020", "axis twenty"),
        ("axis 112", "axis one hundred and twelve"),
        ("+13.00", "plus thirteen point zero, one three point zero"),
        (
            "right eye: +0.75 -1.25 x 035",
            "right eye: plus point seven five minus one point two five axis thirty five",
        ),
        ("streak vertical (090) neutral", "streak vertical neutral"),
        ("working distance 67 cm", "working distance sixty seven centimetres"),
    ],
)
def test_lines_of_the_log_as_spoken(text: str, heard: str) -> None:
    assert spoken.spoken(text) == heard


@pytest.mark.parametrize(
    "line",
    [
        "acuity unaided six nine minus two",
        "acuity left eye aided twenty twenty five",
        "acuity both eyes refined point eight",
        "acuity log mar minus point one",
        "acuity counting fingers",
        "refined right eye sphere minus two and a quarter",
        "spectacles sphere plus two cylinder minus one axis eighty five addition plus one fifty",
        "addition both eyes plus two",
        "pupils distance far sixty three",
        "pupils distance near right twenty nine point five left thirty one",
        "pupil size four",
        "vertex distance twelve",
        "drops tropicamide one percent both eyes at nine oh five",
        "drops cyclopentolate point five percent left eye at ten twenty five",
        "next pass",
    ],
)
def test_findings_are_read_back_as_they_can_be_said(line: str) -> None:
    reader = LineReader(load(), "entry", Layer.SAID, Layer.WRITTEN)
    ((meaning,),) = reader.understand(line).readings
    said = spoken.full(meaning, "right")

    assert not any(char.isdigit() or char in "%/:" for char in said)
    assert reader.understand(said).readings == ((meaning,),), said
