"""The measuring commands; each takes plain arguments and prints to standard output."""

import json
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rich.console import Console

from voicelog import __version__
from voicelog.hearing.decision import Limits, default_limits
from voicelog.measuring import reporting
from voicelog.measuring.cache import HearingCache
from voicelog.measuring.choosing import Choice, Figures, Target, choose, figures
from voicelog.measuring.counting import Case, Counted, counted
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.intervals import poisson, wilson
from voicelog.measuring.limits_file import limits_text, read_limits, write_limits
from voicelog.measuring.listeners import DEFAULT_NAMES, checked_names, judge_of
from voicelog.measuring.manifests import (
    Expecting,
    Row,
    halves,
    of_voices,
    read_manifest,
    refuse_missing,
    sampled,
)
from voicelog.measuring.plot import svg
from voicelog.measuring.running import Progress, Run
from voicelog.phrases.grammar import ENTRY_RULE, Grammar, load

DEFAULT_CACHE = Path("hearings.jsonl")
_TOLD_EVERY_S = 20.0
_WIDTH = 200  # characters of a line; a narrower terminal folds it, and loses nothing


@dataclass(frozen=True, slots=True)
class Selection:
    """Which recordings are measured, and how.

    `rules`: for rows that name none, the first that has the transcript as a phrase. `sample`: so many random rows of
    each set, condition, signal-to-noise ratio and split. `phrases_only`: rows of other talk are left out.
    """

    corpora: Sequence[Path]
    rules: Sequence[str] = (ENTRY_RULE,)
    split: str = "all"
    voices: Sequence[str] = ()
    sample: int | None = None
    seed: int = 1
    phrases_only: bool = False
    cache: Path = DEFAULT_CACHE
    jobs: int = 1
    renew: bool = False
    limits: Path | None = None

    def rows(self, grammar: Grammar) -> list[Row]:
        """The rows that are measured. Raises MeasuringError when there are none or some cannot be used."""
        expecting = Expecting(grammar, self.rules)
        rows = [row for place in self.corpora for row in read_manifest(place, expecting)]
        rows = of_voices(rows, self.voices)
        rows = [row for row in rows if self.split == "all" or row.split == self.split]
        if self.phrases_only:
            rows = [row for row in rows if row.expected is not None]
        if self.sample is not None:
            rows = sampled(rows, self.sample, self.seed)
        if not rows:
            raise MeasuringError("no row is left to be measured; see --split, --voices and --phrases-only")
        refuse_missing(rows)
        return rows

    def limits_in_force(self) -> Limits:
        """Those of the file that was named, or those that are shipped."""
        return read_limits(self.limits) if self.limits else default_limits()

    def heard(self, rows: Sequence[Row], names: Sequence[str], grammar: Grammar) -> Run:
        """A run in which everything is heard; says on standard error how far it is."""
        cache = HearingCache(self.cache)
        if cache.broken_lines:
            _say(
                f"{self.cache}: {cache.broken_lines} broken lines were left out; what they held is heard again"
            )
        run = Run(rows, names, cache, grammar, renew=self.renew)
        progress = run.hear(self.jobs, _Telling())
        _say(
            f"{len(rows)} rows; {progress.heard} utterances heard now in {progress.seconds:.0f} s ({self.cache})"
        )
        if stale := run.stale():
            _say(
                f"{stale} hearings are of another version of the recogniser or grammar; --renew hears them again"
            )
        return run


def recognition(
    selection: Selection,
    listeners: Sequence[str] = DEFAULT_NAMES,
    *,
    json_to: Path | None = None,
    plot_to: Path | None = None,
    misses: bool = False,
) -> Counted:
    """Measure listeners over corpora; print tables, and write JSON and a plot where wanted.

    Raises VoicelogError for manifests, recordings or names that cannot be used.
    """
    grammar, names = load(), checked_names(listeners)
    limits, rows = selection.limits_in_force(), selection.rows(grammar)
    _check_writable(json_to, plot_to)
    run = selection.heard(rows, names, grammar)
    found = counted((name, run.cases(name), judge_of(name, grammar, limits)) for name in names)
    made = reporting.Made(
        at=datetime.now(UTC),
        corpora=_names(selection.corpora),
        listeners=names,
        limits=limits,
        jobs=selection.jobs,
        sample=selection.sample,
        seed=selection.seed,
        stale=run.stale(),
    )
    if json_to is not None:
        _write(json_to, json.dumps(reporting.as_json(found, made, with_misses=misses), indent=1) + "\n")
    if plot_to is not None:
        _write(plot_to, svg(found))
    _print(found, misses=misses)
    here = reporting.machine()
    print(
        f"counted {made.at:%Y-%m-%d %H:%M} UTC with voicelog {__version__} on {here['system']}, {here['cores']} cores; "
        f"shares with 95 % intervals; decode seconds are of when each was heard"
    )
    return found


def calibrate(
    selection: Selection,
    listener: str = "normal",
    *,
    target: Target | None = None,
    to: Path | None = None,
    json_to: Path | None = None,
) -> Choice:
    """Choose limits on one half of the speakers, report on the other half, and write the file of limits.

    With the split "tuning" the other half is left alone, for trials. Raises MeasuringError, and writes nothing, when no
    limits keep the target.
    """
    grammar, target = load(), target or Target()
    (name,) = checked_names([listener])
    if name == "free":
        raise MeasuringError("the listener 'free' has no limits to choose")
    if selection.split == "test":
        raise MeasuringError("limits are never chosen on the test half: leave out --split, or name tuning")
    in_force, rows = selection.limits_in_force(), selection.rows(grammar)
    half_of = halves(rows, selection.seed, both=selection.split == "all")
    _check_writable(to, json_to)
    cases = selection.heard(rows, (name,), grammar).cases(name)
    tuning = [case for case in cases if half_of[case.row.speaker] == "tuning"]
    test = [case for case in cases if half_of[case.row.speaker] == "test"]
    choice = choose(tuning, name, grammar, in_force, target)
    if not choice.kept:
        raise MeasuringError(
            f"no limits keep the target on the tuning half; the nearest: {_line(choice.figures)}"
        )
    report = {
        "in force, tuning half": figures(tuning, name, grammar, in_force),
        "chosen, tuning half": choice.figures,
    }
    if test:
        report["in force, test half"] = figures(test, name, grammar, in_force)
        report["chosen, test half"] = figures(test, name, grammar, choice.limits)
    text = limits_text(choice.limits, _comments(selection, name, target, choice, tuning))
    if to is not None:
        write_limits(to, text)
    if json_to is not None:
        _write(json_to, json.dumps(_choice_json(choice, target, report), indent=1) + "\n")
    for title, each in report.items():
        print(f"{title:24} {_line(each)}")
    print(f"\n{text}", end="")
    return choice


def _comments(
    selection: Selection, name: str, target: Target, choice: Choice, tuning: Sequence[Case]
) -> list[str]:
    voices = sorted({case.row.speaker for case in tuning})
    named = ", ".join(voices) if len(voices) <= 20 else f"{len(voices)} speakers"
    return [
        "Limits of the decision (hearing/decision.py), log probabilities base e.",
        f"Chosen {datetime.now(UTC).date()} by `voicelog bench calibrate` for the listener {name}, "
        f"from {choice.tried} tried.",
        f"Corpora: {', '.join(_names(selection.corpora))}; tuning half of the speakers alone: {named}.",
        f"Target: silently wrong at most {100 * target.silently_wrong:g} %, entries from other talk at most "
        f"{target.entered_an_hour:g} an hour, questions at most {target.asked_in_10_minutes:g} in 10 minutes.",
        f"On that half: {_line(choice.figures)}.",
    ]


def _line(found: Figures) -> str:
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


def _choice_json(choice: Choice, target: Target, report: dict[str, Figures]) -> dict[str, Any]:
    return {
        "limits": asdict(choice.limits),
        "target": asdict(target),
        "tried": choice.tried,
        "figures": {title: asdict(each) for title, each in report.items()},
        "machine": reporting.machine(),
    }


def _print(found: Counted, *, misses: bool) -> None:
    console = Console(width=_WIDTH)
    for table in reporting.tables(found):
        console.print(table)
        console.print()
    if found.not_phrases:
        print(f"{found.not_phrases} rows have a transcript that is no phrase: counted as other talk")
    if misses:
        for miss in found.misses:
            print(
                f"{miss.listener}\t{miss.result}\t{miss.set_name}\t{miss.speaker}\t{miss.condition}\t"
                f"said: {miss.said or '-'}\theard: {miss.heard}"
            )


def _names(corpora: Sequence[Path]) -> tuple[str, ...]:
    """Names of corpora without the folders of this machine."""
    return tuple((place if place.is_dir() else place.parent).resolve().name for place in corpora)


def _check_writable(*paths: Path | None) -> None:
    """Said before hours of measuring, not after. Raises MeasuringError."""
    for path in paths:
        if path is not None and not path.resolve().parent.is_dir():
            raise MeasuringError(f"{path}: its folder does not exist")


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise MeasuringError(f"{path}: cannot be written ({error.strerror})") from None


class _Telling:
    """Says on standard error how far a run is, every few seconds."""

    def __init__(self) -> None:
        self._next_s = time.monotonic() + _TOLD_EVERY_S

    def __call__(self, progress: Progress) -> None:
        if time.monotonic() >= self._next_s:
            self._next_s = time.monotonic() + _TOLD_EVERY_S
            _say(
                f"at row {progress.rows_done + 1} of {progress.rows}: {progress.heard} utterances heard "
                f"in {progress.seconds:.0f} s"
            )


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
