"""Corrections of findings: which entry is meant, and what it is to be. What a correction leaves unsaid stays."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from voicelog.phrases import meanings as say

FINDINGS = (
    say.Acuity,
    say.PupilsDistance,
    say.Pupils,
    say.Spectacles,
    say.Refined,
    say.Addition,
    say.Vertex,
    say.Drops,
    say.Dark,
    say.Estimate,
    say.Dynamic,
)
_KEPT = ("eye", "correction", "at", "addition", "strength_percent", "clock", "where")


class Entry(Protocol):
    """A line of the ledger."""

    @property
    def number(self) -> int:
        """The number of its event."""
        ...

    @property
    def meaning(self) -> say.Meaning:
        """What it says now."""
        ...


def named_eye(meaning: say.Meaning) -> say.Eyes | None:
    """The eye that a finding names itself; None where it belongs to the eye in hand, or to none."""
    eye = getattr(meaning, "eye", None) if isinstance(meaning, FINDINGS) else None
    return eye if eye in ("right", "left", "both") else None


def entry_meant(
    lines: Sequence[Entry], eyes: Mapping[int, say.OneEye | None], entry: say.Meaning
) -> tuple[int, say.Meaning] | None:
    """The number and meaning of the finding that a correction means: the latest of its kind that has all it names.

    Where none has, the latest of its kind: then what it names is what was wrong. None when there is none.
    """
    alike = [line for line in reversed(lines) if type(line.meaning) is type(entry)]
    for line in alike:
        if _has_what_is_named(line, eyes, entry):
            return line.number, line.meaning
    return (alike[0].number, alike[0].meaning) if alike else None


def mended(entry: say.Meaning, old: say.Meaning) -> say.Meaning:
    """The entry with what it leaves unsaid taken from the old one. Lenses are left to the ledger."""
    unsaid = {
        name: getattr(old, name)
        for name in _KEPT
        if name in type(entry).model_fields and getattr(entry, name) is None
    }
    if (
        isinstance(entry, say.PupilsDistance)
        and isinstance(old, say.PupilsDistance)
        and entry.both_mm is None
    ):
        unsaid |= {
            name: getattr(old, name) for name in ("right_mm", "left_mm") if getattr(entry, name) is None
        }
    return entry.model_copy(update=unsaid)


def _has_what_is_named(line: Entry, eyes: Mapping[int, say.OneEye | None], entry: say.Meaning) -> bool:
    old = line.meaning
    eye = named_eye(entry)
    if eye is not None and eye != (named_eye(old) or eyes.get(line.number)):
        return False
    if isinstance(entry, say.Pupils) and isinstance(old, say.Pupils):
        return (entry.look is None) == (old.look is None)
    named = [getattr(entry, name) for name in ("correction", "at", "agent", "where") if hasattr(entry, name)]
    had = [getattr(old, name) for name in ("correction", "at", "agent", "where") if hasattr(old, name)]
    return all(new is None or new == before for new, before in zip(named, had, strict=True))
