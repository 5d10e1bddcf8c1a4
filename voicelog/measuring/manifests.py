"""Manifests: tables of recordings with what is said in them.

Tab-separated text in UTF-8, without quotes, with a header. Columns: path (relative to the manifest), transcript,
speaker; and, where wanted, rule, set, condition, snr_db, split ("tuning" or "test"). A row whose transcript is empty,
or no phrase of its rule, is other talk: whatever is entered from it is a false entry.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from itertools import groupby, zip_longest
from pathlib import Path
from random import Random
from typing import Final, Literal

from voicelog.errors import reason_of
from voicelog.exam.expecting import IN_HAND, LINE
from voicelog.measuring.errors import MeasuringError
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import Meanings

REQUIRED = ("path", "transcript", "speaker")
OPTIONAL = ("rule", "set", "condition", "snr_db", "split")
MANIFEST_NAME = "manifest.tsv"

EXAM_RULES: Final = f"{LINE} {IN_HAND}"
"""What an exam listens for while it has asked nothing and an eye is in hand."""

Split = Literal["tuning", "test"]


@dataclass(frozen=True, slots=True)
class Row:
    """One recording. `expected` None: other talk. `snr_db` None: no noise was added, or nobody knows."""

    path: Path
    transcript: str
    speaker: str
    rule: str
    set_name: str
    condition: str
    snr_db: float | None
    split: Split | None
    expected: Meanings | None


class Expecting:
    """What a transcript means, by the grammar that is measured."""

    def __init__(self, grammar: Grammar, rules: Sequence[str] = (EXAM_RULES,)) -> None:
        """`rules` are for rows that name none: the first that has the transcript as a phrase, else the first."""
        self._grammar = grammar
        self._rules = tuple(rules)
        self._readers: dict[str, LineReader] = {}
        self._known: dict[
            tuple[str, str], Meanings | None
        ] = {}  # corpora say the same in many voices and rooms

    def expected(self, transcript: str, rule: str = "") -> tuple[str, Meanings | None]:
        """The rule to listen for, and what it says; None where the transcript is no phrase.

        Raises MeasuringError for a transcript with several meanings, UnknownRuleError for a rule that is not there.
        """
        rules = (rule,) if rule else self._rules
        for each in rules:
            if (transcript, each) not in self._known:
                self._known[transcript, each] = self._said(transcript, each)
            said = self._known[transcript, each]
            if said is not None:
                return each, said
        return rules[0], None

    def _said(self, transcript: str, rule: str) -> Meanings | None:
        if rule not in self._readers:
            self._readers[rule] = LineReader(self._grammar, rule, Layer.WRITTEN)
        try:
            readings = self._readers[rule].understand(transcript).readings
        except NotAPhraseError:
            return None
        if len(readings) > 1:
            raise MeasuringError(f"{transcript!r} has {len(readings)} meanings; write it so that it has one")
        return readings[0]


def read_manifest(place: Path, expecting: Expecting) -> list[Row]:
    """The rows of a manifest, or of the `manifest.tsv` in a folder.

    Raises MeasuringError, naming the line, for a manifest that cannot be used.
    """
    path = place / MANIFEST_NAME if place.is_dir() else place
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else "not text in UTF-8"
        raise MeasuringError(f"{path}: no manifest can be read there ({reason})") from None
    table = list(csv.reader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))
    columns = _columns(path, table)
    rows = []
    for number, cells in enumerate(table[1:], start=2):
        if cells:
            try:
                rows.append(_row(path.parent, columns, cells, expecting))
            except MeasuringError as error:
                raise MeasuringError(f"{path}, line {number}: {error}") from None
    if not rows:
        raise MeasuringError(f"{path}: holds no row")
    return rows


def _columns(path: Path, table: Sequence[Sequence[str]]) -> Sequence[str]:
    columns = table[0] if table else ()
    lacking = [name for name in REQUIRED if name not in columns]
    unknown = [name for name in columns if name not in REQUIRED + OPTIONAL]
    if lacking:
        raise MeasuringError(
            f"{path}: its header lacks the column {lacking[0]!r}; columns are parted by tabs"
        )
    if unknown:
        allowed = ", ".join(REQUIRED + OPTIONAL)
        raise MeasuringError(f"{path}: unknown column {unknown[0]!r}; allowed are {allowed}")
    if len(set(columns)) < len(columns):
        raise MeasuringError(f"{path}: its header names a column twice")
    return columns


def _row(folder: Path, columns: Sequence[str], cells: Sequence[str], expecting: Expecting) -> Row:
    if len(cells) != len(columns):
        raise MeasuringError(f"{len(cells)} columns, its header has {len(columns)}")
    given = {name: cell.strip() for name, cell in zip(columns, cells, strict=True)}
    for name in ("path", "speaker"):
        if not given[name]:
            raise MeasuringError(f"no {name}")
    rule, expected = expecting.expected(given["transcript"], given.get("rule", ""))
    return Row(
        path=folder / given["path"],
        transcript=given["transcript"],
        speaker=given["speaker"],
        rule=rule,
        set_name=given.get("set") or folder.resolve().name,
        condition=given.get("condition", ""),
        snr_db=_snr_db(given.get("snr_db", "")),
        split=_split(given.get("split", "")),
        expected=expected,
    )


def _snr_db(text: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not -60.0 <= value <= 120.0:
        raise MeasuringError(f"snr_db {text!r} is not a number of decibels")
    return value


def _split(text: str) -> Split | None:
    if text in ("tuning", "test"):
        return text  # type: ignore[return-value]
    if text:
        raise MeasuringError(f"split {text!r} is neither 'tuning' nor 'test'")
    return None


def of_voices(rows: Iterable[Row], patterns: Sequence[str]) -> list[Row]:
    """Rows whose speaker matches one of the shell patterns ("kokoro-*"); all rows without a pattern."""
    return [row for row in rows if not patterns or any(fnmatchcase(row.speaker, each) for each in patterns)]


def sampled(rows: Sequence[Row], count: int, seed: int) -> list[Row]:
    """`count` random rows of each group (set, rule, condition, signal-to-noise ratio, split), evenly over its speakers.

    The same seed gives the same rows; the order of `rows` is kept.
    """
    chosen: set[int] = set()
    by_group = sorted(range(len(rows)), key=lambda at: _group(rows[at]))
    for group, members in groupby(by_group, key=lambda at: _group(rows[at])):
        random = Random(f"{seed} {group}")
        by_speaker: dict[str, list[int]] = {}
        for at in members:
            by_speaker.setdefault(rows[at].speaker, []).append(at)
        queues = [random.sample(own, len(own)) for _, own in sorted(by_speaker.items())]
        random.shuffle(queues)
        turns = (at for turn in zip_longest(*queues) for at in turn if at is not None)
        chosen.update(at for at, _ in zip(turns, range(count), strict=False))
    return [row for at, row in enumerate(rows) if at in chosen]


def _group(row: Row) -> tuple[str, ...]:
    return (row.set_name, row.rule, row.condition, str(row.snr_db), row.split or "")


def refuse_missing(rows: Iterable[Row]) -> None:
    """Raises MeasuringError when recordings of these rows are not there."""
    rows = list(rows)
    missing = [row.path for row in rows if not row.path.is_file()]
    if missing:
        raise MeasuringError(
            f"{len(missing)} of {len(rows)} recordings are missing, the first is {missing[0]}"
        )


def halves(rows: Sequence[Row], seed: int, *, both: bool = True) -> Mapping[str, Split]:
    """For each speaker one half of the speakers: as the manifests say, else by lot.

    Raises MeasuringError for a speaker whom manifests put in both halves, and with `both` for a half without speakers.
    """
    said: dict[str, Split] = {}
    for row in rows:
        if row.split is not None and said.setdefault(row.speaker, row.split) != row.split:
            raise MeasuringError(f"speaker {row.speaker!r} is in both halves: tuning and test")
    rest = sorted({row.speaker for row in rows} - set(said))
    Random(seed).shuffle(rest)
    found = said | {speaker: ("tuning" if at < len(rest) / 2 else "test") for at, speaker in enumerate(rest)}
    for half in ("tuning", "test"):
        if both and half not in found.values():
            raise MeasuringError(f"no speaker is in the half {half!r}")
    return found
