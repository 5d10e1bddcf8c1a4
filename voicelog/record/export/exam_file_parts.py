"""The parts of the exam file beside its events: what is worked out from them, in the form that is published."""

from collections.abc import Iterable
from typing import Any

from voicelog.exam.differences import Comparison
from voicelog.exam.entries import BaseEntry, BaseFinding, Dryness, Quantity, Unit
from voicelog.exam.ledger import Row as Entered
from voicelog.exam.ledger import RowState
from voicelog.exam.state import EyeName
from voicelog.optics import SpheroCylinder
from voicelog.phrases.meanings import Eyes, Model
from voicelog.record.export.further import Further, code_of
from voicelog.record.export.refractions import Refraction, Status


class LensInFile(Model):
    """A refraction; powers in dioptres, the axis in degrees, 1 to 180, None without a cylinder."""

    sphere_d: float
    cylinder_d: float
    axis_deg: int | float | None
    spherical_equivalent_d: float


class RefractionInFile(Model):
    """What retinoscopy found in one eye, dry or wet; `written` is rounded for writing down, `exact` is not.

    `readings` are the ids of its entries, `standing` of those that the result is made from. `in_hand`: it is of the
    last pass, and what is gone on with.
    """

    eye: EyeName
    condition: Dryness
    in_hand: bool
    status: Status
    written: LensInFile | None
    exact: LensInFile | None
    residual_d: float | None
    uncertainty: str | None
    technique: str | None
    passes: int
    passes_furthest_d: float | None
    readings: tuple[str, ...]
    standing: tuple[str, ...]
    problems: tuple[str, ...]


class QuantityInFile(Model):
    """A measured value; `unit` is UCUM's, "1" for logMAR and counts."""

    part: str
    value: float
    unit: Unit


class EntryInFile(Model):
    """An entry of the ledger, complete, and what became of it; docs/record.md lists the codes.

    `about` None: it belongs to no eye. `entry` has every field of its kind, `words` the whole of it.
    """

    id: str
    state: RowState
    changed_by: int | None
    about: Eyes | None
    code: str
    words: str
    quantities: tuple[QuantityInFile, ...]
    entry: dict[str, Any]


class FurtherInFile(Model):
    """A finding beside the refractions. `entry` None: several entries make it; `about` None: the exam as a whole."""

    code: str
    about: Eyes | None
    name: str
    text: str
    quantities: tuple[QuantityInFile, ...]
    entry: str | None


class ComparisonInFile(Model):
    """Two refractions compared; the difference, first less second, is a power vector in dioptres."""

    eye: EyeName | None
    first: str
    second: str
    m_d: float
    j0_d: float
    j45_d: float
    usual: bool | None
    questions: tuple[str, ...]
    text: str


class RemarkInFile(Model):
    """What usual practice is, with its source; `about` None: both eyes."""

    id: str
    about: EyeName | None
    text: str
    source: str


def refraction_in_file(found: Refraction) -> RefractionInFile:
    """What retinoscopy found."""
    return RefractionInFile(
        eye=found.eye,
        condition=found.condition,
        in_hand=found.in_hand,
        status=found.status,
        written=_lens(found.lens),
        exact=_lens(found.exact),
        residual_d=found.residual_d,
        uncertainty=found.uncertainty,
        technique=found.technique,
        passes=len(found.passes),
        passes_furthest_d=None if found.mean is None else found.mean.furthest_d,
        readings=tuple(each.id for each in found.readings),
        standing=tuple(each.id for each in found.neutral),
        problems=found.problems,
    )


def entry_in_file(row: Entered) -> EntryInFile:
    """An entry of the ledger, also one that was changed or taken out."""
    entry: BaseEntry = row.entry
    return EntryInFile(
        id=row.id,
        state=row.state,
        changed_by=row.changed_by,
        about=entry.about,
        code=code_of(entry) if isinstance(entry, BaseFinding) else entry.export_code,
        words=entry.words(),
        quantities=_quantities(entry.quantities()),
        entry=entry.as_json(),
    )


def further_in_file(found: Further) -> FurtherInFile:
    """A finding beside the refractions."""
    return FurtherInFile(
        code=found.code,
        about=found.about,
        name=found.name,
        text=found.text,
        quantities=_quantities(found.quantities),
        entry=found.entry,
    )


def _quantities(found: Iterable[Quantity]) -> tuple[QuantityInFile, ...]:
    return tuple(QuantityInFile(part=each.part, value=each.value, unit=each.unit) for each in found)


def comparison_in_file(found: Comparison) -> ComparisonInFile:
    """Two refractions compared."""
    vector = found.apart.vector
    return ComparisonInFile(
        eye=found.eye,
        first=found.first_name,
        second=found.second_name,
        m_d=round(vector.m_d, 6),
        j0_d=round(vector.j0_d, 6),
        j45_d=round(vector.j45_d, 6),
        usual=found.usual,
        questions=tuple(each.text for each in found.questions),
        text=found.text,
    )


def _lens(lens: SpheroCylinder | None) -> LensInFile | None:
    if lens is None:
        return None
    axis = lens.axis_deg
    return LensInFile(
        sphere_d=lens.sphere_d,
        cylinder_d=lens.cylinder_d,
        axis_deg=int(axis) if axis is not None and axis == int(axis) else axis,
        spherical_equivalent_d=lens.spherical_equivalent_d,
    )
