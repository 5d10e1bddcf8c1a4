"""Letters on a printed page: which there are, in fonts that come with the package and are embedded, as PDF/A asks.

Liberation Sans 2.1.5 has those of Latin-1, as wide as Helvetica's. Beyond them, DejaVu Sans 2.37 has the scripts of
Europe and the Caucasus, Arabic and Hebrew; Droid Sans Fallback the common Chinese characters, kana and Hangul. Their
licences lie beside them. Only the glyphs that a page uses are in it (fpdf2 with fontTools), and HarfBuzz joins and
orders what is written from right to left.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicelog.record.inert import inert, numbered

if TYPE_CHECKING:
    from fpdf import FPDF

PLAIN: Final = "plain"
FAMILY: Final = "wide"
_MORE: Final = "wider"
_FOLDER: Final = Path(__file__).parent / "fonts"


def is_wide(text: str) -> bool:
    """Whether it needs more than the plain font."""
    return any(ord(each) > 255 for each in text)


class WideLetters:
    """The fonts of one page. Those beyond Latin-1 take a quarter of a second to read, when something needs them."""

    def __init__(self, pdf: "FPDF") -> None:
        self._pdf = pdf
        self._known: frozenset[int] | None = None
        pdf.add_font(PLAIN, "", _FOLDER / "LiberationSans-Regular.ttf")
        pdf.add_font(PLAIN, "B", _FOLDER / "LiberationSans-Bold.ttf")

    def shown(self, text: str, longest: int | None = None) -> str:
        """The text as one line in which what no font has, or what is not seen, is written as its number."""
        safe = inert(text, longest)
        if not is_wide(safe):
            return safe
        known = self._read()
        return "".join(each if ord(each) in known or ord(each) < 256 else numbered(each) for each in safe)

    def _read(self) -> frozenset[int]:
        if self._known is None:
            from fpdf.fonts import TTFFont  # only here, as the whole library

            self._pdf.add_font(FAMILY, "", _FOLDER / "DejaVuSans.ttf")
            self._pdf.add_font(_MORE, "", _FOLDER / "DroidSansFallback.ttf")
            self._pdf.set_fallback_fonts([_MORE], exact_match=False)
            fonts = (self._pdf.fonts[FAMILY], self._pdf.fonts[_MORE])
            self._known = frozenset(code for font in fonts if isinstance(font, TTFFont) for code in font.cmap)
        return self._known
