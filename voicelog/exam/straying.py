"""What answers nothing that was asked: the rest of something that was begun, or what may put right the last power."""

from voicelog.exam import said_parts
from voicelog.exam.asking import axis_alone, neutral_here, other_one
from voicelog.exam.entries import is_usual, place_words
from voicelog.exam.events import OpenQuestion
from voicelog.exam.obeying import Obeying
from voicelog.exam.questions import FIRST_DISTANCE, Question
from voicelog.exam.targets import has_power
from voicelog.optics import written_cm
from voicelog.phrases import meanings as say


class Straying(Obeying):
    """Takes lone parts of entries."""

    def entered_since(self, opened: OpenQuestion) -> bool:
        """Whether something was entered after a question was asked: that is the last thing then."""
        done = self.state.ledger.done
        if not done or done[-1].number < opened.number:
            return False
        since = sum(each.number == opened.number for each in done)
        return done[-1].number > opened.number or since > opened.acts

    def stray(self, meaning: say.Meaning) -> None:
        """An answer to nothing, unless it is the rest of something that was begun."""
        question = self.state.question
        eye = None if self.state.eye is None else self.state.eyes[self.state.eye]
        if isinstance(meaning, say.Distance) and self.state.distance_cm is None:
            self._first_distance(meaning)
        elif question is not None:
            last = self._last_power(meaning)
            if last is None:
                self.replies.append(question.text)
            else:
                self.ask(last)
        elif isinstance(meaning, say.LooseWhere) and (other := other_one(self.state, meaning)) is not None:
            self.ask(other)
        elif isinstance(meaning, say.LooseWhere) and eye is not None:
            self.enter(say.Place(where=meaning.where))
        elif isinstance(meaning, say.LoosePower) and eye is not None and eye.meridian_deg is not None:
            self.ask(neutral_here(meaning.power, place_words(eye.meridian_deg, self.state.naming)))
        elif isinstance(meaning, say.LoosePower) and eye is not None:
            reading = say.Reading(motion="neutral", lens=say.Lens(sphere=meaning.power))
            self.ask(Question(missing="where", text="which meridian?", candidate=reading))
        elif isinstance(meaning, say.LooseAxis) and (said := axis_alone(self.state, meaning)) is not None:
            if isinstance(said, Question):
                self.ask(said)
            else:
                self.enter(said)
        else:
            self.replies.append("nothing was asked")

    def _last_power(self, meaning: say.Meaning) -> Question | None:
        """A power that does not answer the question in hand, where one was entered since: is that to be put right?"""
        opened, done = self.state.open_question, self.state.ledger.done
        if not isinstance(meaning, say.LoosePower) or opened is None or not self.entered_since(opened):
            return None
        rows = [row for row in self.state.ledger.live if row.id in {each.id for each in done[-1].act.changes}]
        if not rows or not has_power(rows[-1]) or meaning.power.dioptres is None:
            return None
        text = f"change {rows[-1].entry.words()} to {said_parts.power(meaning.power)}?"
        return Question(
            missing="confirm", text=text, candidate=say.Correction(entry=meaning), doubt="last_power"
        )

    def _first_distance(self, said: say.Distance) -> None:
        """A number alone before any distance is known: a usual distance before any eye is one; else it is asked."""
        meaning = say.WorkingDistance(distance=said.distance_cm)
        before_all = self.state.eye is None and self.evidence is None and not self.blocked
        if before_all and is_usual(said.distance_cm):
            self.enter(meaning)
            return
        text = f"working distance {written_cm(said.distance_cm)}?"
        self.ask(Question(missing="confirm", text=text, candidate=meaning, doubt=FIRST_DISTANCE))
