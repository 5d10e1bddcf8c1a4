"""`voicelog practice`: a simulated eye, the whole exam without a patient."""

import argparse
import json
from datetime import UTC, datetime
from pathlib import Path
from random import SystemRandom

from voicelog.cli.exam_options import add_exam_options, settings_of
from voicelog.cli.page_options import add_page_options, binding, opens_browser
from voicelog.cli.parsing import number, whole_number
from voicelog.cli.printing import standard_input
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import SEEDS, TECHNIQUES, USUAL_DISTANCE_CM, Exercise
from voicelog.practice.eye import LOOKS, EyeModel, parse_refraction, random_refraction
from voicelog.practice.held import typed, typed_set, watched
from voicelog.practice.kinds import NAMES, Kind, kind_named
from voicelog.practice.lesson import Lesson
from voicelog.practice.progress import kept
from voicelog.practice.pupil import pupil_mm_at
from voicelog.practice.reflex import PUPIL_MM
from voicelog.practice.returning import returns
from voicelog.practice.tables import print_progress, progress_data
from voicelog.practice.teacher_set import read_set
from voicelog.practice.voice import spoken
from voicelog.settings import Settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the exercise is, and how it is run."""
    add_exam_options(parser)
    _add_exercise_options(parser)
    parser.add_argument(
        "--set", type=Path, metavar="FILE", help="a teacher's set (TOML): one lesson after the other"
    )
    parser.add_argument("--progress", action="store_true", help="what your lessons came to, and what is next")
    parser.add_argument("--no-progress", action="store_true", help="keep nothing of this lesson")
    parser.add_argument("--watch", action="store_true", help="a scripted examiner does it; look on")
    parser.add_argument("--advised", action="store_true", help="with --watch: it asks which lens is next")
    parser.add_argument("--words", action="store_true", help="tell each look in words, without being asked")
    parser.add_argument("--voice", action="store_true", help="speak instead of typing")
    parser.add_argument("--page", action="store_true", help="draw it moving, on a page in the browser")
    parser.add_argument("--device", metavar="NAME", help="with --voice: part of the microphone's name")
    parser.add_argument(
        "--source", type=Path, metavar="FILE", help="with --voice: a recording instead of the microphone"
    )
    add_page_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Set the exercise that the options name, and hold the lesson.

    Raises PracticeError for options that cannot be, and what the microphone raises.
    """
    settings = settings_of(options)
    if options.progress:
        _show_progress(as_json=options.json)
        return 0
    if options.set:
        _hold_set(options, settings)
        return 0
    exercise = exercise_of(options, settings)
    if options.page:
        _on_page(options, exercise, settings)
    elif options.watch:
        watched(exercise, settings, as_json=options.json, advised=options.advised)
    elif options.voice:
        _speak(options, Lesson(exercise, settings, keeps=not options.no_progress))
    else:
        typed(
            Lesson(exercise, settings, keeps=not options.no_progress),
            standard_input(),
            as_json=options.json,
            words=options.words,
        )
    return 0


def _show_progress(*, as_json: bool) -> None:
    progress, now = kept(), datetime.now(UTC)
    if as_json:
        print(json.dumps(progress_data(progress, now), indent=2))
    else:
        print_progress(progress, now)


def _hold_set(options: argparse.Namespace, settings: Settings) -> None:
    usual = argparse.ArgumentParser()
    _add_exercise_options(usual)
    other = [name for name, value in vars(usual.parse_args([])).items() if getattr(options, name) != value]
    other += [name for name in ("watch", "advised", "voice", "page") if getattr(options, name)]
    if other:
        raise PracticeError(
            f"--set and --{other[0].replace('_', '-')} do not go together: the file says what is set"
        )
    wanted = read_set(options.set)
    if wanted.distance_cm is not None:
        if options.distance not in (None, wanted.distance_cm):
            raise PracticeError(
                f"--distance {options.distance:g} is not the distance of the set, {wanted.distance_cm:g}"
            )
        # The learner says it, as in every exam whose settings do not know it.
        settings = settings.model_copy(update={"working_distance_cm": None})
    typed_set(
        wanted.exercises(settings.working_distance_cm),
        settings,
        standard_input(),
        title=wanted.title,
        as_json=options.json,
        words=options.words,
        keeps=not options.no_progress,
    )


def exercise_of(options: argparse.Namespace, settings: Settings) -> Exercise:
    """The exercise that the options set, with a new seed where none was given.

    Raises PracticeError for a value that cannot be, or that fits no other.
    """
    if options.watch:
        _check_watched(options)
    if options.advised and not options.watch:
        raise PracticeError("--advised needs --watch: it is the scripted examiner who asks")
    if options.source and not options.voice:
        raise PracticeError("--source needs --voice: a recording is heard")
    seed = SystemRandom().randrange(SEEDS) if options.seed is None else options.seed
    kind = _kind(options)
    return Exercise(
        _model(options, seed)
        if kind is None
        else kind.model(seed, tremor_d=options.tremor, noise_d=options.noise),
        seed,
        options.eye,
        settings.working_distance_cm or USUAL_DISTANCE_CM,
        options.working_lens == "in",
        options.mirror == "concave",
        options.technique,
        options.off_axis,
        "" if kind is None else kind.name,
    )


def _check_watched(options: argparse.Namespace) -> None:
    """What the scripted examiner cannot do. Raises PracticeError."""
    other = {
        "--voice": options.voice,
        "--mirror concave": options.mirror == "concave",
        "--off-axis": bool(options.off_axis),
    }
    for name, is_given in other.items():
        if is_given:
            raise PracticeError(
                f"--watch and {name} do not go together. The examiner types, with a plane mirror, straight ahead"
            )


def _kind(options: argparse.Namespace) -> Kind | None:
    """The kind that was asked for; "next" is what comes first by spaced return."""
    if options.kind is None:
        return None
    own = {
        "--refraction": options.refraction is not None,
        "--reflex": options.reflex != "plain",
        "--child": options.child,
        "--age": options.age is not None,
    }
    for name, is_given in own.items():
        if is_given:
            raise PracticeError(f"--kind and {name} do not go together: the kind says what eye it is")
    if options.kind == "next":
        return returns(kept().lessons, datetime.now(UTC))[0].kind
    return kind_named(options.kind)


def _model(options: argparse.Namespace, seed: int) -> EyeModel:
    given = options.refraction
    return EyeModel(
        random_refraction(seed) if given is None else parse_refraction(given),
        look=options.reflex,
        child=options.child,
        pupil_mm=PUPIL_MM if options.age is None else pupil_mm_at(options.age),
        tremor_d=options.tremor,
        noise_d=options.noise,
    )


def _on_page(options: argparse.Namespace, exercise: Exercise, settings: Settings) -> None:
    # Imported here: at the terminal a lesson starts without what the page is made of.
    from voicelog.page.practising import practise_on_page

    practise_on_page(
        binding(options),
        exercise,
        settings,
        browser=opens_browser(options),
        keeps=not options.no_progress,
        watch=options.watch,
        advised=options.advised,
        listen=(lambda lesson: _speak(options, lesson)) if options.voice else None,
    )


def _speak(options: argparse.Namespace, lesson: Lesson) -> None:
    engine = chosen_engine(lesson.settings, lesson.grammar)
    spoken(
        lesson,
        engine,
        device=options.device,
        recording=options.source,
        as_json=options.json,
        words=options.words,
    )


def _add_exercise_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--kind", choices=(*NAMES, "next"), help="a graded exercise; next: the one whose turn it is"
    )
    parser.add_argument("--seed", type=whole_number(), metavar="N", help="the same eye every time")
    parser.add_argument(
        "--refraction", metavar="TEXT", help='the eye\'s, as in "+1.25 -1.75 x 90"; else random'
    )
    parser.add_argument("--technique", choices=TECHNIQUES, default="spheres", help="how it is to be done")
    parser.add_argument("--eye", choices=("right", "left"), default="right", help="which eye it is")
    parser.add_argument(
        "--tremor",
        type=number(),
        default=0.0,
        metavar="D",
        help="how much accommodation wavers (standard deviation)",
    )
    parser.add_argument(
        "--noise",
        type=number(),
        default=0.0,
        metavar="D",
        help="how unsure motion is near neutral (standard deviation)",
    )
    parser.add_argument("--reflex", choices=LOOKS, default="plain", help="how the reflex looks")
    parser.add_argument("--child", action="store_true", help="a child, who looks at the light now and then")
    parser.add_argument("--age", type=number(), metavar="YEARS", help="the pupil is as wide as at this age")
    parser.add_argument(
        "--off-axis",
        type=number(25.0, "side angle", least=-25.0, unit="degrees"),
        default=0.0,
        metavar="DEG",
        help="how far to the side of the line of sight you sit",
    )
    parser.add_argument(
        "--mirror", choices=("plane", "concave"), default="plane", help="setting of the sleeve"
    )
    parser.add_argument(
        "--working-lens",
        choices=("out", "in"),
        default="out",
        help="in: it stands in the frame from the start",
    )
