"""What was said in words, gaps and all: for questions and messages. What was entered has its words in its entry."""

from voicelog.exam.entries import TECHNIQUES
from voicelog.exam.entries.acuity import acuity_words
from voicelog.exam.entries.face import LOOK_WORDS
from voicelog.optics import written_axis, written_cm, written_power
from voicelog.phrases import meanings as say


def power(spoken: say.Power) -> str:
    """ "+1.25", "plano", or what is not clear about it."""
    if spoken.dioptres is not None:
        return written_power(spoken.dioptres)
    if spoken.size_d is None:
        return "an unclear power"
    return f"{spoken.size_d:.2f} without a sign"


def angle(angle_deg: int) -> str:
    """Three digits; an angle that is no axis stays as it was said."""
    return written_axis(angle_deg) if 1 <= angle_deg <= 180 else str(angle_deg)


def lens(named: say.Lens) -> str:
    """ "sphere +1.25, cylinder -0.50 axis 090"."""
    if named.same:
        return "the same"
    parts = []
    if named.sphere is not None:
        parts.append(f"sphere {power(named.sphere)}")
    if named.cylinder is not None:
        axis = named.cylinder.axis_deg
        parts.append(
            f"cylinder {power(named.cylinder.power)} axis {angle(axis) if axis is not None else 'not said'}"
        )
    return ", ".join(parts) + (" on top" if named.on_top else "")


def where(place: say.Where) -> str:
    """ "streak vertical (090)", "meridian 105", "other meridian", or the bare direction when the habit names it."""
    if place.angle_deg is None:
        return f"{place.which} {place.names or 'meridian'}" + ("s" if place.which == "both" else "")
    direction = {90: "vertical", 180: "horizontal"}.get(place.angle_deg)
    text = f"{direction} ({angle(place.angle_deg)})" if direction else angle(place.angle_deg)
    return f"{place.names} {text}" if place.names else text


def eye(named: say.EyeNamed | None) -> str:
    """ "right eye ", "both eyes ", or nothing."""
    return "" if named is None else "both eyes " if named == "both" else f"{named} eye "


def meaning(said: say.Meaning) -> str:  # noqa: C901 - one line a kind reads better than a table of functions
    """One thing said, in words."""
    match said:
        case say.Eye(eye=named):
            return eye(named).strip()
        case say.WorkingDistance(eye=named, distance_cm=distance):
            return f"{eye(named)}working distance {written_cm(distance)}"
        case say.WorkingLens(eye=named, position=position, power=worn):
            return f"{eye(named)}working distance lens {power(worn) + ' ' if worn else ''}{position}"
        case say.Reading():
            return _reading(said)
        case say.Lenses():
            return _lenses(said)
        case say.Place(where=place):
            return where(place)
        case say.Reflex(eye=named, reflex=reflex, where=place):
            return f"{eye(named)}{where(place) + ' ' if place else ''}{reflex.replace('_', ' ')} reflex"
        case say.Correction(entry=entry, wrong=wrong):
            return f"correction: {meaning(entry)}" + (f", not {power(wrong)}" if wrong else "")
        case say.Change(where=place, power=new):
            return f"change {where(place)} to {power(new)}"
        case say.NotBut(wrong=wrong, right=right):
            return f"not {power(wrong)} but {power(right)}"
        case say.LoosePower(power=loose):
            return power(loose)
        case say.LooseAxis(axis_deg=axis):
            return f"axis {angle(axis)}"
        case say.LooseSign(sign=sign):
            return sign
        case say.LooseWhere(where=place):
            return where(place)
        case say.Mirror(mirror=mirror):
            return f"{mirror} mirror"
        case say.Scratch(count=count, where=place, eye=named, all_of_eye=whole):
            what = (
                where(place)
                if place
                else "everything"
                if whole
                else "that"
                if count == 1
                else f"the last {count}"
            )
            return f"scratch {eye(named)}{what}"
        case say.Keep(where=place):
            return f"keep {where(place)}"
        case say.Move(eye=named, scope=scope, where=place):
            what = {"last": "that", "two": "the last two", "all": "all of it"}[scope]
            what = what if place is None else where(place)
            return f"{what} was the {eye(named).strip()}"
        case say.Swap(what=what):
            return f"swap the two {what}"
        case say.Habit(naming=naming):
            return f"bare directions name the {naming}"
        case say.Condition(eye=named, condition=condition):
            return f"{eye(named)}{condition}"
        case say.Note(text=text):
            return f"note: {text}" if text else "note"
        case say.Tell(say=what):
            return f"question: {what.replace('_', ' ')}"
        case say.Answer(answer=answer):
            return "say again" if answer == "again" else answer
        case say.Digit(digit=digit):
            return str(digit)
        case say.Distance(distance_cm=distance):
            return written_cm(distance)
        case say.Reference(text=text):
            return f"reference {text}"
        case say.Pass(number=number):
            return f"pass {number}" if number else "next pass"
        case say.Technique(technique=technique):
            return f"technique: {TECHNIQUES[technique]}"
        case say.Plain(kind=kind):
            return kind.replace("_", " ")
        case _:
            return _finding(said)


def _reading(said: say.Reading) -> str:
    place = where(said.where) + " " if said.where else ""
    look = " ".join((*said.manner, said.motion.replace("_", " ")))
    if said.between is not None:
        one, two = said.between
        return f"{eye(said.eye)}{place}{look} between {power(one)} and {power(two)}"
    return f"{eye(said.eye)}{place}{look}" + (f", {lens(said.lens)}" if said.lens else "")


def _lenses(said: say.Lenses) -> str:
    if said.remove is not None:
        return "lenses out" if said.remove == "all" else "cylinder out"
    return lens(said.lens) if said.lens else "lenses"


def _finding(said: say.Meaning) -> str:
    match said:
        case say.Acuity(eye=named, correction=correction, value=value):
            return f"acuity {eye(named)}{correction + ' ' if correction else ''}{acuity_words(value)}"
        case say.PupilsDistance():
            parts = [
                f"{name}{value:g} mm"
                for name, value in (("", said.both_mm), ("right ", said.right_mm), ("left ", said.left_mm))
                if value is not None
            ]
            return f"pupillary distance {said.at or 'far'} {', '.join(parts)}"
        case say.Pupils(eye=named, size_mm=size, look=look):
            return f"pupils {LOOK_WORDS.get(look, look)}" if look else f"pupil {eye(named)}{size or 0:g} mm"
        case say.Spectacles(eye=named, lens=worn, addition=addition):
            more = f", addition {power(addition)}" if addition is not None else ""
            return f"spectacles {eye(named)}{lens(worn)}{more}"
        case say.Refined(eye=named, lens=refined):
            return f"subjective {eye(named)}{lens(refined)}"
        case say.Addition(eye=named, power=addition):
            return f"near addition {eye(named or 'both')}{power(addition)}"
        case say.Vertex(vertex_mm=vertex):
            return f"back vertex distance {vertex:g} mm"
        case say.AfferentDefect(eye=named, present=present):
            return f"{eye(named)}relative afferent pupil defect {'present' if present else 'none'}"
        case say.Convergence(break_cm=break_cm):
            return f"near point of convergence {break_cm:g} cm"
        case say.PatientAge(age=age):
            return f"age {age_words(age)}"
        case say.Autorefraction(eye=named, lens=measured) | say.OverRefraction(eye=named, lens=measured):
            name = "autorefraction" if said.kind == "autorefraction" else "over-refraction"
            return f"{name} {eye(named)}{lens(measured)}"
        case _:
            return _drops_or_near(said)


def _drops_or_near(said: say.Meaning) -> str:
    match said:
        case say.Drops(eye=named, agent=agent, strength_percent=strength):
            of = f" {strength:g} %" if strength is not None else ""
            return f"drops {agent}{of}{', ' + eye(named).strip() if named else ''}"
        case say.Dark(age=age, where=place, lens=dark):
            return f"in the dark, {age}: {where(place) + ' neutral, ' if place else ''}{lens(dark)}"
        case say.Estimate(eye=named, power=neutral):
            return f"{eye(named)}monocular estimate {power(neutral)}"
        case say.Dynamic(eye=named, target_cm=target, neutral_cm=neutral_cm):
            return f"{eye(named)}target {target:g} cm, neutral {neutral_cm:g} cm"
        case _:
            return _of_clinic(said)


def _of_clinic(said: say.Meaning) -> str:
    match said:
        case say.SubjectiveStep(eye=named, step=step, power=found, axis_deg=axis):
            of = f" {power(found)}" if found else ""
            return (
                f"{step.replace('_', ' ')} {eye(named)}".strip()
                + of
                + (f" axis {angle(axis)}" if axis else "")
            )
        case say.Keratometry(eye=named, one=one, other=other):
            return f"keratometry {eye(named)}{one:g}" + (f" and {other:g}" if other else "")
        case say.Deviation(direction=direction, type=kind, size_pd=size):
            return f"cover test {f'{size:g} ' if size else ''}{direction}{kind or ''}"
        case say.Prism(eye=named, size_pd=size, base=base):
            return f"prism {eye(named)}{size:g} base {base}"
        case _:
            return said.kind.replace("_", " ")


def age_words(age: say.AgeSaid) -> str:
    """ "3 years 6 months", "18 months", "1 year"."""
    parts = ((age.years, "year"), (age.months, "month"))
    return " ".join(
        f"{count} {unit}{'' if count == 1 else 's'}" for count, unit in parts if count is not None
    )
