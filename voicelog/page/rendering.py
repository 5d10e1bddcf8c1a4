"""Templates: one environment, and what every page of it has (navigation, theme, size of text)."""

from functools import cache
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from voicelog.page.drawings import HEIGHT, RING, TICKS, WIDTH
from voicelog.page.guard import BASE
from voicelog.page.values import signed
from voicelog.page.view import MARK_WORDS
from voicelog.settings import Settings

NAVIGATION: Final = (("/", "Exam"), ("/review", "Review"), ("/practice", "Practice"), ("/start", "Settings"))
"""Path and name of each page in the head; a further page is added here and in `routes.ROUTERS`."""

_THEMES: Final = ("dark", "red", "light")
_SCALES: Final = (75, 100, 125, 150, 175, 200)


@cache
def templates() -> Environment:
    """The page's templates; what is put into them is escaped, and a name that is missing is an error."""
    environment = Environment(
        loader=PackageLoader("voicelog.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["signed"] = signed
    environment.globals.update(
        navigation=NAVIGATION, mark_words=MARK_WORDS, ticks=TICKS, cross_size=(WIDTH, HEIGHT, RING)
    )
    return environment


def page(request: Request, template: str, *, kind: str, status: int = 200, **values: Any) -> HTMLResponse:
    """One page. `kind` names it for the navigation, and for the colours: each kind remembers its own."""
    settings = _settings(request)
    theme = request.cookies.get(f"voicelog-theme-{kind}", settings.theme)
    content = (
        templates()
        .get_template(template)
        .render(
            kind=kind,
            base=request.scope.get(BASE, ""),
            here=request.url.path,
            theme=theme if theme in _THEMES else settings.theme,
            scale=_scale(request.cookies.get("voicelog-scale"), settings),
            **values,
        )
    )
    return HTMLResponse(content, status)


def _settings(request: Request) -> Settings:
    found = request.app.state.page.settings
    return found if isinstance(found, Settings) else Settings()


def _scale(given: str | None, settings: Settings) -> int:
    """Per cent, one of the steps that the stylesheet has."""
    wanted = int(given) if given and given.isascii() and given.isdigit() and len(given) < 4 else None
    return min(_SCALES, key=lambda step: abs(step - (wanted or settings.text_scale * 100)))
