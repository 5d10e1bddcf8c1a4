"""A picture of the phrases: what became of them at each level of noise, a panel for each listener and set."""

from collections.abc import Mapping, Sequence
from html import escape

from voicelog.measuring.counting import Counted, Group, PhraseTally, Result
from voicelog.measuring.manifests import EXAM_RULES

_COLOURS: Mapping[Result, str] = {
    "right": "#3b7dd8",
    "asked": "#f2c14e",
    "ignored": "#c9ccd1",
    "wrong": "#c0392b",
}
_LABELS: Mapping[Result, str] = {
    "right": "entered right",
    "asked": "asked about",
    "ignored": "ignored",
    "wrong": "silently wrong",
}
_BAR, _GAP, _HEIGHT = 40, 26, 180
_LEFT, _TOP, _BOTTOM = 46, 48, 58
_PANELS_A_ROW = 2
_NARROWEST = 236


def svg(found: Counted) -> str:
    """Stacked shares in per cent, with the silently wrong share as a number over each bar; an SVG document.

    Quiet and other conditions without noise stand to the left, then the least noise first.
    """
    panels = _panels(found.phrases["condition"])
    bars = max((len(bars) for _, bars in panels), default=0)
    width = max(_LEFT + bars * (_BAR + _GAP) + 2 * _GAP, _NARROWEST)
    height = _TOP + _HEIGHT + _BOTTOM
    rows = -(-len(panels) // _PANELS_A_ROW)
    parts = [
        _panel(title, bars_of, (at % _PANELS_A_ROW) * width, (at // _PANELS_A_ROW) * height)
        for at, (title, bars_of) in enumerate(panels)
    ]
    page_width, page_height = width * _PANELS_A_ROW, rows * height + 40
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page_width}" height="{page_height}" '
        f'viewBox="0 0 {page_width} {page_height}" font-family="sans-serif" font-size="11">\n'
        f'<rect width="100%" height="100%" fill="white"/>\n{"".join(parts)}{_legend(rows * height + 20)}</svg>\n'
    )


_Bar = tuple[Group, PhraseTally]


def _panels(groups: Mapping[Group, PhraseTally]) -> list[tuple[str, list[_Bar]]]:
    panels: dict[str, list[_Bar]] = {}
    for group, tally in groups.items():
        rule = "" if group.rule == EXAM_RULES else f" ({group.rule})"
        panels.setdefault(f"{group.listener}: {group.set_name}{rule}", []).append((group, tally))
    return [(title, sorted(bars, key=_noise)) for title, bars in panels.items()]


def _noise(bar: _Bar) -> tuple[bool, float, str]:
    group = bar[0]
    level = 0.0 if group.snr_db is None else -group.snr_db
    return group.snr_db is not None, level, group.condition


def _panel(title: str, bars: Sequence[_Bar], x: float, y: float) -> str:
    return (
        f'<g transform="translate({x},{y})">\n{_text(_LEFT, 18, title, "start", "bold")}{_scale(len(bars))}'
        + "".join(_bar(at, bar) for at, bar in enumerate(bars))
        + "</g>\n"
    )


def _scale(bars: int) -> str:
    right = _LEFT + bars * (_BAR + _GAP) + _GAP
    lines = []
    for share in (0, 25, 50, 75, 100):
        y = _TOP + _HEIGHT * (1 - share / 100)
        lines.append(f'<line x1="{_LEFT}" x2="{right}" y1="{y:g}" y2="{y:g}" stroke="#e3e5e8"/>\n')
        lines.append(_text(_LEFT - 6, y + 4, f"{share} %", "end"))
    return "".join(lines)


def _bar(at: int, bar: _Bar) -> str:
    group, tally = bar
    x, y = _LEFT + _GAP + at * (_BAR + _GAP), float(_TOP + _HEIGHT)
    parts = []
    for result, colour in _COLOURS.items():
        tall = _HEIGHT * tally.results[result] / tally.total
        y -= tall
        if tall:
            parts.append(f'<rect x="{x}" y="{y:.2f}" width="{_BAR}" height="{tall:.2f}" fill="{colour}"/>\n')
    middle = x + _BAR / 2
    wrong = 100 * tally.results["wrong"] / tally.total
    label = group.condition or "all" if group.snr_db is None else f"{group.snr_db:g} dB"
    parts.append(_text(middle, _TOP - 6, f"{wrong:.1f} %", "middle", colour=_COLOURS["wrong"]))
    parts.append(_text(middle, _TOP + _HEIGHT + 16, label[:11], "middle"))
    parts.append(_text(middle, _TOP + _HEIGHT + 30, f"n {tally.total}", "middle", colour="#70757d"))
    return "".join(parts)


def _legend(y: float) -> str:
    parts = []
    for at, (result, colour) in enumerate(_COLOURS.items()):
        x = _LEFT + at * 104
        parts.append(f'<rect x="{x}" y="{y - 9}" width="10" height="10" fill="{colour}"/>\n')
        parts.append(_text(x + 14, y, _LABELS[result], "start"))
    return "".join(parts)


def _text(x: float, y: float, text: str, anchor: str, weight: str = "normal", colour: str = "#23272e") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-weight="{weight}" fill="{colour}">'
        f"{escape(text)}</text>\n"
    )
