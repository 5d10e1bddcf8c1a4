"""The listeners that are measured, and what each makes of a hearing.

`letters`: the network of letters alone (the engine letters, policy `single`), and `joint` with moonshine as its judge
where it is not sure (policy `normal`; by the limits that were shipped when it heard). `moonshine`: the attention
decoder alone (the engine moonshine, policy `single`); `normal` and `cautious`: with PocketSphinx beside it, by those
policies; `free`: the baseline, moonshine's transcript without a grammar, parsed strictly as a typed line would be;
`sphinx`: PocketSphinx alone, and `sphinx-forced` the same without its way out for other speech. Their scores are on
scales of their own, for which the shipped limits were not chosen: judge them by "right first", or choose limits for
`sphinx` (`bench calibrate --listener sphinx`); `sphinx-forced` has nothing to compare a score with, and enters nothing.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from voicelog.hearing.decision import AnyLimits, decide
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.hear_one import hear_samples
from voicelog.measuring.cache import code_mark
from voicelog.measuring.errors import MeasuringError
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.language import Language
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome

LETTERS, JOINT = "letters", "joint"
FIRST = "moonshine"
POLICIES = ("normal", "cautious")
SPHINX = ("sphinx", "sphinx-forced")
DEFAULT_NAMES = (LETTERS, JOINT, FIRST, "free")
NAMES = (*DEFAULT_NAMES, *POLICIES, *SPHINX)

_COMMON = ("hear_one", "endpointing", "silero", "engines/protocol", "engines/gathering")
_FIRST_MODULES = tuple(f"engines/{name}" for name in ("moonshine", "network", "search", "spelling", "tokens"))
_LETTER_MODULES = tuple(
    f"engines/{name}"
    for name in ("letters", "letters_engine", "letter_search", "letter_tree", "word_network", "alignment")
)
_MODULES: Mapping[str, tuple[str, ...]] = {
    LETTERS: (*_COMMON, *_LETTER_MODULES),
    JOINT: (
        *_COMMON,
        *_LETTER_MODULES,
        *(f"engines/{name}" for name in ("consulting", "network", "scoring", "tokens")),
        "letter_decision",
    ),
    FIRST: (*_COMMON, *_FIRST_MODULES),
    "normal": (*_COMMON, *_FIRST_MODULES, "engines/two", "engines/sphinx"),
    "cautious": (*_COMMON, *_FIRST_MODULES, "engines/two", "engines/sphinx"),
    **dict.fromkeys(SPHINX, (*_COMMON, "engines/sphinx", "engines/sphinx_alone")),
}


def checked_names(names: Sequence[str]) -> tuple[str, ...]:
    """The names without repetition. Raises MeasuringError for one that is unknown."""
    for name in names:
        if name not in NAMES:
            raise MeasuringError(f"no listener is named {name!r}; there are {', '.join(NAMES)}")
    return tuple(dict.fromkeys(names))


def heard_by(name: str) -> str:
    """Whose hearings a listener judges: its own, but `free` those of the first listener."""
    return FIRST if name == "free" else name


def code_marks(grammar: Grammar) -> Mapping[str, str]:
    """For each listener that hears, the mark of the program and grammar as they are now."""
    return {name: code_mark(grammar, modules) for name, modules in _MODULES.items()}


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One stretch of sound to be heard by some listeners. `first`: what the first listener is known to have heard.

    With `as_one` it is a recording, padded and left alone where nobody speaks, as `voicelog hear` does.
    """

    samples: Samples
    rule: str
    listeners: tuple[str, ...]
    as_one: bool
    first: Hearing | None


class Listeners:
    """The loaded listeners. Raises MissingPartError when a model is not there."""

    def __init__(self, grammar: Grammar, names: Sequence[str]) -> None:
        self._recalled = _Recalled()
        self._engines: dict[str, Engine] = {}
        for name in sorted(names, key=lambda each: each == JOINT):
            self._engines[name] = self._made(name, grammar)
        if FIRST not in self._engines and set(names) & set(POLICIES):
            self._engines[FIRST] = self._made(FIRST, grammar)

    def hear(self, task: Task) -> dict[str, Hearing]:
        """What each listener of the task heard; `seconds` are of both where there are two."""
        chain = _Chain(self, task)
        if not task.as_one:
            chain.hear(task.samples, task.rule)
            return chain.found
        nothing = hear_samples(chain, task.samples, task.rule)
        return chain.found or {name: replace(nothing, engine=name) for name in task.listeners}

    def in_turn(self, samples: Samples, task: Task) -> dict[str, Hearing]:
        """Each listener's hearing; the first listener hears once for all."""
        found: dict[str, Hearing] = {}
        first = task.first
        if first is None and set(task.listeners) & {FIRST, *POLICIES}:
            first = _timed(self._engines[FIRST], samples, task.rule)
        for name in task.listeners:
            if name == FIRST and first is not None:
                found[name] = first
            elif name in POLICIES and first is not None:
                self._recalled.hearing = first
                hearing = _timed(self._engines[name], samples, task.rule)
                found[name] = replace(hearing, seconds=hearing.seconds + first.seconds)
            else:
                found[name] = _timed(self._engines[name], samples, task.rule)
        return found

    def _made(self, name: str, grammar: Grammar) -> Engine:
        # Imported here: each listener needs only its own packages.
        if name == LETTERS:
            from voicelog.hearing.engines.letters_engine import LettersEngine

            return LettersEngine(grammar)
        if name == JOINT:
            from voicelog.hearing.engines.consulting import Consulting
            from voicelog.hearing.engines.letters_engine import LettersEngine
            from voicelog.hearing.engines.scoring import PhraseJudge

            return Consulting(grammar, LettersEngine(grammar), PhraseJudge)
        if name == FIRST:
            from voicelog.hearing.engines.moonshine import MoonshineEngine

            return MoonshineEngine(grammar)
        if name in SPHINX:
            from voicelog.hearing.engines.sphinx_alone import SphinxEngine

            return SphinxEngine(grammar, way_out=name == "sphinx")
        from voicelog.hearing.engines.sphinx import SphinxListener
        from voicelog.hearing.engines.two import TwoListeners

        second = SphinxListener(grammar)
        return TwoListeners(grammar, self._recalled, second, doubting_numbers=name == "cautious")


class _Recalled:
    """Stands for the first listener before the second: gives what it has heard already."""

    name = FIRST
    hearing: Hearing

    def hear(self, samples: Samples, rule: str) -> Hearing:
        return self.hearing


class _Chain:
    """All listeners of a task as one engine, so that the sound is made ready for them once."""

    name = "all"

    def __init__(self, listeners: Listeners, task: Task) -> None:
        self._listeners, self._task = listeners, task
        self.found: dict[str, Hearing] = {}

    def hear(self, samples: Samples, rule: str) -> Hearing:
        self.found = self._listeners.in_turn(samples, self._task)
        return next(iter(self.found.values()))


def _timed(engine: Engine, samples: Samples, rule: str) -> Hearing:
    started = time.perf_counter()
    hearing = engine.hear(samples, rule)
    return replace(hearing, seconds=time.perf_counter() - started)


@dataclass(frozen=True, slots=True)
class Judged:
    """What became of one stretch of sound. `best`: the likeliest, entered or not. `seconds` 0: not decoded."""

    outcome: Outcome
    best: Meanings | None
    seconds: float


Judge = Callable[[Hearing, str], Judged]
"""From a hearing and the rule that was listened for to what becomes of it."""


def judge_of(name: str, grammar: Grammar, limits: AnyLimits) -> Judge:
    """How a listener's hearings are judged."""
    if name == "free":
        return _FreeJudge(grammar)
    return _by_limits(limits, grammar.language)


def _by_limits(limits: AnyLimits, language: Language) -> Judge:
    def judge(hearing: Hearing, rule: str) -> Judged:
        best = hearing.hypotheses[0].meanings if hearing.hypotheses else None
        return Judged(decide(hearing, language, limits), best, hearing.seconds)

    return judge


class _FreeJudge:
    """Enters whatever the transcript says, if it is a phrase; asks where it has several meanings."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar
        self._readers: dict[str, LineReader] = {}

    def __call__(self, hearing: Hearing, rule: str) -> Judged:
        if rule not in self._readers:
            self._readers[rule] = LineReader(self._grammar, rule, Layer.WRITTEN)
        try:
            readings = self._readers[rule].understand(hearing.free_text).readings
        except NotAPhraseError:
            return Judged("ignored", None, hearing.seconds)
        return Judged("accepted" if len(readings) == 1 else "asked", readings[0], hearing.seconds)
