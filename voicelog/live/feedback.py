"""What is heard after an event: one tone, and words for those who want them."""

from dataclasses import dataclass
from typing import Final, Literal, assert_never

from voicelog.exam.entries import (
    ConditionEntry,
    EyeEntry,
    HabitEntry,
    MirrorEntry,
    PassEntry,
    PlaceEntry,
)
from voicelog.exam.events import Act, Line, Put
from voicelog.exam.state import ExamState
from voicelog.hearing.decision import default_limits
from voicelog.live import spoken
from voicelog.phrases import meanings as say
from voicelog.screen.rows import contradicts
from voicelog.speaking.tones import Signal

ReadBack = Literal["off", "changes", "short", "full"]
"""What is spoken of an entry: nothing; only what is more than an entry as it was said (another eye); its value ("plus
three"); or all of it ("right eye: streak vertical ..").

Questions, answers to the examiner's own questions, contradictions, and whatever changes something earlier are spoken
whole unless it is off."""


_HOLDS_ON: Final = (EyeEntry, PlaceEntry, MirrorEntry, ConditionEntry, PassEntry, HabitEntry)
"""What all that follows is taken with: it is said back even where plain entries are not."""


@dataclass(frozen=True, slots=True)
class Feedback:
    """A tone (None: nothing sounds) and what is spoken after it (empty: nothing)."""

    signal: Signal | None
    text: str = ""


def feedback(line: Line, state: ExamState, mode: ReadBack) -> Feedback:
    """The answer to a line, for the ear; `state` is the one that it led to."""
    text = "" if mode == "off" or line.outcome == "ignored" else "; ".join(_spoken(line, mode))
    return Feedback(_signal(line, state), text)


def _signal(line: Line, state: ExamState) -> Signal | None:
    match line.outcome:
        case "accepted":
            return Signal.CONTRADICTION if contradicts(line, state) else Signal.ACCEPTED
        case "asked":
            unlikely = line.question is not None and line.question.doubt == "unlikely"
            return Signal.CONTRADICTION if unlikely or contradicts(line, state) else Signal.ASKED
        case "ignored":
            return Signal.IGNORED_BUT_CLOSE if _close(line, state) else None
        case never:
            assert_never(never)


def _spoken(line: Line, mode: ReadBack) -> list[str]:
    """Every reply in its turn; those to acts as the mode wants them."""
    acts = {act.words: act for act in line.acts}
    return [
        spoken.of_act(acts[reply], short=mode != "full") if reply in acts else spoken.spoken(reply)
        for reply in line.replies
        if mode != "changes" or reply not in acts or not _is_plain(acts[reply])
    ]


def _is_plain(act: Act) -> bool:
    """Whether an act puts down what was said, and changes nothing that holds for what follows but lenses.

    Of a new entry, what it says besides (another reading that changes with it) is no part of its own words.
    """
    first = act.changes[0] if act.changes else None
    if len(act.changes) != 1 or not isinstance(first, Put) or act.does != "do":
        return False
    return not isinstance(first.entry, _HOLDS_ON) and act.words == first.entry.words()


def _close(line: Line, state: ExamState) -> bool:
    """Left out, though it may have been meant for the log.

    Other talk, and whatever is said while the log does not listen, makes no sound. In old lines, which do not say why,
    it is what was understood, or as good a match as what is asked about.
    """
    if not state.listening or line.left_out == "talk":
        return False
    if line.left_out:
        return line.left_out in ("unclear", "over_speech", "failed")
    score = line.heard.score if line.heard is not None else None
    if score is not None and score >= default_limits().ask_score:
        return True
    loose = say.Answer | say.LooseSign | say.LooseAxis | say.LoosePower
    return any(isinstance(each, loose) for each in line.meanings)
