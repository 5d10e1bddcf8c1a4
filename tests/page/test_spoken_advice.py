"""An eye is found by asking which lens is next: by voice, with every answer on the page.

By default the phrases are heard without a fault; `pytest -m sweep` speaks them with a test voice to the real recogniser
(it needs the synthesiser: tests/practice/test_spoken_exams.py).
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.corpora.synthesise import Task, read_flac
from tests.corpora.voices import Voice
from tests.page.served import Served
from tests.practice.test_spoken_exams import VOICES, folder_of_clips, render
from tests.session.test_session import hearing
from voicelog.exam.advising import belief_of
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.hear_one import hear_samples
from voicelog.live.spoken import power as power_words
from voicelog.optics import SpheroCylinder
from voicelog.practice.eye import EyeModel, SimulatedEye
from voicelog.practice.reflex import Retinoscope
from voicelog.session import Session

ASKED = "what next"
OTHERWISE = {ASKED: ("which lens next", "advise me")}
"""In which other words a phrase is said that was not heard."""
ADVICE = re.compile(r"right eye: streak (?P<streak>vertical|horizontal) \(.*\), sphere (?P<sphere>\S+)")
TRUTH = SpheroCylinder(-2.5, -1.25, 180)
STREAKS = {"vertical": 90.0, "horizontal": 180.0}
Say = Callable[[str], Line]


@dataclass
class Asking:
    """An examiner who does what the page tells."""

    say: Say
    page: Page
    eye: SimulatedEye = field(default_factory=lambda: SimulatedEye(EyeModel(TRUTH, noise_d=0.1), 1))
    asked: int = 0

    def examine(self) -> str:
        """The whole exam; the last answer."""
        self.say("right eye")
        self.say("working distance sixty seven")
        for _ in range(40):
            told = self._asked()
            advice = ADVICE.fullmatch(told)
            if advice is None:
                break
            self._look(advice["streak"], advice["sphere"])
        return told

    def _asked(self) -> str:
        """The answer, which must stand on the page too."""
        self.asked += 1
        told = self.say(ASKED).reply
        advice = ADVICE.fullmatch(told)
        power = advice["sphere"].lstrip("+-") if advice else ""
        shown = f"R streak {STREAKS[advice['streak']]:03.0f} .?{power}" if advice else "enough"
        expect(self.page.locator("#far")).to_contain_text(re.compile(shown))
        return told

    def _look(self, place: str, sphere: str) -> None:
        power = 0.0 if sphere == "plano" else float(sphere)
        seen = self.eye.look(SpheroCylinder(power).vector, STREAKS[place], Retinoscope(0.67))
        motion = seen.motion if seen.motion != "still" else "with" if power < 0.0 else "against"
        self.say(f"streak {place} {motion} at {power_words(power).split(',')[0]}")


def is_found(session: Session) -> bool:
    """Whether both meridians are within a quarter."""
    found = belief_of(session.state.eyes["right"]).estimate
    return all(abs(found.power_along_d(each) - power) <= 0.25 for each, power in TRUTH.power_cross())


def heard_and_confirmed(session: Session, phrase: str) -> Line:
    """A phrase heard without a fault; a look that the looks before rule out is asked about, and it is right."""
    line = session.take_heard(hearing(phrase))
    return session.take_heard(hearing("yes")) if line.outcome == "asked" else line


@pytest.fixture(name="page")
def _page(served: Served, context: BrowserContext) -> Page:
    """The far view."""
    page = context.new_page()
    page.goto(served.server.address())
    return page


def test_an_eye_is_found_by_asking_on_the_page(page: Page, served: Served) -> None:
    asking = Asking(lambda phrase: heard_and_confirmed(served.session, phrase), page)

    told = asking.examine()

    assert told.startswith("right eye: enough, both meridians within a quarter, 95 %")
    assert asking.asked >= 5
    assert is_found(served.session)


@dataclass
class Aloud:
    """Says phrases with a test voice to the recogniser; what is asked about is answered with yes, what is missed said otherwise."""

    session: Session
    engine: Engine
    voice: Voice
    clips: Path
    wrong: list[str] = field(default_factory=list)

    def say(self, phrase: str) -> Line:
        for said in (phrase, *OTHERWISE.get(phrase, ())):
            line = self._heard(said)
            for answer in ("yes", "yes it is") if line.question is not None else ():
                if line.outcome != "accepted":
                    line = self._heard(answer)
            if line.outcome == "accepted":
                break
        else:
            self.wrong.append(phrase)
        return line

    def _heard(self, phrase: str) -> Line:
        path = Task(phrase, self.voice, self.clips).path
        if not path.exists():
            render([phrase], self.voice.name, self.clips)
        return self.session.take_heard(hear_samples(self.engine, read_flac(path), self.session.listened_for))


@pytest.mark.sweep
@pytest.mark.parametrize("voice", VOICES[:2], ids=lambda voice: voice.name)
def test_an_eye_is_found_by_asking_aloud(
    page: Page, served: Served, engine: Engine, voice: Voice, tmp_path_factory: pytest.TempPathFactory
) -> None:
    aloud = Aloud(served.session, engine, voice, folder_of_clips(tmp_path_factory))
    asking = Asking(aloud.say, page)

    told = asking.examine()
    print(f"{voice.name}: asked {asking.asked} times, not entered {aloud.wrong}; {told}")

    assert told.startswith("right eye: enough, both meridians within a quarter, 95 %")
    assert asking.asked >= 5
    assert is_found(served.session)
