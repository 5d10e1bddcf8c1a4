"""A typed line to what it can say, or why it says nothing."""

from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import islice
from string import ascii_lowercase

from voicelog.errors import VoicelogError
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import LINE_RULE, WHOLE_LINES, Grammar
from voicelog.phrases.half_said import NOTHING_NAMED, HalfSaid, Names
from voicelog.phrases.in_order import Found, RulesInOrder
from voicelog.phrases.in_pieces import LineInPieces
from voicelog.phrases.matcher import Matcher, Meanings, tokenise, written
from voicelog.phrases.named import loses_naming
from voicelog.phrases.nearby import Near
from voicelog.phrases.nearest import Nearest
from voicelog.phrases.passing import Passed, passing_over
from voicelog.phrases.plainest import powers
from voicelog.phrases.spoken_to import without_names
from voicelog.phrases.strength import takes_away
from voicelog.phrases.word_sets import UNLIKE, unlikeness, word_sets, words_of

_MOST_GUESSES = 5
_MISSPELT = 0.2
"""A line in which a word is misspelt is no farther from what was meant (share of the letters)."""
_LETTERS = frozenset(ascii_lowercase)
"""A letter alone begins anything: "V A" is no vertical that breaks off."""
TYPED = (Layer.WRITTEN, Layer.TYPED)
"""The layers that a typed line may use."""


class NotAPhraseError(VoicelogError):
    """A line is no phrase of the grammar; says where it goes wrong and what may have been meant.

    `nearest` is the whole phrase near it, if any, and `likely` tells that it is worth a question. `begun` is the
    place, and the eye before it, of an entry that breaks off: that much was said. `half` is what it names all the same.
    """

    def __init__(
        self, message: str, nearest: str | None = None, begun: Meanings = (), *, likely: bool = False
    ) -> None:
        super().__init__(message)
        self.nearest = nearest
        self.begun = begun
        self.likely = likely
        self.half = NOTHING_NAMED


@dataclass(frozen=True, slots=True)
class Understood:
    """A line and what it can say, likeliest first; more than one reading means that it must be asked about.

    `rule` is the one that the line is a phrase of.
    """

    text: str
    readings: tuple[Meanings, ...]
    rule: str


class LineReader:
    """Understands lines of one rule of a grammar, or of several, with a space between (see `RulesInOrder`)."""

    def __init__(self, grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> None:
        self._language = grammar.language
        self._rules = RulesInOrder(grammar, rule, *layers)
        self._matchers = self._rules.matchers
        self._sets = word_sets(grammar)
        self._nearest = Nearest(grammar, " ".join(self._matchers), self._sets)
        self._says_nothing = words_of(grammar, "says_nothing")
        has_list = "nothing_told" in grammar.rules
        self._nothing_told = Matcher(grammar.walker("nothing_told")) if has_list else None
        self._for_a_note = words_of(grammar, "for_a_note", Layer.TYPED)
        self._own = words_of(grammar, "own", Layer.TYPED)
        self._line_goes_on = words_of(grammar, "line_goes_on")
        self._number_goes_on = words_of(grammar, "number_goes_on")
        self._naming = words_of(grammar, "habit_word")
        self._names = Names(grammar, self._rules, self._sets)
        self._passed = lru_cache(1)(self._pass_over)  # asked for twice
        self._pieces = LineInPieces(grammar, self._rules, self._sets, *layers)

    def understand(self, line: str) -> Understood:
        """What `line` can say. Raises NotAPhraseError when it is no phrase."""
        understood = self.loosely(line)
        if understood is None:
            tokens = tokenise(line, self._language)
            error = self._nothing_said(line, tokens) or self._why_not(line, tokens)
            nearest = None if error.nearest is None else self.phrase(error.nearest)
            if nearest is not None and not self._keeps_all(line, nearest):
                error = NotAPhraseError(str(error).partition("; did")[0], begun=error.begun)
            error.half = self.half_said(line)
            raise error
        return understood

    def loosely(self, line: str) -> Understood | None:
        """What `line` can say, with words passed over if need be; None when it says nothing."""
        tokens, no_order = tokenise(line, self._language), self._rules.no_order
        if no_order.is_unreal(tokens) or no_order.is_own_power(tokens):
            return None
        understood = self._loosely(line)
        if understood is None or self._is_the_patients(line, understood):
            return None
        if no_order.takes_with_twice(tokens, understood.readings):
            return None
        return understood if self._keeps_all(line, understood) or self.phrase(line) is not None else None

    def _keeps_all(self, line: str, understood: Understood) -> bool:
        tokens, readings = tokenise(line, self._language), understood.readings
        odd = self._rules.no_order.counts_a_pronoun(tokens, readings)
        return not (odd or loses_naming(self._naming, tokens, readings))

    def _is_the_patients(self, line: str, understood: Understood) -> bool:
        """ "My glasses are plus two" is said by whoever wears them: the examiner says whose they are."""
        own = any(token.text in self._own for token in tokenise(line, self._language))
        return own and any(isinstance(each, say.Spectacles) for one in understood.readings for each in one)

    def _loosely(self, line: str) -> Understood | None:
        understood = self.phrase(line)
        if understood is not None:
            return self._in_fewer_entries(line, understood)
        without = self._without_names(line)
        if without is not None:
            return without
        tokens = tokenise(line, self._language)
        if self._breaks_off(tokens):
            return None
        arranged = self._pieces.arranged(line)
        sure = arranged is not None and arranged.sure
        if arranged is not None and sure and not arranged.unknown:
            return Understood(line.strip(), arranged.found.readings, arranged.found.rule)
        framed = self._pieces.framed(line)
        if framed is not None and framed.sure:
            return Understood(line.strip(), framed.found.readings, framed.found.rule)
        passed = [Found(each.readings, rule) for rule, each in self._passed(tokens).items() if each.sure]
        if passed:
            found = min(passed, key=lambda each: each.cost)
            others = () if arranged is None else arranged.found.readings
            return Understood(line.strip(), tuple(dict.fromkeys((*found.readings, *others))), found.rule)
        named = self._pieces.naming(tokens) if arranged is None or not sure else arranged.found
        return None if named is None else Understood(line.strip(), named.readings, named.rule)

    def _without_names(self, line: str) -> Understood | None:
        """What a line says without the name of who is spoken to. Beside a power nothing is left out."""
        said = without_names(line, self._sets)
        understood = None if said == line else self._loosely(said)
        if understood is None or any(powers(each) for one in understood.readings for each in one):
            return None
        return understood

    def _breaks_off(self, tokens: tuple[Token, ...]) -> bool:
        """Whether a line ends within a number: "vertical plus two and a". What was to come may make it another."""
        if tokens and tokens[-1].text in self._line_goes_on:
            return True
        left = len(tokens)
        while left and tokens[left - 1].text in self._number_goes_on:
            left -= 1
        return 0 < left < len(tokens) and self._sets.of_number(tokens[left - 1])

    def _in_fewer_entries(self, line: str, understood: Understood) -> Understood:
        """A line in another order, if it is one entry so and several as it stands.

        "Neutralised the vertical with plus two" is not "neutralised; the vertical with".
        """
        told = _many(understood.readings[0])
        if told > 1 and len(understood.readings) > 1:
            framed = self._pieces.framed(line)
            if framed is not None and framed.sure and _many(framed.found.readings[0]) < told:
                return Understood(line.strip(), framed.found.readings, framed.found.rule)
        arranged = self._pieces.arranged(line) if told > 1 else None
        if arranged is None or not arranged.sure or not arranged.strong:
            return understood
        fewer = _many(arranged.found.readings[0]) < told
        return Understood(line.strip(), arranged.found.readings, arranged.found.rule) if fewer else understood

    def phrase(self, line: str) -> Understood | None:
        """What `line` can say; None when it is no phrase, without looking for the reason."""
        found = self._rules.found(tokenise(line, self._language))
        return None if found is None else Understood(line.strip(), found.readings, found.rule)

    def _pass_over(self, tokens: tuple[Token, ...]) -> dict[str, Passed]:
        """By rules, what a line says with words passed over; answers are taken as they are."""
        whole = [rule for rule in self._matchers if rule in WHOLE_LINES]
        found = {rule: passing_over(self._rules, rule, tokens, self._sets) for rule in whole}
        return {rule: each for rule, each in found.items() if each is not None}

    def _nothing_said(self, line: str, tokens: tuple[Token, ...]) -> NotAPhraseError | None:
        if not tokens:
            return NotAPhraseError("the line is empty")
        idle = self._sets.idle | self._says_nothing
        if all(token.text in idle for token in tokens) or (
            self._nothing_told is not None and self._nothing_told.values(tokens)
        ):
            return NotAPhraseError(f"{line.strip()!r} is nothing for the log")
        return None

    def _why_not(self, line: str, tokens: tuple[Token, ...]) -> NotAPhraseError:
        words = self._sets.walked_over(tokens)
        known = max(each.longest_start(words) for each in self._rules.steppers.values())
        message = f"{line.strip()!r} is not finished"
        if known < len(tokens):
            message = f"{line.strip()!r} is not understood from {tokens[known].text!r} on"
        elif any(each.readings(tokens) for each in self._matchers.values()):
            message = f"{line.strip()!r} holds things that do not go together: say one at a time"
        breaks_off = self._breaks_off(tokens)
        begun = self._begun(tokens) if known == len(tokens) or breaks_off else ()
        if breaks_off:
            return NotAPhraseError(f"{line.strip()!r} is not finished", begun=begun)
        if self._rules.no_order.is_unreal(tokens) or self._rules.no_order.is_own_power(tokens):
            return NotAPhraseError(message, begun=begun)
        if self._is_for_a_note(tokens):
            nearest = f"note {line.strip()}"
            return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest, begun, likely=True)
        framed = self._pieces.framed(line)
        if framed is not None:
            nearest = self._nearest_of(tokens, framed.found) or framed.text
            return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest, begun, likely=True)
        arranged = self._pieces.arranged(line)
        if arranged is not None:
            nearest, likely = arranged.text, arranged.strong or not arranged.unknown
            return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest, begun, likely=likely)
        found = self._guess(tokens)
        likely = found is not None and self._nearest.is_likely(tokens, found)
        gist = None if likely else self._pieces.gist(line)
        if gist is not None:
            return NotAPhraseError(f"{message}; did you mean {gist!r}?", gist, begun, likely=True)
        if found is None:
            return NotAPhraseError(message, begun=begun)
        nearest = written(found.words)
        if likely:
            said = self.phrase(nearest)
            readings = () if said is None else said.readings
            # "Sir, is that the streak at 45?" asks somebody: no entry is offered for it.
            asks = self._rules.no_order.is_question(tokens)
            likely = bool(readings) and (not asks or all(isinstance(each, say.Tell) for each in readings[0]))
            far = unlikeness(written(tokens), nearest) > _MISSPELT
            likely = likely and not (far and any(map(takes_away, readings)))
        return NotAPhraseError(f"{message}; did you mean {nearest!r}?", nearest, begun, likely=likely)

    def half_said(self, line: str) -> HalfSaid:
        """What a line names, whatever it says of it: "left eye, he looks away", "that cylinder to a half"."""
        return self._names.in_line(tokenise(line, self._language))

    def _is_for_a_note(self, tokens: tuple[Token, ...]) -> bool:
        """Whether a line tells of something that the log has no entry for."""
        if any(token.text in self._for_a_note for token in tokens):
            return True
        return self._pieces.is_note(tokens)

    def _guess(self, tokens: tuple[Token, ...]) -> Near | None:
        """The nearest line that is a phrase as it is written; one that keeps no word is none ("yes" for anything)."""
        if all(token.text in self._sets.idle | self._sets.light for token in tokens):
            return None  # "next" stands beside any phrase, and says which one of none
        lines = self._nearest.lines(self._rules.steppers.values(), tokens)
        for each in islice(lines, _MOST_GUESSES):
            nearest = written(each.words)
            kept = each.kept or unlikeness(written(tokens), nearest) < UNLIKE
            if kept and self._rules.readings(tokenise(nearest, self._language)):
                return each
        return None

    def _nearest_of(self, tokens: tuple[Token, ...], said: Found) -> str | None:
        """The nearest phrase where it says the same: only a word was misspelt."""
        guess = self._guess(tokens)
        if guess is None or not self._nearest.is_likely(tokens, guess):
            return None
        nearest = written(guess.words)
        if unlikeness(written(tokens), nearest) > _MISSPELT:
            return None
        found = self._rules.found(tokenise(nearest, self._language))
        return nearest if found is not None and found.readings == said.readings else None

    def _begun(self, tokens: tuple[Token, ...]) -> Meanings:
        """The place of an entry that breaks off, and the eye before it: "right eye, streak vertical, plus ..."."""
        words = self._sets.walked_over(tokens[:-1])
        whole = {rule: each.longest_whole(words) for rule, each in self._rules.steppers.items()}
        longest = max(whole, key=lambda rule: whole[rule])
        end = whole[longest]
        cut = 0 < end < len(tokens) and all(map(self._sets.of_number, tokens[end - 1 : end + 1]))
        for reading in self._rules.said(longest, tokens[:end])[:1]:
            *before, last = reading
            if written(tokens[:end]) in _LETTERS or (cut and isinstance(last, say.Place | say.LooseWhere)):
                return ()  # "five two eight one" names no five
            where = last.where if isinstance(last, say.Place | say.LooseWhere | say.Reading) else None
            if where is not None and all(isinstance(each, say.Eye) and not each.side_only for each in before):
                return (*before, say.Place(where=where))
        return ()


def _many(reading: Meanings) -> int:
    """How many entries a reading is, beside the eyes that it names."""
    return sum(not isinstance(each, say.Eye) for each in reading)


@cache
def reader_of(grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> LineReader:
    """The reader of a rule, or of several with a space between; made once and kept."""
    return LineReader(grammar, rule, *layers)
