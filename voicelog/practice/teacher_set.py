"""A teacher's set: a TOML file of which kinds of eye, how many, from which seed, by which technique."""

import re
import tomllib
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from voicelog.errors import reason_of
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import SEEDS, USUAL_DISTANCE_CM, Exercise, Technique
from voicelog.practice.eye import LARGEST_TREMOR_D
from voicelog.practice.kinds import NAMES, kind_named

MOST: Final = 50
"""Eyes in one set."""
LARGEST_FILE_BYTES: Final = 65_536

_Unsteady = Annotated[float, Field(ge=0.0, le=LARGEST_TREMOR_D, allow_inf_nan=False)]
_ALLOWED: Final = {
    "title": "a text of up to 100 letters",
    "kinds": f"a list of {', '.join(NAMES)}",
    "count": f"a whole number from 1 to {MOST}",
    "seed": f"a whole number from 0 to {SEEDS - 1}",
    "technique": '"spheres", "sphere-cylinder" or "cylinders"',
    "distance_cm": "10 to 100",
    "eye": '"right", "left" or "both" (in turn)',
    "tremor_d": f"0 to {LARGEST_TREMOR_D:g}",
    "noise_d": f"0 to {LARGEST_TREMOR_D:g}",
}


class TeacherSet(BaseModel):
    """What a teacher sets. `count` none: one eye of each kind; more go through the kinds in turn, from the first again.

    `distance_cm` none: what the settings say. The same seed gives the same eyes.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    title: Annotated[str, Field(max_length=100)] = ""
    kinds: Annotated[list[str], Field(min_length=1, max_length=MOST)]
    count: Annotated[int, Field(ge=1, le=MOST)] | None = None
    seed: Annotated[int, Field(ge=0, lt=SEEDS)] = 1
    technique: Technique = "spheres"
    distance_cm: Annotated[float, Field(ge=10.0, le=100.0, allow_inf_nan=False)] | None = None
    eye: Literal["right", "left", "both"] = "right"
    tremor_d: _Unsteady = 0.0
    noise_d: _Unsteady = 0.0

    def exercises(self, usual_distance_cm: float | None = None) -> list[Exercise]:
        """The exercises in their order. `usual_distance_cm`: where the file names none."""
        distance_cm = self.distance_cm or usual_distance_cm or USUAL_DISTANCE_CM
        found = []
        for number in range(self.count or len(self.kinds)):
            kind = kind_named(self.kinds[number % len(self.kinds)])
            seed = (self.seed + number) % SEEDS
            eye = ("right", "left")[number % 2] if self.eye == "both" else self.eye
            model = kind.model(seed, tremor_d=self.tremor_d, noise_d=self.noise_d)
            found.append(Exercise(model, seed, eye, distance_cm, technique=self.technique, kind=kind.name))
        return found


def read_set(path: Path) -> TeacherSet:
    """The set in a file. Raises PracticeError, one line, for a file that cannot be read or that holds anything else."""
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise PracticeError(f"{path} cannot be read: {reason_of(error)}") from None
    if len(content) > LARGEST_FILE_BYTES:
        raise PracticeError(f"{path} is no set: it is larger than {LARGEST_FILE_BYTES // 1024} kB")
    try:
        values = tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError:
        raise PracticeError(f"{path} is no set: it is not text in UTF-8") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise PracticeError(f"{path} is no set: {_broken(str(error))}") from None
    try:
        found = TeacherSet.model_validate(values)
        for name in found.kinds:
            kind_named(name)
    except ValidationError as error:
        raise PracticeError(f"{path}: {_wrong(error.errors()[0])}") from None
    except PracticeError as error:
        raise PracticeError(f"{path}: {error}") from None
    return found


def _broken(reason: str) -> str:
    """Where a file stops being TOML, from what the parser says: "... (at line 1, column 9)"."""
    place = re.search(r"\(at (line [^()]*)\)$", reason)
    where = f" from {place[1]} on" if place else " to its end"
    return f'it is no TOML{where}; a line looks like this: kinds = ["spheres"]'


def _wrong(found: ErrorDetails) -> str:
    """Which line, its value, and what is allowed."""
    name = str(found["loc"][0])
    if name not in _ALLOWED:
        shown = repr(name) if len(name) <= 40 else f"{name[:40]!r} ..."
        return f"{shown} is nothing that a set has; it has {', '.join(_ALLOWED)}"
    if found["type"] == "missing":
        return f"{name} is missing: {_ALLOWED[name]}"
    shown = repr(found["input"])
    return f"{name} = {shown if len(shown) <= 40 else shown[:40] + ' ...'}: allowed is {_ALLOWED[name]}"
