"""The commands behind the command line; each takes plain arguments and prints to standard output."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from importlib.resources import files
from itertools import islice
from pathlib import Path
from random import Random, SystemRandom
from typing import Any, Literal

import tomlkit
import tomlkit.exceptions
from rich.console import Console
from rich.live import Live
from rich.table import Table
from rich.text import Text

from voicelog.errors import VoicelogError
from voicelog.exam.events import Said
from voicelog.exam.summary import lens_summary, summary
from voicelog.hearing.decision import decide
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.moonshine import MoonshineEngine
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.engines.sphinx import SphinxListener
from voicelog.hearing.engines.sphinx_alone import SphinxEngine
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.engines.vosk import VoskEngine
from voicelog.hearing.hear_one import hear_one
from voicelog.hearing.sources import SAMPLE_RATE_HZ, FileSource
from voicelog.optics import MeridianReading, WorkingDistance, solve_readings
from voicelog.phrases.card import phrase_card
from voicelog.phrases.grammar import load
from voicelog.phrases.plain_words import in_plain_words
from voicelog.phrases.sampler import samples
from voicelog.screen.terminal import CAUTION, print_result, refraction, screen
from voicelog.session import Session, Store
from voicelog.settings import Policy, Settings, load_settings, save_settings, settings_path
from voicelog.settings.table import rows


def engine(wanted: Policy | Settings = "single") -> Engine:
    """The listeners that settings (or a policy by itself) ask for.

    The engine `sphinx` listens alone: it cannot be its own second listener. Raises MissingPartError when an engine or
    its model is not there.
    """
    settings = wanted if isinstance(wanted, Settings) else Settings(policy=wanted)
    grammar, policy = load(), settings.policy
    if settings.engine == "sphinx":
        return SphinxEngine(grammar)
    first = (
        VoskEngine(grammar, settings.vosk_model) if settings.engine == "vosk" else MoonshineEngine(grammar)
    )
    if policy == "single":
        return first
    return TwoListeners(grammar, first, SphinxListener(grammar), doubting_teens=policy == "cautious")


def hear(paths: Iterable[Path], rule: str, wanted: Policy | Settings, *, as_json: bool) -> bool:
    """Hear one utterance a file; True when every file could be read."""
    listener = engine(wanted)
    load().walker(rule)
    all_read = True
    for path in paths:
        try:
            hearing = hear_one(listener, path, rule)
        except VoicelogError as error:
            print(error, file=sys.stderr)
            all_read = False
            continue
        best = hearing.hypotheses[0] if hearing.hypotheses else None
        found = {
            "file": str(path),
            "text": in_plain_words(load(), best.text) if best else hearing.free_text,
            "meaning": best.meaning.model_dump(mode="json") if best else None,
            "outcome": decide(hearing),
            "score": _finite(hearing.score),
            "margin": _finite(hearing.margin),
            "seconds": round(hearing.seconds, 3),
        }
        if as_json:
            print(json.dumps(found), flush=True)
        else:
            print(f"{path}: {found['outcome']}: {found['text']}", flush=True)
    return all_read


def _finite(value: float | None) -> float | None:
    return None if value is None or value in (float("inf"), float("-inf")) else round(value, 3)


@contextmanager
def kept(settings: Settings, *, keep: bool) -> Iterator[Store | None]:
    """The store of a new exam in the record; None where nothing is to be kept, or nothing can be, which is said."""
    if not keep:
        yield None
        return
    # Imported here: commands that keep nothing start without the database.
    from voicelog.record.journal import Journal
    from voicelog.record.retention import expire_clips

    try:
        journal = Journal.open(server=settings.record_server, clip_days=settings.clip_days)
    except VoicelogError as error:
        print(f"this exam is not kept: {error}", file=sys.stderr)
        yield None
        return
    with journal:
        expire_clips(journal)
        yield journal.begin()


def type_lines(
    lines: Iterable[str], settings: Settings, *, as_json: bool, keep: bool = False, reference: str = ""
) -> bool:
    """Take typed phrases, one a line, and print the exam they make; False when the record refused one."""
    all_entered = True
    with kept(settings, keep=keep) as store:
        session = Session(settings, store=store, reference=reference)
        for line in lines:
            if line.strip():
                all_entered &= _entered(lambda line=line: session.type_line(line), line.strip())  # type: ignore[misc]
        _print_exam(session, as_json=as_json)
    return all_entered


def _entered(enter: Callable[[], Said], what: str) -> bool:
    """Enter, and say it when the record refuses (a full disk): the exam goes on, the next may be kept again."""
    try:
        said = enter()
    except VoicelogError as error:
        print(f"NOT ENTERED: {what} ({error})", file=sys.stderr)
        return False
    if said.source == "typed" and said.outcome != "accepted":
        print(f"{said.outcome}: {said.reply}", file=sys.stderr)
    return True


def replay(
    path: Path,
    settings: Settings,
    *,
    as_json: bool,
    pace: Literal["fast", "real"] = "fast",
    keep: bool = False,
    reference: str = "",
) -> bool:
    """Run a whole recorded exam through a session and print it; False when the record refused an entry."""
    all_entered = True
    source = FileSource(path, pace)
    listener = engine(settings)
    with kept(settings, keep=keep) as store:
        session = Session(settings, engine=listener, store=store, reference=reference)
        with (
            nullcontext()
            if as_json
            else Live(console=Console(), refresh_per_second=8, transient=True) as live
        ):
            for utterance in utterances(source.blocks()):
                at = f"what was said at {utterance.start_sample / SAMPLE_RATE_HZ:.1f} s"
                all_entered &= _entered(lambda utterance=utterance: session.hear(utterance), at)  # type: ignore[misc]
                if live is not None:
                    live.update(screen(session.state, notation=session.acuity_notation))
        for note in source.notes:
            print(f"{path}: {note}", file=sys.stderr)
        _print_exam(session, as_json=as_json)
    return all_entered


def demo_audio() -> Path:
    """The dictated exam that is shipped with the program."""
    return Path(str(files("voicelog"))) / "demo" / "exam.flac"


def _print_exam(session: Session, *, as_json: bool) -> None:
    if as_json:
        print(json.dumps(summary(session.state), indent=2))
        return
    console = Console()
    print_result(console, session.state, session.acuity_notation)
    for name, eye in session.state.eyes.items():
        if eye.status in ("solved", "conflict") and eye.solution.net is not None:
            console.print(f"{name} eye: {refraction(eye.solution.net)}  ({eye.status})")
        if eye.mean is not None:
            console.print(f"{name} eye, mean of {eye.mean.count} passes: {refraction(eye.mean.net)}")


def solve(
    readings: list[MeridianReading], distance_cm: float | None, *, lens_in: bool, as_json: bool
) -> None:
    """Solve readings of meridians of power, gross, and print the refraction.

    Raises OpticsError for a distance that cannot be.
    """
    allowance = 0.0 if lens_in or distance_cm is None else WorkingDistance(distance_cm / 100).allowance_d
    solution = solve_readings(readings, allowance)
    result: dict[str, Any] = {
        "status": solution.status,
        "net": lens_summary(solution.net) if solution.net else None,
        "exact": lens_summary(solution.exact) if solution.exact else None,
        "residual": solution.residual_d,
        "allowance": allowance,
        "problems": [problem.text for problem in solution.problems],
    }
    if as_json:
        print(json.dumps(result))
        return
    print(refraction(solution.net) if solution.net else solution.status)
    for problem in solution.problems:
        print(f"! {problem.text}")
    print(CAUTION)


def phrases(count: int | None, seed: int | None, rule: str) -> None:
    """Print the phrase card, or `count` random phrases."""
    grammar = load()
    if count is not None:
        random = Random(seed) if seed is not None else SystemRandom()
        for sample in islice(samples(grammar.walker(rule), random), count):
            print(sample.text)
        return
    table = Table(title="what may be said", show_lines=True)
    table.add_column("entry")
    table.add_column("for example")
    for item in phrase_card(grammar):
        table.add_row(item.summary, "\n".join(item.examples))
    Console().print(table)


def show_settings() -> None:
    """Print every setting with what is in force, what may be set, and where the file lies."""
    table = Table(title="settings", show_lines=True)
    for heading in ("name", "in force", "allowed", "meaning"):
        table.add_column(heading, overflow="fold")
    for row in rows(load_settings()):
        in_force = Text(row.value, style="" if row.is_default else "bold")
        table.add_row(row.name, in_force, Text(row.allowed), row.meaning)
    console = Console()
    console.print(table)
    console.print(f"file: {settings_path()}", soft_wrap=True, highlight=False)


def set_setting(name: str, value: str) -> None:
    """Set one setting to a value as it stands in the file; text needs no quotes.

    Raises SettingsError for a name or value that is not allowed.
    """
    try:
        given = tomlkit.value(value).unwrap()
    except tomlkit.exceptions.ParseError:
        given = value
    save_settings({name: given})


def standard_input() -> Iterator[str]:
    """Lines of standard input, decoded leniently: a stray byte spoils its line, not the run."""
    for raw in sys.stdin.buffer:
        yield raw.decode("utf-8", errors="replace")
