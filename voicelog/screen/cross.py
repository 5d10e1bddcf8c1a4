"""A power cross in text: two lines at their true angles, with the power along each."""

import math

from rich.text import Text

from voicelog.optics import SpheroCylinder, written_axis, written_power

_ROWS, _COLUMNS = 5, 10
# A braille character holds 2 by 4 dots, which stand about equally far apart both ways.
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))


def power_cross(lens: SpheroCylinder) -> Text:
    """The cross of a net lens: powers along its two principal meridians, angles as the examiner sees them."""
    cells = [[0] * _COLUMNS for _ in range(_ROWS)]
    for meridian_deg, _ in lens.power_cross():
        _draw(cells, meridian_deg)
    rows = ["".join(chr(0x2800 + cell) for cell in row) for row in cells]
    for row, (meridian_deg, power_d) in zip((1, 3), lens.power_cross(), strict=True):
        rows[row] += f"  {written_power(power_d)} along {written_axis(meridian_deg)}"
    return Text("\n".join(rows))


def _draw(cells: list[list[int]], meridian_deg: float) -> None:
    centre_x, centre_y, length = _COLUMNS - 1, 2 * _ROWS - 1, 2 * _ROWS - 1
    for step in range(-40, 41):
        x = round(centre_x + length * step / 40 * math.cos(math.radians(meridian_deg)))
        y = round(centre_y - length * step / 40 * math.sin(math.radians(meridian_deg)))
        cells[y // 4][x // 2] |= _DOTS[x % 2][y % 4]
