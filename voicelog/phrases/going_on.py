"""An eye behind entries that is gone on to: "vertical plus two, horizontal plus three, left eye now".

Without its last word the eye is that of the entries, and the grammar reads it so with that word too.
"""

from functools import cache

from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Meanings, tokenise
from voicelog.phrases.meanings import Meaning
from voicelog.phrases.word_sets import words_of

_SHORTEST = 3
_BEFORE_EYE = slice(-5, -2)
"""Where a word would stand that joins the eye to the entries: "in the left eye now"."""


@cache
def _words(grammar: Grammar) -> tuple[frozenset[str], ...]:
    return tuple(words_of(grammar, rule) for rule in ("goes_on_behind", "eye_name", "beside_eye"))


def going_on(grammar: Grammar, line: str, said: Meanings) -> Meanings:
    """What a line says, with its entries left to the eye in hand where it ends by going on to one."""
    behind, eyes, beside = _words(grammar)
    words = [token.text for token in tokenise(line, grammar.language)]
    if len(words) < _SHORTEST or words[-1] not in behind or words[-2] not in eyes:
        return said
    if not beside.isdisjoint(words[_BEFORE_EYE]):
        return said
    named = {_eye(each) for each in said}
    if len(named) != 1 or not named <= {"right", "left"} or any(isinstance(each, say.Eye) for each in said):
        return said
    (eye,) = named
    return (*(each.model_copy(update={"eye": None}) for each in said), say.Eye.model_validate({"eye": eye}))


def _eye(said: Meaning) -> str | None:
    return getattr(said, "eye", None) if isinstance(said, say.Reading | say.Lenses | say.Reflex) else None
