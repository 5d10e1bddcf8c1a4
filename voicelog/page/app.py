"""The application: routes behind the guard, errors as one line, an OpenAPI description without any foreign viewer."""

from pathlib import Path
from typing import Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.staticfiles import StaticFiles

from voicelog import __version__
from voicelog.errors import MissingPartError, VoicelogError
from voicelog.optics import OpticsError
from voicelog.page.connections import Connections
from voicelog.page.context import Page
from voicelog.page.guard import Guard
from voicelog.page.routes import ROUTERS
from voicelog.record.errors import NoSuchExamError

_STATIC: Final = Path(__file__).parent / "static"


def page_app(page: Page, connections: Connections) -> Guard:
    """The whole application for one start of the page."""
    return Guard(unguarded_app(page), page.access, connections)


def unguarded_app(page: Page) -> FastAPI:
    """The routes alone; serve `page_app`, which checks who asks."""
    app = FastAPI(
        title="voicelog's local page",
        version=__version__,
        description="Requests need the cookie that the printed address sets; all but GET need the page's own Origin.",
        docs_url=None,
        redoc_url=None,
    )
    app.state.page = page
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    app.add_exception_handler(VoicelogError, _one_line)
    app.add_exception_handler(OpticsError, _one_line)
    app.add_exception_handler(RequestValidationError, _not_valid)
    return app


async def _one_line(_: Request, error: Exception) -> JSONResponse:
    status = (
        404 if isinstance(error, NoSuchExamError) else 424 if isinstance(error, MissingPartError) else 400
    )
    return JSONResponse({"error": str(error)}, status)


async def _not_valid(_: Request, error: Exception) -> JSONResponse:
    """What is wrong with a request, without repeating it: it may hold what no answer can."""
    if not isinstance(error, RequestValidationError) or not error.errors():
        return JSONResponse({"error": "the request is not valid"}, 422)
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"] if part != "body")
    return JSONResponse({"error": f"{where or 'request'}: {first['msg']}"}, 422)
