"""What somebody with the database in hands can do, and by what each of it shows; docs/record.md has it as a table."""

import ast
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import make_url, text

from voicelog.record.events import Attested
from voicelog.record.heads import Head
from voicelog.record.journal import Journal
from voicelog.record.proving import prove
from voicelog.record.verifying import verify

from .attackers import log_again, rewritten, shortened, taken_out, unguarded
from .cases import MORNING, NOON, dictated

KINDS = ("file", "server")


class Record:
    """Three exams, "first" to "third", the second attested; with a second folder for the heads."""

    def __init__(self, place: Path, server: str | None) -> None:
        self.place, self.server = place / "data", server
        self.second = place / "second"
        self.second.mkdir()
        with self.opened() as journal:
            for name in ("first", "second", "third"):
                store, _ = dictated(journal, reference=name, at=MORNING)
                if name == "second":
                    assert store.record is not None
                    store.append(Attested(number=store.record.next_number, at=NOON, by="AB"))
            self.names = [journal.find(name) for name in ("first", "second", "third")]
            head = journal.head()
            assert head is not None
            self.head: Head = head

    def opened(self) -> Journal:
        return Journal.open(self.place, self.server, heads_folder=self.second)

    def kept_aside(self) -> Callable[[], None]:
        """A copy of folder and database as they are now; calling it puts both back."""
        older = shutil.copytree(self.place, self.place.parent / "older")
        on_server(self.server, "CREATE DATABASE {name}_older TEMPLATE {name}")

        def put_back() -> None:
            shutil.rmtree(self.place)
            shutil.copytree(older, self.place)
            on_server(
                self.server,
                "DROP DATABASE {name} WITH (FORCE)",
                "CREATE DATABASE {name} TEMPLATE {name}_older",
                "DROP DATABASE {name}_older",
            )

        return put_back


def on_server(server: str | None, *statements: str) -> None:
    """What somebody else does with a whole database, of whose record nobody has it open; nothing for a file."""
    if server is None:
        return
    psycopg = pytest.importorskip("psycopg")
    name = make_url(server).database
    assert name is not None
    with psycopg.connect(server.replace(f"/{name}?", "/postgres?"), autocommit=True) as connection:
        for each in statements:
            connection.execute(each.format(name=name))


@pytest.fixture(name="record", params=KINDS)
def _record(request: pytest.FixtureRequest, folder: Path) -> Record:
    server = request.getfixturevalue("database_url") if request.param == "server" else None
    return Record(folder.parent, server)


def faults(record: Record) -> list[str]:
    with record.opened() as journal:
        return [str(fault) for fault in verify(journal).faults]


def test_a_record_that_nobody_touched_has_no_fault(record: Record) -> None:
    assert faults(record) == []
    with record.opened() as journal:
        found = prove(journal, [record.head])
    assert (found.faults, found.notes, found.verdict.size) == ((), (), 34)


def last_events(journal: Journal, names: list[str]) -> None:
    shortened(journal, names[2], 3)


def whole_exam(journal: Journal, names: list[str]) -> None:
    taken_out(journal, names[1])


def new_hashes(journal: Journal, names: list[str]) -> None:
    rewritten(journal, names[0], "one twenty", "one thirty")


def older_copy(journal: Journal, names: list[str]) -> None:
    shortened(journal, names[1], 1)  # the attestation


PLAIN: list[tuple[Callable[[Journal, list[str]], None], int, str]] = [
    (last_events, 2, "events 8 to 10 gone: the log has what the record does not"),
    (whole_exam, 1, "events 0 to 11 gone: the log has what the record does not"),
    (new_hashes, 0, "event 3: it is not what the log says was kept: it was written anew"),
    (older_copy, 1, "event 11 gone: the log has what the record does not"),
]


@pytest.mark.parametrize(("attack", "which", "what"), PLAIN)
def test_what_was_done_to_exams_alone_shows_in_the_log(
    record: Record, attack: Callable[[Journal, list[str]], None], which: int, what: str
) -> None:
    with record.opened() as journal:
        attack(journal, record.names)

    found = faults(record)

    assert any(record.names[which] in fault and fault.endswith(what) for fault in found), found


BEFORE, UP_TO = "what was kept behind exam {}, event {}", "up to exam {}, event {}"
THOROUGH: list[tuple[Callable[[Journal, list[str]], None], tuple[str, int, int], tuple[str, int, int]]] = [
    (whole_exam, (BEFORE, 0, 10), (UP_TO, 1, 0)),
    (new_hashes, (BEFORE, 0, 2), (UP_TO, 0, 3)),
    (older_copy, (BEFORE, 1, 10), (UP_TO, 1, 11)),
]


@pytest.mark.parametrize(("attack", "before", "up_to"), THOROUGH)
def test_what_was_done_to_the_log_as_well_shows_by_the_heads(
    record: Record,
    attack: Callable[[Journal, list[str]], None],
    before: tuple[str, int, int],
    up_to: tuple[str, int, int],
) -> None:
    """By those beside the database; once these are gone too, by those in the second folder, exam by exam."""
    with record.opened() as journal:
        attack(journal, record.names)
        log_again(journal)

    (fault, *_) = faults(record)
    for phrase, which, number in (before, up_to):
        assert phrase.format(record.names[which], number) in fault

    for path in (*record.place.glob("*.heads"), *record.place.glob("*.tail")):
        path.unlink()
    found = faults(record)
    assert found
    assert all(str(record.second) in fault for fault in found)


def test_last_events_taken_from_the_log_as_well_are_named(record: Record) -> None:
    with record.opened() as journal:
        last_events(journal, record.names)
        log_again(journal)

    found = faults(record)

    what = f"gone from the end of the record: exam {record.names[2]}, "
    assert len(found) == 2  # by the heads here, event by event, and by the last one in the second folder
    assert found[0].endswith(f"{what}events 8 to 10 (3 in all)")
    assert found[1].endswith(f"{what}event 10 (3 in all)")


def test_exams_put_in_another_order_are_found(record: Record) -> None:
    with record.opened() as journal:
        log_again(journal, swapped=(record.names[0], record.names[1]))

    assert "put in another order" in faults(record)[0]


def test_rows_of_the_log_put_in_another_order_are_found(record: Record) -> None:
    with record.opened() as journal, unguarded(journal) as connection:
        connection.execute(text("UPDATE leaf SET position = -1 WHERE position = 5"))
        connection.execute(text("UPDATE leaf SET position = 5 WHERE position = 6"))
        connection.execute(text("UPDATE leaf SET position = 6 WHERE position = -1"))

    assert any("its hashes in the log do not fit those before" in fault for fault in faults(record))


def test_a_changed_result_in_the_list_is_found(record: Record) -> None:
    with record.opened() as journal, unguarded(journal) as connection:
        connection.execute(
            text("UPDATE exam SET right_result = '+9.00 DS' WHERE id = :id"), {"id": record.names[0]}
        )

    what = "the list differs from what the events give in right_result (verify --refresh puts it right)"
    assert faults(record) == [f"exam {record.names[0]}: {what}"]


def test_a_guard_taken_off_is_missed(record: Record) -> None:
    with record.opened() as journal, journal.database.writing() as connection:
        table = "" if record.server is None else " ON event"
        connection.execute(text(f"DROP TRIGGER event_not_changed{table}"))

    assert faults(record) == ["the trigger event_not_changed is not there"]


def test_a_guard_that_does_nothing_is_found(record: Record) -> None:
    with record.opened() as journal, journal.database.writing() as connection:
        if record.server is None:
            connection.execute(text("DROP TRIGGER event_not_changed"))
            connection.execute(
                text("CREATE TRIGGER event_not_changed BEFORE UPDATE ON event BEGIN SELECT 1; END")
            )
        else:
            empty = "BEGIN RETURN NULL; END"
            connection.execute(
                text(
                    f"CREATE OR REPLACE FUNCTION voicelog_refuse() RETURNS trigger LANGUAGE plpgsql AS '{empty}'"
                )
            )

    assert "the trigger event_not_changed is not as it was made" in faults(record)


def test_an_event_added_past_the_program_is_found(record: Record) -> None:
    with record.opened() as journal, unguarded(journal) as connection:
        connection.execute(text("DELETE FROM leaf WHERE position = 34"))

    found = faults(record)

    assert f"exam {record.names[2]}, event 10: it is not in the log" in found


def test_another_salt_is_found(record: Record) -> None:
    with record.opened() as journal, unguarded(journal) as connection:
        connection.execute(
            text("UPDATE salt SET salt = :salt WHERE exam = :id"), {"salt": b"x" * 32, "id": record.names[1]}
        )

    assert any(f"exam {record.names[1]}, event 0" in fault for fault in faults(record))


def test_an_erasure_that_nobody_did_is_found(record: Record) -> None:
    with record.opened() as journal:
        taken_out(journal, record.names[1])
        with unguarded(journal) as connection:
            connection.execute(
                text(
                    "INSERT INTO erasure SELECT :id, 12, at, 'erased', '{}', hash FROM event WHERE exam = :other AND number = 0"
                ),
                {"id": record.names[1], "other": record.names[0]},
            )

    assert f"exam {record.names[1]}, event 12: that it was erased is not as it was written" in faults(record)


def test_an_earlier_head_names_what_was_changed_since(record: Record) -> None:
    """A head on paper: held against the record after more exams were kept, and after an attack."""
    with record.opened() as journal:
        dictated(journal, reference="fourth")
        good = prove(journal, [record.head])
        rewritten(journal, record.names[0], "one twenty", "one thirty")
        log_again(journal)
        bad = prove(journal, [record.head])

    assert (good.faults, good.verdict.faults, good.verdict.size) == ((), (), 45)
    (fault,) = bad.faults
    assert f"behind exam {record.names[0]}, event 2" in str(fault)
    assert f"up to exam {record.names[0]}, event 3" in str(fault)


def test_a_rollback_of_the_whole_folder_shows_by_any_head_outside(record: Record) -> None:
    """Database, heads and key put back to what they were: a head on paper and the second folder both tell."""
    put_back = record.kept_aside()
    with record.opened() as journal:
        dictated(journal, reference="fourth")
        head = journal.head()
    put_back()

    found = faults(record)
    with Journal.open(record.place, record.server) as journal:
        alone = verify(journal)
        assert head is not None
        proved = prove(journal, [head])

    assert [fault.endswith("(11 in all)") and str(record.second) in fault for fault in found] == [True]
    assert alone.faults == ()
    assert [str(fault).endswith("(11 in all)") for fault in proved.faults] == [True]
    # What was entered since does not cover it up, there either.
    with record.opened() as journal:
        dictated(journal, reference="fifth")
        dictated(journal, reference="sixth")
    assert "was changed, taken out or put in another order" in faults(record)[0]


def test_a_database_put_back_alone_shows_by_the_heads_beside_it(record: Record) -> None:
    put_back = record.kept_aside()
    with record.opened() as journal:
        dictated(journal, reference="fourth")
    heads = {
        path: path.read_bytes() for path in (*record.place.glob("*.heads"), *record.place.glob("*.tail"))
    }
    put_back()
    for path, content in heads.items():
        path.write_bytes(content)

    with Journal.open(record.place, record.server) as journal:
        found = [str(fault) for fault in verify(journal).faults]

    assert [fault.endswith("(11 in all)") for fault in found] == [True]


def test_a_record_taken_away_whole_is_missed(record: Record) -> None:
    for path in record.place.glob("voicelog.db*"):
        path.unlink()
    on_server(record.server, "DROP DATABASE {name} WITH (FORCE)", "CREATE DATABASE {name}")

    assert any(fault.endswith("(34 in all)") for fault in faults(record))


def test_a_head_that_was_changed_is_found(record: Record) -> None:
    (path,) = record.place.glob("*.tail")
    lines = path.read_text().splitlines()
    words = lines[-1].split()
    lines[-1] = " ".join([words[0], str(int(words[1]) - 1), *words[2:]])
    path.write_text("\n".join(lines) + "\n")

    assert any("is not signed by the key that it names" in fault for fault in faults(record))


def test_heads_of_another_key_are_told(record: Record) -> None:
    """Who takes the key away and makes the heads anew has other signatures than those on paper."""
    (record.place / "voicelog.key").unlink()
    with record.opened() as journal:
        found = prove(journal, [record.head])

    assert found.faults == ()
    assert "is signed by another machine's key" in found.notes[0]


def test_every_row_of_the_table_names_its_tests_and_what_they_run_on() -> None:
    """What is the database's own matter alike on a file and on a server, what is a file's own on the file."""
    document = (Path(__file__).parents[2] / "docs" / "record.md").read_text("utf-8")
    table = document[document.index("| what was done | what shows it |") :].split("\n\n")[0]
    rows = [line.strip("| ").split(" | ") for line in table.splitlines()[2:]]

    assert len(rows) >= 20
    both = 0
    for what, _, on, named in rows:
        for path, name in re.findall(r"(\w+\.py)::(\w+)", named):
            tree = ast.parse((Path(__file__).parent / path).read_text("utf-8"))
            found = [each for each in tree.body if isinstance(each, ast.FunctionDef) and each.name == name]
            assert found, (what, name)
            if on == "both" and path == "test_attacks.py":
                assert "record" in {each.arg for each in found[0].args.args}, name
        assert "::" in named or named.startswith("the same, `"), what
        both += on == "both"
    assert both >= 15
