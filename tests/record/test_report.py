"""The printed page, read back by poppler's own programs: words, places, and the lines of the power crosses."""

import math
import re
import shutil
import subprocess
import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp

from tests.live.test_visit_by_voice import FIRST
from voicelog.exam.events import Remove
from voicelog.optics import SpheroCylinder
from voicelog.record.events import Addendum, Amended, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.export.further import compared, further, remarked
from voicelog.record.export.refractions import refractions
from voicelog.record.export.report import report
from voicelog.record.export.sheet import Sheet
from voicelog.record.heads import head_of
from voicelog.record.journal import Journal

from .cases import LEFT, MORNING, NOON, RIGHT, dictated

pytestmark = pytest.mark.skipif(
    shutil.which("pdftotext") is None,
    reason="poppler is not installed (Debian: apt-get install poppler-utils)",
)
DPI = 100
POINTS_A_MM = 72 / 25.4


def poppler(program: str, pdf: bytes, *options: str) -> bytes:
    return subprocess.run([program, *options], input=pdf, capture_output=True, check=True).stdout


def page(store: ExamStore) -> bytes:
    assert store.record is not None
    return report(store.exam, store.record, "f" * 64)


def words(pdf: bytes) -> str:
    return poppler("pdftotext", pdf, "-layout", "-", "-").decode()


def pages(pdf: bytes) -> int:
    found = re.search(r"Pages:\s+(\d+)", poppler("pdfinfo", pdf, "-").decode())
    assert found is not None
    return int(found[1])


def test_the_page_says_everything_that_a_reader_needs(journal: Journal) -> None:
    store, _ = dictated(journal, reference="4711", at=MORNING)
    number = store.record.next_number  # type: ignore[union-attr]
    results = {"right": store.record.written("right"), "left": store.record.written("left")}  # type: ignore[union-attr]
    store.append(Attested(number=number, at=MORNING + timedelta(hours=1), by="AB", **results))  # type: ignore[arg-type]
    store.append(Addendum(number=number + 1, at=MORNING + timedelta(hours=2), by="CD", text="seen again"))

    text = words(page(store))

    for wanted in (
        *(store.exam, "4711", "2025-11-25 08:15 UTC", "Right eye", "Left eye", RIGHT, LEFT),
        *("working distance 67 cm", "plane mirror", "a bare direction names the streak"),
        *("method: sphere and sphere", "method: sphere and cylinder", "taken off 1.49 D"),
        *("-1.00 @ 120", "-2.50 @ 030", "+0.75 @ 180", "-1.75 @ 090", "±"),
        *(
            "streak 120 (power along 030) neutral, sphere",
            "now right eye: streak 120 (power along 030) neutral, sphere -1.00",
        ),
        *("left eye: scissors reflex", "taken out; 10: scratch that"),
        *(
            "CD, 2025-11-25: seen again",
            "not a prescription",
            "Attested by AB, 2025-11-25 09:15 UTC",
            "f" * 64,
        ),
    ):
        assert wanted in text, wanted
    assert "Still open" not in text


def test_without_attestation_there_is_a_line_to_sign(journal: Journal) -> None:
    store, _ = dictated(journal, ("right eye", "streak 90 neutral at plus one"), at=MORNING)

    text = words(page(store))

    assert "Not attested." in text
    assert "incomplete: no result" in text
    assert "the working distance was not said" in text
    assert "nothing was read" in text
    assert " @ " not in text


def test_a_name_is_told_from_what_it_names(journal: Journal) -> None:
    lines = ("right eye", "acuity six nine", "both eyes acuity six six", "pupillary distance sixty two")
    store, _ = dictated(journal, lines, reference="4711", at=MORNING)

    text = words(page(store))

    assert "reference: 4711" in text
    assert "acuity: 6/9" in text
    assert "acuity: 6/6; pupillary distance, far: 62 mm" in text


def test_contradictions_print_no_result(journal: Journal) -> None:
    lines = (
        "working distance 67",
        "right eye",
        "streak 90 neutral at plus one",
        "streak 180 neutral at plus one",
    )
    store, _ = dictated(journal, (*lines, "streak 90 against at minus two"), at=MORNING)

    text = words(page(store))

    assert "conflict: no result" in text
    assert " @ " not in text


def spokes(image: np.ndarray, x: float, y: float, radius: float) -> list[int]:
    """The directions, 1 to 360 degrees against the clock, in which a bold line runs out from a point."""
    dark = []
    for direction in range(1, 361):
        cosine, sine = math.cos(math.radians(direction)), math.sin(math.radians(direction))
        reach = np.linspace(0.3, 0.85, 40) * radius
        values = image[np.round(y - reach * sine).astype(int), np.round(x + reach * cosine).astype(int)]
        if np.mean(values < 128) > 0.9:
            dark.append(direction)
    return dark


@pytest.mark.parametrize("axis", [180, 90, 1, 30, 45, 60, 97, 120, 135, 150, 179])
def test_the_cross_is_drawn_at_its_true_axes(axis: int) -> None:
    """From the picture: lines run out where a protractor (TABO, against the clock) has the axis and 90 from it."""
    sheet = Sheet("cross", datetime(2025, 11, 25, tzinfo=UTC))
    sheet.cross(SpheroCylinder(1.0, -2.0, float(axis)), 100.0, 100.0, 40.0)
    image = image_of(sheet.pdf())
    scale = DPI / 25.4

    found = spokes(image, 100 * scale, 100 * scale, 40 * scale)

    expected = [(axis + turn - 1) % 360 + 1 for turn in (0, 90, 180, 270)]
    for direction in expected:
        assert any(abs((each - direction + 180) % 360 - 180) <= 1 for each in found), (direction, found)
    for each in found:
        assert any(abs((each - direction + 180) % 360 - 180) <= 1 for direction in expected), (each, expected)


def image_of(pdf: bytes) -> np.ndarray:
    """The page in greys, shape (rows, columns), by poppler's own drawing."""
    raw = poppler("pdftoppm", pdf, "-r", str(DPI), "-gray", "-")
    magic, width, height, _ = raw.split(maxsplit=4)[:4]
    assert magic == b"P5"
    size = int(width) * int(height)
    return np.frombuffer(raw[-size:], np.uint8).reshape(int(height), int(width))


@pytest.mark.parametrize("axis", [180, 90, 30, 60, 120, 150])
def test_each_power_stands_at_its_meridian(axis: int) -> None:
    """+1.00 -2.00: +1.00 along the axis, -1.00 across it; each label lies in its direction from the middle."""
    sheet = Sheet("cross", datetime(2025, 11, 25, tzinfo=UTC))
    sheet.cross(SpheroCylinder(1.0, -2.0, float(axis)), 100.0, 100.0, 40.0)

    labels = labelled(boxes(sheet.pdf()))

    across = (axis + 90 - 1) % 180 + 1
    assert labels == pytest.approx({"+1.00": axis % 180, "-1.00": across % 180}, abs=4)


def boxes(pdf: bytes, number: int = 1) -> list[tuple[str, float, float, float, float]]:
    """Every word of a page with its left, upper, right and lower edge in millimetres."""
    only = ("-f", str(number), "-l", str(number))
    text = poppler("pdftotext", pdf, "-bbox", *only, "-", "-").decode()
    found = re.findall(r'xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>', text)
    return [(each[4], *(float(edge) / POINTS_A_MM for edge in each[:4])) for each in found]


def labelled(found: Sequence[tuple[str, float, float, float, float]]) -> dict[str, float]:
    """Power to the direction in which the middle of its label lies from (100, 100), degrees."""
    directions = {}
    for index, (word, left, top, _, bottom) in enumerate(found):
        if found[index + 1 : index + 2] and found[index + 1][0] == "@":
            right = found[index + 2][3]
            angle = math.degrees(math.atan2(100 - (top + bottom) / 2, (left + right) / 2 - 100))
            directions[word] = (angle + 5) % 180 - 5  # 180 is 0, give or take
    return directions


def crowded(journal: Journal) -> ExamStore:
    """More of everything than a page holds, and texts longer than a line."""
    eye = [f"streak {angle} neutral at plus {angle % 9 + 1}" for angle in range(15, 181, 15)]
    lines = [
        "working distance 67",
        "right eye",
        *eye,
        "scissors",
        "dull reflex",
        "no reflex",
        "left eye",
        *eye,
    ]
    lines += [
        line for angle in range(15, 181, 15) for line in (f"change {angle} to plus two", "reflex unclear")
    ]
    store, _ = dictated(journal, lines, reference="long " * 1000 + "\u202e가", at=MORNING)
    number = store.record.next_number  # type: ignore[union-attr]
    entry = store.record.state.ledger.live[5].id  # type: ignore[union-attr]
    store.append(
        Amended(number=number, at=NOON, by="W" * 20, reason="long " * 5000, changes=(Remove(id=entry),))
    )
    for more in range(12):
        store.append(
            Attested(number=number + 1, at=NOON, by="W" * 20, unresolved=("x",) * 50)
        ) if not more else None
        store.append(Addendum(number=number + 2 + more, at=NOON, by="W" * 20, text="word \x07 " * 2_000))
    return store


LONG_EXAM = tuple(FIRST) + tuple(
    f"{eye} eye streak {angle} {seen} with sphere plus {power}"
    for eye, power in (("right", 3), ("left", 4))
    for angle in (90, 180)
    for seen in ("with", "against", "with", "against", "neutral")
)


def test_it_stays_two_pages_whatever_an_exam_holds(journal: Journal) -> None:
    """Nothing runs over the edges or into the foot, which is always there; what is left out is counted."""
    pdf = page(crowded(journal))
    found, overleaf = boxes(pdf, 1), boxes(pdf, 2)

    assert pages(pdf) == 2
    assert min(left for _, left, _, _, _ in overleaf) > 10
    assert max(right for _, _, _, right, _ in overleaf) < 200
    assert max(bottom for *_, bottom in overleaf) < 290
    assert min(left for _, left, _, _, _ in found) > 10
    assert max(right for _, _, _, right, _ in found) < 200
    assert max(bottom for *_, bottom in found) < 290
    foot = next(top for word, _, top, _, _ in found if word == "An")
    body = [bottom for word, _, _, _, bottom in found if bottom < foot + 1 and word != "An"]
    assert max(body) < foot
    text = words(pdf)
    assert "more overleaf" in text
    assert "more in the other exports" in text
    assert "Attested by WWWW" in text
    assert all(character.isprintable() or character in "\n\f" for character in text)


def test_all_of_a_long_exam_stands_on_two_pages(journal: Journal) -> None:
    """Every finding, comparison and remark, in words that no page cuts short."""
    store, _ = dictated(journal, LONG_EXAM, reference="4711", at=MORNING)
    record = store.record
    assert record is not None
    pdf = page(store)

    told = "".join(poppler("pdftotext", pdf, "-raw", "-", "-").decode().split())

    assert pages(pdf) == 2
    assert "moreoverleaf" in told
    assert "moreintheotherexports" not in told
    texts = [each.text for each in further(record)]
    texts += [each.text for each in compared(record)] + [each.text for each in remarked(record)]
    texts += [each for found in refractions(record) for each in found.problems]
    assert len(texts) > 40
    assert [text for text in texts if "".join(text.split()) not in told] == []
    readings = [each for found in refractions(record) for each in found.readings]
    assert told.count("wet") >= len(readings) == 26


def test_columns_do_not_run_into_each_other(journal: Journal) -> None:
    found = boxes(page(crowded(journal)))
    top = next(top for word, _, top, _, _ in found if word == "Left")
    foot = next(top for word, _, top, _, _ in found if word == "Still" or word == "Corrections")

    for word, left, upper, right, _ in found:
        if top <= upper < foot and left < 105:
            assert right <= 104.5, word


def test_the_same_exam_prints_the_same_page(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)

    assert page(store) == page(store)


NAMES = (
    *("Łukasz Dvořák-Şahin", "Nguyễn Thị Hằng", "Ελένη Παπαδοπούλου", "Наталья Їжакевич", "Անի Հակոբյան"),
    *("ნინო ბერიძე", "王小明", "山田さくら", "김민수", "שרה לוי", "مريم حسن"),
)


BY_DEFAULT = ("Łukasz Dvořák-Şahin", "王小明", "שרה לוי", "مريم حسن")
"""Marks on letters, a large font, and the two scripts that run from right to left."""


@pytest.mark.parametrize(
    "name", [name if name in BY_DEFAULT else pytest.param(name, marks=pytest.mark.sweep) for name in NAMES]
)
def test_names_of_many_scripts_are_read_back_from_the_page(journal: Journal, name: str) -> None:
    """By poppler, which orders what is written from right to left as it is read, and marks it so."""
    store, _ = dictated(journal, reference=name, at=MORNING)
    number = store.record.next_number  # type: ignore[union-attr]
    store.append(Addendum(number=number, at=NOON, by="CD", text=f"{name} seen again"))
    pdf = page(store)

    text = unmarked(words(pdf))
    fonts = poppler("pdffonts", pdf, "-").decode()

    assert text.count(name) == 2
    assert "u{" not in text
    assert RIGHT in text
    assert re.search(r"(DejaVu|Droid)\S*.* yes yes yes", fonts)
    assert len(pdf) < 150_000
    assert pages(pdf) == 1
    assert max(right for _, _, _, right, _ in boxes(pdf)) < 200
    assert page(store) == pdf


def unmarked(text: str) -> str:
    """A text as poppler gives it, without its marks of direction, and composed letters as one."""
    plain = "".join(each for each in text if unicodedata.category(each) != "Cf")
    return unicodedata.normalize("NFKC", plain)


def test_letters_that_no_font_has_are_written_as_numbers(journal: Journal) -> None:
    """Thai and Devanagari stand for all of them; nothing is left out."""
    store, _ = dictated(journal, reference="ก เ ह Ł", at=MORNING)

    assert r"\u{e01} \u{e40} \u{939} Ł" in words(page(store))


def test_wide_letters_stay_in_their_place(journal: Journal) -> None:
    """On the same line as the plain ones, and cut where the room ends."""
    sheet = Sheet("wide", MORNING)
    end = sheet.words("plain ", 9, "", 20.0)
    sheet.words("Łódź", 9, "S", end)
    sheet.down(10)
    sheet.words("Щ" * 1000, 9, "B", 20.0, 60.0)
    found = {word: (left, bottom) for word, left, _, _, bottom in boxes(sheet.pdf())}
    rights = [right for _, _, _, right, _ in boxes(sheet.pdf())]

    assert found["Łódź"][0] == pytest.approx(end, abs=0.5)
    assert found["Łódź"][1] == pytest.approx(found["plain"][1], abs=0.7)
    assert 70 < max(rights) < 80.5


def test_the_head_of_the_record_stands_on_the_page_as_text_and_code(journal: Journal, tmp_path: Path) -> None:
    """The code is read by another library, zxing-cpp, from the page as it would be printed at 200 dots an inch."""
    store, _ = dictated(journal, reference="x " * 300)
    pdf = exported(journal, store.exam, FORMATS["report"])
    head = journal.head()

    printed = poppler("pdftotext", pdf, "-layout", "-l", "1", "-", "-").decode()
    (tmp_path / "page.pdf").write_bytes(pdf)
    poppler(
        "pdftoppm", b"", "-r", "200", "-l", "1", "-gray", str(tmp_path / "page.pdf"), str(tmp_path / "page")
    )
    (pgm,) = tmp_path.glob("*.pgm")
    found = zxingcpp.read_barcodes(pixels(pgm.read_bytes()))

    assert head is not None
    assert head_of(printed[printed.index("voicelog-head-1") :]) == head
    assert [code.text for code in found] == [str(head)]


def pixels(pgm: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """A grey picture as pdftoppm writes it: P5, width and height, the largest value, then the bytes."""
    kind, width, height, most, rest = pgm.split(maxsplit=4)
    assert (kind, most) == (b"P5", b"255")
    return np.frombuffer(rest[-int(width) * int(height) :], np.uint8).reshape(int(height), int(width))


def test_it_is_an_archive_file(journal: Journal) -> None:
    """PDF/A-1b says so of itself, embeds every font and has the colours of its device described (ISO 19005-1)."""
    store, _ = dictated(journal, reference="Łukasz & 王小明", at=MORNING)
    pdf = page(store)

    packet = ElementTree.fromstring(poppler("pdfinfo", pdf, "-meta", "-").decode())

    said = {each.tag.rpartition("}")[2]: (each.text or "").strip() for each in packet.iter()}
    assert (said["part"], said["conformance"]) == ("1", "B")
    assert said["li"] == f"Retinoscopy {store.exam}"
    assert said["CreateDate"].startswith("2025-11-25T")
    fonts = poppler("pdffonts", pdf, "-").decode().splitlines()[2:]
    assert len(fonts) >= 3
    assert all(re.search(r" yes yes yes ", each) for each in fonts)
    assert b"/OutputIntents" in pdf


JARS = [
    Path("/usr/share/java", f"{each}.jar")
    for each in (
        "preflight",
        "pdfbox2",
        "fontbox2",
        "xmpbox",
        "commons-logging",
        "javax.activation",
        "jaxb-api",
    )
]


@pytest.mark.sweep
@pytest.mark.skipif(
    shutil.which("javac") is None or not all(each.exists() for each in JARS),
    reason="needs PDFBox's validator (Debian: default-jdk libpdfbox2-java libactivation-java libjaxb-api-java)",
)
@pytest.mark.parametrize("kind", ["usual", "empty", "crowded", "many scripts"])
def test_another_validator_finds_nothing_against_pdf_a(journal: Journal, tmp_path: Path, kind: str) -> None:
    """Preflight of Apache PDFBox holds a file against the rules of PDF/A-1b."""
    lines = ("right eye",) if kind == "empty" else ("right eye", "streak 90 neutral at plus one", "scissors")
    reference = " ".join(NAMES) if kind == "many scripts" else "4711"
    store = (
        crowded(journal)
        if kind == "crowded"
        else dictated(journal, lines, reference=reference, at=MORNING)[0]
    )
    (tmp_path / "page.pdf").write_bytes(page(store))
    places = ("-cp", ":".join(map(str, JARS)), str(Path(__file__).parent / "data" / "Preflight.java"))

    answer = subprocess.run(
        ["java", *places, str(tmp_path / "page.pdf")], capture_output=True, text=True, check=True
    )

    assert answer.stdout.split() == ["valid"], answer.stdout
