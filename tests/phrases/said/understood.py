"""What a line was understood as, as facts."""

from collections.abc import Iterator, Sequence
from typing import Any

from tests.phrases.said.facts import Fact, fact, place, power
from voicelog.phrases import meanings as say

_SIGNS = {"plus": 1, "minus": -1}


def understood(meanings: Sequence[say.Meaning]) -> list[Fact]:
    """The facts of the meanings of one line."""
    return [each for meaning in meanings for each in _facts(meaning)]


def _where(where: say.Where | None) -> tuple[str, int | str] | None:
    return None if where is None else place(where.which or where.angle_deg or 0, where.names)


def _power(said: say.Power | None, *, on_top: bool = False) -> tuple[str, Any] | None:
    return None if said is None else power(said.size_d, said.sign, "changes by" if on_top else "is")


def _lens(lens: say.Lens | None) -> dict[str, Any]:
    if lens is None:
        return {}
    if lens.same:
        return {"power": ("same", "same")}
    cylinder = lens.cylinder
    return {
        "power": _power(lens.sphere, on_top=lens.on_top),
        "cylinder": None if cylinder is None else _power(cylinder.power, on_top=lens.on_top),
        "axis": None if cylinder is None else cylinder.axis_deg,
    }


def _facts(meaning: say.Meaning) -> Iterator[Fact]:
    match meaning:
        case say.Eye(eye=eye):
            yield fact("eye", eye=eye)
        case say.WorkingDistance(distance_cm=distance, eye=eye):
            yield fact("distance", cm=round(distance), eye=eye)
        case say.Distance(distance_cm=distance):
            yield fact("distance", cm=round(distance))
        case say.SameDistance():
            yield fact("distance", cm="same")
        case say.WorkingLens():
            yield fact(
                "working lens",
                position=meaning.position,
                power=_power(meaning.power),
                eye=meaning.eye,
                throughout=meaning.throughout or None,
            )
        case say.Reading():
            yield _reading(meaning)
        case say.Lenses():
            yield fact("lens", **_lens(meaning.lens), removed=meaning.remove)
        case say.Place(where=where) | say.LooseWhere(where=where):
            yield fact("value", place=_where(where))
        case say.Reflex(reflex=look, where=where, eye=eye):
            yield fact("reflex", look=look, place=_where(where), eye=eye)
        case say.Claim(lens=lens):
            yield fact("lens", **_lens(lens))
        case _:
            yield from _mending(meaning)


def _reading(meaning: say.Reading) -> Fact:
    lens = _lens(meaning.lens)
    if meaning.between is not None:
        ends = tuple((end.sign or 1) * (end.size_d or 0.0) for end in meaning.between)
        lens = {"power": ("between", ends)}
    return fact(
        "look",
        motion=meaning.motion,
        place=_where(meaning.where),
        **lens,
        eye=meaning.eye,
        manner=meaning.manner,
    )


def _mending(meaning: say.Meaning) -> Iterator[Fact]:
    match meaning:
        case say.Change(where=where, power=said, eye=eye):
            yield fact("look", motion="neutral", place=_where(where), power=_power(said), eye=eye)
        case say.NotBut(right=right):
            yield fact("value", power=_power(right))
        case say.Correction(entry=entry, count=count, eye=eye):
            yield from _corrected(entry, {"eye": eye, "count": count if count > 1 else None})
        case say.LoosePower() | say.LooseAxis() | say.LooseSign():
            yield from _corrected(meaning, {})
        case say.Move(eye=eye, scope=scope):
            yield fact("move", eye=eye, all=True if scope == "all" else None)
        case say.Swap(what=what):
            yield fact("swap", what=what)
        case say.Scratch():
            named = meaning.where is not None or meaning.all_of_eye or meaning.eye is not None
            yield fact(
                "undo",
                count=None if named else meaning.count,
                place=_where(meaning.where),
                eye=meaning.eye,
                all=meaning.all_of_eye or None,
            )
        case say.Keep():
            yield fact("redo")
        case _:
            yield from _order(meaning)


def _corrected(entry: say.Meaning, beside: Fact) -> Iterator[Fact]:
    match entry:
        case say.LoosePower(power=said):
            yield fact("value", power=_power(said), **beside)
        case say.LooseAxis(axis_deg=axis):
            yield fact("value", axis=axis, **beside)
        case say.LooseSign(sign=sign):
            yield fact("value", sign=_SIGNS[sign], **beside)
        case say.LooseWhere(where=where):
            yield fact("value", place=_where(where), **beside)
        case say.Eye(eye=eye):
            yield fact("move", eye=eye)
        case say.Reading(where=None, lens=say.Lens() as lens) | say.Lenses(lens=say.Lens() as lens):
            yield fact("value", **_lens(lens), **beside)
        case _:
            for each in _facts(entry):
                yield {**each, **{name: value for name, value in beside.items() if value is not None}}


def _order(meaning: say.Meaning) -> Iterator[Fact]:
    match meaning:
        case say.Habit(naming=naming):
            yield fact("habit", names=naming)
        case say.Condition(condition=condition):
            yield fact("condition", condition=condition)
        case say.Note(text="no spectacles"):
            yield fact("spectacles", told="none")
        case say.Note(text=text):
            yield fact("note", words=text)
        case say.Tell():
            yield fact("question", says=meaning.say, place=_where(meaning.where), eye=meaning.eye)
        case say.Answer(answer=answer):
            yield fact("answer", answer=answer)
        case say.Plain(kind=kind):
            yield fact("order", order=kind)
        case say.Scope(scope=scope):
            yield fact("answer", answer=scope)
        case _:
            yield from _finding(meaning)


def _finding(meaning: say.Meaning) -> Iterator[Fact]:
    match meaning:
        case say.Acuity():
            yield fact("acuity", **_acuity(meaning.value), eye=meaning.eye, with_what=meaning.correction)
        case say.PupilsDistance():
            each_side = {"right": meaning.right_mm, "left": meaning.left_mm, None: meaning.both_mm}
            for eye, mm in each_side.items():
                if mm is not None:
                    yield fact("pupillary distance", mm=mm, eye=eye, at=meaning.at)
        case say.Pupils():
            eye = None if meaning.eye == "both" else meaning.eye
            yield fact("pupil", eye=eye, mm=meaning.size_mm, look=meaning.look)
        case say.Spectacles() | say.Refined():
            added = meaning.addition if isinstance(meaning, say.Spectacles) else None
            yield fact(
                meaning.kind,
                eye=meaning.eye,
                **_lens(meaning.lens),
                added=None if added is None else added.size_d,
            )
            if isinstance(meaning, say.Refined) and meaning.acuity is not None:
                yield fact("acuity", **_acuity(meaning.acuity), eye=meaning.eye, with_what="refined")
        case say.Addition():
            eye = None if meaning.eye == "both" else meaning.eye
            yield fact("addition", power=_power(meaning.power), eye=eye)
            if meaning.near is not None:
                yield fact("acuity", **_acuity(meaning.near), eye=eye)
        case say.Drops():
            clock = None if meaning.clock is None else ("at", meaning.clock.hour, meaning.clock.minute)
            ago = None if meaning.minutes_ago is None else ("ago", 0, meaning.minutes_ago)
            yield fact(
                "drops",
                agent=meaning.agent,
                percent=meaning.strength_percent,
                eye=meaning.eye,
                time=clock or ago,
            )
        case _:
            yield _measure(meaning)


def _measure(meaning: say.Meaning) -> Fact:
    match meaning:
        case say.Vertex(vertex_mm=mm):
            return fact("vertex", mm=mm)
        case say.Convergence(break_cm=cm):
            return fact("convergence", cm=cm)
        case say.Estimate():
            return fact("estimate", eye=meaning.eye, power=_power(meaning.power))
        case _:
            return fact(meaning.kind)


_CATEGORIES = {
    "hand_movements": "HM",
    "light_perception": "PL",
    "no_light_perception": "NPL",
    "fixes_and_follows": "fix and follow",
    "central_steady_maintained": "CSM",
    "central_steady_unmaintained": "CSUM",
}


def _acuity(value: say.AcuityValue) -> dict[str, Any]:
    if value.category == "counting_fingers":
        at = "" if value.at_cm is None else f" {value.at_cm / 100:g} m"
        return {"value": f"CF{at}"}
    if value.category is not None:
        return {"value": _CATEGORIES[value.category]}
    if value.n_points is not None:
        return {"value": f"N{value.n_points:g}", "at_cm": value.at_cm}
    if value.jaeger is not None:
        return {"value": f"J{value.jaeger}", "at_cm": value.at_cm}
    if value.logmar is not None:
        return {"value": f"logMAR {value.logmar:g}"}
    if value.decimal is not None:
        return {"value": f"{value.decimal:g}"}
    assert value.snellen is not None
    letters = "" if value.letters is None else f"{value.letters:+d}"
    words = f"{value.snellen.metres or value.snellen.feet:g}/{value.snellen.line:g}{letters}"
    return {"value": f"{'<' if value.less else ''}{words}{' partial' if value.partial else ''}"}
