"""Lines that hold an entry's words and are none: a question, and what is told or asked of an eye.

"Is it finished?" ends nothing, and neither "the right eye is the good one" nor "say back OS" makes an eye the one in
hand. Held against what is read of a line only where words were passed over: a phrase of the grammar is what it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import dropwhile, pairwise

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.plainest import powers
from voicelog.phrases.word_sets import words_of

_HAVE, _MORE = "have", "more"


@dataclass(frozen=True, slots=True)
class NoOrder:
    """The words of a language by which such lines are told.

    `called`: call somebody, before all else.
    `asks`: begin a question where one of `subject` stands behind, `always_asks` without. `eyes`: name one. `told`: is
    told of an eye behind its name. `of_another`: whose eye it is, before its name. `not_of_eye`: stand where its
    results are asked for, or another person is spoken to. `of_symptom`: begin what is told of how an eye feels, but
    before `is_said`. `own_use` behind one of `told_by`: at what distance somebody reads. `own_sight` behind one of
    them, with one of `own_seen`: what the patient sees. `unreal` before "have" and one of `unreal_done` tells what
    would have been. `joins` is a motion, or stands before `with_whom`.
    """

    called: frozenset[str]
    asks: frozenset[str]
    always_asks: frozenset[str]
    subject: frozenset[str]
    eyes: frozenset[str]
    told: frozenset[str]
    of_another: frozenset[str]
    not_of_eye: frozenset[str]
    of_symptom: frozenset[str]
    is_said: frozenset[str]
    told_by: frozenset[str]
    own_use: frozenset[str]
    own_sight: frozenset[str]
    own_seen: frozenset[str]
    unreal: frozenset[str]
    unreal_done: frozenset[str]
    own_power: frozenset[str]
    signs: frozenset[str]
    pronoun: frozenset[str]
    before_pronoun: frozenset[str]
    joins: frozenset[str]
    with_whom: frozenset[str]
    articles: frozenset[str]

    @classmethod
    def of(cls, grammar: Grammar) -> "NoOrder":
        """The words of a grammar; none of a rule that it lacks."""
        return cls(
            called=words_of(grammar, "vocative") | words_of(grammar, "called"),
            asks=words_of(grammar, "asks_another"),
            always_asks=words_of(grammar, "always_asks"),
            subject=words_of(grammar, "asked_of"),
            eyes=words_of(grammar, "eye_name") | words_of(grammar, "other_eye"),
            told=words_of(grammar, "told_of_eye"),
            of_another=words_of(grammar, "of_another"),
            not_of_eye=words_of(grammar, "not_of_eye"),
            of_symptom=words_of(grammar, "of_symptom"),
            is_said=words_of(grammar, "is_said"),
            told_by=words_of(grammar, "told_by"),
            own_use=words_of(grammar, "own_use"),
            own_sight=words_of(grammar, "own_sight"),
            own_seen=words_of(grammar, "own_seen"),
            unreal=words_of(grammar, "unreal"),
            unreal_done=words_of(grammar, "unreal_done"),
            own_power=words_of(grammar, "own_power"),
            signs=words_of(grammar, "sign_word"),
            pronoun=words_of(grammar, "pronoun_one"),
            before_pronoun=words_of(grammar, "before_one"),
            joins=words_of(grammar, "with_place"),
            with_whom=words_of(grammar, "asked_of") - words_of(grammar, "article_before_place"),
            articles=words_of(grammar, "article_before_place"),
        )

    def is_question(self, tokens: Sequence[Token]) -> bool:
        """Whether a line asks: "is it ...", "have we ...", "do I ..."; "could you ..." is a polite order."""
        words = [token.text for token in dropwhile(lambda each: each.text in self.called, tokens)][:2]
        if not words or words[0] not in self.asks:
            return False
        return words[0] in self.always_asks or (len(words) > 1 and words[1] in self.subject)

    def is_unreal(self, tokens: Sequence[Token]) -> bool:
        """Whether a line tells what would have been: "I would have called it plus two"."""
        words = [token.text for token in tokens]
        return any(
            one in self.unreal and words[at + 1] == _HAVE and words[at + 2] in self.unreal_done
            for at, one in enumerate(words[:-2])
        )

    def is_own_power(self, tokens: Sequence[Token]) -> bool:
        """Whether somebody tells what his own glasses are: "doctor, I am minus five in both"."""
        return any(one.text in self.own_power and other.text in self.signs for one, other in pairwise(tokens))

    def _is_joined(self, tokens: Sequence[Token]) -> bool:
        """Whether the only motion word joins another to it: "done with this patient"."""
        joining = [one.text in self.joins and other.text in self.with_whom for one, other in pairwise(tokens)]
        return any(joining) and sum(token.text in self.joins for token in tokens) == sum(joining)

    def counts_a_pronoun(self, tokens: Sequence[Token], readings: Sequence[Meanings]) -> bool:
        """Whether a lens of one dioptre is read of a word that counts nothing: "check that one again"."""
        pairs = pairwise(token.text for token in tokens)
        if not any(
            (other in self.pronoun and one in self.before_pronoun) or (one in self.pronoun and other == _MORE)
            for one, other in pairs
        ):
            return False
        said = [power for reading in readings for told in reading for power in powers(told)]
        return any(power.sign is None and power.size_d == 1.0 for power in said)

    def takes_with_twice(self, tokens: Sequence[Token], readings: Sequence[Meanings]) -> bool:
        """Whether "with" before a lens is read as a motion too: "with the plus two in place it goes with"."""
        words = [token.text for token in tokens if token.text not in self.articles]
        free = sum(word in self.joins for word in words)
        free -= sum(one in self.joins and other in self.signs for one, other in pairwise(words))
        seen = max((sum(map(_is_with, reading)) for reading in readings), default=0)
        return seen > free and any(_is_motion_alone(told) for reading in readings for told in reading)

    def is_none(self, tokens: Sequence[Token], reading: Meanings) -> bool:
        """Whether what is read of a line, with words passed over, is neither an entry nor an order of it."""
        if any(isinstance(each, say.Tell | say.Answer) for each in reading):
            return False
        if self.is_question(tokens) or (all(map(_is_motion_alone, reading)) and self._is_joined(tokens)):
            return True
        if self.is_the_patients(tokens, reading):
            return True
        if not all(_is_of_an_eye_alone(each) for each in reading):
            return False
        words = [token.text for token in tokens]
        named = [at for at, word in enumerate(words) if word in self.eyes] or [len(words)]
        of_another = named[0] > 0 and words[named[0] - 1] in self.of_another
        told = not self.told.isdisjoint(words[named[-1] + 1 :])
        felt = words[0] in self.of_symptom and words[1] not in self.is_said
        return of_another or told or felt or not self.not_of_eye.isdisjoint(words)

    def is_the_patients(self, tokens: Sequence[Token], reading: Meanings) -> bool:
        """Whether somebody tells where he holds a book ("I read at forty centimetres"), or what he sees of the
        light.
        """
        words = [token.text for token in tokens]
        done = {two for one, two in pairwise(words) if one in self.told_by}
        if not self.own_use.isdisjoint(done):
            return any(isinstance(each, say.WorkingDistance) for each in reading)
        sees = not self.own_sight.isdisjoint(done) and not self.own_seen.isdisjoint(words)
        return sees and all(isinstance(each, say.Reflex) for each in reading)


def _is_motion_alone(told: say.Meaning) -> bool:
    return (
        isinstance(told, say.Reading)
        and told.motion == "with"
        and told.where is None
        and told.lens is None
        and told.between is None
    )


def _is_with(told: say.Meaning) -> bool:
    return isinstance(told, say.Reading) and told.motion == "with"


def _is_of_an_eye_alone(told: say.Meaning) -> bool:
    return isinstance(told.entry if isinstance(told, say.Correction) else told, say.Eye | say.Move)
