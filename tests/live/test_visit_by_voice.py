"""One visit of six minutes wholly by voice, and the next one of the same child: the record holds what was said.

Natural voices of the test half (tests/corpora/README.md) speak; `voicelog exam` hears them with its own end-pointer and listeners,
as from a microphone. A line that is asked about is answered, one that was not entered is said again, as an examiner would; both are
counted. What is to stand in the record is written here by hand. Needs Python with the synthesiser's packages: this one, or
VOICELOG_TTS_PYTHON. Clips are kept for the next run where VOICELOG_TTS_CLIPS says.
"""

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from time import monotonic, sleep

import numpy as np
import pytest

from tests.corpora.synthesise import Task, read_flac
from tests.corpora.voices import Voice, by_name
from tests.english import load
from tests.live.test_exam_from_file import TWO_PHRASES
from tests.practice.test_spoken_exams import folder_of_clips, render
from voicelog.cli import main
from voicelog.exam.events import Line
from voicelog.exam.state import EYES
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.sources import BLOCK_SAMPLES, SAMPLE_RATE_HZ, Block
from voicelog.live.exam import LiveExam
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.record.journal import Journal

VOICES = ("kokoro-bf_emma", "kokoro-af_kore", "kokoro-am_michael")
MOST_TAKES = 3
PAUSE_S, LONGER_S = 2.2, 5.0
ROOM_RMS = np.float32(3e-4)
BEGINNING = ("next patient", "four seven one one")
ENDING = ("finish exam",)

FIRST = {
    "age seven": "age 7 years",
    "spectacles right eye sphere plus one fifty cylinder minus a half axis ninety": "right eye: spectacles worn +1.50 -0.50 x 090",
    "spectacles left eye sphere plus two": "left eye: spectacles worn +2.00 DS",
    "acuity right unaided six twelve": "right eye: acuity unaided 6/12",
    "acuity left unaided six eighteen": "left eye: acuity unaided 6/18",
    "acuity left pinhole six nine": "left eye: acuity with pinhole 6/9",
    "near vision right n six": "right eye: near acuity N6",
    "pupils equal and reacting": "both eyes: pupils equal and reactive",
    "no r a p d": "both eyes: relative afferent pupil defect none",
    "cover test distance ortho": "both eyes: cover test, far, ortho",
    "cover test near four exo": "both eyes: cover test, near, 4 prism dioptres exo",
    "near point of convergence eight": "both eyes: near point of convergence 8 cm",
    "drops cyclopentolate one percent both eyes thirty minutes ago": "both eyes: drops cyclopentolate 1 %, 30 minutes ago; readings from here on are wet",
    "working distance sixty seven": "working distance 67 cm",
    "vertex distance twelve": "back vertex distance 12 mm",
    "right eye": "right eye",
    "good red reflex": "right eye: good red reflex",
    "streak vertical with sphere plus two": "right eye: streak vertical (power along 180) with, sphere +2.00",
    "streak vertical neutral at plus three": "right eye: streak vertical (power along 180) neutral, sphere +3.00",
    "streak horizontal neutral at plus two and a quarter": "right eye: streak horizontal (power along 090) neutral, sphere +2.25",
    "left eye": "left eye",
    "white reflex": "left eye: white reflex",
    "streak vertical neutral at plus four": "left eye: streak vertical (power along 180) neutral, sphere +4.00",
    "streak horizontal against at plus four": "left eye: streak horizontal (power along 090) against, sphere +4.00",
    "streak horizontal neutral at plus three fifty": "left eye: streak horizontal (power along 090) neutral, sphere +3.50",
    "autorefraction right eye sphere plus one seventy five cylinder minus one axis one seventy five": "right eye: autorefraction +1.75 -1.00 x 175",
    "keratometry right forty three point five at one eighty forty four point two five at ninety": "right eye: keratometry 43.50 D (7.76 mm) at 180, 44.25 D (7.63 mm) at 090",
    "fogged right eye to six twelve": "right eye: fogged to 6/12",
    "subjective right eye sphere plus one and a quarter cylinder minus three quarters axis one eighty": "right eye: subjective +1.25 -0.75 x 180",
    "cross cylinder right axis one seventy five power minus three quarters": "right eye: cross cylinder -0.75 axis 175",
    "red green right eye equal": "right eye: duochrome equal",
    "end point right eye plus one and a quarter": "right eye: end point +1.25",
    "acuity right best corrected six six": "right eye: acuity best corrected 6/6",
    "subjective left eye sphere plus two and a quarter cylinder minus a half axis one eighty": "left eye: subjective +2.25 -0.50 x 180",
    "acuity left best corrected six nine": "left eye: acuity best corrected 6/9",
    "binocular balance equal": "both eyes: binocular balance equal",
    "over refraction left eye sphere plus a quarter": "left eye: over-refraction +0.25 DS",
    "prism left eye two base in": "left eye: prism 2 prism dioptres base in",
    "grating acuity right nine cycles per degree": "right eye: acuity 9 cycles per degree",
    "pupillary distance fifty four": "both eyes: pupillary distance, far, 54 mm",
}  # fmt: skip
# 3.00 and 4.00 along 180, 2.25 and 3.50 along 090, 1.50 D off for 67 cm.
FIRST_RESULT = {"right": "+1.50 -0.75 x 180", "left": "+2.50 -0.50 x 180"}
ASKED = ("what is missing", "read remarks")
NEXT = {
    "age seven": "age 7 years",
    "drops cyclopentolate one percent both eyes thirty minutes ago": "both eyes: drops cyclopentolate 1 %, 30 minutes ago; readings from here on are wet",
    "working distance sixty seven": "working distance 67 cm",
    "right eye": "right eye",
    "streak vertical neutral at plus two fifty": "right eye: streak vertical (power along 180) neutral, sphere +2.50",
    "streak horizontal neutral at plus one seventy five": "right eye: streak horizontal (power along 090) neutral, sphere +1.75",
    "scissors": "right eye: scissors reflex",
    "scratch that": "",
}
NEXT_RESULT = {"right": "+1.00 -0.75 x 180"}
LINES = (*BEGINNING, *FIRST, *ASKED, *BEGINNING, *NEXT, *ENDING)


class Visit:
    """The examiner's side: says a line, waits until it is taken, and deals with what is asked."""

    def __init__(self, voice: Voice, clips: Path) -> None:
        self.counts: Counter[str] = Counter()
        self.told: list[str] = []
        self.spoken_s = 0.0
        self._voice, self._clips = voice, clips
        self._exam: LiveExam | None = None
        self._at, self._random = 0, np.random.default_rng(18)
        self._reader = LineReader(load(), EXAM_RULES, *TYPED)

    def opened(self, exam: LiveExam) -> "Visit":
        """Instead of the microphone."""
        self._exam = exam
        return self

    def blocks(self) -> Iterator[Block]:
        for line in LINES:
            yield from self._line(line)
        self.spoken_s = self._at / SAMPLE_RATE_HZ

    def close(self) -> None:
        """It ends by itself."""

    def _line(self, line: str) -> Iterator[Block]:
        for take in range(MOST_TAKES):
            before = self._events
            yield from self._say(line)
            answer = self._last(before)
            if answer is not None and answer.question is not None and answer.question.missing == "reference":
                self.counts["at once"] += 1
                return
            if answer is not None and answer.outcome == "asked" and answer.question is not None:
                self.counts["asked"] += 1
                self.told.append(f"asked: {line!r}: {answer.reply}")
                meant = self._reader.understand(line).readings[0]
                yes = answer.question.candidate in meant and answer.question.missing == "confirm"
                yield from self._say("yes" if yes else "no")
                answer = self._last(before)
            if answer is not None and answer.outcome == "accepted":
                self.counts["at once" if not take else "said again"] += 1
                return
            self.told.append(f"not entered: {line!r} heard {answer.text if answer else None!r}")
        self.counts["never"] += 1

    def _say(self, text: str) -> Iterator[Block]:
        path = Task(text, self._voice, self._clips).path
        pause_s = LONGER_S if len(text.split()) > 3 else PAUSE_S
        clip: Samples = read_flac(path)
        whole = np.concatenate([clip, np.zeros(round(pause_s * SAMPLE_RATE_HZ), np.float32)])
        whole += self._random.standard_normal(whole.size).astype(np.float32) * ROOM_RMS
        for start in range(0, whole.size, BLOCK_SAMPLES):
            part = whole[start : start + BLOCK_SAMPLES]
            yield Block(part, self._at, monotonic())
            self._at += part.size
        assert self._exam is not None
        while not self._exam.is_settled:
            sleep(0.002)

    @property
    def _events(self) -> int:
        assert self._exam is not None
        return len(self._exam._session.state.events)

    def _last(self, before: int) -> Line | None:
        """The answer to what was just said, of whichever exam is under way now."""
        assert self._exam is not None
        events = self._exam._session.state.events
        lines = [each for each in events[before if len(events) >= before else 0 :] if isinstance(each, Line)]
        return lines[-1] if lines else None


@pytest.fixture(scope="module", name="clips")
def _clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder_of_clips(tmp_path_factory)


@pytest.mark.sweep
@pytest.mark.parametrize("voice", VOICES)
def test_a_whole_visit_by_voice_is_in_the_record_as_it_was_said(
    voice: str, clips: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    render(dict.fromkeys((*LINES, "yes", "no")), voice, clips)
    visit = Visit(by_name(voice), clips)
    monkeypatch.setattr(LiveExam, "_opened", lambda exam: visit.opened(exam))

    assert main(["exam", "--source", str(TWO_PHRASES), "--pace", "fast", "--no-open"]) == 0

    with Journal.open() as journal:
        records = sorted((journal.exam(name) for name in journal.names()), key=lambda each: each.started.at)
    entered = [[row.entry.words() for row in each.state.ledger.live] for each in records]
    with capsys.disabled():
        print(f"\n{voice}: {visit.spoken_s / 60:.1f} min, {len(LINES)} lines, {dict(visit.counts)}")
        print("\n".join(f"    {each}" for each in visit.told))
    assert [each.started.reference for each in records] == ["4711", "4711"]
    assert entered == [list(FIRST.values()), list(NEXT.values())[:-2]]
    for record, results in zip(records, (FIRST_RESULT, NEXT_RESULT), strict=True):
        assert {name: str(record.eyes[name].solution.net) for name in EYES if name in results} == results
    assert visit.spoken_s >= 6 * 60
    assert visit.counts["never"] == 0
    # The next visit finds the one before: half a dioptre less plus in both meridians.
    capsys.readouterr()
    assert main(["visits", "4711", "--json"]) == 0
    eyes = json.loads(capsys.readouterr().out)["eyes"]
    right = next(each for each in eyes if each["eye"] == "right")
    assert [each["written"] for each in right["visits"]] == [FIRST_RESULT["right"], NEXT_RESULT["right"]]
    assert [each["m_d"] for each in right["changes"]] == pytest.approx([-0.5])
