"""The network of letters: what it hears, and that nothing but the sound and what went before it counts.

The clips are voices that the network was not trained on (Kokoro-82M's, Apache-2.0; tests/corpora/voices.py).
"""

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rapidfuzz.distance.Levenshtein import distance

from voicelog.errors import MissingPartError
from voicelog.hearing.engines import letters
from voicelog.hearing.engines.letters import (
    BLANK,
    LETTERS,
    SAMPLES_A_FRAME,
    LetterModel,
    Scores,
    greedy_text,
    text_log_probability,
)
from voicelog.hearing.engines.protocol import Samples

CLIPS = Path(__file__).parents[1] / "audio" / "letters"


@pytest.fixture(scope="module", name="model")
def loaded() -> LetterModel:
    return LetterModel()


def clips() -> list[tuple[Samples, str]]:
    """Sound and words of each clip."""
    with (CLIPS / "manifest.tsv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    return [(soundfile.read(CLIPS / row["path"], dtype="float32")[0], row["transcript"]) for row in rows]


def test_letters_of_voices_never_heard_are_read(model: LetterModel) -> None:
    amiss = 0
    for samples, words in clips():
        amiss += distance(greedy_text(model.posteriors(samples)), words)
    assert amiss <= 1  # of 112 letters: a "fifty" said fast has no second t


def test_what_was_said_is_likelier_than_its_neighbours(model: LetterModel) -> None:
    for samples, words in clips():
        scores = model.posteriors(samples)
        changed = [
            words.replace(one, other)
            for one, other in (
                ("fifteen", "fifty"),
                ("fifty", "fifteen"),
                ("plus", "minus"),
                ("four", "five"),
            )
            if one in words
        ]
        assert changed
        for other in changed:
            assert text_log_probability(scores, words) > text_log_probability(scores, other) + 2.0


def test_each_frame_is_a_distribution(model: LetterModel) -> None:
    samples, _ = clips()[0]
    scores = model.posteriors(samples)

    assert scores.shape == ((len(samples) - 895) // SAMPLES_A_FRAME + 1, len(LETTERS) + 1)
    assert np.exp(scores).sum(1) == pytest.approx(np.ones(len(scores)), abs=1e-5)


def test_one_utterance_never_changes_what_another_gives(model: LetterModel) -> None:
    first, second = clips()[0][0], clips()[1][0]
    alone = model.posteriors(first)
    model.posteriors(second)
    stream = model.stream()
    stream.feed(second)

    assert np.array_equal(model.posteriors(first), alone)
    assert np.array_equal(LetterModel().posteriors(first), alone)


def streamed(model: LetterModel, pieces: list[Samples]) -> Scores:
    """The letters of sound that comes in pieces."""
    stream = model.stream()
    found = [stream.feed(piece) for piece in pieces]
    return np.concatenate([*found, stream.finish()])


def test_a_stream_hears_the_same_however_it_is_cut(model: LetterModel) -> None:
    samples, words = clips()[0]
    whole = streamed(model, [samples])
    cut = streamed(model, [samples[at : at + 512] for at in range(0, len(samples), 512)])

    assert np.array_equal(whole, cut)
    assert len(whole) == len(model.posteriors(samples))
    assert greedy_text(whole) == words


def test_what_a_stream_gave_does_not_depend_on_what_follows(model: LetterModel) -> None:
    samples = clips()[0][0]
    early = model.stream().feed(samples[:24_000])
    louder = np.concatenate([samples[:24_000], 4 * samples[24_000:]])

    assert len(early) > 0
    assert np.array_equal(streamed(model, [louder])[: len(early)], early)


@pytest.mark.parametrize("gain", [0.05, 1.5])
def test_level_hardly_counts(model: LetterModel, gain: float) -> None:
    samples, words = clips()[0]

    assert greedy_text(model.posteriors(samples * np.float32(gain))) == words


def test_too_short_a_sound_gives_no_frame(model: LetterModel) -> None:
    scores = model.posteriors(np.zeros(894, np.float32))

    assert scores.shape == (0, BLANK + 1)
    assert greedy_text(scores) == ""
    assert text_log_probability(scores, "a") == -math.inf


def collapsed(path: tuple[int, ...]) -> str:
    """The text of a path of letters and blanks: repeats count once, blanks not at all."""
    return "".join(LETTERS[each] for each, _ in itertools.groupby(path) if each != BLANK)


@pytest.mark.parametrize("text", ["", "a", "aa", "ab", "aba", "abb"])
def test_the_probability_of_a_text_is_the_sum_over_its_paths(text: str) -> None:
    chance = np.random.default_rng(4)
    probabilities = np.full((5, BLANK + 1), 1e-12)
    columns = [LETTERS.index("a"), LETTERS.index("b"), BLANK]
    probabilities[:, columns] = chance.dirichlet(np.ones(3), 5)
    scores = np.log(probabilities).astype(np.float32)
    total = sum(
        math.prod(probabilities[time, each] for time, each in enumerate(path))
        for path in itertools.product(columns, repeat=5)
        if collapsed(path) == text
    )

    assert text_log_probability(scores, text) == pytest.approx(math.log(total), rel=1e-4)


def test_a_missing_model_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letters, "catalogue_path", lambda: tmp_path / "catalogue.toml")

    with pytest.raises(MissingPartError, match=r"en/letters\.onnx is missing; reinstall voicelog"):
        LetterModel()
