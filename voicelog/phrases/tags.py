"""Semantic tags: the few things a grammar may say about the meaning of its words.

A tag stands behind the item it belongs to; several are separated by `;`.

    {=yes}            the value of this rule is the word "yes"
    {kind=reading}    field `kind` of this rule's value is the word "reading"
    {axis=$}          field `axis` is the value of the rule just finished, if it has one
    {axis:=$}         the same, and instead of what it was before ("vertical, no, horizontal")
    {+2} {+$} {+$*0.01}   add to this rule's total
    {&$}              the value of the rule just finished joins this rule's list

A rule's value is its list, if it has one; else its fields, if it set any; else its own `{=...}` value; else its
total; else the value of the last rule inside it that has one. Numbers are exact decimals, so 0.1 + 0.2 is 0.3.

A field is set to one value: words that name two eyes for one entry are no phrase, or one eye would be left out.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import NamedTuple, Union

Value = Union[str, Decimal, tuple[tuple[str, "Value"], ...], "Several", None]
"""A word, a number, a record (sorted pairs of field name and value, hashable), a list, or nothing."""


@dataclass(frozen=True, slots=True)
class Several:
    """A list of values, in the order they were said."""

    items: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class SetValue:
    """`{=literal}`."""

    literal: Value


@dataclass(frozen=True, slots=True)
class SetField:
    """`{name=literal}`, or `{name=$}` when `literal` is None; with `instead` it is `{name:=...}`."""

    name: str
    literal: Value
    instead: bool = False


@dataclass(frozen=True, slots=True)
class Add:
    """`{+constant}` or, with `of_last`, `{+$*factor}`."""

    amount: Decimal
    of_last: bool


@dataclass(frozen=True, slots=True)
class Append:
    """`{&$}`."""


@dataclass(frozen=True, slots=True)
class Open:
    """A rule begins."""

    rule: str


@dataclass(frozen=True, slots=True)
class Close:
    """A rule ends; its value becomes `$` of the rule around it."""


@dataclass(frozen=True, slots=True)
class FreeWord:
    """A word that is no word of the grammar, met where any word may stand: it joins the rule's text."""

    text: str
    joined: bool


Op = SetValue | SetField | Add | Append | Open | Close | FreeWord

_FIELD = re.compile(r"([a-z_][a-z0-9_]*)\s*(:?)=\s*(.+)", re.DOTALL)
_ADD = re.compile(r"\+\s*(?:(\$)(?:\s*\*\s*(.+))?|(.+))", re.DOTALL)


def parse_tag(text: str) -> tuple[Op, ...]:
    """The operations of one tag's text. Raises ValueError saying what is wrong with it."""
    return tuple(_parse_one(part.strip()) for part in text.split(";") if part.strip())


def _parse_one(text: str) -> Op:
    if text.startswith("="):
        value = text[1:].strip()
        if value == "$":
            raise ValueError("tag {=$} is not needed: the value of the last rule inside is the rule's value")
        return SetValue(_literal(value))
    if text == "&$":
        return Append()
    if add := _ADD.fullmatch(text):
        last, factor, constant = add.groups()
        return Add(_number(factor or "1") if last else _number(constant), of_last=bool(last))
    if assignment := _FIELD.fullmatch(text):
        name, instead, value = assignment.group(1), assignment.group(2), assignment.group(3).strip()
        return SetField(name, None if value == "$" else _literal(value), instead=bool(instead))
    raise ValueError(
        f"tag {{{text}}} is none of {{=value}}, {{name=value}}, {{name=$}}, {{+number}}, {{+$*number}}, "
        "{{name:=...}}, {{&$}}"
    )


def _literal(text: str) -> Value:
    if not text:
        raise ValueError("a tag sets nothing: a value is missing behind '='")
    try:
        return _number(text)
    except ValueError:
        return text


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"{text!r} is not a number") from None
    if not number.is_finite():
        raise ValueError(f"{text!r} is not a finite number")
    return number


class Frame(NamedTuple):
    """What one rule has gathered so far."""

    rule: str
    fields: tuple[tuple[str, Value], ...] = ()
    own: Value = None
    total: Decimal | None = None
    last: Value = None
    items: tuple[Value, ...] = ()

    @property
    def value(self) -> Value:
        if self.items:
            return Several(self.items)
        if self.fields:
            return tuple(sorted(self.fields))
        if self.own is not None:
            return self.own
        return self.total if self.total is not None else self.last


Stack = tuple[Frame, ...]


class TwoValuesError(ValueError):
    """Words set one field of a rule to two values."""


def apply(op: Op, stack: Stack) -> Stack:
    """One operation on the stack of open rules; the outermost frame is never closed. Raises TwoValuesError."""
    match op:
        case Open(rule):
            return (*stack, Frame(rule))
        case Close():
            value = stack[-1].value
            return stack[:-1] if value is None else (*stack[:-2], stack[-2]._replace(last=value))
        case SetValue(literal):
            return (*stack[:-1], stack[-1]._replace(own=literal))
        case SetField(name, literal, instead):
            top = stack[-1]
            value = top.last if literal is None else literal
            if value is None:  # the rule says nothing, as "working lens" without its power
                return stack
            if not instead and dict(top.fields).get(name, value) != value:
                raise TwoValuesError(f"rule <{top.rule}> sets {name} twice")
            kept = tuple(pair for pair in top.fields if pair[0] != name)
            return (*stack[:-1], top._replace(fields=(*kept, (name, value))))
        case Append():
            top = stack[-1]
            return (*stack[:-1], top._replace(items=(*top.items, top.last)))
        case FreeWord(text, joined):
            top = stack[-1]
            before = top.own if isinstance(top.own, str) else ""
            return (*stack[:-1], top._replace(own=before + ("" if joined or not before else " ") + text))
        case Add(amount, of_last):
            top = stack[-1]
            if of_last and not isinstance(top.last, Decimal):
                raise ValueError(f"rule <{top.rule}> adds a value that is no number: {top.last!r}")
            step = amount * top.last if of_last and isinstance(top.last, Decimal) else amount
            return (*stack[:-1], top._replace(total=(top.total or Decimal(0)) + step))


def as_mapping(value: Value) -> Mapping[str, Value]:
    """A record as a dictionary. Raises ValueError for a value that is no record."""
    if not isinstance(value, tuple):
        raise ValueError(f"{value!r} has no fields")
    return dict(value)
