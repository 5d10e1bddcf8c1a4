"""What is said of the sound and of whose turn it is, beside the exam."""

from dataclasses import dataclass
from typing import Final

from rich.text import Text

from voicelog.screen.by_hand import NOTHING_IN_FORCE, InForce
from voicelog.screen.turn import SHAPES, Turn

_METER_FLOOR_DBFS: Final = -60.0
_METER_STEPS: Final = 20


@dataclass(frozen=True, slots=True)
class Status:
    """What is said of the sound, beside the exam."""

    level_dbfs: float
    in_speech: bool
    turn: Turn = Turn.LISTENING
    hint: str = ""
    """What may be done now."""
    settles: str = ""
    """What answers the open question, or may be said where none is open."""
    missed: str = ""
    """How many utterances were not heard, and why."""
    notice: str = ""
    """What went wrong and still does, as "microphone lost"."""
    banner: str = ""
    """What stays as long as the exam does."""
    switch_open: bool | None = None
    """None without push-to-talk."""
    typed: str = ""
    view: str = ""
    """What was asked to be shown: "everything", "far", or nothing."""
    in_force: InForce = NOTHING_IN_FORCE
    """What the keys would take back."""


def meter(level_dbfs: float, steps: int = _METER_STEPS) -> str:
    """A level as a bar from -60 dBFS to full scale, with the figure."""
    share = (level_dbfs - _METER_FLOOR_DBFS) / -_METER_FLOOR_DBFS
    full = round(min(1.0, max(0.0, share)) * steps)
    return f"{'█' * full}{'·' * (steps - full)} {level_dbfs:4.0f} dBFS"


def turn_line(status: Status) -> Text:
    """Whose turn it is, in words and shape, what may be done, and how loud it is."""
    line = Text()
    line.append(f"{SHAPES[status.turn]} {status.turn.value.upper()}", style="bold reverse")
    line.append(f"  {meter(status.level_dbfs)}", style="green" if status.in_speech else "dim")
    if status.switch_open is not None:
        line.append("  key: listening" if status.switch_open else "  key: not listening", style="bold")
    # The question itself stands elsewhere.
    hint = status.settles if status.turn in (Turn.ASKED, Turn.LISTENING) else status.hint
    if hint:
        line.append(f"  {hint}", style="dim")
    return line


def troubles(status: Status) -> list[Text]:
    """What went wrong and still does, what stays to be known for the whole exam, and what was not heard."""
    found = ((status.notice, "bold red"), (status.banner, "bold"), (status.missed, "dim"))
    return [Text(text, style=style) for text, style in found if text]


def typed_line(status: Status) -> list[Text]:
    """What was typed of the line in hand."""
    return [Text(f"> {status.typed}", style="bold")] if status.typed else []
