"""What is said of the eyes goes in, or is asked about: the part of the exchange that makes entries."""

from voicelog.exam import wording
from voicelog.exam.acting import acts_of
from voicelog.exam.asking import ALL_ROUND, about_the_whole, is_whole_lens
from voicelog.exam.breath import Breath
from voicelog.exam.entries import AXIS_OFF_STREAK, Context
from voicelog.exam.events import Act, OpenQuestion
from voicelog.exam.gaps import first_gap
from voicelog.exam.looked import with_sign_of_looks
from voicelog.exam.protocol import reminder
from voicelog.exam.questions import NeedsAnswer, Stands
from voicelog.exam.splitting import entries_of
from voicelog.exam.starting_acts import with_start
from voicelog.exam.state import ExamState
from voicelog.exam.then import standing_for
from voicelog.exam.unlikely import new_contradictions, not_across, unlikely
from voicelog.phrases import meanings as say


class TakingIn(Breath):
    """Enters what is complete, and asks about what is not."""

    def enter_all(
        self, meaning: say.Meaning, settled: tuple[str, ...] = (), opened: OpenQuestion | None = None
    ) -> None:
        """Enter everything that one part of what was said makes; what is asked of the first is asked of them all."""
        whole: say.Meaning | None = meaning
        for each in entries_of(self.state, meaning, late=opened is not None):
            if not self.enter(each, settled, opened, whole) and whole is not None:
                return
            whole = None
            # Of a lens that is neutral all round, the second meridian is the one along its axis.
            settled = (*settled, AXIS_OFF_STREAK)

    def enter(
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
            self.ask(about_the_whole(gap, meaning, whole).model_copy(update={"settled": settled}), opened)
            return False
        pinned = None if opened is None else opened.question.pinned
        said_in = self.state if opened is None else self.state.asked.get(opened.said_at[0], self.state)
        said, now = said_in.dialogue, self.state.dialogue
        context = Context(
            standing_for(self.state, opened, (self.number, tuple(self.acts))),
            meaning,
            settled,
            pinned,
            eye_unclear=said.eye_unclear and now.eye_unclear,
            lens_unclear=said.lens_unclear and now.lens_unclear,
            distance_unclear=said.distance_unclear and now.distance_unclear,
            earlier=self.earlier,
        )
        try:
            acts = acts_of(self.state, meaning, context, name=self.name, number=self.number)
            acts, no_start = with_start(self.state, acts, context, self.reminders.start)
            then = self._then(meaning, acts, context)
        except Stands as stands:
            self.obeyed = True
            self.replies.append(stands.text)
            return True
        except NeedsAnswer as needed:
            self.ask_or_refuse(about_the_whole(needed.question, meaning, whole), opened)
            return False
        before = self.state
        self.do(acts, then)
        self.replies += no_start
        self.replies += (f"this cannot be true: {text}" for text in new_contradictions(before, self.state))
        self.replies += not_across(before, self.state)
        if is_whole_lens(self.state, meaning):
            self.ask(ALL_ROUND)
        reminded = reminder(before, self.state, meaning, self.reminders)
        if reminded:
            self.replies.append(reminded)
        return True

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
