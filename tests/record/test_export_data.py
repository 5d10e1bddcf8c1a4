"""The exports for programs: FHIR by a general library's models, JSON by its own schema, CSV inert in spreadsheets."""

import csv
import hashlib
import html
import io
import json
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fhir.resources.R4B import get_fhir_model_class
from fhir.resources.R4B.bundle import Bundle
from fhir.resources.R4B.visionprescription import VisionPrescriptionLensSpecification
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from pydantic.fields import FieldInfo

from voicelog.exam.entries import (
    AdditionEntry,
    AutorefractionEntry,
    BaseFinding,
    SpectaclesEntry,
    SubjectiveEntry,
)
from voicelog.optics import SpheroCylinder
from voicelog.record.chain import canonical, link
from voicelog.record.errors import RecordError
from voicelog.record.events import Addendum, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file, fhir, table
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import further
from voicelog.record.export.old_exam_file import OldExamFile
from voicelog.record.export.refractions import refractions
from voicelog.record.journal import Journal

from .cases import LEFT, MORNING, RIGHT, dictated, with_findings

DATA = Path(__file__).parent / "data"
HOSTILE = "../x \"q\" 'r' \u202egnp.exe \x00\x1b[31m \ud800 가"
# SNOMED CT codes that HL7's eye-care guides show (domain notes, section 3.4, sources S77 and S78 there).
SHOWN_CODES = {"251794006", "251795007", "251797004", "251799001"}
# HL7's value set EyecareTargetSiteCodes (Specialty Eyecare CDA Implementation Guide, build 0.1.0 of 2024-02-07).
SITES = {"right": "362502000", "left": "362503005", "both": "362508001"}
# The published schemas of versions 1 and 2, as they were when they were replaced; they never change any more.
SCHEMA_V1_SHA256 = "b819efaa4466b2b1b9ed1fe0986ddb29de39f4b7088f77f612039eccabd242ac"

SCHEMA_V2_SHA256 = "a806221b3e13747f332b7139b21153428ceb4c399d5793e3442ea89e967964bb"


@pytest.fixture(name="store")
def _store(journal: Journal) -> ExamStore:
    return dictated(journal, reference=HOSTILE, at=MORNING)[0]


def attested(store: ExamStore) -> ExamRecord:
    number = store.record.next_number  # type: ignore[union-attr]
    at = MORNING + timedelta(hours=1)
    store.append(Attested(number=number, at=at, by="AB"))
    store.append(Addendum(number=number + 1, at=at, by="CD", text="seen again " + "x" * 20_000))
    assert store.record is not None
    return store.record


def bundled(store: ExamStore, *more: BaseFinding) -> dict[str, Any]:
    assert store.record is not None
    return fhir.bundle(store.exam, with_findings(store.record, *more))


def of_code(resources: list[Any], code: str) -> list[Any]:
    """The observations of one code."""
    observations = [each for each in resources if type(each).__name__ == "Observation"]
    return [each for each in observations if each.code.coding[0].code == code]


def valid(data: dict[str, Any]) -> list[Any]:
    """The resources of a bundle, after the library has taken its JSON.

    R4B's models: the library has none of R4 any more, and R4B left these resources as they were in R4.
    """
    bundle = Bundle.model_validate_json(json.dumps(data))
    return [
        get_fhir_model_class(each["resource"]["resourceType"]).model_validate(each["resource"])
        for each in data["entry"]
        if bundle.entry
    ]


def components(resource: Any) -> dict[str, Any]:
    """The numbers of an observation by their codes."""
    numbers = [each for each in resource.component or () if each.valueQuantity is not None]
    return {each.code.coding[0].code: each.valueQuantity for each in numbers}


def coded(resource: Any) -> dict[str, str]:
    """The coded components of an observation by their codes."""
    found = [each for each in resource.component or () if each.valueCodeableConcept is not None]
    return {each.code.coding[0].code: each.valueCodeableConcept.coding[0].code for each in found}


def test_fhir_is_valid_and_says_what_was_found(store: ExamStore) -> None:
    right, left = of_code(valid(bundled(store)), "retinoscopy")

    for resource, eye, result in ((right, "right", RIGHT), (left, "left", LEFT)):
        assert type(resource).__name__ == "Observation"
        assert resource.status == "preliminary"
        assert resource.bodySite.coding[0].code == eye
        found = components(resource)
        lens = SpheroCylinder(*(float(found[name].value) for name in ("sphere", "cylinder", "axis")))
        assert str(lens) == result
        assert {(each.system, each.code) for each in found.values()} == {
            ("http://unitsofmeasure.org", code) for code in ("[diop]", "deg", "cm")
        }
        assert float(found["allowance"].value) == pytest.approx(1 / 0.67, abs=5e-4)
        assert float(found["working-distance"].value) == 67
    assert coded(right) == {
        "purpose": "objective-finding",
        "condition": "dry",
        "technique": "sphere-and-sphere",
    }
    assert coded(left)["technique"] == "sphere-and-cylinder"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda resource: resource.pop("status"),
        lambda resource: resource.pop("code"),
        lambda resource: resource.update(effectiveDateTime="yesterday"),
        lambda resource: resource.update(eyes="two"),
        lambda resource: resource["component"][-1]["valueQuantity"].update(value="two"),
    ],
    ids=["no status", "no code", "no date", "unknown field", "no number"],
)
def test_the_library_does_refuse_what_is_wrong(store: ExamStore, spoil: Callable[[Any], None]) -> None:
    """Or the test before would say nothing."""
    data = bundled(store)
    spoil(data["entry"][1]["resource"])

    with pytest.raises(ValidationError):
        valid(data)


def test_only_codes_that_guides_show_are_used(store: ExamStore) -> None:
    text = json.dumps(bundled(store))
    codings = [each for each in walked(json.loads(text)) if "system" in each and "code" in each]
    public = {each["code"] for each in codings if each["system"] == "http://snomed.info/sct"}

    assert public == SHOWN_CODES | {SITES["right"], SITES["left"]}
    assert "loinc" not in text.lower()
    systems = {each["system"] for each in codings} - {"http://snomed.info/sct", "http://unitsofmeasure.org"}
    assert {name for name in systems if not name.startswith("urn:voicelog:")} == {
        "http://terminology.hl7.org/CodeSystem/observation-category"
    }


def walked(data: Any) -> list[dict[str, Any]]:
    if isinstance(data, list):
        return [found for each in data for found in walked(each)]
    if isinstance(data, dict):
        return [data, *(found for each in data.values() for found in walked(each))]
    return []


def test_a_finding_alone_is_never_a_prescription(store: ExamStore) -> None:
    attested(store)
    resources = valid(bundled(store))

    assert {type(each).__name__ for each in resources} == {"Observation", "DiagnosticReport"}
    assert {each.performer[0].display for each in resources} == {"AB"}
    notes = [note for each in resources[1:] for note in each.note or ()]
    assert any("not a prescription" in note.text for note in notes)
    (added, _) = [note for note in notes if note.authorString == "CD"]
    assert len(added.text) < 11_000


LENSES = st.builds(
    lambda sphere, cylinder, axis: SpheroCylinder(sphere / 4, cylinder / 4, float(axis)),
    st.integers(-80, 80),
    st.integers(-24, 24),
    st.integers(1, 180),
)


@settings(max_examples=40, deadline=None)
@given(right=LENSES, left=LENSES)
def test_an_attested_subjective_result_makes_a_draft(right: SpheroCylinder, left: SpheroCylinder) -> None:
    """Of any lens: axis an integer of 1 to 180, steps of 0.25 (both as FHIR prints them), cylinder and axis or neither."""
    record = with_findings(fold_of_sample(), subjective("right", right), subjective("left", left))

    resources = valid(fhir.bundle("20251125-sample01", record))

    assert len(of_code(resources, "refined-refraction")) == 2
    assert [type(each).__name__ for each in resources].count("VisionPrescription") == 1
    prescription = resources[-1]
    assert prescription.status == "draft"
    assert prescription.prescriber.display == "AB"
    for lens, wanted in zip(prescription.lensSpecification, (right, left), strict=True):
        assert float(lens.sphere) == wanted.sphere_d
        assert float(lens.sphere) % 0.25 == 0
        if wanted.cylinder_d:
            assert (float(lens.cylinder), lens.axis) == (wanted.cylinder_d, wanted.axis_deg)
            assert isinstance(lens.axis, int)
            assert 1 <= lens.axis <= 180
        else:
            assert (lens.cylinder, lens.axis) == (None, None)


def subjective(eye: str, lens: SpheroCylinder) -> SubjectiveEntry:
    """The subjective result of one eye."""
    cylinder = {"power_d": lens.cylinder_d, "axis_deg": lens.axis_deg} if lens.cylinder_d else None
    return SubjectiveEntry.model_validate({"eye": eye, "sphere_d": lens.sphere_d, "cylinder": cylinder})


def test_without_attestation_a_subjective_result_is_no_draft(store: ExamStore) -> None:
    resources = valid(bundled(store, subjective("right", SpheroCylinder(-1.0))))

    assert {type(each).__name__ for each in resources} == {"Observation", "DiagnosticReport"}


def listed(field: FieldInfo) -> tuple[Any, ...]:
    """The codes that the library lists for a field."""
    more = field.json_schema_extra
    values = more.get("enum_values") if isinstance(more, dict) else None
    return tuple(values) if isinstance(values, list) else ()


def test_codes_with_published_value_sets_are_in_them(store: ExamStore) -> None:
    """The required ones as the library lists them; category and data-absent-reason from FHIR's code systems."""
    attested(store)
    resources = valid(bundled(store, subjective("right", SpheroCylinder(-1.0))))

    for resource in resources:
        for name, field in type(resource).model_fields.items():
            allowed = listed(field)
            value = getattr(resource, name)
            if allowed and isinstance(value, str):
                assert value in allowed
    eyes = listed(VisionPrescriptionLensSpecification.model_fields["eye"])
    assert resources[-1].lensSpecification[0].eye in eyes
    assert resources[1].category[0].coding[0].code == "exam"


def test_readings_that_contradict_each_other_give_no_number(journal: Journal) -> None:
    lines = (
        "working distance 67",
        "right eye",
        "streak 90 neutral at plus one",
        "streak 180 neutral at plus one",
    )
    store, _ = dictated(journal, (*lines, "streak 90 against at minus two"), at=MORNING)
    assert store.record is not None
    assert store.record.eyes["right"].status == "conflict"

    (resource,) = of_code(valid(bundled(store)), "retinoscopy")
    (row,) = csv.DictReader(io.StringIO(table.table(store.exam, store.record)))

    assert not {"sphere", "cylinder", "axis"} & set(components(resource))
    assert resource.dataAbsentReason.coding[0].code == "unknown"
    assert any("against" in note.text for note in resource.note)
    assert (row["status"], row["sphere_d"], row["cylinder_d"], row["axis_deg"]) == ("conflict", "", "", "")
    assert "against" in row["problems"]


@pytest.mark.parametrize(
    ("first", "second", "technique"),
    [
        ("sphere plus one", "sphere plus two", "sphere and sphere"),
        ("sphere plus one", "cylinder minus two axis 180", "sphere and cylinder"),
        ("cylinder plus two axis 90", "cylinder plus three axis 180", "cylinder and cylinder"),
        ("sphere plus one cylinder plus two axis 90", "cylinder plus three axis 180", "mixed lenses"),
    ],
)
def test_the_technique_is_named_by_its_lenses(
    journal: Journal, first: str, second: str, technique: str
) -> None:
    """The three techniques of the domain notes, section 1.4, and what is none of them."""
    lines = (f"streak 90 neutral with {first}", f"streak 180 neutral with {second}")
    store, _ = dictated(journal, ("working distance 67", "right eye", *lines))
    assert store.record is not None
    assert len(store.record.eyes["right"].neutral) == 2

    (found,) = refractions(store.record)

    assert found.technique == technique


def test_the_same_exam_has_the_same_names_every_time(store: ExamStore) -> None:
    first, second = bundled(store), bundled(store)

    assert [each["fullUrl"] for each in first["entry"]] == [each["fullUrl"] for each in second["entry"]]
    assert len({each["fullUrl"] for each in first["entry"]}) == len(first["entry"]) == 1 + 2 + 4


LENS = {"sphere_d": -1.0, "cylinder": {"power_d": -0.5, "axis_deg": 90}}


def with_three_lenses(store: ExamStore) -> list[Any]:
    """One eye's spectacles worn, retinoscopy and refined result, after the exam was attested."""
    attested(store)
    spectacles = SpectaclesEntry.model_validate({"eye": "right", **LENS, "addition_d": 2.0})
    refined = SubjectiveEntry.model_validate({"eye": "right", **LENS})
    instrument = AutorefractionEntry.model_validate({"eye": "right", **LENS})
    both = AdditionEntry.model_validate({"eye": "both", "power_d": 2.0})
    return valid(bundled(store, spectacles, refined, instrument, both))


def test_lenses_of_one_eye_are_told_apart_by_code_purpose_and_method(store: ExamStore) -> None:
    """Whichever a reader looks at; the spectacles worn are no refraction of the eye, by no public code."""
    resources = with_three_lenses(store)

    found = {}
    for code in ("retinoscopy", "previous-spectacles", "refined-refraction", "autorefraction"):
        (each,) = [each for each in of_code(resources, code) if each.bodySite.coding[0].code == "right"]
        public = tuple(coding.code for coding in each.code.coding[1:])
        how = None if each.method is None else each.method.coding[0].code
        found[code] = (public, coded(each)["purpose"], how, each.status)

    assert found == {
        "retinoscopy": (("251794006",), "objective-finding", "streak-retinoscopy", "preliminary"),
        "previous-spectacles": ((), "spectacles-worn", None, "final"),
        "refined-refraction": (("397277005",), "refined-result", "subjective", "final"),
        "autorefraction": ((), "objective-finding", "automated", "preliminary"),
    }
    assert {each.status for each in of_code(resources, "reading")} == {"preliminary"}


def test_every_eye_has_its_published_code(store: ExamStore) -> None:
    resources = with_three_lenses(store)
    sites = [each.bodySite for each in resources if getattr(each, "bodySite", None) is not None]

    assert {each.coding[0].code: each.coding[1].code for each in sites} == SITES
    assert {each.coding[1].system for each in sites} == {"http://snomed.info/sct"}


def test_the_report_groups_everything_and_carries_the_cautions(store: ExamStore) -> None:
    """Every reference leads to a resource of the bundle, and no observation is left out; drafts are no results."""
    resources = with_three_lenses(store)
    report = resources[0]
    data = fhir.bundle(store.exam, store.record)  # type: ignore[arg-type]
    by_address = {each["fullUrl"]: each["resource"]["resourceType"] for each in data["entry"]}
    results = [each["reference"] for each in data["entry"][0]["resource"]["result"]]

    assert type(report).__name__ == "DiagnosticReport"
    assert (report.status, report.performer[0].display) == ("final", "AB")
    assert [by_address[each] for each in results] == ["Observation"] * (len(data["entry"]) - 1)
    for caution in CAUTIONS:
        assert caution in report.conclusion
        assert caution in html.unescape(report.text.div)
    derived = [each["reference"] for each in walked(data) if set(each) == {"reference"}]
    assert set(derived) <= set(by_address)


def test_values_and_components_of_one_code_exclude_each_other(store: ExamStore) -> None:
    """FHIR R4's rules obs-6 and obs-7 for Observation, which the library does not check; every word stays."""
    resources = with_three_lenses(store)
    observations = [each for each in resources if type(each).__name__ == "Observation"]

    for each in observations:
        codes = {(coding.system, coding.code) for coding in each.code.coding}
        parts = {(coding.system, coding.code) for part in each.component or () for coding in part.code.coding}
        assert each.valueString is None or each.dataAbsentReason is None
        assert each.valueString is None or not codes & parts, each.code.text
        assert each.valueString or each.component or each.dataAbsentReason
    (addition,) = of_code(resources, "addition")
    assert "+2.00" in addition.note[0].text


# --- CSV


def rows_of(store: ExamStore) -> list[dict[str, str]]:
    assert store.record is not None
    text = table.table(store.exam, store.record)
    assert text.endswith("\r\n")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_has_one_row_an_eye_and_method_in_documented_columns(store: ExamStore) -> None:
    right, left = rows_of(store)

    assert tuple(right) == table.COLUMNS
    documented = (Path(__file__).parents[2] / "docs" / "record.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in documented for name in table.COLUMNS)
    assert (right["eye"], right["sphere_d"], right["cylinder_d"], right["axis_deg"]) == (
        "right",
        "-1",
        "-1.5",
        "120",
    )
    assert (left["eye"], left["sphere_d"], left["cylinder_d"], left["axis_deg"]) == (
        "left",
        "0.75",
        "-2.5",
        "180",
    )
    assert right["allowance_d"] == "1.493"
    assert right["readings"] == (
        "30:-1.00 neutral, sphere -1.00, 67 cm, plane mirror, pass 1; "
        "120:+0.50 neutral, sphere +0.50, 67 cm, plane mirror, pass 1"
    )
    assert float(right["sphere_sd_d"]) > 0


FORMULAS = (
    '=HYPERLINK("x";"y")',
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    " =1+1",
    "\u00a0=1+1",
    "\u200b=1+1",
    "\uff1d1+1",
    "|calc",
    "%0",
    "'=1+1",
    '","=1+1',
    '"\r\n=1+1',
)


@pytest.mark.parametrize("reference", FORMULAS)
def test_no_cell_is_a_formula(journal: Journal, reference: str) -> None:
    """The starts are those of OWASP's page on CSV injection; spaces and what is not seen before them count as well."""
    store, _ = dictated(journal, ("right eye", "streak 90 neutral at plus one"), reference=reference)

    (row,) = rows_of(store)

    for name, cell in row.items():
        if name.endswith(("_d", "_deg", "_cm")):
            assert all(not part.strip() or float(part) is not None for part in cell.split(";"))
        else:
            assert cell.lstrip()[:1] not in ("=", "+", "-", "@", "|", "%", "\uff1d", "\t", "\r", "\n"), (
                name,
                cell,
            )


@settings(max_examples=60, deadline=None)
@given(reference=st.text(st.characters(exclude_categories=())))
def test_any_reference_is_one_cell_without_hidden_characters(reference: str) -> None:
    record = fold_of_sample()
    record = replace(record, started=record.started.model_copy(update={"reference": reference}))
    text = table.table("20251125-sample01", record)

    rows = list(csv.DictReader(io.StringIO(text, newline="")))

    assert len(rows) == 2
    for character in {character for row in rows for cell in row.values() for character in cell}:
        # A space of another width is a space to be seen; Python counts it among the unprintable.
        assert character.isprintable() or unicodedata.category(character) == "Zs"


# --- JSON


def fold_of_sample() -> ExamRecord:
    return exam_file.record_of(exam_file.read(DATA / "exam_file_v1.json"))


def test_the_published_schema_is_that_of_the_models() -> None:
    stored = exam_file.SCHEMA_PATH.read_text(encoding="utf-8")

    assert stored == exam_file.schema(), (
        "the form of the JSON export changed: if old files still read (the next tests), store the new schema with\n"
        "python -c 'from voicelog.record.export import exam_file as f; f.SCHEMA_PATH.write_text(f.schema())'\n"
        "otherwise make a version 4 beside the others"
    )


def test_files_fit_the_schema(store: ExamStore, journal: Journal) -> None:
    attested(store)
    schema = json.loads(exam_file.SCHEMA_PATH.read_text(encoding="utf-8"))
    data = json.loads(exam_file.written(journal.rows(store.exam)))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)

    validator.validate(data)
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(data | {"events": []})
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(data | {"extra": 1})


def test_a_file_reads_back_as_the_exam(store: ExamStore, journal: Journal, tmp_path: Path) -> None:
    path = tmp_path / "exam.json"
    text = exam_file.written(journal.rows(store.exam))
    path.write_text(text, encoding="ascii")

    file = exam_file.read(path)

    assert exam_file.record_of(file) == store.record
    assert file.reference == HOSTILE
    assert isinstance(file, exam_file.ExamFile)
    assert [each.eye for each in file.refractions] == ["right", "left"]


def test_a_file_of_version_1_still_reads() -> None:
    """Stored when version 1 was made; never to be made anew. Its results are worked out from its events."""
    file = exam_file.read(DATA / "exam_file_v1.json")
    record = exam_file.record_of(file)

    assert isinstance(file, OldExamFile)
    assert file.version == 1
    assert [str(record.eyes[name].solution.net) for name in ("right", "left")] == ["-0.75 -1.75 x 120", LEFT]
    for found in file.findings:
        net = record.eyes[found.eye].solution.net
        assert net is not None
        assert found.written is not None
        assert (found.written.sphere_d, found.written.cylinder_d, found.written.axis_deg) == (
            net.sphere_d,
            net.cylinder_d,
            net.axis_deg,
        )
    assert record.attested is not None
    assert record.attested.right is not None
    assert record.attested.right.axis_deg == 120
    assert [each.text for each in record.addenda] == ["seen again \u202e"]
    assert len(record.expired) == 1
    assert len(record.amendments) == 1
    assert (file.further, file.comparisons, file.remarks) == ((), (), ())
    schema = exam_file.SCHEMA_PATH.with_name("exam_file_v1.schema.json").read_bytes()
    assert hashlib.sha256(schema).hexdigest() == SCHEMA_V1_SHA256
    jsonschema.validate(json.loads((DATA / "exam_file_v1.json").read_text()), json.loads(schema))


def test_a_file_of_version_2_still_reads() -> None:
    """Stored when version 2 was made; never to be made anew. What it found is what its events still make."""
    file = exam_file.read(DATA / "exam_file_v2.json")
    record = exam_file.record_of(file)

    assert isinstance(file, OldExamFile)
    assert file.version == 2
    # The addition of both eyes was written for each, drops without the eye again, and each look now has its time.
    now = {(each.code, each.text.removesuffix(", noted 08:15 UTC")) for each in further(record)}
    then = {(each.code, each.text.split(", both eyes, noted")[0]) for each in file.further}
    assert {each for each in then if each[0] != "passes"} <= now
    assert [
        each.written and each.written.sphere_d for each in file.findings if each.method == "retinoscopy"
    ] == [each.lens and each.lens.sphere_d for each in refractions(record) if each.in_hand]
    # The right eye's first pass was before the drops, and stands apart from the second now.
    assert [
        (each.eye, each.condition, str(each.lens)) for each in refractions(record) if not each.in_hand
    ] == [("right", "dry", "-1.00 -1.50 x 120")]
    assert [each.eye for each in file.comparisons] == ["right", "right", "right", "left", None]
    assert {each.id for each in file.remarks} == {"large_cylinder", "scissors", "anisometropia", "drops"}
    addition = record.state.findings.last(AdditionEntry, "right")
    assert addition is not None
    assert addition.power_d == 2.0
    assert record.attested is not None
    schema = exam_file.SCHEMA_PATH.with_name("exam_file_v2.schema.json").read_bytes()
    assert hashlib.sha256(schema).hexdigest() == SCHEMA_V2_SHA256
    jsonschema.validate(json.loads((DATA / "exam_file_v2.json").read_text()), json.loads(schema))


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('"text": "scissors"', '"text": "scissorz"', "event 9: the row or the one before it was changed"),
        ('"version": 1', '"version": 4', "version"),
        ('"format": "voicelog-exam"', '"format": "other"', "format"),
        ('"events": [', '"events": [[', "no JSON"),
    ],
)
def test_a_file_that_was_changed_is_refused(tmp_path: Path, old: str, new: str, what: str) -> None:
    text = (DATA / "exam_file_v1.json").read_text()
    assert text.count(old) >= 1
    path = tmp_path / "exam.json"
    path.write_text(text.replace(old, new, 1))

    with pytest.raises(RecordError, match=what) as raised:
        exam_file.read(path)
    assert "\n" not in str(raised.value)


def test_later_fields_do_not_break_the_chain_of_old_files(tmp_path: Path) -> None:
    """Files keep the events as they were hashed: one without a field that came later still fits."""
    data = json.loads((DATA / "exam_file_v1.json").read_text())
    previous = "0" * 64
    for each in data["events"]:
        heard = each["event"].get("heard")
        if heard:
            del heard["clip_s"]
        body = canonical(each["event"])
        at = (
            each["event"]["at"].replace("Z", ".000000Z")
            if "." not in each["event"]["at"]
            else each["event"]["at"]
        )
        previous = link(previous, data["exam"], each["event"]["number"], at, each["event"]["kind"], body)
        each["hash"] = previous
    path = tmp_path / "older.json"
    path.write_text(json.dumps(data))

    assert exam_file.read(path).exam == "20251125-sample01"
