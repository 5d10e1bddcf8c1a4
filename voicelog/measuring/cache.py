"""What listeners heard, kept: one JSON line for each stretch of sound and listener, written as soon as it is heard.

A run that was broken off goes on where it stopped, and other limits need no recognition again. Sound is known by its
content, so files may move. Only ever appended to; a later line takes the place of an earlier one.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from voicelog.errors import reason_of
from voicelog.hearing.engines.protocol import HeardWord, Hearing, Hypothesis
from voicelog.measuring.errors import MeasuringError
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.meanings import MEANING

WHOLE_FILE = -1
"""In place of a start: the recording was heard as one utterance, not cut by the end-pointer."""
_KEPT_HYPOTHESES = 5


class HearingKey(NamedTuple):
    """Which stretch of which sound, heard for which rule by whom. `start_sample` may be WHOLE_FILE."""

    sound: str
    rule: str
    listener: str
    start_sample: int


@dataclass(frozen=True, slots=True)
class Stretch:
    """One utterance that the end-pointer cut, in samples; not `whole`: words may be missing at its ends."""

    start_sample: int
    end_sample: int
    whole: bool


@dataclass(frozen=True, slots=True)
class Cut:
    """A whole recording as the end-pointer cut it."""

    length_s: float
    stretches: tuple[Stretch, ...]


class HearingCache:
    """The file. Raises MeasuringError when it cannot be read or written, or is something else."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.broken_lines = 0
        """Lines that a run broken off (or two at once) left unreadable; what they held is heard again."""
        self._heard: dict[HearingKey, dict[str, Any]] = {}
        self._cuts: dict[str, dict[str, Any]] = {}
        self._read()

    def hearing(self, key: HearingKey) -> Hearing | None:
        """What was heard, or None."""
        line = self._heard.get(key)
        return None if line is None else _from_json(line)

    def code(self, key: HearingKey) -> str:
        """The mark of the program and grammar that heard it (see `code_mark`)."""
        return str(self._heard[key]["code"])

    def __contains__(self, key: HearingKey) -> bool:
        return key in self._heard

    def keep(self, key: HearingKey, hearing: Hearing, code: str) -> None:
        """Keep what was heard, on the disk at once."""
        line = {**key._asdict(), "code": code, **_as_json(hearing)}
        self._append(line)
        self._heard[key] = line

    def cut(self, sound: str) -> Cut | None:
        """How the end-pointer cut a recording; None where that was not finished."""
        line = self._cuts.get(sound)
        if line is None:
            return None
        return Cut(line["length_s"], tuple(Stretch(*stretch) for stretch in line["cut"]))

    def keep_cut(self, sound: str, cut: Cut) -> None:
        """Keep how a recording was cut."""
        stretches = [[each.start_sample, each.end_sample, each.whole] for each in cut.stretches]
        line = {"sound": sound, "length_s": cut.length_s, "cut": stretches}
        self._append(line)
        self._cuts[sound] = line

    def _read(self) -> None:
        try:
            text = self.path.read_bytes() if self.path.exists() else b""
        except OSError as error:
            raise MeasuringError(f"{self.path}: cannot be read ({reason_of(error)})") from None
        self._ends_in_a_line = not text or text.endswith(b"\n")
        lines = text.splitlines()
        for line in lines:
            try:
                self._take(json.loads(line))
            except (ValueError, KeyError, TypeError):
                self.broken_lines += 1
        if lines and self.broken_lines == len(lines):
            raise MeasuringError(f"{self.path}: is no file of hearings; name another with --cache")

    def _take(self, line: dict[str, Any]) -> None:
        if "cut" in line:
            self._cuts[str(line["sound"])] = line
        else:
            key = HearingKey(*(line[name] for name in HearingKey._fields))
            self._heard[key] = {"code": line["code"], "hypotheses": line["hypotheses"]} | line

    def _append(self, line: dict[str, Any]) -> None:
        text = json.dumps(line, separators=(",", ":"), allow_nan=False) + "\n"
        if not self._ends_in_a_line:
            text, self._ends_in_a_line = "\n" + text, True
        try:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:
            raise MeasuringError(f"{self.path}: cannot be written ({reason_of(error)})") from None


def _as_json(hearing: Hearing) -> dict[str, Any]:
    return {
        "engine": hearing.engine,
        "hypotheses": [
            [each.text, [one.model_dump(mode="json") for one in each.meanings], each.log_probability]
            for each in hearing.hypotheses[:_KEPT_HYPOTHESES]
        ],
        "free_text": hearing.free_text,
        "free_log_probability": _number(hearing.free_log_probability),
        "seconds": round(hearing.seconds, 4),
        "second_opinion": _number(hearing.second_opinion),
        "second_score": hearing.second_score,
        "second_letters": hearing.second_letters,
        "second_apart": _number(hearing.second_apart),
        "unexplained_s": hearing.unexplained_s,
        "words": [[each.text, each.start_s, each.end_s, each.misfit, each.telling] for each in hearing.words],
        "reach": _number(hearing.reach),
    }


def _number(value: float | None) -> float | str | None:
    """JSON has no infinity: it is written as a word, which `float` reads."""
    return value if value is None or abs(value) != float("inf") else str(value)


def _from_json(line: dict[str, Any]) -> Hearing:
    free, second, apart = line["free_log_probability"], line["second_opinion"], line.get("second_apart")
    return Hearing(
        engine=line["engine"],
        hypotheses=tuple(
            Hypothesis(text, _meanings(said), float(log)) for text, said, log in line["hypotheses"]
        ),
        free_text=line["free_text"],
        free_log_probability=None if free is None else float(free),
        seconds=line["seconds"],
        second_opinion=None if second is None else float(second),
        second_score=line.get("second_score"),
        second_letters=line.get("second_letters"),
        second_apart=None if apart is None else float(apart),
        unexplained_s=line.get("unexplained_s", 0.0),
        words=tuple(HeardWord(*word) for word in line.get("words", ())),
        reach=float(line.get("reach", "inf")),
    )


def _meanings(said: Any) -> Meanings:
    """A file of an earlier version holds one meaning where there is a list now."""
    return tuple(MEANING.validate_python(each) for each in (said if isinstance(said, list) else [said]))


def sound_mark(path: Path) -> str:
    """A short mark of a file's content. Raises MeasuringError when it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()[:24]
    except OSError as error:
        raise MeasuringError(f"{path}: cannot be read ({reason_of(error)})") from None


def code_mark(grammar: Grammar, modules: Iterable[str]) -> str:
    """A short mark of the grammar and of modules of `voicelog.hearing`: what the same sound was heard by."""
    digest = hashlib.sha256()
    for path in sorted(grammar.language.folder.iterdir()):
        if path.is_file():
            digest.update(path.read_bytes())
    folder = files("voicelog.hearing")
    for module in modules:
        digest.update((folder / f"{module}.py").read_bytes())
    return digest.hexdigest()[:12]
