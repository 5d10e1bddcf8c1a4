"""Makes the pictures in docs/: `python -m tests.pictures`."""

import os
from pathlib import Path

from rich.console import Console

from tests.english import load
from voicelog.demo import demo_audio
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.sources import FileSource
from voicelog.screen.terminal import screen
from voicelog.session import Session
from voicelog.settings import Settings

DOCS = Path(__file__).parent.parent / "docs"


def main() -> None:
    """Replay the demo and keep its last screen as an SVG picture."""
    session = Session(engine=chosen_engine(Settings(), load()))
    for utterance in utterances(FileSource(demo_audio()).blocks()):
        session.hear(utterance)
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        console = Console(width=120, record=True, file=nowhere, force_terminal=True)
        console.print(screen(session.state, rows=100))
        console.save_svg(str(DOCS / "demo.svg"), title="voicelog demo")


if __name__ == "__main__":
    main()
