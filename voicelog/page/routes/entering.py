"""The way in for those who come from another machine, by a passphrase, and the way out for everybody."""

import math
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Request
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, Response

from voicelog.page import rendering
from voicelog.page.context import ThisPage
from voicelog.page.guard import SESSION, let_in
from voicelog.page.problems import problem

router = APIRouter()


class Passphrase(BaseModel):
    """What was typed."""

    passphrase: Annotated[str, Field(min_length=1, max_length=200)]


class Then(BaseModel):
    """Where to go next."""

    then: str


@router.get("/enter", include_in_schema=False)
def enter(request: Request) -> Response:
    """Ask for the passphrase."""
    return rendering.page(request, "enter.html", kind="enter")


@router.post(
    "/enter",
    tags=["access"],
    response_model=Then,
    responses={429: problem("too often: wait")},
)
def try_passphrase(given: Passphrase, request: Request, page: ThisPage) -> Any:
    """Exchange the passphrase for the cookie. After a wrong one the same address has to wait."""
    address = request.client.host if request.client else ""
    wait_s = page.tries.begin(address)
    if wait_s > 0:
        raise HTTPException(429, f"too often: try again in {math.ceil(wait_s)} s")
    if not page.access.is_passphrase(given.passphrase):
        raise HTTPException(403, "that is not the passphrase")
    page.tries.was_right(address)
    answer = JSONResponse({"then": f"{page.access.base}/"})
    return let_in(answer, page.access, page.access.sessions.begin())


@router.post("/api/leaving", tags=["access"], response_model=Then)
def leave(request: Request, page: ThisPage) -> Any:
    """Let this browser in no more."""
    page.access.sessions.end(request.scope[SESSION])
    answer = JSONResponse({"then": "/"})
    answer.delete_cookie(page.access.cookie, path=page.access.base)
    return answer
