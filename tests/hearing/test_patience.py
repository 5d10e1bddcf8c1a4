"""How long a pause must be after what was heard so far."""

from dataclasses import replace

import numpy as np
import pytest

from tests.english import ENGLISH, load
from tests.hearing.test_letter_decision import READING, heard
from voicelog.hearing.engines.letter_search import LetterSearch, SearchWidth
from voicelog.hearing.engines.letters import BLANK, LETTERS, Scores
from voicelog.hearing.engines.protocol import Ending, Hearing
from voicelog.hearing.engines.word_network import WordNetwork
from voicelog.hearing.patience import AFTER_BEGINNING_S, AFTER_SURE_S, AFTER_WHOLE_S, patience_s

NOTHING = Hearing("letters", (), "streak vertical neutral at", -1.0, 0.1)


@pytest.mark.parametrize(
    ("hearing", "ending", "silence_s"),
    [
        (heard(READING), Ending(READING, 0.0, 3.0), AFTER_WHOLE_S),
        (heard(READING), Ending(READING, 0.0, 0.0), AFTER_SURE_S),  # "plus one" may go on
        (heard(READING, margin=0.5), Ending(READING, 0.0, 3.0), None),  # not sure
        (heard(READING), None, None),  # an engine that does not know
        (NOTHING, Ending("streak vertical neutral at", -1.0, 3.0), AFTER_BEGINNING_S),
        (NOTHING, Ending("streak vertical neutral at", -40.0, 3.0), None),  # other talk
        (heard("right eye", score=-30.0), Ending("right eye plus", -0.5, 3.0), AFTER_BEGINNING_S),
        (heard("right eye", score=-30.0), Ending("right eye", -30.0, 3.0), None),
    ],
)
def test_a_whole_phrase_needs_less_and_a_beginning_more(
    hearing: Hearing, ending: Ending | None, silence_s: float | None
) -> None:
    assert patience_s(replace(hearing, ending=ending), ENGLISH) == silence_s


def spoken(text: str) -> Scores:
    """Letters as a network gives them that is sure of each: the letter, then a blank."""
    scores = np.full((2 * len(text), BLANK + 1), -20.0, np.float32)
    for place, letter in enumerate(text):
        scores[2 * place, LETTERS.index(letter)] = scores[2 * place + 1, BLANK] = 0.0
    return scores


@pytest.fixture(scope="module", name="network")
def _network() -> WordNetwork:
    return WordNetwork(load())


@pytest.mark.parametrize(
    ("said", "whole", "over"),
    [
        ("plus one and a half", True, True),
        ("right eye", True, True),
        ("cylinder minus one seventy five axis one seventy two", True, True),
        ("plus one", True, False),  # and a half
        ("streak ninety neutral", True, False),  # at plus two
        ("axis one hundred", True, False),  # and five
        ("streak ninety neutral at", False, False),
        ("plus one point", False, False),
    ],
)
def test_the_search_knows_what_may_follow(network: WordNetwork, said: str, whole: bool, over: bool) -> None:
    search = LetterSearch(network, "line in_hand", SearchWidth())
    search.take(spoken(said))
    phrases, beginning = search.phrases(), search.beginning()

    assert beginning is not None
    assert beginning.text == said
    assert [each.text for each in phrases[:1]] == ([said] if whole else [])
    if whole:
        assert (network.closing(phrases[0].behind) >= 1.75) is over
