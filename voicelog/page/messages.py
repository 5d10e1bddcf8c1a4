"""What the feed and the page show of an exam, worked out once for each event, for everybody who watches."""

import json
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.state import ExamState
from voicelog.exam.summary import summary
from voicelog.page.desk import Desk, Sound
from voicelog.page.far import FarView, far_view
from voicelog.page.rendering import templates
from voicelog.page.view import LiveView, Row, changed, live_view, rows
from voicelog.screen.turn import SHAPES, turn_of
from voicelog.screen.turn import Sound as Ear


@dataclass(frozen=True)
class Shown:
    """One state of an exam and what is drawn of it, each part when it is first asked for."""

    name: str
    state: ExamState
    notation: Notation | None = None
    """What acuity is written in; None: as it was said."""

    @property
    def number(self) -> int:
        """The number of the last event."""
        return self.state.last_number

    @cached_property
    def view(self) -> LiveView:
        """The live page's content."""
        return live_view(self.state, self.notation)

    @cached_property
    def far(self) -> FarView:
        """What is read from two metres."""
        return far_view(self.state, self.view)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """The whole ledger."""
        return tuple(rows(self.state))

    @cached_property
    def json_text(self) -> str:
        """The exam as plain data in JSON, with the number of its last event."""
        return json.dumps({"name": self.name, "number": self.number} | summary(self.state))

    @cached_property
    def parts(self) -> dict[str, str]:
        """The parts of the live page, by the id of their place."""
        view = self.view
        eyes = {f"eye-{eye.name}": _drawn("eye", eye) for eye in view.eyes}
        fixed = {"now": _drawn("now", view), "last": _drawn("last", view.last), "open": _drawn("open", view)}
        far = {f"far-{name}": _drawn(macro, self.far, "far_parts.html") for name, macro in _FAR.items()}
        return fixed | eyes | far


_FAR: Final = {"hand": "eye", "last": "last", "results": "results"}
"""The parts of the far view and their macros."""


class Messages:
    """What there is to say of one exam. What was worked out for the last event is kept for the next asker.

    Any thread may ask; at worst two work out the same.
    """

    def __init__(self, desk: Desk, notation: Notation | None = None) -> None:
        self.desk = desk
        self._notation = notation
        self._shown: Shown | None = None
        self._text: tuple[int, int, str] | None = None

    @property
    def shown(self) -> Shown:
        """The exam as it stands."""
        shown, state = self._shown, self.desk.state
        if shown is None or shown.state is not state:
            shown = self._shown = Shown(self.desk.name, state, self._notation)
        return shown

    def state_text(self, after: int) -> tuple[int, str]:
        """The message that brings a page from the event `after` to the last one, whose number is given with it."""
        shown, text = self.shown, self._text
        if text is None or text[:2] != (after, shown.number):
            text = self._text = (after, shown.number, json.dumps(_state_message(shown, after)))
        return text[1:]


def _state_message(shown: Shown, after: int) -> dict[str, Any]:
    return {
        "kind": "state",
        "exam": shown.name,
        "number": shown.number,
        "parts": shown.parts,
        "turn": turn_of(Ear(), shown.state),
        "rows": [{"number": row.number, "html": _drawn("row", row)} for row in rows(shown.state, after)],
        "changed": changed(shown.state),
    }


def sound_message(sound: Sound, *, ended: bool) -> dict[str, Any]:
    """How the sound is now; also the sign of life."""
    return {
        "kind": "sound",
        "level_dbfs": round(sound.level_dbfs, 1),
        "in_speech": sound.in_speech,
        "notice": sound.notice,
        "switch_open": sound.switch_open,
        "ended": ended,
        "turn": sound.turn.value,
        "shape": SHAPES[sound.turn],
        "hint": sound.hint,
        "missed": sound.missed,
        "banner": sound.banner,
        "view": sound.view,
        "silent": sound.silent,
    }


def _drawn(macro: str, value: object, template: str = "parts.html") -> str:
    module: Any = templates().get_template(template).module
    return str(getattr(module, macro)(value))
