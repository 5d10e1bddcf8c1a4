"""What one breath says and may be meant two ways, however surely it was heard: it is asked about."""

from itertools import pairwise

from voicelog.phrases import meanings as say
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.meanings import Meaning


def may_be_meant_two_ways(meanings: Meanings, *, asked: bool) -> bool:
    """Whether what a breath says has another sense: another place, eye or sign, or net and not gross.

    `asked`: a question is open, which a sign alone may answer.
    """
    return (
        _is_of_two_eyes(meanings)
        or (not asked and any(_has_two_signs(*pair) for pair in pairwise(meanings)))
        or _may_be_net(meanings)
        or any(_leaves_a_place(*pair) for pair in pairwise(meanings))
    )


def _leaves_a_place(one: Meaning, other: Meaning) -> bool:
    """ "Vertical plus three horizontal": a reading along the first, or along the second? Neither says streak."""
    if not isinstance(one, say.Place | say.LooseWhere) or not isinstance(other, say.Reading):
        return False
    if other.where is None or other.lens is None:
        return False
    bare = one.where.names is None and other.where.names is None
    return bare and one.where.angle_deg != other.where.angle_deg


def _has_two_signs(one: Meaning, other: Meaning) -> bool:
    """ "Minus plus three vertical": which of the two is it?"""
    return (
        isinstance(one, say.LooseSign)
        and isinstance(other, say.Reading | say.Lenses)
        and other.lens is not None
    )


def _is_of_two_eyes(meanings: Meanings) -> bool:
    """ "Right vertical plus three left eye": is the reading of the right eye, and the left one gone on to?"""
    here: str | None = None
    for each in meanings:
        if isinstance(each, say.Eye):
            here = each.eye
        elif isinstance(each, say.Reading) and each.eye is not None:
            if here in ("right", "left") and each.eye in ("right", "left") and each.eye != here:
                return True
            here = None
    return False


def _may_be_net(meanings: Meanings) -> bool:
    """ "Vertical plus two net": the net power of it, or what is in the frame and then the question?"""
    looks = [each for each in meanings if isinstance(each, say.Reading)]
    asks = any(isinstance(each, say.Tell) and each.say == "net" for each in meanings)
    return asks and len(looks) == 1 and looks[0].lens is not None
