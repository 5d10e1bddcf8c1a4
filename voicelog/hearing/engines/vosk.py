"""An engine for any Vosk model: for other languages, or where a site trusts one more.

What Vosk takes for a grammar is a list of phrases, and it keeps of them only which word may follow which (it makes a
word-pair model of the list, with an unknown word as the way out). The phrases of an entry are far too many to be
listed, so it is given a list of lines with the same pairs (`phrases/neighbours.py`). The words that come back, and
their alternatives, are then walked through the automaton, and only whole phrases of the rule count. No word is matched
loosely; a model that lacks a word of a number, sign, axis or eye is refused, for it would hear its neighbour.

Scores are Vosk's own log likelihoods (base e, sound and word pairs together; compared only within one utterance). The
best transcript without the grammar is made by the model's own language model. The least sure word of the best
transcript lowers the score of every phrase by the log of its confidence.
"""

import json
import math
import time
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from voicelog.errors import MissingPartError
from voicelog.hearing.engines.gathering import gathered
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.models.places import find_model
from voicelog.hearing.models.vosk_folder import check_vosk_folder
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.neighbours import neighbours
from voicelog.phrases.word_sets import exact_words

_RATE_HZ = 16_000
_ALTERNATIVES = 20
_UNKNOWN_WORDS = ("[unk]", "<unk>", "<UNK>", "[UNK]")  # as models name it
_LEAST_CONFIDENCE = 1e-6  # Vosk writes 0 for less


@dataclass(frozen=True, slots=True)
class _Transcript:
    words: tuple[str, ...]
    log_probability: float


class VoskModel:
    """A loaded model folder. Raises MissingPartError when the package is missing or the folder is no usable model."""

    def __init__(self, folder: Path) -> None:
        if find_spec("vosk") is None:
            raise MissingPartError(
                "the engine vosk is missing; install it with: pip install 'voicelog[vosk]'"
            )
        check_vosk_folder(folder)
        import vosk

        vosk.SetLogLevel(-1)
        self.folder = folder
        self._package: Any = vosk
        try:
            self._model: Any = vosk.Model(str(folder))
        except Exception as error:  # the package raises nothing narrower
            raise MissingPartError(
                f"{folder} cannot be loaded as a Vosk model: a file in it is damaged"
            ) from error

    def knows(self, word: str) -> bool:
        """Whether a word is in the model's vocabulary."""
        return int(self._model.vosk_model_find_word(word)) >= 0

    @cached_property
    def unknown_word(self) -> str | None:
        """The word that stands for every other one; None when the model has none."""
        return next((word for word in _UNKNOWN_WORDS if self.knows(word)), None)

    def transcripts(self, sound: bytes, phrases: str | None, most: int) -> list[_Transcript]:
        """The likeliest transcripts of 16-bit sound, by a phrase list (JSON) or the model's own language model."""
        recogniser = self._recogniser(phrases)
        recogniser.SetMaxAlternatives(most)
        found = self._run(recogniser, sound).get("alternatives", [])
        return [_Transcript(tuple(each["text"].split()), float(each["confidence"])) for each in found]

    def confidences(self, sound: bytes, phrases: str) -> list[float]:
        """How sure each word of the best transcript is, 0 to 1."""
        recogniser = self._recogniser(phrases)
        recogniser.SetWords(True)
        return [float(word["conf"]) for word in self._run(recogniser, sound).get("result", [])]

    def _recogniser(self, phrases: str | None) -> Any:
        """A new one for every run: a recogniser adapts to what it has heard, and results may not depend on that."""
        arguments = () if phrases is None else (phrases,)
        return self._package.KaldiRecognizer(self._model, float(_RATE_HZ), *arguments)

    @staticmethod
    def _run(recogniser: Any, sound: bytes) -> dict[str, Any]:
        # In one piece: the end of an utterance was found before, and is not to be found anew inside it.
        recogniser.AcceptWaveform(sound)
        result: dict[str, Any] = json.loads(recogniser.FinalResult())
        return result


@dataclass(frozen=True, slots=True)
class _Rule:
    """A rule as Vosk is told of it, and the way back."""

    phrases: str
    matcher: RulesInOrder
    missing_words: frozenset[str]


class VoskEngine:
    """Hears utterances as phrases of a grammar.

    `model` is a loaded model, or names one: a folder, or a name in the models folder; None takes the only one there.
    With `free` False the transcript without the grammar is left out, which is quicker, and other talk is told from
    phrases by the unknown word alone. Raises MissingPartError when package or model is missing.
    """

    name = "vosk"

    def __init__(self, grammar: Grammar, model: VoskModel | str | None = None, *, free: bool = True) -> None:
        self._grammar = grammar
        if model is None or isinstance(model, str):
            model = VoskModel(find_model("vosk", model))
        self._model: VoskModel = model
        self._free = free
        self._rules: dict[str, _Rule] = {}
        self._as_model = {
            word: other
            for word, other in _spellings(grammar.language.folder).items()
            if not self._model.knows(word) and self._model.knows(other)
        }

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`.

        Raises UnknownRuleError, and MissingPartError when the model lacks words that must not be guessed.
        """
        started = time.perf_counter()
        known = self._rule(rule)
        sound = (np.clip(samples, -1.0, 1.0) * 32767).astype("<i2").tobytes()
        found = self._model.transcripts(sound, known.phrases, _ALTERNATIVES)
        hypotheses = self._by_meaning(found, known.matcher)
        free = found[:1]
        if hypotheses:
            doubt = math.log(
                max(_LEAST_CONFIDENCE, min(self._model.confidences(sound, known.phrases), default=1.0))
            )
            hypotheses = tuple(
                Hypothesis(each.text, each.meanings, each.log_probability + doubt) for each in hypotheses
            )
            if self._free:
                free += self._model.transcripts(sound, None, 1)
        best = max(free, key=lambda each: each.log_probability, default=_Transcript((), 0.0))
        return Hearing(
            engine=self.name,
            hypotheses=hypotheses,
            free_text=" ".join(best.words),
            free_log_probability=best.log_probability,
            seconds=time.perf_counter() - started,
        )

    def missing_words(self, rule: str = "entry") -> frozenset[str]:
        """Words of a rule that the model cannot hear: phrases with them are left out."""
        return self._rule(rule).missing_words

    def _rule(self, rule: str) -> _Rule:
        if rule not in self._rules:
            self._rules[rule] = self._made(rule)
        return self._rules[rule]

    def _made(self, rule: str) -> _Rule:
        beside = neighbours(self._grammar, rule)
        known = frozenset(word for word in beside.words if word in self._as_model or self._model.knows(word))
        missing = beside.words - known
        unsafe = sorted(missing & exact_words(self._grammar))
        if unsafe:
            raise MissingPartError(
                f"{self._model.folder} lacks words of numbers, signs, axes or eyes ({', '.join(unsafe)}): "
                "take another model"
            )
        lines = beside.only(known).covering_phrases()
        if not lines:
            raise MissingPartError(
                f"{self._model.folder} has no words of this grammar; is it for another language?"
            )
        spelled = [" ".join(self._as_model.get(word, word) for word in line.split()) for line in lines]
        way_out = [self._model.unknown_word] if self._model.unknown_word is not None else []
        phrases = json.dumps(spelled + way_out, ensure_ascii=False)
        return _Rule(phrases, RulesInOrder(self._grammar, rule), missing)

    def _by_meaning(self, found: list[_Transcript], matcher: RulesInOrder) -> tuple[Hypothesis, ...]:
        """Whole phrases among the transcripts, in the grammar's own spelling."""
        own = {other: word for word, other in self._as_model.items()}
        lines = (([own.get(word, word) for word in each.words], each.log_probability) for each in found)
        return gathered(
            ((" ".join(words), [Token(word) for word in words], log) for words, log in lines if words),
            matcher,
        )


def _spellings(folder: Path) -> dict[str, str]:
    """Words of a grammar and how the other spelling of its language writes them."""
    path = folder / "spellings.txt"
    if not path.is_file():
        return {}
    lines = (line.split("#")[0].split() for line in path.read_text(encoding="utf-8").splitlines())
    return {words[0]: words[1] for words in lines if len(words) == 2}
