"""The second listener: PocketSphinx with its packaged US English model, asked only which of two phrases it hears.

It is of another kind than the first listener (hidden Markov models of phones), so that it errs elsewhere. On open
grammars it is the weaker; asked to choose between two wordings of the same sound it is quick and good.
"""

import math
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.protocol import Samples
from voicelog.phrases.grammar import Grammar

_BEAM, _WORD_BEAM = 1e-60, 1e-40


class SphinxListener:
    """Compares two phrases. Raises MissingPartError when made without its package."""

    def __init__(self, grammar: Grammar) -> None:
        self._decoder: Any = make_decoder(grammar, _BEAM, _WORD_BEAM)

    def preference(self, samples: Samples, phrase: str, other: str) -> float | None:
        """How much better `phrase` fits the sound than `other` (log, the engine's own scale).

        None if neither fits, or holds a word that is not in the dictionary.

        Both are JSGF expansions. Sound has shape (n,), 16 kHz.
        """
        ours, theirs = (self._score(samples, text) for text in (phrase, other))
        if ours is None and theirs is None:
            return None
        if ours is None or theirs is None:
            return -math.inf if ours is None else math.inf
        return ours - theirs

    def _score(self, samples: Samples, expansion: str) -> float | None:
        decoder = self._decoder
        if any(decoder.lookup_word(word) is None for word in expansion.split() if word not in "(|)"):
            return None
        decoder.add_jsgf_string("choice", f"#JSGF V1.0;\ngrammar choice;\npublic <choice> = {expansion};\n")
        decoder.activate_search("choice")
        decoder.start_utt()
        decoder.process_raw((np.clip(samples, -1.0, 1.0) * 32767).astype(np.int16).tobytes(), full_utt=True)
        decoder.end_utt()
        heard = decoder.hyp()
        return math.log(heard.score) if heard is not None and heard.score > 0 else None


def make_decoder(grammar: Grammar, beam: float, word_beam: float, **options: float) -> Any:
    """A decoder without a language model that knows the grammar's pronunciations.

    Raises MissingPartError when its package is not installed.
    """
    if find_spec("pocketsphinx") is None:
        raise MissingPartError("the engine sphinx is missing; install it with: pip install pocketsphinx")
    from pocketsphinx import Config, Decoder, get_model_path

    model = Path(get_model_path()) / "en-us"
    decoder = Decoder(
        Config(
            hmm=str(model / "en-us"),
            dict=str(model / "cmudict-en-us.dict"),
            lm=None,
            loglevel="FATAL",
            bestpath=False,
            beam=beam,
            wbeam=word_beam,
            pbeam=beam,
            **options,
        )
    )
    for word, phones in _pronunciations(grammar.language.folder):
        decoder.add_word(word, phones, True)
    return decoder


def _pronunciations(folder: Path) -> list[tuple[str, str]]:
    path = folder / "pronunciations.txt"
    if not path.is_file():
        return []
    lines = (line.split("#")[0].split() for line in path.read_text(encoding="utf-8").splitlines())
    return [(words[0], " ".join(words[1:])) for words in lines if words]
