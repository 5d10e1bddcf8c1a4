"""What was said in words, gaps and all: for questions and messages. What was entered has its words in its entry."""

from voicelog.exam.entries import START_WORDS, TECHNIQUES
from voicelog.exam.finding_words import finding
from voicelog.exam.said_parts import NTH, angle, eye, lens, power, where
from voicelog.optics import written_cm
from voicelog.phrases import meanings as say


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
        case say.Correction(entry=entry, wrong=wrong, nth=nth):
            of_it = f" of the {NTH[nth]} meridian" if nth else ""
            return f"correction{of_it}: {meaning(entry)}" + (f", not {power(wrong)}" if wrong else "")
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
        case say.EstimateStart(source=source):
            return f"estimate starts from {START_WORDS[source]}"
        case say.Plain(kind=kind):
            return kind.replace("_", " ")
        case _:
            return finding(said)


def _reading(said: say.Reading) -> str:
    place = where(said.where) + " " if said.where else ""
    look = " ".join((*said.manner, said.motion.replace("_", " ")))
    if said.between is not None:
        one, two = said.between
        return f"{eye(said.eye)}{place}{look} between {power(one)} and {power(two)}"
    return f"{eye(said.eye)}{place}{look}" + (f", {lens(said.lens)}" if said.lens else "")


def _lenses(said: say.Lenses) -> str:
    if said.remove is not None:
        return "lenses out" if said.remove == "all" else f"{said.remove} out"
    return lens(said.lens) if said.lens else "lenses"
