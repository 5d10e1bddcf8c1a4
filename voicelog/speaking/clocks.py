"""Places in a stream of sound, and when they came."""

from collections import deque
from typing import Final

_REMEMBERED_S: Final = 1.0  # a stream that stood still is later from then on, and that must be known soon
_BUCKET_S: Final = 0.1


class Clock:
    """When the first sample of a stream would have come, reckoned from where it is now.

    Sound comes late by chance and never early, so of the last second what came soonest counts.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._soonest: deque[tuple[float, float]] = deque()

    def note(self, place: int, at_s: float) -> None:
        """The samples before `place` have come at `at_s` (`time.monotonic()`)."""
        began_s = at_s - place / self._rate_hz
        if self._soonest and at_s - self._soonest[-1][0] < _BUCKET_S:
            first_s, soonest_s = self._soonest[-1]
            self._soonest[-1] = (first_s, min(soonest_s, began_s))
        else:
            self._soonest.append((at_s, began_s))
        while self._soonest[0][0] < at_s - _REMEMBERED_S:
            self._soonest.popleft()

    @property
    def began_s(self) -> float | None:
        """`time.monotonic()` of the first sample; None before any sound has come."""
        return min((began_s for _, began_s in tuple(self._soonest)), default=None)
