"""A measurement as JSON and as aligned tables."""

import os
import platform
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np
from rich.table import Table

from voicelog import __version__
from voicelog.hearing.decision import AnyLimits
from voicelog.measuring.counting import RESULTS, By, Counted, Group, PhraseTally, TalkTally
from voicelog.measuring.intervals import poisson, wilson
from voicelog.measuring.manifests import EXAM_RULES

_MOST_VOICES = 40
_TITLES: Mapping[By, str] = {
    "set": "by set",
    "condition": "by condition and signal-to-noise ratio",
    "voice": "by voice",
}


@dataclass(frozen=True, slots=True)
class Made:
    """How a measurement came about. `stale`: hearings of an earlier version of program or grammar."""

    at: datetime
    corpora: tuple[str, ...]
    listeners: tuple[str, ...]
    limits: Mapping[str, AnyLimits]
    jobs: int
    sample: int | None
    seed: int
    stale: int


def machine() -> dict[str, Any]:
    """What seconds depend on: processor, its number of cores, and how busy it is now (load over a minute)."""
    load = round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None
    system = f"{platform.system()} {platform.machine()}"
    return {"system": system, "python": platform.python_version(), "cores": os.cpu_count(), "load": load}


def as_json(found: Counted, made: Made, *, with_misses: bool) -> dict[str, Any]:
    """Everything that was counted; shares from 0 to 1 with their 95 % intervals."""
    result: dict[str, Any] = {
        "version": __version__,
        "made": {**asdict(made), "at": made.at.isoformat(timespec="seconds")},
        "machine": machine(),
        "transcripts_that_are_no_phrases": found.not_phrases,
        "phrases": {
            by: [_phrases_json(*item) for item in groups.items()] for by, groups in found.phrases.items()
        },
        "talk": {by: [_talk_json(*item) for item in groups.items()] for by, groups in found.talk.items()},
    }
    if with_misses:
        result["misses"] = [asdict(miss) for miss in found.misses]
    return result


def _phrases_json(group: Group, tally: PhraseTally) -> dict[str, Any]:
    counts: dict[str, Any] = {}
    for result in RESULTS:
        count = tally.results[result]
        low, high = wilson(count, tally.total)
        counts[result] = {
            "count": count,
            "share": round(count / tally.total, 5),
            "interval": [round(low, 5), round(high, 5)],
        }
    return {**_named(group), "total": tally.total, **counts, "first": tally.first, **_decode(tally.decode_s)}


def _talk_json(group: Group, tally: TalkTally) -> dict[str, Any]:
    hours = tally.seconds / 3600
    low, high = poisson(tally.results["entered"], hours)
    return {
        **_named(group),
        "recordings": tally.recordings,
        "hours": round(hours, 4),
        "stretches": tally.results.total(),
        "entered": tally.results["entered"],
        "entered_an_hour": _rate(tally.results["entered"], hours),
        "interval": [round(low, 3), round(high, 3) if hours else None],
        "kinds": dict(tally.kinds),
        "answers": tally.results["answer"],
        "asked": tally.results["asked"],
        "asked_in_10_minutes": _rate(tally.results["asked"], hours * 6),
        **_decode(tally.decode_s),
    }


def _named(group: Group) -> dict[str, Any]:
    named = {"set": group.set_name, **asdict(group)}
    del named["set_name"]
    return {name: value for name, value in named.items() if value not in ("", None)}


def _rate(count: int, exposure: float) -> float | None:
    return round(count / exposure, 3) if exposure else None


def _decode(seconds: Sequence[float]) -> dict[str, float | None]:
    if not seconds:
        return {"decode_p50_s": None, "decode_p95_s": None}
    p50, p95 = np.percentile(seconds, (50, 95))
    return {"decode_p50_s": round(float(p50), 3), "decode_p95_s": round(float(p95), 3)}


def tables(found: Counted, by: Sequence[By] = ("set", "condition", "voice")) -> Iterable[Table]:
    """Aligned tables; one that would repeat the one before it is left out."""
    for counts, table in ((found.phrases, _phrases_table), (found.talk, _talk_table)):
        shown: int | None = None
        for each in by:
            groups: Any = counts[each]
            if groups and len(groups) != shown:
                yield table(each, groups)
            shown = len(groups)


def _phrases_table(by: By, groups: Mapping[Group, PhraseTally]) -> Table:
    kept = _side_by_side(groups)
    title = f"phrases, {_TITLES[by]}"
    if by == "voice" and len(groups) > _MOST_VOICES:
        worst = set(sorted(groups, key=lambda group: _share(groups[group]))[:_MOST_VOICES])
        kept = [group for group in kept if group in worst]
        title += f" (the {_MOST_VOICES} of {len(groups)} with the fewest right; all are in the JSON)"
    table = _table(
        title, by, ("phrases", "right", "asked", "wrong", "ignored", "right first", "p50 s", "p95 s")
    )
    for group in kept:
        tally = groups[group]
        cells = [_count(tally.results[result], tally.total, interval=by != "voice") for result in RESULTS]
        first = f"{100 * tally.first / tally.total:.1f} %"
        table.add_row(*_names(by, group), str(tally.total), *cells, first, *_seconds(tally.decode_s))
    return table


def _share(tally: PhraseTally) -> float:
    return tally.results["right"] / tally.total


def _harm(tally: TalkTally) -> tuple[int, int]:
    return -tally.results["entered"], -tally.results["asked"]


def _talk_table(by: By, groups: Mapping[Group, TalkTally]) -> Table:
    columns = (
        "minutes",
        "stretches",
        "entered",
        "an hour",
        "asked",
        "in 10 min",
        "answers",
        "p50 s",
        "p95 s",
    )
    kept, title = _side_by_side(groups), f"other talk, {_TITLES[by]}"
    if by == "voice" and len(groups) > _MOST_VOICES:
        worst = set(sorted(kept, key=lambda group: _harm(groups[group]))[:_MOST_VOICES])
        kept = [group for group in kept if group in worst]
        title += f" (the {_MOST_VOICES} of {len(groups)} with most entered and asked; all are in the JSON)"
    table = _table(title, by, columns)
    for group in kept:
        tally = groups[group]
        hours = tally.seconds / 3600
        entered, asked = tally.results["entered"], tally.results["asked"]
        kinds = ", ".join(f"{kind} {count}" for kind, count in tally.kinds.most_common())
        table.add_row(
            *_names(by, group),
            f"{tally.seconds / 60:.1f}",
            str(tally.results.total()),
            f"{entered} ({kinds})" if kinds else str(entered),
            _rate_with_interval(entered, hours),
            str(asked),
            f"{asked / (hours * 6):.2f}" if hours else "-",
            str(tally.results["answer"]),
            *_seconds(tally.decode_s),
        )
    return table


def _table(title: str, by: By, columns: Sequence[str]) -> Table:
    table = Table(title=title, title_justify="left", box=None, header_style="bold", pad_edge=False)
    names = {"set": (), "condition": ("condition", "SNR dB"), "voice": ("voice",)}[by]
    for name in ("listener", "set", *names):
        table.add_column(name, no_wrap=True)
    for name in columns:
        table.add_column(name, justify="right", no_wrap=True)
    return table


def _names(by: By, group: Group) -> list[str]:
    set_name = group.set_name if group.rule == EXAM_RULES else f"{group.set_name} ({group.rule})"
    snr = "" if group.snr_db is None else f"{group.snr_db:g}"
    rest = {"set": [], "condition": [group.condition, snr], "voice": [group.speaker]}[by]
    return [group.listener, set_name, *rest]


def _side_by_side(groups: Iterable[Group]) -> list[Group]:
    """The groups so that listeners stand below one another, quiet before noise."""
    groups = list(groups)
    listeners = list(dict.fromkeys(group.listener for group in groups))

    def place(group: Group) -> tuple[str, str, str, float, str, int]:
        quiet = -1000.0 if group.snr_db is None else -group.snr_db
        at = listeners.index(group.listener)
        return group.set_name, group.rule, group.speaker, quiet, group.condition, at

    return sorted(groups, key=place)


def _count(count: int, total: int, *, interval: bool) -> str:
    low, high = wilson(count, total)
    share = f"{count} {100 * count / total:.1f} %"
    return f"{share} ({100 * low:.1f}-{100 * high:.1f})" if interval else share


def _rate_with_interval(count: int, hours: float) -> str:
    if not hours:
        return "-"
    low, high = poisson(count, hours)
    return f"{count / hours:.2f} ({low:.2f}-{high:.2f})"


def _seconds(seconds: Sequence[float]) -> tuple[str, str]:
    found = _decode(seconds)
    return tuple("-" if value is None else f"{value:.2f}" for value in found.values())  # type: ignore[return-value]
