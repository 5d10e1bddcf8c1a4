"""Choosing limits on one half of the speakers and reporting on the other, with the file of limits that comes of it."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

from voicelog.measuring import reporting
from voicelog.measuring.choosing import Choice, Figures, Target, choose, figures
from voicelog.measuring.counting import Case
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.intervals import poisson, wilson
from voicelog.measuring.limits_file import limits_text
from voicelog.measuring.listeners import checked_names
from voicelog.measuring.manifests import halves
from voicelog.measuring.selection import Say, Selection
from voicelog.phrases.grammar import Grammar


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was chosen for which target, the figures before and after on each half, and the text of the file."""

    choice: Choice
    target: Target
    report: Mapping[str, Figures]
    text: str

    def as_json(self) -> dict[str, Any]:
        """All of it but the text."""
        return {
            "limits": asdict(self.choice.limits),
            "target": asdict(self.target),
            "tried": self.choice.tried,
            "figures": {title: asdict(each) for title, each in self.report.items()},
            "machine": reporting.machine(),
        }


def _tuned(listener: str, split: str) -> str:
    """The listener's full name. Raises MeasuringError where it has no limits, or the split may not be tuned on."""
    (name,) = checked_names([listener])
    if name == "free":
        raise MeasuringError("the listener 'free' has no limits to choose")
    if split == "test":
        raise MeasuringError("limits are never chosen on the test half: leave out --split, or name tuning")
    return name


def calibrate(selection: Selection, grammar: Grammar, listener: str, target: Target, say: Say) -> Calibration:
    """Choose limits on one half of the speakers, report on the other half.

    With the split "tuning" the other half is left alone, for trials. Raises MeasuringError when no limits keep the
    target.
    """
    name = _tuned(listener, selection.split)
    in_force, rows = selection.limits_in_force(name), selection.rows(grammar)
    half_of = halves(rows, selection.seed, both=selection.split == "all")
    cases = selection.heard(rows, (name,), grammar, say).cases(name)
    tuning = [case for case in cases if half_of[case.row.speaker] == "tuning"]
    test = [case for case in cases if half_of[case.row.speaker] == "test"]
    choice = choose(tuning, name, grammar, in_force, target)
    if not choice.kept:
        raise MeasuringError(
            f"no limits keep the target on the tuning half; the nearest: {in_one_line(choice.figures)}"
        )
    report = {
        "in force, tuning half": figures(tuning, name, grammar, in_force),
        "chosen, tuning half": choice.figures,
    }
    if test:
        report["in force, test half"] = figures(test, name, grammar, in_force)
        report["chosen, test half"] = figures(test, name, grammar, choice.limits)
    text = limits_text(choice.limits, _comments(selection, name, target, choice, tuning))
    return Calibration(choice, target, report, text)


def in_one_line(found: Figures) -> str:
    """Figures with their 95 % limits."""
    low, high = wilson(found.wrong, found.phrases)
    share = f"{100 * found.right / found.phrases:.1f} %" if found.phrases else "-"
    parts = [
        f"{found.phrases} phrases, {found.right} right ({share}), {found.asked} asked, {found.ignored} ignored, "
        f"{found.wrong} silently wrong (95 %: {100 * low:.2f} to {100 * high:.2f} %)"
    ]
    if found.talk_hours:
        most = poisson(found.talk_entered, found.talk_hours)[1]
        parts.append(
            f"{found.talk_hours:.2f} h of other talk, {found.talk_entered} entered (at most {most:.1f} an hour), "
            f"{found.talk_asked} asked ({found.talk_asked / found.talk_hours / 6:.2f} in 10 min)"
        )
    return "; ".join(parts)


def _comments(
    selection: Selection, name: str, target: Target, choice: Choice, tuning: Sequence[Case]
) -> list[str]:
    voices = sorted({case.row.speaker for case in tuning})
    named = ", ".join(voices) if len(voices) <= 20 else f"{len(voices)} speakers"
    return [
        "Limits of the decision (hearing/decision.py, letter_decision.py), log probabilities base e.",
        f"Chosen {datetime.now(UTC).date()} by `voicelog bench calibrate` for the listener {name}, "
        f"from {choice.tried} tried.",
        f"Corpora: {', '.join(selection.names)}; tuning half of the speakers alone: {named}.",
        f"Target: silently wrong at most {100 * target.silently_wrong:g} %, entries from other talk at most "
        f"{target.entered_an_hour:g} an hour, questions at most {target.asked_in_10_minutes:g} in 10 minutes.",
        f"On that half: {in_one_line(choice.figures)}.",
    ]
