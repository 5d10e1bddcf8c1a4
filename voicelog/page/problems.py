"""How the page says that it does not do what was asked: one line, and the same form on every route."""

from typing import Any, Final

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from voicelog.errors import MissingPartError
from voicelog.record.errors import NoSuchExamError

Responses = dict[int | str, dict[str, Any]]


class Problem(BaseModel):
    """Why not, in one line."""

    error: str


def problem(description: str) -> dict[str, Any]:
    """The description of an answer of this form."""
    return {"model": Problem, "description": description}


ANYWHERE: Final[Responses] = {
    400: problem("it cannot be done; the answer says why"),
    403: problem("whoever asks is not let in, or asks from another page")
    | {"content": {"text/plain": {"schema": {"type": "string"}}}},
    422: problem("the request is not as described here"),
}
"""What every route may answer."""


async def one_line(_: Request, error: Exception) -> JSONResponse:
    """An error of the program's own."""
    status = (
        404 if isinstance(error, NoSuchExamError) else 424 if isinstance(error, MissingPartError) else 400
    )
    return JSONResponse({"error": str(error)}, status)


async def of_a_route(_: Request, error: Exception) -> JSONResponse:
    """A refusal by a route, or a path or method that there is none for."""
    if not isinstance(error, HTTPException):
        raise error
    return JSONResponse({"error": str(error.detail)}, error.status_code, error.headers)


async def not_valid(_: Request, error: Exception) -> JSONResponse:
    """What is wrong with a request, without repeating it: it may hold what no answer can."""
    if not isinstance(error, RequestValidationError) or not error.errors():
        return JSONResponse({"error": "the request is not valid"}, 422)
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"] if part != "body")
    return JSONResponse({"error": f"{where or 'request'}: {first['msg']}"}, 422)
