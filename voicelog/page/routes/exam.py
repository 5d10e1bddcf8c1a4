"""The exam under way: its page, its state as data, and what is said by hand."""

from functools import cache
from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, RedirectResponse, Response

from voicelog.exam.expecting import LINE, rules
from voicelog.page import rendering
from voicelog.page.context import Page, ThisPage
from voicelog.page.desk import Desk
from voicelog.page.problems import problem
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.screen.by_hand import ORDERS
from voicelog.screen.turn import Sound, Turn, turn_of
from voicelog.settings import settings_exist

router = APIRouter()

_LONGEST_LINE = 200
TURNS = (*Turn, "not connected")
"""Every state that is shown; the last one only the page itself can know."""
Line = Annotated[str, Field(min_length=1, max_length=_LONGEST_LINE, pattern=r"\S")]


class Phrase(BaseModel):
    """One phrase, as it would be said or typed."""

    line: Line


class Words(BaseModel):
    """What may be said next, and whether what there is so far is a whole phrase."""

    words: list[str]
    complete: bool


@router.get("/", include_in_schema=False)
async def live(request: Request, page: ThisPage) -> Response:
    """The live page; without an exam, the first start or the review."""
    if page.desk is None:
        return RedirectResponse("/review" if settings_exist() else "/start", 303)
    shown = page.messages_of(page.desk).shown
    return rendering.page(
        request,
        "live.html",
        kind="live",
        view=shown.view,
        far=shown.far,
        turn=turn_of(Sound(ended=page.desk.ended, in_speech=page.desk.sound.in_speech), shown.state),
        turns=TURNS,
        shows="everything" if request.cookies.get("voicelog-view") == "everything" else "far",
        rows=shown.rows,
        orders=ORDERS,
        exam=shown.name,
        first_start=not settings_exist(),
    )


@router.get(
    "/api/state",
    tags=["exam"],
    response_class=JSONResponse,
    responses={409: problem("no exam is under way")},
)
async def state(page: ThisPage) -> Response:
    """The exam under way: the same data as `voicelog type --json`, with the number of its last event."""
    text = page.messages_of(_desk(page)).shown.json_text
    return Response(text, media_type="application/json")


@router.post("/api/lines", status_code=202, tags=["exam"], responses={409: problem("no exam, or ended")})
async def say(phrase: Phrase, page: ThisPage) -> dict[str, int]:
    """Say a phrase by hand. It is taken in its turn; the feed and the state tell what came of it.

    Answers with the number of the last event before it.
    """
    desk = _desk(page)
    number = desk.number
    if not desk.say(phrase.line):
        raise HTTPException(409, "the exam has ended")
    return {"after": number}


@router.get("/api/words", tags=["exam"])
async def words(page: ThisPage, said: Annotated[str, Query(max_length=_LONGEST_LINE)] = "") -> Words:
    """The words that may follow the words `said`, so that everything that can be said can be clicked."""
    listened_for = (LINE,) if page.desk is None else rules(page.desk.state, typed=True)
    matchers = _matchers(page.grammar, listened_for)
    tokens = tokenise(said, page.grammar.language)
    following = [matcher.next_words(tokens) for matcher in matchers]
    found = frozenset[str]().union(*following[::2]) or frozenset[str]().union(*following[1::2])
    complete = bool(tokens) and any(matcher.readings(tokens) for matcher in matchers)
    return Words(words=sorted(found), complete=complete)


def _desk(page: Page) -> Desk:
    if page.desk is None:
        raise HTTPException(409, "no exam is under way")
    return page.desk


@cache
def _matchers(grammar: Grammar, listened_for: tuple[str, ...]) -> tuple[Matcher, ...]:
    """Of each rule, what is said, and what may also be written."""
    layers: tuple[tuple[Layer, ...], ...] = ((), (Layer.WRITTEN,))
    return tuple(Matcher(grammar.walker(rule, *each)) for rule in listened_for for each in layers)
