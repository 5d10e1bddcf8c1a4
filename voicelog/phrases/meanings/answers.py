"""Answers to what the log asks, and values by themselves."""

from typing import Literal

from pydantic import Field

from voicelog.phrases.meanings.base import Model, Power, Where


class Scope(Model):
    """How much is meant, asked after "which of them?": the last entry, the last two, or all of the eye in hand."""

    kind: Literal["scope"] = "scope"
    scope: Literal["last", "two", "all"]


class Answer(Model):
    """An answer to what the log asks; `leave`: it stays without a value."""

    kind: Literal["answer"] = "answer"
    answer: Literal["yes", "no", "again", "leave", "same"]


class LoosePower(Model):
    """A power by itself: an answer, or part of a correction."""

    kind: Literal["power"] = "power"
    power: Power


class LooseAxis(Model):
    """An axis by itself."""

    kind: Literal["axis"] = "axis"
    axis_deg: int = Field(alias="axis")


class LooseSign(Model):
    """A sign by itself."""

    kind: Literal["sign"] = "sign"
    sign: Literal["plus", "minus"]


class LooseWhere(Model):
    """A place by itself, in a correction."""

    kind: Literal["where"] = "where"
    where: Where


class Digit(Model):
    """One digit, when only digits are listened for."""

    kind: Literal["digit"] = "digit"
    digit: int


class Distance(Model):
    """A distance by itself, in centimetres, when only distances are listened for."""

    kind: Literal["distance"] = "distance"
    distance_cm: float = Field(alias="distance")
