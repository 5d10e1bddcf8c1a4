"""How an examiner says a written line: one of the ways that the project's phrases know, chosen at random."""

import re
from random import Random

from voicelog.phrases.language import Language
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.saying import as_expansion, numbers_together

_GROUP = re.compile(r"\( ([^()]*) \)")


def said(line: str, random: Random, language: Language) -> str:
    """A written line in words: "streak 35 at -1.25" may be "streak thirty five at minus one and a quarter"."""
    words = as_expansion(numbers_together(tokenise(line, language)), language)
    bare = line[:1].isdigit()
    while match := _GROUP.search(words):
        ways = match[1].split(" | ")
        # A place without a word before it is said as a number, never digit by digit: that is the first way.
        way = ways[0] if bare and match.start() == 0 else random.choice(ways)
        words = words[: match.start()] + way + words[match.end() :]
    return " ".join(words.split())
