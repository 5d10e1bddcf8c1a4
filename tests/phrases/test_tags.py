"""What tags may say of a rule's value."""

import pytest

from voicelog.phrases.tags import Frame, Stack, TwoValuesError, Value, apply, parse_tag


def told(*tags: str) -> Value:
    """The value of one rule behind these tags."""
    stack: Stack = (Frame("entry"),)
    for tag in tags:
        for op in parse_tag(tag):
            stack = apply(op, stack)
    return stack[0].value


def test_a_field_has_one_value() -> None:
    assert told("eye=right", "kind=acuity", "eye=right") == (("eye", "right"), ("kind", "acuity"))
    with pytest.raises(TwoValuesError, match="<entry> sets eye twice"):
        told("eye=right", "kind=acuity", "eye=left")


def test_a_field_is_another_only_where_the_tag_says_so() -> None:
    assert told("where=vertical", "where:=horizontal") == (("where", "horizontal"),)
