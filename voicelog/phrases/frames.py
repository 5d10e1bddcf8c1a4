"""Lines told by what they hold: one eye, one distance, one lens, among words that only say how it is done.

The rules `framed` and `framed_asked` of the folder `pieces` (`frames.jsgf`) are frames of whole lines. A frame has
slots, which the grammar's own phrases fill ("_eye", "_far", "_power"), and around them words of closed classes in any
order: verbs of going and looking, small words, whom it is done to. What it says is given in the grammar's words with
the slots in them. Of a frame that is asked about, a slot may be a word of no list ("_word"). A line of `framed_note`
tells what the log has no entry for.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import Grammar, load_pieces
from voicelog.phrases.matcher import Matcher, tokenise, written
from voicelog.phrases.passing import may_tell_nothing
from voicelog.phrases.pieces import ends
from voicelog.phrases.stepping import START, Spot, Stepper, stepper
from voicelog.phrases.word_sets import WordSets, slips

_OF_THE_GRAMMAR: Mapping[str, tuple[str, ...]] = {
    "_eye": ("eye_name",),
    "_named": ("eye_name",),
    "_far": ("plain_distance",),
    "_tens": ("two_digits",),
    "_power": ("signed",),
    "_amount": ("power",),
    "_part": ("fraction",),
    "_place": ("word_where", "cardinal"),
    "_axis": ("axis",),
    "_side": ("sides",),
    "_acuity": ("snellen_value", "sure_value"),
    "_lens": ("prescription",),
    "_drug": ("drug",),
    "_strength": ("strength",),
    "_clock": ("clock_said",),
    "_hand": ("bare_side",),
    "_mm": ("millimetres",),
}
"""The slots that rules of the grammar fill."""
_OF_THE_PIECES: Mapping[str, tuple[str, ...]] = {
    "_bare": ("bare_eye",),
    "_eye": ("eye",),
    "_named": ("eye",),
    "_place": ("place",),
}
"""The slots that rules of the pieces fill; the grammar's words for them are behind the kind."""
_WORD = Token("_word")
_EYE, _BARE = "_eye", "_bare"
"""An eye by its name; and by its side alone."""
_MOST_UNKNOWN = 2
_MOST_STEPS = 3_000
_LONG = 5
"""Letters of a word that is one of the grammar, misspelt, where one of them is wrong."""


@dataclass(frozen=True, slots=True)
class Framed:
    """What a line says by a frame, in the grammar's words; not `sure`: it is asked about."""

    tokens: tuple[Token, ...]
    sure: bool


@dataclass(frozen=True, slots=True)
class _Filled:
    """A slot and the words that fill it, up to a place of the line."""

    slot: Token
    words: str
    end: int


class Frames:
    """The frames of a language; none where it has no such rules."""

    def __init__(self, grammar: Grammar, sets: WordSets, *layers: Layer) -> None:
        self._language = grammar.language
        self._sets = sets
        self._slots = lru_cache(1)(self._find_slots)  # a refused line asks for them twice
        self._own = [
            (Token(slot), stepper(grammar, rule, *layers))
            for slot, rules in _OF_THE_GRAMMAR.items()
            for rule in rules
            if rule in grammar.rules
        ]
        self._others: list[tuple[Token, Stepper, Matcher]] = []
        self._frames: list[tuple[bool, Stepper, Matcher]] = []
        self._notes: Stepper | None = None
        pieces = load_pieces(grammar.language)
        if pieces is None:
            return
        for slot, rules in _OF_THE_PIECES.items():
            self._others += [
                (Token(slot), stepper(pieces, rule), Matcher(pieces.walker(rule)))
                for rule in rules
                if rule in pieces.rules
            ]
        if "framed_note" in pieces.rules:
            self._notes = stepper(pieces, "framed_note")
        for rule, sure in (("framed", True), ("framed_asked", False)):
            if rule in pieces.rules:
                self._frames.append((sure, stepper(pieces, rule), Matcher(pieces.walker(rule))))

    def lines(self, tokens: tuple[Token, ...]) -> list[Framed]:
        """What a line says by frames that need no question; else by those that do."""
        slots = self._slots(tokens) if self._frames else ()
        for sure, walked, matcher in self._frames:
            found: dict[tuple[Token, ...], Framed] = {}
            for path in _Walk(tokens, slots, walked).paths():
                for value in matcher.values([each.slot for each in path]):
                    words = self._filled(str(value), path)
                    found.setdefault(words, Framed(words, sure))
            if found:
                return list(found.values())
        return []

    def is_note(self, tokens: tuple[Token, ...]) -> bool:
        """Whether a line tells what the log has no entry for, and what belongs into a note."""
        if self._notes is None:
            return False
        return next(_Walk(tokens, self._slots(tokens), self._notes).paths(), None) is not None

    def _find_slots(self, tokens: tuple[Token, ...]) -> tuple[tuple[_Filled, ...], ...]:
        """What may fill a slot, place by place."""
        return tuple(tuple(self._slots_at(tokens, at)) for at in range(len(tokens)))

    def _slots_at(self, tokens: Sequence[Token], at: int) -> Iterator[_Filled]:
        for slot, walked in self._own:
            for end in ends(walked, tokens, at):
                yield _Filled(slot, written(tokens[at:end]), end)
        bare: set[int] = set()
        for slot, walked, matcher in self._others:
            for end in ends(walked, tokens, at):
                if slot.text == _BARE:
                    bare.add(end)
                elif slot.text == _EYE and end in bare:
                    continue
                for value in matcher.values(tokens[at:end]):
                    yield _Filled(slot, str(value).partition(" ")[2], end)
        if self._may_be_any(tokens[at]):
            yield _Filled(_WORD, tokens[at].text, at + 1)

    def _may_be_any(self, token: Token) -> bool:
        """Whether a word of no list may stand in a frame that is asked about: none that may be one misspelt."""
        if token.text in self._sets.known or not may_tell_nothing(token, self._sets):
            return False
        return not self._is_misspelt(token.text)

    def _is_misspelt(self, word: str) -> bool:
        return len(word) >= _LONG and any(slips(word, other) == 1 for other in self._sets.known)

    def _filled(self, text: str, path: Sequence[_Filled]) -> tuple[Token, ...]:
        """A frame's words with those of the line in its slots; "_eye2" is the second of them."""
        many: dict[str, int] = {}
        words: dict[str, str] = {}
        for each in path:
            name = each.slot.text
            if name.startswith("_"):
                many[name] = many.get(name, 0) + 1
                words[name if many[name] == 1 else f"{name}{many[name]}"] = each.words
        return tokenise(" ".join(words.get(word, word) for word in text.split()), self._language)


class _Walk:
    """All ways of a line through frames, word by word and slot by slot."""

    def __init__(self, tokens: Sequence[Token], slots: Sequence[Sequence[_Filled]], walked: Stepper) -> None:
        self._tokens = tokens
        self._slots = slots
        self._walked = walked
        self._steps = 0
        self._nowhere: set[tuple[int, Spot, int]] = set()

    def paths(self) -> Iterator[tuple[_Filled, ...]]:
        """The ways, each once; of words of no list few."""
        return iter(dict.fromkeys(self._from(0, START, 0)))

    def _from(self, at: int, spot: Spot, unknown: int) -> Iterator[tuple[_Filled, ...]]:
        self._steps += 1
        if (at, spot, unknown) in self._nowhere or self._steps > _MOST_STEPS:
            return
        if at == len(self._tokens):
            if self._walked.to_end(spot) is not None:
                yield ()
            return
        led = False
        token = self._tokens[at]
        for each in (_Filled(token, token.text, at + 1), *self._slots[at]):
            more = unknown + (each.slot == _WORD)
            if more > _MOST_UNKNOWN:
                continue
            for _, target in self._walked.over(spot, each.slot):
                for rest in self._from(each.end, target, more):
                    led = True
                    yield (each, *rest)
        if not led:
            self._nowhere.add((at, spot, unknown))
