"""A simulated examiner: holds a true exam in mind, says it with slips, notices them sooner or later, and repairs them.

The person knows what they mean and hears what is said back; of how the log works they know nothing. Every repair is one
that people use: the entry again, a correction by place or of the last thing, "not this but that", taking back, "that
was the left", going back to the other eye.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random

from tests.exam.typing import Typist
from voicelog.exam.events import Line
from voicelog.phrases import meanings as say

EYES: tuple[say.OneEye, say.OneEye] = ("right", "left")
DISTANCES = (40.0, 50.0, 57.0, 67.0, 80.0)


@dataclass(frozen=True)
class Look:
    """A neutral reading as it truly is: eye, streak and gross lenses. `axis_deg` None: a sphere alone."""

    eye: say.OneEye
    streak_deg: int
    sphere_d: float | None
    cylinder_d: float | None = None


@dataclass
class Truth:
    """What the person found."""

    distance_cm: float
    looks: list[Look] = field(default_factory=list)


def true_exam(random: Random) -> Truth:
    """Both eyes by any of the three techniques."""
    truth = Truth(random.choice(DISTANCES))
    for eye in random.sample(EYES, 2):
        streak = random.randint(1, 36) * 5
        across = streak + 90 if streak <= 90 else streak - 90
        one, two = (random.randint(-24, 24) / 4 for _ in range(2))
        technique = random.choice(("spheres", "spheres", "sphere_cylinder", "cylinders"))
        if technique == "spheres":
            truth.looks += [Look(eye, streak, one), Look(eye, across, two)]
        elif technique == "cylinders":
            truth.looks += [Look(eye, streak, None, one or 0.25), Look(eye, across, None, two or 0.5)]
        else:
            truth.looks += [Look(eye, streak, one), Look(eye, across, one, (two - one) or -0.25)]
    return truth


def power(value_d: float, *, signed: bool = True) -> say.Power:
    """A power as said; without its sign where it was swallowed."""
    sign = None if value_d == 0 or not signed else 1 if value_d > 0 else -1
    return say.Power(size_d=abs(value_d), sign=sign)  # type: ignore[arg-type]


def place(look: Look) -> say.Where:
    """The streak."""
    return say.Where(names="streak", angle=look.streak_deg)


def reading(look: Look, *, signed: bool = True, value_d: float | None = None) -> say.Reading:
    """A look as it is said: the lens that is new, which is the cylinder where there is one."""
    if look.cylinder_d is None:
        true_d = look.sphere_d if look.sphere_d is not None else 0.0
        lens = say.Lens(sphere=power(true_d if value_d is None else value_d, signed=signed))
    else:
        said = power(look.cylinder_d if value_d is None else value_d, signed=signed)
        lens = say.Lens(cylinder=say.Cylinder(power=said, axis=look.streak_deg))
    return say.Reading(where=place(look), motion="neutral", lens=lens)


def new_power_d(look: Look) -> float:
    """The power that is said with it."""
    value = look.cylinder_d if look.cylinder_d is not None else look.sphere_d
    return 0.0 if value is None else value


def direction(streak_deg: int) -> str:
    """A streak as the log writes it."""
    return {180: "horizontal", 90: "vertical"}.get(streak_deg, f"{streak_deg:03d}")


class Person:
    """One exam being said."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.truth = true_exam(random)
        self.log = Typist()
        self.said: list[str] = []
        self.eye: say.OneEye | None = None
        self.in_mind: str | None = None
        self.last_streak_deg: int | None = None
        """Of the reading that was the last thing said; None when something else was."""
        self.mend_later: list[tuple[int, Callable[[], None]]] = []
        self.mend_eye_first: Callable[[], None] | None = None

    def speak(self) -> None:
        """The whole exam, slips and repairs in it."""
        self._distance()
        for index, look in enumerate(self.truth.looks):
            if look.eye != self.eye:
                self._mend(everything=self.random.random() < 0.7)
                self._name_eye(look.eye)
            self._look(look, index)
            self._mend(everything=False)
        self._mend(everything=True)

    # ---- what is said -----------------------------------------------------------------------------------

    def tell(self, *meanings: say.Meaning) -> Line:
        """Say something, and answer what is asked back as somebody who knows what they meant."""
        line = self._say(*meanings)
        for _ in range(4):
            question = self.log.state.question
            if question is None or line.question is None:
                break
            line = self._say(self._reply())
        return line

    def _say(self, *meanings: say.Meaning) -> Line:
        line = self.log.take(meanings)
        last = meanings[-1]
        if isinstance(last, say.Reading) and last.where is not None:
            self.last_streak_deg = last.where.angle_deg
        elif not isinstance(last, say.LooseSign | say.LoosePower | say.Answer):
            self.last_streak_deg = None
        self.said.append(
            f"{[each.model_dump(mode='json', exclude_defaults=True) for each in meanings]} -> {line.reply}"
        )
        return line

    def _reply(self) -> say.Meaning:
        """Yes only where the log names what they have in mind."""
        question = self.log.state.question
        assert question is not None
        match question.missing:
            case "confirm" if self.in_mind is not None and f"streak {self.in_mind}" not in question.text:
                return say.Answer(answer="no")
            case "confirm" | "scope" | "stayed":
                return say.Answer(answer="yes")
            case "eye":
                return say.Eye(eye=self.eye or "right")
            case _:
                return say.Answer(answer="no")

    def _distance(self) -> None:
        truth = self.truth.distance_cm
        if self.random.random() < 0.8:
            self.tell(say.WorkingDistance(distance=truth))
            return
        wrong = self.random.choice([each for each in DISTANCES if each != truth])
        self.tell(say.WorkingDistance(distance=wrong))
        self._later(lambda: self._mend_distance(truth))

    def _mend_distance(self, truth: float) -> None:
        if self.random.random() < 0.3 and any(self.log.state.eyes[eye].passes for eye in EYES):
            # They say it anew, hear that the readings before stay as they are, and take that back.
            line = self.tell(say.WorkingDistance(distance=truth))
            if "stay" in line.reply:
                self.tell(say.Scratch())
        self.tell(say.Correction(entry=say.WorkingDistance(distance=truth)))

    def _name_eye(self, eye: say.OneEye) -> None:
        self.eye = eye
        if self.random.random() < 0.9:
            self.tell(say.Eye(eye=eye))
            return
        other: say.OneEye = "left" if eye == "right" else "right"
        self.tell(say.Eye(eye=other))
        self.mend_eye_first = lambda: self._mend_eye(eye)
        self._later(self._mend_eye_now, at_once=0.5, wait=1)

    def _mend_eye_now(self) -> None:
        """Whoever goes back to put something right finds that the eye is wrong, and puts that right first."""
        if self.mend_eye_first is not None:
            mend, self.mend_eye_first = self.mend_eye_first, None
            mend()

    def _mend_eye(self, eye: say.OneEye) -> None:
        if self.random.random() < 0.5:
            self.tell(say.Plain(kind="wrong_eye"))
        else:
            self.tell(say.Move(eye=eye, scope="all"))

    def _look(self, look: Look, index: int) -> None:
        slip = self.random.choices(
            ("none", "power", "sign lost", "sign turned", "place"), (60, 14, 10, 8, 8)
        )[0]
        true_d = new_power_d(look)
        if slip == "sign lost":
            self._say(reading(look, signed=False))
            if self.log.state.question is not None:
                sign: say.Meaning = say.LooseSign(sign="plus" if true_d > 0 else "minus")
                self._say(self.random.choice((sign, say.LoosePower(power=power(true_d)), reading(look))))
        elif slip == "place":
            elsewhere = Look(look.eye, look.streak_deg % 180 + 5, look.sphere_d, look.cylinder_d)
            self.tell(reading(elsewhere))
            self._later(lambda: self._mend_place(look, elsewhere), at_once=0.7)
        elif slip in ("power", "sign turned") and true_d:
            wrong_d = (
                -true_d if slip == "sign turned" else true_d + self.random.choice((-1.0, -0.5, 0.25, 1.5))
            )
            if wrong_d == 0:
                self.tell(reading(look))
                return
            self.tell(reading(look, value_d=wrong_d))
            self._later(lambda: self._mend_power(look, wrong_d), at_once=0.6)
        else:
            self.tell(reading(look))

    # ---- repairs ----------------------------------------------------------------------------------------

    def _later(self, mend: Callable[[], None], *, at_once: float = 0.4, wait: int = 2) -> None:
        if self.random.random() < at_once:
            mend()
        else:
            self.mend_later.append((self.random.randint(1, wait), mend))

    def _mend(self, *, everything: bool) -> None:
        due, later = [], []
        for wait, mend in self.mend_later:
            if everything or wait <= 0:
                due.append(mend)
            else:
                later.append((wait - 1, mend))
        self.mend_later = later
        for mend in due:
            mend()

    def _back_in(self, eye: say.OneEye) -> Iterator[None]:
        """Go back to an eye for a repair, and return."""
        here = self.log.state.eye
        if here != eye:
            self.tell(say.Eye(eye=eye))
        yield
        if here is not None and here != eye:
            self.tell(say.Eye(eye=here))

    def _mend_power(self, look: Look, wrong_d: float) -> None:
        self._mend_eye_now()
        true_d = new_power_d(look)
        just_now = self.last_streak_deg == look.streak_deg
        ways: list[Callable[[], Line]] = [
            lambda: self.tell(say.Change(where=place(look), power=power(true_d))),
            lambda: self.tell(say.Correction(entry=reading(look))),
        ]
        if look.cylinder_d is None:
            ways.append(lambda: self.tell(reading(look)))
        if just_now:
            ways += [
                lambda: self.tell(say.Correction(entry=say.LoosePower(power=power(true_d)))),
                lambda: self.tell(say.NotBut(wrong=power(wrong_d), right=power(true_d))),
                lambda: self._scratch_and_say(look),
            ]
        for _ in self._back_in(look.eye):
            self.in_mind = direction(look.streak_deg)
            self.random.choice(ways)()
            self.in_mind = None
            if not self._holds(look):
                self.tell(reading(look))  # it had not gone in, or the log meant another

    def _holds(self, look: Look) -> bool:
        """Whether the screen shows the reading as it is meant."""
        shown = self.log.state.eyes[look.eye].neutral
        return any(
            (each.entry.streak_deg, each.lenses.cylinder_d or each.lenses.sphere_d)
            == (look.streak_deg, look.cylinder_d or look.sphere_d)
            for each in shown
        )

    def _scratch_and_say(self, look: Look) -> Line:
        self.tell(say.Scratch())
        return self.tell(reading(look))

    def _mend_place(self, look: Look, elsewhere: Look) -> None:
        self._mend_eye_now()
        just_now = self.last_streak_deg == elsewhere.streak_deg
        for _ in self._back_in(look.eye):
            if just_now and look.cylinder_d is None and self.random.random() < 0.5:
                self.tell(say.Correction(entry=say.LooseWhere(where=place(look))))
            elif just_now:
                self._scratch_and_say(look)
            else:
                self.tell(say.Scratch(where=place(elsewhere)))
                self.tell(reading(look))

    # ---- at the end -------------------------------------------------------------------------------------

    def silent_differences(self) -> list[str]:
        """What the record holds otherwise than it is meant, with no question open."""
        if self.log.state.dialogue.questions or self.log.state.dialogue.waiting:
            return []
        found = []
        for eye in EYES:
            meant = sorted(
                (look.streak_deg, look.sphere_d, look.cylinder_d, self.truth.distance_cm)
                for look in self.truth.looks
                if look.eye == eye
            )
            held = sorted(
                (each.entry.streak_deg, each.lenses.sphere_d, each.lenses.cylinder_d, each.distance_cm)
                for each in self.log.state.eyes[eye].neutral
            )
            if meant != held:
                found.append(f"{eye} eye: meant {meant}, held {held}")
        return found
