"""The application: routes behind the guard, errors as one line, an OpenAPI description without any foreign viewer."""

from pathlib import Path
from typing import Final

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

from voicelog import __version__
from voicelog.errors import VoicelogError
from voicelog.optics import OpticsError
from voicelog.page.connections import Connections
from voicelog.page.context import Page
from voicelog.page.guard import Guard
from voicelog.page.problems import ANYWHERE, not_valid, of_a_route, one_line
from voicelog.page.routes import ROUTERS

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
        servers=[{"url": page.access.base}],
        responses=ANYWHERE,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
    )
    app.state.page = page
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=_STATIC), name="static")
    app.add_exception_handler(VoicelogError, one_line)
    app.add_exception_handler(OpticsError, one_line)
    app.add_exception_handler(HTTPException, of_a_route)
    app.add_exception_handler(RequestValidationError, not_valid)
    return app
