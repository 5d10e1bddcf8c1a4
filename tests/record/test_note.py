"""The referral note: what a reader needs on one page, in the forms that are set, and no diagnosis."""

import re
from datetime import timedelta

import pytest

from voicelog.exam.remarks import DEFERRING
from voicelog.record.events import Addendum, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import SUBJECTIVE_CODE, further, remarked
from voicelog.record.export.note import LINES, WIDTH, note
from voicelog.record.journal import Journal
from voicelog.record.plain import labelled
from voicelog.session import Session
from voicelog.settings import Settings

from .cases import EXAM, LEFT, MORNING, RIGHT, clock, dictated
from .test_export_further import EXAM as EVERYTHING

# A child as one would be referred: retinoscopy under drops, acuity, spectacles worn, an unequal reflex.
CHILD = (
    "age four",
    "drops cyclopentolate one percent both eyes forty minutes ago",
    "working distance sixty seven",
    "right eye",
    "acuity unaided six twelve",
    "spectacles sphere plus one cylinder minus one axis ninety",
    "streak ninety neutral at plus six and a half",
    "streak one eighty neutral at plus seven and a half",
    "left eye",
    "acuity unaided six six",
    "streak ninety neutral at plus three",
    "streak one eighty neutral at plus three",
)
DISEASES = r"keratoconus|cataract|amblyop|retinoblastoma|glaucoma|strabism"


def noted(store: ExamStore, notation: str | None = None) -> str:
    assert store.record is not None
    return note(store.exam, store.record, notation)  # type: ignore[arg-type]


def flat(text: str) -> str:
    """Without the breaks of its lines."""
    return " ".join(text.split())


def test_a_usual_exam_is_one_page_with_all_that_was_found(journal: Journal) -> None:
    """By hand: less 1.50 D, the right eye has +5.00 along 180 and +6.00 along 90, the left +1.50 all round."""
    store, _ = dictated(journal, CHILD, reference="4711", at=MORNING)
    text = noted(store)

    assert len(text.splitlines()) <= LINES
    assert max(map(len, text.splitlines())) <= WIDTH
    for said in (
        f"Reference 4711, exam {store.exam}",
        "Not attested.",
        "Right eye retinoscopy (wet): +6.00 -1.00 x 090, spherical equivalent +5.50 about 95 %: +6.00 ±",
        "acuity unaided 6/12; spectacles worn +1.00 -1.00 x 090",
        "Left eye retinoscopy (wet): +1.50 DS, spherical equivalent +1.50",
        "Both eyes age 4 years; drops cyclopentolate 1 %, 40 minutes ago",
        "right eye: +6.00 D in the meridian with most plus; the eyes differ by 4.00 D",
        "retinoscopy +6.00 -1.00 x 090 and spectacles worn +1.00 -1.00 x 090: 5.00 D apart",
        DEFERRING,
        *CAUTIONS,
    ):
        assert said in flat(text)
    assert store.record is not None
    for each in remarked(store.record):
        told = (
            each.finding in text.replace("\n  ", " "),
            each.advice in flat(text),
            each.source in flat(text),
        )
        assert set(told) == {not each.id.startswith("drops")}, each.id


def test_every_remark_has_the_number_of_its_source_and_every_source_is_there_once(journal: Journal) -> None:
    store, _ = dictated(journal, CHILD, at=MORNING)
    text = noted(store)
    remarks = text.partition("\nRemarks\n")[2].partition("\n[1] ")
    assert store.record is not None
    found = [each for each in remarked(store.record) if not each.id.startswith("drops")]

    said = flat(remarks[0]).split(" - ")[1:]
    assert len(said) == len({each.advice for each in found})
    listed = dict(
        re.findall(r"\[(\d+)\] (.*?)(?=; \[\d+\] |$)", flat(f"[1] {remarks[2].partition(chr(10) * 2)[0]}"))
    )
    assert list(listed.values()) == list(dict.fromkeys(each.source for each in found))
    for each in found:
        (line,) = [one for one in said if f": {each.advice} [" in one]
        assert each.source in [listed[number] for number in re.findall(r"\[(\d+)\]", line)]


def test_lenses_in_the_form_of_the_exam_and_acuity_in_the_notation_that_is_set(journal: Journal) -> None:
    """ "+6.00 -1.00 x 090" is "+5.00 +1.00 x 180"; 6/12 is 0.5."""
    times = clock(MORNING)
    store = journal.begin(MORNING)
    session = Session(Settings(cylinder_form="plus"), store=store, now=lambda: next(times))
    for line in (*CHILD, "right eye", "refined sphere plus six cylinder minus one axis ninety"):
        session.type_line(line)
    text = noted(store, "decimal")

    assert "plus cylinders" in text
    assert "retinoscopy (wet): +5.00 +1.00 x 180" in text
    assert "refined result: +5.00 +1.00 x 180" in text
    assert "acuity unaided 0.5; spectacles worn plano +1.00 x 180" in flat(text)
    assert not re.search(r"[+-]\d+\.\d\d -\d\.\d\d x", text.partition("Compared")[0])


def test_the_exam_with_every_kind_of_finding_leaves_none_out(journal: Journal) -> None:
    store, _ = dictated(journal, EVERYTHING, reference="4711", at=MORNING)
    text = noted(store)

    assert store.record is not None
    for each in further(store.record):
        if each.code != SUBJECTIVE_CODE:
            assert labelled(each.name, each.text) in flat(text)
    assert "refined result: -1.00 -1.50 x 118" in text
    assert "right and left eye: read 0 minutes after tropicamide 1 %" in flat(text)
    assert "Compared\n  ... and 5 more, in the other exports\n" in text


@pytest.mark.parametrize("lines", [EXAM, CHILD, EVERYTHING])
def test_no_disease_is_named(journal: Journal, lines: tuple[str, ...]) -> None:
    store, _ = dictated(journal, lines, at=MORNING)

    assert not re.search(DISEASES, noted(store), re.IGNORECASE)


def test_who_vouches_what_was_added_and_what_is_open(journal: Journal) -> None:
    store, _ = dictated(journal, EXAM, at=MORNING)
    assert store.record is not None
    number, later = store.record.next_number, MORNING + timedelta(hours=1)
    results = {"right": store.record.written("right"), "left": store.record.written("left")}
    store.append(Attested(number=number, at=later, by="AB\u202e", **results))  # type: ignore[arg-type]
    store.append(Addendum(number=number + 1, at=later, by="CD", text="seen again"))
    text = noted(store)

    assert f"(dry): {RIGHT}," in text
    assert f"(dry): {LEFT}," in text
    assert "Attested by AB\\u{202e}, 2025-11-25." in text
    assert "Added afterwards\n- CD, 2025-11-25: seen again" in text


def test_an_eye_without_a_result_says_so(journal: Journal) -> None:
    store, _ = dictated(
        journal, ("working distance fifty", "right eye", "streak ninety neutral at plus two"), at=MORNING
    )
    text = noted(store)

    assert "retinoscopy (dry): incomplete, no result" in text
    assert "retinoscopy: nothing was read" in text
    assert "Still open\n- right eye: " in text
