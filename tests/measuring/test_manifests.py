"""Manifests: what they mean, how rows are drawn, and what is said when one cannot be used."""

from collections import Counter
from pathlib import Path

import pytest

from tests.english import load
from tests.measuring.made_up import row
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.manifests import (
    EXAM_RULES,
    Expecting,
    Row,
    halves,
    of_voices,
    read_manifest,
    refuse_missing,
    sampled,
)
from voicelog.phrases.meanings import Answer, Digit, Eye


def written(folder: Path, text: str) -> Path:
    """A manifest with this text."""
    path = folder / "manifest.tsv"
    path.write_text(text.replace(" | ", "\t"), encoding="utf-8")
    return path


def rows_of(folder: Path, text: str, *rules: str) -> list[Row]:
    """The rows of a manifest with this text."""
    return read_manifest(written(folder, text), Expecting(load(), rules or (EXAM_RULES,)))


def test_a_row_means_what_its_transcript_means(tmp_path: Path) -> None:
    text = "path | transcript | speaker\na.flac | right eye | ann\n\nb/c.flac | good morning | bob\nd.flac |  | bob\n"
    first, second, third = rows_of(tmp_path, text.replace(" |  | ", "\t\t"))

    assert first.expected == (Eye(eye="right"),)
    assert first.path == tmp_path / "a.flac"
    assert (second.expected, second.transcript) == (None, "good morning")
    assert (third.expected, third.transcript) == (None, "")
    assert {each.set_name for each in (first, second, third)} == {tmp_path.name}


def test_optional_columns_in_any_order(tmp_path: Path) -> None:
    text = "speaker | snr_db | split | set | path | transcript | condition | rule\n"
    (only,) = rows_of(tmp_path, text + 'ann | -5 | tuning | words | a"b.flac | seven | noise | digit\n')

    assert (only.snr_db, only.split, only.set_name, only.condition) == (-5.0, "tuning", "words", "noise")
    assert (only.rule, only.expected, only.path.name) == ("digit", (Digit(digit=7),), 'a"b.flac')


def test_the_first_rule_that_has_the_transcript_is_listened_for(tmp_path: Path) -> None:
    text = "path | transcript | speaker\na | seven | ann\nb | yes | ann\nc | left | ann\n"
    found = rows_of(tmp_path, text, "digit", "answer")

    assert [each.rule for each in found] == ["digit", "answer", "digit"]
    assert [each.expected for each in found] == [(Digit(digit=7),), (Answer(answer="yes"),), None]


HEADER = "path | transcript | speaker"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "lacks the column 'path'"),
        ("path | transcript\na | b\n", "lacks the column 'speaker'"),
        (f"{HEADER} | snr\na | b | c | 5\n", "unknown column 'snr'"),
        (f"{HEADER} | path\na | b | c | d\n", "names a column twice"),
        (f"{HEADER}\n", "holds no row"),
        (f"{HEADER}\na | right eye\n", "line 2: 2 columns, its header has 3"),
        (f"{HEADER}\na | right eye | x\n\t | right eye | x\n", "line 3: 4 columns"),
        (f"{HEADER}\n\tright eye | x\n", "line 2: no path"),
        (f"{HEADER}\na | right eye\t\n", "line 2: no speaker"),
        (f"{HEADER} | snr_db\na | b | c | loud\n", "line 2: snr_db 'loud' is not a number of decibels"),
        (f"{HEADER} | snr_db\na | b | c | nan\n", "line 2: snr_db 'nan'"),
        (f"{HEADER} | split\na | b | c | train\n", "line 2: split 'train' is neither 'tuning' nor 'test'"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(MeasuringError) as error:
        rows_of(tmp_path, text)

    assert message in str(error.value)
    assert "\n" not in str(error.value)


def test_places_that_hold_no_manifest(tmp_path: Path) -> None:
    (tmp_path / "binary.tsv").write_bytes(b"\xff\xfe\x00")

    for name in ("missing.tsv", "binary.tsv", ""):
        with pytest.raises(MeasuringError, match="no manifest can be read there"):
            read_manifest(tmp_path / name, Expecting(load()))


def test_missing_recordings_are_counted() -> None:
    with pytest.raises(MeasuringError, match=r"2 of 2 recordings are missing, the first is a\.flac"):
        refuse_missing([row("right eye"), row("left eye")])


def test_a_sample_is_even_over_speakers_and_the_same_for_a_seed() -> None:
    rows = [
        row("right eye", speaker=speaker, snr_db=snr_db)
        for snr_db in (None, 10.0)
        for speaker, count in (("ann", 50), ("bob", 5), ("cy", 50))
        for _ in range(count)
    ]
    # Rows are told apart by their place alone.
    places = {id(each): at for at, each in enumerate(rows)}
    one, again, other = ([places[id(each)] for each in sampled(rows, 12, seed)] for seed in (1, 1, 2))

    assert one == again != other
    assert one == sorted(one)
    assert Counter((rows[at].speaker, rows[at].snr_db) for at in one) == {
        (speaker, snr_db): 4 for speaker in ("ann", "bob", "cy") for snr_db in (None, 10.0)
    }
    assert len(sampled(rows, 1000, 1)) == len(rows)


def test_voices_by_pattern() -> None:
    rows = [row("right eye", speaker=name) for name in ("kokoro-a", "kokoro-b", "flite-a")]

    assert [each.speaker for each in of_voices(rows, ["kokoro-*"])] == ["kokoro-a", "kokoro-b"]
    assert of_voices(rows, []) == rows


def test_halves_follow_the_manifest_and_else_the_lot() -> None:
    rows = [row("right eye", speaker="ann", split="test"), row("right eye", speaker="ann")]
    rows += [row("right eye", speaker=f"s{number}") for number in range(11)]
    found = halves(rows, 3)

    assert found["ann"] == "test"
    assert Counter(half for speaker, half in found.items() if speaker != "ann") == {"tuning": 6, "test": 5}
    assert found == halves(list(reversed(rows)), 3)
    assert found != halves(rows, 4)


def test_a_speaker_in_both_halves_is_refused() -> None:
    rows = [row("right eye", split="test"), row("left eye", split="tuning")]

    with pytest.raises(MeasuringError, match="'ann' is in both halves"):
        halves(rows, 1)
    with pytest.raises(MeasuringError, match="no speaker is in the half 'test'"):
        halves(rows[1:], 1)
