"""What an entry is taken with whose question is answered late: what was in hand when it was said.

"Streak ninety neutral at two" (plus or minus?), "left eye", "plus": the reading is the right eye's. So it is with
distance, mirror, drops and pass. Such an entry leaves frame and place in hand as they are now.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from voicelog.exam.entries import (
    Allowance,
    BaseFinding,
    Dryness,
    InPlace,
    LensesEntry,
    Mirror,
    ReadingEntry,
    TrialLenses,
)
from voicelog.exam.entries.context import EyeNow
from voicelog.exam.events import Act, Line, OpenQuestion
from voicelog.exam.ledger import Ledger
from voicelog.exam.standing import Standing
from voicelog.exam.state import ExamState, fold
from voicelog.phrases import meanings as say

Kind = TypeVar("Kind", bound=BaseFinding)

UnderWay = tuple[int, tuple[Act, ...]]
"""The number of the event that is being answered, and its acts so far."""


@dataclass(frozen=True)
class Then:
    """The exam as it stood when something was said; findings as they are now."""

    then: Standing
    now: Standing

    @property
    def habit(self) -> say.Naming:
        """What bare directions name now: who says so means those said before as well (see `moving.habit`)."""
        return self.now.habit

    @property
    def habit_said(self) -> bool:
        """Whether anybody chose it."""
        return self.then.habit_said or self.now.habit_said

    @property
    def eye(self) -> say.OneEye | None:
        """The eye in hand then."""
        return self.then.eye

    @property
    def eyes(self) -> Mapping[say.OneEye, EyeNow]:
        """Both eyes then."""
        return self.then.eyes

    @property
    def allowance(self) -> Allowance:
        """Distance and lens then; a distance that was said since, where there was none."""
        return self.now.allowance if self.then.allowance.distance_cm is None else self.then.allowance

    @property
    def allowance_from(self) -> str | None:
        """The entry that said it."""
        return (
            self.now.allowance_from if self.then.allowance.distance_cm is None else self.then.allowance_from
        )

    @property
    def mirror(self) -> Mirror:
        """The sleeve then."""
        return self.then.mirror

    def dryness(self, eye: say.OneEye) -> Dryness:
        """Dry or wet then."""
        return self.then.dryness(eye)

    def is_late(self, eye: say.OneEye) -> bool:
        """Whether something came between that moved frame or place of that eye."""
        then, now = self.then.eyes[eye], self.now.eyes[eye]
        return (then.in_place, then.meridian_deg) != (now.in_place, now.meridian_deg)

    def slot(self, name: str) -> BaseFinding | None:
        """The finding in a slot now."""
        return self.now.slot(name)

    def finding(self, kind: type[Kind], eye: say.OneEye) -> Kind | None:
        """The last finding of a kind now."""
        return self.now.finding(kind, eye)


def standing_for(state: ExamState, opened: OpenQuestion | None, under_way: UnderWay) -> Standing | Then:
    """What the entry that a question is about is taken with: what stood when it was said.

    What has waited may be asked about and answered within one event: that of the line `under_way`.
    """
    if opened is None or opened.question.blocks:
        return state.standing
    number, acts = opened.said_at
    then = _with_lenses_put_right(_standing_at(state, number, acts, under_way), state.ledger)
    if then.eye is None or _setting(then) == _setting(state.standing):
        return state.standing
    return Then(then, state.standing)


def _standing_at(state: ExamState, number: int, acts: int, under_way: UnderWay) -> Standing:
    """What stood after the first acts of an event."""
    found = state.asked.get(number) or fold(event for event in state.events if event.number < number)
    lines = (event for event in state.events if isinstance(event, Line) and event.number == number)
    done = under_way[1] if number == under_way[0] else next((line.acts for line in lines), ())
    for act in done[:acts]:
        found = found.after_act(act, number)
    return found.standing


def _with_lenses_put_right(then: Standing, ledger: Ledger) -> Standing:
    """What stood then, but each lens as the entry that put it there says now: what was misheard was so then as well."""
    eyes = {name: replace(eye, in_place=_put_right(eye.in_place, ledger)) for name, eye in then.eyes.items()}
    return replace(then, eyes=eyes)


def _put_right(before: InPlace, ledger: Ledger) -> InPlace:
    lenses = before.lenses
    sphere = _named_lenses(ledger, before.sphere_from)
    if sphere is not None and sphere.sphere_d is not None:
        lenses = lenses.with_sphere(sphere.sphere_d)
    cylinder = _named_lenses(ledger, before.cylinder_from)
    if cylinder is not None and cylinder.cylinder is not None:
        lenses = lenses.with_cylinder(cylinder.cylinder)
    return replace(before, lenses=lenses)


def _named_lenses(ledger: Ledger, origin: str | None) -> TrialLenses | None:
    """The lenses of the entry that put one in place, while it counts."""
    row = None if origin is None else ledger.rows.get(origin)
    if row is None or row.withdrawn or not isinstance(row.entry, ReadingEntry | LensesEntry):
        return None
    return row.entry.lenses


def _setting(standing: Standing) -> object:
    """What entries are taken with, findings apart."""
    eyes = {
        name: (eye.condition, eye.next_pass_number, eye.in_place, eye.meridian_deg)
        for name, eye in standing.eyes.items()
    }
    return standing.habit, standing.eye, eyes, standing.allowance, standing.allowance_from, standing.mirror
