"""Many who watch and ask, in a process of their own: run by test_load.py.

    python -m tests.page.crowd ORIGIN BASE COOKIE SOCKETS REQUESTS_A_SECOND

Opens the sockets, says "ready", asks at a steady rate until standard input ends, then prints what it saw as JSON.
"""

import asyncio
import json
import sys
import time
from dataclasses import dataclass, field

from websockets.asyncio.client import connect

NO_ANSWER = 0
"""For a status where the connection ended without one."""
PATHS = ("/api/state", "/static/page.js", "/", "/api/words?said=streak")


@dataclass
class Crowd:
    """Sockets that note when each event came (wall clock), and requests with what came back."""

    origin: str
    base: str
    cookie: str
    arrived: list[dict[int, float]] = field(default_factory=list)
    answered: int = 0
    worst_answer_s: float = 0.0
    statuses: set[int] = field(default_factory=set)

    async def run(self, sockets: int, rate: int) -> None:
        """Until standard input ends."""
        self.arrived = [{} for _ in range(sockets)]
        connected = [asyncio.Event() for _ in range(sockets)]
        tasks = [
            asyncio.create_task(self._watch(*each)) for each in zip(self.arrived, connected, strict=True)
        ]
        for each in connected:
            await each.wait()
        print("ready", flush=True)
        ended = asyncio.create_task(asyncio.to_thread(sys.stdin.read))
        asks: set[asyncio.Task[None]] = set()
        begun_s, sent = time.monotonic(), 0
        while not ended.done():
            while sent < (time.monotonic() - begun_s) * rate:
                asks.add(asyncio.create_task(self._ask(PATHS[sent % len(PATHS)])))
                sent += 1
            await asyncio.sleep(0.01)
            asks = {ask for ask in asks if not ask.done()}
        await asyncio.gather(*asks)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _watch(self, seen: dict[int, float], connected: asyncio.Event) -> None:
        address = f"{self.origin.replace('http', 'ws', 1)}{self.base}/feed?after=0"
        headers = {"Cookie": self.cookie, "Origin": self.origin}
        async with connect(address, additional_headers=headers, proxy=None, compression=None) as socket:
            async for text in socket:
                now_s = time.time()
                message = json.loads(text)
                connected.set()
                for row in message.get("rows", ()):
                    seen.setdefault(row["number"], now_s)

    async def _ask(self, path: str) -> None:
        begun_s = time.monotonic()
        host = self.origin.split("//")[1]
        reader, writer = await asyncio.open_connection(*host.split(":"))
        lines = (
            f"GET {self.base}{path} HTTP/1.1",
            f"Host: {host}",
            f"Cookie: {self.cookie}",
            "Connection: close",
            "",
            "",
        )
        writer.write("\r\n".join(lines).encode())
        try:
            answer = await reader.read(-1)
        except ConnectionError:  # hung up on
            answer = b""
        writer.close()
        self.statuses.add(int(answer.split(b" ", 2)[1]) if answer else NO_ANSWER)
        self.answered += 1
        self.worst_answer_s = max(self.worst_answer_s, time.monotonic() - begun_s)


def main() -> None:
    """See the module's words."""
    origin, base, cookie, sockets, rate = sys.argv[1:]
    crowd = Crowd(origin, base, cookie)
    asyncio.run(crowd.run(int(sockets), int(rate)))
    print(
        json.dumps(
            {
                "arrived": crowd.arrived,
                "answered": crowd.answered,
                "worst_answer_s": crowd.worst_answer_s,
                "statuses": sorted(crowd.statuses),
            }
        )
    )


if __name__ == "__main__":
    main()
