"""What the log answers to what is said: enter it, ask about it, or say that it cannot be.

Pure: a state and meanings give a reply. Numbers, signs, axes and eyes are never filled in: what is missing is asked.
docs/exchange.md says for each situation what a person may expect; tests hold the two together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from voicelog.exam import wording
from voicelog.exam.answering import Answered, answer, is_answer
from voicelog.exam.correcting import change, correct, exchange
from voicelog.exam.entering import enter
from voicelog.exam.entries import (
    AXIS_OFF_STREAK,
    RIGHT_WORD,
    Context,
    Question,
    is_enterable,
    is_usual,
    place_words,
)
from voicelog.exam.events import Act, Dialogue, OpenQuestion, Outcome
from voicelog.exam.gaps import first_gap
from voicelog.exam.looked import with_sign_of_looks
from voicelog.exam.moving import habit, move, swap, wrong_eye
from voicelog.exam.protocol import NO_REMINDERS, Reminders, reminder
from voicelog.exam.questions import FIRST_DISTANCE, NeedsAnswer, Stands
from voicelog.exam.splitting import entries_of, split
from voicelog.exam.state import ExamState
from voicelog.exam.telling import tell, tell_of_claim
from voicelog.exam.then import standing_for
from voicelog.exam.unlikely import NO_EVIDENCE, Evidence, new_contradictions, not_across, unlikely
from voicelog.exam.withdrawing import keep, redo, scratch
from voicelog.phrases import meanings as say

_COMMAND_WORDS = {
    "done": "all is kept as it is said",
    "save": "all is kept as it is said",
    "pause": "paused",
    "resume": "listening",
    "start": "listening",
    "finish": "exam finished",
    "next_patient": "exam finished, next patient",
    "end_note": "no note is open",
}


_NEED_THE_DISTANCE = ("net", "cylinder", "equivalent", "other_form")


@dataclass(frozen=True, slots=True)
class Reply:
    """What comes of what was said.

    `acts` go into the ledger; `question` is the last thing asked; `answers` is the event number of the question that
    was settled; `dialogue` is where the exchange then stands; `replies` are said back, one for each thing said. `after`
    is the state with all of it in, so that nobody has to work it out again.
    """

    outcome: Outcome
    acts: tuple[Act, ...] = ()
    question: Question | None = None
    answers: int | None = None
    dialogue: Dialogue | None = None
    replies: tuple[str, ...] = ()
    after: ExamState | None = field(default=None, compare=False, repr=False)

    @property
    def text(self) -> str:
        """All that is said back."""
        return "; ".join(self.replies)


def respond(
    state: ExamState,
    meanings: Sequence[say.Meaning],
    *,
    number: int,
    sure: bool = True,
    heard: bool = False,
    evidence: Evidence = NO_EVIDENCE,
    reminders: Reminders = NO_REMINDERS,
    unclear: str = "",
) -> Reply:
    """The reply to everything said in one breath, as event `number`.

    With `sure` False the recogniser had doubts, and it is asked about whatever it says. With `heard` the exam's own
    knowledge may ask as well, on the `evidence` there is. `reminders` says of what the reply to an entry reminds.
    `unclear` is why the rest of the line was not understood.
    """
    talk = _Exchange(state, number, evidence if heard else None, reminders)
    if sure:
        talk.take_all(meanings)
    else:
        talk.doubt(tuple(meanings))
    if unclear:
        talk.leave_out(unclear)
    return talk.reply(state.dialogue)


class _Exchange:
    """One breath being answered; mutable inside, never seen outside."""

    def __init__(
        self, state: ExamState, number: int, evidence: Evidence | None, reminders: Reminders
    ) -> None:
        self.state = state
        self.number = number
        self.evidence = evidence
        self.reminders = reminders
        self.acts: list[Act] = []
        self.replies: list[str] = []
        self.question: Question | None = None
        self.answers: int | None = None
        self.obeyed = False
        self.refused = False

    def reply(self, before: Dialogue) -> Reply:
        """What came of it all."""
        outcome: Outcome = "accepted" if self.acts or self.obeyed else "ignored"
        dialogue = self.state.dialogue
        return Reply(
            "asked" if self.question is not None or self.refused else outcome,
            tuple(self.acts),
            self.question,
            self.answers,
            None if dialogue == before else dialogue,
            tuple(self.replies),
            self.state,
        )

    def take_all(self, meanings: Sequence[say.Meaning]) -> None:
        """Everything that was said, in order; a part that is not clear is asked, the rest stands."""
        todo = list(meanings)
        if len(todo) > 1 and isinstance(todo[0], say.Answer) and todo[0].answer in ("yes", "no"):
            todo = self._repaired(todo[0], todo[1:])
        place: say.Where | None = None
        for meaning in todo:
            if isinstance(meaning, say.Reflex) and meaning.where is None and place is not None:
                meaning = meaning.model_copy(update={"where": place})
            place = meaning.where if isinstance(meaning, say.Place) else None
            for part in split(self.state, meaning):
                self.take(part)

    def leave_out(self, why: str) -> None:
        """A part of the line was not understood."""
        self.refused = True
        self.replies.append(why)

    def _repaired(self, first: say.Answer, rest: list[say.Meaning]) -> list[say.Meaning]:
        """ "No, minus", "no, plus two fifty": the answer and what is right instead, as one thing."""
        loose = isinstance(rest[0], say.LoosePower | say.LooseSign | say.LooseAxis | say.LooseWhere)
        if not loose:
            return [first, *rest]
        if self.state.question is not None:
            return rest
        if first.answer == "no":
            return [say.Correction(entry=rest[0]), *rest[1:]]  # type: ignore[arg-type]
        return [first, *rest]

    def take(self, meaning: say.Meaning) -> None:
        """One thing that was said."""
        opened = self.state.open_question
        if opened is not None and self._takes_back_question(meaning, opened):
            self._close_question(opened)
        elif say.is_command(meaning):
            self._obey(meaning)
        elif self._answers(meaning):
            self._serve_waiting()
        elif is_answer(meaning):
            self._stray(meaning)
        else:
            self._supersede(meaning)
            if self._blocked:
                self._wait(meaning)
            else:
                self._enter_all(meaning)
                self._serve_waiting()

    def _takes_back_question(self, meaning: say.Meaning, opened: OpenQuestion) -> bool:
        """ "Scratch that" is for the last thing: the question in hand, unless something was entered after it."""
        if meaning.kind == "discard":
            return True
        if not isinstance(meaning, say.Scratch) or meaning != say.Scratch():
            return False
        done = self.state.ledger.done
        if not done or done[-1].number < opened.number:
            return True
        since = sum(each.number == opened.number for each in done)
        return done[-1].number == opened.number and since <= opened.acts

    def doubt(self, meanings: tuple[say.Meaning, ...]) -> None:
        """What was heard with doubt is asked about; an answer is no answer then."""
        if not meanings or any(is_answer(each) for each in meanings):
            open_question = self.state.question
            self.replies.append("not clear" + ("; the question stays open" if open_question else ""))
            return
        first, rest = meanings[0], meanings[1:]
        said = "; ".join(wording.meaning(each) for each in meanings)
        self._ask(
            Question(
                missing="confirm", text=f"did you say: {said}?", candidate=first, rest=rest, doubt="unsure"
            )
        )

    # ---- questions --------------------------------------------------------------------------------------

    @property
    def _blocked(self) -> bool:
        return any(each.question.blocks for each in self.state.dialogue.questions)

    def _ask(self, question: Question, before: OpenQuestion | None = None) -> None:
        """Open a question; `before` is the one about the same entry that was answered, whose time it keeps."""
        opened = OpenQuestion(
            number=self.number,
            acts=len(self.acts),
            question=question,
            said=None if before is None else before.said_at,
        )
        self._talk(questions=(*self.state.dialogue.questions, opened))
        self.question = question
        self.replies.append(question.text)

    def _ask_or_refuse(self, question: Question, opened: OpenQuestion | None) -> None:
        """What nothing waits for is no question: it is only said that it cannot be."""
        if question.missing == "repeat" and question.candidate is None:
            self.refused = True
            self.replies.append(question.text)
        else:
            self._ask(question, opened)

    def _talk(self, **changes: object) -> None:
        self.state = replace(self.state, dialogue=self.state.dialogue.model_copy(update=changes))

    def _settle(self, opened: OpenQuestion) -> None:
        left = tuple(each for each in self.state.dialogue.questions if each is not opened)
        self._talk(questions=left)
        self.answers = opened.number
        self.obeyed = True
        if self.question is opened.question:
            self.question = None

    def _answers(self, meaning: say.Meaning) -> bool:
        """Whether it settles the question in hand, or says something of it."""
        opened = self.state.open_question
        if opened is None:
            return False
        found = answer(self.state, opened.question, meaning)
        match found:
            case None:
                return False
            case Answered(again=True):
                self.obeyed = True
                self.replies.append(opened.question.text)
            case Answered(closed=True):
                self._refuse(opened)
            case Answered(first=first, entry=entry, rest=rest, settled=settled):
                self._settle(opened)
                for each in first:
                    self._enter(each)
                if entry is not None:
                    self._go_on(entry, settled, None if first else opened)
                for each in rest:
                    self.take(each)
        self._remind_of_open()
        return True

    def _go_on(self, entry: say.Meaning, settled: tuple[str, ...], opened: OpenQuestion | None) -> None:
        if say.is_command(entry):
            self._obey(entry)
        elif self._blocked:
            self._wait(entry)
        else:
            for part in split(self.state, entry):
                self._enter_all(part, settled, opened)

    def _remind_of_open(self) -> None:
        opened = self.state.open_question
        if opened is not None and self.question is None and self.answers is not None:
            self.replies.append(f"still open: {opened.question.text}")

    def _refuse(self, opened: OpenQuestion) -> None:
        """ "No": what was asked about does not go in. What waits for it is asked for otherwise."""
        self._settle(opened)
        self._talk(dropped=True)
        self.replies.append("not entered")
        otherwise = _asked_otherwise(opened.question)
        if self.state.dialogue.waiting and otherwise is not None and not self._blocked:
            self._ask(otherwise)

    def _close_question(self, opened: OpenQuestion) -> None:
        """ "Scratch that" with a question open takes back the question, and nothing else."""
        self._settle(opened)
        self._talk(dropped=True)
        candidate = opened.question.candidate
        dropped = [] if candidate is None else [candidate, *opened.question.rest]
        if opened.question.blocks and not self._blocked:
            dropped += self.state.dialogue.waiting
            self._talk(waiting=())
        said = "; ".join(wording.meaning(each) for each in dropped)
        self.replies.append(f"not entered: {said}" if said else "question closed")
        self._remind_of_open()

    def _stray(self, meaning: say.Meaning) -> None:
        """An answer to nothing, unless it is the rest of something that was begun."""
        question = self.state.question
        eye = None if self.state.eye is None else self.state.eyes[self.state.eye]
        if isinstance(meaning, say.Distance) and self.state.distance_cm is None:
            self._first_distance(meaning)
        elif question is not None:
            self.replies.append(question.text)
        elif isinstance(meaning, say.LooseWhere) and eye is not None:
            self._enter(say.Place(where=meaning.where))
        elif isinstance(meaning, say.LoosePower) and eye is not None and eye.meridian_deg is not None:
            self._ask(_neutral_here(meaning.power, place_words(eye.meridian_deg, self.state.naming)))
        elif isinstance(meaning, say.LoosePower) and eye is not None:
            reading = say.Reading(motion="neutral", lens=say.Lens(sphere=meaning.power))
            self._ask(Question(missing="where", text="which meridian?", candidate=reading))
        else:
            self.replies.append("nothing was asked")

    def _first_distance(self, said: say.Distance) -> None:
        """A number alone before any distance is known: a usual distance before any eye is one; else it is asked."""
        meaning = say.WorkingDistance(distance=said.distance_cm)
        before_all = self.state.eye is None and self.evidence is None and not self._blocked
        if before_all and is_usual(said.distance_cm):
            self._enter(meaning)
            return
        text = f"working distance {said.distance_cm:g} cm?"
        self._ask(Question(missing="confirm", text=text, candidate=meaning, doubt=FIRST_DISTANCE))

    def _wait(self, meaning: say.Meaning) -> None:
        self._talk(waiting=(*self.state.dialogue.waiting, meaning))
        blocking = next(each for each in reversed(self.state.dialogue.questions) if each.question.blocks)
        self.question = blocking.question
        self.replies.append(f"{wording.meaning(meaning)} waits: {blocking.question.text}")

    def _serve_waiting(self) -> None:
        while self.state.dialogue.waiting and not self._blocked:
            first, *later = self.state.dialogue.waiting
            self._talk(waiting=tuple(later))
            for part in split(self.state, first):
                self._enter_all(part)

    def _supersede(self, meaning: say.Meaning) -> None:
        """Saying the entry again is as good as answering: the question about it is closed."""
        for opened in self.state.dialogue.questions:
            if _same_thing(opened.question.candidate, meaning) or _in_full(opened.question, meaning):
                self._settle(opened)

    # ---- entries ----------------------------------------------------------------------------------------

    def _enter_all(
        self, meaning: say.Meaning, settled: tuple[str, ...] = (), opened: OpenQuestion | None = None
    ) -> None:
        """Enter everything that one part of what was said makes; what is asked of the first is asked of them all."""
        whole: say.Meaning | None = meaning
        for each in entries_of(self.state, meaning, late=opened is not None):
            if not self._enter(each, settled, opened, whole) and whole is not None:
                return
            whole = None
            # Of a lens that is neutral all round, the second meridian is the one along its axis.
            settled = (*settled, AXIS_OFF_STREAK)

    def _enter(
        self,
        meaning: say.Meaning,
        settled: tuple[str, ...] = (),
        opened: OpenQuestion | None = None,
        whole: say.Meaning | None = None,
    ) -> bool:
        """Enter something, or ask about it, and say which; `opened` is the question about it that was answered.

        `whole` is what waits for an answer, where it is more than this.
        """
        meaning = with_sign_of_looks(self.state, meaning)
        gap = first_gap(meaning, settled)
        if gap is not None:
            self._ask(_about(gap, meaning, whole).model_copy(update={"settled": settled}), opened)
            return False
        pinned = None if opened is None else opened.question.pinned
        context = Context(standing_for(self.state, opened), meaning, settled, pinned)
        try:
            acts = self._acts(meaning, context)
            then = self._then(meaning, acts, context)
        except Stands as stands:
            self.obeyed = True
            self.replies.append(stands.text)
            return True
        except NeedsAnswer as needed:
            self._ask_or_refuse(_about(needed.question, meaning, whole), opened)
            return False
        before = self.state
        self._do(acts, then)
        self.replies += (f"this cannot be true: {text}" for text in new_contradictions(before, self.state))
        self.replies += not_across(before, self.state)
        reminded = reminder(before, self.state, meaning, self.reminders)
        if reminded:
            self.replies.append(reminded)
        return True

    def _do(self, acts: tuple[Act, ...], then: ExamState) -> None:
        self.state = then
        if self.state.dialogue.dropped:
            self._talk(dropped=False)
        self.acts += acts
        self.replies += (act.words for act in acts)

    def _then(self, meaning: say.Meaning, acts: tuple[Act, ...], context: Context) -> ExamState:
        """The state after the acts, worked out once. What was heard and can hardly be true is asked about once.

        Raises NeedsAnswer.
        """
        then = self.state
        for act in acts:
            then = then.after_act(act, self.number)
        if self.evidence is None or "unlikely" in context.settled:
            return then
        why = unlikely(self.state, then, meaning, self.evidence)
        if why is not None:
            context.confirm("unlikely", f"did you say: {wording.meaning(meaning)}? {why}")
        return then

    @property
    def _name(self) -> str:
        """The id of the next new entry of this event."""
        entered = sum(change.op == "put" for act in self.acts for change in act.changes)
        return str(self.number) if entered == 0 else f"{self.number}.{entered + 1}"

    def _acts(self, meaning: say.Meaning, context: Context) -> tuple[Act, ...]:
        match meaning:
            case say.Correction():
                return (correct(self.state, meaning, context, self._name),)
            case say.Change():
                return (change(self.state, meaning, context),)
            case say.NotBut(wrong=wrong, right=right):
                return (exchange(self.state, wrong, right, context),)
            case say.Scratch():
                return scratch(self.state, meaning, context, self.number)
            case say.Keep():
                return (keep(self.state, meaning, context),)
            case say.Plain(kind="redo"):
                return (redo(self.state),)
            case say.Plain(kind="wrong_eye") | say.Move(eye="other", scope="last"):
                return (wrong_eye(self.state, context, self._name),)
            case say.Move():
                return (move(self.state, meaning, context, self._name),)
            case say.Swap():
                return (swap(self.state, meaning, context),)
            case say.Habit(throughout=True):
                return (habit(self.state, meaning, context, self._name),)
            case _ if is_enterable(meaning):
                return (enter(self.state, meaning, context, self._name),)
            case _:
                raise ValueError(f"nothing is known of {meaning.kind} here")

    def _obey(self, meaning: say.Meaning) -> None:
        self.obeyed = True
        if isinstance(meaning, say.Tell):
            self.replies.append(tell(self.state, meaning))
            if meaning.say in _NEED_THE_DISTANCE and _only_the_distance_lacks(self.state):
                self._ask(Question(missing="distance", text="which working distance?"))
            return
        if isinstance(meaning, say.Claim):
            self.replies.append(tell_of_claim(self.state, meaning))
            return
        kind = meaning.kind
        listening = {"pause": False, "resume": True, "start": True}.get(kind, self.state.listening)
        ended = {"finish": True, "next_patient": True, "start": False}.get(kind, self.state.ended)
        self._talk(listening=listening, ended=ended)
        self.replies.append(_COMMAND_WORDS.get(kind, f"{kind.replace('_', ' ')}: not by voice yet"))


def _asked_otherwise(refused: Question) -> Question | None:
    """After a "no" to what readings wait for: which then? None where they can go in as it was before."""
    candidate = refused.candidate
    if refused.missing == "eye" or refused.doubt == RIGHT_WORD:
        return None
    match candidate:
        case say.WorkingDistance():
            return Question(missing="distance", text="which working distance?", candidate=candidate)
        case say.Lenses() | say.WorkingLens():
            return Question(
                missing="repeat", text="which lens is in place? Say it again", candidate=candidate
            )
        case say.Eye():
            return Question(missing="eye", text="which eye, right or left?")
        case _:
            return None


def _same_thing(candidate: say.Meaning | None, meaning: say.Meaning) -> bool:
    """Whether a meaning says the entry again that a question is about."""
    if candidate is None or type(candidate) is not type(meaning):
        return False
    if isinstance(candidate, say.Reading) and isinstance(meaning, say.Reading):
        return candidate.where == meaning.where and candidate.eye == meaning.eye
    if isinstance(candidate, say.Correction) and isinstance(meaning, say.Correction):
        return type(candidate.entry) is type(meaning.entry)
    if isinstance(candidate, say.Lenses) and isinstance(meaning, say.Lenses):
        return (candidate.remove is None) == (meaning.remove is None)
    if isinstance(candidate, say.Acuity) and isinstance(meaning, say.Acuity):
        return (candidate.eye, candidate.correction) == (meaning.eye, meaning.correction)
    return getattr(candidate, "eye", None) == getattr(meaning, "eye", None) or isinstance(meaning, say.Eye)


def _in_full(question: Question, meaning: say.Meaning) -> bool:
    """Whether a reading names its sphere in full, where a step on top of nothing was asked about."""
    step = question.candidate
    if not isinstance(step, say.Lenses) or step.lens is None or not step.lens.on_top:
        return False
    lens = meaning.lens if isinstance(meaning, say.Reading) else None
    return lens is not None and lens.sphere is not None and not lens.on_top


def _only_the_distance_lacks(state: ExamState) -> bool:
    """Whether a result waits for the working distance, and nothing asks for it yet."""
    asked = any(each.question.missing == "distance" for each in state.dialogue.questions)
    lacks = any(
        each.code == "distance_missing" and len(eye.problems) == 1
        for eye in state.eyes.values()
        for each in eye.problems
    )
    return lacks and not asked and state.distance_cm is None


def _about(question: Question, part: say.Meaning, whole: say.Meaning | None) -> Question:
    """A question about a part as one about the whole that waits with it."""
    if whole is None or question.candidate != part:
        return question
    return question.model_copy(update={"candidate": whole})


def _neutral_here(power: say.Power, place: str) -> Question:
    """A lone power after a place may be neutral there, or only a lens put in: it is asked."""
    reading = say.Reading(motion="neutral", lens=say.Lens(sphere=power))
    return Question(
        missing="confirm",
        text=f"{place} neutral at {wording.power(power)}?",
        candidate=reading,
        doubt="in_hand",
    )
