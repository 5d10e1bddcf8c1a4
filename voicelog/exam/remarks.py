"""Remarks, adjustments and limits: the data in remarks.toml, and which remarks measured values call for.

A remark says what usual practice is, with its source. It changes nothing, asks nothing, and is no diagnosis; local
rules and the examiner's judgement go first.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from voicelog.phrases.meanings import Age, Model

Standing = Literal["read", "abstract", "second hand", "memory", "none"]
Subject = Literal["eye", "drops", "both"]
Measured = Mapping[str, Iterable[float | str]]
"""Values by the name of the measure: dioptres and logMAR as numbers, words as text."""

DEFERRING = "Remarks say what usual practice is; local rules and the examiner's judgement go first."
_Text = Annotated[str, Field(min_length=1, pattern=r"\S")]
_SLACK = 1e-9


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


class Data(Model):
    """The file."""

    limit: tuple[Limit, ...]
    adjustment: tuple[Adjustment, ...]
    remark: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark: what was found, what usual practice is, and the source. `about` None: both eyes, or the exam."""

    id: str
    about: Literal["right", "left"] | None
    finding: str
    advice: str
    source: str

    @property
    def text(self) -> str:
        """The remark in one line."""
        subject = f"{self.about} eye: " if self.about else ""
        return f"{subject}{self.finding}: {self.advice}"


@cache
def data() -> Data:
    """The file as it is installed. Raises pydantic's ValidationError when it breaks its own rules."""
    text = (files("voicelog.exam") / "remarks.toml").read_text(encoding="utf-8")
    return Data.model_validate(tomllib.loads(text))


@cache
def limit(name: str) -> float:
    """A limit by its id, in the unit that ends it. Raises KeyError."""
    return {each.id: each.value for each in data().limit}[name]


@cache
def dark_adjustment(age: Age) -> Adjustment:
    """What near retinoscopy in the dark takes off at an age."""
    return next(each for each in data().adjustment if each.age == age)


def remarks(on: Subject, measured: Measured, about: Literal["right", "left"] | None = None) -> list[Remark]:
    """What the measured values call for, in the order of the file; one value is remarked on once a rule."""
    found = []
    for rule in data().remark:
        if rule.on != on:
            continue
        for value in dict.fromkeys(measured.get(rule.measure, ())):
            if _holds(rule, value):
                found.append(Remark(rule.id, about, _finding(rule, value), rule.text, rule.source))
    return found


def _holds(rule: Rule, value: float | str) -> bool:
    if isinstance(value, str):
        return rule.any_of is None or value in rule.any_of
    above = rule.above if rule.above_limit is None else limit(rule.above_limit)
    return (
        (rule.at_least is None or value >= rule.at_least - _SLACK)
        and (rule.at_most is None or value <= rule.at_most + _SLACK)
        and (above is None or value > above + _SLACK)
        and (rule.below is None or value < rule.below - _SLACK)
    )


def _finding(rule: Rule, value: float | str) -> str:
    if isinstance(value, str):
        return rule.finding.format(value={"none": "no"}.get(value, value))
    return rule.finding.format(value=value, size=abs(value), lines=value / 0.1)
