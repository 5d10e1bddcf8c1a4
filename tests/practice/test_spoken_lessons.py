"""The rule of practice with the real recogniser: entries are heard as in an exam, and a place alone is heard too."""

from itertools import islice
from pathlib import Path

import pytest

from tests.corpora.synthesise import Task, read_flac
from tests.corpora.voices import by_name
from tests.english import ENGLISH, load
from tests.hearing.packed import clips as packed_clips
from tests.hearing.packed import meant
from tests.practice.test_spoken_exams import VOICES, folder_of_clips, render
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.hear_one import hear_samples
from voicelog.optics import SpheroCylinder
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel
from voicelog.practice.lesson import Lesson
from voicelog.settings import Settings

LISTENED_FOR = Lesson(Exercise(EyeModel(SpheroCylinder(1.0)), 1), Settings()).listened_for
PLACES = ("streak vertical", "streak horizontal", "streak thirty five", "meridian one twenty")


def test_entries_are_heard_in_practice_as_in_an_exam(engine: Engine) -> None:
    """The first eight packed phrases of natural test voices."""
    natural = (clip for clip in packed_clips("readings") if by_name(clip[0]).natural and meant(clip[1]))
    right = 0
    for _, transcript, samples in islice(natural, 8):
        hearing = hear_samples(engine, samples, LISTENED_FOR)
        best = hearing.hypotheses[0].meanings if hearing.hypotheses else None
        accepted = decide(hearing, ENGLISH) == "accepted"
        assert not accepted or best == meant(transcript), transcript
        right += accepted
    assert right >= 7


@pytest.mark.sweep
def test_a_place_alone_is_heard(
    engine: Engine, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    folder: Path = folder_of_clips(tmp_path_factory)
    reader = LineReader(load(), LISTENED_FOR, Layer.WRITTEN)
    outcomes = []
    for voice in VOICES[:4]:
        render(PLACES, voice.name, folder)
        for place in PLACES:
            clip = read_flac(Task(place, voice, folder).path)
            hearing = hear_samples(engine, clip, LISTENED_FOR)
            best = hearing.hypotheses[0].meanings if hearing.hypotheses else None
            right = best == reader.understand(place).readings[0]
            outcomes.append((decide(hearing, ENGLISH), right, voice.name, place))
    with capsys.disabled():
        clear = [each for each in outcomes if each[0] == "accepted"]
        print(
            f"\nplaces alone: {len(clear)} of {len(outcomes)} accepted; others {set(outcomes) - set(clear)}"
        )

    assert [each for each in outcomes if each[0] == "accepted" and not each[1]] == []
    assert sum(each[:2] == ("accepted", True) for each in outcomes) >= 0.75 * len(outcomes)
