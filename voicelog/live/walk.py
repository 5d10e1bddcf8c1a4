"""The children of a list, an exam each, in its order: what the round of a live exam goes through."""

from collections.abc import Iterable

from voicelog.exam.age_limits import noted_age
from voicelog.live.exams import Exams
from voicelog.live.round import Patients
from voicelog.record.overviews import sought
from voicelog.record.screening.roster import Child, Roster
from voicelog.session import Session

ALL_CALLED = "the list is through"


class Walk:
    """Whose turn it is. `done` are references that are not called any more.

    A child is called until an exam with its reference, or an empty one, has come to its end. Another reference may be
    said before the first entry: one of the list brings its own age, any other none.
    """

    def __init__(self, exams: Exams, roster: Roster, done: Iterable[str] = ()) -> None:
        self._exams, self._roster = exams, roster
        self._called = {sought(each) for each in done}

    @property
    def next_child(self) -> Child | None:
        """Whose exam begins next; None where all were called."""
        return next((each for each in self._roster.children if each.key not in self._called), None)

    @property
    def patients(self) -> Patients:
        """For the round."""
        return Patients(self.begin, self.over, self.opening, self.referred)

    def begin(self) -> Session:
        """The exam of the next child; when all were called, one without a reference. Raises NotKeptError."""
        child = self.next_child
        return self._exams.new() if child is None else self._of(child)

    def over(self, session: Session) -> str:
        """An exam has come to its end; where it is kept, in words."""
        self._called.add(sought(session.state.reference))
        return self._exams.over(session)

    def opening(self, session: Session) -> None:
        """Read back whose exam it is; where that is not known, ask."""
        child = self._roster.child(session.state.reference)
        if child is not None:
            session.tell(child.words)
            return
        session.tell(ALL_CALLED)
        session.ask_reference()

    def referred(self, session: Session) -> Session | None:
        """A reference was said: the exam with that child's age in place of one in which nothing is entered yet."""
        child = self._roster.child(session.state.reference)
        if child is None or child.age is None or not session.is_empty or noted_age(session.state) is not None:
            return None
        return self._of(child)

    def _of(self, child: Child) -> Session:
        known = () if child.age is None else (f"age {child.age.value_words()}",)
        return self._exams.new(child.reference, known)
