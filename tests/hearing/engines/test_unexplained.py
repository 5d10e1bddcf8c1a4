"""Sound as loud as the phrase in which no letter was heard, made by hand: a tone for a voice, and letters where we say."""

import numpy as np
import pytest

from voicelog.hearing.engines.letters import BLANK, FRAME_S, LETTERS, SAMPLES_A_FRAME, Scores
from voicelog.hearing.engines.unexplained import unexplained_s
from voicelog.hearing.levels import Samples

FRAMES = 120
PHRASE = range(20, 50)


def sound(other: range, other_db: float, background_db: float = -70.0) -> Samples:
    """A phrase at -20 dBFS, another voice at its own level, and the noise of a room, dBFS."""
    levels_db = np.full(FRAMES, -200.0)
    levels_db[list(other)] = other_db
    levels_db[list(PHRASE)] = -20.0
    amplitude = np.repeat(10 ** (levels_db / 20), SAMPLES_A_FRAME) * np.sqrt(2)
    tone = np.sin(np.arange(FRAMES * SAMPLES_A_FRAME) * 0.3)
    noise = np.random.default_rng(1).standard_normal(FRAMES * SAMPLES_A_FRAME) * 10 ** (background_db / 20)
    together: Samples = (amplitude * tone + noise).astype(np.float32)
    return together


def letters(*places: range) -> Scores:
    """A letter in every third frame of some places, blanks between."""
    scores = np.full((FRAMES, BLANK + 1), -10.0, np.float32)
    scores[:, BLANK] = 0.0
    for place in places:
        scores[list(place)[::3], LETTERS.index("e")] = 1.0
    return scores


@pytest.mark.parametrize(
    ("other", "other_db", "background_db", "frames"),
    [
        (range(0), -20.0, -70.0, 0),
        (range(70, 100), -20.0, -70.0, 30),
        (range(70, 100), -32.0, -70.0, 30),
        (range(70, 100), -38.0, -70.0, 0),  # too low to be the same person
        (range(70, 100), -32.0, -45.0, 0),  # not above the chatter of the room
        (range(50, 60), -20.0, -70.0, 8),  # next to the last letter it is its own
        (range(12), -20.0, -70.0, 12),  # before the phrase
    ],
)
def test_what_is_loud_and_far_from_letters_counts(
    other: range, other_db: float, background_db: float, frames: int
) -> None:
    found = unexplained_s(sound(other, other_db, background_db), letters(PHRASE))

    assert found == pytest.approx(frames * FRAME_S, abs=2.5 * FRAME_S)


def test_what_was_heard_is_explained() -> None:
    other = range(70, 100)

    assert unexplained_s(sound(other, -20.0), letters(PHRASE, other)) == 0.0


def test_without_letters_or_sound_there_is_nothing_to_explain() -> None:
    assert unexplained_s(sound(range(0), -20.0), letters()) == 0.0
    assert unexplained_s(np.zeros(FRAMES * SAMPLES_A_FRAME, np.float32), letters(PHRASE)) == 0.0
