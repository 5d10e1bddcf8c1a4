"""How long after the drops a reading was made: from the times of their lines. Pure.

Drops say when they were given (a time of day, minutes ago) or count from when they were said. A time of day has no date
and may be of a twelve-hour clock: it is the last such time before it was said. Times of day are local.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from voicelog.exam.entries import DropsEntry
from voicelog.exam.events import event_number
from voicelog.exam.guidance import agent_facts
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.state import ExamState, EyeName

_HALF_DAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class SinceDrops:
    """A wet reading, the cycloplegic last given before it in its eye, and the whole minutes between."""

    reading: TakenReading
    drops: DropsEntry
    minutes: int

    @property
    def early(self) -> bool:
        """Whether it is sooner than the agent is taken to have worked."""
        facts = agent_facts(self.drops.agent)
        settled = None if facts is None else facts.settled_minutes
        return settled is not None and self.minutes < settled


def since_drops(state: ExamState, eye: EyeName) -> Iterator[SinceDrops]:
    """Each wet reading of an eye that drops are noted before, in order."""
    times = {event.number: event.at for event in state.events}
    given = [
        (given_at(each, times[event_number(name)]), each)
        for name, each in state.findings.of(DropsEntry)
        if each.cycloplegic and each.eye in (eye, "both")
    ]
    for taken in state.eyes[eye].passes:
        if taken.condition != "wet":
            continue
        for reading in taken.readings:
            at = times[reading.number]
            before = [(when, each) for when, each in given if when <= at]
            if before:
                when, drops = max(before, key=lambda each: each[0])
                yield SinceDrops(reading, drops, int((at - when).total_seconds() // 60))


def given_at(drops: DropsEntry, said_at: datetime) -> datetime:
    """When drops were given."""
    if drops.minutes_ago is not None:
        return said_at - timedelta(minutes=drops.minutes_ago)
    if drops.clock is None:
        return said_at
    local = said_at.astimezone()
    given = local.replace(hour=drops.clock.hour, minute=drops.clock.minute, second=0, microsecond=0)
    if drops.clock.hour <= 12 and given + _HALF_DAY <= local:
        given += _HALF_DAY
    return given if given <= local else given - (_HALF_DAY if drops.clock.hour <= 12 else 2 * _HALF_DAY)
