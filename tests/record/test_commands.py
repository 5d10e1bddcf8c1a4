"""The commands, as an examiner at a desk uses them; and that no text from outside does anything in a terminal."""

import json
import re
import stat
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from voicelog.cli import record as commands
from voicelog.cli import record_whole
from voicelog.cli.export import export
from voicelog.errors import VoicelogError
from voicelog.exam.events import Started
from voicelog.record.errors import AttestedError, NoSuchExamError
from voicelog.record.events import Addendum, ClipsExpired
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.inert import inert
from voicelog.record.journal import Journal
from voicelog.record.places import data_folder
from voicelog.record.retention import expire_clips

from .cases import EXAM, LEFT, MORNING, NOON, RIGHT, dictated, heard_words, past_the_program

HOSTILE = (
    "../x \"q\" 'r' [bold]b[/bold] :smile: \u202egnp.exe\u2066 \x00\x07\x1b[31m\x9b2J\r\u2028 \ud800 가\u200b"
)
TEN_MB = 10 * 1024 * 1024


@pytest.fixture(autouse=True, name="data")
def _data(monkeypatch: pytest.MonkeyPatch, folder: Path) -> Path:
    monkeypatch.setenv("VOICELOG_DATA", str(folder))
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(folder.parent)
    return folder


def typed(*lines: str, reference: str = "", at: datetime | None = None) -> str:
    """An exam in the record that the commands open."""
    with Journal.open() as journal:
        return dictated(journal, lines or EXAM, reference, at)[0].exam


def nothing_hidden(text: str) -> bool:
    return all(character.isprintable() or character == "\n" for character in text)


def test_list_filters(capsys: pytest.CaptureFixture[str]) -> None:
    old = typed(reference="4711", at=MORNING)
    new = typed("right eye", reference="4712", at=MORNING + timedelta(days=2))

    def listed(**options: object) -> list[str]:
        commands.list_exams(**options)  # type: ignore[arg-type]
        return re.findall(r"\d{8}-\w{8}", capsys.readouterr().out)

    day = MORNING.astimezone().date()
    assert listed() == [new, old]
    assert listed(since=day + timedelta(days=1)) == [new]
    assert listed(until=day) == [old]
    assert listed(since=day, until=day) == [old]
    assert listed(reference="4711") == [old]
    assert listed(unresolved=True) == [new]
    assert listed(limit=1) == [new]
    commands.list_exams(until=date(2001, 1, 1))
    assert capsys.readouterr().out == "no exam fits\n"


def test_list_shows_results_and_state(capsys: pytest.CaptureFixture[str]) -> None:
    typed(reference="4711")
    commands.attest("last", by="AB")
    commands.list_exams()
    shown = capsys.readouterr().out

    assert RIGHT in shown
    assert LEFT in shown
    assert "attested AB" in shown
    commands.list_exams(as_json=True)
    (found,) = json.loads(capsys.readouterr().out)
    assert (found["reference"], found["right_result"], found["attested_by"]) == ("4711", RIGHT, "AB")
    assert found["unresolved"] is False


def test_show_strikes_corrections_through_with_their_reasons(capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed(reference="4711")
    commands.show(exam)
    shown = capsys.readouterr().out

    assert re.search(
        r"3 .*~~streak one twenty neutral at minus two~~ +now .*-1\.00; 4: correction minus one", shown
    )
    assert re.search(r"9 .*~~scissors~~ +taken out; 10: scratch that", shown)
    assert f"right eye: {RIGHT}" in shown
    assert "not a prescription" in shown
    assert "~~streak thirty" not in shown


def test_struck_through_for_the_eye(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a terminal, by ECMA-48's "crossed out" (SGR 9)."""
    typed()
    monkeypatch.setenv("FORCE_COLOR", "1")
    commands.show("last")

    assert re.search(r"\x1b\[9m~~scissors~~", capsys.readouterr().out)


def test_amend_puts_an_entry_right_with_a_reason(capsys: pytest.CaptureFixture[str]) -> None:
    """+0.50 was +0.75: the minus cylinder grows by a quarter (sphere by a quarter as well)."""
    exam = typed()
    commands.amend(
        exam, by="AB", entry="5", to="streak thirty neutral at plus three quarters", reason="misread"
    )
    shown = capsys.readouterr().out

    assert re.search(
        r"5 .*~~streak thirty neutral at plus one half~~ +now .*\+0\.75; 11 \(AB\): misread", shown
    )
    assert "-0.75 -1.75 x 120" in shown
    with Journal.open() as journal:
        assert str(journal.exam(exam).eyes["right"].solution.net) == "-0.75 -1.75 x 120"


def test_amend_takes_an_entry_out(capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed()
    commands.amend(exam, by="AB", entry="8", withdraw=True, reason="wrong patient")

    assert "taken out; 11 (AB): wrong patient" in capsys.readouterr().out
    with Journal.open() as journal:
        assert journal.exam(exam).eyes["left"].status == "incomplete"


def test_a_short_amendment_keeps_what_it_does_not_name() -> None:
    exam = typed()
    commands.amend(exam, by="AB", entry="5", to="neutral at plus three quarters", reason="misread")

    with Journal.open() as journal:
        assert str(journal.exam(exam).eyes["right"].solution.net) == "-0.75 -1.75 x 120"


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"entry": "5", "to": "neutral at plus one"}, "needs its reason"),
        ({"entry": "5", "to": "neutral at plus one", "reason": " "}, "--reason is empty"),
        ({"entry": "5", "reason": "x"}, "--to PHRASE"),
        ({"to": "neutral at plus one", "reason": "x"}, "which entry"),
        ({"entry": "5", "to": "neutral", "withdraw": True, "reason": "x"}, "--to PHRASE"),
        ({"entry": "5", "to": "neutral at one", "reason": "x"}, "plus or minus"),
        ({"entry": "5", "to": "bananas", "reason": "x"}, "not understood"),
        (
            {"entry": "5", "to": "sphere plus one", "reason": "x"},
            "entry 5 is a reading entry, not lenses",
        ),
        (
            {"entry": "4", "to": "neutral at plus one", "reason": "x"},
            "there is no entry 4 \\(a correction is none\\)",
        ),
        ({"entry": "9", "withdraw": True, "reason": "x"}, "entry 9 was taken back"),
        ({"entry": "99", "withdraw": True, "reason": "x"}, "no entry 99"),
        ({"add": " "}, "--add is empty"),
        ({"add": "words", "entry": "5"}, "stands alone"),
        ({"add": "bad \ud800"}, "no UTF-8"),
        ({"add": "x", "by": " "}, "--by is empty"),
        ({"add": "x", "by": "W" * 21}, "1 to 20"),
    ],
)
def test_unclear_amendments_are_refused_in_one_line(options: dict[str, object], what: str) -> None:
    exam = typed()

    with pytest.raises(VoicelogError, match=what) as raised:
        commands.amend(exam, **({"by": "AB"} | options))  # type: ignore[arg-type]

    assert "\n" not in str(raised.value)
    with Journal.open() as journal:
        assert len(journal.rows(exam)) == 11


def test_after_attesting_only_words_are_taken(capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed()
    commands.attest(exam, by="AB")
    works: tuple[Callable[[], object], ...] = (
        lambda: commands.amend(exam, by="AB", entry="5", withdraw=True, reason="x"),
        lambda: commands.attest(exam, by="CD"),
    )
    for work in works:
        with pytest.raises(AttestedError, match="attested by AB"):
            work()
    commands.amend(exam, by="CD", add="seen again")

    assert "added by CD: seen again" in capsys.readouterr().out
    with Journal.open() as journal:
        attested = journal.exam(exam).attested
    assert attested is not None
    assert attested.right is not None
    assert (attested.right.sphere_d, attested.right.cylinder_d, attested.right.axis_deg) == (-1.0, -1.5, 120)


def test_open_points_must_be_owned_up_to(capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed("right eye", "streak 90 neutral at plus one")
    with pytest.raises(VoicelogError, match=r"open points: right eye: .*working distance"):
        commands.attest(exam, by="AB")
    commands.attest(exam, by="AB", despite_open_points=True)
    capsys.readouterr()
    commands.show(exam)

    assert "open when attested: right eye: " in capsys.readouterr().out


def test_verify_says_what_is_wrong(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed()
    assert record_whole.verify()
    assert "1 exam, 11 events, 0 clips: no fault" in capsys.readouterr().out
    with past_the_program(data / "voicelog.db") as connection:
        connection.execute("UPDATE event SET body = ? WHERE number = 2", (HOSTILE.replace("\ud800", ""),))

    assert not record_whole.verify()
    shown = capsys.readouterr().out
    assert f"FAULT exam {exam}, event 2: the row" in shown
    assert nothing_hidden(shown)


def test_verify_can_work_the_list_out_anew(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    typed()
    with past_the_program(data / "voicelog.db") as connection:
        connection.execute("UPDATE exam SET left_result = '+9.00 DS'")

    assert not record_whole.verify()
    assert "verify --refresh" in capsys.readouterr().out
    assert record_whole.verify(refresh=True)
    assert "1 row of the list worked out anew" in capsys.readouterr().out


def test_backup_and_restore(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exam = typed()
    assert record_whole.backup(tmp_path / "copy")
    (data / "voicelog.db").unlink()
    assert record_whole.restore(tmp_path / "copy")
    commands.show(exam)

    assert RIGHT in capsys.readouterr().out
    with pytest.raises(VoicelogError, match="--replace"):
        record_whole.restore(tmp_path / "copy")
    assert record_whole.restore(tmp_path / "copy", replace=True)
    assert "what was there before is kept in" in capsys.readouterr().out


@pytest.mark.parametrize("form", ["fhir", "csv", "json"])
def test_export_to_standard_output(form: str, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    exam = typed()
    export(exam, form)
    shown = capfdbinary.readouterr().out

    with Journal.open() as journal:
        assert shown == exported(journal, exam, FORMATS[form])
    assert exam.encode() in shown


@pytest.mark.parametrize("form", ["fhir", "csv", "json", "report", "note"])
def test_export_to_a_new_private_file(form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "out"
    export(typed(), form, to=path)

    assert capsys.readouterr().out == f"{path}\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert path.stat().st_size > 100
    with pytest.raises(VoicelogError, match="not written over"):
        export("last", form, to=path)
    with pytest.raises(VoicelogError, match="cannot be written"):
        export("last", form, to=tmp_path / "no folder" / "out")


def test_a_report_is_named_after_its_exam(data: Path) -> None:
    exam = typed()
    export("last", "report")

    assert (data.parent / f"{exam}.pdf").read_bytes().startswith(b"%PDF-")


def test_clips_expire() -> None:
    with Journal.open() as journal:
        store, _ = dictated(journal, at=MORNING)
        store.append(heard_words(store, "talk", MORNING, store.keep_clip(np.zeros(800, np.float32))))

    for clip_days, expired in ((36_500, 0), (1, 1)):
        with Journal.open(clip_days=clip_days) as journal:
            assert expire_clips(journal, sure=True) == expired


def test_show_says_what_became_of_the_sound(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tone = np.sin(np.arange(16000) / 9).astype(np.float32)
    with Journal.open() as journal:
        store, _ = dictated(journal, at=MORNING)
        clips = [store.keep_clip((tone / part).astype(np.float32)) for part in (1, 2, 3)]
        for clip, words in zip(clips, ("kept", "lost", "old"), strict=True):
            store.append(heard_words(store, f"the {words} one", MORNING, clip))
        store.append(ClipsExpired(number=store.next_number, at=NOON, days=30, clips=(str(clips[2].hash),)))
        journal.clips.path(store.exam, str(clips[1].hash)).unlink()
    with Journal.open(clip_days=0) as journal:
        store = journal.reopen(store.exam)
        store.append(heard_words(store, "the unkept one", NOON, store.keep_clip(tone)))

    commands.show("last")
    shown = capsys.readouterr().out

    assert re.search(r"the kept one +left out +1\.0 s *\n", shown)
    assert re.search(r"the lost one +left out +1\.0 s, missing", shown)
    assert re.search(r"the old one +left out +1\.0 s, expired", shown)
    assert re.search(r"the unkept one +left out +1\.0 s, not kept", shown)
    assert "1 clip kept for 30 days and then removed" in shown


def test_nothing_from_outside_is_shown_as_more_than_text(capsys: pytest.CaptureFixture[str]) -> None:
    """Control characters, colours, marks of direction, markup of our own screen library, lone surrogates."""
    exam = typed(reference=HOSTILE, at=MORNING)
    with Journal.open() as journal:
        store = journal.reopen(exam)
        store.append(heard_words(store, HOSTILE, NOON))
        number = store.record.next_number  # type: ignore[union-attr]
        store.append(Addendum(number=number, at=NOON, by="\x1b]0;x\x07", text=HOSTILE.replace("\ud800", "")))
    shows: tuple[Callable[[], object], ...] = (
        lambda: commands.list_exams(),
        lambda: commands.list_exams(as_json=True),
        lambda: commands.list_exams(reference="GNP"),
        lambda: commands.show(exam),
        lambda: commands.show(exam, as_json=True),
        lambda: commands.amend(exam, by="\x1b[2J", add="\x1b[2J"),
        lambda: commands.attest(exam, by="\x1b[2J"),
        lambda: export(exam, "json", to=Path("x.json")),
    )
    for show in shows:
        show()
        shown = capsys.readouterr().out
        assert nothing_hidden(shown), repr(shown)
        assert exam in shown or "x.json" in shown
    commands.show(exam)
    shown = capsys.readouterr().out
    assert r"\u{202e}gnp.exe\u{2066}" in shown
    assert "[bold]b[/bold] :smile:" in shown
    with Journal.open() as journal:
        assert journal.exam(exam).started.reference == HOSTILE
        assert journal.find(exam) == exam
    with pytest.raises(NoSuchExamError) as raised:
        commands.show("\x1b[2J\u202e")
    assert nothing_hidden(str(raised.value))


def test_a_reference_is_never_a_path(data: Path) -> None:
    """It names no file: nothing appears outside the data folder, nor inside it under that name."""
    for reference in ("../../outside", "/etc/voicelog", "a/b", "con", "x" * 5000):
        with Journal.open() as journal:
            store, _ = dictated(journal, (), reference=reference)
            store.keep_clip(np.zeros(800, np.float32))

    names = {path.name for path in data.parent.rglob("*")}
    assert all(
        re.fullmatch(r"data|clips|voicelog\.(db|heads|tail|key|clock)|\d{8}-\w{8}|[0-9a-f]{64}\.flac", name)
        for name in names
    ), names
    assert not (data.parent.parent / "outside").exists()


def test_ten_megabytes_of_note_are_kept_whole_and_shown_cut(capsys: pytest.CaptureFixture[str]) -> None:
    note = "\x1b[31m=cmd|' /C calc'!A0 \u202e" + "long " * (TEN_MB // 5)
    exam = typed(reference="4711")
    commands.amend(exam, by="AB", add=note)
    shown = capsys.readouterr().out
    commands.attest(exam, by="AB")

    assert len(shown) < 20_000
    assert nothing_hidden(shown)
    assert "characters in all]" in " ".join(shown.split())
    with Journal.open() as journal:
        assert journal.exam(exam).addenda[0].text == note
        assert len(exported(journal, exam, FORMATS["csv"])) < 5_000
        assert (
            len(exported(journal, exam, FORMATS["fhir"])) < 80_000
        )  # codes and a report grew; the note did not
        assert len(exported(journal, exam, FORMATS["report"])) < 60_000  # 40,000 of them fonts and colours
        assert len(exported(journal, exam, FORMATS["json"])) > TEN_MB
    assert record_whole.verify()


def test_a_reference_of_ten_megabytes_is_kept_and_found(capsys: pytest.CaptureFixture[str]) -> None:
    reference = "begin " + "r" * TEN_MB
    with Journal.open() as journal:
        store = journal.begin()
        store.append(Started(at=MORNING, naming="streak", reference=reference))
        assert journal.find("begin " + "r" * 194) == store.exam
        assert journal.exam(store.exam).started.reference == reference
    commands.list_exams(reference="begin")

    assert len(capsys.readouterr().out) < 2_000


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain ümlaut 가", "plain ümlaut 가"),
        ("a\nb", "a / b"),
        ("\x00\x1b\x7f\x9b", r"\u{0}\u{1b}\u{7f}\u{9b}"),
        (
            "\u202a\u202e\u2066\u2069\u200e\u200f\u061c",
            r"\u{202a}\u{202e}\u{2066}\u{2069}\u{200e}\u{200f}\u{61c}",
        ),
        ("\u200b\u200d\ufeff\u2028\u2029\u00ad", r"\u{200b}\u{200d}\u{feff}\u{2028}\u{2029}\u{ad}"),
        ("\ud800\ue000\U000e0041\uffff", r"\u{d800}\u{e000}\u{e0041}\u{ffff}"),
    ],
)
def test_inert_text(text: str, shown: str) -> None:
    assert inert(text) == shown


def test_a_cut_text_says_so() -> None:
    assert inert("x" * 1000, 10) == "xxxxxxxxxx [... 1,000 characters in all]"
    assert data_folder().name == "data"
