"""Shares against counts as an SVG picture: panels side by side, one line a way, named where it ends."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from xml.sax.saxutils import escape

Panel = tuple[str, Sequence[int], Mapping[str, Sequence[float]]]
"""What is counted, the counts, and of each way the shares in per cent."""

WIDTH, HEIGHT, LEFT, TOP, BOTTOM, GAP = 430.0, 360.0, 46.0, 24.0, 120.0, 20.0
COLOURS = ("#777777", "#b8860b", "#1f5fa8", "#b03060", "#2e7d32", "#aaaaaa", "#d4a0b0")


def drawn(panels: Sequence[Panel], share_words: str) -> str:
    """The picture. Lines at 95 per cent; colours by the order of the ways in the first panel."""
    names = list(panels[0][2])
    width, height = len(panels) * WIDTH, TOP + HEIGHT + BOTTOM
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" font-family="sans-serif" font-size="12">',
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>',
        f'<text x="{LEFT:g}" y="14">{escape(share_words)}</text>',
    ]
    for number, panel in enumerate(panels):
        parts += _panel(panel, number * WIDTH, names)
    for place, name in enumerate(names):
        x, y = LEFT + (place % 3) * 270.0, TOP + HEIGHT + 48.0 + (place // 3) * 20.0
        parts.append(
            f'<line x1="{x:g}" x2="{x + 24:g}" y1="{y - 4:g}" y2="{y - 4:g}" stroke="{COLOURS[place]}" stroke-width="2.5"/>'
        )
        parts.append(f'<text x="{x + 30:g}" y="{y:g}">{escape(name)}</text>')
    return "\n".join([*parts, "</svg>", ""])


def _panel(panel: Panel, at: float, names: Sequence[str]) -> list[str]:
    counted, counts, shares = panel
    right = at + WIDTH - GAP

    def x(count: float) -> float:
        return at + LEFT + (count - counts[0]) / (counts[-1] - counts[0]) * (right - at - LEFT)

    def y(share: float) -> float:
        return TOP + HEIGHT * (1.0 - share / 100.0)

    parts = [
        f'<line x1="{x(counts[0]):.1f}" x2="{right:.1f}" y1="{y(share):.1f}" y2="{y(share):.1f}" stroke="#dddddd"/>'
        f'<text x="{at + LEFT - 6:.1f}" y="{y(share) + 4:.1f}" text-anchor="end">{share}</text>'
        for share in (0, 20, 40, 60, 80, 100)
    ]
    parts.append(
        f'<line x1="{x(counts[0]):.1f}" x2="{right:.1f}" y1="{y(95):.1f}" y2="{y(95):.1f}" stroke="#333333" '
        'stroke-dasharray="5 4"/>'
    )
    parts += [
        f'<text x="{x(count):.1f}" y="{TOP + HEIGHT + 16:.1f}" text-anchor="middle">{count}</text>'
        for before, count in pairwise((counts[0] - 9, *counts))
        if x(count) - x(before) > 18.0
    ]
    parts.append(
        f'<text x="{(x(counts[0]) + right) / 2:.1f}" y="{TOP + HEIGHT + 32:.1f}" text-anchor="middle">{counted}</text>'
    )
    for name, values in shares.items():
        points = " ".join(
            f"{x(count):.1f},{y(share):.1f}" for count, share in zip(counts, values, strict=True)
        )
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{COLOURS[names.index(name)]}" stroke-width="2"/>'
        )
    return parts
