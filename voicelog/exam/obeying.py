"""What is said to the log itself: questions are answered, orders carried out or handed on."""

from typing import Final

from voicelog.exam.asking import NEED_THE_DISTANCE, only_the_distance_lacks
from voicelog.exam.entries import Question
from voicelog.exam.orders import NO_ORDERS, ORDER_WORDS, asked_first, discarding
from voicelog.exam.questions import ORDER
from voicelog.exam.round import age_of_another
from voicelog.exam.taking_in import TakingIn
from voicelog.exam.telling import tell, tell_of_claim
from voicelog.phrases import meanings as say

_COMMAND_WORDS: Final = {
    "done": "all is kept as it is said",
    "save": "all is kept as it is said",
    "pause": "paused",
    "resume": "listening",
    "start": "listening",
    "end_note": "no note is open",
}


class Obeying(TakingIn):
    """The part of the exchange that makes no entries."""

    may = NO_ORDERS
    """What can be carried out here."""

    def obey(self, meaning: say.Meaning, settled: tuple[str, ...] = ()) -> None:
        """Do what is said; `settled` are the doubts that were laid to rest."""
        self.obeyed = True
        match meaning:
            case say.Tell():
                self.replies.append(tell(self.state, meaning, self.lens_set))
                if meaning.say in NEED_THE_DISTANCE and only_the_distance_lacks(self.state):
                    self.ask(Question(missing="distance", text="which working distance?"))
            case say.Claim():
                self.replies.append(tell_of_claim(self.state, meaning))
            case say.Reference():
                self._refer(meaning)
            case say.Plain():
                self._order(meaning, settled)

    def _refer(self, meaning: say.Reference) -> None:
        """The exam's reference; it stands at the head of the record, which is written with the first entry."""
        said, known = f"reference {meaning.text}", self.state.reference
        if known.casefold() == meaning.text.casefold():
            self.replies.append(f"{said}: so it is")
            return
        if not self.may.refers:
            self.refused = True
            why = "say it before the first entry" if self.may.known else "only in a live exam"
            has = f"the exam has the reference {known}" if known else why
            self.replies.append(f"not entered: {said}: {has}")
            return
        for opened in self.state.dialogue.questions:
            if opened.question.missing == "reference":
                self.settle(opened)
        act = age_of_another(self.state)
        if act is not None:
            self.do((act,), self.state.after_act(act, self.number))
        self.reference = meaning.text
        self.replies.append(f"reference {meaning.text}")

    def _order(self, order: say.Plain, settled: tuple[str, ...]) -> None:
        kind, known = order.kind, order.kind in self.may.known
        asked = asked_first(self.state, order, self.may, heard=self.evidence is not None)
        if asked and ORDER not in settled:
            self.ask(Question(missing="confirm", text=asked, candidate=order, doubt=ORDER))
            return
        if known:
            self.orders.append(kind)
        if known and kind == "discard":
            self._discard()
            return
        listening = {"pause": False, "resume": True, "start": True}.get(kind, self.state.listening)
        ended = {"finish": True, "next_patient": True, "start": False}.get(kind, self.state.ended)
        self.talk(listening=listening, ended=ended)
        elsewhere = f"{kind.replace('_', ' ')}: only in a live exam"
        told = known or kind in ("finish", "next_patient")
        self.replies.append(ORDER_WORDS[kind] if told else _COMMAND_WORDS.get(kind, elsewhere))

    def _discard(self) -> None:
        act = discarding(self.state)
        if act is None:
            self.replies.append("exam discarded: nothing was entered")
        else:
            self.do((act,), self.state.after_act(act, self.number))
        self.talk(questions=(), waiting=(), ended=True)
