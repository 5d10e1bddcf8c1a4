"""What stood along the way, so that a change of a late entry folds only what comes from there on."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from voicelog.exam.entries import Entry
from voicelog.exam.standing import Standing

Named = tuple[str, Entry]
"""An entry that counts, with its id."""
_APART: Final = 16  # entries between two marks: what is folded anew for a correction of the last entries


@dataclass(frozen=True, slots=True)
class Trail:
    """The entries that count, what they make, and what stood after some of them.

    `marks` are the number of entries and what stood after them, in order; the first is the beginning.
    """

    entries: tuple[Named, ...]
    standing: Standing
    marks: tuple[tuple[int, Standing], ...]

    @classmethod
    def beginning(cls, standing: Standing) -> "Trail":
        """Before the first entry."""
        return cls((), standing, ((0, standing),))

    def further(self, more: Iterable[Named]) -> "Trail":
        """With more entries at the end."""
        more = tuple(more)
        standing, marks = self.standing, list(self.marks)
        for count, (name, entry) in enumerate(more, start=len(self.entries) + 1):
            standing = standing.after(name, entry)
            if count - marks[-1][0] >= _APART:
                marks.append((count, standing))
        return Trail((*self.entries, *more), standing, tuple(marks))

    def changed_to(self, entries: Iterable[Named]) -> "Trail":
        """Of these entries instead; what they begin alike with is not folded again."""
        entries = tuple(entries)
        same = sum(1 for _ in self._alike(entries))
        marks = tuple(mark for mark in self.marks if mark[0] <= same)
        count, standing = marks[-1]
        return Trail(entries[:count], standing, marks).further(entries[count:])

    def _alike(self, entries: tuple[Named, ...]) -> Iterator[Named]:
        for was, now in zip(self.entries, entries, strict=False):
            if was[1] is not now[1] or was[0] != now[0]:
                return
            yield now
