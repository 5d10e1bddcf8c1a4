"""A motion seen in one meridian, with everything that it was seen with."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.allowance import Allowance
from voicelog.exam.entries.base import BaseEntry, Quantity, ask, eye_words, refuse
from voicelog.exam.entries.context import Context, Dryness, EyeNow, InPlace, Mirror, across_deg
from voicelog.exam.entries.lenses import Axis, TrialLenses
from voicelog.exam.entries.placing import ask_which_lens, placed
from voicelog.optics import axis_difference_deg, meridian_to_streak_deg, written_axis
from voicelog.phrases import meanings as say

Motion = Literal["with", "against", "neutral"]
# A cylinder is set along the streak (domain facts 1.3, 1.4). Nearer than this the two are the same for a hand and an
# eye: the streak's angle is good to about 3 degrees (common practice, no source).
ALONG_STREAK_DEG = 5


AXIS_OFF_STREAK: Final = "axis_off_streak"
"""The doubt whether a cylinder that is not along the streak is right."""


class ReadingEntry(BaseEntry):
    """One look, complete: eye, pass, meridian of power, motion, lenses, mirror, distance, with or without drops.

    `named` is how the place was named, for words only. `sphere_from` and `cylinder_from` are the entries that put a
    lens there which stayed and was not named; `distance_from` the entry that said the distance.
    """

    said: ClassVar = say.Reading
    title: ClassVar = "reading"
    code: ClassVar = "reading"

    kind: Literal["reading"] = "reading"
    eye: say.OneEye
    pass_number: int
    condition: Dryness
    meridian_deg: Axis
    named: say.Naming
    bare: bool = False
    motion: Motion
    lenses: TrialLenses
    sphere_from: str | None = None
    cylinder_from: str | None = None
    mirror: Mirror
    allowance: Allowance
    distance_from: str | None = None
    late: bool = False
    """Entered after what was said behind it: frame and place in hand stay as they are."""
    approximate: bool = False
    all_round: bool = False
    """One of two meridians that were named by the axis of the cylinder, "neutral all round"."""
    taken: bool = False
    """Chosen among the lenses that were looked through: what was seen through it before no longer counts."""
    manner: tuple[say.Manner, ...] = ()

    @property
    def gross_d(self) -> float:
        """Summed power of the lenses along the meridian, the working-distance lens apart."""
        return self.lenses.power_along_d(self.meridian_deg)

    @property
    def net_d(self) -> float | None:
        """Gross power less what is taken off; None when the distance was not said."""
        taken_off_d = self.allowance.taken_off_d
        return None if taken_off_d is None else self.gross_d - taken_off_d

    @property
    def streak_deg(self) -> int:
        """The streak that examined this meridian, 1 to 180."""
        return int(meridian_to_streak_deg(self.meridian_deg))

    @property
    def place_words(self) -> str:
        """ "streak vertical (power along 180)", "meridian 035 (streak 125)": both, since they differ by 90 degrees."""
        return place_words(self.meridian_deg, self.named)

    def words(self) -> str:
        """ "right eye: streak vertical (power along 180) neutral, sphere +2.00"."""
        return f"{eye_words(self.eye)}{self.short_words()}"

    def short_words(self) -> str:
        """The same without the eye."""
        look = " ".join((*self.manner, self.motion))
        mirror = " (concave mirror)" if self.mirror == "concave" else ""
        about = "about " if self.approximate else ""
        return f"{self.place_words} {look}{mirror}, {about}{self.lenses.words()}"

    def quantities(self) -> tuple[Quantity, ...]:
        """Meridian, powers, allowance and distance as far as they are known."""
        found = [Quantity("meridian", self.meridian_deg, "deg"), Quantity("gross", self.gross_d, "[diop]")]
        if self.lenses.sphere_d is not None:
            found.append(Quantity("sphere", self.lenses.sphere_d, "[diop]"))
        if self.lenses.cylinder is not None:
            found.append(Quantity("cylinder", self.lenses.cylinder.power_d, "[diop]"))
            found.append(Quantity("axis", self.lenses.cylinder.axis_deg, "deg"))
        if self.allowance.taken_off_d is not None:
            found.append(Quantity("allowance", self.allowance.taken_off_d, "[diop]"))
        if self.allowance.distance_cm is not None:
            found.append(Quantity("distance", self.allowance.distance_cm, "cm"))
        return tuple(found)

    @classmethod
    def from_meaning(cls, meaning: say.Reading, context: Context) -> "ReadingEntry":
        """The reading as entered now. Raises NeedsAnswer."""
        eye = context.eye(meaning.eye)
        here = context.now.eyes[eye]
        motion = _motion(meaning, context)
        meridian_deg = (
            here.meridian_deg if meaning.where is None else context.meridian_deg(meaning.where, eye)
        )
        if meridian_deg is None:
            raise ask("where", "which meridian?", context.meaning)
        in_place = _lenses(meaning, here, meridian_deg, context)
        return cls(
            eye=eye,
            pass_number=here.next_pass_number,
            condition=context.now.dryness(eye),
            meridian_deg=meridian_deg,
            named=(meaning.where.names if meaning.where else None) or context.now.habit,
            bare=meaning.where is not None and meaning.where.names is None,
            motion=motion,
            lenses=in_place.lenses,
            sphere_from=in_place.sphere_from,
            cylinder_from=in_place.cylinder_from,
            mirror=context.now.mirror,
            allowance=context.allowance(),
            distance_from=context.now.allowance_from,
            late=context.now.is_late(eye),
            approximate=meaning.approximate,
            all_round=meaning.all_round and in_place.lenses.cylinder is not None,
            taken=meaning.taken,
            manner=meaning.manner,
        )

    def corrected(self, meaning: say.Reading, context: Context) -> "ReadingEntry":
        """This reading put right: place, motion and lenses that are named change, no more. Raises NeedsAnswer."""
        changes: dict[str, object] = {"motion": _motion(meaning, context)}
        if meaning.where is not None:
            changes["meridian_deg"] = context.meridian_deg(meaning.where, self.eye)
            changes["named"] = meaning.where.names or self.named
        if meaning.lens is not None and not meaning.lens.same:
            before = InPlace(self.lenses, self.sphere_from, self.cylinder_from)
            after = placed(meaning.lens, before, context.meaning)
            changes |= lens_changes(after)
        return self.put_right(context, **changes)

    def put_right(self, context: Context, **changes: object) -> "ReadingEntry":
        """This reading with other values. Raises NeedsAnswer where that lays its cylinder across the streak."""
        new = self.with_changes(**changes)
        if (new.meridian_deg, new.lenses.axis_deg) != (self.meridian_deg, self.lenses.axis_deg):
            _cylinder_along_streak(new.lenses, new.meridian_deg, context)
        return new


def lens_changes(after: InPlace) -> dict[str, object]:
    """The fields of an entry that hold lenses."""
    return {
        "lenses": after.lenses,
        "sphere_from": after.sphere_from,
        "cylinder_from": after.cylinder_from,
    }


def place_words(meridian_deg: int, named: say.Naming) -> str:
    """A meridian of power as it is named, and the other way of naming it behind."""
    streak_deg = int(meridian_to_streak_deg(meridian_deg))
    if named == "streak":
        return f"streak {direction_words(streak_deg)} (power along {written_axis(meridian_deg)})"
    return f"meridian {direction_words(meridian_deg)} (streak {written_axis(streak_deg)})"


def direction_words(angle_deg: int) -> str:
    """ "horizontal", "vertical", or the degrees."""
    return {180: "horizontal", 90: "vertical"}.get(angle_deg) or written_axis(angle_deg)


def _motion(meaning: say.Reading, context: Context) -> Motion:
    if meaning.between is not None:
        raise ask("value", "a span is no reading: which one power?", context.meaning)
    if meaning.motion == "not_neutral":
        raise ask("motion", "not neutral: with or against?", context.meaning)
    return meaning.motion


def _lenses(meaning: say.Reading, here: EyeNow, meridian_deg: int, context: Context) -> InPlace:
    """The frame for this look. A cylinder is asked about when it is named, or was put in since the look before."""
    after = _frame(meaning, here, meridian_deg, context)
    named = meaning.lens is not None and meaning.lens.cylinder is not None
    if named or here.cylinder_untried:
        _cylinder_along_streak(after.lenses, meridian_deg, context)
    return after


def _frame(meaning: say.Reading, here: EyeNow, meridian_deg: int, context: Context) -> InPlace:
    lens, before = meaning.lens, here.in_place
    if lens is None:
        if before.lenses.empty and meaning.motion == "neutral":
            context.confirm("no_lens", "no lens before the eye: is it so, with nothing in the frame?")
        return context.in_place(before)
    if lens.same:
        # In a new pass "the same" is what that meridian had before, not the lens of another one that is still in place.
        same = here.earlier_at(meridian_deg) or before
        if same.lenses.empty:
            raise refuse("the same as what? No lens is before the eye: say the power", context.meaning)
        was = here.neutral_at(meridian_deg) if meaning.motion == "neutral" else None
        if was is not None and was != same.lenses and not meaning.all_round:
            raise ask("value", _which_power(meridian_deg, was, same.lenses, context), context.meaning)
        across = across_deg(meridian_deg)
        if _is_number_alone(meaning.where) and not (was or here.neutral_at(across)):
            # "I'm at sixty seven, same as ever" may be the distance.
            place = place_words(meridian_deg, context.now.habit)
            context.confirm("same_at_number", f"{place} neutral with {same.lenses.words()}: is it so?")
        other = here.neutral_at(across) if meaning.all_round else None
        if other is not None and other != same.lenses:
            place = place_words(across, context.now.habit)
            text = f"{place} was neutral with {other.words()}: is it {same.lenses.words()} now?"
            context.confirm("same_all_round", text)
        return same
    sphere_alone = lens.sphere is not None and lens.cylinder is None
    if sphere_alone and not lens.on_top and meridian_deg != here.meridian_deg:
        before = InPlace(before.lenses.with_cylinder(None), before.sphere_from, None)
    base = context.in_place(before) if lens.on_top else before
    was = here.neutral_at(meridian_deg) if lens.on_top and meaning.where is not None else None
    if was is not None and was != base.lenses and not meaning.all_round:
        # "Vertical a quarter more": than it was, or than what is in place for the other meridian?
        raise ask("value", _which_power(meridian_deg, was, base.lenses, context), context.meaning)
    ask_which_lens(lens, base, context)
    return placed(lens, base, context.meaning)


def _which_power(meridian_deg: int, was: TrialLenses, last: TrialLenses, context: Context) -> str:
    place = place_words(meridian_deg, context.now.habit)
    return f"{place} was neutral with {was.words()}, the last lens is {last.words()}: which power?"


def _is_number_alone(where: say.Where | None) -> bool:
    """Whether a place is a number that may be of something else."""
    return where is not None and where.names is None and where.angle_deg not in (None, 90, 180)


def _cylinder_along_streak(lenses: TrialLenses, meridian_deg: int, context: Context) -> None:
    """A cylinder put in for a meridian is set along its streak; else something was misheard or misnamed."""
    axis_deg = lenses.axis_deg
    if axis_deg is None:
        return
    streak_deg = int(meridian_to_streak_deg(meridian_deg))
    off_deg = abs(axis_difference_deg(axis_deg, streak_deg))
    if off_deg <= ALONG_STREAK_DEG:
        return
    said = f"axis {written_axis(axis_deg)} is not along the streak, which is {written_axis(streak_deg)}"
    if off_deg < 90 - ALONG_STREAK_DEG:
        context.confirm(AXIS_OFF_STREAK, f"{said}: is it right?")
        return
    along = written_axis(meridian_deg)
    context.confirm(
        AXIS_OFF_STREAK,
        f"{said}; that cylinder has no power along {along}. Is it right, or do you name the meridian, not the streak?",
    )
