"""What usual practice is, as data with its sources (guidance.toml): limits, adjustments, and when to remark."""

import tomllib
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from voicelog.phrases.meanings import Age, Agent, Model

Standing = Literal["read", "abstract", "second hand", "memory", "none"]
Subject = Literal["eye", "drops", "both"]
Guideline = Literal["2013"]
"""The screening guidelines whose limits are known, by their year. Of those of 2021 no figures could be read."""
_Text = Annotated[str, Field(min_length=1, pattern=r"\S")]


class Sourced(Model):
    """What every entry of the data has: where it comes from, and how the source was known."""

    id: _Text
    source: _Text
    standing: Standing

    @model_validator(mode="after")
    def _says_when_there_is_none(self) -> Self:
        if (self.standing == "none") != self.source.startswith("common practice, no source"):
            raise ValueError(f'{self.id}: without a source it must say "common practice, no source"')
        return self


class Limit(Sourced):
    """A number that comparisons use; `id` ends in its unit."""

    value: float
    meaning: _Text


class Adjustment(Sourced):
    """What is taken off the sphere in near retinoscopy in the dark, dioptres, by the age said."""

    age: Age
    from_years: float | None = None
    until_years: float | None = None
    taken_off_d: float


class Rule(Sourced):
    """When to remark: every bound that is given must hold for a value of `measure`, dioptres or logMAR."""

    on: Subject
    measure: _Text
    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None
    above_limit: str | None = None
    any_of: tuple[str, ...] | None = None
    finding: _Text
    text: Annotated[str, Field(pattern=r"^(usual practice is to |some teaching )")]


class Band(Model):
    """Ages in whole months, and the value above which a limit speaks, dioptres."""

    from_months: int
    below_months: int
    above: float


class AgeLimit(Sourced):
    """A limit that goes by age: its bands follow each other, youngest first."""

    guideline: Guideline
    on: Subject
    measure: _Text
    bands: tuple[Band, ...]
    finding: _Text
    text: Annotated[str, Field(pattern=r"^usual practice is to ")]

    @model_validator(mode="after")
    def _bands_follow_each_other(self) -> Self:
        if any(one.below_months != two.from_months for one, two in pairwise(self.bands)):
            raise ValueError(f"{self.id}: its bands leave a gap or overlap")
        return self


class AgentFacts(Sourced):
    """What is known of drops: the greatest strength in use, per cent, and the minutes after which they have worked."""

    id: Agent
    greatest_percent: float
    settled_minutes: int | None = None


class Data(Model):
    """The file."""

    limit: tuple[Limit, ...]
    adjustment: tuple[Adjustment, ...]
    agent: tuple[AgentFacts, ...]
    age_limit: tuple[AgeLimit, ...]
    remark: tuple[Rule, ...]


@cache
def data() -> Data:
    """The file as it is installed. Raises pydantic's ValidationError when it breaks its own rules."""
    text = (files("voicelog.exam") / "guidance.toml").read_text(encoding="utf-8")
    return Data.model_validate(tomllib.loads(text))


@cache
def limit(name: str) -> float:
    """A limit by its id, in the unit that ends it. Raises KeyError."""
    return {each.id: each.value for each in data().limit}[name]


@cache
def dark_adjustment(age: Age) -> Adjustment:
    """What near retinoscopy in the dark takes off at an age."""
    return next(each for each in data().adjustment if each.age == age)


@cache
def agent_facts(agent: Agent) -> AgentFacts | None:
    """What is known of an agent; None of "other"."""
    return next((each for each in data().agent if each.id == agent), None)
