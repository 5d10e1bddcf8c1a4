"""Powers that are to be others: of a meridian, of every reading of an eye, or wherever a number stands."""

from voicelog.exam.dependants import replaced
from voicelog.exam.entries import Context, ReadingEntry, exact_d
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.parts import holding, named_parts, only_power_d, parts_of, spoken, with_part, with_power
from voicelog.exam.state import ExamState
from voicelog.exam.targets import bare_target, reading_meant
from voicelog.phrases import meanings as say


def change(state: ExamState, meaning: say.Change, context: Context) -> Act:
    """One logged meridian gets another power. Raises NeedsAnswer."""
    reading = say.Reading(where=meaning.where, motion="neutral", eye=meaning.eye)
    row = reading_meant(state, reading, context)
    power = meaning.power
    if power.size_d is None and power.sign is not None:
        power = say.Power(size_d=abs(only_power_d(row)), sign=power.sign)  # "make the vertical minus"
    if meaning.wrong is not None:
        held = [parts_of(row)[part] for part in holding(row, meaning.wrong)]
        if not held:
            raise refuse(
                f"{row.entry.words()} does not hold {spoken(meaning.wrong)}: say the whole reading", meaning
            )
        if power.sign is None and power.size_d:
            power = power.with_sign(1 if held[0] > 0 else -1)  # both were said without the sign that it has
    return replaced(state, row, with_power(row, exact_d(power), context))


def change_signs(state: ExamState, meaning: say.Correction, sign: str, context: Context) -> Act:
    """Several powers of an eye get another sign, after a yes that names each. Raises NeedsAnswer."""
    eye = context.eye(meaning.eye)
    rows = [row for row in state.ledger.live if row.entry.about == eye and _is_read(state, row)]
    rows = rows if meaning.all_of_eye else rows[-meaning.count :]
    if not rows or any(len(named_parts(row)) > 1 for row in rows):
        raise refuse(f"the {eye} eye has no readings with one power each: say each of them", meaning)
    changes: dict[str, Replace] = {}
    told = []
    for row in rows:
        size_d = abs(only_power_d(row))
        new = with_power(row, size_d if sign == "plus" else -size_d, context)
        act = replaced(state, row, new)
        changes |= {each.id: each for each in act.changes if isinstance(each, Replace)}
        told.append(act.words)
    words = "; ".join(told)
    context.confirm("signs", f"change to {sign}: {words}?")
    return Act(changes=tuple(changes.values()), words=words)


def _is_read(state: ExamState, row: Row) -> bool:
    """Whether it is a reading of the last pass of its eye that names its lens."""
    entry = row.entry
    return (
        isinstance(entry, ReadingEntry)
        and state.eyes[entry.eye].in_hand.holds(entry)
        and entry.sphere_from is None
    )


def exchange(state: ExamState, wrong: say.Power, right: say.Power, context: Context) -> Act:
    """The power `wrong` is to be `right`, in the last entry that holds it once. Raises NeedsAnswer."""
    row = bare_target(
        state, context, lambda each: len(holding(each, wrong)) == 1, f"entry with {spoken(wrong)} once"
    )
    (part,) = holding(row, wrong)
    return replaced(state, row, with_part(row, part, exact_d(right), context))
