"""Whether "streak" or "meridian" was passed over: the direction beside it would then be of the other.

"Meridian now of vertical plus two" names the meridian, whatever a bare direction names in this exam. A reading without
that word would lie across the one that was meant.
"""

from collections.abc import Sequence

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.traversal import parts


def loses_naming(naming: frozenset[str], tokens: Sequence[Token], readings: Sequence[Meanings]) -> bool:
    """Whether a line has a word of `naming` and what is read of it has bare directions alone."""
    if not any(token.text in naming for token in tokens):
        return False
    places = [each for one in readings for told in one for each in parts(told, say.Where)]
    bare = [each for each in places if each.names is None and each.angle_deg is not None]
    return bool(bare) and len(bare) == len(places)
