"""What is known when something is entered: the exam as it stands, and what was answered already."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol, TypeVar

from voicelog.exam.entries.allowance import Allowance
from voicelog.exam.entries.base import BaseFinding, ask, other_eye
from voicelog.exam.entries.earlier import LookUp, no_record
from voicelog.exam.entries.lenses import TrialLenses
from voicelog.exam.questions import DISTANCE_UNCLEAR, NeedsAnswer, Question
from voicelog.optics import streak_to_meridian_deg, written_axis, written_cm
from voicelog.phrases import meanings as say

Mirror = Literal["plane", "concave"]
Dryness = Literal["dry", "wet"]
Found = TypeVar("Found", bound=BaseFinding)


@dataclass(frozen=True, slots=True)
class InPlace:
    """Lenses before an eye, and the entries that put its sphere and its cylinder there (None: nothing did)."""

    lenses: TrialLenses = field(default_factory=TrialLenses)
    sphere_from: str | None = None
    cylinder_from: str | None = None

    @property
    def sphere_is_newer(self) -> bool:
        """Whether the sphere was put there later than the cylinder, or there is no cylinder."""
        if self.cylinder_from is None or self.sphere_from is None:
            return self.cylinder_from is None
        return _order(self.sphere_from) > _order(self.cylinder_from)


class EyeNow(Protocol):
    """What must be known of one eye to enter something for it."""

    @property
    def in_place(self) -> InPlace: ...

    @property
    def cylinder_untried(self) -> bool: ...

    @property
    def meridian_deg(self) -> int | None: ...

    @property
    def next_pass_number(self) -> int: ...

    @property
    def pass_has_readings(self) -> bool: ...

    def earlier_at(self, meridian_deg: int) -> InPlace | None: ...

    def neutral_at(self, meridian_deg: int) -> TrialLenses | None: ...

    @property
    def neutral_along_deg(self) -> tuple[int, ...]: ...


class Now(Protocol):
    """What must be known of the exam to enter something."""

    @property
    def habit(self) -> say.Naming: ...

    @property
    def habit_said(self) -> bool: ...

    @property
    def eye(self) -> say.OneEye | None: ...

    @property
    def eyes(self) -> Mapping[say.OneEye, EyeNow]: ...

    @property
    def allowance(self) -> Allowance: ...

    @property
    def allowance_from(self) -> str | None: ...

    @property
    def mirror(self) -> Mirror: ...

    def dryness(self, eye: say.OneEye) -> Dryness: ...

    def is_late(self, eye: say.OneEye) -> bool: ...

    def slot(self, name: str) -> BaseFinding | None: ...

    def finding(self, kind: type[Found], eye: say.OneEye) -> Found | None: ...


@dataclass(frozen=True)
class Context:
    """The exam as it stands, what was said, and the doubts that were laid to rest by an answer."""

    now: Now
    meaning: say.Meaning
    settled: tuple[str, ...] = ()
    pinned: str | None = None
    eye_unclear: bool = False
    """Something that named another eye than the one in hand was not understood."""
    lens_unclear: bool = False
    """Something that named a lens was not understood."""
    distance_unclear: bool = False
    """Something that named a distance was not understood."""
    earlier: LookUp = no_record
    """Looks up what was found at earlier visits; only asked where it is wanted."""

    def eye(self, named: say.EyeNamed | None) -> say.OneEye:
        """The one eye that is meant. Raises NeedsAnswer when none is known."""
        if named in ("right", "left"):
            return named
        here = self.now.eye
        if named == "both":
            raise ask("eye", "one eye at a time: right or left?", self.meaning)
        if here is None:
            raise ask("eye", "which eye?", self.meaning)
        if self.eye_unclear:
            raise ask("eye", "what named an eye before was not understood: which eye?", self.meaning)
        return other_eye(here) if named == "other" else here

    def in_place(self, lenses: InPlace) -> InPlace:
        """The lenses before the eye where none is named. Raises NeedsAnswer where what named one was not understood."""
        if self.lens_unclear:
            words = lenses.lenses.words()
            self.confirm("lens_unclear", f"what named a lens before was not understood: is it {words}?")
        return lenses

    def allowance(self) -> Allowance:
        """What holds for a reading now. Raises NeedsAnswer where what named another distance was not understood."""
        allowance = self.now.allowance
        if self.distance_unclear and allowance.distance_cm is not None:
            words = written_cm(allowance.distance_cm)
            text = f"what named a distance before was not understood: is it {words}?"
            denied = self.answered(DISTANCE_UNCLEAR) == "no"
            self.confirm(DISTANCE_UNCLEAR, "which distance is it?" if denied else text)
        return allowance

    def confirm(self, doubt: str, text: str, pinned: str | None = None) -> None:
        """Go on when that doubt was laid to rest. Raises NeedsAnswer otherwise; `pinned` is the entry it names."""
        if doubt not in self.settled:
            raise NeedsAnswer(
                Question(
                    missing="confirm",
                    text=text,
                    candidate=self.meaning,
                    doubt=doubt,
                    settled=self.settled,
                    pinned=pinned or self.pinned,
                )
            )

    def answered(self, doubt: str) -> str | None:
        """What was answered to a question that has more answers than yes: "scope" -> "both"; None: not asked yet."""
        found = (each.partition(":") for each in self.settled)
        return next((answer for name, _, answer in found if name == doubt and answer), None)

    def there_too(self, text: str) -> bool:
        """Whether it holds for what `text` names as well; it goes on after either answer. Raises NeedsAnswer before."""
        answer = self.answered("stayed")
        if answer is None:
            raise NeedsAnswer(
                Question(missing="stayed", text=text, candidate=self.meaning, settled=self.settled)
            )
        return answer == "yes"

    def meridian_deg(self, where: say.Where, eye: say.OneEye) -> int:
        """The meridian of power of a place as named, 1 to 180. Raises NeedsAnswer when the place is not known."""
        if where.angle_deg is None:
            here = self.now.eyes[eye].meridian_deg
            if where.which == "both" or here is None:
                raise ask("where", "which meridian?", self.meaning)
            read = self.now.eyes[eye].neutral_along_deg
            if len(read) > 1 and across_deg(here) not in read:
                along = " and ".join(map(written_axis, read))
                raise ask("where", f"{along} were read, and neither is across: which meridian?", self.meaning)
            return across_deg(here)
        if where.names is None and not self.now.habit_said:
            direction = {90: "vertical", 180: "horizontal"}.get(where.angle_deg, str(where.angle_deg))
            raise ask("habit", f"{direction}: is that the streak, or the meridian of power?", self.meaning)
        if not 1 <= where.angle_deg <= 180:
            raise ask(
                "where", f"{where.angle_deg} is not within 1 to 180 degrees: which meridian?", self.meaning
            )
        if (where.names or self.now.habit) == "streak":
            return int(streak_to_meridian_deg(where.angle_deg))
        return where.angle_deg


def _order(name: str) -> tuple[int, ...]:
    """Ids of entries in the order they were said."""
    return tuple(int(part) for part in name.split("."))


def across_deg(meridian_deg: int) -> int:
    """The meridian at right angles, 1 to 180."""
    return meridian_deg - 90 if meridian_deg > 90 else meridian_deg + 90
