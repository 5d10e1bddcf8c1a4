"""Triggers that refuse to change or remove what is kept, in both kinds of database, and whether they are there as made.

They keep programs from mistakes. Somebody who may write the file can take them off; what they then do shows in the log.
"""

from typing import Final

from sqlalchemy import Connection, text

_KEPT: Final = "SELECT RAISE(ABORT, 'events are only added, never {}')"

_SQLITE: Final = {
    "event_not_changed": f"BEFORE UPDATE ON event BEGIN {_KEPT.format('changed')}; END",
    "event_not_removed": f"""BEFORE DELETE ON event
       WHEN NOT EXISTS (SELECT 1 FROM erasure WHERE exam = OLD.exam)
       BEGIN {_KEPT.format("removed")}; END""",
    # "INSERT OR REPLACE" removes a row without asking the DELETE trigger, hence those on INSERT.
    "event_in_order": """BEFORE INSERT ON event
       WHEN NEW.number <> (SELECT coalesce(max(number), -1) + 1 FROM event WHERE exam = NEW.exam)
         OR EXISTS (SELECT 1 FROM erasure WHERE exam = NEW.exam)
       BEGIN SELECT RAISE(ABORT, 'events are added at the end of their exam'); END""",
    "exam_not_removed": """BEFORE DELETE ON exam
       WHEN NOT EXISTS (SELECT 1 FROM erasure WHERE exam = OLD.id)
       BEGIN SELECT RAISE(ABORT, 'exams are never removed'); END""",
    "exam_not_renamed": """BEFORE UPDATE OF id ON exam
       BEGIN SELECT RAISE(ABORT, 'exams are never renamed'); END""",
    "exam_not_replaced": """BEFORE INSERT ON exam
       WHEN EXISTS (SELECT 1 FROM exam WHERE id = NEW.id) OR EXISTS (SELECT 1 FROM erasure WHERE exam = NEW.id)
       BEGIN SELECT RAISE(ABORT, 'there is an exam of that name, or there was'); END""",
    "leaf_not_changed": f"BEFORE UPDATE ON leaf BEGIN {_KEPT.format('changed')}; END",
    "leaf_not_removed": f"BEFORE DELETE ON leaf BEGIN {_KEPT.format('removed')}; END",
    "leaf_in_order": """BEFORE INSERT ON leaf
       WHEN NEW.position <> (SELECT coalesce(max(position), 0) + 1 FROM leaf)
       BEGIN SELECT RAISE(ABORT, 'leaves are added at the end of the log'); END""",
    "salt_not_changed": f"BEFORE UPDATE ON salt BEGIN {_KEPT.format('changed')}; END",
    "salt_not_removed": f"""BEFORE DELETE ON salt
       WHEN NOT EXISTS (SELECT 1 FROM erasure WHERE exam = OLD.exam)
       BEGIN {_KEPT.format("removed")}; END""",
    "salt_not_replaced": """BEFORE INSERT ON salt
       WHEN EXISTS (SELECT 1 FROM salt WHERE exam = NEW.exam)
       BEGIN SELECT RAISE(ABORT, 'the exam has its salt'); END""",
    "erasure_not_changed": f"BEFORE UPDATE ON erasure BEGIN {_KEPT.format('changed')}; END",
    "erasure_not_removed": f"BEFORE DELETE ON erasure BEGIN {_KEPT.format('removed')}; END",
    "erasure_not_replaced": """BEFORE INSERT ON erasure
       WHEN EXISTS (SELECT 1 FROM erasure WHERE exam = NEW.exam)
       BEGIN SELECT RAISE(ABORT, 'the exam was erased before'); END""",
}

_REFUSED: Final = "RAISE EXCEPTION 'events and exams are only added, never changed or removed';"
_FUNCTIONS: Final = {
    "voicelog_refuse": f"BEGIN {_REFUSED} END",
    "voicelog_unless_erased": f"""BEGIN
         IF NOT EXISTS (SELECT 1 FROM erasure WHERE exam = to_jsonb(OLD) ->> TG_ARGV[0]) THEN
           {_REFUSED}
         END IF;
         RETURN OLD;
       END""",
    "voicelog_in_order": """BEGIN
         IF NEW.number <> (SELECT coalesce(max(number), -1) + 1 FROM event WHERE exam = NEW.exam)
            OR EXISTS (SELECT 1 FROM erasure WHERE exam = NEW.exam) THEN
           RAISE EXCEPTION 'events are added at the end of their exam';
         END IF;
         RETURN NEW;
       END""",
    "voicelog_not_erased": """BEGIN
         IF EXISTS (SELECT 1 FROM erasure WHERE exam = NEW.id) THEN
           RAISE EXCEPTION 'an exam of that name was erased: events and exams are only added';
         END IF;
         RETURN NEW;
       END""",
    "voicelog_leaf_in_order": """BEGIN
         IF NEW.position <> (SELECT coalesce(max(position), 0) + 1 FROM leaf) THEN
           RAISE EXCEPTION 'leaves are added at the end of the log';
         END IF;
         RETURN NEW;
       END""",
}
_POSTGRESQL: Final = {
    "event_not_changed": "BEFORE UPDATE OR TRUNCATE ON event FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()",
    "event_not_removed": "BEFORE DELETE ON event FOR EACH ROW EXECUTE FUNCTION voicelog_unless_erased('exam')",
    "event_in_order": "BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION voicelog_in_order()",
    "exam_not_removed": "BEFORE DELETE ON exam FOR EACH ROW EXECUTE FUNCTION voicelog_unless_erased('id')",
    "exam_not_emptied": "BEFORE TRUNCATE ON exam FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()",
    "exam_not_renamed": "BEFORE UPDATE OF id ON exam FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()",
    "exam_not_erased": "BEFORE INSERT ON exam FOR EACH ROW EXECUTE FUNCTION voicelog_not_erased()",
    "leaf_not_changed": """BEFORE UPDATE OR DELETE OR TRUNCATE ON leaf
       FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()""",
    "leaf_in_order": "BEFORE INSERT ON leaf FOR EACH ROW EXECUTE FUNCTION voicelog_leaf_in_order()",
    "salt_not_changed": "BEFORE UPDATE OR TRUNCATE ON salt FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()",
    "salt_not_removed": "BEFORE DELETE ON salt FOR EACH ROW EXECUTE FUNCTION voicelog_unless_erased('exam')",
    "erasure_not_changed": """BEFORE UPDATE OR DELETE OR TRUNCATE ON erasure
       FOR EACH STATEMENT EXECUTE FUNCTION voicelog_refuse()""",
}
_POSTGRESQL_THERE: Final = text("""
    SELECT t.tgname, pg_get_triggerdef(t.oid), t.tgenabled, p.prosrc
    FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid
    WHERE NOT t.tgisinternal AND t.tgrelid IN (
      SELECT oid FROM pg_class WHERE relnamespace = current_schema()::regnamespace
    )""")


def renew(connection: Connection) -> None:
    """Make all guards as they are meant, whatever there is of them."""
    if connection.dialect.name == "postgresql":
        for name, body in _FUNCTIONS.items():
            _run(
                connection,
                f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$",
            )
        for name, what in _POSTGRESQL.items():
            _run(connection, f"CREATE OR REPLACE TRIGGER {name} {what}")
        return
    for name, what in _SQLITE.items():
        _run(connection, f"DROP TRIGGER IF EXISTS {name}")
        _run(connection, f"CREATE TRIGGER {name} {what}")


def faults(connection: Connection) -> list[str]:
    """What is wrong with the guards, in words."""
    if connection.dialect.name == "postgresql":
        return _postgresql_faults(connection)
    triggers = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    there: dict[str, str] = dict(triggers.all())
    wanted = {name: f"CREATE TRIGGER {name} {what}" for name, what in _SQLITE.items()}
    return [
        fault for name, sql in wanted.items() for fault in _fault(name, there.get(name) == sql, name in there)
    ]


def _postgresql_faults(connection: Connection) -> list[str]:
    there = {name: rest for name, *rest in connection.execute(_POSTGRESQL_THERE)}
    found = []
    for name, what in _POSTGRESQL.items():
        if name not in there or there[name][1] != "O":
            found += _fault(name, False, False)
            continue
        definition, _, body = there[name]
        function = what.rsplit("EXECUTE FUNCTION ", 1)[1].partition("(")[0]
        same = _plain(definition) == _plain(f"CREATE TRIGGER {name} {what}") and body == _FUNCTIONS[function]
        found += _fault(name, same, True)
    return found


def _fault(name: str, same: bool, there: bool) -> list[str]:
    if same:
        return []
    return [f"the trigger {name} is not as it was made" if there else f"the trigger {name} is not there"]


def _plain(definition: str) -> list[str]:
    """The words of a definition, in any order of the events: a server lists them in its own, with the schema."""
    words = definition.replace("public.", "").split()
    return sorted(words)


def _run(connection: Connection, statement: str) -> None:
    connection.exec_driver_sql(statement)
