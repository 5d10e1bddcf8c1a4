"""How long to wait for more: shorter after a phrase that is whole, longer within one.

The pause that ends an utterance is half a second where nothing is known of what was said. The search of the letters
knows more. Where the grammar makes it unlikely that a sure phrase goes on, it is over. Where it may go on, a little
more is waited, and what comes later is joined to it (`joining.py`). Where what was heard is a good beginning of a
phrase, and none of its likeliest ends is said yet, the rest is yet to come.
"""

from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.letter_decision import default_letter_limits
from voicelog.phrases.language import Language

AFTER_WHOLE_S = 0.3
AFTER_SURE_S = 0.4
AFTER_BEGINNING_S = 1.2
_CLOSING_LOG = 1.75
"""So much likelier than any word that follows must the end be: behind "plus one and a half", not behind "plus one"."""
_BEGUN_LOG = 2.0
"""So much likelier than every whole phrase is a beginning that is taken for one."""


def patience_s(hearing: Hearing, language: Language) -> float | None:
    """How much silence ends an utterance of which this was heard so far; None: as much as usual."""
    if hearing.ending is None:
        return None
    if decide(hearing, language) == "accepted":
        return AFTER_WHOLE_S if hearing.ending.closing >= _CLOSING_LOG else AFTER_SURE_S
    whole = hearing.score is not None and hearing.ending.score - hearing.score < _BEGUN_LOG
    return None if whole or not is_beginning(hearing) else AFTER_BEGINNING_S


def is_beginning(hearing: Hearing) -> bool:
    """Whether the sound may be the beginning of a phrase, or all of one: most other talk is neither.

    True where the engine does not know.
    """
    if hearing.ending is None:
        return True
    limits, letters = default_letter_limits(), len(hearing.ending.beginning.replace(" ", ""))
    return hearing.ending.score >= limits.ask_score + limits.ask_score_a_letter * letters / 3
