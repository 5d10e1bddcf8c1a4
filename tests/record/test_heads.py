"""Heads: signed, as text, in the files beside the database, and in the second folder."""

import shutil
import sqlite3
import stat
import time
from base64 import urlsafe_b64decode
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from voicelog.record import head_file
from voicelog.record.copies import backup, restore
from voicelog.record.errors import RecordError
from voicelog.record.head_file import HeadFile
from voicelog.record.heads import Head, head_of, signed
from voicelog.record.journal import Journal
from voicelog.record.keys import MachineKey, is_signed
from voicelog.record.merkle import is_consistent, is_included
from voicelog.record.proving import heads_in, proof, prove
from voicelog.record.verifying import verify

from .cases import MORNING, dictated

AT = "2025-11-25T08:15:30.123456Z"


@pytest.fixture(name="key")
def _key(tmp_path: Path) -> MachineKey:
    return MachineKey(tmp_path / "key")


def head(key: MachineKey, size: int, exam: str = "20251125-k3v9xq2m") -> Head:
    return signed(size, bytes([size % 256]) * 32, exam, size, AT, key)


def test_signatures_are_those_of_the_standard() -> None:
    """RFC 8032, section 7.1, test 2: the key, the message of one byte and its signature."""
    secret = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    public = bytes.fromhex("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    assert Ed25519PrivateKey.from_private_bytes(secret).public_key().public_bytes_raw() == public
    assert is_signed(public, b"\x72", signature)
    assert not is_signed(public, b"\x73", signature)


def test_a_head_reads_back_from_its_text_however_it_is_wrapped(key: MachineKey) -> None:
    made = head(key, 120)

    assert head_of(str(made)) == made
    assert head_of(str(made).replace(" ", "\n   ")) == made
    assert made.is_signed
    assert stat.S_IMODE(key.path.stat().st_mode) == 0o600
    # By hand, as somebody without this program would: the signature is over the line up to it.
    line, _, signature = str(made).rpartition(" ")
    public = Ed25519PublicKey.from_public_bytes(urlsafe_b64decode(line.split()[5] + "="))
    public.verify(urlsafe_b64decode(signature + "=="), line.encode())


def test_no_part_of_a_head_can_be_changed(key: MachineKey) -> None:
    made = head(key, 120)
    for changed in (
        replace(made, size=119),
        replace(made, root=b"y" * 32),
        replace(made, exam="20251125-k3v9xq2n"),
        replace(made, number=1),
        replace(made, at=AT.replace("30", "31")),
        replace(made, key=Ed25519PrivateKey.generate().public_key().public_bytes_raw()),
    ):
        assert head_of(str(changed)) == changed
        assert not changed.is_signed


@pytest.mark.parametrize(
    "text", ["", "x", "voicelog-head-1 1 2 3", "voicelog-head-2 " + "x " * 6, "\x1b[31m" * 9]
)
def test_what_is_no_head_is_said_in_one_line(text: str) -> None:
    with pytest.raises(RecordError, match="is no head of a record") as raised:
        head_of(text)
    assert "\n" not in str(raised.value)
    assert "\x1b" not in str(raised.value)


def test_a_key_that_is_none_is_said(key: MachineKey) -> None:
    key.path.parent.mkdir()
    key.path.write_bytes(b"short")

    with pytest.raises(RecordError, match="no key of this program"):
        head(key, 1)


def test_every_event_has_its_head_and_every_exam_keeps_one(folder: Path) -> None:
    with Journal.open(folder) as journal:
        dictated(journal, reference="one")
        dictated(journal, reference="two")
        heads = journal.heads.kept().heads
    file = HeadFile(folder, "voicelog")

    assert [each.size for each in heads] == list(range(1, 23))
    assert all(each.is_signed for each in heads)
    assert [line.split()[1] for line in file.path.read_text().splitlines()] == ["11", "22"]
    for path in (file.path, file.tail):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_line_that_was_never_finished_is_no_damage(tmp_path: Path, key: MachineKey) -> None:
    file = HeadFile(tmp_path, "voicelog")
    file.add(head(key, 1))
    for count in (1, 10, 100, 199):
        with file.tail.open("a") as tail:
            tail.write(str(head(key, 2))[:count])
        assert file.kept().damaged == 0
        file.add(head(key, 3))
        assert [each.size for each in file.kept().heads] == [1, 3], count
        assert file.kept().damaged == 0
    with file.tail.open("a") as tail:
        tail.write("something else\n")
    assert file.kept().damaged == 1


def test_a_long_tail_is_shortened_and_nothing_of_use_is_lost(
    tmp_path: Path, key: MachineKey, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(head_file, "_LONG_BYTES", 5000)
    monkeypatch.setattr(head_file, "_TAIL_LINES", 10)
    file = HeadFile(tmp_path, "voicelog")
    for size in range(1, 101):
        file.add(head(key, size, f"20251125-{size // 7:08}"))

    sizes = [each.size for each in file.kept().heads]

    assert file.tail.stat().st_size < 6000
    assert sizes[-10:] == list(range(91, 101))
    assert {6, 13, 20, 27, 34, 41, 48, 55, 62, 69, 76, 83, 90} <= set(sizes)


def test_what_the_disk_refuses_stops_no_entry(journal: Journal, folder: Path) -> None:
    """The event is kept; that its head is not is said by `verify`."""
    store, session = dictated(journal)
    tail = journal.heads.tail
    tail.unlink()
    tail.mkdir()

    session.type_line("acuity right eye six nine")

    assert len(journal.rows(store.exam)) == 12
    assert any(str(journal.heads.path) in note for note in verify(journal).noted)


def test_the_second_folder_gets_the_heads_of_exams(folder: Path) -> None:
    second = folder / "second"
    second.mkdir(parents=True)
    with Journal.open(folder / "data", heads_folder=second) as journal:
        dictated(journal)
        dictated(journal)
    with Journal.open(folder / "data", heads_folder=second) as journal:
        dictated(journal)

    here, there = (folder / "data" / "voicelog.heads"), (second / "voicelog.heads")
    assert there.read_bytes() == here.read_bytes()
    assert len(here.read_text().splitlines()) == 3


def test_a_second_folder_that_is_not_there_is_noted(folder: Path) -> None:
    with Journal.open(folder / "data", heads_folder=folder / "unplugged") as journal:
        dictated(journal)
        journal.heads.carry()

        assert any("unplugged: cannot be reached" in note for note in verify(journal).noted)
        assert verify(journal).faults == ()


def test_a_second_folder_that_hangs_holds_nothing_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def hangs(*_: object) -> bytes:
        time.sleep(2)
        return b""

    monkeypatch.setattr(head_file, "_part", hangs)
    second = tmp_path / "second"
    second.mkdir()
    file = HeadFile(tmp_path, "voicelog", second)
    file.path.write_text("x\n")
    started = time.monotonic()

    file._copied(0.2)

    assert time.monotonic() - started < 1.5
    assert file.trouble is not None


def test_a_restored_record_begins_its_heads_anew(journal: Journal, tmp_path: Path) -> None:
    """What was there before no longer holds, and yet its heads say so when they are held against the record."""
    dictated(journal, reference="one")
    backup(journal, tmp_path / "copy")
    dictated(journal, reference="two")
    before = journal.head()

    restore(tmp_path / "copy", journal, replace=True)
    dictated(journal, reference="three")

    assert verify(journal).faults == ()
    assert before is not None
    found = prove(journal, [before])
    assert "was changed, taken out" in str(found.faults[0])
    assert "a backup took the record's place" in found.notes[0]


def test_a_backup_holds_its_head(journal: Journal, tmp_path: Path) -> None:
    dictated(journal)
    backup(journal, tmp_path / "copy")
    dictated(journal)

    (found,) = heads_in([str(tmp_path / "copy" / "head.txt")])

    assert found.size == 11
    assert prove(journal, [found]).faults == ()
    manifest = tmp_path / "copy" / "backup.json"
    manifest.write_text(manifest.read_text().replace(str(found), str(journal.head())))
    with Journal.open(tmp_path / "new") as new, pytest.raises(RecordError, match="states another head"):
        restore(tmp_path / "copy", new)


def test_a_proof_can_be_checked_without_the_record(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    then = journal.head()
    dictated(journal)
    assert then is not None

    found = proof(journal, then, store.exam)

    now = head_of(found["now"])
    path = [bytes.fromhex(each) for each in found["consistency"]]
    assert is_consistent(then.size, then.root, now.size, now.root, path)
    assert not is_consistent(then.size, b"x" * 32, now.size, now.root, path)
    salt = bytes.fromhex(found["exam"]["salt"])
    for each in found["exam"]["events"]:
        said = bytes.fromhex(each["listed"])
        leaf = leaf_by_hand(salt, each["hash"], said)
        path = [bytes.fromhex(one) for one in each["inclusion"]]
        assert is_included(leaf, each["index"], now.size, path, now.root)
        assert not is_included(leaf_by_hand(salt, "0" * 64, said), each["index"], now.size, path, now.root)
    assert [row.hash for row in journal.rows(store.exam)] == [
        each["hash"] for each in found["exam"]["events"]
    ]


def leaf_by_hand(salt: bytes, hash_: str, listed: bytes) -> bytes:
    """As docs/record.md describes it, with the standard library alone."""
    import hashlib
    import hmac

    return hashlib.sha256(b"\0" + hmac.new(salt, hash_.encode() + listed, hashlib.sha256).digest()).digest()


def test_proofs_of_every_size_hold(journal: Journal) -> None:
    """From the trees that are kept, which grow with the log."""
    heads = []
    for _ in range(3):
        dictated(journal)
        heads.append(journal.head())
    for each in journal.heads.kept().heads:
        path = [bytes.fromhex(one) for one in proof(journal, each)["consistency"]]
        last = heads[-1]
        assert last is not None
        assert is_consistent(each.size, each.root, last.size, last.root, path)


def test_a_bit_flipped_in_the_write_ahead_file_of_a_killed_program_is_named(folder: Path) -> None:
    """SQLite drops in silence what lies behind it; the heads say how much there was, and what."""
    random = Random(5)
    journal = Journal.open(folder / "data")
    store, _ = dictated(journal)
    good, rows = verify(journal).digest, journal.rows(store.exam)
    shutil.copytree(folder / "data", folder / "killed")  # as it lies there when the program is killed now
    journal.close()
    lost = 0
    for trial in range(40):
        copy = folder / str(trial)
        shutil.copytree(folder / "killed", copy)
        path = copy / "voicelog.db-wal"
        raw = bytearray(path.read_bytes())
        raw[random.randrange(len(raw))] ^= 1 << random.randrange(8)
        path.write_bytes(raw)
        (copy / "voicelog.db-shm").unlink(missing_ok=True)

        try:
            with Journal.open(copy) as again:
                verdict = verify(again)
                left = len(again.rows(store.exam)) if again.names() else 0
        except RecordError:
            continue
        if verdict.digest == good:
            continue
        lost += 1
        gone = f"events {left} to 10" if left < 10 else "event 10"
        assert any(
            f"exam {store.exam}, {gone} ({len(rows) - left} in all)" in str(each) for each in verdict.faults
        )
    assert lost > 10


def test_an_exam_is_in_the_database_itself_when_the_next_begins(folder: Path) -> None:
    with Journal.open(folder / "data") as journal:
        store, _ = dictated(journal)
        journal.begin()
        shutil.copy(folder / "data" / "voicelog.db", folder / "alone.db")
    with closing(sqlite3.connect(folder / "alone.db")) as alone:
        found = alone.execute("SELECT count(*) FROM event WHERE exam = ?", (store.exam,)).fetchone()
    assert found == (11,)
