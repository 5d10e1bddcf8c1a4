"""A language is one grammar folder: Spanish digits, written here, go through everything that reads a grammar."""

import io
import json
import sys
import unicodedata
from itertools import islice
from pathlib import Path
from random import Random

import pytest

from tests.english import ENGLISH
from tests.english import load as load_english
from voicelog.cli import main
from voicelog.errors import MissingPartError
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.misheard import has_odd_number, misheard_rival
from voicelog.phrases.automaton import Layer
from voicelog.phrases.errors import GrammarError
from voicelog.phrases.grammar import Grammar, load
from voicelog.phrases.language import Language, language_in, language_named
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.meanings import Digit, LooseAxis
from voicelog.phrases.neighbours import neighbours
from voicelog.phrases.sampler import samples
from voicelog.phrases.saying import as_expansion, misheard_twins, numbers_together
from voicelog.phrases.word_sets import exact_words
from voicelog.settings import Settings, save_settings

DIGITS = ("cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve")
GRAMMAR = """#JSGF V1.0 UTF-8 es;

grammar cifras;

/** Una cifra.
 * @example siete */
public <digit> = cero {=0} | uno {=1} | dos {=2} | tres {=3} | cuatro {=4} | cinco {=5} | seis {=6} | siete {=7}
               | ocho {=8} | nueve {=9};

public <axis> = dieciséis {=16} | veintidós {=22} | sesenta {=60} | setenta {=70};

public <eye> = ojo (derecho {eye=right} | izquierdo {eye=left}) {kind=eye};
<answer> = sí {=yes} | repítelo {=again};
<answer_entry> = <answer> {answer=$} {kind=answer};
public <entry> = <eye> | <answer_entry>;
"""
WRITTEN = """#JSGF V1.0 UTF-8 es;
grammar written;
<digit> = "0" {=0} | "1" {=1} | "2" {=2};
"""
LANGUAGE = """code = "es"
letters = "áéíóúüñ"
misheard = [[60, 70]]
"""


@pytest.fixture(name="spanish")
def _spanish(tmp_path: Path) -> Grammar:
    return load(language_in(written(tmp_path)))


def written(folder: Path) -> Path:
    """A folder that holds the grammar."""
    place = folder / "es"
    place.mkdir()
    (place / "language.toml").write_text(LANGUAGE, encoding="utf-8")
    (place / "cifras.jsgf").write_text(GRAMMAR, encoding="utf-8")
    (place / "written.jsgf").write_text(WRITTEN, encoding="utf-8")
    return place


def test_every_digit_is_read_said_and_written(spanish: Grammar) -> None:
    said = LineReader(spanish, "digit")
    typed = LineReader(spanish, "digit", Layer.WRITTEN)

    for number, word in enumerate(DIGITS):
        assert said.understand(word.upper()).readings == ((Digit(digit=number),),)
    assert typed.understand("2").readings == ((Digit(digit=2),),)
    with pytest.raises(NotAPhraseError, match="'seven'"):
        said.understand("seven")


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_accented_letters_belong_to_their_word(spanish: Grammar, form: str) -> None:
    """Also where a keyboard sends letter and accent apart."""
    line = unicodedata.normalize(form, "Dieciséis")  # type: ignore[arg-type]

    assert [token.text for token in tokenise(line, spanish.language)] == ["dieciséis"]
    assert LineReader(spanish, "axis").understand(line).readings == ((LooseAxis(axis=16),),)
    assert len(tokenise(line, ENGLISH)) > 1


def test_a_misspelt_word_is_answered_with_the_right_one_but_no_number(spanish: Grammar) -> None:
    reader = LineReader(spanish, "entry")

    with pytest.raises(NotAPhraseError, match="did you mean 'repítelo'"):
        reader.understand("repitelo")
    with pytest.raises(NotAPhraseError, match=r"from 'veintidós' on$"):
        LineReader(spanish, "digit").understand("veintidós")
    assert {"derecho", "izquierdo", "seis", "dieciséis"} <= exact_words(spanish)


def test_walker_sampler_and_neighbours_know_it(spanish: Grammar) -> None:
    made = {sample.text: sample for sample in islice(samples(spanish.walker("digit"), Random(2)), 200)}
    walker = spanish.walker("axis")

    assert set(made) == set(DIGITS)
    assert {token.text for token in walker.ways(walker.start).by_token} == {
        "dieciséis",
        "veintidós",
        "sesenta",
        "setenta",
    }
    assert neighbours(spanish, "entry").pairs == {("ojo", "derecho"), ("ojo", "izquierdo")}


def test_what_is_misheard_is_the_languages_own(spanish: Grammar) -> None:
    sixty, seventy, sixteen = ((LooseAxis(axis=axis),) for axis in (60, 70, 16))

    assert misheard_rival(sixty, seventy, spanish.language) == "plain"
    assert misheard_rival(sixteen, sixty, spanish.language) is None
    assert misheard_rival(sixteen, sixty, ENGLISH) == "plain"
    assert misheard_rival(sixty, sixteen, ENGLISH) == "odd"
    assert not has_odd_number(sixteen, spanish.language)
    assert misheard_twins(["eje", "60"], spanish.language) == [["eje", "70"]]


def test_written_numbers_stay_where_the_language_has_no_words_for_them(spanish: Grammar) -> None:
    words = numbers_together(tokenise("eje 60", spanish.language))

    assert as_expansion(words, spanish.language) == "eje 60"


def test_the_whole_program_runs_in_the_language_of_the_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    save_settings({"language": str(written(tmp_path))})
    lines = "ojo derecho\nright eye\nojo izquierdo\n"
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(lines.encode())))

    assert main(["type", "--json", "--no-record"]) == 0
    entries = json.loads(capsys.readouterr().out)["entries"]
    assert [(each["text"], each["outcome"]) for each in entries] == [
        ("ojo derecho", "accepted"),
        ("right eye", "asked"),
        ("ojo izquierdo", "accepted"),
    ]
    assert main(["phrases", "--rule", "digit", "--sample", "40", "--seed", "1"]) == 0
    assert set(capsys.readouterr().out.split()) == set(DIGITS)


def test_engines_that_hear_english_alone_refuse_it(spanish: Grammar) -> None:
    for settings in (Settings(), Settings(engine="sphinx")):
        with pytest.raises(MissingPartError, match="hears English only"):
            chosen_engine(settings, spanish)
    with pytest.raises(MissingPartError, match="second listener"):
        chosen_engine(Settings(engine="vosk", policy="cautious"), spanish)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("code = 'english'", "code"),
        ("letters = 'é'", "code: Field required"),
        ("code = 'es'\nletters = ']'", "letters only"),
        ("code = 'es'\nmisheard = [[60]]", "misheard.0.1"),
        ("code = 'es'\ncolour = 1", "colour"),
        ("code = ", "cannot be read"),
    ],
)
def test_a_faulty_file_is_one_line(tmp_path: Path, text: str, reason: str) -> None:
    (tmp_path / "language.toml").write_text(text, encoding="utf-8")

    with pytest.raises(GrammarError, match=r"language\.toml:0: ") as caught:
        language_in(tmp_path)

    assert reason in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_unknown_language_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    save_settings({"language": "xx"})

    assert main(["phrases"]) == 2
    assert "there is no such grammar" in capsys.readouterr().err


def test_english_is_shipped_and_read_once() -> None:
    english: Language = language_named("en")

    assert (english.code, english.misheard[15]) == ("en", 50)
    assert load_english() is load(english)
