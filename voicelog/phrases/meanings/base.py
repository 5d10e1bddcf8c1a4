"""What meanings are made of: powers, lenses, places and eyes."""

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_serializer, model_validator


class Model(BaseModel):
    """Frozen, and strict about unknown fields, so that a misspelt one is an error and not a loss."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True)


class Power(Model):
    """A spoken power: size without sign (None when unclear, as in "two five"), and sign (None when not said).

    `spelled`: said digit by digit ("one three"), to be asked about before it counts.
    """

    size_d: float | None
    sign: Literal[1, -1] | None
    spelled: bool = False

    @property
    def dioptres(self) -> float | None:
        """The signed power in dioptres, or None when size or sign is not known. Zero needs no sign."""
        if self.size_d is None:
            return None
        if self.size_d == 0:
            return 0.0
        return None if self.sign is None else self.sign * self.size_d

    def with_sign(self, sign: Literal[1, -1]) -> "Power":
        """The same size with the sign that was missing."""
        return Power(size_d=self.size_d, sign=sign)

    @model_serializer
    def _as_json(self) -> Any:
        if self.dioptres is not None and not self.spelled:
            return self.dioptres
        return {"size": self.size_d, "sign": self.sign, **({"spelled": True} if self.spelled else {})}

    @model_validator(mode="before")
    @classmethod
    def _from_json(cls, data: Any) -> Any:
        if isinstance(data, int | float):
            return {"size_d": abs(data), "sign": None if data == 0 else 1 if data > 0 else -1}
        if isinstance(data, Mapping) and "size" in data:
            return {"size_d": data["size"], "sign": data["sign"], "spelled": data.get("spelled", False)}
        return data


class Cylinder(Model):
    """A cylinder lens; the axis is None when it was not said."""

    power: Power
    axis_deg: int | None = Field(default=None, alias="axis")


class Lens(Model):
    """Lenses named in a line.

    `on_top`: a change to what is before the eye ("another half", "up a quarter"), never a total. `same`: the lenses of
    the reading before ("horizontal the same"); nothing else is named then.
    """

    sphere: Power | None = None
    cylinder: Cylinder | None = None
    on_top: bool = False
    same: bool = False


Naming = Literal["streak", "meridian"]


class Where(Model):
    """A place as named: by the streak, by the meridian of power, or (None) by whichever is the examiner's habit.

    Either an angle, or `which`: the meridian across the one in hand, or both principal ones.
    """

    names: Naming | None
    angle_deg: int | None = Field(default=None, alias="angle")
    which: Literal["other", "both"] | None = None

    @model_validator(mode="after")
    def _one_of_the_two(self) -> "Where":
        if (self.angle_deg is None) == (self.which is None):
            raise ValueError("a place is an angle or one that is named by the place in hand")
        return self


OneEye = Literal["right", "left"]
Eyes = Literal["right", "left", "both"]
EyeNamed = Literal["right", "left", "both", "other"]
