"""What the log answers to what is said: enter it, ask about it, or say that it cannot be.

Pure: a state and meanings give a reply. Numbers, signs, axes and eyes are never filled in: what is missing is asked.
docs/exchange.md says for each situation what a person may expect; tests hold the two together.
"""

from collections.abc import Sequence

from voicelog.exam import wording
from voicelog.exam.answering import Answered, answer, is_answer, late_answer
from voicelog.exam.asking import (
    ALL_ROUND,
    asked_otherwise,
    eye_of_another,
    eye_of_waiting,
    in_full,
    is_of_later,
    same_thing,
)
from voicelog.exam.breath import Reply
from voicelog.exam.entries import RIGHT_WORD, LookUp, Question, no_record
from voicelog.exam.events import OpenQuestion
from voicelog.exam.looked import with_naming_of_the_last
from voicelog.exam.of_question import put_right
from voicelog.exam.orders import NO_ORDERS, Orders
from voicelog.exam.protocol import NO_REMINDERS, Reminders
from voicelog.exam.questions import ORDER
from voicelog.exam.spans import is_of_now
from voicelog.exam.splitting import split
from voicelog.exam.state import ExamState
from voicelog.exam.straying import Straying
from voicelog.exam.two_ways import may_be_meant_two_ways
from voicelog.exam.unlikely import NO_EVIDENCE, Evidence, is_misheard
from voicelog.phrases import meanings as say


def respond(
    state: ExamState,
    meanings: Sequence[say.Meaning],
    *,
    number: int,
    sure: bool = True,
    heard: bool = False,
    evidence: Evidence = NO_EVIDENCE,
    reminders: Reminders = NO_REMINDERS,
    orders: Orders = NO_ORDERS,
    unclear: str = "",
    asked: str = "",
    earlier: LookUp = no_record,
) -> Reply:
    """The reply to everything said in one breath, as event `number`.

    With `sure` False the recogniser had doubts, and it is asked about whatever it says, in the words `asked` if there
    are any. With `heard` the exam's own knowledge may ask as well, on the `evidence` there is; its lenses are those
    that advice may name. `reminders` says of what the reply to an entry reminds, `orders` what can be carried out here.
    `unclear` is why the rest of the line was not understood; `earlier` looks up what was found at earlier visits.
    """
    talk = _Exchange(state, number, evidence if heard else None, reminders, evidence.lens_set, earlier)
    talk.may = orders
    two_ways = may_be_meant_two_ways(tuple(meanings), asked=state.question is not None)
    if sure and not two_ways and not (heard and is_misheard(meanings)):
        talk.take_all(meanings)
    else:
        talk.doubt(tuple(meanings), asked)
    if unclear:
        talk.leave_out(unclear)
    return talk.reply(state.dialogue)


class _Exchange(Straying):
    """Takes one thing after the other that was said in a breath."""

    def take_all(self, meanings: Sequence[say.Meaning]) -> None:
        """Everything that was said, in order; a part that is not clear is asked, the rest stands."""
        todo = with_naming_of_the_last(self.state, meanings)
        if len(todo) > 1 and isinstance(todo[0], say.Answer) and todo[0].answer in ("yes", "no"):
            todo = self._repaired(todo[0], todo[1:])
        if todo == [say.Eye(eye="right", side_only=True)]:
            self._lone_right()
            return
        if (before := eye_of_another(self.state, todo)) is not None:
            self._wait(*todo, asked=f"which eye was {wording.meaning(before)}?")
            return
        place: say.Where | None = None
        for meaning in todo:
            if isinstance(meaning, say.Reflex) and meaning.where is None and place is not None:
                meaning = meaning.model_copy(update={"where": place})
            place = meaning.where if isinstance(meaning, say.Place) else None
            for part in split(self.state, meaning):
                self.take(part)

    def _lone_right(self) -> None:
        """ "Right" and nothing else may tell nothing: it never changes the eye without a yes."""
        if self.state.eye == "right":
            self.obeyed = True
            self.replies.append("the right eye is in hand")
            return
        candidate = say.Eye(eye="right")
        self.ask(Question(missing="confirm", text="the right eye?", candidate=candidate, doubt=RIGHT_WORD))

    def leave_out(self, why: str) -> None:
        """A part of the line was not understood."""
        self.refused = True
        self.replies.append(why)

    def _repaired(self, first: say.Answer, rest: list[say.Meaning]) -> list[say.Meaning]:
        """ "No, minus", "no, plus two fifty": the answer and what is right instead, as one thing."""
        loose = isinstance(rest[0], say.LoosePower | say.LooseSign | say.LooseAxis | say.LooseWhere)
        if not loose:
            return [first, *rest]
        opened = self.state.open_question
        if opened is not None and not self.entered_since(opened):
            return rest
        if first.answer == "no":
            return [say.Correction(entry=rest[0]), *rest[1:]]  # type: ignore[arg-type]
        return [first, *rest]

    def take(self, meaning: say.Meaning) -> None:
        """One thing that was said."""
        opened = self.state.open_question
        if opened is not None and opened.number == self.number and opened.question.candidate == meaning:
            return  # said twice in a breath, it is no answer to itself
        if opened is not None and self._takes_back_question(meaning, opened):
            self._close_question(opened)
        elif say.is_command(meaning):
            self.obey(meaning)
        elif is_of_later(self.state, meaning):
            self._wait(meaning)
        elif opened is not None and (asked := eye_of_waiting(self.state, meaning)) is not None:
            self._ask_eye_of_waiting(asked, opened)
            self._wait(meaning)
        elif self._answers(meaning):
            self._serve_waiting()
        elif is_answer(meaning):
            self.stray(meaning)
        else:
            self._supersede(meaning)
            if self.blocked:
                self._wait(meaning)
            else:
                self.enter_all(meaning)
                self._serve_waiting()

    def _ask_eye_of_waiting(self, asked: Question, opened: OpenQuestion) -> None:
        self.settle(opened)
        self.talk(waiting=self.state.dialogue.waiting[1:])
        dropped = "; ".join(wording.meaning(each) for each in opened.question.rest)
        if dropped:
            self.replies.append(f"not entered: {dropped}")
        self.ask(asked)

    def _takes_back_question(self, meaning: say.Meaning, opened: OpenQuestion) -> bool:
        """ "Scratch that" is for the last thing: the question in hand, unless something was entered after it."""
        if isinstance(meaning, say.Plain) and meaning.kind == "discard":
            return not meaning.whole
        if not isinstance(meaning, say.Scratch) or meaning != say.Scratch():
            return False
        return not self.entered_since(opened)

    def doubt(self, meanings: tuple[say.Meaning, ...], asked: str = "") -> None:
        """What was heard with doubt is asked about; an answer is no answer then."""
        if not meanings or any(is_answer(each) for each in meanings):
            open_question = self.state.question
            self.replies.append("not clear" + ("; the question stays open" if open_question else ""))
            return
        first, rest = meanings[0], meanings[1:]
        said = "; ".join(wording.meaning(each) for each in meanings)
        text = asked or f"did you say: {said}?"
        self.ask(Question(missing="confirm", text=text, candidate=first, rest=rest, doubt="unsure"))

    def _answers(self, meaning: say.Meaning) -> bool:
        """Whether it settles the question in hand, or says something of it."""
        opened = self.state.open_question
        if opened is None or (self.entered_since(opened) and is_of_now(opened.question, meaning)):
            return False
        found = answer(self.state, opened.question, meaning)
        if found is None and opened.number == self.number:
            found = late_answer(self.state, opened.question, meaning)
        if found is None and not self.entered_since(opened):
            found = put_right(self.state, opened.question, meaning)
        match found:
            case None:
                return False
            case Answered(again=True):
                self.obeyed = True
                self.replies.append(opened.question.text)
            case Answered(closed=True):
                self._refuse(opened)
            case Answered(first=first, entry=entry, rest=rest, settled=settled):
                self.settle(opened)
                for each in first:
                    self.enter(each)
                if entry is not None:
                    self._go_on(entry, settled, None if first else opened)
                for each in rest:
                    self.take(each)
        self._remind_of_open()
        return True

    def _go_on(self, entry: say.Meaning, settled: tuple[str, ...], opened: OpenQuestion | None) -> None:
        if say.is_command(entry):
            self.obey(entry, settled)
        elif self.blocked:
            self._wait(entry)
        else:
            for part in split(self.state, entry):
                self.enter_all(part, settled, opened)

    def _remind_of_open(self) -> None:
        opened = self.state.open_question
        if opened is not None and self.question is None and self.answers is not None:
            self.replies.append(f"still open: {opened.question.text}")

    def _refuse(self, opened: OpenQuestion) -> None:
        """ "No": what was asked about does not go in. What waits for it is asked for otherwise."""
        self.settle(opened)
        self.talk(dropped=True)
        self.replies.append("not entered")
        otherwise = asked_otherwise(opened.question)
        if self.state.dialogue.waiting and otherwise is not None and not self.blocked:
            self.ask(otherwise)

    def _close_question(self, opened: OpenQuestion) -> None:
        """ "Scratch that" with a question open takes back the question, and nothing else."""
        self.settle(opened)
        self.talk(dropped=True)
        candidate = opened.question.candidate
        dropped = [] if candidate is None else [candidate, *opened.question.rest]
        if opened.question.blocks and not self.blocked:
            dropped += self.state.dialogue.waiting
            self.talk(waiting=())
        said = "; ".join(wording.meaning(each) for each in dropped)
        self.replies.append(f"not entered: {said}" if said else "question closed")
        self._remind_of_open()

    def _wait(self, *meanings: say.Meaning, asked: str = "") -> None:
        self.talk(waiting=(*self.state.dialogue.waiting, *meanings))
        blocking = next(each for each in reversed(self.state.dialogue.questions) if each.question.blocks)
        self.question = blocking.question
        said = "; ".join(wording.meaning(each) for each in meanings)
        self.replies.append(f"{said} waits: {asked or blocking.question.text}")

    def _serve_waiting(self) -> None:
        while self.state.dialogue.waiting and not self.blocked:
            first, *later = self.state.dialogue.waiting
            self.talk(waiting=tuple(later))
            if not self._answers(first):
                for part in split(self.state, first):
                    self.enter_all(part)

    def _supersede(self, meaning: say.Meaning) -> None:
        """Saying the entry again is as good as answering: the question about it is closed."""
        for opened in self.state.dialogue.questions:
            question = opened.question
            looked = question.doubt == ALL_ROUND.doubt and isinstance(meaning, say.Reading)
            passing = question.doubt == ORDER or question.missing == "reference"
            if passing or looked or same_thing(question.candidate, meaning) or in_full(question, meaning):
                self.settle(opened)
