"""The live feed: a WebSocket that sends what is new since the number that the page already has."""

import asyncio
import time
from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, WebSocket
from starlette.websockets import WebSocketDisconnect

from voicelog.page.context import ThisPage
from voicelog.page.desk import Desk
from voicelog.page.guard import SESSION
from voicelog.page.messages import Messages, sound_message

router = APIRouter()

_LOOK_S: Final = 0.2  # how often the level is looked at
_SIGN_OF_LIFE_S: Final = 1.0  # a message at least this often; the page shows how old the last one is
_SAME_DB: Final = 1.5  # a smaller change of level is not sent


@router.websocket("/feed")
async def feed(
    socket: WebSocket, page: ThisPage, after: Annotated[int, Query(ge=0)] = 0, exam: str = ""
) -> None:
    """Send states after the event number `after` of the exam named `exam`, all of another exam, and the sound."""
    await socket.accept()
    desk = page.desk
    if desk is None:
        await socket.close(4000, "no exam is under way")
        return
    loop = asyncio.get_running_loop()

    def is_shown() -> bool:
        return page.desk is desk

    news = asyncio.Event()

    def wake() -> None:
        loop.call_soon_threadsafe(news.set)

    gone = asyncio.create_task(_until_gone(socket))
    gone.add_done_callback(lambda _: news.set())  # it ends at once, not at the next look
    desk.watch(wake)

    def let_in() -> bool:
        return not gone.done() and page.access.sessions.has(socket.scope[SESSION])

    try:
        sent = after if exam == desk.name else 0
        await _send_all(socket, page.messages_of(desk), desk, news, let_in, sent, is_shown)
        if let_in():
            await socket.close(4001, "another exam has begun")
    except WebSocketDisconnect:
        return
    finally:
        desk.leave(wake)
        gone.cancel()


async def _send_all(
    socket: WebSocket,
    messages: Messages,
    desk: Desk,
    news: asyncio.Event,
    let_in: Callable[[], bool],
    sent: int,
    is_shown: Callable[[], bool],
) -> None:
    """Until the watcher has gone, or another exam takes the place of this one."""
    first, spoken_s = True, 0.0
    before: dict[str, Any] = {}
    while let_in() and is_shown():
        news.clear()
        if first or desk.number > sent:
            sent, text = messages.state_text(sent)
            await socket.send_text(text)
            first = False
        sound = sound_message(desk.sound, ended=desk.ended)
        if _differs(sound, before) or time.monotonic() - spoken_s >= _SIGN_OF_LIFE_S:
            await socket.send_json(sound)
            before, spoken_s = sound, time.monotonic()
        try:
            await asyncio.wait_for(news.wait(), _LOOK_S)
        except TimeoutError:
            continue


def _differs(sound: dict[str, Any], before: dict[str, Any]) -> bool:
    if not before or abs(sound["level_dbfs"] - before["level_dbfs"]) >= _SAME_DB:
        return True
    return any(sound[name] != before[name] for name in sound if name != "level_dbfs")


async def _until_gone(socket: WebSocket) -> None:
    """Read until the page has left; what it sends is not looked at."""
    while (await socket.receive())["type"] != "websocket.disconnect":
        continue
