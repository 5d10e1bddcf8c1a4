"""A language: the folder of its grammar, and beside the grammar the few words that other parts must know.

They lie in `language.toml` of that folder:

    code = "en"
    letters = "áéíóúñ"              # that words are written with beside a to z; "가-힣" is a range
    misheard = [[13, 30], [14, 40]] # numbers below 100 that are taken for each other, the rarer one first
    exchanged = [["plus", "minus"]] # words that make another entry when one is heard for another; no numbers

    [numbers]                       # how written numbers are said; without it nothing written is put into words
    below_twenty = ["zero", ...]    # twenty words
    tens = ["zero", "ten", ...]     # ten words
    digit_zero = ["oh", "zero"]     # a zero among digits said one by one
    hundred = "hundred"
    point = "point"
    and = "and"                     # between a whole number and a fraction
    fractions = { "1/4" = "a quarter", "1/2" = "a half", "3/4" = "three quarters" }
    marks = { "+" = "plus", "-" = "minus", "x" = "axis", "%" = "percent" }
"""

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from voicelog.phrases.errors import GrammarError

_FILE = "language.toml"


class Numbers(BaseModel):
    """How written numbers are said. Words of numbers, of signs before them and of fractions."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    below_twenty: Annotated[tuple[str, ...], Field(min_length=20, max_length=20)]
    tens: Annotated[tuple[str, ...], Field(min_length=10, max_length=10)]
    digit_zero: Annotated[tuple[str, ...], Field(min_length=1)]
    hundred: str
    point: str
    joined_by: str = Field(alias="and")
    fractions: Mapping[str, str]
    marks: Mapping[str, str]


def _of_letters(text: str) -> str:
    """Letters and ranges of them, for a character class."""
    text = unicodedata.normalize("NFC", text).lower()
    if not all(unicodedata.category(each)[0] in "LM" for each in re.sub(r"(?<=.)-(?=.)", "", text)):
        raise ValueError("may hold letters and ranges of letters only")
    return text


class _File(BaseModel):
    """What `language.toml` holds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    code: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    letters: Annotated[str, AfterValidator(_of_letters)] = ""
    misheard: tuple[tuple[Annotated[int, Field(ge=1, le=99)], Annotated[int, Field(ge=1, le=99)]], ...] = ()
    exchanged: tuple[Annotated[tuple[str, ...], Field(min_length=2)], ...] = ()
    word_pairs: tuple[str, ...] = ()
    numbers: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Language:
    """What is known of a language. Compared by identity: `language_in` gives one object a folder.

    `letters` are those beside a to z, as they stand in a character class of a regular expression. `misheard` leads from
    the rarer number of a pair (13) to the one it is taken for (30). `exchanged` are groups of words that make another
    entry when one is heard for another, but for numbers. `word_pairs` are the rules that a recogniser of word pairs
    listens for instead of whole lines. `numbers` None: written numbers stay as they are.
    """

    folder: Path
    code: str
    letters: str
    misheard: Mapping[int, int]
    exchanged: tuple[tuple[str, ...], ...]
    word_pairs: tuple[str, ...]
    numbers: Numbers | None


def language_named(name: str) -> Language:
    """The language of a setting: a code ("en") of a grammar that is shipped, else the path of a grammar's folder.

    Raises GrammarError when there is none.
    """
    package = Path(str(files("voicelog")))
    shipped = (package / "_grammar" / name, package.parent / "grammar" / name)
    folder = next((each for each in shipped if name.isalpha() and each.is_dir()), Path(name).expanduser())
    return language_in(folder)


@cache
def language_in(folder: Path) -> Language:
    """The language of a grammar's folder. Raises GrammarError when its `language.toml` cannot be used."""
    path = folder / _FILE
    try:
        found = _File.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        raise GrammarError(path, 0, "there is no such grammar: it has no language.toml") from None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise GrammarError(path, 0, f"cannot be read: {error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        raise GrammarError(path, 0, f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    return Language(
        folder=folder,
        code=found.code,
        letters=found.letters,
        misheard=dict(found.misheard),
        exchanged=found.exchanged,
        word_pairs=found.word_pairs,
        numbers=found.numbers,
    )
