"""The live commands; each takes plain arguments and prints to standard output."""

import json
import os
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any, Literal

from rich.console import Console

from voicelog.exam.summary import summary
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import FileSource, Source
from voicelog.live import devices, preflight
from voicelog.live.exam import Ended, LiveExam, LiveOptions
from voicelog.live.switch import Pedal
from voicelog.record.places import data_folder
from voicelog.screen.terminal import print_result
from voicelog.session import Session, Store
from voicelog.settings import Settings


def exam(
    settings: Settings,
    engine: Engine,
    *,
    device: str | None = None,
    source: Path | None = None,
    pace: Literal["real", "fast"] = "real",
    push_to_talk: bool = False,
    pedal: Pedal = "toggle",
    reference: str = "",
    store: Store | None = None,
    as_json: bool = False,
    stay: bool = False,
    beside: Callable[[LiveExam, Session], AbstractContextManager[object]] | None = None,
) -> Session:
    """Run a live exam and print what it came to; a device that is named is remembered.

    With `stay` it goes on after a recording. `beside` is entered while it runs: a page, for instance.

    Raises MissingPartError without PortAudio, SpeakingError for a volume outside 0 to 1, AudioError for a recording
    that cannot be used, VoicelogError for push-to-talk without a terminal.
    """
    if source is None:
        device = _chosen(device, settings.microphone)
    session = Session(settings, engine=engine, store=store, reference=reference)
    options = LiveOptions(
        device=device,
        source=source,
        pace=pace,
        stay=stay,
        tones=settings.tones,
        volume=settings.volume,
        read_back=settings.read_back,
        headset=settings.headset,
        push_to_talk=push_to_talk,
        pedal=pedal,
    )
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        on_screen = sys.stdout.isatty() and not as_json
        console = Console() if on_screen else Console(file=nowhere, force_terminal=True, width=100)
        running = LiveExam(session, engine, options, console)
        with nullcontext() if beside is None else beside(running, session):
            ended = running.run()
    if as_json:
        print(json.dumps(summary(session.state) | {"live": _figures(ended)}, indent=2))
    else:
        print_result(Console(), session.state, session.acuity_notation)
    return session


def _chosen(device: str | None, by_settings: str | None) -> str | None:
    """The microphone for an exam; one that is named now is remembered."""
    if device is None:
        return devices.chosen(None, by_settings)
    devices.remember(device or None)  # an empty name: back to the system's default
    return device or None


def _figures(ended: Ended) -> dict[str, Any]:
    counts = ended.counts
    return {
        "utterances": counts.utterances,
        "drafts": counts.drafts,
        "drafts_used": counts.drafts_used,
        "own_speech": counts.own_speech,
        "most_waiting": counts.most_waiting,
        "latency": ended.latency.as_json(),
        "notes": list(ended.notes),
    }


def check(
    engine: Engine,
    *,
    seconds: float = 10.0,
    microphone: str | None = None,
    device: str | None = None,
    source: Path | None = None,
    folder: Path | None = None,
    as_json: bool = False,
) -> bool:
    """Listen for some seconds and say whether an exam can begin; True when nothing is wrong.

    It listens to what an exam would listen to: `device` if it is named, else `microphone`, the one in the settings.
    Raises MissingPartError without PortAudio or when no sound comes in.
    """
    opened: Source = FileSource(source) if source else MicrophoneSource(devices.chosen(device, microphone))
    if not as_json:
        print(f'For {seconds:g} seconds: be silent for a moment, then say "{preflight.SAMPLE_SENTENCE}".')
    found = preflight.report(preflight.sound_of(opened, seconds), engine, folder or data_folder())
    if as_json:
        print(json.dumps(found.as_json()))
    else:
        print("\n".join(_lines(found)))
    return not found.problems


def _lines(found: preflight.Report) -> list[str]:
    speech = "none" if found.speech_dbfs is None else f"{found.speech_dbfs:.0f} dBFS"
    heard = "nothing" if found.heard is None else f"{found.heard} ({found.outcome})"
    return [
        f"level        {found.level_dbfs:.0f} dBFS, speech {speech}",
        f"noise floor  {found.noise_floor_dbfs:.0f} dBFS",
        f"clipping     {100 * found.clipped_fraction:.2f} %",
        f"engine       {found.engine}",
        f"disk         {found.disk_free_bytes / 1e9:.1f} GB free for clips",
        f"heard        {heard}",
        *(f"! {problem}" for problem in found.problems),
        *(() if found.problems else ("ready",)),
    ]


def bench_latency(
    engine: Engine,
    recording: Path,
    *,
    settings: Settings | None = None,
    pace: Literal["real", "fast"] = "real",
    as_json: bool = False,
) -> Ended:
    """From the end of the last word to the entry drawn on the screen, over a recording.

    Only real pace says what an examiner would wait; "fast" says what the machine can do at most.
    """
    session = Session(settings or Settings(), engine=engine)
    options = LiveOptions(source=recording, pace=pace, read_back="off")
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        console = Console(file=nowhere, force_terminal=True, width=100)
        ended = LiveExam(session, engine, options, console).run()
    found = ended.latency
    if as_json:
        print(json.dumps({"pace": pace} | _figures(ended)))
    elif found.median_s is None or found.p95_s is None:
        print("no entry was heard, so there is nothing to measure")
    else:
        print(
            f"{found.count} entries at {pace} pace: median {found.median_s:.2f} s, "
            f"95th percentile {found.p95_s:.2f} s, worst {found.worst_s:.2f} s"
        )
    return ended
