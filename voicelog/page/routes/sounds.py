"""The sound of entries: only what an entry of that exam names, and only as it was written."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path
from starlette.responses import FileResponse

from voicelog.page.context import ThisPage
from voicelog.page.problems import problem

router = APIRouter(tags=["record"])


@router.get(
    "/review/{exam}/sounds/{clip}.flac",
    response_class=FileResponse,
    responses={
        200: {"description": "the sound", "content": {"audio/flac": {}}},
        404: problem("no entry names it, or it is not kept any more"),
    },
)
def sound(exam: str, clip: Annotated[str, Path(pattern="^[0-9a-f]{64}$")], page: ThisPage) -> FileResponse:
    """One entry's sound, by the SHA-256 that its event names."""
    journal = page.journal
    record = journal.exam(exam)
    if clip not in record.clips or clip in record.expired:
        raise HTTPException(404, "no entry of that exam names that sound, or its days are over")
    if journal.clips.state(exam, clip) != "kept":
        raise HTTPException(404, "the sound is missing, or was altered")
    return FileResponse(journal.clips.path(exam, clip), media_type="audio/flac")
