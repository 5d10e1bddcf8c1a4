"""The training texts: the same for the same seed, sayable, and none of those that are kept back."""

import csv
import re
from pathlib import Path
from random import Random

import pytest

from models.training import numbers
from models.training.clips import is_tuning
from models.training.neighbours import some_near
from models.training.texts import HERE, Counts, Templates, make, speakable


def column(path: Path, kind: str = "") -> list[str]:
    """The texts of a file, or those of one kind."""
    with path.open(encoding="utf-8", newline="") as file:
        return [row["text"] for row in csv.DictReader(file, delimiter="\t") if kind in ("", row["kind"])]


def test_texts_are_the_same_again_and_none_is_kept_back(tmp_path: Path) -> None:
    counts = Counts(phrases=300, sentences=50, near_talk=150)
    make(tmp_path / "first", None, counts, seed=3)
    texts = column(tmp_path / "first" / "texts.tsv")
    kept_back = column(tmp_path / "first" / "evaluation.tsv")
    judged = next(
        each for each in column(tmp_path / "first" / "texts.tsv", "general") if len(each.split()) > 4
    )
    (tmp_path / "judged.tsv").write_text(f"id\tsentence\nn1\t{judged}\n", "utf-8")
    make(tmp_path / "second", None, counts, seed=3, judged=[tmp_path / "judged.tsv"])

    assert sorted(text for text in texts if text != judged) == sorted(
        column(tmp_path / "second" / "texts.tsv")
    )
    assert kept_back == column(tmp_path / "second" / "evaluation.tsv")
    assert len(texts) > 300
    assert len(set(kept_back)) == len(kept_back) == 480
    assert not {text for text in kept_back if len(text.split()) > 2} & set(texts)
    assert all(speakable(text) for text in texts)


@pytest.mark.parametrize("name", ["phrases.txt", "talk.txt", "near_talk.txt"])
def test_every_list_of_the_templates_can_be_drawn_from(name: str) -> None:
    text = re.sub(r"^#.*", "", (HERE / name).read_text("utf-8"), flags=re.MULTILINE)
    templates, chance = Templates(HERE / name, {"entry": lambda _: "plus one"}), Random(1)
    headings = re.findall(r"^\[(\w+)", text, re.MULTILINE)

    assert headings
    for heading in {*headings, *re.findall(r"\{(\w+)\}", text)}:
        for _ in range(30):
            assert re.fullmatch(r"[a-z' ]+", templates.draw(heading, chance)), heading


def test_prices_years_and_numbers_to_ring_are_words() -> None:
    chance = Random(2)
    for drawn in (numbers.price, numbers.year, numbers.phone, numbers.age, numbers.tens):
        assert all(re.fullmatch(r"[a-z ]+", drawn(chance)) for _ in range(300)), drawn
    assert {numbers.year(chance) for _ in range(600)} > {"two thousand and five", "twenty twelve"}
    assert "one ten" in " | ".join(numbers.price(chance) for _ in range(900))


def test_numbers_are_said_in_words() -> None:
    assert [numbers.below_hundred(each) for each in (5, 10, 19, 20, 45, 99)] == [
        "five",
        "ten",
        "nineteen",
        "twenty",
        "forty five",
        "ninety nine",
    ]
    drawn = {numbers.magnitude(Random(seed)) for seed in range(400)}
    assert {"a half", "two and a half", "nought point five"} & drawn
    assert any(text.endswith("seventy five") for text in drawn)


def test_each_near_phrase_is_another_and_none_is_what_was_said() -> None:
    for seed in range(50):
        near = some_near("streak ninety plus fifteen", 5, Random(seed))
        assert len(set(near)) == len(near) >= 1
        assert "streak ninety plus fifteen" not in near
        assert all(abs(len(each.split()) - 4) <= 1 for each in near)
    assert some_near("", 5, Random(1)) == []
    assert some_near("brilliantly", 5, Random(1)) == []
    assert some_near("streak ninety", 0, Random(1)) == []


def test_people_are_split_by_name_alone() -> None:
    # SHA-256 of "abc" begins with ba (the example of FIPS 180-4), of "hello" with 2c, both even; of "" with e3, odd.
    assert is_tuning("abc")
    assert is_tuning("hello")
    assert not is_tuning("")
