"""How long it takes from the end of the last word to the entry."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from voicelog.exam.events import Line
from voicelog.exam.state import ExamState


@dataclass(frozen=True, slots=True)
class Latency:
    """Figures over some utterances, in seconds; None when there were none."""

    count: int
    median_s: float | None
    p95_s: float | None
    worst_s: float | None

    def as_json(self) -> dict[str, float | int | None]:
        """Field names as they are here."""
        return {
            "count": self.count,
            "median_s": _rounded(self.median_s),
            "p95_s": _rounded(self.p95_s),
            "worst_s": _rounded(self.worst_s),
        }


def latency(seconds: Iterable[float]) -> Latency:
    """The figures of single measurements; percentiles interpolate linearly."""
    values = list(seconds)
    if not values:
        return Latency(0, None, None, None)
    median_s, p95_s = (float(np.percentile(values, share)) for share in (50, 95))
    return Latency(len(values), median_s, p95_s, max(values))


def entry_latency(state: ExamState, arrivals: Mapping[int, float], shown: Mapping[int, float]) -> Latency:
    """From the end of the last word to the screen, for utterances that were accepted or asked about."""
    numbers = [
        event.number for event in state.events if isinstance(event, Line) and event.outcome != "ignored"
    ]
    return latency(shown[n] - arrivals[n] for n in numbers if n in arrivals and n in shown)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
