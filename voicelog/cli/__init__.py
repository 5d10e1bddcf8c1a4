"""The command line: arguments in, exit status out (0 done, 2 unusable input, 3 a part is missing).

One file a command, which holds its arguments and its run. Only the file of the command that is given is imported, so
it may import at its top whatever it needs.
"""

import argparse
import sys
from collections.abc import Container, Sequence
from importlib import import_module

from voicelog import __version__
from voicelog.cli.parsing import OneLineParser
from voicelog.errors import MissingPartError, VoicelogError
from voicelog.optics import OpticsError
from voicelog.record.inert import inert

COMMANDS = {
    "tour": ("tour", "five minutes through all of it: demo, practice, an exam on recorded sound, review"),
    "demo": ("demo", "a dictated exam, through the real recogniser, to the screen"),
    "replay": ("replay", "a whole recorded exam"),
    "hear": ("hear", "one utterance a file: what was heard"),
    "type": ("type_lines", "typed phrases from standard input, one a line"),
    "solve": ("solve", "meridians of power and gross powers to a refraction"),
    "exam": ("exam", "live: microphone, screen, tones, read-back"),
    "screen": ("screen", "a list of children: an exam each, and a table against limits by age"),
    "review": ("review", "the page with the exams that were kept"),
    "practice": ("practice", "a simulated eye: the whole exam without a patient"),
    "devices": ("devices", "the microphones of this machine, and how loud each is"),
    "check": ("check", "is the microphone good enough, is everything there?"),
    "bench": ("bench", "measure"),
    "phrases": ("phrases", "the phrase card; or random phrases"),
    "settings": ("settings", "what is set, and to set it"),
    "record": ("record", "the exams that were kept"),
    "export": ("export", "one exam as FHIR, CSV, JSON, a printed page or a referral note"),
    "completion": ("completion", "the script by which a shell completes all this"),
    "audit": ("audit", "over many exams: retinoscopy against the refined result"),
    "visits": ("visits", "the exams of one reference side by side: what changed, and how fast"),
    "models": ("models", "the speech models on this machine"),
}
"""Each command's file in this folder, which has `add_arguments(parser)`, and what it is for."""

_BEGINNING = """\
Hands-free, offline voice logger for streak retinoscopy with a trial frame.

  voicelog tour      five minutes through all of it, offline
  voicelog exam      listen: an exam of a patient, with its page in the browser
  voicelog review    the exams that were kept: look, put right, sign off, print
  voicelog practice  the same without a patient, on a simulated eye

`voicelog COMMAND --help` says what a command takes."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; errors that the user can act on are one line on standard error."""
    given = sys.argv[1:] if arguments is None else arguments
    try:
        if not given:
            parser_with(()).print_help()
            return 0
        options = parsed(given)
        return int(options.run(options) or 0)
    except MissingPartError as error:
        print(f"voicelog: {inert(str(error))}", file=sys.stderr)
        return 3
    except (VoicelogError, OpticsError) as error:
        print(f"voicelog: {inert(str(error))}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader has gone (as in `voicelog phrases | head`): nothing is wrong and nobody is left to tell.
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        return 130


def parsed(arguments: Sequence[str]) -> argparse.Namespace:
    """The arguments as options; `run` is the function that carries them out. Exits where they cannot be used."""
    given = next((each for each in arguments if not each.startswith("-")), "")
    return parser_with((given,)).parse_args(arguments)


def parser_with(given: Container[str]) -> OneLineParser:
    """The parser of the command line, with the arguments of the commands that are given."""
    parser = OneLineParser(
        prog="voicelog", description=_BEGINNING, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--version", action="version", version=f"voicelog {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND", title="all commands")
    for name, (module, purpose) in COMMANDS.items():
        command = commands.add_parser(name, help=purpose)
        if name in given:
            import_module(f"voicelog.cli.{module}").add_arguments(command)
    return parser
