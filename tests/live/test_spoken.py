"""What is read back can be said back: the grammar, which does not know this code, understands it as the same value."""

import pytest

from tests.english import load
from voicelog.live import spoken
from voicelog.optics import written_axis
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.session import Session


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
        ("right eye: streak vertical (power along 180) neutral", "right eye: streak vertical neutral"),
        ("meridian 035 (streak 125) with", "meridian thirty five with"),
        ("-2.25 DS", "minus two point two five sphere"),
        ("at most 0.35 D apart", "at most point three five dioptres apart"),
        ("working distance 67 cm", "working distance sixty seven centimetres"),
    ],
)
def test_lines_of_the_log_as_spoken(text: str, heard: str) -> None:
    assert spoken.spoken(text) == heard


@pytest.mark.parametrize(
    ("line", "heard"),
    [
        ("acuity unaided six nine minus two", "right eye: acuity unaided six nine minus two"),
        (
            "acuity left eye aided twenty twenty five",
            "left eye: acuity with spectacles worn twenty twenty five",
        ),
        ("acuity both eyes refined point eight", "both eyes: acuity best corrected point eight"),
        ("acuity log mar minus point one", "right eye: acuity logMAR minus point one"),
        ("acuity counting fingers", "right eye: acuity counting fingers"),
        (
            "refined right eye sphere minus two and a quarter",
            "right eye: subjective minus two point two five sphere",
        ),
        (
            "spectacles sphere plus two cylinder minus one axis eighty five addition plus one fifty",
            "right eye: spectacles worn plus two minus one axis eighty five, addition plus one point five",
        ),
        ("addition both eyes plus two", "both eyes: near addition plus two"),
        ("pupils distance far sixty three", "both eyes: pupillary distance, far, sixty three millimetres"),
        ("vertex distance twelve", "back vertex distance twelve millimetres"),
        (
            "drops tropicamide one percent both eyes at nine oh five",
            "both eyes: drops tropicamide one percent, at nine oh five; readings from here on are wet",
        ),
        (
            "drops cyclopentolate point five percent left eye at ten twenty five",
            "left eye: drops cyclopentolate point five percent, at ten twenty five; readings from here on are wet",
        ),
    ],
)
def test_findings_are_read_back_in_words(line: str, heard: str) -> None:
    session = Session()
    session.type_line("right eye")
    entries = session.type_line(line).entries

    assert [spoken.whole_entry(entry) for entry in entries] == [heard]
    assert [spoken.value(entry) for entry in entries] == [heard]


@pytest.mark.parametrize(
    ("lines", "value"),
    [
        (("streak 90 neutral at +2.25",), "plus two point two five"),
        (("sphere +2", "streak 90 with"), "with"),
        (("sphere +2", "streak 90 neutral"), "neutral"),
        (("streak 90 against at -1",), "against, minus one"),
        (("sphere +2", "streak 35 neutral with cylinder -1 axis 35"), "cylinder minus one axis thirty five"),
        (("sphere +2 cylinder -1 axis 35",), "sphere plus two, cylinder minus one axis thirty five"),
        (("cylinder -1 axis 35", "sphere +3"), "plus three"),
        (("sphere +2", "lenses out"), "no lens"),
        (("working distance 50",), "fifty, five zero"),
        (("left eye",), "left"),
    ],
)
def test_the_value_of_an_entry_names_what_it_brought_and_not_what_stayed(
    lines: tuple[str, ...], value: str
) -> None:
    session = Session()
    session.type_line("right eye")
    entered = [session.type_line(line) for line in lines][-1]

    assert [spoken.value(entry) for entry in entered.entries] == [value]
