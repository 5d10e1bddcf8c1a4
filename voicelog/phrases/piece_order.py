"""Which pieces of a line are of one entry, and in what order the grammar knows them."""

from collections.abc import Sequence
from itertools import pairwise

from voicelog.phrases.pieces import Kind, Piece

OTHER = "other"
"""A word of the pieces that name an eye or a place by the one in hand."""
_WITH = "with"
_ASKS_TO_REPEAT = ("can", "could", "repeat", "say")
_NAMED_FIRST = (Kind.FIX, Kind.EYE, Kind.DISTANCE, Kind.AXIS, Kind.UP, Kind.DOWN, Kind.PLACE)
_SEEN = (Kind.LOOKS, Kind.SEEN, Kind.REFLEX, Kind.MOTION)
_VALUES = (Kind.POWER, Kind.SIGN, Kind.NUMBER, Kind.AXIS_TOLD, Kind.DISTANCE_TOLD, Kind.WHOLE)
_ORDER = (*_NAMED_FIRST, *_SEEN, *_VALUES)
"""In this order the grammar knows the pieces of an entry."""


def is_doubted(cut: Sequence[Piece]) -> bool:
    """Whether a small word makes it another thing.

    "No motion" puts no motion right, and "with" may be what was seen.
    """
    weighty = [each for each in cut if each.tells]
    if any(one.kind == Kind.FIX and other.kind == Kind.MOTION for one, other in pairwise(weighty)):
        return True
    seen = any(each.kind == Kind.MOTION for each in weighty)
    joins = (each for each in cut if each.kind == Kind.FILLER and each.words == _WITH)
    return any(not seen or not _is_before_a_lens(each, weighty) for each in joins)


def is_guessed(cut: Sequence[Piece]) -> bool:
    """Whether what was seen, or an order, is only thought to be so: "I think that's neutral", "about neutral"."""
    weighty = [each for each in cut if each.tells]
    return any(
        one.kind == Kind.ABOUT and other.kind in (Kind.MOTION, Kind.WHOLE) for one, other in pairwise(weighty)
    )


def _is_before_a_lens(joint: Piece, weighty: Sequence[Piece]) -> bool:
    behind = next((each for each in weighty if each.start >= joint.end), None)
    return behind is not None and behind.kind in (Kind.POWER, Kind.NUMBER)


def text_of(entry: Sequence[Piece]) -> str:
    """An entry as the grammar says it."""
    kinds = [each.kind for each in entry]
    if kinds == [Kind.FIX, Kind.EYE, Kind.PLACE, Kind.POWER]:
        _, eye, place, power = (each.words for each in entry)
        side = next((word for word in ("right", "left") if word in eye.split()), eye)
        return f"change the {side} {place} to {power}"
    if set(kinds) == {Kind.SEEN}:
        return f"{' '.join(each.words for each in entry)} {Kind.REFLEX}"
    if kinds == [Kind.PLACE, Kind.LOOKS]:
        return f"{entry[1].words} in the {entry[0].words}"
    if kinds == [Kind.FIX, Kind.WHOLE] and entry[1].words.split()[0] not in _ASKS_TO_REPEAT:
        return entry[1].words
    return " ".join(each.words for each in entry)


def entries_of(told: Sequence[Piece]) -> list[list[Piece]] | None:
    """The pieces by entries, each in the order of the grammar; None where it is not plain which belong together."""
    if any(one.kind == Kind.NOT for one in told):
        return _with_what_was_wrong(told)
    entries: list[list[Piece]] = [[]]
    leads = next((each.kind for each in told if each.kind in (Kind.PLACE, Kind.POWER)), None)
    for each in told:
        kinds = [one.kind for one in entries[-1]]
        begins = each.kind == Kind.EYE or (each.kind == leads and leads in kinds)
        if begins and any(kind != Kind.FIX for kind in kinds):
            entries.append([])
        entries[-1].append(each)
    for entry in entries:
        kinds = [one.kind for one in entry if one.kind != Kind.SEEN]
        if len(set(kinds)) < len(kinds):
            return None
    if any(
        [each.kind for each in one] == [each.kind for each in other] == [Kind.EYE]
        for one, other in pairwise(entries)
    ):
        return None
    shapes = {
        frozenset(one.kind for one in entry) & {Kind.PLACE, Kind.POWER, Kind.MOTION} for entry in entries
    }
    if len(entries) > 1 and len(shapes - {frozenset()}) > 1:
        return None
    return (
        [sorted(entry, key=lambda one: _ORDER.index(one.kind)) for entry in entries if entry]
        if all(one.kind in _ORDER for entry in entries for one in entry)
        else None
    )


def _with_what_was_wrong(told: Sequence[Piece]) -> list[list[Piece]] | None:
    """A correction that says what was wrong: "axis should be fifteen, not fifty"."""
    place = next(at for at, each in enumerate(told) if each.kind == Kind.NOT)
    before, behind = told[:place], told[place + 1 :]
    if not before and len(behind) == 2:
        before, behind = behind[1:], behind[:1]  # "not vertical, horizontal"
    if len(behind) != 1 or behind[0].kind not in {each.kind for each in before}:
        return None
    entries = entries_of(before)
    if entries is None or len(entries) != 1:
        return None
    return [[*entries[0], told[place], behind[0]]]
