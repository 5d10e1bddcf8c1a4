"""One breath being answered: the state as it goes on, what went in, what is asked, what is said back."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from voicelog.exam.advising import next_look
from voicelog.exam.entries import (
    BaseEntry,
    DistanceEntry,
    EyeEntry,
    LensesEntry,
    LookUp,
    Question,
    ReadingEntry,
    no_record,
)
from voicelog.exam.events import Act, Dialogue, OpenQuestion, Put
from voicelog.exam.protocol import Reminders
from voicelog.exam.state import ExamState
from voicelog.exam.unlikely import Evidence
from voicelog.optics import COMMON_LENS_SET, LensSet
from voicelog.phrases.outcome import Outcome


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
    orders: tuple[str, ...] = ()
    reference: str | None = None
    after: ExamState | None = field(default=None, compare=False, repr=False)

    @property
    def text(self) -> str:
        """All that is said back."""
        return "; ".join(self.replies)


class Breath:
    """What has come of one breath so far; mutable, and never seen outside the exchange."""

    def __init__(
        self,
        state: ExamState,
        number: int,
        evidence: Evidence | None,
        reminders: Reminders,
        lens_set: LensSet | None = None,
        earlier: LookUp = no_record,
    ) -> None:
        self.state = state
        self.number = number
        self.evidence = evidence
        self.reminders = reminders
        self.lens_set = lens_set
        self.earlier = earlier
        self.acts: list[Act] = []
        self.replies: list[str] = []
        self.question: Question | None = None
        self.answers: int | None = None
        self.orders: list[str] = []
        self.reference: str | None = None
        self.obeyed = False
        self.refused = False

    def reply(self, before: Dialogue) -> Reply:
        """What came of it all."""
        if (
            self.reminders.advice
            and self.question is None
            and self.state.eye
            and _put(self.acts, ReadingEntry)
        ):
            self.replies.append(f"next: {next_look(self.state, None, self.lens_set or COMMON_LENS_SET)}")
        outcome: Outcome = "accepted" if self.acts or self.obeyed else "ignored"
        dialogue = self.state.dialogue
        return Reply(
            "asked" if self.question is not None or self.refused else outcome,
            tuple(self.acts),
            self.question,
            self.answers,
            None if dialogue == before else dialogue,
            tuple(self.replies),
            tuple(self.orders),
            self.reference,
            self.state,
        )

    @property
    def blocked(self) -> bool:
        """Whether a question is open behind which everything else waits."""
        return any(each.question.blocks for each in self.state.dialogue.questions)

    @property
    def name(self) -> str:
        """The id of the next new entry of this event."""
        entered = sum(change.op == "put" for act in self.acts for change in act.changes)
        return str(self.number) if entered == 0 else f"{self.number}.{entered + 1}"

    def ask(self, question: Question, before: OpenQuestion | None = None) -> None:
        """Open a question; `before` is the one about the same entry that was answered, whose time it keeps."""
        opened = OpenQuestion(
            number=self.number,
            acts=len(self.acts),
            question=question,
            said=None if before is None else before.said_at,
        )
        self.talk(questions=(*self.state.dialogue.questions, opened))
        self.question = question
        self.replies.append(question.text)

    def ask_or_refuse(self, question: Question, opened: OpenQuestion | None) -> None:
        """What nothing waits for is no question: it is only said that it cannot be."""
        if question.missing == "repeat" and question.candidate is None:
            self.refused = True
            self.replies.append(question.text)
        else:
            self.ask(question, opened)

    def talk(self, **changes: object) -> None:
        """Change where the exchange stands."""
        self.state = replace(self.state, dialogue=self.state.dialogue.model_copy(update=changes))

    def settle(self, opened: OpenQuestion) -> None:
        """A question has got its answer, or is not asked any more."""
        left = tuple(each for each in self.state.dialogue.questions if each is not opened)
        self.talk(questions=left)
        self.answers = opened.number
        self.obeyed = True
        if self.question is opened.question:
            self.question = None

    def do(self, acts: tuple[Act, ...], then: ExamState) -> None:
        """Enter the acts; `then` is the state with them."""
        self.state = then
        if self.state.dialogue.dropped:
            self.talk(dropped=False)
        if self.state.dialogue.eye_unclear and _put(acts, EyeEntry):
            self.talk(eye_unclear=False)
        if self.state.dialogue.lens_unclear and _put(acts, ReadingEntry, LensesEntry):
            self.talk(lens_unclear=False)
        said_again = _put(acts, DistanceEntry) or (
            self.state.distance_cm is not None and _put(acts, ReadingEntry)
        )
        if self.state.dialogue.distance_unclear and said_again:
            self.talk(distance_unclear=False)
        self.acts += acts
        self.replies += (act.words for act in acts)


def _put(acts: Sequence[Act], *kinds: type[BaseEntry]) -> bool:
    """Whether an entry of these kinds is put in."""
    return any(
        isinstance(change, Put) and isinstance(change.entry, kinds) for act in acts for change in act.changes
    )
