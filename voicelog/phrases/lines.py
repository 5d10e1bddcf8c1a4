"""A typed line to what it can say, or why it says nothing."""

from dataclasses import dataclass
from functools import cache

from voicelog.errors import VoicelogError
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Matcher, Meanings, tokenise
from voicelog.phrases.nearest import Kept, nearest_phrase
from voicelog.phrases.plainest import cost

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = ("digit", "sign", "eye", "magnitude", "axis", "distance", "direction", "direction_letter")
_ANSWERS = "answers_"
_LOOSELY = "loosely"
TYPED = (Layer.WRITTEN, Layer.TYPED)
"""The layers that a typed line may use."""


class NotAPhraseError(VoicelogError):
    """A line is no phrase of the grammar; says where it goes wrong and what may have been meant.

    `nearest` is the whole phrase that is nearest to it, if there is one that is near.
    """

    def __init__(self, message: str, nearest: str | None = None) -> None:
        super().__init__(message)
        self.nearest = nearest


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
        self._typed = Layer.TYPED in layers
        self._loosely: Matcher | None = None
        if self._typed and LINE_RULE in self._matchers and _LOOSELY in grammar.rules:
            self._loosely = Matcher(grammar.walker(_LOOSELY, *layers), words_of(grammar, "telling"))

    def understand(self, line: str) -> Understood:
        """What `line` can say. Raises NotAPhraseError when it is no phrase."""
        tokens = tokenise(line, self._grammar.language)
        found = self._found(line, tokens)
        if not found and self._typed:
            fewer = without_passed_over(self._grammar, tokens)
            found = [] if fewer == tokens else self._found(line, fewer)
            found = [each for each in found if not each.rule.startswith(_ANSWERS)]
        if not found and self._loosely is not None and (readings := self._loosely.readings(tokens)):
            found = [Understood(line.strip(), readings, LINE_RULE)]
        if found:
            return min(found, key=lambda each: cost(each.readings[0])[0])
        raise self._why_not(line, tokens)

    def _found(self, line: str, tokens: tuple[Token, ...]) -> list[Understood]:
        """What the words say by each rule, until an answer is among it."""
        found: list[Understood] = []
        for rule, matcher in self._matchers.items():
            readings = tuple(each for each in matcher.readings(tokens) if not self._is_no_note(each))
            if readings:
                found.append(Understood(line.strip(), readings, rule))
                if rule.startswith(_ANSWERS):
                    break
        return found

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
        )
        found = nearest_phrase(self._grammar, " ".join(self._matchers), tokens, known, kept, self._log_weight)
        if found is None:
            return NotAPhraseError(message)
        nearest = written(found)
        return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest)

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


def written(tokens: tuple[Token, ...]) -> str:
    """Words as a line."""
    return "".join(token.text if token.joined else f" {token.text}" for token in tokens).strip()


def without_passed_over(grammar: Grammar, tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """A line without the words that say nothing of their own, but for those inside a number."""
    numbers = words_of(grammar, "digit") | words_of(grammar, "below_hundred")
    phrases = _passed_over(grammar.language)
    left: list[Token] = []
    place = 0
    while place < len(tokens):
        for phrase in phrases:
            behind = place + len(phrase)
            if tokens[place:behind] == phrase:
                inside = bool(left) and left[-1].text in numbers
                if not (inside and behind < len(tokens) and tokens[behind].text in numbers):
                    place = behind
                    break
        else:
            left.append(tokens[place])
            place += 1
    return tuple(left)


@cache
def _passed_over(language: Language) -> tuple[tuple[Token, ...], ...]:
    """What may be passed over, as tokens, the longest first."""
    phrases = {tokenise(words, language) for words in language.passed_over}
    return tuple(sorted(phrases, key=lambda words: (-len(words), str(words))))


@cache
def exact_words(grammar: Grammar) -> frozenset[str]:
    """The words of numbers, signs, axes and eyes, which are never matched loosely."""
    return frozenset().union(*(words_of(grammar, rule) for rule in _EXACT_RULES))


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
