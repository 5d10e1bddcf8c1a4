"""What a person who listens would have written down: a second, plain account of an exam for the tests.

It shares no code with the program. Entries are dictionaries in a list; a lens is an object that several readings can
hold, as the same glass stood before the eye for all of them; taking back is a copy of the list kept from before. It
knows only what a practitioner expects: which line is plain, which must be asked about, and what it changes.
"""

import copy
from dataclasses import dataclass, field
from typing import Any

Entry = dict[str, Any]


@dataclass
class Glass:
    """One lens: who named it, its power, and (of a cylinder) its axis."""

    owner: int
    power: float
    axis: int | None = None


@dataclass
class Action:
    """One thing said: `text` as it is typed, `kind` and parts as the person means them."""

    text: str
    kind: str
    parts: dict[str, Any] = field(default_factory=dict)


@dataclass
class Sheet:
    """The person's sheet of paper, and what they still wait for."""

    entries: list[Entry] = field(default_factory=list)
    before: list[list[Entry]] = field(default_factory=list)
    asking: list[Action] = field(default_factory=list)
    waiting: list[Action] = field(default_factory=list)
    made: int = 0
    heard: int = 0
    dropped: bool = False
    """The last entry that was said did not go in, so that "correction" may mean it."""

    # ---- what the entries say ---------------------------------------------------------------------------

    @property
    def eye(self) -> str | None:
        """The eye in hand."""
        named = [each["eye"] for each in self.entries if each["kind"] == "eye"]
        return named[-1] if named else None

    def last(self, kind: str, default: Any = None) -> Any:
        """The last value of a setting."""
        found = [each["value"] for each in self.entries if each["kind"] == kind]
        return found[-1] if found else default

    def frame(self, eye: str) -> tuple[Glass | None, Glass | None]:
        """Sphere and cylinder before an eye."""
        found = [
            each
            for each in self.entries
            if each["kind"] in ("reading", "lenses") and each["eye"] == eye and not each.get("late")
        ]
        return (found[-1]["sphere"], found[-1]["cylinder"]) if found else (None, None)

    def untried(self, eye: str) -> bool:
        """Whether the cylinder in place was put in since the last look."""
        found = False
        for each in self.entries:
            if each.get("eye") != eye or each.get("late"):
                continue
            if each["kind"] == "reading":
                found = False
            if each["kind"] == "lenses":
                glass = each["cylinder"]
                found = glass is not None and (glass.owner == each["uid"] or found)
        return found

    def place(self, eye: str) -> int | None:
        """The meridian in hand."""
        here = None
        for each in self.entries:
            if each.get("eye") != eye or each.get("late"):
                continue
            if each["kind"] == "reading":
                here = each["meridian"]
            if each["kind"] == "pass":
                here = None
        return here

    def wet(self, eye: str) -> bool:
        """Whether drops were given."""
        return any(each["kind"] == "drops" and each["value"] in (eye, "both") for each in self.entries)

    def pass_of(self, eye: str) -> int:
        """The pass of the next reading."""
        number, readings, wet_there = 1, 0, False
        announced = None
        for each in self.entries:
            if each.get("eye") != eye:
                continue
            if each["kind"] == "pass":
                announced = each["value"]
            if each["kind"] == "reading":
                if (each["pass"], each["wet"]) >= (number, wet_there):
                    number, wet_there = each["pass"], each["wet"]
                readings += 1
                before = (
                    announced is not None and each["pass"] < announced
                )  # said before the pass was announced
                announced = announced if each.get("late") or before else None
        if announced is not None:
            return int(announced)
        return number + (readings > 0 and wet_there != self.wet(eye))

    # ---- what is said -----------------------------------------------------------------------------------

    @property
    def blocked(self) -> bool:
        """Whether what readings hang on is in question."""
        return any(
            each.kind in ("distance", "working_lens", "sphere", "cylinder", "add") for each in self.asking
        ) or any(each.parts.get("no_eye") for each in self.asking)

    def hear(self, action: Action) -> str:
        """Take one thing; what comes of it: "enter", "ask", "wait", "drop" (a question closed), "nothing"."""
        self.heard += 1
        if action.kind == "scratch" and self.asking and self.asking[-1].parts["asked_at"] >= len(self.before):
            blocked = self.blocked
            self.asking.pop()
            self.dropped = True
            if blocked and not self.blocked:
                self.waiting.clear()
            return "drop"
        if action.kind == "eye" and self._eye_is_asked and self._may_be_the_second(action):
            self.waiting.append(action)
            return "wait"
        if action.kind in ("yes", "no", "sign") or (action.kind == "eye" and self._eye_is_asked):
            return self._answer(action)
        same = bool(self.asking) and self.asking[-1].text == action.text
        if self._is_of_the_next_eye(action) and not (same and action.kind == "distance"):
            self.waiting.append(action)
            return "wait"
        if same and self.asking[-1].parts.get("why") == "confirm":
            return self._answer(Action("yes", "yes"))  # the very same again is as good as yes
        if action.kind == "distance" and self.asking and self.asking[-1].kind == "distance":
            # What is right instead is of the eye that was asked about.
            action.parts.setdefault("eye", self.asking[-1].parts.get("eye"))
        if self._puts_right_what_waits(action):
            self._serve()
            return "answer"
        self._said_again(action)
        if self.blocked:
            self.waiting.append(action)
            return "wait"
        came = self._take(action)
        if self.waiting and not self.blocked:
            self._serve()
            return "answer"
        return came

    def _puts_right_what_waits(self, action: Action) -> bool:
        """ "Correction plus two", with a question open and nothing entered since: of what was asked about."""
        if action.kind != "correct_power" or not self.asking:
            return False
        asked = self.asking[-1]
        of_findings = list(asked.parts.get("powers", ()))
        if asked.parts["asked_at"] < len(self.before) or (
            asked.parts.get("power") is None and len(of_findings) != 1
        ):
            return False
        self.asking.pop()
        if of_findings:
            asked.parts["powers"] = {of_findings[0]: action.parts["power"]}
        else:
            asked.parts["power"], asked.parts["signed"] = action.parts["power"], True
        asked.parts.pop("why")
        self._take(asked)
        return True

    def _is_of_the_next_eye(self, action: Action) -> bool:
        """What is said behind a reading and the eye after it is not what was asked about before, said again."""
        if action.kind not in ("distance", "reading", "sphere", "cylinder", "add") or not self.asking:
            return False
        if action.kind == "distance" and self.asking[-1].parts.get("why") != "confirm":
            return False
        kinds = [each.kind for each in (self.asking[-1], *self.waiting)]
        return "reading" in kinds and "eye" in kinds[kinds.index("reading") :]

    @property
    def _eye_is_asked(self) -> bool:
        return bool(self.asking) and bool(self.asking[-1].parts.get("no_eye"))

    def _may_be_the_second(self, action: Action) -> bool:
        """ "Left eye" behind two places that wait for their eye may open the second eye, the right not being read yet."""
        asked = self.asking[-1]
        places = {
            (each.parts["streak"], each.parts["named"])
            for each in (asked, *self.waiting)
            if each.kind == "reading"
        }
        return (
            action.parts["eye"] == "left"
            and len(places) > 1
            and asked.parts["asked_in"] < self.heard - 1
            and not any(each.kind == "eye" for each in self.waiting)
            and not any(each["kind"] == "reading" and each["eye"] == "right" for each in self.entries)
        )

    def _said_again(self, action: Action) -> None:
        in_full = action.kind == "reading" and "power" in action.parts and "axis" not in action.parts

        def same(open_one: Action) -> bool:
            if in_full and open_one.kind == "add":
                return True  # a reading that names its lens says what was asked for
            keys: tuple[str, ...] = ("streak", "named") if action.kind == "reading" else ("what",)
            if action.kind == "distance":
                keys = () if open_one.parts.get("why") == "repeat" else ("eye",)
            lens = ("sphere", "cylinder", "add")
            if open_one.kind in lens and action.kind in lens:
                return True
            return open_one.kind == action.kind and all(
                open_one.parts.get(key) == action.parts.get(key) for key in keys
            )

        self.asking = [each for each in self.asking if not same(each)]

    def _answer(self, action: Action) -> str:
        if not self.asking:
            return self._take(action) if action.kind == "eye" else "nothing"
        asked = self.asking[-1]
        if asked.parts.get("why") == "stayed" and action.kind in ("yes", "no"):
            self.asking.pop()
            asked.parts["stayed"] = action.kind
            self._take(asked)
            self._serve()
            return "answer"
        if action.kind == "no":
            self.asking.pop()
            self.dropped = True
            setting = asked.kind in ("distance", "working_lens", "sphere", "cylinder", "add")
            if setting and self.waiting and not asked.parts.get("no_eye") and not self.blocked:
                self._ask(asked, "repeat")  # what waits hangs on it: which then?
            self._serve()
            return "drop"
        if action.kind == "eye":
            self.asking.pop()
            asked.parts.pop("no_eye")
            self._enter({"kind": "eye", "eye": action.parts["eye"]})
            self._take(asked)
        elif action.kind == "sign":
            if asked.parts.get("why") != "sign":
                return "nothing"
            self.asking.pop()
            asked.parts["power"] *= action.parts["sign"]
            asked.parts.pop("why")
            asked.parts["signed"] = True
            self._take(asked)
        else:
            if asked.parts.get("why") != "confirm":
                return "nothing"
            self.asking.pop()
            asked.parts.pop("why")
            asked.parts["sure"] = [*asked.parts.get("sure", []), asked.parts.pop("doubt")]
            self._take(asked)
        self._serve()
        return "answer"

    def _serve(self) -> None:
        while self.waiting and not self.blocked:
            action = self.waiting.pop(0)
            if not self._puts_right_what_waits(action):
                self._take(action)

    def _then(self) -> dict[str, Any]:
        """What a reading said now is taken with, whenever its question is answered."""
        eye = self.eye
        return {
            "eye": eye,
            "place": self.place(eye) if eye else None,
            "frame": self.frame(eye) if eye else (None, None),
            "untried": self.untried(eye) if eye else False,
            "pass": self.pass_of(eye) if eye else 1,
            "wet": self.wet(eye) if eye else False,
            "mirror": self.last("mirror", "plane"),
            "distance": self._distance()[0],
            "distance_from": self._distance()[1],
            "lens_in": self.last("working_lens", False),
        }

    def _ask(self, action: Action, why: str, doubt: str = "") -> str:
        action.parts["why"], action.parts["doubt"] = why, doubt
        action.parts["asked_at"] = len(self.before)
        action.parts["asked_in"] = self.heard
        if why != "eye" and self.eye is not None:
            action.parts.setdefault("then", self._then())
        self.asking.append(action)
        return "ask"

    def _sure(self, action: Action, doubt: str) -> bool:
        return doubt in action.parts.get("sure", [])

    def _enter(self, entry: Entry | None, change: Any = None) -> str:
        """One more entry, or a change of what is there; the sheet from before is kept."""
        self.before.append(copy.deepcopy(self.entries))
        self.dropped = False
        if entry is not None:
            self.made += 1
            self.entries.append({"uid": self.made, **entry})
        if change is not None:
            change()
        return "enter"

    def _take(self, action: Action) -> str:
        parts = action.parts
        if parts.get("power") is not None and not parts.get("signed", True) and parts["power"] != 0:
            return self._ask(action, "sign")
        needs_eye = action.kind in ("reading", "sphere", "cylinder", "add", "cylinder_out", "pass", "finding")
        if needs_eye and parts.get("eye") is None and self.eye is None:
            parts["no_eye"] = True
            return self._ask(action, "eye")
        method = getattr(self, f"_take_{action.kind}")
        result: str = method(action)
        return result

    def _take_eye(self, action: Action) -> str:
        return self._enter({"kind": "eye", "eye": action.parts["eye"]})

    def _take_distance(self, action: Action) -> str:
        value = action.parts["value"]
        if not 10 <= value <= 100:
            return self._ask(action, "repeat")
        if not 30 <= value <= 80 and not self._sure(action, "unusual"):
            return self._ask(action, "confirm", "unusual")

        eye = action.parts.get("eye")
        if eye is not None:
            return self._enter_distance_of(eye, value)

        def readings_before() -> None:
            for each in self.entries:
                if each["kind"] == "reading" and each["distance"] is None and not each["lens_in"]:
                    each["distance"], each["distance_from"] = value, self.made

        return self._enter({"kind": "distance", "value": value}, readings_before)

    def _enter_distance_of(self, eye: str, value: float) -> str:
        """Of the readings of that eye, if there are any; else of those to come, whenever it is in hand."""
        if not any(each["kind"] == "reading" and each["eye"] == eye for each in self.entries):
            return self._enter({"kind": "distance", "value": value, "eye": eye})

        def of_those() -> None:
            for each in self.entries:
                if each["kind"] == "reading" and each["eye"] == eye:
                    each["distance"] = value

        return self._enter(None, of_those)

    def _take_working_lens(self, action: Action) -> str:
        return self._enter({"kind": "working_lens", "value": action.parts["position"] == "in"})

    def _take_mirror(self, action: Action) -> str:
        return self._enter({"kind": "mirror", "value": action.parts["value"]})

    def _take_drops(self, action: Action) -> str:
        return self._enter({"kind": "drops", "value": action.parts["value"]})

    def _take_pass(self, action: Action) -> str:
        eye = self.eye
        assert eye is not None
        number = self.pass_of(eye)
        if not any(
            each["kind"] == "reading" and each["eye"] == eye and each["pass"] == number
            for each in self.entries
        ):
            return "refuse"
        return self._enter({"kind": "pass", "eye": eye, "value": number + 1})

    def _take_finding(self, action: Action) -> str:
        eye = action.parts.get("eye") or self.eye
        finding = {
            "kind": "finding",
            "what": action.parts["what"],
            "eye": eye,
            "powers": dict(action.parts["powers"]),
        }
        return self._enter(finding)

    def _take_sphere(self, action: Action) -> str:
        eye = self.eye
        assert eye is not None
        if self._may_be_cylinder(action.parts["power"], *self.frame(eye)) and not self._sure(action, "which"):
            return self._ask(action, "confirm", "which")
        return self._enter(
            {
                "kind": "lenses",
                "eye": eye,
                "sphere": Glass(self.made + 1, action.parts["power"]),
                "cylinder": self.frame(eye)[1],
            }
        )

    def _take_cylinder(self, action: Action) -> str:
        eye = self.eye
        assert eye is not None
        power = action.parts["power"]
        glass = Glass(self.made + 1, power, action.parts["axis"]) if power else None
        return self._enter({"kind": "lenses", "eye": eye, "sphere": self.frame(eye)[0], "cylinder": glass})

    def _take_cylinder_out(self, action: Action) -> str:
        eye = self.eye
        assert eye is not None
        return self._enter({"kind": "lenses", "eye": eye, "sphere": self.frame(eye)[0], "cylinder": None})

    def _take_add(self, action: Action) -> str:
        """ "Another half": on top of what is there."""
        eye = self.eye
        assert eye is not None
        sphere, cylinder = self.frame(eye)
        if sphere is None and cylinder is None:
            return self._ask(action, "repeat")
        newer = cylinder is not None and (sphere is None or cylinder.owner >= sphere.owner)
        if newer and not self._sure(action, "which"):
            return self._ask(action, "confirm", "which")
        total = (sphere.power if sphere else 0.0) + action.parts["power"]
        return self._enter(
            {"kind": "lenses", "eye": eye, "sphere": Glass(self.made + 1, total), "cylinder": cylinder}
        )

    def _take_reading(self, action: Action) -> str:
        parts = action.parts
        then = dict(parts.get("then") or self._then())
        then["frame"] = self._as_put_right(then["frame"])
        if then["distance"] is None:
            then |= {part: self._then()[part] for part in ("distance", "distance_from", "lens_in")}
        eye = then["eye"]
        assert eye is not None
        angle = parts["streak"]
        meridian = angle if parts["named"] == "meridian" else (angle + 90 if angle <= 90 else angle - 90)
        sphere, cylinder = self._frame_for(parts, then, meridian)
        named = parts.get("power") is not None and parts.get("axis") is None
        either = named and self._may_be_cylinder(parts["power"], then["frame"][0], cylinder)
        if either and not self._sure(action, "which"):
            return self._ask(action, "confirm", "which")
        bare = parts.get("power") is None and sphere is None and cylinder is None
        if bare and parts["motion"] == "neutral" and not self._sure(action, "no_lens"):
            return self._ask(action, "confirm", "no_lens")
        put_in = parts.get("axis") is not None or then["untried"]
        if cylinder is not None and put_in:
            off = abs((cylinder.axis or 0) - (meridian + 90)) % 180
            if min(off, 180 - off) > 5 and not self._sure(action, "off"):
                return self._ask(action, "confirm", "off")
        names_lens = any(parts.get(name) is not None for name in ("power", "axis", "same"))
        followers = self._stayed(
            eye, (then["pass"], then["wet"]), meridian, parts["motion"], sphere, cylinder
        )
        if not names_lens:
            followers = []
        if followers and "stayed" not in parts:
            return self._ask(action, "stayed")

        def with_it() -> None:
            if parts.get("stayed") == "yes":
                for uid, part, glass in followers:
                    self._same({"uid": uid})[part] = copy.copy(glass)

        return self._enter(
            {
                "kind": "reading",
                "eye": eye,
                "pass": then["pass"],
                "wet": then["wet"],
                "meridian": meridian,
                "motion": parts["motion"],
                "sphere": sphere,
                "cylinder": cylinder,
                "late": (then["place"], _powers(then["frame"]))
                != (self.place(eye), _powers(self.frame(eye))),
                "mirror": then["mirror"],
                "distance": then["distance"],
                "distance_from": then["distance_from"],
                "lens_in": then["lens_in"],
            },
            with_it,
        )

    def _as_put_right(self, frame: tuple[Glass | None, Glass | None]) -> tuple[Glass | None, Glass | None]:
        """The glasses of an earlier frame; one whose entry was put right since is what that entry says now."""
        found: list[Glass | None] = []
        for part, glass in zip(("sphere", "cylinder"), frame, strict=True):
            owner = next((each for each in self.entries if glass and each["uid"] == glass.owner), None)
            held = None if owner is None else owner.get(part)
            found.append(
                held if held is not None and glass is not None and held.owner == glass.owner else glass
            )
        return found[0], found[1]

    def _stayed(
        self,
        eye: str,
        of_pass: tuple[int, bool],
        meridian: int,
        motion: str,
        sphere: Glass | None,
        cylinder: Glass | None,
    ) -> list[tuple[int, str, Glass | None]]:
        """Readings that share a glass with the neutral one that is said again with another glass."""
        again = [
            each
            for each in self.entries
            if each["kind"] == "reading"
            and (each["eye"], each["meridian"], each["motion"]) == (eye, meridian, "neutral")
            and (each["pass"], each["wet"]) == of_pass
        ]
        if motion != "neutral" or not again:
            return []
        found: list[tuple[int, str, Glass | None]] = []
        for each in self.entries:
            if each["kind"] != "reading" or each["uid"] == again[-1]["uid"]:
                continue
            for part, glass in (("sphere", sphere), ("cylinder", cylinder)):
                held = each[part]
                if held is None or held.owner != again[-1]["uid"]:
                    continue
                if glass is None or (held.power, held.axis) != (glass.power, glass.axis):
                    found.append((each["uid"], part, glass))
        return found

    def _may_be_cylinder(self, power: float, sphere: Glass | None, cylinder: Glass | None) -> bool:
        """Whether a bare power has the sign of the cylinder in place, and not that of the sphere."""
        if sphere is None or cylinder is None:
            return False
        return power * cylinder.power > 0 > power * sphere.power

    def _frame_for(
        self, parts: dict[str, Any], then: dict[str, Any], meridian: int
    ) -> tuple[Glass | None, Glass | None]:
        """The glasses of a look: what it names takes the place of its kind, the rest stays."""
        sphere, cylinder = then["frame"]
        if parts.get("power") is None:
            return sphere, cylinder
        if parts.get("axis") is None:
            return Glass(self.made + 1, parts["power"]), cylinder if meridian == then["place"] else None
        return sphere, Glass(self.made + 1, parts["power"], parts["axis"]) if parts["power"] else None

    def _distance(self) -> tuple[float | None, int | None]:
        """The distance in force and the entry that said it: one eye's own, or the one for both."""
        both: tuple[float | None, int | None] = (None, None)
        own: dict[str | None, tuple[float | None, int | None]] = {}
        eye, now = None, both
        for each in self.entries:
            if each["kind"] == "eye":
                eye = each["eye"]
                now = own.get(eye, both)
            elif each["kind"] == "distance":
                said = (each["value"], each["uid"])
                if "eye" in each:
                    own[each["eye"]] = said
                    now = said if eye in (None, each["eye"]) else now
                else:
                    own.pop(eye, None)
                    now = both = said
        return now

    # ---- putting right ----------------------------------------------------------------------------------

    def _take_scratch(self, action: Action) -> str:
        if not self.before:
            return "refuse"
        self.entries = self.before.pop()
        self.dropped = False
        return "enter"

    def _in_hand(self, entry: Entry) -> bool:
        eye = self.eye
        if entry["kind"] == "finding":
            return entry["eye"] in ("none", "both", eye)
        if entry["kind"] == "lenses":
            return bool(entry["eye"] == eye)
        if entry["eye"] != eye or eye is None:
            return False
        of_eye = [each for each in self.entries if each["kind"] == "reading" and each["eye"] == eye]
        number, wet = max((each["pass"], each["wet"]) for each in of_eye)
        return bool((entry["pass"], entry["wet"]) == (number, wet) and number == self.pass_of(eye))

    def _meant(self, action: Action, wanted: list[Entry]) -> Entry | str:
        """The entry a correction means: in the eye and pass in hand; elsewhere only after a yes.

        What was named in a question is what the yes is for, whatever was said meanwhile.
        """
        named = [each for each in wanted if each["uid"] == action.parts.get("named")]
        here = named or [each for each in wanted if self._in_hand(each)]
        if here:
            return here[-1]
        if not wanted:
            return "refuse"
        if not self._sure(action, "elsewhere"):
            action.parts["named"] = wanted[-1]["uid"]
            return self._ask(action, "confirm", "elsewhere")
        return wanted[-1]

    def _take_correct_power(self, action: Action) -> str:
        """ "Correction plus two": of the last lens that was named by itself."""
        wanted = [
            each for each in self.entries if each["kind"] in ("reading", "lenses") or each.get("powers")
        ]
        last = self.entries[-1:]
        if last and last[0] in wanted and not self._in_hand(last[0]) and "named" not in action.parts:
            action.parts["named"] = last[0]["uid"]
            return self._ask(action, "confirm", "elsewhere")
        found = self._meant(action, wanted)
        if isinstance(found, str):
            return found
        if self.dropped and not self._sure(action, "dropped"):
            action.parts["named"] = found["uid"]
            return self._ask(action, "confirm", "dropped")
        if found["kind"] == "finding":
            return self._correct_finding(action, found)
        named = [part for part in ("sphere", "cylinder") if found[part] and found[part].owner == found["uid"]]
        if found["kind"] == "lenses" and not named:
            return "refuse"  # "cylinder out" names no power
        there = named or [part for part in ("sphere", "cylinder") if found[part]] or ["sphere"]
        if len(there) > 1:
            return "refuse"
        return self._enter(None, lambda: self._set(self._same(found), there[0], action.parts["power"]))

    def _correct_finding(self, action: Action, found: Entry) -> str:
        if len(found["powers"]) > 1:
            return "refuse"
        (part,), power = found["powers"], action.parts["power"]
        if found["what"] == "addition" and power <= 0:
            return self._ask(action, "repeat")
        if found["what"] == "addition" and not 0.75 <= power <= 4 and not self._sure(action, "unusual"):
            return self._ask(action, "confirm", "unusual")

        def change() -> None:
            self._same(found)["powers"] = {part: power}

        return self._enter(None, change)

    def _take_correct_reading(self, action: Action) -> str:
        """ "Correction streak ninety neutral at plus two": of that meridian and motion."""
        parts = action.parts
        eye = parts["then"]["eye"] if "then" in parts else self.eye
        if eye is None:
            parts["no_eye"] = True
            return self._ask(action, "eye")
        angle = parts["streak"]
        meridian = angle + 90 if angle <= 90 else angle - 90
        there = [each for each in self.entries if each["kind"] == "reading" and each["meridian"] == meridian]
        alike = [each for each in there if each["motion"] == parts["motion"]]
        others = [each for each in there if self._in_hand(each) and each["motion"] != parts["motion"]]
        named = [each for each in there if each["uid"] == parts.get("named")]
        if self._sure(action, "motion") and named:
            found: Entry | str = named[0]
        elif any(self._in_hand(each) for each in alike) or not others or self._sure(action, "elsewhere"):
            found = self._meant(action, alike)
        else:
            parts["named"] = others[-1]["uid"]
            return self._ask(action, "confirm", "motion")
        if isinstance(found, str):
            return found
        picked = found

        def change() -> None:
            entry = self._same(picked)
            entry["motion"] = parts["motion"]
            self._set(entry, "sphere", parts["power"])

        return self._enter(None, change)

    def _same(self, entry: Entry) -> Entry:
        """The entry of the sheet as it is now: the sheet was copied for taking back."""
        return next(each for each in self.entries if each["uid"] == entry["uid"])

    def _set(self, entry: Entry, part: str, power: float) -> None:
        """A lens that this entry named changes wherever it stayed; one that only stayed here changes here."""
        old = entry[part]
        if old is not None and old.owner == entry["uid"]:
            if part == "cylinder" and power == 0:
                for each in self.entries:
                    if each.get(part) is not None and each[part].owner == entry["uid"]:
                        each[part] = None
                return
            for each in self.entries:
                if each.get(part) is not None and each[part].owner == entry["uid"]:
                    each[part] = Glass(entry["uid"], power, each[part].axis)
        else:
            axis = old.axis if old is not None else None
            entry[part] = None if part == "cylinder" and power == 0 else Glass(entry["uid"], power, axis)


def _powers(frame: tuple[Glass | None, Glass | None]) -> list[object]:
    """The glasses of a frame by who named them, power and axis."""
    return [None if glass is None else (glass.owner, glass.power, glass.axis) for glass in frame]
