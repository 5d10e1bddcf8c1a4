"""Chooses the limits of the decision: the fewest questions at a stated rate of silently wrong entries.

Everything here looks only at the cases it is given: the half of the speakers that is for tuning. A search along one
limit at a time, and along the pairs that make up for one another, from the limits in force and from the most cautious
ones, until no step is better.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from itertools import product

from voicelog.hearing.decision import AnyLimits
from voicelog.hearing.letter_decision import LetterLimits
from voicelog.measuring.counting import Case, Heard, phrase_result, talk_result
from voicelog.measuring.listeners import judge_of
from voicelog.phrases.grammar import Grammar

# What may be chosen, the most cautious first. Log probabilities base e; the opinions have their listener's own scale.
STEPS: Mapping[str, tuple[float, ...]] = {
    "accept_score": (-1.0, -2.0, -3.0, -3.5, -4.0, -4.5, -5.0, -5.5, -6.0, -7.0, -8.0),
    "accept_margin": (5.0, 4.0, 3.5, 3.0, 2.5, 2.0, 1.5, 1.0, 0.75),
    "ask_score": (-6.0, -7.0, -8.0, -9.0, -10.0, -11.0, -12.0, -14.0, -16.0),
    "teen_margin": (8.0, 6.0, 5.0, 4.0, 3.5, 3.0, 2.5, 2.0, 1.5),
    "odd_teen_margin": (2.0, 1.5, 1.0, 0.75, 0.5, 0.25),
    "agree_opinion": (0.3, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.003, 0.001, 0.0, -0.01),
    "agreed_margin": (3.0, 2.0, 1.5, 1.0, 0.75, 0.5, 0.25),
}
LETTER_STEPS: Mapping[str, tuple[float, ...]] = {
    "ask_score": (0.0, -1.0, -2.0, -3.0, -4.0, -6.0, -8.0),
    "ask_score_a_letter": (-0.3, -0.4, -0.5, -0.6, -0.7, -0.8, -1.0),
    "ask_margin": (6.0, 4.0, 3.0, 2.0, 1.0, 0.5, 0.0),
    "sure_score_a_letter": (-0.2, -0.3, -0.35, -0.4, -0.45, -0.5, -0.6, -0.7),
    "accept_margin": (12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0),
    "alone_margin": (12.0, 11.5, 11.0, 10.5, 10.0, 9.0, 8.0, 7.0, 6.0),
    "alone_score": (0.0, -0.5, -1.0, -2.0, -4.0, -8.0),
    "accept_fit": (-2.0, -4.0, -6.0, -8.0, -10.0, -12.0, -15.0),
    "telling_fit": (-0.5, -1.0, -2.0, -3.0, -4.0, -5.0, -6.0, -8.0),
    "accept_score_a_letter": (-0.4, -0.6, -0.7, -0.8, -0.9, -1.0, -1.2),
    "answer_score": (0.0, -0.1, -0.3, -0.5, -1.0, -2.0, -4.0),
    "answer_margin": (12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0),
    "agreed_margin": (12.0, 10.0, 8.0, 7.0, 6.0, 4.0, 3.0, 2.0),
    "grave_margin": (12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0),
    "agreed_opinion": (8.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0, 0.0),
    "clear_margin": (12.0, 11.0, 10.0, 9.0, 8.0, 7.0),
    "apart": (6.0, 4.0, 3.0, 2.0, 1.0, 0.0, -1.0, -2.0, -4.0),
    "agreed_score": (-4.0, -6.0, -8.0, -10.0, -12.0, -15.0, -20.0, -30.0),
    "agreed_score_a_letter": (-0.4, -0.6, -0.8, -1.0, -1.5),
    "agreed_fit": (-4.0, -6.0, -8.0, -10.0, -12.0, -15.0, -20.0),
    "agreed_telling_fit": (-2.0, -4.0, -6.0, -8.0, -10.0, -15.0, -20.0),
    "same_score": (-0.5, -1.5, -2.5, -3.5, -4.5, -6.0),
    "same_score_a_letter": (-0.1, -0.15, -0.2, -0.3, -0.4),
    "odd_score_a_letter": (-0.1, -0.2, -0.3, -0.4, -0.5),
    "seconded_score_a_letter": (-0.4, -0.5, -0.6, -0.8, -1.0),
}
_PAIRS = (("accept_score", "accept_margin"), ("agree_opinion", "agreed_margin"))
_LETTER_PAIRS = (
    ("ask_score", "ask_score_a_letter"),
    ("accept_margin", "telling_fit"),
    ("alone_margin", "alone_score"),
    ("agreed_margin", "grave_margin"),
    ("agreed_margin", "agreed_opinion"),
    ("agreed_margin", "agreed_score"),
    ("agreed_fit", "agreed_telling_fit"),
    ("accept_margin", "accept_score_a_letter"),
)
_MOST_ROUNDS = 8


def steps_of(limits: AnyLimits) -> Mapping[str, tuple[float, ...]]:
    """What may be chosen for limits of this kind."""
    return LETTER_STEPS if isinstance(limits, LetterLimits) else STEPS


def changed(limits: AnyLimits, values: Mapping[str, float]) -> AnyLimits:
    """The same limits but for these values."""
    return type(limits)(**{**asdict(limits), **values})


@dataclass(frozen=True, slots=True)
class Target:
    """What the limits must keep on the cases they are chosen on."""

    silently_wrong: float = 0.001
    """Greatest share of phrases entered with another meaning."""
    entered_an_hour: float = 0.0
    """Greatest rate of entries from other talk."""
    asked_in_10_minutes: float = 1.0
    """Greatest rate of questions about other talk."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What limits make of cases."""

    phrases: int
    right: int
    asked: int
    wrong: int
    ignored: int
    talk_hours: float
    talk_entered: int
    talk_asked: int

    @property
    def repeats(self) -> int:
        """Phrases that cost the examiner more words: asked about, or not taken."""
        return self.asked + self.ignored

    def __add__(self, other: "Figures") -> "Figures":
        """The figures of both sets of cases."""
        return Figures(*(getattr(self, each.name) + getattr(other, each.name) for each in fields(self)))

    def excess(self, target: Target) -> tuple[float, float, float]:
        """By how much each figure is beyond the target; all 0: the target is kept."""
        wrong = self.wrong - target.silently_wrong * self.phrases
        entered = self.talk_entered - target.entered_an_hour * self.talk_hours
        asked = self.talk_asked - target.asked_in_10_minutes * self.talk_hours * 6
        return max(0.0, wrong), max(0.0, entered), max(0.0, asked)


@dataclass(frozen=True, slots=True)
class Choice:
    """Chosen limits, what they make of the cases, and whether that keeps the target."""

    limits: AnyLimits
    figures: Figures
    kept: bool
    tried: int


def figures(cases: Sequence[Case], listener: str, grammar: Grammar, limits: AnyLimits) -> Figures:
    """What limits make of a listener's cases."""
    judge = judge_of(listener, grammar, limits)
    phrases = dict.fromkeys(("right", "asked", "wrong", "ignored"), 0)
    entered = asked = 0
    for case in cases:
        for heard in case.heard:
            judged = judge(heard.hearing, case.row.rule)
            if case.row.expected is not None:
                phrases[phrase_result(case.row, judged)] += 1
            else:
                result = talk_result(case.row, judged, whole=heard.whole)
                entered += result == "entered"
                asked += result == "asked"
    hours = sum(case.length_s for case in cases) / 3600
    return Figures(sum(phrases.values()), **phrases, talk_hours=hours, talk_entered=entered, talk_asked=asked)


def choose(
    cases: Sequence[Case], listener: str, grammar: Grammar, in_force: AnyLimits, target: Target | None = None
) -> Choice:
    """The limits that keep the target at the fewest repeats.

    Of equals those with fewer wrong, then the nearest to the limits in force (nothing is moved without a reason in
    the cases; the edge of what they allow would fit them alone), then the more cautious.

    Where none of those tried keeps it, the nearest, with `kept` False.
    """
    search = _Search(cases, listener, grammar, in_force, target or Target())
    most_cautious = changed(in_force, {name: values[0] for name, values in steps_of(in_force).items()})
    best = min((search.best_from(start) for start in (in_force, most_cautious)), key=search.cost)
    found = search.figures(best)
    return Choice(best, found, not any(found.excess(search.target)), search.tried)


class _Search:
    def __init__(
        self, cases: Sequence[Case], listener: str, grammar: Grammar, in_force: AnyLimits, target: Target
    ) -> None:
        self.target = target
        self._in_force = in_force
        self._listener, self._grammar = listener, grammar
        self._open, self._settled = self._parted(cases)
        self._known: dict[AnyLimits, Figures] = {}

    @property
    def tried(self) -> int:
        """How many different limits were looked at."""
        return len(self._known)

    def figures(self, limits: AnyLimits) -> Figures:
        if limits not in self._known:
            found = figures(self._open, self._listener, self._grammar, limits)
            self._known[limits] = self._settled + found
        return self._known[limits]

    def cost(self, limits: AnyLimits) -> tuple[float, ...]:
        found = self.figures(limits)
        places, old = _places(limits), _places(self._in_force)
        moved = sum(abs(new - before) for new, before in zip(places, old, strict=True))
        return (*found.excess(self.target), found.repeats, found.wrong, found.talk_asked, moved, sum(places))

    def best_from(self, limits: AnyLimits) -> AnyLimits:
        pairs = _LETTER_PAIRS if isinstance(limits, LetterLimits) else _PAIRS
        for _ in range(_MOST_ROUNDS):
            before = limits
            for names in (*((name,) for name in steps_of(limits)), *pairs):
                limits = min((limits, *_along(limits, names)), key=self.cost)
            if limits == before:
                break
        return limits

    def _parted(self, cases: Sequence[Case]) -> tuple[list[Case], Figures]:
        """The cases that limits can decide either way, and the figures of all others, whatever the limits.

        Every limit is stricter the higher it is: what is the same at the highest and the lowest of all is so between.
        """
        ends = [
            judge_of(self._listener, self._grammar, changed(self._in_force, _extreme(self._in_force, end)))
            for end in (max, min)
        ]
        undecided, decided = [], []
        for case in cases:
            same = [
                len({judge(heard.hearing, case.row.rule).outcome for judge in ends}) == 1
                for heard in case.heard
            ]
            undecided.append(replace(case, heard=_where(case, same, False), length_s=0.0))
            decided.append(replace(case, heard=_where(case, same, True)))
        settled = figures(decided, self._listener, self._grammar, self._in_force)
        return [case for case in undecided if case.heard], settled


def _extreme(limits: AnyLimits, end: Callable[..., float]) -> dict[str, float]:
    return {name: end(*values, getattr(limits, name)) for name, values in steps_of(limits).items()}


def _where(case: Case, flags: Sequence[bool], wanted: bool) -> tuple[Heard, ...]:
    return tuple(heard for heard, flag in zip(case.heard, flags, strict=True) if flag is wanted)


def _along(limits: AnyLimits, names: Sequence[str]) -> Iterator[AnyLimits]:
    """The limits with those named at each of their steps, where they stay in order."""
    for values in product(*(steps_of(limits)[name] for name in names)):
        other = changed(limits, dict(zip(names, values, strict=True)))
        if in_order(other):
            yield other


def in_order(limits: AnyLimits) -> bool:
    """Whether asking begins below accepting, and the margins for -teen and -ty lie around the common one.

    Of the network of letters: whether more is asked of words that tell something, and less where both listeners count.
    """
    if isinstance(limits, LetterLimits):
        return (
            limits.accept_fit <= limits.telling_fit < 0
            and limits.agreed_fit <= limits.accept_fit
            and limits.agreed_fit <= limits.agreed_telling_fit <= limits.telling_fit
            and limits.agreed_score <= limits.same_score
            and 0 < limits.agreed_margin <= limits.grave_margin <= limits.accept_margin
            and limits.agreed_margin <= limits.clear_margin <= limits.accept_margin
            and 0 < limits.alone_margin <= limits.accept_margin
        )
    return (
        limits.ask_score < limits.accept_score < 0
        and 0 < limits.odd_teen_margin <= limits.accept_margin <= limits.teen_margin
        and 0 < limits.agreed_margin <= limits.accept_margin
    )


def _places(limits: AnyLimits) -> tuple[int, ...]:
    """For each of the limits, how many steps it is away from the most cautious."""
    return tuple(
        sum(value > getattr(limits, name) for value in values) for name, values in steps_of(limits).items()
    )
