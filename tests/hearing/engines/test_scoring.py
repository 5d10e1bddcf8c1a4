"""The attention decoder as a judge of phrases, on a recorded test voice."""

import numpy as np
import pytest

from tests.english import ENGLISH
from tests.hearing.packed import index
from voicelog.hearing.engines.letters import LetterModel, States
from voicelog.hearing.engines.scoring import PhraseJudge
from voicelog.hearing.misheard import exchanges

SAID = "streak eighty five neutral at plus three twenty five"
OTHERS = [SAID.replace("three", "two"), SAID.replace("plus", "minus"), "right eye"]


@pytest.fixture(scope="module", name="judge")
def _judge() -> PhraseJudge:
    return PhraseJudge()


@pytest.fixture(scope="module", name="states")
def _states() -> States:
    clip = next(each for each in index() if (each.speaker, each.transcript) == ("kokoro-af_heart", SAID))
    silence = np.zeros(4000, np.float32)
    return LetterModel().whole(np.concatenate([silence, clip.samples, silence]))[1]


def test_what_was_said_is_likelier_than_what_was_not(judge: PhraseJudge, states: States) -> None:
    opinion = judge.judge(states, [*OTHERS, SAID], {})

    assert opinion.phrases.shape == (4,)
    assert opinion.phrases.argmax() == 3
    assert np.sort(opinion.phrases)[-1] - np.sort(opinion.phrases)[-2] > 3.0
    assert opinion.phrases.max() > opinion.own - 12.0
    assert abs(opinion.letters - len(SAID.replace(" ", ""))) < 12


def test_a_phrase_is_judged_alike_whatever_is_beside_it(judge: PhraseJudge, states: States) -> None:
    """But for the rounding of the decoder's activations, which is common to the lines of a pass."""
    alone = judge.judge(states, [SAID], {}).phrases[0]
    beside = judge.judge(states, [SAID, *OTHERS, *OTHERS], {}).phrases[0]

    assert beside == pytest.approx(alone, abs=1.0)


def test_words_are_told_from_others_in_their_places(judge: PhraseJudge, states: States) -> None:
    """Without being given the other phrases: a wrong sign or number is behind the right one, and nothing else counts."""
    told = exchanges(ENGLISH)
    said, *others = judge.judge(states, [SAID, *OTHERS[:2]], told).apart

    assert said > 1.0
    assert all(other < -3.0 for other in others)
    assert np.isinf(judge.judge(states, ["streak neutral"], {}).apart).all()
