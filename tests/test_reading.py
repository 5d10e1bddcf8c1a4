"""The documents can be read at once: grade 9 at most by Flesch and Kincaid, paragraph by paragraph."""

from pathlib import Path

import pytest

from tests.reading_grade import counts, grade, paragraphs

ROOT = Path(__file__).parent.parent
HARDEST_GRADE = 9.0
HELD = ("README.md", *sorted(f"docs/{path.name}" for path in ROOT.glob("docs/*.md")))


@pytest.mark.parametrize(
    ("text", "words", "sounds", "published"),
    [
        ("The cat sat on the mat.", 6, 6, -1.45),
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            13,
            24,
            11.3,
        ),
    ],
)
def test_the_measure_gives_published_grades(text: str, words: int, sounds: int, published: float) -> None:
    """Examples of an encyclopaedia's article on the formula: 24 syllables, 13 words, grade 11.3; the other from memory."""
    assert counts(text) == (1, words, sounds)
    assert grade(text) == pytest.approx(published, abs=0.05)


@pytest.mark.parametrize("name", HELD)
def test_no_paragraph_is_harder_than_grade_nine(name: str) -> None:
    found = paragraphs((ROOT / name).read_text(encoding="utf-8"))
    hard = [f"{grade(each):.1f}: {each}" for each in found if grade(each) > HARDEST_GRADE]

    assert found
    assert not hard, "\n".join(hard)


def test_a_long_sentence_of_long_words_is_refused_and_code_is_no_prose() -> None:
    """Nothing hides: a hard paragraph is found among easy ones, tables and code are left out."""
    hard = "Notwithstanding considerable administrative complexity, organisational responsibilities necessitate additional documentation procedures everywhere, regrettably without exception."
    document = f"# Title\n\n```sh\nnever read\n```\n\n| a | b |\n\n{hard}\n"

    assert paragraphs(document) == [hard]
    assert grade(hard) > HARDEST_GRADE
