"""A live exam as `voicelog exam` runs it, without a page beside it."""

from typing import Any

from voicelog.cli.exam import print_ended
from voicelog.hearing.engines.protocol import Engine
from voicelog.live import devices
from voicelog.live.exam import LiveOptions
from voicelog.live.running import run_exam
from voicelog.session import Session, Store
from voicelog.settings import Settings


def live_exam(
    settings: Settings, engine: Engine, *, store: Store | None = None, as_json: bool = True, **given: Any
) -> Session:
    """Run it, print what it came to, and return its session."""
    if "source" not in given:
        given["device"] = devices.for_exam(given.get("device"), settings.microphone)
    session = Session(settings, engine=engine, store=store)
    ended = run_exam(session, engine, LiveOptions.of(settings, **given), on_screen=not as_json)
    print_ended(ended, session.acuity_notation, as_json=as_json)
    return session
