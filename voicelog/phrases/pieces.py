"""A line cut into pieces: eyes, places, motions, powers, and the words between them that tell nothing.

The pieces are those of the grammar itself, and those of the folder `pieces` beside it, which say in other words what
the grammar has a word for. Every word of a line is in one piece, or tells nothing, or is unknown; a word that may tell
something and is in no piece makes the line unreadable.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from heapq import heappop, heappush

from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import Grammar, load_pieces
from voicelog.phrases.matcher import Matcher, written
from voicelog.phrases.passing import may_tell_nothing
from voicelog.phrases.stepping import START, Spot, Stepper, stepper
from voicelog.phrases.word_sets import WordSets, words_of


class Kind(StrEnum):
    """What a piece is. The first six belong to no entry: `light` words stand beside a strong one alone.

    A remark is kept as a note.
    """

    FILLER = "filler"
    TO_PATIENT = "to_patient"
    UNSURE = "unsure"
    LIGHT = "light"
    UNKNOWN = "unknown"
    REMARK = "remark"
    ABOUT = "about"
    EYE = "eye"
    PLACE = "place"
    MOTION = "motion"
    POWER = "power"
    NUMBER = "number"
    SIGN = "sign"
    FIX = "fix"
    SHOULD = "should"
    NOT = "not"
    DISTANCE = "distance"
    AXIS = "axis"
    UP = "up"
    DOWN = "down"
    LOOKS = "looks"
    SEEN = "seen"
    REFLEX = "reflex"
    AXIS_TOLD = "axis_told"
    DISTANCE_TOLD = "distance_told"
    WHOLE = "whole"


_OF_THE_GRAMMAR: Mapping[str, Kind] = {
    "signed": Kind.POWER,
    "size": Kind.NUMBER,
    "axis": Kind.NUMBER,
    "distance": Kind.NUMBER,
    "word_where": Kind.PLACE,
    "cardinal": Kind.PLACE,
    "at_number": Kind.PLACE,
    "number_place": Kind.PLACE,
    "eye_name": Kind.EYE,
    "eye": Kind.EYE,
    "plain_distance": Kind.DISTANCE_TOLD,
    "moved": Kind.MOTION,
    "axis_of": Kind.AXIS_TOLD,
    "axis_digits": Kind.PLACE,
    "sign_word": Kind.SIGN,
    "reflex": Kind.LOOKS,
    **dict.fromkeys(
        ("question", "withdrawal", "control", "move", "swap", "working_lens", "condition", "distance_was"),
        Kind.WHOLE,
    ),
    **dict.fromkeys(("finding", "near_finding", "habit", "unasked"), Kind.WHOLE),
}
"""Rules of the grammar that are pieces, and what kind of piece each is."""
_SPELLED = 3
"""Digits that are a place by themselves: "one eight zero"."""
_SPELLED_SHORT = ("nine zero", "niner zero")
_TELLS, _NUMBER, _FILLS, _LIGHT, _UNKNOWN = 1.0, 1.05, 0.9, 1.5, 12.0
_MOST_UNKNOWN = 3
_MOST_CUTS = 24
_MOST_SETTLED = 4_000


@dataclass(frozen=True, slots=True)
class Piece:
    """Some words of a line: what they are, and how the grammar says it."""

    kind: Kind
    words: str
    start: int
    end: int

    @property
    def tells(self) -> bool:
        """Whether the piece is part of an entry."""
        return self.kind not in (
            Kind.FILLER,
            Kind.TO_PATIENT,
            Kind.UNSURE,
            Kind.LIGHT,
            Kind.UNKNOWN,
            Kind.REMARK,
        )


class Cutter:
    """Cuts lines into pieces of a grammar and a language.

    `mild`: words that may stand around an answer. `me`: the speaker. `joints`: stand between pieces. `asking`: a line
    that begins so asks another person.
    """

    def __init__(self, grammar: Grammar, sets: WordSets, *layers: Layer) -> None:
        self._sets = sets
        self._own = {
            stepper(grammar, rule, *layers): (rule, kind)
            for rule, kind in _OF_THE_GRAMMAR.items()
            if rule in grammar.rules
        }
        pieces = load_pieces(grammar.language)
        self._others = None if pieces is None else stepper(pieces, "piece")
        self._values = None if pieces is None else Matcher(pieces.walker("piece"))
        self.mild = frozenset() if pieces is None else words_of(pieces, "mild")
        self._of_others = frozenset() if pieces is None else words_of(pieces, "of_others")
        self._of_no_matter = frozenset() if pieces is None else words_of(pieces, "of_no_matter")
        self.me = words_of(grammar, "first_person")
        self.asking = words_of(grammar, "asks_another")
        self.joints = words_of(grammar, "joint")
        self._before_number = words_of(grammar, "at_joint")
        self._degrees = words_of(grammar, "degrees")
        self._spelled = Matcher(grammar.walker("axis_digits", *layers))
        self._opening = words_of(grammar, "opening")
        self._bare = frozenset({"with", "against"})
        self._articles = words_of(grammar, "article_before_place")

    def cuts(self, tokens: Sequence[Token], *, whole: bool, loosely: bool = False) -> list[tuple[Piece, ...]]:
        """The ways to cut a line with the fewest pieces and the fewest unknown words; none where a word is left.

        `whole`: a piece may be an entry of the grammar by itself. `loosely`: only what is exact, denies or doubts must
        be in a piece, as of a line that is asked about in any case.
        """
        found = [list(self._pieces(tokens, at, whole)) for at in range(len(tokens))]
        if loosely:
            for at, token in enumerate(tokens):
                if self.may_be_left(token):
                    found[at].append(Piece(Kind.UNKNOWN, token.text, at, at + 1))
        heap: list[tuple[float, int, int, tuple[Piece, ...]]] = [(0.0, 0, 0, ())]
        cuts: list[tuple[Piece, ...]] = []
        best: float | None = None
        count = 0
        while heap and len(cuts) < _MOST_CUTS and count < _MOST_SETTLED:
            cost, _, at, before = heappop(heap)
            if best is not None and cost > best + 1e-6:
                break
            if at == len(tokens):
                best = cost
                cuts.append(before)
                continue
            for piece in found[at]:
                if self._breaks_a_number(tokens, before, piece):
                    continue
                count += 1
                heappush(heap, (cost + _cost(piece), count, piece.end, (*before, piece)))
        return cuts

    def _breaks_a_number(self, tokens: Sequence[Token], before: Sequence[Piece], piece: Piece) -> bool:
        """Whether a word of numbers behind a number would be left: "plus two and a"."""
        if piece.tells and not (piece.kind == Kind.NUMBER and before and not before[-1].tells):
            left = before[-1:]
        elif piece.end == len(tokens):
            left = (*before[-1:], piece)
        else:
            left = before[-1:]
        first = next((each for each in left if not each.tells), None)
        if first is None or first.start == 0:
            return False
        of_numbers = self._sets.of_number(tokens[first.start]) and self._sets.of_number(
            tokens[first.start - 1]
        )
        return of_numbers and not (piece.tells and piece.kind != Kind.NUMBER)

    def _pieces(self, tokens: Sequence[Token], at: int, whole: bool) -> Iterator[Piece]:
        """The pieces that begin at a place of the line."""
        seen = set()
        for each in (
            *self._of_the_grammar(tokens, at, whole),
            *self._in_other_words(tokens, at),
            *self._single(tokens, at),
        ):
            if (each.kind, each.words, each.end) not in seen:
                seen.add((each.kind, each.words, each.end))
                yield each

    def _of_the_grammar(self, tokens: Sequence[Token], at: int, whole: bool) -> Iterator[Piece]:
        for walked, (rule, kind) in self._own.items():
            if kind == Kind.WHOLE and not whole:
                continue
            for end in ends(walked, tokens, at):
                text = written(tokens[at:end])
                if rule == "axis_digits":
                    if end - at < _SPELLED and text not in _SPELLED_SHORT:
                        continue
                    (angle,) = self._spelled.values(tokens[at:end])
                    text = f"at {angle}"
                if rule == "number_place" and tokens[at].text not in self._before_number:
                    continue
                if kind == Kind.PLACE and len(text) == 1:
                    continue
                if kind == Kind.MOTION and text in self._bare and not self._is_motion(tokens, at):
                    continue
                yield Piece(
                    Kind.PLACE if kind == Kind.NUMBER and tokens[end - 1].text in self._degrees else kind,
                    text,
                    at,
                    end,
                )

    def _is_motion(self, tokens: Sequence[Token], at: int) -> bool:
        """Whether a lone "with" is what was seen: before a lens or a place it may only join them."""
        behind = [token.text for token in tokens[at + 1 :] if token.text not in self._articles][:1]
        if tokens[at].text != "with" or not behind:
            return True
        return behind[0] not in self._sets.exact | self._sets.names

    def _in_other_words(self, tokens: Sequence[Token], at: int) -> Iterator[Piece]:
        if self._others is None or self._values is None:
            return
        for end in ends(self._others, tokens, at):
            for value in self._values.values(tokens[at:end]):
                kind, _, words = str(value).partition(" ")
                yield Piece(Kind(kind), words or written(tokens[at:end]), at, end)

    def _single(self, tokens: Sequence[Token], at: int) -> Iterator[Piece]:
        token = tokens[at]
        if (
            (at == 0 and token.text in self._opening)
            or token.text in self.joints
            or token.text in self._sets.idle
        ):
            yield Piece(Kind.FILLER, token.text, at, at + 1)
        elif may_tell_nothing(token, self._sets):
            known = token.text in self._sets.light | self._sets.beside
            kind = Kind.LIGHT if known else Kind.UNKNOWN
            yield Piece(kind, token.text, at, at + 1)

    def may_be_left(self, token: Token) -> bool:
        """Whether a word is none of a number, sign, axis or eye, nor of doubt, denial, motion, repair or others."""
        sets = self._sets
        never = sets.exact | sets.doubt | sets.motion | sets.repairs | self._of_others
        return token.text.isalpha() and (token.text in self._of_no_matter or token.text not in never)


def _cost(piece: Piece) -> float:
    if piece.kind == Kind.UNKNOWN:
        return _UNKNOWN
    if piece.kind in (Kind.NUMBER, Kind.LIGHT):
        return _NUMBER if piece.kind == Kind.NUMBER else _LIGHT
    return _TELLS if piece.tells else _FILLS


def ends(walked: Stepper, tokens: Sequence[Token], at: int) -> Iterator[int]:
    """Where phrases of a rule end that begin at a place of the line."""
    spots: frozenset[Spot] = frozenset({START})
    for end in range(at, len(tokens)):
        spots = frozenset(target for spot in spots for _, target in walked.over(spot, tokens[end]))
        if not spots:
            return
        if any(walked.to_end(spot) is not None for spot in spots):
            yield end + 1
