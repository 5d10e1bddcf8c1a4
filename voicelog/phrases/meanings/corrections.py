"""What puts entries right."""

from typing import Annotated, Literal, get_args

from pydantic import Field

from voicelog.phrases.meanings.answers import LooseAxis, LoosePower, LooseSign, LooseWhere
from voicelog.phrases.meanings.base import EyeNamed, Model, Power, Where
from voicelog.phrases.meanings.clinic import ClinicFinding
from voicelog.phrases.meanings.findings import Finding
from voicelog.phrases.meanings.retinoscopy import Eye, Lenses, Reading, WorkingDistance, WorkingLens


class Change(Model):
    """One logged meridian gets another power. `wrong`: the power it is to replace, if it was said."""

    kind: Literal["change"] = "change"
    where: Where
    power: Power
    eye: EyeNamed | None = None
    wrong: Power | None = None


class NotBut(Model):
    """The power `wrong` in the last entry is to be `right`."""

    kind: Literal["not_but"] = "not_but"
    wrong: Power
    right: Power


Correctable = Annotated[
    Reading
    | Lenses
    | LoosePower
    | LooseAxis
    | LooseSign
    | WorkingDistance
    | WorkingLens
    | Eye
    | LooseWhere
    | Finding
    | ClinicFinding,
    Field(discriminator="kind"),
]

CORRECTABLE_KINDS = frozenset(
    kind.model_fields["kind"].default for kind in get_args(get_args(Correctable)[0])
)


class Correction(Model):
    """The last entry, or the one that `entry` names, is to be as `entry` says; `wrong`: the power it was to replace.

    `count`: so many of the last entries. `eye`: of this eye, where it was said, with `all_of_eye` all read of it.
    `nth`: of the first or the second meridian that was read.
    """

    kind: Literal["correction"] = "correction"
    entry: Correctable
    wrong: Power | None = None
    wrong_axis_deg: int | None = None
    count: int = 1
    eye: EyeNamed | None = None
    all_of_eye: bool = False
    nth: Literal[1, 2] | None = None
