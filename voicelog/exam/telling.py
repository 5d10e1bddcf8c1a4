"""What the log answers when it is asked: the last entry, an eye, what is missing. Short, since it is spoken too."""

from collections.abc import Callable, Iterator
from typing import Final, Literal

from voicelog.exam.advising import ENOUGH, estimates, next_look
from voicelog.exam.comparisons import comparisons
from voicelog.exam.entries import ReadingEntry, exact_d, eye_words
from voicelog.exam.eye_state import EyeState
from voicelog.exam.passes import apart
from voicelog.exam.planes import result_at
from voicelog.exam.protocol import still_missing
from voicelog.exam.remarks import DEFERRING, exam_remarks
from voicelog.exam.standing import EYES, EyeName
from voicelog.exam.state import ExamState
from voicelog.optics import COMMON_LENS_SET, LensSet, OpticsError, SpheroCylinder, difference, written_power
from voicelog.phrases.meanings import Claim, Tell

_NOTHING = "nothing read yet"
_SAME_D = 0.125  # half a step of a lens set


def tell(state: ExamState, question: Tell, lens_set: LensSet | None = None) -> str:
    """The answer in words."""
    match question.say:
        case "right" | "left" as eye:
            return _eye(eye, state.eyes[eye])
        case "reading":
            return _readings(state, question)
        case "net" | "cylinder" | "equivalent" | "other_form" | "plus_form" | "minus_form" as what:
            return "; ".join(_of_result(state, what, question.eye))
        case "everything" | "state":
            return "; ".join(_eye(name, state.eyes[name]) for name in EYES)
        case "next_look":
            return _next(state, question.eye, lens_set or COMMON_LENS_SET)
        case "estimate":
            return estimates(state, question.eye, EYES)
        case "at_vertex":
            return result_at(state, question.vertex_mm, question.eye)
        case "dry":
            return "; ".join(_dry_and_wet(name, state.eyes[name]) for name in EYES)
        case what:
            return _TOLD[what](state)


def tell_of_claim(state: ExamState, claim: Claim) -> str:
    """How the result of the eye in hand stands to a net result that was said; nothing is entered."""
    if state.eye is None:
        return "no eye was named yet"
    told = "; ".join(_of_result(state, "net", state.eye))
    net, sphere, cylinder = state.eyes[state.eye].result, claim.lens.sphere, claim.lens.cylinder
    if net is None or sphere is None or cylinder is None:
        return told
    try:
        said = SpheroCylinder(exact_d(sphere), exact_d(cylinder.power), cylinder.axis_deg)
    except OpticsError as error:
        return f"{told}; what was said is no lens: {error}"
    same = difference(net, said).largest_power_d < _SAME_D
    return f"{told}; {'as said' if same else f'said was {said}'}"


def _last(state: ExamState) -> str:
    last = state.ledger.last
    return "nothing is logged yet" if last is None else last.entry.words()


def _asked(state: ExamState) -> str:
    return state.question.text if state.question else "nothing is asked"


def _distance(state: ExamState) -> str:
    return f"working distance {state.allowance.words()}"


def _compared(state: ExamState) -> str:
    return "; ".join(each.text for each in comparisons(state)) or "nothing to compare yet"


def _remarked(state: ExamState) -> str:
    remarks = "; ".join(each.text for each in exam_remarks(state))
    return f"{remarks}. {DEFERRING}" if remarks else "no remarks"


def missing(state: ExamState) -> str:
    """What stands between the exam and a result for both eyes, with the open question first."""
    return "; ".join(still_missing(state)) or "nothing is missing"


def _next(state: ExamState, named: EyeName | None, lens_set: LensSet) -> str:
    """The look that tells most: behind what is asked; where none is needed, what is missing comes behind it."""
    told = next_look(state, named, lens_set)
    if state.question is not None:
        return f"{_asked(state)}; {told}"
    return f"{told}; {missing(state)}" if ENOUGH in told else told


def _findings(state: ExamState) -> str:
    """Every finding beside the readings, each eye named once; then what the readings in the dark make."""
    told, now = [], None
    for each in sorted(state.findings.found, key=lambda found: str(found.entry.about)):
        eye = eye_words(each.entry.about) if each.entry.about != now else ""
        told.append(f"{eye}{each.entry.label} {each.entry.value_words()}")
        now = each.entry.about
    results = {name: state.near[name].dark for name in EYES}
    told += [f"{name} eye: in the dark {dark.text}" for name, dark in results.items() if dark is not None]
    return "; ".join(told) or "no finding beside the readings yet"


def _eye(name: EyeName, eye: EyeState) -> str:
    if not eye.passes:
        return f"{name} eye: {_NOTHING}"
    if eye.status in ("solved", "conflict") and eye.solution.net is not None:
        doubt = "; it contradicts itself" if eye.status == "conflict" else ""
        return f"{name} eye: {eye.solution.net}{_condition(eye)}{doubt}{_passes(eye)}"
    readings = [
        f"{each.entry.place_words} {eye.writing.gross_words(each.gross_d)} gross" for each in eye.neutral
    ]
    return f"{name} eye: {', '.join(readings) or 'nothing neutral yet'}; not complete"


def _dry_and_wet(name: EyeName, eye: EyeState) -> str:
    """What an eye has without drops and under cycloplegia, side by side."""
    results = [f"{condition} {eye.result_of(condition) or 'no result'}" for condition in eye.conditions]
    return f"{name} eye: {', '.join(results) or _NOTHING}"


def _condition(eye: EyeState) -> str:
    """Dry or wet, where both are there or it is wet."""
    several = len(eye.conditions) > 1 or eye.in_hand.condition == "wet"
    return f" ({eye.in_hand.condition})" if several else ""


def _passes(eye: EyeState) -> str:
    """What several passes make together; nothing of one."""
    if eye.mean is None:
        return ""
    return f" in pass {eye.pass_number}; mean of {eye.mean.count} passes {eye.mean.net}, {apart(eye.mean)}"


def _readings(state: ExamState, question: Tell) -> str:
    """The readings of an eye, of one place where one was named."""
    eye = question.eye or state.eye
    if eye is None:
        return "no eye was named yet"
    found: list[ReadingEntry] = [each.entry for each in state.eyes[eye].readings]
    if question.where is not None and question.where.angle_deg is not None:
        asked = question.where.angle_deg
        by_streak = (question.where.names or state.naming) == "streak"
        found = [each for each in found if asked == (each.streak_deg if by_streak else each.meridian_deg)]
    return f"{eye} eye: " + ("; ".join(each.short_words() for each in found) or _NOTHING)


def _of_result(state: ExamState, what: str, named: EyeName | None) -> Iterator[str]:
    """Net, cylinder, spherical equivalent or the other form of what is solved."""
    for name in EYES if named is None else (named,):
        eye = state.eyes[name]
        net = eye.result
        if net is None:
            problems = "; ".join(problem.text for problem in eye.problems) or _NOTHING
            yield f"{name} eye: no result: {problems}"
        elif what == "cylinder":
            lens = f"cylinder {written_power(net.cylinder_d)}"
            yield (
                f"{name} eye: {lens} axis {net.axis_deg:03.0f}"
                if net.axis_deg
                else f"{name} eye: no cylinder"
            )
        elif what == "equivalent":
            yield f"{name} eye: spherical equivalent {written_power(net.spherical_equivalent_d)}"
        elif what.endswith("_form"):
            other: Literal["plus", "minus"] = "plus" if eye.writing.form == "minus" else "minus"
            forms: dict[str, Literal["plus", "minus"]] = {"plus_form": "plus", "minus_form": "minus"}
            yield f"{name} eye: {net.in_form(forms.get(what, other))}"
        else:
            yield f"{name} eye: {net}{_condition(eye)}"


_TOLD: Final[dict[str, Callable[[ExamState], str]]] = {
    "last": _last,
    "question": _asked,
    "missing": missing,
    "findings": _findings,
    "comparison": _compared,
    "remarks": _remarked,
    "distance": _distance,
}
