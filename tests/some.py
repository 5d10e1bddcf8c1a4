"""A value that a test needs and that may be missing."""

from typing import TypeVar

Value = TypeVar("Value")


def some(value: Value | None) -> Value:
    """The value itself; AssertionError where there is none."""
    assert value is not None, "there is no value where the test needs one"
    return value
