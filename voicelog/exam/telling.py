"""What the log answers when it is asked: the last entry, an eye, what is missing. Short, since it is spoken too."""

from voicelog.exam import wording
from voicelog.exam.state import ExamState, EyeName, EyeState
from voicelog.optics import written_axis, written_power
from voicelog.phrases.meanings import Tell


def tell(state: ExamState, question: Tell) -> str:
    """The answer in words."""
    match question.say:
        case "last":
            return _last(state)
        case "missing":
            return missing(state)
        case eye:
            return _eye(eye, state.eyes[eye])


def missing(state: ExamState) -> str:
    """What stands between the exam and a result for both eyes, with the open question first."""
    found = [f"asked: {state.question.text}"] if state.question else []
    for name, eye in state.eyes.items():
        if eye.status == "empty":
            found.append(f"{name} eye: nothing read yet")
        else:
            found += [f"{name} eye: {problem.text}" for problem in eye.problems]
    return "; ".join(found) if found else "nothing is missing"


def _last(state: ExamState) -> str:
    if not state.ledger.live:
        return "nothing is logged yet"
    eye = f"{state.eye} eye: " if state.eye else ""
    return f"{eye}{wording.meaning(state.ledger.live[-1].meaning)}"


def _eye(name: EyeName, eye: EyeState) -> str:
    if eye.status == "empty":
        return f"{name} eye: nothing read yet"
    if eye.status in ("solved", "conflict") and eye.solution.net is not None:
        doubt = "; it contradicts itself" if eye.status == "conflict" else ""
        return f"{name} eye: {eye.solution.net}{doubt}"
    readings = [
        f"{written_power(each.gross_d)} gross along {written_axis(each.meridian_deg)}" for each in eye.neutral
    ]
    return f"{name} eye: {', '.join(readings) or 'nothing neutral yet'}; not complete"
