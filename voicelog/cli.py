"""The command line: arguments in, exit status out (0 done, 2 unusable input, 3 a part is missing)."""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from voicelog import __version__
from voicelog.errors import MissingPartError, VoicelogError
from voicelog.measuring.arguments import add_commands as add_measuring_commands
from voicelog.optics import MeridianReading, OpticsError
from voicelog.page.arguments import add_options as add_page_options
from voicelog.practice.arguments import add_options as add_practice_options
from voicelog.record.arguments import add_commands as add_record_commands
from voicelog.settings import Settings, load_settings

_READING = re.compile(r"([0-9]+(?:\.[0-9]+)?)=([+-]?[0-9]*\.?[0-9]+)")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; errors that the user can act on are one line on standard error."""
    try:
        options = _parser().parse_args(arguments)
        return int(options.run(options) or 0)
    except MissingPartError as error:
        print(f"voicelog: {error}", file=sys.stderr)
        return 3
    except (VoicelogError, OpticsError) as error:
        print(f"voicelog: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader has gone (as in `voicelog phrases | head`): nothing is wrong and nobody is left to tell.
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        return 130


class _OneLineParser(argparse.ArgumentParser):
    """Says what is wrong in one line, without the usage."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}\n")


def _parser() -> argparse.ArgumentParser:
    parser = _OneLineParser(
        prog="voicelog",
        description="Hands-free, offline voice logger for streak retinoscopy with a trial frame.",
    )
    parser.add_argument("--version", action="version", version=f"voicelog {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    demo = commands.add_parser("demo", help="a dictated exam, through the real recogniser, to the screen")
    _exam_options(demo)
    demo.add_argument(
        "--pace", choices=("fast", "real"), default="fast", help="as fast as possible, or as spoken"
    )
    add_page_options(demo, optional=True)
    demo.set_defaults(run=_demo)

    replay = commands.add_parser("replay", help="a whole recorded exam")
    replay.add_argument("audio", type=Path)
    _exam_options(replay)
    _kept_options(replay)
    replay.set_defaults(run=_replay)

    hear = commands.add_parser("hear", help="one utterance a file: what was heard")
    hear.add_argument("audio", type=Path, nargs="+")
    hear.add_argument("--rule", default="entry", help="listen for one rule of the grammar only")
    hear.add_argument("--json", action="store_true", help="one object a line")
    _policy_option(hear)
    hear.set_defaults(run=_hear)

    typed = commands.add_parser("type", help="typed phrases from standard input, one a line")
    _exam_options(typed)
    _kept_options(typed)
    typed.set_defaults(run=_type)

    solve = commands.add_parser("solve", help="meridians of power and gross powers to a refraction")
    solve.add_argument(
        "--reading",
        action="append",
        required=True,
        type=_reading,
        metavar="MERIDIAN=POWER",
        help="as in 90=+3.00",
    )
    solve.add_argument("--distance", type=float, metavar="CM", help="working distance in centimetres")
    solve.add_argument(
        "--lens-in", action="store_true", help="the working-distance lens was in: no allowance"
    )
    solve.add_argument("--json", action="store_true")
    solve.set_defaults(run=_solve)

    exam = commands.add_parser("exam", help="live: microphone, screen, tones, read-back")
    _exam_options(exam)
    exam.add_argument("--device", metavar="NAME", help="part of the microphone's name; '' for the default")
    exam.add_argument("--source", type=Path, metavar="FILE", help="a recording instead of the microphone")
    exam.add_argument("--pace", choices=("real", "fast"), default="real", help="pace of the recording")
    exam.add_argument("--volume", type=float, help="of tones and read-back, 0 to 1")
    exam.add_argument("--read-back", choices=("off", "short", "full"))
    exam.add_argument(
        "--headset", action="store_true", default=None, help="the microphone does not hear the loudspeaker"
    )
    exam.add_argument("--push-to-talk", action="store_true", help="any key or foot switch starts listening")
    exam.add_argument("--pedal", choices=("toggle", "hold"), default="toggle")
    _kept_options(exam)
    add_page_options(exam)
    exam.set_defaults(run=_exam)

    review = commands.add_parser("review", help="the page with the exams that were kept")
    add_page_options(review)
    review.set_defaults(run=_review)

    practice = commands.add_parser("practice", help="a simulated eye: the whole exam without a patient")
    _exam_options(practice)
    add_practice_options(practice)
    add_page_options(practice)
    practice.set_defaults(run=_practice)

    check = commands.add_parser("check", help="is the microphone good enough, is everything there?")
    check.add_argument("--seconds", type=_seconds, default=10.0)
    check.add_argument("--device", metavar="NAME", help="part of the microphone's name")
    check.add_argument("--source", type=Path, metavar="FILE", help="a recording instead of the microphone")
    check.add_argument("--json", action="store_true")
    check.set_defaults(run=_check)

    benches = commands.add_parser("bench", help="measure").add_subparsers(required=True, metavar="WHAT")
    latency = benches.add_parser("latency", help="from the end of the last word to the entry, over the demo")
    latency.add_argument("--pace", choices=("real", "fast"), default="real")
    latency.add_argument("--json", action="store_true")
    latency.set_defaults(run=_bench_latency)
    add_measuring_commands(benches)

    phrases = commands.add_parser("phrases", help="the phrase card; or random phrases")
    phrases.add_argument("--sample", type=_count, metavar="N", help="print N random phrases instead")
    phrases.add_argument("--seed", type=int, help="the same phrases every time")
    phrases.add_argument("--rule", default="entry", help="phrases of one rule only")
    phrases.set_defaults(run=_phrases)
    _settings_commands(commands)
    add_record_commands(commands)
    _models_commands(commands)
    return parser


def _settings_commands(commands: "argparse._SubParsersAction[_OneLineParser]") -> None:
    settings = commands.add_parser("settings", help="what is set, and to set it")
    settings.set_defaults(run=_show_settings)
    verbs = settings.add_subparsers(metavar="COMMAND")
    changed = verbs.add_parser("set", help="give one setting a value")
    changed.add_argument("name")
    changed.add_argument("value", help="as in the file; text needs no quotes")
    changed.set_defaults(run=_set_setting)
    reset = verbs.add_parser("reset", help="take one setting back to its default")
    reset.add_argument("name")
    reset.set_defaults(run=_reset_setting)


def _models_commands(commands: "argparse._SubParsersAction[_OneLineParser]") -> None:
    models = commands.add_parser("models", help="the speech models on this machine")
    models_commands = models.add_subparsers(required=True, metavar="COMMAND")

    listed = models_commands.add_parser("list", help="each with its licence, source and SHA-256")
    listed.add_argument("--json", action="store_true")
    listed.set_defaults(run=_list_models)

    added = models_commands.add_parser("add", help="copy a Vosk model into the models folder, after checks")
    added.add_argument("source", type=Path, metavar="FOLDER_OR_ZIP")
    added.set_defaults(run=_add_model)

    removed = models_commands.add_parser("remove", help="delete a model that was added")
    removed.add_argument("name", metavar="NAME")
    removed.set_defaults(run=_remove_model)


def _exam_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one object")
    parser.add_argument("--naming", choices=("streak", "meridian"), help="what a bare direction names")
    parser.add_argument("--distance", type=float, metavar="CM", help="working distance, if it is not said")
    _policy_option(parser)
    parser.add_argument("--form", choices=("minus", "plus"), help="cylinder form of the results")


def _kept_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reference", default="", help="the practice's own reference; no name is needed")
    parser.add_argument("--no-record", action="store_true", help="keep nothing of this exam")


def _policy_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--policy", choices=("cautious", "normal", "single"), help="how readily it asks instead of entering"
    )
    parser.add_argument("--engine", choices=("moonshine", "sphinx", "vosk"), help="which recogniser listens")


def _listening(options: argparse.Namespace, settings: Settings) -> Settings:
    """The settings with what was said of the listeners on the command line."""
    given = {"policy": options.policy, "engine": options.engine}
    return settings.model_copy(update={name: value for name, value in given.items() if value is not None})


def _settings(options: argparse.Namespace) -> Settings:
    given = {
        "naming": options.naming,
        "working_distance_cm": options.distance,
        "cylinder_form": options.form,
        "policy": options.policy,
        "engine": options.engine,
        "volume": getattr(options, "volume", None),
        "read_back": getattr(options, "read_back", None),
        "headset": getattr(options, "headset", None),
    }
    changes = {name: value for name, value in given.items() if value is not None}
    if options.distance is not None and not 10 <= options.distance <= 100:
        raise VoicelogError(f"--distance {options.distance:g}: a working distance is 10 to 100 cm")
    return load_settings().model_copy(update=changes)


def _reading(text: str) -> tuple[float, float]:
    match = _READING.fullmatch(text.strip())
    if not match:
        raise argparse.ArgumentTypeError(f"{text!r} is not MERIDIAN=POWER, as in 90=+3.00")
    return float(match[1]), float(match[2])


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0.0 < seconds <= 600.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time above 0 and up to 600 s")
    return seconds


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of phrases")
    return int(text)


def _demo(options: argparse.Namespace) -> None:
    from voicelog import commands

    if options.port is None:
        commands.replay(commands.demo_audio(), _settings(options), as_json=options.json, pace=options.pace)
        return
    from voicelog.page import commands as page

    page.demo(options, _settings(options), commands.demo_audio(), commands.engine)


def _replay(options: argparse.Namespace) -> int:
    from voicelog import commands

    all_entered = commands.replay(
        options.audio,
        _settings(options),
        as_json=options.json,
        keep=not options.no_record,
        reference=options.reference,
    )
    return 0 if all_entered else 2


def _hear(options: argparse.Namespace) -> int:
    from voicelog import commands

    return (
        0
        if commands.hear(
            options.audio, options.rule, _listening(options, load_settings()), as_json=options.json
        )
        else 2
    )


def _type(options: argparse.Namespace) -> int:
    from voicelog import commands

    all_entered = commands.type_lines(
        commands.standard_input(),
        _settings(options),
        as_json=options.json,
        keep=not options.no_record,
        reference=options.reference,
    )
    return 0 if all_entered else 2


def _solve(options: argparse.Namespace) -> None:
    from voicelog import commands

    if options.distance is None and not options.lens_in:
        raise VoicelogError("say the working distance (--distance CM), or that its lens was in (--lens-in)")
    if options.distance is not None and not 5 <= options.distance <= 600:
        raise VoicelogError(f"--distance {options.distance:g}: a working distance is 5 to 600 cm")
    readings = [MeridianReading(_meridian(angle), power) for angle, power in options.reading]
    commands.solve(readings, options.distance, lens_in=options.lens_in, as_json=options.json)


def _meridian(angle_deg: float) -> float:
    return 180.0 if angle_deg == 0 else angle_deg


def _exam(options: argparse.Namespace) -> None:
    from voicelog import commands
    from voicelog.page import commands as page

    page.exam(
        options,
        lambda: _settings(options),
        engine=commands.engine,
        kept=lambda settings: commands.kept(settings, keep=not options.no_record),
    )


def _review(options: argparse.Namespace) -> None:
    from voicelog.page import commands as page

    page.review(options)


def _practice(options: argparse.Namespace) -> None:
    from voicelog import commands

    settings = _settings(options)
    if options.page:
        from voicelog.page import practising

        practising.run(options, settings, lambda: commands.engine(settings))
        return
    from voicelog.practice import commands as practice

    practice.run(options, settings, commands.standard_input(), lambda: commands.engine(settings))


def _check(options: argparse.Namespace) -> int:
    from voicelog import commands
    from voicelog.live import commands as live

    settings = load_settings()
    good = live.check(
        commands.engine(settings),
        seconds=options.seconds,
        microphone=settings.microphone,
        device=options.device,
        source=options.source,
        as_json=options.json,
    )
    return 0 if good else 2


def _bench_latency(options: argparse.Namespace) -> None:
    from voicelog import commands
    from voicelog.live import commands as live

    live.bench_latency(
        commands.engine(load_settings()), commands.demo_audio(), pace=options.pace, as_json=options.json
    )


def _show_settings(options: argparse.Namespace) -> None:
    from voicelog import commands

    commands.show_settings()


def _set_setting(options: argparse.Namespace) -> None:
    from voicelog import commands

    commands.set_setting(options.name, options.value)


def _reset_setting(options: argparse.Namespace) -> None:
    from voicelog.settings import save_settings

    save_settings({options.name: None})


def _phrases(options: argparse.Namespace) -> None:
    from voicelog import commands

    commands.phrases(options.sample, options.seed, options.rule)


def _list_models(options: argparse.Namespace) -> None:
    from voicelog.hearing.models import commands as models

    models.list_models(load_settings(), as_json=options.json)


def _add_model(options: argparse.Namespace) -> None:
    from voicelog.hearing.models import commands as models

    models.add(options.source)


def _remove_model(options: argparse.Namespace) -> None:
    from voicelog.hearing.models import commands as models

    models.remove(options.name)
