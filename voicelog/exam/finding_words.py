"""A finding as it was said, in words: nothing that a yes would enter is left out of them."""

from typing import Final

from voicelog.exam.entries.acuity import acuity_words
from voicelog.exam.entries.face import LOOK_WORDS
from voicelog.exam.said_parts import angle, eye, lens, power, where
from voicelog.phrases import meanings as say

_LOOKS: Final = {"red": "red clearer", "green": "green clearer"}


def finding(said: say.Meaning) -> str:
    """What is found beside the readings."""
    match said:
        case say.Acuity(eye=named, correction=correction, value=value):
            return f"acuity {eye(named)}{correction + ' ' if correction else ''}{_acuity(value)}"
        case say.PupilsDistance():
            parts = [
                f"{name}{value:g} mm"
                for name, value in (("", said.both_mm), ("right ", said.right_mm), ("left ", said.left_mm))
                if value is not None
            ]
            return f"pupillary distance {said.at or 'far'} {', '.join(parts)}"
        case say.Pupils(eye=named, size_mm=size, look=look):
            both = "s" if look and named in (None, "both") else ""
            found = [
                *([LOOK_WORDS.get(look, look)] if look else []),
                *([f"{size:g} mm"] if size is not None else []),
            ]
            return f"{eye(named)}pupil{both} {' '.join(found)}"
        case say.Spectacles(eye=named, lens=worn, addition=addition):
            more = f", addition {power(addition)}" if addition is not None else ""
            return f"spectacles {eye(named)}{lens(worn)}{more}"
        case say.Refined(eye=named, lens=refined, acuity=reached):
            return f"subjective {eye(named)}{lens(refined)}" + (
                f", acuity {_acuity(reached)}" if reached else ""
            )
        case say.Addition(eye=named, power=addition, near=near):
            return f"near addition {eye(named or 'both')}{power(addition)}" + (
                f", {_acuity(near)}" if near else ""
            )
        case say.Vertex(vertex_mm=vertex):
            return f"back vertex distance {vertex:g} mm"
        case say.AfferentDefect(eye=named, present=present):
            return f"{eye(named)}relative afferent pupil defect {'present' if present else 'none'}"
        case say.Convergence(break_cm=break_cm, recovery_cm=recovery_cm):
            back = f", recovery {recovery_cm:g} cm" if recovery_cm is not None else ""
            return f"near point of convergence {break_cm:g} cm{back}"
        case say.PatientAge(age=age):
            return f"age {age_words(age)}"
        case say.Autorefraction(eye=named, lens=measured) | say.OverRefraction(eye=named, lens=measured):
            name = "autorefraction" if said.kind == "autorefraction" else "over-refraction"
            return f"{name} {eye(named)}{lens(measured)}"
        case _:
            return _drops_or_near(said)


def _acuity(value: say.AcuityValue) -> str:
    less = "less than " if value.less else ""
    return less + acuity_words(value) + (" in part" if value.partial else "")


def _drops_or_near(said: say.Meaning) -> str:
    match said:
        case say.Drops():
            return _drops(said)
        case say.Dark(age=age, where=place, lens=dark):
            return f"in the dark, {age}: {where(place) + ' neutral, ' if place else ''}{lens(dark)}"
        case say.Estimate(eye=named, power=neutral):
            return f"{eye(named)}monocular estimate {power(neutral)}"
        case say.Dynamic(eye=named, target_cm=target, neutral_cm=neutral_cm):
            return f"{eye(named)}dynamic target {target:g} cm, neutral {neutral_cm:g} cm"
        case _:
            return _beside_the_reflex(said)


def _drops(said: say.Drops) -> str:
    parts = [
        f"drops {said.agent}" + (f" {said.strength_percent:g} %" if said.strength_percent is not None else "")
    ]
    if said.eye:
        parts.append(eye(said.eye).strip())
    if said.clock is not None:
        parts.append(f"at {said.clock.hour:02}:{said.clock.minute:02}")
    if said.minutes_ago is not None:
        parts.append(f"{said.minutes_ago} minutes ago")
    return ", ".join(parts)


def _beside_the_reflex(said: say.Meaning) -> str:
    match said:
        case say.SubjectiveStep():
            return _step(said)
        case say.Keratometry(eye=named, unit=unit):
            words = "" if unit is None else " mm" if unit == "mm" else " D"
            values = ((said.one, said.one_deg), (said.other, said.other_deg))
            found = [
                f"{value:g}{words}" + (f" at {angle(along)}" if along is not None else "")
                for value, along in values
                if value is not None
            ]
            return f"keratometry {eye(named)}{', '.join(found)}"
        case say.Deviation():
            size = f"{said.size_pd:g} " if said.size_pd is not None else ""
            manner = f"{said.manner} " if said.manner else ""
            side = f"{said.eye} " if said.eye else ""
            at = f" {said.at}" if said.at else ""
            return f"cover test{at} {size}{manner}{side}{said.direction}{said.type or ''}"
        case say.Prism(eye=named, size_pd=size_pd, base=base):
            return f"prism {eye(named)}{size_pd:g} base {base}"
        case _:
            return said.kind.replace("_", " ")


def _step(said: say.SubjectiveStep) -> str:
    parts = [f"{said.step.replace('_', ' ')} {eye(said.eye)}".strip()]
    if said.power is not None:
        parts.append(power(said.power))
    if said.axis_deg is not None:
        parts.append(f"axis {angle(said.axis_deg)}")
    if said.value is not None:
        parts.append(f"to {_acuity(said.value)}")
    if said.look is not None:
        parts.append(_LOOKS.get(said.look, said.look.replace("_", " ")))
    return " ".join(parts)


def age_words(age: say.AgeSaid) -> str:
    """ "3 years 6 months", "18 months", "1 year"."""
    parts = ((age.years, "year"), (age.months, "month"))
    return " ".join(
        f"{count} {unit}{'' if count == 1 else 's'}" for count, unit in parts if count is not None
    )
