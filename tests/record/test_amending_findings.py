"""Findings are put right afterwards as by a spoken correction: what is left unsaid stays."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.english import load
from voicelog.errors import VoicelogError
from voicelog.record.acts import amendment
from voicelog.record.journal import Journal

from .cases import dictated

NOW = datetime(2025, 11, 26, 9, 0, tzinfo=UTC)
LINES = (
    "right eye",
    "acuity unaided 6/60 -2",
    "refined -2 -1 x 90",
    "spectacles left +1 addition +2",
    "drops tropicamide 1% both at 9:05",
    "refined left eye sphere -1",
)


@pytest.mark.parametrize(
    ("entry", "phrase", "now"),
    [
        ("2", "acuity 6/36", "right eye: acuity unaided 6/36"),
        ("2", "acuity left aided 6/36", "left eye: acuity with spectacles worn 6/36"),
        ("3", "refined cylinder -2", "right eye: subjective -2.00 -2.00 x 090"),
        ("3", "refined sphere -3", "right eye: subjective -3.00 -1.00 x 090"),
        ("4", "spectacles +1.25", "left eye: spectacles worn +1.25 DS, addition +2.00"),
        (
            "5",
            "drops tropicamide 0.5%",
            "both eyes: drops tropicamide 0.5 %, at 9:05; readings from here on are wet",
        ),
    ],
)
def test_what_is_left_unsaid_stays(tmp_path: Path, entry: str, phrase: str, now: str) -> None:
    with Journal.open(tmp_path) as journal:
        store, _ = dictated(journal, LINES, at=NOW)
        record = journal.exam(store.exam)
        event = amendment(record, NOW, by="AB", reason="misheard", entry=entry, phrase=phrase, grammar=load())

    assert event.value is not None
    assert event.value.words() == now
    assert event.entry == entry


@pytest.mark.parametrize(
    ("entry", "phrase", "why"),
    [
        ("6", "refined cylinder -2", "which axis has the cylinder"),
        ("2", "acuity 6/0.1", "beyond every chart"),
        ("2", "refined sphere -2", "is an acuity entry, not refined"),
    ],
)
def test_what_cannot_be_is_one_line(tmp_path: Path, entry: str, phrase: str, why: str) -> None:
    with Journal.open(tmp_path) as journal:
        store, session = dictated(journal, LINES, at=NOW)
        record = journal.exam(store.exam)
        with pytest.raises(VoicelogError, match=why):
            store.append(
                amendment(record, NOW, by="AB", reason="misheard", entry=entry, phrase=phrase, grammar=load())
            )

    assert len(session.state.ledger.rows) == len(LINES)
