"""`voicelog tour`: five minutes through demo, typing, practice, an exam on recorded sound and its review."""

import argparse
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicelog.demo import demo_audio
from voicelog.errors import VoicelogError

_HEARD: Final = "{demo}"
"""Stands for the recording of the demo in a step's arguments."""
_REFERENCE: Final = "TOUR"


@dataclass(frozen=True, slots=True)
class Step:
    """What is told, the command that is run, and what is typed into it."""

    title: str
    told: str
    command: tuple[str, ...]
    typed: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """The command as one would type it."""
        return " ".join(("voicelog", *self.command)).replace(_HEARD, demo_audio().name)


STEPS: Final = (
    Step(
        "An exam, heard",
        "The demo is a recording of an exam. Voicelog listens to it as to a microphone.\n"
        "It enters what was meant for the log. It marks other talk with a dot.\n"
        "It follows each correction. At the end stand both refractions.",
        ("demo",),
    ),
    Step(
        "Your own words",
        "You can type what you would say. A correction takes the place of the last value.\n"
        "What a bare direction names is asked once. A power without its sign is asked about.\n"
        "Nothing is guessed.",
        ("type", "--no-record"),
        (
            "right eye",
            "working distance sixty seven",
            "vertical neutral at two",
            "plus",
            "the streak",
            "no plus two and a quarter",
            "horizontal plus one and a half",
            "what have i got",
        ),
    ),
    Step(
        "Practice",
        "Here is a simulated eye. Each lens changes its reflex.\n"
        "With motion asks for more plus, against for more minus.\n"
        "At the end your result stands beside the truth.",
        ("practice", "--words", "--seed", "45", "--no-progress"),
        (
            "right eye",
            "working distance 67",
            "streak 167",
            "sphere plus two and a half",
            "sphere plus three",
            "streak 167 neutral at plus three",
            "streak 77",
            "sphere plus one and a half",
            "streak 77 neutral at plus one and a half",
            "done",
        ),
    ),
    Step(
        "An exam that is kept",
        "The same recording, now as an exam with a reference. It is kept in a record.\n"
        "For the tour that record lies in a folder of its own, which is removed at the end.",
        ("replay", _HEARD, "--reference", _REFERENCE),
    ),
    Step(
        "Review",
        "The list shows every exam. One of them can be shown whole, with what became of each line.",
        ("record", "list"),
    ),
    Step(
        "For others",
        "An exam goes to others as a note, a printed page, a table or FHIR. This is the note.",
        ("export", _REFERENCE, "--format", "note"),
    ),
)
_BEGINNING: Final = """\
A tour of five minutes. Nothing of it touches your own record, and it needs no network.
Powers are in dioptres, axes in degrees. It is an objective finding, not a prescription."""
_END: Final = """\
That was the tour. From here:

  voicelog practice --kind next   a lesson on the simulated eye; --page moves it in the browser
  voicelog phrases                all that can be said
  voicelog check                  is the microphone good enough?
  voicelog exam                   an exam, with its page in the browser
  voicelog review                 the exams that were kept, on the page"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Whether it waits."""
    parser.add_argument("--all", action="store_true", help="go through without waiting for Enter")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Go from step to step. Raises VoicelogError when the command of a step fails."""
    waits = sys.stdin.isatty() and not options.all
    print(_BEGINNING)
    with tempfile.TemporaryDirectory(prefix="voicelog-tour-") as folder:
        # Its own settings too: the words of each step hold for the defaults.
        own = {"VOICELOG_DATA": folder, "VOICELOG_SETTINGS": str(Path(folder) / "settings.toml")}
        for number, step in enumerate(STEPS, start=1):
            if not _goes_on(f"Enter: {step.title.lower()}. q: end. ", waits=waits):
                return 0
            print(f"\n{number} of {len(STEPS)}. {step.title}\n\n{step.told}\n\n$ {step.shown}")
            for line in step.typed:
                print(f"> {line}")
            print(flush=True)
            _run(step, os.environ | own)
    print(f"\n{_END}")
    return 0


def _goes_on(question: str, *, waits: bool) -> bool:
    """Whether the next step is wanted; the end of the input is a no."""
    if not waits:
        return True
    try:
        return input(f"\n{question}").strip().lower() not in ("q", "quit", "no", "end")
    except EOFError:
        return False


def _run(step: Step, environment: dict[str, str]) -> None:
    arguments = [str(demo_audio()) if each == _HEARD else each for each in step.command]
    done = subprocess.run(
        [sys.executable, "-m", "voicelog", *arguments],
        input="".join(f"{line}\n" for line in step.typed),
        encoding="utf-8",
        env=environment,
        check=False,
    )
    if done.returncode:
        raise VoicelogError(f"the step {step.title!r} failed: {step.shown}")
