"""The search of the letters along the grammar, held against the matcher, and against all phrases tried one by one."""

import itertools
from random import Random

import numpy as np
import pytest

from tests.english import load
from tests.hearing.engines.test_letters import clips
from voicelog.hearing.engines import word_network
from voicelog.hearing.engines.alignment import aligned
from voicelog.hearing.engines.letter_search import LetterSearch, Phrase, SearchWidth
from voicelog.hearing.engines.letters import BLANK, LETTERS, LetterModel, Scores, text_log_probability
from voicelog.hearing.engines.letters_engine import LettersEngine
from voicelog.hearing.engines.word_network import WordNetwork
from voicelog.phrases.errors import UnknownRuleError
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.sampler import samples

WIDE = SearchWidth(beam=2000, behind_log=200.0, seldom_log=200.0)


@pytest.fixture(scope="module", name="network")
def _network() -> WordNetwork:
    return WordNetwork(load())


@pytest.fixture(scope="module", name="engine")
def _engine() -> LettersEngine:
    return LettersEngine(load())


def walked(network: WordNetwork, rule: str, line: str) -> float:
    """The log weight of a line as the network has it; minus infinity where it is no phrase."""
    number, weight = network.start(rule), 0.0
    for token in tokenise(line, load().language):
        word = network.tree.number[token._replace(joined=token.text.startswith("'"))]
        over = float(network.ahead.row(number)[network.tree.nodes + word])
        if not np.isfinite(over):
            return over
        number, more = network.after(number, word)
        weight += over + more
    return weight + network.end(number)


@pytest.mark.parametrize("rule", ["line", "in_hand", "answers_confirm"])
def test_phrases_weigh_what_the_matcher_says(network: WordNetwork, rule: str) -> None:
    """But for the rounding of sets, at most an eighth each word and end."""
    walker = load().walker(rule)
    matcher = Matcher(walker)
    for sample in itertools.islice(samples(walker, Random(5)), 30):
        tokens = tokenise(sample.text, load().language)
        weight = matcher.log_weight(tokens)
        assert weight is not None
        assert walked(network, rule, sample.text) == pytest.approx(weight, abs=0.13 * (len(tokens) + 1))


def test_words_that_may_follow_are_those_of_the_matcher(network: WordNetwork) -> None:
    words = [token.text for token in network.tree.tokens]
    for line in ("streak horizontal neutral at", "right eye", "working distance sixty", "it"):
        tokens = tokenise(line, load().language)
        number = network.start("line")
        for token in tokens:
            number, _ = network.after(number, network.tree.number[token])
        allowed = np.isfinite(network.ahead.row(number)[network.tree.nodes : network.tree.column])
        assert {word for word, may in zip(words, allowed, strict=True) if may} == Matcher(
            load().walker("line")
        ).next_words(tokens)


def test_what_is_no_phrase_has_no_way(network: WordNetwork) -> None:
    assert walked(network, "line", "streak horizontal horizontal") == -np.inf
    assert walked(network, "line", "yes") == -np.inf
    assert walked(network, "line lone_answer", "yes") > -np.inf
    with pytest.raises(UnknownRuleError):
        network.start("nothing")


def test_what_is_kept_is_bounded_and_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    network = WordNetwork(load())
    line = "streak vertical neutral with cylinder minus one seventy five axis ninety"
    before = walked(network, "line", line)
    monkeypatch.setattr(word_network, "_MOST_SETS", 3)

    assert walked(network, "line", line) == before
    assert walked(network, "line in_hand", "plus two fifty") > -np.inf


def test_there_is_room_for_more_sets_than_were_reckoned_with(
    monkeypatch: pytest.MonkeyPatch, network: WordNetwork
) -> None:
    monkeypatch.setattr(word_network, "_ROWS", 2)
    line = "streak vertical neutral with cylinder minus one seventy five axis ninety"

    assert walked(WordNetwork(load()), "line", line) == walked(network, "line", line)


def random_scores(frames: int, seed: int) -> Scores:
    """Letters drawn at random, none of them impossible."""
    logits = np.random.default_rng(seed).normal(0.0, 2.0, (frames, BLANK + 1))
    found: Scores = (logits - np.log(np.exp(logits).sum(1, keepdims=True))).astype(np.float32)
    return found


@pytest.mark.parametrize("seed", range(3))
def test_a_phrase_has_the_probability_of_all_its_paths(network: WordNetwork, seed: int) -> None:
    """Every phrase of a small rule, scored by itself; the best first, none left out."""
    scores = random_scores(12, seed)
    search = LetterSearch(network, "answer", WIDE)
    search.take(scores)
    phrases = search.phrases()

    assert {phrase.text for phrase in phrases} == {"yes", "no", "say again"}
    for phrase in phrases:
        assert phrase.log_probability == pytest.approx(text_log_probability(scores, phrase.text), abs=1e-3)
    ranks = [search.rank(phrase) for phrase in phrases]
    assert ranks == sorted(ranks, reverse=True)


def test_words_are_joined_by_an_apostrophe(network: WordNetwork) -> None:
    spelled = "i'm at sixty"
    scores = np.full((3 * len(spelled), BLANK + 1), -20.0, np.float32)
    for place, letter in enumerate(spelled):
        scores[3 * place, LETTERS.index(letter)] = -0.01
        scores[3 * place + 1 : 3 * place + 3, BLANK] = -0.01
    search = LetterSearch(network, "line", SearchWidth())
    search.take(scores)

    assert search.phrases()[0].text == spelled


def test_frames_may_come_in_pieces(network: WordNetwork) -> None:
    scores = random_scores(20, 4)
    whole, pieces = (LetterSearch(network, "digit", WIDE) for _ in range(2))
    whole.take(scores)
    for frame in scores:
        pieces.take(frame[None])

    assert whole.phrases() == pieces.phrases()


def test_no_sound_is_no_phrase(engine: LettersEngine) -> None:
    hearing = engine.hear(np.zeros(500, np.float32), "line")

    assert (hearing.hypotheses, hearing.words, hearing.score, hearing.margin) == ((), (), None, None)


def test_what_was_said_is_heard(engine: LettersEngine) -> None:
    for sound, words in clips():
        hearing = engine.hear(sound, "axis" if words == "fifty" else "line in_hand")
        assert hearing.hypotheses[0].text == words
        assert hearing.score is not None
        assert hearing.score > -0.1  # nothing that the letters could spell is likelier by more
        assert hearing.margin is not None
        assert 5.0 < hearing.margin <= hearing.reach
        assert " ".join(word.text for word in hearing.words) == words
        assert all(
            word.misfit < 1.0 for word in hearing.words
        )  # 6 is too much for a word that tells something


def test_one_utterance_never_changes_what_another_gives(engine: LettersEngine) -> None:
    sounds = [sound for sound, _ in clips()[:2]]
    first = [engine.hear(sound, "line in_hand") for sound in sounds]
    again = [LettersEngine(load()).hear(sound, "line in_hand") for sound in reversed(sounds)]

    for one, other in zip(first, reversed(again), strict=True):
        assert (one.hypotheses, one.words, one.score, one.margin) == (
            other.hypotheses,
            other.words,
            other.score,
            other.margin,
        )


class ManyWordings(LetterSearch):
    """A search that found twenty wordings of one meaning close together, and behind them perhaps another meaning."""

    def __init__(self, engine_network: WordNetwork, *others: str) -> None:
        super().__init__(engine_network, "line in_hand", SearchWidth())
        before = ("", "okay ", "right so ", "now ", "well ")
        behind = ("", " okay", " now", " then")
        texts = [f"{first}plus one{last}" for first in before for last in behind]
        found = [Phrase(text, -0.1 * number, 0.0, 0) for number, text in enumerate(texts)]
        self._found = (*found, *(Phrase(text, -5.0, 0.0, 0) for text in others))

    def phrases(self) -> tuple[Phrase, ...]:
        """The same whatever was taken."""
        return self._found


def test_many_wordings_of_one_meaning_are_no_reason_to_ask(
    engine: LettersEngine, network: WordNetwork
) -> None:
    alone = engine._said(ManyWordings(network), "line in_hand")
    beside = engine._said(ManyWordings(network, "minus one"), "line in_hand")

    assert len(alone.hypotheses) == 1
    assert alone.reach == 12.0
    assert [each.text for each in beside.hypotheses] == ["plus one", "minus one"]


def test_a_word_that_was_not_said_fits_badly() -> None:
    sound, words = clips()[0]
    scores = LetterModel().posteriors(sound)
    spoken = words.split()
    kept = aligned(scores, words)
    assert [word.text for word in kept] == spoken
    assert [word.first for word in kept[1:]] == [word.last for word in kept[:-1]]
    assert (kept[0].first, kept[-1].last) == (0, len(scores))

    without = " ".join([spoken[0], *spoken[2:]])
    assert max(word.misfit for word in aligned(scores, without)) > 8.0
    assert aligned(scores[:3], words) == ()
