"""What the log answers when it is asked: the last entry, an eye, what is missing. Short, since it is spoken too."""

from voicelog.exam import wording
from voicelog.exam.comparisons import comparisons
from voicelog.exam.finding_list import labelled_findings
from voicelog.exam.passes import apart
from voicelog.exam.protocol import still_missing
from voicelog.exam.remarking import exam_remarks
from voicelog.exam.remarks import DEFERRING
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
        case "findings":
            return _findings(state)
        case "comparison":
            return "; ".join(each.text for each in comparisons(state)) or "nothing to compare yet"
        case "remarks":
            remarks = "; ".join(each.text for each in exam_remarks(state))
            return f"{remarks}. {DEFERRING}" if remarks else "no remarks"
        case eye:
            return _eye(eye, state.eyes[eye])


def missing(state: ExamState) -> str:
    """What stands between the exam and a result for both eyes, with the open question first."""
    return "; ".join(still_missing(state)) or "nothing is missing"


def _findings(state: ExamState) -> str:
    """Every finding beside the readings; each eye is named once."""
    told, now = [], None
    for each in labelled_findings(state):
        eye = f"{'both eyes' if each.eye == 'both' else f'{each.eye} eye'}: " if each.eye else ""
        told.append(f"{eye if each.eye != now else ''}{each.label} {each.text}")
        now = each.eye
    return "; ".join(told) or "no finding beside the readings yet"


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
        return f"{name} eye: {eye.solution.net}{doubt}{_passes(eye)}"
    readings = [
        f"{written_power(each.gross_d)} gross along {written_axis(each.meridian_deg)}" for each in eye.neutral
    ]
    return f"{name} eye: {', '.join(readings) or 'nothing neutral yet'}; not complete"


def _passes(eye: EyeState) -> str:
    """What several passes make together; nothing of one."""
    if eye.mean is None:
        return ""
    return f" in pass {eye.pass_number}; mean of {eye.mean.count} passes {eye.mean.net}, {apart(eye.mean)}"
