"""The list of children: what is read, what is not, and that nothing in it is lost or guessed."""

from pathlib import Path

import pytest

from voicelog.record.screening.roster import LARGEST_FILE_BYTES, RosterError, read_roster, roster


def read(text: str) -> list[tuple[int, str, str]]:
    """Line, reference, and age in words."""
    return [
        (each.line, each.reference, each.age.value_words() if each.age else "")
        for each in roster(text).children
    ]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("reference,years\nK1,3\n", [(2, "K1", "3 years")]),
        ("reference,months\r\nK1,18\r\n", [(2, "K1", "18 months")]),
        ("Months;REFERENCE;class\n30;K1;2b\n", [(2, "K1", "30 months")]),
        ("reference\tyears\tmonths\nK1\t3\t6", [(2, "K1", "3 years 6 months")]),
        # As it can be said: 71 months at most, and no year without its months where these were given as none.
        ("reference,months\nK1,71\nK2,72\nK3,100\n", [(2, "K1", "71 months"), (3, "K2", "6 years"), (4, "K3", "8 years 4 months")]),
        ("reference,years,months\nK1,3,0\nK2,0,5\nK3,,\n", [(2, "K1", "36 months"), (3, "K2", "5 months"), (4, "K3", "")]),
        # Empty lines count, and so do those within quotes.
        ('reference,note,years\n\n"K1","two\nlines",3\n,,\nK2,,4\n', [(3, "K1", "3 years"), (6, "K2", "4 years")]),
        ("reference,years\nK1\n", [(2, "K1", "")]),
    ],
)  # fmt: skip
def test_what_is_read(text: str, found: list[tuple[int, str, str]]) -> None:
    assert read(text) == found


@pytest.mark.parametrize(
    ("row", "problem", "stays"),
    [
        ("K2,3.5,", "line 3: years '3.5' is no whole number: reference K2 is examined without an age", True),
        ("K2,-3,", "line 3: years '-3' is no whole number: reference K2 is examined without an age", True),
        (
            "K2,four,",
            "line 3: years 'four' is no whole number: reference K2 is examined without an age",
            True,
        ),
        ("K2,3,14", "line 3: 14 months beside 3 years: reference K2 is examined without an age", True),
        (
            "K2,130,",
            "line 3: 130 years are more than 120: reference K2 is examined without an age",
            True,
        ),
        (
            "K2,,1500",
            "line 3: 1500 months are more than 120 years: reference K2 is examined without an age",
            True,
        ),
        ("K2,,", "line 3: no age: reference K2 is examined without an age", True),
        (",3,", "line 3: no reference: not used", False),
        ("k1,3,", "line 3: reference k1 is on line 2 already: not used", False),
        ("K2,3,6,1", "line 3: 4 cells under 3 headings: not used", False),
        (
            "K\u202e2,3,",
            "line 3: the reference K\\u{202e}2 has characters that cannot be seen: not used",
            False,
        ),
        (f"{'K' * 61},3,", "line 3: a reference of more than 60 characters: not used", False),
    ],
)
def test_a_bad_line_is_told_and_the_others_stand(row: str, problem: str, stays: bool) -> None:
    found = roster(f"reference,years,months\nK1,3,\n{row}\nK9,4,\n")

    assert found.problems == (problem,)
    assert [each.line for each in found.children] == ([2, 3, 4] if stays else [2, 4])
    if stays:
        assert found.children[1].age is None


@pytest.mark.parametrize(
    ("content", "error"),
    [
        (b"", 'the first line has no heading "reference"'),
        (b"name,years\nx,3\n", 'the first line has no heading "reference"'),
        (b"reference,age\nK1,3\n", 'the first line has no heading "years" or "months"'),
        (b"reference,years,years\nK1,3,4\n", 'the first line has the heading "years" twice'),
        (b"reference,years\n\n,\n", "nobody is on the list"),
        (b'reference,years\n"K1,3\n', "line 2: unexpected end of data"),
        (b"reference,years\nK\xff,3\n", "is no UTF-8: save it as CSV UTF-8"),
        (b"x" * (LARGEST_FILE_BYTES + 1), "is no list: it is larger than 1024 kB"),
    ],
)
def test_what_is_no_list_is_told_in_one_line(tmp_path: Path, content: bytes, error: str) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(content)

    with pytest.raises(RosterError) as raised:
        read_roster(path)

    assert str(raised.value).removeprefix(f"{path}").lstrip(": ") == error
    assert "\n" not in str(raised.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match="no such file"):
        read_roster(tmp_path / "none.csv")


def test_the_mark_that_some_programs_write_first_is_no_part_of_a_heading(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("\ufeffreference,years\nK1,3\n", encoding="utf-8")

    assert [each.reference for each in read_roster(path).children] == ["K1"]


def test_references_are_found_in_whatever_case_they_are_written() -> None:
    found = roster("reference,years\nk 17,3\n")

    assert found.child("K 17") is found.children[0]
    assert found.child("K18") is None
