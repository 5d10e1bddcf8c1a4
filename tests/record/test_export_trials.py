"""Trials: a kind of finding that exports have never seen comes out of all of them; a further format is one module."""

import csv
import io
import json
import re
import shutil
from typing import Any, ClassVar, Literal, get_args

import pytest

from voicelog.exam.entries import BaseFinding, ReadingEntry, Unit
from voicelog.exam.entries.base import Quantity
from voicelog.exam.events import Line
from voicelog.phrases import meanings as say
from voicelog.record.exam_store import ExamStore
from voicelog.record.export import exam_file, fhir, fhir_codes, formats, table
from voicelog.record.export.formats import FORMATS, Format, exported
from voicelog.record.export.kept import Kept
from voicelog.record.export.report import report
from voicelog.record.journal import Journal

from .cases import MORNING, dictated, with_findings
from .test_export_data import valid
from .test_report import words


class PressureEntry(BaseFinding):
    """Pressure within one eye: a kind that the program does not have; its unit is one of those it has."""

    said: ClassVar = say.Vertex
    title: ClassVar = "eye pressure, trial"
    code: ClassVar = "trial-pressure"

    kind: Literal["trial_pressure"] = "trial_pressure"
    eye: say.OneEye
    height_mm: float

    def value_words(self) -> str:
        return f"{self.height_mm:g} mm of mercury"

    def quantities(self) -> tuple[Quantity, ...]:
        return (Quantity("column-height", self.height_mm, "mm"),)


NEW = PressureEntry(eye="left", height_mm=16.5)


@pytest.fixture(name="store")
def _store(journal: Journal) -> ExamStore:
    return dictated(journal, at=MORNING)[0]


def test_a_new_kind_of_finding_is_in_fhir(store: ExamStore) -> None:
    assert store.record is not None
    resources = valid(fhir.bundle(store.exam, with_findings(store.record, NEW)))

    (found,) = [each for each in resources if each.code.coding[0].code == "trial-pressure"]
    assert found.valueString == "16.5 mm of mercury"
    assert found.code.text == "Eye pressure, trial"
    assert found.bodySite.coding[0].code == "left"
    (part,) = found.component
    assert (float(part.valueQuantity.value), part.valueQuantity.code) == (16.5, "mm")
    assert (part.code.coding[0].code, part.code.text) == ("column-height", "Column height")


def test_a_new_kind_of_finding_is_in_the_table(store: ExamStore) -> None:
    assert store.record is not None
    text = table.table(store.exam, with_findings(store.record, NEW))

    right, left = csv.DictReader(io.StringIO(text, newline=""))
    assert "eye pressure, trial, left eye: 16.5 mm of mercury (column-height 16.5 mm)" in left["findings"]
    assert "pressure" not in right["findings"]


def test_a_new_kind_of_finding_is_in_the_file(store: ExamStore, journal: Journal) -> None:
    assert store.record is not None
    data = json.loads(exam_file.written(journal.rows(store.exam), with_findings(store.record, NEW)))

    (found,) = [each for each in data["findings"] if each["code"] == "trial-pressure"]
    (entry,) = [each for each in data["entries"] if each["code"] == "trial-pressure"]
    wanted = [{"part": "column-height", "value": 16.5, "unit": "mm"}]
    assert found["quantities"] == entry["quantities"] == wanted
    assert entry["entry"] == {"kind": "trial_pressure", "eye": "left", "height_mm": 16.5}


@pytest.mark.skipif(
    shutil.which("pdftotext") is None,
    reason="poppler is not installed (Debian: apt-get install poppler-utils)",
)
def test_a_new_kind_of_finding_is_on_the_page(store: ExamStore) -> None:
    assert store.record is not None
    text = words(report(store.exam, with_findings(store.record, NEW), "f" * 64))

    assert re.search(r"eye pressure, trial:\s+16.5 mm of mercury", text)


# --- everything that was entered is in every export

EXAM = (
    "working distance 67",
    "right eye",
    "streak 90 with at plus one",
    "streak 90 neutral with sphere plus two",
    "streak 180 neutral with cylinder minus one axis 180",
    "mirror concave",
    "streak 45 against at plus one",
    "drops tropicamide one percent both eyes",
    "working lens in",
    "streak 90 neutral at plus one",
    "streak 180 neutral at plus one",
    "left eye",
    "streak 10 neutral at minus half",
    "acuity unaided 6/18",
    "refined sphere minus one",
    "addition plus two",
)


@pytest.fixture(name="whole")
def _whole(journal: Journal) -> ExamStore:
    store, session = dictated(journal, EXAM, at=MORNING)
    lines = (event for event in session.state.events if isinstance(event, Line))
    assert [(line.text, line.reply) for line in lines if line.outcome != "accepted"] == []
    return store


def test_every_reading_and_finding_is_in_every_export(whole: ExamStore, journal: Journal) -> None:
    assert whole.record is not None
    entries = [row.entry for row in whole.record.state.ledger.live]
    of_file = json.loads(exported(journal, whole.exam, FORMATS["json"]))["entries"]
    of_bundle = fhir.bundle(whole.exam, whole.record)["entry"]
    rows = list(csv.DictReader(io.StringIO(table.table(whole.exam, whole.record), newline="")))

    assert [each["entry"] for each in of_file] == [json.loads(json.dumps(each.as_json())) for each in entries]
    for entry in entries:
        numbers = {(each.part, each.value, each.unit) for each in entry.quantities()}
        if isinstance(entry, ReadingEntry):
            assert any(numbers == numbers_of(each) and says(each, entry) for each in of_bundle), entry.words()
            assert any(in_table(entry, row) for row in rows), entry.words()
        elif isinstance(entry, BaseFinding):
            assert any(numbers == numbers_of(each) for each in of_bundle), entry.words()
            cells = [
                row["findings"] for row in rows if row["eye"] == entry.about or entry.about in (None, "both")
            ]
            assert cells
            assert all(entry.value_words() in cell for cell in cells), entry.words()


def numbers_of(resource: dict[str, Any]) -> set[tuple[str, float, str]]:
    parts = [each for each in resource["resource"].get("component", ()) if "valueQuantity" in each]
    return {
        (each["code"]["coding"][0]["code"], each["valueQuantity"]["value"], each["valueQuantity"]["code"])
        for each in parts
    }


def says(resource: dict[str, Any], entry: ReadingEntry) -> bool:
    text = resource["resource"].get("valueString", "")
    taken_with = (entry.motion, f"{entry.mirror} mirror", entry.condition, f"pass {entry.pass_number}")
    return all(each in text for each in (*taken_with, entry.allowance.words(), entry.lenses.words()))


def in_table(entry: ReadingEntry, row: dict[str, str]) -> bool:
    text = (
        f"{entry.meridian_deg}:{entry.gross_d:+.2f} {entry.motion}, {entry.lenses.words()}, "
        f"{entry.allowance.words()}, {entry.mirror} mirror, pass {entry.pass_number}"
    )
    return (row["eye"], row["condition"]) == (entry.eye, entry.condition) and text in row["readings"]


def test_dry_and_wet_are_results_of_their_own(journal: Journal) -> None:
    lines = (
        *("working distance 50", "right eye", "streak 90 neutral at plus 3", "streak 180 neutral at plus 3"),
        "drops cyclopentolate one percent both eyes",
        *("streak 90 neutral at plus 6", "streak 180 neutral at plus 6"),
    )
    store, _ = dictated(journal, lines, at=MORNING)
    assert store.record is not None
    rows = list(csv.DictReader(io.StringIO(table.table(store.exam, store.record), newline="")))
    right = [(each["condition"], each["sphere_d"]) for each in rows if each["method"] == "retinoscopy"]
    resources = valid(fhir.bundle(store.exam, store.record))
    spheres = [
        float(part.valueQuantity.value)
        for each in resources
        if each.code.coding[0].code == "retinoscopy"
        for part in each.component
        if part.code.coding[0].code == "sphere"
    ]

    assert right == [("dry", "1"), ("wet", "4")]
    assert spheres == [1.0, 4.0]
    assert journal.overviews()[0].right_result == "+1.00 DS (dry); +4.00 DS (wet)"
    assert [str(each.written) for each in store.record.results] == ["+1.00 DS", "+4.00 DS"]


# --- a further format


def lines_of_words(kept: Kept) -> bytes:
    """All that a module of a new format has to have."""
    rows = kept.record.state.ledger.live
    return "".join(f"{row.id}\t{row.entry.words()}\n" for row in rows).encode()


def test_a_new_format_is_a_function_and_a_row(
    store: ExamStore, journal: Journal, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    new = Format("words", "Words", "txt", "text/plain", lines_of_words)
    monkeypatch.setattr(formats, "FORMATS", {**FORMATS, "words": new})

    text = exported(journal, store.exam, formats.FORMATS["words"]).decode()

    assert "3\tright eye: streak 120 (power along 030) neutral, sphere -1.00\n" in text


def test_every_unit_that_entries_have_is_known_to_fhir() -> None:
    assert set(get_args(Unit)) <= set(fhir_codes.UNITS)
