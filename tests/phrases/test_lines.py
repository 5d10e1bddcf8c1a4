"""Whole lines: what they mean, and what is said when they are none."""

from itertools import islice
from random import Random

import pytest

from tests.english import load
from tests.phrases.telling import told
from voicelog.phrases import meanings as say
from voicelog.phrases.building import build
from voicelog.phrases.card import phrase_card
from voicelog.phrases.grammar import Grammar, references
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError, reader_of
from voicelog.phrases.matcher import Matcher, Meanings, tokenise
from voicelog.phrases.meanings import MEANING
from voicelog.phrases.plain_words import in_plain_words
from voicelog.phrases.sampler import samples
from voicelog.phrases.word_sets import exact_words

READER = LineReader(load(), "line", *TYPED)


def meaning(text: str) -> dict[str, object]:
    """The one meaning of a line, as JSON without what was not said."""
    ((found,),) = READER.understand(text).readings
    return told(found)


def test_the_commonest_line() -> None:
    assert meaning("horizontal neutral at plus three") == {
        "kind": "reading",
        "where": {"angle": 180},
        "motion": "neutral",
        "lens": {"sphere": 3.0},
    }


def test_at_never_decides_between_axis_and_lens() -> None:
    """ "Neutral at fifty" is a lens without a sign, never a meridian (facts of the trade, point 7)."""
    assert meaning("vertical neutral at fifty")["lens"] == {
        "sphere": {"size": 0.5, "sign": None},
    }


def test_relative_lenses_are_marked_and_never_totals() -> None:
    """ "Another half" and "on top" (facts of the trade, points 8 and 6.1)."""
    for line in ("another plus a half", "plus a half on top", "plus a half more"):
        assert meaning(line)["lens"] == {"sphere": 0.5, "on_top": True}


def test_sphere_and_cylinder_are_never_added_up() -> None:
    """ "Two minus one" is no arithmetic (facts of the trade, 6.1)."""
    assert meaning("minus two minus one by ninety")["lens"] == {
        "sphere": -2.0,
        "cylinder": {"power": -1.0, "axis": 90},
    }


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Streak horizontal, neutral with sphere +1.25.", "streak horizontal neutral with sphere plus 1.25"),
        ("SPHERE -2.25 CYLINDER -0.50 x 090", "sphere -2.25 cylinder -0.50 axis 90"),
        ("twenty-five degrees with", "twenty five degrees with"),
    ],
)
def test_case_marks_and_hyphens_do_not_matter(line: str, said: str) -> None:
    assert meaning(line) == meaning(said)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("", "empty"),
        ("streak", "not finished"),
        ("strak vertical with", "did you mean 'streak vertical with'?"),
        ("vertical nuetral at plus three", "did you mean 'vertical neutral at plus three'?"),
        ("look at the big letter", "not understood from 'look'"),
    ],
)
def test_a_line_that_is_no_phrase_says_where_and_what_was_meant(line: str, message: str) -> None:
    with pytest.raises(NotAPhraseError, match=message.replace("?", r"\?")):
        READER.understand(line)


@pytest.mark.parametrize(
    "line",
    [
        "plus fiftee",
        "vertical neutral at plis three",
        "rigth eye",
        "horizontl with",
        "axis nintey",
        "sphere pluss two",
    ],
)
def test_numbers_signs_axes_and_eyes_are_not_even_suggested(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    assert "did you mean" not in str(caught.value)


def test_words_of_numbers_are_exact() -> None:
    assert {"fifty", "fifteen", "plus", "minus", "right", "left", "ninety"} <= exact_words(load())
    assert {"streak", "cylinder", "neutral", "correction"}.isdisjoint(exact_words(load()))


_KINDS = (
    "entry", "reading", "lenses", "reflex", "working_lens", "working_distance", "correction", "withdrawal", "move",
    "question", "control", "acuity", "refined", "spectacles", "drops", "pupils", "finding", "near_finding", "change",
    "eye", "mirror", "technique", "pass", "habit", "condition", "by_place", "by_lens", "loose_where",
    "swap", "axis_change", "pupils_distance", "vertex",
)  # fmt: skip


def what_it_can_say(line: str, rule: str) -> set[Meanings]:
    """All that the words of a line can say, before the plainest is chosen."""
    walker = load().walker(rule, *TYPED)
    values = Matcher(walker).values(tokenise(line, load().language))
    return {build(walker.rule, value) for value in values}


def plainly(line: str, rule: str) -> tuple[Meanings, ...]:
    """What a line says; nothing where it would be a power that no lens has."""
    try:
        return LineReader(load(), rule).understand(line).readings
    except NotAPhraseError:
        return ()


@pytest.mark.parametrize("count", [15, pytest.param(60, marks=pytest.mark.sweep)])
def test_random_phrases_are_matched_back(count: int) -> None:
    """The generator's own meanings, made while it walked, against the matcher's, made from the words alone."""
    grammar = load()
    said = as_meant = 0
    for rule in _KINDS:
        for sample in islice(samples(grammar.walker(rule), Random(11)), count):
            assert sample.meanings in what_it_can_say(sample.text, rule), sample.text
            said += 1
            as_meant += plainly(sample.text, rule) == (sample.meanings,)
    # The rest says two things in the same words ("the fifty against"), which is for asking.
    assert as_meant >= 0.97 * said


@pytest.mark.sweep
def test_random_phrases_reach_every_rule() -> None:
    """The rules are about a thousand, some of them three others deep: all are reached by some 20,000 phrases."""
    left = rules_of_an_entry(load())
    for sample in islice(samples(load().walker("entry"), Random(11)), 40_000):
        left -= sample.rules
        if not left:
            break

    assert sorted(left) == []


@pytest.mark.parametrize("count", [100, pytest.param(2000, marks=pytest.mark.sweep)])
def test_random_lines_are_matched_back(count: int) -> None:
    for sample in islice(samples(load().walker("line"), Random(7), seldom=False), count):
        assert sample.meanings in what_it_can_say(sample.text, "line"), sample.text


def rules_of_an_entry(grammar: Grammar) -> set[str]:
    """The rules that an entry can pass through; grammars of other listening may lie in the same folder."""
    found: set[str] = set()
    todo = ["line"]
    while todo:
        name = todo.pop()
        if name not in found:
            found.add(name)
            todo += [ref.name for ref in references(grammar.rules[name].main.node)]
    return found


@pytest.mark.parametrize("rule", ["power", "axis", "digit", "answer", "distance"])
def test_rules_that_stand_on_their_own_are_matched_back(rule: str) -> None:
    reader = LineReader(load(), rule)
    for sample in islice(samples(load().walker(rule), Random(5)), 200):
        assert reader.understand(sample.text).readings == (sample.meanings,), sample.text


def test_every_meaning_survives_json() -> None:
    for sample in islice(samples(load().walker("line"), Random(3)), 60):
        for meaning in sample.meanings:
            assert MEANING.validate_json(meaning.model_dump_json()) == meaning


def test_the_card_shows_phrases_that_can_be_said() -> None:
    card = phrase_card(load())

    assert len(card) >= 15
    for item in card:
        assert item.examples, f"<{item.rule}> has no example"
        for example in item.examples:
            assert reader_of(load(), f"{item.rule} line in_hand").phrase(example) is not None, example


def test_heard_spellings_are_shown_in_plain_words() -> None:
    heard = "Street one twenty five neutral with Sill minus 1.25, access 35."

    assert in_plain_words(load(), heard) == "streak one twenty five neutral with cylinder minus 1.25 axis 35"


def test_typed_lines_do_not_take_heard_spellings() -> None:
    for line in ("street ninety with", "sphere plus won", "cylinder minus one access ninety"):
        with pytest.raises(NotAPhraseError):
            READER.understand(line)


@pytest.mark.parametrize("line", ["We'll have the right eye first, Dorothy.", "Mr Ahmed, now the right eye"])
def test_the_name_of_who_is_spoken_to_tells_nothing(line: str) -> None:
    (reading,) = LineReader(load(), "line", *TYPED).understand(line).readings

    assert reading == (say.Eye(eye="right"),)


def test_beside_a_power_no_word_is_a_name() -> None:
    with pytest.raises(NotAPhraseError):
        LineReader(load(), "line", *TYPED).understand("Vertical plus one, Declined.")
