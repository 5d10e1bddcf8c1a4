"""Run by test_small.py on a terminal of its own: draws what it is told on standard input, a line of JSON each.

    {"lines": ["right eye", ...], "status": {"turn": "listening", ...}, "tell": "kept: ..."}

Once something is drawn, the terminal's title says how manieth it was.
"""

import json
import sys
from dataclasses import dataclass

from rich.console import Console

from voicelog.live.display import Display
from voicelog.screen.status import Status
from voicelog.screen.turn import Turn
from voicelog.session import Session


@dataclass
class Told:
    """Types what it is told into a new exam, and shows it."""

    count: int = -1
    status: Status = Status(-60.0, in_speech=False)  # noqa: RUF009 - it is frozen

    def __call__(self) -> bool:
        """Whether there is nothing more to draw."""
        self.count += 1
        print(f"\x1b]2;drawn {self.count}\x07", end="", flush=True)
        told = sys.stdin.readline()
        if not told:
            return True
        found = json.loads(told)
        session = Session()
        for line in found["lines"]:
            session.type_line(line)
        given = found["status"]
        self.status = Status(
            **{"level_dbfs": -40.0, "in_speech": False, **given, "turn": Turn(given["turn"])}
        )
        if found["tell"]:
            display.tell(found["tell"])
        display.show(session.state)
        return False


if __name__ == "__main__":
    told = Told()
    display = Display(Console(), Session().state, lambda: told.status)
    display.run(told)
