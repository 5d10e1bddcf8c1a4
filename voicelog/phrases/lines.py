"""A typed line to what it can say, or why it says nothing."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby

from voicelog.errors import VoicelogError
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import LINE_RULE, WHOLE_LINES, Grammar
from voicelog.phrases.matcher import Matcher, Meanings, tokenise
from voicelog.phrases.nearest import Kept, nearest_phrase
from voicelog.phrases.passing import Passed, Words, passing_over
from voicelog.phrases.plainest import cost

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = (
    *("digit", "sign", "magnitude", "axis", "distance", "direction", "direction_letter"),
    *("eye_name", "other_eye", "side", "sides"),
)
_NUMBERS = ("power", "axis")
_ANSWERS = "answers_"
_LOOSELY = "loosely"
TYPED = (Layer.WRITTEN, Layer.TYPED)
"""The layers that a typed line may use."""


class NotAPhraseError(VoicelogError):
    """A line is no phrase of the grammar; says where it goes wrong and what may have been meant.

    `nearest` is the whole phrase that is nearest to it, if there is one that is near. `begun` is the eye that it
    names before an entry that breaks off: that much was said.
    """

    def __init__(self, message: str, nearest: str | None = None, begun: Meanings = ()) -> None:
        super().__init__(message)
        self.nearest = nearest
        self.begun = begun


@dataclass(frozen=True, slots=True)
class Understood:
    """A line and what it can say, likeliest first; more than one reading means that it must be asked about.

    `rule` is the one that the line is a phrase of.
    """

    text: str
    readings: tuple[Meanings, ...]
    rule: str


class LineReader:
    """Understands lines of one rule of a grammar, or of several, with a space between.

    Of several the answers to a question (`answers_...`) go first; of the others, the one that needs fewer entries, and
    then the one named first.
    """

    def __init__(self, grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> None:
        self._grammar = grammar
        self._matchers = {
            name: Matcher(grammar.walker(name, *layers), words_of(grammar, "telling"))
            for name in grammar.named(rule)
        }
        self._loosely: Matcher | None = None
        if Layer.TYPED in layers and LINE_RULE in self._matchers and _LOOSELY in grammar.rules:
            self._loosely = Matcher(grammar.walker(_LOOSELY, *layers), words_of(grammar, "telling"))
        self._words = Words(words_of(grammar, "idle"), numbers(grammar))
        self._passed = lru_cache(1)(self._pass_over)  # a refused line asks for it twice
        self._signs = words_of(grammar, "sign")
        self._of_numbers = [Matcher(grammar.walker(rule)) for rule in _NUMBERS if rule in grammar.rules]

    def understand(self, line: str) -> Understood:
        """What `line` can say. Raises NotAPhraseError when it is no phrase."""
        understood = self.loosely(line)
        if understood is None:
            raise self._why_not(line, tokenise(line, self._grammar.language))
        return understood

    def loosely(self, line: str) -> Understood | None:
        """What `line` can say, with words that tell nothing passed over if need be; None when it says nothing."""
        understood = self.phrase(line)
        if understood is not None:
            return understood
        tokens = tokenise(line, self._grammar.language)
        passed = self._passed(tokens)
        found = [Understood(line.strip(), each.readings, rule) for rule, each in passed.items() if each.sure]
        if found:
            return min(found, key=lambda each: cost(each.readings[0])[0])
        readings = () if self._loosely is None else self._loosely.readings(tokens)
        return Understood(line.strip(), readings, LINE_RULE) if readings else None

    def phrase(self, line: str) -> Understood | None:
        """What `line` can say; None when it is no phrase, without looking for the reason."""
        tokens = tokenise(line, self._grammar.language)
        found: list[Understood] = []
        for rule, matcher in self._matchers.items():
            readings = tuple(
                each
                for each in matcher.readings(tokens)
                if not self._is_no_note(each) and not self._parts_a_number(tokens, each)
            )
            if readings:
                found.append(Understood(line.strip(), readings, rule))
                if rule.startswith(_ANSWERS):
                    break
        return min(found, key=lambda each: cost(each.readings[0])[0], default=None)

    def _pass_over(self, tokens: tuple[Token, ...]) -> dict[str, Passed]:
        """By rules, what a line says with words that tell nothing passed over; answers are taken as they are."""
        found = {
            rule: passing_over(matcher, tokens, self._words)
            for rule, matcher in self._matchers.items()
            if rule in WHOLE_LINES
        }
        return {rule: each for rule, each in found.items() if each is not None}

    def _parts_a_number(self, tokens: tuple[Token, ...], reading: Meanings) -> bool:
        """Whether words that make one number stand for two in two entries: "in the one | fifty meridian"."""
        if len(reading) == 1:
            return False
        said = {number for meaning in reading for number in _numbers_in(meaning)}
        for run in self._runs(tokens):
            whole = self._as_one(run)
            if not whole or not said.isdisjoint(whole):
                continue
            parts = [(self._as_one(run[:place]), self._as_one(run[place:])) for place in range(1, len(run))]
            if any(not said.isdisjoint(before) and not said.isdisjoint(behind) for before, behind in parts):
                return True
        return False

    def _runs(self, tokens: tuple[Token, ...]) -> list[tuple[Token, ...]]:
        """The longest runs of number words, of two and more, without a sign before them."""
        grouped = groupby(tokens, lambda token: token.text in self._words.of_numbers - self._signs)
        return [run for inside, found in grouped if inside and len(run := tuple(found)) > 1]

    def _as_one(self, run: tuple[Token, ...]) -> set[float]:
        """What a run of number words is as one number: dioptres in steps that lenses have, degrees."""
        numbers_words = self._grammar.language.numbers
        if numbers_words is not None and run[0].text == numbers_words.joined_by:
            run = run[1:]
        readings = [reading for matcher in self._of_numbers for reading in matcher.readings(run)]
        return {
            number for (meaning,) in readings for number in _numbers_in(meaning) if (8 * number).is_integer()
        }

    def _is_no_note(self, reading: Meanings) -> bool:
        """ "Note to self" is none, nor is "make a note of that"."""
        texts = [each.text for each in reading if isinstance(each, say.Note) and each.text]
        return any(text.split()[0] in words_of(self._grammar, "no_note") for text in texts)

    def _why_not(self, line: str, tokens: tuple[Token, ...]) -> NotAPhraseError:
        if not tokens:
            return NotAPhraseError("the line is empty")
        known = max(matcher.longest_start(tokens) for matcher in self._matchers.values())
        message = f"{line.strip()!r} is not finished"
        if known < len(tokens):
            message = f"{line.strip()!r} is not understood from {tokens[known].text!r} on"
        kept = Kept(
            exact_words(self._grammar) | words_of(self._grammar, "telling_doubt"),
            words_of(self._grammar, "telling_motion"),
            words_of(self._grammar, "fix_word"),
        )
        found = next((each.kept for each in self._passed(tokens).values()), None) or nearest_phrase(
            self._grammar, " ".join(self._matchers), tokens, known, kept, self._log_weight
        )
        begun = self._begun(tokens) if known == len(tokens) else ()
        if found is None:
            return NotAPhraseError(message, begun=begun)
        nearest = written(found)
        return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest, begun)

    def _begun(self, tokens: tuple[Token, ...]) -> Meanings:
        """The eye before a place whose entry breaks off: "right eye, streak vertical, plus ..."."""
        for length in range(len(tokens) - 1, 0, -1):
            for matcher in self._matchers.values():
                for reading in matcher.readings(tokens[:length])[:1]:
                    whole = [each.kind for each in reading] == ["eye", "place"]
                    return reading[:1] if whole else ()
        return ()

    def _log_weight(self, tokens: tuple[Token, ...]) -> float | None:
        """How likely a line is said; None when it is no phrase, or a note: whatever is written would be near one."""
        weights = [
            weight
            for matcher in self._matchers.values()
            if (weight := matcher.log_weight(tokens)) is not None
            and (readings := matcher.readings(tokens))
            and not any(isinstance(each, say.Note) for said in readings for each in said)
        ]
        return max(weights, default=None)


def _numbers_in(model: say.Model) -> Iterator[float]:
    """Every size, axis, angle and distance inside a meaning."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        for each in value if isinstance(value, tuple) else (value,):
            if isinstance(each, say.Model):
                yield from _numbers_in(each)
            elif isinstance(each, int | float) and not isinstance(each, bool):
                yield float(each)


def written(tokens: tuple[Token, ...]) -> str:
    """Words as a line."""
    return "".join(token.text if token.joined else f" {token.text}" for token in tokens).strip()


@cache
def exact_words(grammar: Grammar) -> frozenset[str]:
    """The words of numbers, signs, axes and eyes, which are never matched loosely."""
    rules = _EXACT_RULES if "eye_name" in grammar.rules else (*_EXACT_RULES, "eye")
    return frozenset().union(*(words_of(grammar, rule) for rule in rules))


@cache
def numbers(grammar: Grammar) -> frozenset[str]:
    """The words of numbers and their signs."""
    return frozenset().union(
        *(words_of(grammar, rule) for rule in ("digit", "sign", "magnitude", "axis", "distance"))
    )


@cache
def words_of(grammar: Grammar, rule: str) -> frozenset[str]:
    """All words of a rule; none when the grammar has no such rule, as one of another language need not."""
    if rule not in grammar.rules:
        return frozenset()
    words: set[str] = set()
    walker = grammar.walker(rule)
    todo, seen = [walker.start], {walker.start}
    while todo:
        for token, targets in walker.ways(todo.pop()).targets.items():
            words.add(token.text)
            fresh = targets - seen
            seen |= fresh
            todo.extend(fresh)
    return frozenset(words)
