"""Whether what was understood is what was meant."""

from collections.abc import Sequence
from typing import Any

from tests.phrases.said.facts import Fact, joined

SAME: dict[str, tuple[dict[str, Any], dict[str, Any], str]] = {
    # name: (meant, understood as, why it is the same)
    "done with a question": (
        {"about": "discard_question"},
        {"about": "order", "order": "discard"},
        "with a question open, to discard is to discard the question",
    ),
    "left blank": (
        {"about": "discard_question"},
        {"about": "answer", "answer": "leave"},
        "a question that is left without a value is discarded",
    ),
    "redone": ({"about": "redo"}, {"about": "order", "order": "redo"}, "one order, said in two ways"),
    "finished": (
        {"about": "order", "order": "finish"},
        {"about": "order", "order": "done"},
        "in hand, done is finished",
    ),
    "again": (
        {"about": "order", "order": "repeat"},
        {"about": "answer", "answer": "again"},
        "said again is what was said last, a question or a reply",
    ),
    "last": (
        {"about": "order", "order": "repeat"},
        {"about": "question", "says": "last"},
        "to repeat is to say the last entry",
    ),
    "none worn": (
        {"about": "spectacles", "told": "never worn"},
        {"about": "spectacles", "told": "none"},
        "kept under one name",
    ),
}


def is_same(meant: Sequence[Fact], got: Sequence[Fact], line: str = "") -> bool:
    """Whether two lists of facts say the same; words of a note are compared with the line they are of."""
    wanted, found = _of_the_entry(meant, got), joined(list(got))
    looks_told = any(each["about"] == "reflex" for each in wanted)
    found = [plain for each in found for plain in _without_manner(each, looks_told=looks_told)]
    wanted, found = _without_no(wanted), _without_more(_without_no(found), wanted)
    found = [_remarked(each, wanted) for each in found]
    wanted, found = sorted(wanted, key=_in_order), sorted(found, key=_in_order)
    if len(wanted) != len(found):
        return False
    return all(_same(one, other, line) for one, other in zip(wanted, found, strict=True))


def _remarked(each: Fact, wanted: Sequence[Fact]) -> Fact:
    """What a list calls a look and the log has no look for ("cataract suspected") is kept as a note in its words."""
    if each["about"] != "note" or not each.get("words"):
        return each
    for look in (one for one in wanted if one["about"] == "reflex"):
        if any(len(word) > 5 and word in each["words"] for word in look["look"].split()):
            return look
    return each


def _of_the_entry(meant: Sequence[Fact], got: Sequence[Fact]) -> list[Fact]:
    """What was meant; of what only a remark tells of it, what was understood of it as well."""
    told = {each["about"] for each in got}
    kept = [each for each in meant if "remark" not in each or each["about"] in told]
    return joined([{name: value for name, value in each.items() if name != "remark"} for each in kept])


def _in_order(each: Fact) -> str:
    """Lists tell the entries of a breath in another order at times; eye, place and lens are carried over before."""
    return str([(name, str(each[name])) for name in ("about", "eye", "place", "at") if name in each])


def _without_no(facts: list[Fact]) -> list[Fact]:
    """ "No, plus three": the answer is the value."""
    said = [each for each in facts if each["about"] != "answer" or each["answer"] not in ("yes", "no")]
    return said if said else facts


def _without_more(found: list[Fact], wanted: list[Fact]) -> list[Fact]:
    """Without what is told beside and changes nothing: of two answers the one asked for; "nice" beside a look."""
    if len(found) <= len(wanted):
        return found
    if all(each["about"] == "question" for each in found):
        return found[-len(wanted) :]
    looks = [each for each in found if each["about"] == "reflex" and each["look"] != "good"]
    return looks if looks and all(each["about"] == "reflex" for each in found) else found


_LOOKS_OF_MANNER = {"dim": "dull", "slow": "slow", "fast": "fast", "bright": "bright", "dull": "dull"}
_LOOKS_OF_MANNER |= {"broad": "broad", "narrow": "narrow"}


def _without_manner(each: Fact, *, looks_told: bool) -> list[Fact]:
    """A motion without how it looked, and that beside it where the list tells it so."""
    told = each.get("manner", ())
    plain = {name: value for name, value in each.items() if name != "manner"}
    if not looks_told or not told:
        return [plain]
    beside = [
        {"about": "reflex", "look": _LOOKS_OF_MANNER[word]} for word in told if word in _LOOKS_OF_MANNER
    ]
    return [*beside, plain]


def _same(meant: Fact, got: Fact, line: str) -> bool:
    if any(meant == one and got == other for one, other, _ in SAME.values()):
        return True
    if meant["about"] == got["about"] == "note":
        return bool(got.get("words")) and got["words"] in line
    if meant["about"] == got["about"] == "question":
        return got["says"] in meant["says"] and all(
            meant.get(name) == got.get(name) for name in ("place", "eye")
        )
    if meant["about"] == got["about"] == "value" and "number" in meant:
        return meant["number"] in _numbers(got) and _rest(meant) == _rest(got)
    if meant["about"] == "value" and "number" in meant and got["about"] == "distance":
        return bool(meant["number"] == got["cm"])
    if got["about"] in ("spectacles", "refined") and "cylinder" in got and "power" not in got:
        got = {**got, "power": ("is", 0.0)}  # a cylinder without a sphere: the log asks for it
    if meant["about"] == got["about"] == "acuity" and "with_what" not in meant:
        got = {name: value for name, value in got.items() if name != "with_what"}
    return _rounded(meant) == _rounded(got)


def _numbers(got: Fact) -> tuple[float, ...]:
    if "axis" in got:
        return (float(got["axis"]),)
    size = str(got.get("power", ("", ""))[1]).rstrip("?")
    return (abs(float(size)),) if size else ()


def _rest(each: Fact) -> Fact:
    return {name: value for name, value in each.items() if name in ("eye", "place", "count")}


def _rounded(each: Fact) -> Fact:
    """Distances in inches and thirds of a metre are told in whole centimetres in the lists."""
    return {name: round(value, 3) if isinstance(value, float) else value for name, value in each.items()}
