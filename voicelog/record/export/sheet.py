"""A page of A4 to write lines on, kept as PDF/A-1b: text cut to the width it has, and the power cross."""

import math
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from typing import Final

from voicelog.optics import SpheroCylinder, written_axis, written_power
from voicelog.record.export.pdf_a import COMPLIANCE, described
from voicelog.record.export.wide_letters import FAMILY, PLAIN, WideLetters, is_wide
from voicelog.record.inert import inert

WIDTH_MM, HEIGHT_MM, MARGIN_MM = 210.0, 297.0, 14.0
_LONGEST: Final = 400  # characters of a line that are looked at before it is cut to its width
_GREY, _BLACK, _RED = (110, 110, 110), (0, 0, 0), (170, 0, 0)
_LINE_HEIGHT: Final = 0.47  # millimetres a point


class Sheet:
    """Pages, one after the other; places are millimetres from the upper left corner of the one in hand.

    `cut`: the texts that had no room and were cut to their width, whole.
    """

    def __init__(self, title: str, at: datetime) -> None:
        # Only here: it and its fonts are a fifth of what an exam would load at its start.
        from fpdf import FPDF

        self._pdf = FPDF(format="A4", enforce_compliance=COMPLIANCE)
        self._pdf.set_creation_date(at)
        self._pdf.set_title(inert(title))
        self._pdf.set_xmp_metadata(described(inert(title), at))
        self._pdf.set_auto_page_break(False)
        self._pdf.add_page()
        self._pdf.c_margin = 0.0
        self._wide = WideLetters(self._pdf)
        self.y = MARGIN_MM
        self.cut: list[str] = []

    def turn(self) -> None:
        """Go on at the top of another page."""
        self._pdf.add_page()
        self.y = MARGIN_MM

    def width(self, text: str, size: float) -> float:
        """How wide a text is, millimetres."""
        whole = self._wide.shown(text, _LONGEST)
        self._font(size, "", whole)
        return float(self._pdf.get_string_width(whole))

    def line(
        self, text: str, size: float = 9, style: str = "", x: float = MARGIN_MM, width: float = 0.0
    ) -> None:
        """Write a line at `x` and go on below it. `style`: B bold, S struck through, G grey, R red."""
        self.words(text, size, style, x, width)
        self.down(size * _LINE_HEIGHT)

    def wrapped(self, text: str, size: float, most: int = 2) -> list[str]:
        """A text as the lines that it needs across the page, at most `most`; the last may be too long."""
        room, rest = WIDTH_MM - 2 * MARGIN_MM, self._wide.shown(text, most * _LONGEST)
        self._font(size, "", rest)
        lines: list[str] = []
        while rest and len(lines) < most - 1:
            line, rest = self._first_line(rest, room)
            lines.append(line)
        return [*lines, rest] if rest else lines

    def words(self, text: str, size: float, style: str, x: float, width: float = 0.0) -> float:
        """Write within a line; where it ends, in millimetres. A longer text is cut and ends in "..."."""
        room = width or WIDTH_MM - MARGIN_MM - x
        whole = self._wide.shown(text, _LONGEST)
        self._font(size, style, whole)
        shown = self._cut(whole, room)
        if shown != whole:
            self.cut.append(text)
        self._write(shown, x, self.y + size * _LINE_HEIGHT * 0.8, wide=is_wide(whole))
        return x + self._pdf.get_string_width(shown)

    def down(self, millimetres: float) -> None:
        """Leave room."""
        self.y += millimetres

    def rule(self, x: float = MARGIN_MM, width: float = WIDTH_MM - 2 * MARGIN_MM) -> None:
        """A thin line across."""
        self._pdf.set_draw_color(*_GREY)
        self._pdf.set_line_width(0.2)
        self._pdf.line(x, self.y, x + width, self.y)
        self.down(1.5)

    def cross(self, lens: SpheroCylinder, x: float, y: float, radius: float) -> None:
        """The power cross round (x, y), each principal meridian drawn at its true angle.

        As the examiner sees the eye: 180 is horizontal and angles grow against the clock (TABO). At both ends of each
        meridian stands its angle, at the upper one its power as well; a sphere has one power in all meridians.
        """
        self._pdf.set_draw_color(*_GREY)
        self._pdf.set_line_width(0.2)
        self._pdf.circle(x, y, radius)
        for angle_deg in range(15, 181, 15):
            self._spoke(x, y, angle_deg, radius * 0.95, radius)
            self._spoke(x, y, angle_deg + 180, radius * 0.95, radius)
        for meridian_deg, power_d in lens.power_cross():
            self._meridian(x, y, radius, meridian_deg, power_d)

    def squares(self, rows: Sequence[Sequence[bool]], x: float, y: float, side: float) -> None:
        """A code of dark squares, such as a QR code, with its upper left corner at (x, y)."""
        step = side / len(rows)
        self._pdf.set_fill_color(*_BLACK)
        for down, row in enumerate(rows):
            across = 0
            for dark, run in groupby(row):
                count = len(list(run))
                if dark:
                    self._pdf.rect(x + across * step, y + down * step, count * step, step, style="F")
                across += count

    def pdf(self) -> bytes:
        """The finished page."""
        return bytes(self._pdf.output())

    def _meridian(self, x: float, y: float, radius: float, meridian_deg: float, power_d: float) -> None:
        self._pdf.set_draw_color(*_BLACK)
        self._pdf.set_line_width(0.6)
        self._spoke(x, y, meridian_deg, 0.0, radius)
        self._spoke(x, y, meridian_deg + 180, 0.0, radius)
        # 180 is read on the right hand, where there is room; all others on their upper half.
        label_deg = 0.0 if meridian_deg == 180 else meridian_deg
        self._label(f"{written_power(power_d)} @ {written_axis(meridian_deg)}", x, y, label_deg, radius)

    def _spoke(self, x: float, y: float, angle_deg: float, start: float, end: float) -> None:
        cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        self._pdf.line(x + start * cosine, y - start * sine, x + end * cosine, y - end * sine)

    def _label(self, text: str, x: float, y: float, angle_deg: float, radius: float) -> None:
        self._font(8, "B", text)
        cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        width = self._pdf.get_string_width(text)
        # Its centre lies so far out that the box of the text just clears the circle.
        out = radius + 1.5 + abs(cosine) * width / 2 + abs(sine) * 1.5
        self._pdf.text(x + out * cosine - width / 2, y - out * sine + 1.0, text)

    def _write(self, shown: str, x: float, baseline: float, *, wide: bool) -> None:
        if not wide:
            self._pdf.text(x, baseline, shown)
            return
        # A cell orders and joins letters, which `text` does not; its baseline is 0.8 of its height down.
        height = self._pdf.font_size
        self._pdf.set_xy(x, baseline - 0.8 * height)
        self._pdf.cell(0, height, shown)

    def _font(self, size: float, style: str, text: str) -> None:
        """The font for a text; letters beyond Latin-1 have no bold."""
        wide = is_wide(text)
        self._pdf.set_text_shaping(wide)
        styles = "S" if wide else "BS"
        self._pdf.set_font(FAMILY if wide else PLAIN, "".join(each for each in style if each in styles), size)
        self._pdf.set_text_color(*(_GREY if "G" in style else _RED if "R" in style else _BLACK))

    def _first_line(self, text: str, room: float) -> tuple[str, str]:
        """As many whole words as there is room for, and what is left; a longer word stands alone and is cut."""
        words = text.split(" ")
        count = 1
        while count < len(words) and self._pdf.get_string_width(" ".join(words[: count + 1])) <= room:
            count += 1
        return " ".join(words[:count]), " ".join(words[count:])

    def _cut(self, text: str, room: float) -> str:
        if self._pdf.get_string_width(text) <= room:
            return text
        while text and self._pdf.get_string_width(text + "...") > room:
            text = text[: int(len(text) * 0.97)] if len(text) > 40 else text[:-1]
        return text + "..."
