"""The worked examples of DEVELOPERS.md do what is said of them."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.english import load
from voicelog.exam.entries import BaseFinding, Context
from voicelog.exam.questions import NeedsAnswer
from voicelog.hearing.engines.protocol import Engine
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import load_named
from voicelog.record.export import formats
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

TEXT = (Path(__file__).parent.parent / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(heading: str, kind: str) -> Iterator[str]:
    """The blocks of code of one kind under a heading."""
    section = TEXT.split(f"\n### {heading}\n")[1].split("\n## ")[0].split("\n### ")[0]
    yield from re.findall(rf"^```{kind}\n(.*?)^```", section, re.DOTALL | re.MULTILINE)


def run(heading: str) -> dict[str, Any]:
    """What the one Python block under a heading defines."""
    (code,) = blocks(heading, "python")
    names: dict[str, Any] = {"__name__": "example"}
    exec(compile(code, heading, "exec"), names)
    return names


def test_a_finding() -> None:
    names = run("Adding a kind of finding")
    entry_class, said_class = names["PressureEntry"], names["PressureSaid"]
    session = Session()
    context = Context(session.state.standing, say.Note(text="pressure sixteen"))
    with pytest.raises(NeedsAnswer, match="which eye"):
        entry_class.from_meaning(said_class(size_mmhg=16), context)
    session.type_line("left eye")
    context = Context(session.state.standing, say.Note(text="pressure sixteen"))
    entry = entry_class.from_meaning(said_class(size_mmhg=16), context)

    assert isinstance(entry, BaseFinding)
    assert entry.words() == "left eye: pressure 16 mmHg"
    with pytest.raises(NeedsAnswer, match="not within 0 to 80"):
        entry_class.from_meaning(said_class(size_mmhg=160), context)


def test_an_export(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    new = run("Adding an export")["NEUTRAL"]
    monkeypatch.setattr(formats, "FORMATS", {**FORMATS, new.name: new})
    with Journal.open(tmp_path / "data") as journal:
        store = journal.begin()
        session = Session(store=store)
        for line in (
            "right eye",
            "streak vertical with at plus one",
            "streak vertical neutral at plus two",
            "acuity six nine",
        ):
            session.type_line(line)
        told = exported(journal, store.exam, formats.FORMATS["neutral"]).decode()

    assert told == "right eye: streak vertical (power along 180) neutral, sphere +2.00\n"


def test_a_language(tmp_path: Path) -> None:
    folder = tmp_path / "it"
    folder.mkdir()
    (settings,) = blocks("Adding a language", "toml")
    (grammar,) = blocks("Adding a language", "jsgf")
    (folder / "language.toml").write_text(settings, encoding="utf-8")
    (folder / "exam.jsgf").write_text(grammar, encoding="utf-8")
    session = Session(Settings(language=str(folder)), grammar=load_named(str(folder)))

    assert session.type_line("occhio sinistro distanza cinquanta").outcome == "accepted"
    assert session.type_line("left eye").outcome == "asked"
    assert (session.state.eye, session.state.distance_cm) == ("left", 50.0)


@pytest.mark.parametrize(
    ("heard", "outcome", "distance_cm"),
    [
        ([("working distance fifty", -1.0), ("working distance fifteen", -9.0)], "accepted", 50.0),
        ([("working distance fifty", -1.0), ("working distance fifteen", -1.5)], "asked", None),
        ([("the weather is fine", -1.0)], "ignored", None),
        ([], "ignored", None),
    ],
)
def test_an_engine(heard: list[tuple[str, float]], outcome: str, distance_cm: float | None) -> None:
    engine: Engine = run("Adding an engine")["AnyEngine"](load(), lambda samples: heard)
    session = Session(engine=engine)
    hearing = engine.hear(np.zeros(16_000, np.float32), session.listened_for)

    assert session.take_heard(hearing).outcome == outcome
    assert session.state.distance_cm == distance_cm
