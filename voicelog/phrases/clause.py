"""The part of a line that is a phrase by itself, where the rest tells nothing that an entry needs: worth a question.

"Bit cramped here, I'm at half a metre" holds a distance, and "thinnest at thirty five, so axis thirty five" an axis.
The rest may be of any words but those that are exact, deny, doubt, mend or speak of others; a number in it must be one
of the part's own, said twice. Nothing is entered so: what the part says is asked about.
"""

from collections.abc import Callable, Sequence

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.in_order import ANSWERS, RulesInOrder
from voicelog.phrases.matcher import Meanings, written
from voicelog.phrases.plainest import powers
from voicelog.phrases.strength import are_signed, is_of_eyes, is_step
from voicelog.phrases.word_sets import WordSets

_LEAST = 2
"""Words of a part, beside those that tell nothing."""
_MOST_BESIDE = 3
"""Words beside the part, for each word of it."""
_MOST_WORDS = 24
"""A longer line is no dictated phrase; to try all its parts would take long."""
_TELLS_LITTLE = (say.Answer, say.Note, say.Place, say.LooseWhere, say.LooseSign, say.Habit, say.Claim)


class Clauses:
    """Finds such parts. `may_be_left`: whether a word beside a part tells nothing."""

    def __init__(self, rules: RulesInOrder, sets: WordSets, may_be_left: Callable[[Token], bool]) -> None:
        self._rules = rules
        self._sets = sets
        self._may_be_left = may_be_left

    def plainest(self, tokens: Sequence[Token]) -> str | None:
        """The part of the fewest entries, the longest of these; None without one, or where two say different things."""
        if len(tokens) > _MOST_WORDS:
            return None
        fewest: dict[Meanings, str] = {}
        best: tuple[int, int] | None = None
        for length in range(len(tokens) - 1, _LEAST - 1, -1):
            for start in range(len(tokens) - length + 1):
                if not self._may_be_a_part(tokens, start, start + length):
                    continue
                reading = self._said(tokens, start, start + length)
                if reading is None:
                    continue
                rank = (sum(not isinstance(each, say.Eye) for each in reading), -length)
                if best is None or rank < best:
                    best = rank
                    fewest.clear()
                if rank == best:
                    fewest.setdefault(reading, written(tokens[start : start + length]))
        return next(iter(fewest.values())) if len(fewest) == 1 else None

    def _said(self, tokens: Sequence[Token], start: int, end: int) -> Meanings | None:
        """The one thing that a part says, where that is an entry."""
        found = self._rules.found(tokens[start:end])
        if found is None or len(found.readings) != 1 or found.rule.startswith(ANSWERS):
            return None
        (reading,) = found.readings
        return reading if self._tells(reading) and not self._rules.no_order.is_none(tokens, reading) else None

    def _may_be_a_part(self, tokens: Sequence[Token], start: int, end: int) -> bool:
        """Whether the words around a part may be left, and cut no number in two."""
        around = (tokens[:start], tokens[end:])
        telling = sum(token.text not in self._sets.idle for token in tokens[start:end])
        if telling < _LEAST or sum(map(len, around)) > _MOST_BESIDE * (end - start):
            return False
        for at in (start, end):
            if 0 < at < len(tokens) and all(map(self._sets.of_number, tokens[at - 1 : at + 1])):
                return False
        inside = f" {written(tokens[start:end])} "
        return all(self._is_free(words, inside) for words in around)

    def _is_free(self, words: Sequence[Token], inside: str) -> bool:
        """Whether words tell nothing, but for numbers that the part has too."""
        said: list[Token] = []
        for token in (*words, None):
            if token is not None and not self._may_be_left(token):
                said.append(token)
                continue
            if said and (f" {written(said)} " not in inside or not all(map(self._sets.of_number, said))):
                return False
            said.clear()
        return True

    def _tells(self, reading: Meanings) -> bool:
        little = any(isinstance(each, _TELLS_LITTLE) for each in reading)
        if little or is_of_eyes(reading) or not are_signed(reading) or any(map(is_step, reading)):
            return False
        return not all(
            isinstance(each, say.Reading) and each.where is None and not powers(each) for each in reading
        )
