"""Findings beside the readings in the trade's words: acuity, pupils, spectacles, drops, the refined result.

Worded as the grammar has them said, so that what is read back can be said again.
"""

from typing import Protocol

from voicelog.exam.acuity import Notation, written_acuity
from voicelog.exam.lens_words import lens, power
from voicelog.phrases import meanings as say

Found = (
    say.Acuity
    | say.PupilsDistance
    | say.Pupils
    | say.Spectacles
    | say.Refined
    | say.Addition
    | say.Vertex
    | say.Drops
)


def finding(said: Found, notation: Notation | None = None) -> str:
    """One finding in words; acuity in `notation`, by default as it was said."""
    match said:
        case say.Acuity():
            return acuity(said, notation)
        case say.PupilsDistance():
            return pupils_distance(said)
        case say.Pupils(look=look, eye=eye, size_mm=size):
            return f"pupils {look}" if look else f"pupil size {_eye(eye)}{size or 0:g} mm"
        case say.Spectacles(eye=eye, lens=worn, addition=addition):
            more = f", addition {power(addition)}" if addition is not None else ""
            return f"spectacles {_eye(eye)}{lens(worn)}{more}"
        case say.Refined(eye=eye, lens=refined):
            return f"refined {_eye(eye)}{lens(refined)}"
        case say.Addition(eye=eye, power=addition):
            return f"addition {_eye(eye or 'both')}{power(addition)}"
        case say.Vertex(vertex_mm=vertex):
            return f"vertex distance {vertex:g} mm"
        case say.Drops():
            return drops(said)


def acuity(said: say.Acuity, notation: Notation | None = None) -> str:
    """ "acuity right eye unaided 6/9 -2", "acuity logMAR 0.10"."""
    correction = f"{said.correction} " if said.correction else ""
    return f"acuity {_eye(said.eye)}{correction}{acuity_value(said.value, notation)}"


def acuity_value(value: say.AcuityValue, notation: Notation | None = None) -> str:
    """ "6/9 -2", "0.8", "logMAR 0.10", "counting fingers"."""
    shown = notation or ("logmar" if value.logmar is not None else None)
    mark = "logMAR " if shown == "logmar" and value.category is None else ""
    return mark + written_acuity(value, notation)


def pupils_distance(said: say.PupilsDistance) -> str:
    """ "pupils distance near 60 mm", "pupils distance far right 31.5 mm, left 32 mm"."""
    parts = [
        f"{name}{value:g} mm"
        for name, value in (("", said.both_mm), ("right ", said.right_mm), ("left ", said.left_mm))
        if value is not None
    ]
    return f"pupils distance {said.at or 'far'} {', '.join(parts)}"


def drops(said: say.Drops) -> str:
    """ "drops tropicamide 1 %, both eyes, at 10:15"."""
    parts = [given(said)]
    if said.eye is not None:
        parts.append(_eye(said.eye).strip())
    if said.clock is not None:
        parts.append(f"at {said.clock.hour:d}:{said.clock.minute:02d}")
    return f"drops {', '.join(parts)}"


class _Given(Protocol):
    @property
    def agent(self) -> say.Agent: ...

    @property
    def strength_percent(self) -> float | None: ...


def given(drops: _Given) -> str:
    """ "tropicamide 1 %"; the strength only if it was said."""
    agent = "of another kind" if drops.agent == "other" else drops.agent
    return agent if drops.strength_percent is None else f"{agent} {drops.strength_percent:g} %"


def _eye(eye: say.Eyes | None) -> str:
    return "" if eye is None else "both eyes " if eye == "both" else f"{eye} eye "
