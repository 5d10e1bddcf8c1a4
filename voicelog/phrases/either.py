"""What a line may say as well, where one small word does not tell: both are asked about.

"With" is a motion, and it is a word before a place: "with the vertical streak plus two", "with it vertical". "At" names
the axis of a cylinder, and the place of a lens: "plus two minus one at ninety". "Right" before "about" may name no eye.
"The ninety one" is the one at ninety, or ninety-one.
"""

from collections.abc import Callable, Sequence
from itertools import takewhile

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.word_sets import numbers, words_of

_PLACES = ("plain_direction", "streak_word", "meridian_word")


class Either:
    """Finds what else a line may say; the words are those of the grammar's rules."""

    def __init__(self, grammar: Grammar) -> None:
        self._with = words_of(grammar, "with_place")
        self._articles = words_of(grammar, "article_before_place")
        self._pronouns = words_of(grammar, "pronoun_before_place")
        self._places = frozenset().union(*(words_of(grammar, rule) for rule in _PLACES))
        self._angles = words_of(grammar, "plain_axis")
        self._numbers, self._signs = numbers(grammar), words_of(grammar, "sign")
        self._at = words_of(grammar, "at_axis")
        self._of_cylinder = words_of(grammar, "names_cylinder")
        self._definite, self._one = words_of(grammar, "definite"), words_of(grammar, "pronoun_one")
        self._tens = words_of(grammar, "tens")
        self._sides, self._about = words_of(grammar, "side_alone"), words_of(grammar, "about")

    def readings(
        self,
        tokens: Sequence[Token],
        found: Sequence[Meanings],
        read: Callable[[Sequence[Token]], Sequence[Meanings]],
    ) -> tuple[Meanings, ...]:
        """What the words can say in another way than `found`, each of which `read` finds in words."""
        words = {token.text for token in tokens}
        at_alone = not words.isdisjoint(self._at) and words.isdisjoint(self._of_cylinder)
        others = [_lens_at_place(each) for each in found if at_alone]
        plain = tuple(each for each in others if each is not None)
        return (
            *self._without_with(tokens, found, read),
            *self._without_side(tokens, found, read),
            *self._without_one(tokens, found, read),
            *plain,
        )

    def _without_one(
        self,
        tokens: Sequence[Token],
        found: Sequence[Meanings],
        read: Callable[[Sequence[Token]], Sequence[Meanings]],
    ) -> tuple[Meanings, ...]:
        """What the words say if the "one" of "the ninety one" is no number."""
        for at in range(2, len(tokens)):
            article, tens, one = (token.text for token in tokens[at - 2 : at + 1])
            ends = at + 1 == len(tokens) or tokens[at + 1].text not in self._numbers - self._signs
            if article in self._definite and tens in self._tens and one in self._one and ends:
                return tuple(each for each in read((*tokens[:at], *tokens[at + 1 :])) if each not in found)
        return ()

    def _without_side(
        self,
        tokens: Sequence[Token],
        found: Sequence[Meanings],
        read: Callable[[Sequence[Token]], Sequence[Meanings]],
    ) -> tuple[Meanings, ...]:
        """What the words say if "right" before "about" names no eye."""
        first, second = ([each.text for each in tokens] + ["", ""])[:2]
        if first not in self._sides or second not in self._about:
            return ()
        return tuple(each for each in read(tokens[1:]) if each not in found)

    def _without_with(
        self,
        tokens: Sequence[Token],
        found: Sequence[Meanings],
        read: Callable[[Sequence[Token]], Sequence[Meanings]],
    ) -> tuple[Meanings, ...]:
        """What the words say if a "with" before a place belongs to the place."""
        before_place = self._articles | self._pronouns
        for at, token in enumerate(tokens):
            behind = [each.text for each in tokens[at + 1 :] if each.text not in before_place][:1]
            if self._is_behind_place(tokens[:at]):
                continue  # it is what was seen there
            if token.text in self._with and behind and behind[0] in self._places:
                rest = at + 2 if tokens[at + 1].text in self._pronouns else at + 1
                return tuple(each for each in read((*tokens[:at], *tokens[rest:])) if each not in found)
        return ()

    def _is_behind_place(self, before: Sequence[Token]) -> bool:
        """Whether words end with a place; a number with its sign is a power."""
        if not before or before[-1].text not in self._places | self._angles:
            return False
        number = list(takewhile(lambda token: token.text in self._numbers, reversed(before)))
        return all(token.text not in self._signs for token in number)


def _lens_at_place(reading: Meanings) -> Meanings | None:
    """Two lenses, the second in a place, instead of a sphere and a cylinder with an axis."""
    match reading:
        case (say.Lenses(lens=say.Lens(sphere=say.Power() as sphere, cylinder=say.Cylinder() as cylinder)),):
            if cylinder.axis_deg is None:
                return None
            where = say.Where(names=None, angle=cylinder.axis_deg)
            alone = say.Reading(where=where, motion="neutral", lens=say.Lens(sphere=cylinder.power))
            return (say.Lenses(lens=say.Lens(sphere=sphere)), alone)
        case _:
            return None
