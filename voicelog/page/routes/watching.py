"""Watching the scripted examiner: the scenes of an exercise, and the sound of each line."""

from fastapi import APIRouter, HTTPException
from starlette.responses import Response

from voicelog.errors import MissingPartError
from voicelog.page.context import ThisPage
from voicelog.page.problems import problem
from voicelog.page.routes.practice import NewExercise, exercise_of
from voicelog.page.watching import prepare, show_data, show_of
from voicelog.speaking.errors import SpeakingError

router = APIRouter(tags=["practice"])


@router.post("/api/practice/watch", responses={400: problem("the exercise cannot be set, or not be done")})
def watch(wanted: NewExercise, page: ThisPage) -> dict[str, object]:
    """Have the scripted examiner do an exercise: every look, every line, the log's answers."""
    return show_data(prepare(page, exercise_of(wanted, page.settings), page.settings))


@router.get("/api/practice/watch", responses={404: problem("nothing is watched")})
def watched(page: ThisPage) -> dict[str, object]:
    """What was set to be watched last."""
    show = show_of(page)
    if show is None:
        raise HTTPException(404, "nothing is watched")
    return show_data(show)


@router.get(
    "/practice/watch/{line}.wav",
    response_class=Response,
    responses={
        200: {"description": "the line, spoken", "content": {"audio/wav": {}}},
        404: problem("there is no such line, or no voice to speak it"),
    },
)
def sound(line: int, page: ThisPage) -> Response:
    """A line in the examiner's voice: the system voice of the machine that voicelog runs on."""
    show = show_of(page)
    if show is None:
        raise HTTPException(404, "nothing is watched")
    try:
        content = show.sound(line)
    except IndexError:
        raise HTTPException(404, f"there is no line {line}") from None
    except (MissingPartError, SpeakingError) as error:
        raise HTTPException(404, f"no voice: {error}") from None
    return Response(content, media_type="audio/wav", headers={"cache-control": "no-store"})
