"""What was found at earlier visits, as far as an exam is told of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from voicelog.exam.entries.lenses import CylinderLens, TrialLenses
from voicelog.optics import SpheroCylinder
from voicelog.phrases import meanings as say


class EarlierResult(say.Model):
    """What retinoscopy found of one eye at an earlier visit, without drops or under cycloplegia; powers in dioptres."""

    eye: say.OneEye
    condition: Literal["dry", "wet"] = "dry"
    on: date
    days_ago: Annotated[int, Field(ge=0, le=45_000)]
    """Days from that visit to this exam; at most those of the longest life."""
    sphere_d: float
    cylinder: CylinderLens | None = None

    @property
    def lens(self) -> SpheroCylinder:
        """The refraction."""
        return TrialLenses(sphere_d=self.sphere_d, cylinder=self.cylinder).lens

    def words(self) -> str:
        """ "right -1.00 -0.50 x 090", "left +0.50 DS (wet)"."""
        return f"{self.eye} {self.lens}{' (wet)' if self.condition == 'wet' else ''}"


@dataclass(frozen=True, slots=True)
class EarlierVisits:
    """The last solved result of each eye and condition under the exam's reference; `why_none` where there is none."""

    results: tuple[EarlierResult, ...] = ()
    why_none: str = ""


LookUp = Callable[[], EarlierVisits]


def no_record() -> EarlierVisits:
    """Where no record of exams is at hand."""
    return EarlierVisits(why_none="no record of earlier visits is at hand")
