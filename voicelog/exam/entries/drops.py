"""Drops that were given. The log suggests none of them."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseFinding, Quantity, ask, refuse
from voicelog.exam.entries.context import Context
from voicelog.exam.guidance import agent_facts
from voicelog.phrases import meanings as say

GREATEST_STRENGTH_PERCENT: Final = 10.0  # the strongest in use is phenylephrine 10 % (from memory)
CYCLOPLEGICS: Final[frozenset[say.Agent]] = frozenset(
    {"tropicamide", "cyclopentolate", "atropine", "homatropine"}
)
"""Agents that put accommodation to rest (domain facts 1.6): what is read after them is wet."""


class DropsEntry(BaseFinding):
    """Drops of one eye or both. `clock` and `minutes_ago` None: when it was said."""

    said: ClassVar = say.Drops
    title: ClassVar = "drops"
    code: ClassVar = "drops"

    kind: Literal["drops"] = "drops"
    agent: say.Agent
    strength_percent: float | None = None
    eye: say.Eyes
    clock: say.Clock | None = None
    minutes_ago: int | None = None

    @property
    def slot(self) -> None:
        """Each time counts."""
        return

    @property
    def cycloplegic(self) -> bool:
        """Whether readings after it are wet."""
        return self.agent in CYCLOPLEGICS

    @property
    def given(self) -> str:
        """ "tropicamide 1 %"; the strength only if it was said."""
        agent = "of another kind" if self.agent == "other" else self.agent
        return agent if self.strength_percent is None else f"{agent} {self.strength_percent:g} %"

    def words(self) -> str:
        """ "both eyes: drops tropicamide 1 %; readings from here on are wet"."""
        return super().words() + ("; readings from here on are wet" if self.cycloplegic else "")

    def value_words(self) -> str:
        """ "tropicamide 1 %, at 10:15"."""
        if self.clock is not None:
            return f"{self.given}, at {self.clock.hour:d}:{self.clock.minute:02d}"
        return self.given if self.minutes_ago is None else f"{self.given}, {self.minutes_ago} minutes ago"

    def quantities(self) -> tuple[Quantity, ...]:
        """The strength."""
        return () if self.strength_percent is None else (Quantity("strength", self.strength_percent, "%"),)

    @classmethod
    def from_meaning(cls, meaning: say.Drops, context: Context) -> "DropsEntry":
        """The eye is never taken for granted. Raises NeedsAnswer."""
        if meaning.eye is None:
            raise ask("eye", "drops in which eye: right, left or both?", context.meaning)
        return cls(
            agent=meaning.agent,
            strength_percent=_strength(meaning.agent, meaning.strength_percent, context),
            eye=meaning.eye,
            clock=_clock(meaning.clock, context),
            minutes_ago=meaning.minutes_ago,
        )

    def corrected(self, meaning: say.Drops, context: Context) -> "DropsEntry":
        """Another agent, strength, eye or time; what is not named stays."""
        unsaid = {
            name: getattr(self, name)
            for name in ("strength_percent", "eye", "clock", "minutes_ago")
            if getattr(meaning, name) is None
        }
        return DropsEntry.from_meaning(meaning.model_copy(update=unsaid), context)


def _strength(agent: say.Agent, strength: float | None, context: Context) -> float | None:
    if strength is not None and not 0 < strength <= _greatest_percent(agent):
        what = "drops" if agent == "other" else agent
        raise refuse(f"{what} of {strength:g} % is not in use: say the entry again", context.meaning)
    return strength


def _clock(clock: say.Clock | None, context: Context) -> say.Clock | None:
    if clock is not None and not (0 <= clock.hour <= 23 and 0 <= clock.minute <= 59):
        raise refuse(
            f"{clock.hour}:{clock.minute:02d} is no time of day: say the entry again", context.meaning
        )
    return clock


def _greatest_percent(agent: say.Agent) -> float:
    facts = agent_facts(agent)
    return GREATEST_STRENGTH_PERCENT if facts is None else facts.greatest_percent
