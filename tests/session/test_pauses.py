"""A pause inside a number, in real speech: no half of it stays entered."""

import numpy as np
import pytest

from tests.hearing.packed import Clip, index
from voicelog.exam.events import Line
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.session import Session

VOICE = "kokoro-af_heart"
PLACE = "streak ninety neutral at plus two and a quarter"
WHOLE = "streak eighty five neutral at plus three twenty five"


def clip(transcript: str) -> Clip:
    """What a test voice said."""
    return next(each for each in index() if (each.speaker, each.transcript) == (VOICE, transcript))


def silence(seconds: float) -> Samples:
    """A quiet room."""
    noise = np.random.default_rng(3).standard_normal(int(seconds * SAMPLE_RATE_HZ))
    return (noise * 1e-4).astype(np.float32)


def paused(engine: Engine, said: Clip, words: int, pause_s: float) -> Samples:
    """The clip with a pause behind so many words, at the quietest place near the beginning of the next."""
    sound = said.samples
    heard = engine.hear(sound, "line in_hand")
    assert " ".join(word.text for word in heard.words) == said.transcript
    frame = SAMPLE_RATE_HZ // 100
    levels = (sound[: len(sound) // frame * frame].reshape(-1, frame) ** 2).mean(1)
    begin = int(heard.words[words].start_s * 100)
    at = frame * (begin - 18 + int(levels[begin - 18 : begin + 2].argmin()))
    return np.concatenate([silence(0.5), sound[:at], silence(pause_s), sound[at:], silence(1.0)])


def streamed(session: Session, sound: Samples) -> list[Line]:
    """What becomes of an exam that is given sound as it would come from a microphone."""
    blocks = [
        Block(sound[start : start + 512], start, 0.0)
        for start in range(0, len(sound) - len(sound) % 512, 512)
    ]
    return [session.hear(each) for each in utterances(iter(blocks))]


def powers(session: Session) -> list[float]:
    """Neutral powers of the right eye, dioptres."""
    return [each.gross_d for each in session.state.eyes["right"].neutral]


def begun(engine: Engine) -> Session:
    """An exam of the right eye."""
    session = Session(engine=engine)
    session.type_line("right eye")
    return session


@pytest.mark.parametrize("pause_s", [0.8, pytest.param(1.2, marks=pytest.mark.sweep)])
@pytest.mark.parametrize(
    ("transcript", "power_d"), [(PLACE, 2.25), pytest.param(WHOLE, 3.25, marks=pytest.mark.sweep)]
)
def test_no_half_of_a_power_stays_entered(
    engine: Engine, transcript: str, power_d: float, pause_s: float
) -> None:
    """A pause at every place of a phrase; what is not entered whole is asked about, at one place in four at most."""
    places = range(1, len(transcript.split()))
    whole = 0
    for words in places:
        session = begun(engine)
        streamed(session, paused(engine, clip(transcript), words, pause_s))
        found = powers(session)
        assert found == [power_d] or (found == [] and session.state.question is not None), (words, found)
        whole += found == [power_d]
    assert whole >= 0.75 * len(places)


def test_what_was_entered_of_it_is_taken_back(engine: Engine) -> None:
    session = begun(engine)
    first, second = streamed(session, paused(engine, clip(WHOLE), 7, 0.8))

    assert (first.outcome, second.outcome) == ("accepted", "accepted")
    assert (second.text, powers(session)) == (WHOLE, [3.25])
    assert "taken back" in second.reply


def test_after_a_longer_pause_nothing_is_joined(engine: Engine) -> None:
    session = begun(engine)
    streamed(session, paused(engine, clip(WHOLE), 7, 2.2))

    assert powers(session) == [3.0]


def test_other_talk_behind_an_entry_changes_nothing(engine: Engine) -> None:
    talk = next(each for each in index() if each.set_name == "talk" and each.speaker == VOICE)
    session = begun(engine)
    sound = np.concatenate([silence(0.5), clip(WHOLE).samples, silence(0.8), talk.samples, silence(1.0)])
    first, *others = streamed(session, sound)

    assert first.outcome == "accepted"
    assert {line.outcome for line in others} == {"ignored"}
    assert powers(session) == [3.25]
