"""The English grammar that is shipped, for tests."""

from voicelog.phrases.grammar import Grammar, load_named
from voicelog.phrases.language import Language, language_named

ENGLISH: Language = language_named("en")


def load() -> Grammar:
    """The grammar; the same one every time."""
    return load_named("en")
