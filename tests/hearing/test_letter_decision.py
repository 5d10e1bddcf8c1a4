"""Accept, ask or ignore what the network of letters heard, from the figures alone."""

import pytest

from tests.english import ENGLISH, load
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import HeardWord, Hearing, Hypothesis
from voicelog.hearing.letter_decision import LetterLimits, default_letter_limits
from voicelog.measuring.choosing import in_order
from voicelog.phrases.lines import LineReader
from voicelog.phrases.word_sets import words_of

READER = LineReader(load(), "line in_hand lone_answer")
LIMITS = LetterLimits(
    ask_score=-3.0,
    ask_score_a_letter=-0.5,
    ask_margin=2.0,
    sure_score_a_letter=-0.4,
    seconded_score_a_letter=-0.5,
    accept_margin=10.0,
    alone_margin=9.0,
    alone_score=-1.0,
    accept_fit=-9.0,
    telling_fit=-3.0,
    accept_score_a_letter=-0.4,
    answer_score=-1.0,
    answer_margin=8.0,
    agreed_margin=5.0,
    grave_margin=7.0,
    agreed_opinion=3.0,
    clear_margin=8.0,
    apart=1.0,
    agreed_score=-12.0,
    agreed_score_a_letter=-0.5,
    agreed_fit=-10.0,
    agreed_telling_fit=-5.0,
    same_score=-2.0,
    same_score_a_letter=-0.2,
    odd_score_a_letter=-0.3,
)
READING = "streak vertical neutral at plus one"
OTHER = "streak vertical neutral at plus two"
ELSE = "right eye"


def heard(
    text: str,
    *,
    score: float = 0.0,
    rival: str = OTHER,
    margin: float = 12.0,
    second: float | None = None,
    second_score: float = 0.0,
    second_letters: int = 0,
    apart: float = 9.0,
    unexplained_s: float = 0.0,
    reach: float = 12.0,
    **misfits: float,
) -> Hearing:
    """A hearing of `text` before a rival, with the misfits of words by name."""
    telling = words_of(load(), "telling")
    texts = [(text, score), (rival, score - margin)]
    hypotheses = [Hypothesis(each, READER.understand(each).readings[0], log) for each, log in texts]
    words = [HeardWord(word, 0.0, 0.1, misfits.get(word, 0.0), word in telling) for word in text.split()]
    return Hearing(
        "letters",
        tuple(hypotheses),
        "",
        0.0,
        0.1,
        second_opinion=second,
        second_score=None if second is None else second_score,
        second_letters=None if second is None else second_letters,
        second_apart=None if second is None else apart,
        words=tuple(words),
        unexplained_s=unexplained_s,
        reach=reach,
    )


@pytest.mark.parametrize(
    ("hearing", "outcome"),
    [
        (heard(READING), "accepted"),
        (heard(READING, margin=10.1), "accepted"),
        (heard(READING, score=-1.1, margin=10.1), "accepted"),
        # A rival may be nearer where the letters are those of the phrase, and no judge was asked.
        (heard(READING, margin=9.1), "accepted"),
        (heard(READING, margin=8.9), "asked"),
        (heard(READING, score=-0.9, margin=9.1), "accepted"),
        (heard(READING, score=-1.1, margin=9.1), "asked"),
        (heard(READING, margin=9.1, plus=3.5), "asked"),
        (heard(READING, margin=9.1, second=-0.1), "asked"),
        # What the score may be grows with the length, thirty letters here, and is less where the margin is small.
        (heard(READING, score=-11.9), "accepted"),
        (heard(READING, score=-12.1), "asked"),
        (heard(READING, score=-17.9), "asked"),
        (heard(READING, score=-18.1), "ignored"),
        (heard("right eye", score=-3.1), "accepted"),
        (heard("right eye", score=-6.9), "asked"),
        (heard("right eye", score=-7.1), "ignored"),
        (heard(READING, score=-7.9, margin=1.9), "asked"),
        (heard(READING, score=-8.1, margin=1.9), "ignored"),
        (Hearing("letters", (), "hello", -1.0, 0.1), "ignored"),
        # One word amiss leads to a question; less is allowed to a word that tells something.
        (heard(READING, score=-8.0, at=8.0), "accepted"),
        (heard(READING, score=-9.5, at=9.5), "asked"),
        (heard(READING, score=-2.5, plus=2.5), "accepted"),
        (heard(READING, score=-3.5, plus=3.5), "asked"),
        (heard(READING, score=-3.5, neutral=3.5), "asked"),
        # With a judge: the margin of both, its own preference, its own score, and how the words fit.
        (heard(READING, rival=ELSE, margin=5.1, second=3.1, second_score=-11.0), "accepted"),
        (heard(READING, rival=ELSE, margin=4.9, second=3.1, second_score=-11.0), "asked"),
        (heard(READING, rival=ELSE, margin=5.1, second=2.9, second_score=-11.0), "asked"),
        (heard(READING, rival=ELSE, margin=5.1, second=3.1, second_score=-13.0), "asked"),
        (heard(READING, score=-9.0, margin=9.0, second=3.1, second_score=-11.0, at=9.9), "accepted"),
        (heard(READING, score=-9.0, margin=9.0, second=3.1, second_score=-11.0, at=10.1), "asked"),
        (heard(READING, score=-4.0, margin=9.0, second=3.1, second_score=-11.0, plus=4.9), "accepted"),
        (heard(READING, score=-4.0, margin=9.0, second=3.1, second_score=-11.0, plus=5.1), "asked"),
        (heard("against", rival="with", margin=9.0, second=9.0, second_score=-3.4), "accepted"),
        (heard("against", rival="with", margin=9.0, second=9.0, second_score=-3.6), "asked"),
        # Where the margin is clear the judge need only not prefer another.
        (heard(READING, rival=ELSE, margin=8.1, second=0.1, second_score=-11.0), "accepted"),
        (heard(READING, rival=ELSE, margin=7.9, second=0.1, second_score=-11.0), "asked"),
        (heard(READING, rival=ELSE, margin=8.1, second=-0.1, second_score=-11.0), "asked"),
        # It must prefer each number, sign, eye and motion, whether or not the letters have a rival there.
        (heard(READING, second=9.0, apart=0.9), "asked"),
        (heard(READING, second=9.0, apart=1.1), "accepted"),
        # What it heard well may fit the letters less.
        (heard(READING, score=-14.9, second=9.0, second_score=-1.9, plus=4.9), "accepted"),
        (heard(READING, score=-14.9, margin=7.9, second=9.0, second_score=-1.9, plus=4.9), "asked"),
        (heard("right eye", score=-3.9, second=9.0, second_score=-1.5, eye=2.9), "accepted"),
        (heard("right eye", score=-3.9, second=9.0, second_score=-1.7, eye=2.9), "asked"),
        # What the letters alone leave clear must not be too unlikely to the judge: thirty letters here.
        (heard(READING, margin=10.1, second=0.0, second_score=-11.9), "accepted"),
        (heard(READING, margin=10.1, second=0.0, second_score=-12.1), "asked"),
        # What it heard about the same itself may be further from the letters that fit best.
        (heard(READING, score=-19.0, second=9.0, second_score=-1.9, plus=4.9), "asked"),
        (heard(READING, score=-19.0, second=9.0, second_score=-2.1), "ignored"),
        (heard(READING, score=-46.0, second=9.0, second_score=-1.9), "ignored"),
        # Another number, sign, eye or motion alone needs a larger margin.
        *(
            (heard(said, rival=rival, margin=margin, second=3.1, second_score=-3.0), outcome)
            for said, rival in (
                ("streak fifty with", "streak fifteen with"),
                ("plus one", "minus one"),
                ("right eye", "left eye"),
                ("streak vertical with", "streak vertical against"),
                ("streak vertical with", "streak horizontal with"),
            )
            for margin, outcome in ((6.9, "asked"), (7.1, "accepted"))
        ),
        # Axes that are likelier misheard than meant, unless both heard them and nothing else.
        (heard("streak sixteen with"), "asked"),
        (heard("streak sixteen with", second=9.0, second_score=-5.2), "asked"),
        (heard("streak sixteen with", second=9.0, second_score=-5.0), "accepted"),
        (heard("streak sixteen with", margin=7.9, second=9.0, second_score=-5.0), "asked"),
        (heard("streak sixteen with", second=2.9, second_score=-5.0), "asked"),
        (heard("streak one seventy two with"), "accepted"),
        # Somebody spoke beside the phrase, or went on lower: thirty letters are the phrase's own.
        (heard(READING, unexplained_s=0.3), "accepted"),
        (heard(READING, unexplained_s=0.4), "asked"),
        (heard(READING, unexplained_s=0.4, second=9.0, second_letters=33), "accepted"),
        (heard(READING, unexplained_s=0.4, second=9.0, second_letters=34), "asked"),
        (heard("yes", score=-0.5, unexplained_s=0.4), "asked"),
        # Answers need more than entries.
        (heard("yes", score=-0.5), "accepted"),
        (heard("yes", score=-1.5), "asked"),
        (heard("yes", score=-0.5, margin=7.0), "asked"),
        (heard("yes", score=-4.6), "ignored"),
    ],
)
def test_outcomes(hearing: Hearing, outcome: str) -> None:
    assert decide(hearing, ENGLISH, LIMITS) == outcome


def test_without_a_rival_the_margin_is_how_far_it_was_looked() -> None:
    hearing = heard(READING)
    alone = Hearing("letters", hearing.hypotheses[:1], "", 0.0, 0.1, words=hearing.words, reach=5.0)

    assert alone.margin == 5.0
    assert decide(alone, ENGLISH, LIMITS) == "asked"


def test_the_shipped_limits_are_in_order() -> None:
    assert in_order(default_letter_limits())
