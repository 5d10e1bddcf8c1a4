"""How much a new kind of finding needs: one class. State, words, answers and the summary find it by themselves.

The class here is in no list of the program. A kind of the program has its line in the union `Entry` as well, so that
journals read it back and mypy finds every match that would forget it.
"""

from dataclasses import replace
from typing import Annotated, Any, ClassVar, Literal, cast

import pytest
from pydantic import Field, TypeAdapter, ValidationError

from tests.exam.test_findings import WHOLE
from tests.exam.typing import Typist, exam
from voicelog.exam.entries import ENTRY, KIND_SAID, KINDS, BaseEntry, Context, Entry
from voicelog.exam.entries.base import BaseFinding, Quantity
from voicelog.exam.entries.limits import check_within
from voicelog.exam.ledger import Row
from voicelog.exam.questions import NeedsAnswer
from voicelog.exam.state import ExamState
from voicelog.exam.summary import summary
from voicelog.exam.telling import tell
from voicelog.phrases import meanings as say


class PressureSaid(say.Model):
    """What is said: "pressure right sixteen"."""

    kind: Literal["pressure"] = "pressure"
    eye: say.Eyes | None = None
    size_mmhg: float


class PressureEntry(BaseFinding):
    """The pressure of one eye, in millimetres of mercury."""

    said: ClassVar = PressureSaid
    title: ClassVar = "pressure"
    code: ClassVar = "pressure"

    kind: Literal["pressure"] = "pressure"
    eye: say.OneEye
    size_mmhg: float

    def value_words(self) -> str:
        """ "16 mmHg"."""
        return f"{self.size_mmhg:g} mmHg"

    def quantities(self) -> tuple[Quantity, ...]:
        """The pressure; the unit is a text of its own, for UCUM's code is not among those in use."""
        return (Quantity("pressure", self.size_mmhg, "1"),)

    @classmethod
    def from_meaning(cls, meaning: PressureSaid, context: Context) -> "PressureEntry":
        """Of the eye in hand unless one is named. Raises NeedsAnswer."""
        check_within(meaning.size_mmhg, 0, 80, "mmHg", "a pressure", context.meaning)
        named = None if meaning.eye == "both" else meaning.eye
        return cls(eye=context.eye(named), size_mmhg=meaning.size_mmhg)


# A question keeps what was said, and that must be a meaning of the grammar.
STANDS_FOR_IT = say.Note(text="pressure")


def entered(state: ExamState, size_mmhg: float, name: str) -> ExamState:
    """The exam with a pressure entered, as a row of the ledger like any other."""
    context = Context(state.standing, STANDS_FOR_IT)
    entry = PressureEntry.from_meaning(PressureSaid(size_mmhg=size_mmhg), context)
    row = Row(name, cast(Entry, entry), cast(Entry, entry))
    return state.with_ledger(replace(state.ledger, rows={**state.ledger.rows, name: row}))


def test_a_new_kind_is_found_in_words_answers_and_summary() -> None:
    state = entered(exam("right eye\nacuity 6/9"), 16, "9")

    assert state.findings.last(PressureEntry, "right") == PressureEntry(eye="right", size_mmhg=16)
    assert tell(state, say.Tell(say="findings")) == "right eye: acuity 6/9; pressure 16 mmHg"
    assert tell(state, say.Tell(say="last")) == "right eye: pressure 16 mmHg"
    data = summary(state)
    assert data["findings"][-1] == {
        "id": "9",
        "eye": "right",
        "label": "pressure",
        "text": "16 mmHg",
        "quantities": [{"part": "pressure", "value": 16.0, "unit": "1"}],
        "entry": {"kind": "pressure", "eye": "right", "size_mmhg": 16.0},
    }
    assert data["ledger"][-1]["entry"]["words"] == "right eye: pressure 16 mmHg"


def test_of_a_new_kind_the_last_of_an_eye_counts_and_the_other_eye_s_stays() -> None:
    state = entered(entered(exam("right eye"), 16, "8"), 18, "9")
    moved = entered(exam("left eye"), 12, "7")

    assert [each.size_mmhg for _, each in state.findings.of(PressureEntry)] == [18]
    assert moved.findings.last(PressureEntry, "right") is None


def test_a_new_kind_asks_as_the_others_do() -> None:
    with pytest.raises(NeedsAnswer, match="which eye"):
        entered(exam("working distance 67"), 16, "9")
    with pytest.raises(NeedsAnswer, match="a pressure of 160 mmHg is not within 0 to 80 mmHg"):
        entered(exam("right eye"), 160, "9")


def test_its_line_in_the_union_is_what_makes_journals_read_it() -> None:
    entry = PressureEntry(eye="left", size_mmhg=14)
    wider: TypeAdapter[Any] = TypeAdapter(Annotated[Entry | PressureEntry, Field(discriminator="kind")])

    assert wider.validate_json(wider.dump_json(entry)) == entry
    with pytest.raises(ValidationError, match="pressure"):
        ENTRY.validate_python(entry.as_json())


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_of_the_registry_is_whole(kind: type[BaseEntry]) -> None:
    """Name, code and meaning of its own, and all that is asked of a kind."""
    others = [each for each in KINDS if each is not kind]

    assert kind.model_fields["kind"].default not in [each.model_fields["kind"].default for each in others]
    assert kind.title not in [each.title for each in others]
    assert kind.code not in [each.code for each in others]
    assert KIND_SAID[kind.said] is kind
    assert callable(getattr(kind, "from_meaning", None))
    assert kind.words is not BaseEntry.words
    if issubclass(kind, BaseFinding):
        assert kind.value_words is not BaseFinding.value_words


ALL_KINDS = f"""working distance 67
no r a p d
near point of convergence eight
age seven
autorefraction right sphere minus two cylinder minus one axis ninety
over refraction right sphere plus a half
keratometry right 43.50 at 180 44.25 at 90
duochrome right equal
right hypertropia 5
prism right 3 base in
working lens plus one fifty in
mirror concave
technique two spheres
start from nothing
{WHOLE}
right eye
sphere plus one
streak 90 neutral at plus two
streak 180 neutral with sphere plus two cylinder minus one axis 180
next pass
streak 90 with at plus one
scissors
dark adult sphere plus two
estimate plus half
dynamic target 40 neutral 50"""
MORE_KINDS: tuple[say.Meaning, ...] = (
    say.Condition(condition="wet"),
    say.Habit(naming="meridian"),
    say.Place(where=say.Where(names="streak", angle=45)),
    say.Note(text="looks tired"),
)


def test_every_entry_reads_back_from_its_json_and_is_in_the_summary() -> None:
    typist = Typist()
    for line in ALL_KINDS.splitlines():
        assert typist.type(line).outcome == "accepted"
    for meaning in MORE_KINDS:
        assert typist.take([meaning]).outcome == "accepted"
    state = typist.state
    by_id = {row["id"]: row["entry"] for row in summary(state)["ledger"]}

    for row in state.ledger.rows.values():
        assert ENTRY.validate_json(ENTRY.dump_json(row.entry)) == row.entry
        shown = dict(by_id[row.id])
        assert shown.pop("words") == row.entry.words()
        assert ENTRY.validate_python(shown) == row.entry
    assert {type(row.entry) for row in state.ledger.live} == set(KINDS)
