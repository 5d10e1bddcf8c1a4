"""The way in for those who come from another machine: a passphrase, tried at most once a second."""

import threading
import time
from typing import Annotated, Final

from fastapi import APIRouter, HTTPException, Request
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, Response

from voicelog.page import rendering
from voicelog.page.context import ThisPage
from voicelog.page.guard import let_in

router = APIRouter()

_PAUSE_S: Final = 1.0
_lock = threading.Lock()


class Passphrase(BaseModel):
    """What was typed."""

    passphrase: Annotated[str, Field(min_length=1, max_length=200)]


@router.get("/enter", include_in_schema=False)
def enter(request: Request) -> Response:
    """Ask for the passphrase."""
    return rendering.page(request, "enter.html", kind="enter")


@router.post(
    "/enter",
    tags=["access"],
    responses={403: {"description": "not the passphrase"}, 429: {"description": "too often"}},
)
def try_passphrase(given: Passphrase, page: ThisPage) -> Response:
    """Exchange the passphrase for the cookie."""
    if not _lock.acquire(blocking=False):
        raise HTTPException(429, "one at a time: try again in a second")
    try:
        if page.access.is_passphrase(given.passphrase):
            return let_in(JSONResponse({}), page.access)
        time.sleep(_PAUSE_S)
    finally:
        _lock.release()
    raise HTTPException(403, "that is not the passphrase")
