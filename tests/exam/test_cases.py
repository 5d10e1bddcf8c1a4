"""Wrong values that an exam once recorded in silence, each with variants: what is said, answered, changed, and no more.

A case types an exam, then what is tried. It names every entry that may change (by its id, the number of the line);
all others must be what they were, and so must the results of both eyes that are not named.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest

from tests.exam.typing import Naming, Typist
from voicelog.exam.events import Line
from voicelog.exam.state import ExamState

HEAD = "right eye\nworking distance 67\n"
RIGHT = f"{HEAD}streak horizontal neutral at plus 3\nstreak vertical neutral at plus 1.5\n"
IN_LEFT = f"{RIGHT}left eye\n"
BOTH = f"{IN_LEFT}streak horizontal neutral at plus 2\nstreak vertical neutral at plus 2\n"
WITH_CYLINDER = (
    f"{HEAD}streak horizontal neutral at sphere plus two\n"
    "streak vertical neutral with cylinder minus one axis 90\n"
)
FINISHED = "solved +1.50 -1.50 x 090"


@dataclass(frozen=True)
class Case:
    """What is typed before, what is then tried (the last line is the one judged), and what must come of it.

    `changed` are the ids of entries that are new or other than before the trial; `eyes` what each eye makes then
    ("solved +1.50 DS", "incomplete", "empty"); an eye that is left out must be as it was. `reply` are parts of what
    is said back to the last line; `open` are parts of the questions that stay open.
    """

    before: str
    tried: str
    reply: tuple[str, ...]
    changed: frozenset[str] = frozenset()
    eyes: Mapping[str, str] = field(default_factory=dict)
    outcome: str = "asked"
    open: tuple[str, ...] = ()
    naming: Naming = "streak"
    heard: bool = False


def made(state: ExamState) -> dict[str, str]:
    """What each eye makes: its status, and the refraction where it has one to hand on."""
    return {
        name: f"solved {eye.solution.net}" if eye.status == "solved" else eye.status
        for name, eye in state.eyes.items()
    }


def rows(state: ExamState) -> dict[str, object]:
    """Every entry with what it holds, and whether it counts."""
    return {row.id: (row.entry, row.withdrawn) for row in state.ledger.rows.values()}


def say(typist: Typist, text: str, *, heard: bool) -> Line:
    """One line, typed or as if heard."""
    if not heard:
        return typist.type(text)
    return typist.take(typist.understand(text).readings[0], text, heard=True)


def accepted(*changed: str, **eyes: str) -> dict[str, object]:
    """What goes in, and what the eyes make then."""
    return {"outcome": "accepted", "changed": frozenset(changed), "eyes": eyes}


# Each key names the case of the list and what is tried.
CASES = {
    # 1. A correction in a new eye changed the finished one, and the reply named no eye.
    "1 correction sphere in the other eye": Case(
        IN_LEFT,
        "correction sphere plus two",
        ("the left eye has no lens to correct", "right eye: streak vertical", "+1.50"),
        open=("change right eye",),
    ),
    "1 after yes both eyes and values are named": Case(
        IN_LEFT,
        "correction vertical neutral at plus two\nyes",
        ("right eye: streak vertical (power along 180) neutral, sphere +2.00, instead of +1.50",),
        **accepted("4", right="solved +1.50 -1.00 x 090"),  # type: ignore[arg-type]
    ),
    "1 correction cylinder out in the other eye": Case(
        IN_LEFT, "correction cylinder out", ("there is no cylinder to correct",)
    ),
    "1 a no leaves the finished eye as it is": Case(
        IN_LEFT,
        "correction streak 45\nno",
        ("not entered",),
        outcome="accepted",
    ),
    "1 change, where both eyes have the meridian": Case(
        BOTH,
        "change vertical to plus one",
        ("left eye: streak vertical", "sphere +1.00, instead of +2.00"),
        **accepted("7", left="solved +0.50 -1.00 x 090"),  # type: ignore[arg-type]
    ),
    # 2. A corrected cylinder lost its axis, then vanished; "cylinder zero" put the sphere out of order.
    "2 a corrected cylinder keeps its axis and its sphere": Case(
        WITH_CYLINDER,
        "correction streak vertical neutral with cylinder minus one and a half",
        ("sphere +2.00, cylinder -1.50 axis 090", "instead of sphere +2.00, cylinder -1.00 axis 090"),
        **accepted("4", right="solved +0.50 -1.50 x 090"),  # type: ignore[arg-type]
    ),
    "2 a bare power after the cylinder went out is no sphere": Case(
        f"{WITH_CYLINDER}cylinder zero\n",
        "correction plus three quarters",
        ("say correction sphere or correction cylinder",),
    ),
    "2 a bare power where sphere and cylinder stand is asked": Case(
        f"{HEAD}streak vertical neutral with sphere plus two cylinder minus one axis 90\n",
        "correction minus one and a half",
        ("say correction sphere or correction cylinder",),
    ),
    "2 an axis that is none is forgotten with its cylinder": Case(
        f"{WITH_CYLINDER}cylinder zero axis 190\n",
        "streak horizontal neutral at plus two",
        ("right eye: streak horizontal (power along 090) neutral, sphere +2.00", "instead of +2.00"),
        **accepted("6"),  # type: ignore[arg-type]
    ),
    "2 a sphere put right under a cylinder is one lens": Case(
        WITH_CYLINDER,
        "change horizontal to plus two and a half",
        ("sphere +2.50, instead of +2.00", "with it streak vertical", "sphere +2.50, cylinder -1.00 axis 090"),
        **accepted("3", "4", right="solved +1.00 -1.00 x 090"),  # type: ignore[arg-type]
    ),
    # 3. A cylinder without power in the meridian swept counted as nothing.
    "3 a cylinder across the streak": Case(
        f"{HEAD}streak 90 neutral at plus 3\n",
        "streak 180 neutral with cylinder -2 axis 90",
        ("axis 090 is not along the streak, which is 180", "no power along 090", "do you name the meridian"),
        open=("axis 090 is not along the streak",),
    ),
    "3 crossed cylinders, both across": Case(
        HEAD,
        "streak 90 neutral with cylinder -3 axis 180\nstreak 180 neutral with cylinder -2 axis 90",
        ("axis 090 is not along the streak",),
        open=("axis 180 is not along", "axis 090 is not along"),
    ),
    "3 ten degrees off, put right by the axis": Case(
        f"{HEAD}streak 90 neutral at plus 3\n",
        "streak 180 neutral with cylinder -2 axis 10\naxis 180",
        ("right eye: streak horizontal (power along 090) neutral, sphere +3.00, cylinder -2.00 axis 180",),
        **accepted("5", right="solved +1.50 -2.00 x 180"),  # type: ignore[arg-type]
    ),
    "3 put in by itself, across the streak of the next look": Case(
        f"{HEAD}streak 90 neutral at plus 3\ncylinder -2 axis 90\n",
        "streak 180 neutral",
        ("axis 090 is not along the streak, which is 180",),
        open=("axis 090",),
    ),
    "3 turned across by a correction": Case(
        f"{HEAD}streak 90 neutral at plus 3\nstreak 180 neutral with cylinder -2 axis 180\n",
        "correction axis 90",
        ("axis 090 is not along the streak, which is 180",),
        open=("axis 090",),
    ),
    "3 a cylinder in place is looked through along the sphere's streak": Case(
        f"{HEAD}streak 90 neutral at plus 3\nstreak 180 neutral with cylinder -2 axis 180\n",
        "streak 90 neutral",
        ("right eye: streak vertical", "cylinder -2.00 axis 180", "instead of sphere +3.00"),
        **accepted("5"),  # type: ignore[arg-type]
    ),
    # 4. "Scratch that" with a question open withdrew the last good entry too; "wrong eye" told nothing.
    "4 scratch that closes the question alone": Case(
        RIGHT,
        "streak 45 neutral at 3\nscratch that",
        ("not entered: streak 045 neutral, sphere 3.00 without a sign",),
        outcome="accepted",
    ),
    "4 of two questions the newest goes, the other stays": Case(
        RIGHT,
        "streak 45 neutral at 3\nstreak 135 neutral at 2\nscratch that",
        ("not entered: streak 135", "still open: 3.00: plus or minus?"),
        outcome="accepted",
        open=("3.00: plus or minus?",),
    ),
    "4 the second scratch that takes the last entry and names it": Case(
        RIGHT,
        "cylinder minus 2\nscratch that\nscratch that",
        ("taken back: right eye: streak vertical (power along 180) neutral, sphere +1.50",),
        **accepted("4", right="incomplete"),  # type: ignore[arg-type]
    ),
    "4 what is refused leaves nothing that scratch that would close": Case(
        RIGHT,
        "change 45 to plus one\nscratch that",
        ("taken back: right eye: streak vertical (power along 180) neutral, sphere +1.50",),
        **accepted("4", right="incomplete"),  # type: ignore[arg-type]
    ),
    "4 wrong eye names all that it would move": Case(
        RIGHT,
        "wrong eye",
        ("move to the left eye", "streak horizontal", "sphere +3.00", "streak vertical", "sphere +1.50"),
        open=("move to the left eye",),
    ),
    "4 wrong eye moves it after yes": Case(
        RIGHT,
        "wrong eye\nyes",
        ("moved to the left eye: left eye: streak horizontal", "sphere +1.50", "left eye in hand"),
        **accepted("1", "3", "4", right="empty", left=FINISHED),  # type: ignore[arg-type]
    ),
    "4 wrong eye on one reading says what it takes the place of": Case(
        f"{IN_LEFT}streak vertical neutral at plus 2\nwrong eye\n",
        "yes",
        ("moved to the right eye: right eye: streak vertical", "sphere +2.00, instead of +1.50"),
        **accepted("5", "6", right="solved +1.50 -1.00 x 090", left="empty"),  # type: ignore[arg-type]
    ),
    # 5. A meridian said again was averaged, or made a conflict.
    "5 half a dioptre away": Case(
        RIGHT,
        "streak horizontal neutral at plus 3.5",
        ("right eye: streak horizontal (power along 090) neutral, sphere +3.50, instead of +3.00",),
        **accepted("5", right="solved +2.00 -2.00 x 090"),  # type: ignore[arg-type]
    ),
    "5 a dioptre and a half away": Case(
        RIGHT,
        "streak horizontal neutral at plus 4.5",
        ("sphere +4.50, instead of +3.00",),
        **accepted("5", right="solved +3.00 -3.00 x 090"),  # type: ignore[arg-type]
    ),
    "5 change reaches the one that stands": Case(
        f"{RIGHT}streak horizontal neutral at plus 4.5\n",
        "change horizontal to plus 2",
        ("right eye: streak horizontal", "sphere +2.00, instead of +4.50"),
        **accepted("5", right="solved +0.50 -0.50 x 090"),  # type: ignore[arg-type]
    ),
    "5 a further pass averages on purpose": Case(
        f"{RIGHT}next pass\nstreak horizontal neutral at plus 3.5\n",
        "streak vertical neutral at plus 2",
        ("right eye: streak vertical",),
        **accepted("7", right="solved +2.00 -1.50 x 090"),  # type: ignore[arg-type]
    ),
    "5 a repeated neutral whose distance was not said": Case(
        "right eye\nstreak horizontal neutral at plus 3\nworking lens plus 1.5 in\nstreak vertical neutral at plus 1\n",
        "streak horizontal neutral at plus 2",
        ("sphere +2.00, instead of +3.00",),
        **accepted("5", right="solved +2.00 -1.00 x 090"),  # type: ignore[arg-type]
    ),
    # 6. What was said behind an open question went to the eye before, or vanished.
    "6 readings wait for the eye and then go in, in order": Case(
        "",
        "streak horizontal neutral at plus 3\nstreak vertical neutral at plus 1.5\nworking distance 67\nright eye",
        ("right eye: streak horizontal", "right eye: streak vertical", "for the 2 readings before as well"),
        **accepted("4", "4.2", "4.3", "4.4", right=FINISHED),  # type: ignore[arg-type]
    ),
    "6 what waits is named when the question is scratched": Case(
        "",
        "streak horizontal neutral at plus 3\nstreak vertical neutral at plus 1.5\nscratch that",
        ("not entered: streak horizontal", "streak vertical (090) neutral, sphere +1.50"),
        outcome="accepted",
    ),
    "6 a reading behind a doubtful distance waits": Case(
        RIGHT,
        "working distance 26\nstreak vertical neutral at plus 2",
        ("streak vertical (090) neutral, sphere +2.00 waits: a working distance of 26 cm is unusual",),
        open=("26 cm is unusual",),
    ),
    "6 the distance said again lets it in": Case(
        RIGHT,
        "working distance 26\nstreak vertical neutral at plus 2\nworking distance 50",
        ("working distance 50 cm from here on; the 2 readings before stay", "sphere +2.00, instead of +1.50"),
        **accepted("7", "7.2"),  # type: ignore[arg-type]
    ),
    "6 after a no to the lens it is asked which, and the lens lets it in": Case(
        HEAD,
        "working lens plus 2 in\nstreak horizontal neutral at plus 3\nno\nworking lens plus one fifty in",
        ("working distance lens +1.50 in", "right eye: streak horizontal"),
        **accepted("6", "6.2", right="incomplete"),  # type: ignore[arg-type]
    ),
    # 7. A third reading turned a finished eye into another one, or made the result disappear.
    "7 a heard third reading five degrees off is of the same meridian": Case(
        RIGHT,
        "streak 95 neutral at plus 1.75",
        ("streak 095 (power along 005) neutral, sphere +1.75, instead of +1.50 along 180",),
        **accepted("5", right="solved +1.50 -1.25 x 093"),  # type: ignore[arg-type]
        heard=True,
    ),
    "7 a heard value far from what the eye predicts": Case(
        f"{HEAD}streak vertical neutral at plus 1.5\nstreak horizontal neutral at plus 2\n",
        "streak vertical neutral at -2.75",
        ("did you say: streak vertical (090) neutral, sphere -2.75?",),
        open=("did you say",),
        heard=True,
    ),
    "7 an agreeing one keeps the result": Case(
        RIGHT,
        "streak 92 neutral at plus 1.5",
        ("instead of +1.50 along 180",),
        **accepted("5", right="solved +1.50 -1.50 x 091"),  # type: ignore[arg-type]
    ),
    "7 a typed motion that contradicts the fit across meridians": Case(
        f"{HEAD}streak 180 neutral at plus 3\nstreak 90 neutral at plus 1\n",
        "streak 135 with at plus 5",
        ("right eye: streak 135 (power along 045) with, sphere +5.00",),
        **accepted("5", right="conflict"),  # type: ignore[arg-type]
    ),
    "7 the same, heard": Case(
        f"{HEAD}streak 180 neutral at plus 3\nstreak 90 neutral at plus 1\n",
        "streak 135 with at plus 5",
        ("did you say", "+5.00"),
        open=("did you say",),
        heard=True,
    ),
    # 8. Dry and wet were averaged.
    "8 after drops a pass of its own": Case(
        f"{RIGHT}drops cyclopentolate 1% both\nstreak horizontal neutral at plus 6\n",
        "streak vertical neutral at plus 4.5",
        ("right eye: streak vertical",),
        **accepted("7", right="solved +4.50 -1.50 x 090"),  # type: ignore[arg-type]
    ),
    "8 a dry reading that comes in after wet ones stays apart": Case(
        f"{HEAD}streak 45 neutral at 1\ndrops cyclopentolate 1% both\n"
        "streak horizontal neutral at plus 6\nstreak vertical neutral at plus 4.5\n",
        "plus",
        ("right eye: streak 045 (power along 135) neutral, sphere +1.00; pass 1, dry",),
        **accepted("7", right="solved +4.50 -1.50 x 090"),  # type: ignore[arg-type]
    ),
    "8 a correction after drops looks at the wet pass": Case(
        f"{RIGHT}drops cyclopentolate 1% both\nstreak horizontal neutral at plus 6\n",
        "correction vertical neutral at plus 5",
        ("no neutral reading along 180 to correct", "change right eye: streak vertical", "+1.50"),
        open=("change right eye",),
    ),
    "8 drops whose eye is in question hold the readings": Case(
        RIGHT,
        "drops tropicamide 1%\nstreak horizontal neutral at plus 6",
        ("waits: drops in which eye",),
        open=("drops in which eye",),
    ),
    # 9. A working lens overrode a measured distance; a second distance told nothing.
    "9 a lens for another distance": Case(
        HEAD,
        "working lens plus 2 in",
        ("+2.00 is the lens for 50 cm, and 67 cm was said (1.49 D): are both right?",),
        open=("are both right",),
    ),
    "9 the same in the other order": Case(
        "right eye\nworking lens plus 2 in\n",
        "working distance 67",
        ("the working distance lens in place is +2.00", "are both right?"),
        open=("are both right",),
    ),
    "9 both right: what the two leave over is taken off": Case(
        f"{HEAD}working lens plus 2 in\nyes\nstreak vertical neutral at plus 3\n",
        "streak horizontal neutral at plus 2",
        ("right eye: streak horizontal",),
        **accepted("6", right="solved +3.50 -1.00 x 180"),  # type: ignore[arg-type]
    ),
    "9 a distance said late counts from here on, and says so": Case(
        RIGHT,
        "working distance fifty",
        ("working distance 50 cm from here on; the 2 readings before stay as they are",),
        **accepted("5"),  # type: ignore[arg-type]
    ),
    "9 a corrected distance takes its readings with it": Case(
        RIGHT,
        "correction working distance fifty",
        ("working distance 50 cm, instead of 67 cm, with 2 readings of the right eye",),
        **accepted("2", "3", "4", right="solved +1.00 -1.50 x 090"),  # type: ignore[arg-type]
    ),
    "9 fifteen is inches": Case(
        RIGHT, "working distance 15", ("unusual: is it right? (15 inches are 38 cm)",), open=("unusual",)
    ),
    "9 a metre and a half is no arm": Case(
        RIGHT, "working distance 150", ("150 cm is not within 10 to 100 cm", "1.5 D"), open=("150 cm",)
    ),
    # 10. "Mirror concave" turned finished eyes into conflicts.
    "10 a mirror said later leaves what was read": Case(
        f"{RIGHT}streak 45 with at plus 1\nleft eye\n",
        "mirror concave",
        ("concave mirror from here on",),
        **accepted("7"),  # type: ignore[arg-type]
    ),
    "10 the readings that follow are turned": Case(
        f"{RIGHT}mirror concave\n",
        "streak 45 with at plus 1",
        ("with (concave mirror), sphere +1.00",),
        **accepted("6", right="conflict"),  # type: ignore[arg-type]
    ),
    "10 and stay so when the mirror is plane again": Case(
        f"{HEAD}mirror concave\nstreak 90 with at plus 4\nstreak 90 neutral at plus 3\nmirror plane\n",
        "streak 180 neutral at plus 2",
        ("right eye: streak horizontal",),
        **accepted("7", right="solved +1.50 -1.00 x 180"),  # type: ignore[arg-type]
    ),
    # 11. A bracket was wasted; a correction with another motion took the neutral away.
    "11 a correction with another motion is asked about": Case(
        RIGHT,
        "correction streak 90 with at plus 1",
        ("right eye: streak vertical (power along 180) neutral, sphere +1.50: is it to be with instead?",),
        open=("is it to be with instead",),
    ),
    "11 a neutral stays beside the motion that is corrected": Case(
        f"{HEAD}streak 90 with at plus 1\nstreak 90 neutral at plus 1.5\nstreak 180 neutral at plus 3\n",
        "correction streak 90 with at plus half",
        ("right eye: streak vertical (power along 180) with, sphere +0.50, instead of +1.00",),
        **accepted("3"),  # type: ignore[arg-type]
    ),
    "11 cylinder out of a reading deletes nothing": Case(
        f"{HEAD}streak horizontal neutral with cylinder minus 1 axis 180\n",
        "correction cylinder out",
        ("nothing would be in the frame; scratch it, or say the lens",),
        open=("nothing would be in the frame",),
    ),
    "11 cylinder out leaves the sphere": Case(
        WITH_CYLINDER,
        "correction cylinder out",
        ("right eye: streak vertical", "sphere +2.00, instead of sphere +2.00, cylinder -1.00 axis 090"),
        **accepted("4", right="solved +0.50 DS"),  # type: ignore[arg-type]
    ),
    # 12. A bare direction read back alike under both habits, though the axis differs by 90 degrees.
    "12 a bare direction by the streak": Case(
        HEAD,
        "vertical neutral at plus 1",
        ("right eye: streak vertical (power along 180) neutral",),
        **accepted("3", right="incomplete"),  # type: ignore[arg-type]
    ),
    "12 a bare direction by the meridian": Case(
        HEAD,
        "vertical neutral at plus 1",
        ("right eye: meridian vertical (streak 180) neutral",),
        **accepted("3", right="incomplete"),  # type: ignore[arg-type]
        naming="meridian",
    ),
    "12 the other way of naming is read back as it was said": Case(
        HEAD,
        "streak 30 neutral at plus 1",
        ("right eye: streak 030 (power along 120) neutral",),
        **accepted("3", right="incomplete"),  # type: ignore[arg-type]
        naming="meridian",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_case_ends_as_a_person_would_expect(case: Case) -> None:
    typist = Typist(case.naming)
    for text in case.before.splitlines():
        typist.type(text)
    before, made_before = rows(typist.state), made(typist.state)

    answers = [say(typist, text, heard=case.heard) for text in case.tried.splitlines()]

    last, after = answers[-1], rows(typist.state)
    assert last.outcome == case.outcome, last.reply
    for part in case.reply:
        assert part in last.reply
    assert {name for name in after if after[name] != before.get(name)} == case.changed
    assert made(typist.state) == {**made_before, **case.eyes}
    questions = [each.question.text for each in typist.state.dialogue.questions]
    assert len(questions) == len(case.open)
    for question, part in zip(questions, case.open, strict=True):
        assert part in question


TAKEN_BACK = {name: case for name, case in CASES.items() if "scratch that" not in case.tried}


@pytest.mark.parametrize("case", TAKEN_BACK.values(), ids=TAKEN_BACK.keys())
def test_taking_it_back_leaves_the_exam_as_it_was(case: Case) -> None:
    """ "Scratch that" for every question that is open, then for every act of the trial; none asks or refuses."""
    typist = Typist(case.naming)
    for text in case.before.splitlines():
        typist.type(text)
    before, made_before = rows(typist.state), made(typist.state)
    acts = len(typist.state.ledger.done)
    for text in case.tried.splitlines():
        say(typist, text, heard=case.heard)

    for _ in typist.state.dialogue.questions:
        assert typist.type("scratch that").reply.startswith("not entered: ")
    while len(typist.state.ledger.done) > acts:
        assert typist.type("scratch that").reply.startswith("taken back: ")

    after = rows(typist.state)
    assert {name: after[name] for name in before} == before
    assert all(row.withdrawn for name, row in typist.state.ledger.rows.items() if name not in before)
    assert made(typist.state) == made_before
    assert typist.state.question is None


def test_dry_and_wet_have_each_their_own_result() -> None:
    """+1.50 -1.50 x 090 dry; 3.00 D more in both meridians when wet. Their mean would be +3.00 -1.50 x 090."""
    typist = Typist()
    wet = "drops cyclopentolate 1% both\nstreak horizontal neutral at plus 6\nstreak vertical neutral at plus 4.5"
    for text in f"{RIGHT}{wet}".splitlines():
        typist.type(text)
    eye = typist.state.eyes["right"]

    assert str(eye.result_of("dry")) == "+1.50 -1.50 x 090"
    assert str(eye.result_of("wet")) == "+4.50 -1.50 x 090"
    assert eye.mean is None


def test_a_bracket_gives_a_value_with_its_error() -> None:
    typist = Typist()
    for text in f"{HEAD}streak 90 with at plus 2\nstreak 90 against at plus 2.5".splitlines():
        typist.type(text)
    (problem, *_) = typist.state.eyes["right"].problems

    assert problem.text.startswith("the 180 meridian lies between +2.00 and +2.50, about +2.25 ±")
    assert not any(
        "no meridian has been measured" in each.text for each in typist.state.eyes["right"].problems
    )
