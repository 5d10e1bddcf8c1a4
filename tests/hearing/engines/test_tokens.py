"""The tokeniser against the packaged vocabulary itself, and against what the network writes."""

from itertools import islice
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.errors import MissingPartError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.network import MoonshineModel, model_folder
from voicelog.hearing.engines.search import Search, SearchWidth
from voicelog.hearing.engines.spelling import SpelledGrammar
from voicelog.hearing.engines.tokens import END, SPACE, Tokeniser
from voicelog.hearing.sources import FileSource
from voicelog.phrases.automaton import Layer
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.sampler import samples
from voicelog.phrases.stepping import stepper

_LAYERS = (Layer.WRITTEN, Layer.HEARD)
_LONG = 24
"""Pieces behind which a random walk ends where it can."""


@pytest.fixture(scope="module", name="tokeniser")
def _tokeniser() -> Tokeniser:
    return Tokeniser.read(model_folder() / "tokenizer.bin")


@pytest.fixture(scope="module", name="entries")
def _entries(tokeniser: Tokeniser) -> SpelledGrammar:
    """All entries as they may be spelled; what was looked up once is kept."""
    return SpelledGrammar(load().walker("entry", *_LAYERS), tokeniser)


def test_the_packaged_vocabulary_has_32768_pieces(tokeniser: Tokeniser) -> None:
    assert len(tokeniser) == 32768
    assert [tokeniser.piece(number) for number in range(3)] == [b"<unk>", b"<s>", b"</s>"]


def test_every_text_piece_survives_a_round_trip(tokeniser: Tokeniser) -> None:
    checked = 0
    for piece in map(tokeniser.piece, range(259, 32000)):
        try:
            text = piece.decode("utf-8")
        except UnicodeDecodeError:
            continue
        ids = tokeniser.encode(text)
        assert b"".join(tokeniser.piece(number) for number in ids) == piece
        checked += 1
    assert checked > 30000


def test_every_letter_piece_is_cut_as_itself(tokeniser: Tokeniser) -> None:
    """A piece of letters was made by merges, so cutting its own text must find it again."""
    letters = [
        (number, piece.decode())
        for number, piece in ((number, tokeniser.piece(number)) for number in range(259, 32000))
        if piece.replace(SPACE.encode(), b"").isalpha() and piece.isascii()
    ]
    wrong = [text for number, text in letters if tokeniser.encode(text) != (number,)]

    assert len(letters) > 5000
    assert wrong == []


def test_text_outside_the_vocabulary_is_cut_into_bytes(tokeniser: Tokeniser) -> None:
    ids = tokeniser.encode("\U0001f441")

    assert tokeniser.decode(ids) == "\U0001f441"


def test_the_network_cuts_words_as_the_tokeniser_does(model: MoonshineModel) -> None:
    """What the network writes freely, read as text and cut again, is the same pieces: an oracle not of our making."""
    from voicelog.demo import demo_audio

    grammar = SpelledGrammar(load().walker("answer"), model.tokeniser)
    for utterance in islice(utterances(FileSource(demo_audio()).blocks()), 8):
        free = Search(model, grammar, SearchWidth()).run(utterance.samples).free
        pieces = [number for number in free.pieces if number != END]
        text = "".join(model.tokeniser.piece(number).decode() for number in pieces)
        assert model.tokeniser.encode(text) == tuple(pieces), text


@pytest.mark.parametrize("damage", [b"", b"\x03ab", b"\x01a" * 100])
def test_a_damaged_vocabulary_is_named(tmp_path, damage: bytes) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "tokenizer.bin").write_bytes(damage)

    with pytest.raises(MissingPartError, match=r"tokenizer\.bin is damaged; reinstall"):
        Tokeniser.read(tmp_path / "tokenizer.bin")


def spelled(tokeniser: Tokeniser, text: str) -> list[int]:
    """A said line as the network would write it: small letters, words cut one by one."""
    return [piece for word in text.split() for piece in tokeniser.encode(SPACE + word)]


def accepts(grammar: SpelledGrammar, pieces: list[int]) -> bool:
    """Whether the spelled grammar lets these pieces through to the end."""
    state = SpelledGrammar.START
    for piece in [*pieces, END]:
        if piece not in grammar.ids(state):
            return False
        state = grammar.target(state, piece)
    return True


def test_every_said_phrase_can_be_spelled(tokeniser: Tokeniser, entries: SpelledGrammar) -> None:
    for sample in islice(samples(load().walker(), Random(8)), 30):
        assert accepts(entries, spelled(tokeniser, sample.text)), sample.text


@pytest.mark.parametrize(
    "text", ["look at the letter", "right", "streak vertical neutral at", "eye vertical"]
)
def test_what_is_no_phrase_cannot_be_spelled(
    tokeniser: Tokeniser, entries: SpelledGrammar, text: str
) -> None:
    assert not accepts(entries, spelled(tokeniser, text))


@pytest.mark.parametrize("rule", ["entry", "finding", "drops"])
def test_whatever_can_be_spelled_has_a_meaning(
    tokeniser: Tokeniser, entries: SpelledGrammar, rule: str
) -> None:
    """Random walks over allowed pieces, capitals, digits and marks included, read back as words.

    What the reader makes of them is its own: it refuses a power that no lens has, and two eyes for one acuity.
    """
    grammar = entries if rule == "entry" else SpelledGrammar(load().walker(rule, *_LAYERS), tokeniser)
    words = stepper(load(), rule, *_LAYERS)
    random = Random(21)
    for _ in range(50):
        text = tokeniser.decode(random_phrase(grammar, random))
        said = tokenise(text, load().language)
        assert words.longest_whole((token,) for token in said) == len(said), text


def random_phrase(grammar: SpelledGrammar, random: Random) -> list[int]:
    """Pieces of a random walk to the end, which it takes where it can once it is long."""
    state, pieces = SpelledGrammar.START, list[int]()
    while True:
        ids = grammar.ids(state)
        piece = END if len(pieces) >= _LONG and END in ids else int(random.choice(ids))
        if piece == END:
            return pieces
        pieces.append(piece)
        state = grammar.target(state, piece)


def test_the_walk_tells_the_words_of_what_it_spelled(tokeniser: Tokeniser, entries: SpelledGrammar) -> None:
    """Random walks over allowed pieces: their words are those that the text reads as, with the same meanings."""
    matcher = Matcher(load().walker("entry", *_LAYERS))
    random = Random(22)
    for _ in range(40):
        pieces = random_phrase(entries, random)
        text = tokeniser.decode(pieces)
        told = entries.words(pieces)
        assert tokenise(text, ENGLISH) in told, text
        readings = [reading for words in told for reading in matcher.readings(words)]
        assert set(readings) == set(matcher.readings(tokenise(text, ENGLISH))), text


def test_an_unfinished_phrase_has_no_words(tokeniser: Tokeniser) -> None:
    grammar = SpelledGrammar(load().walker("entry"), tokeniser)

    assert grammar.words(spelled(tokeniser, "streak")) == ()
    assert len(grammar.words(spelled(tokeniser, "streak vertical with"))) == 1
