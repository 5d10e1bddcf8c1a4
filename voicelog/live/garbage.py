"""When the program looks through all it holds for what nobody needs: in a pause, and not while an entry is waited for.

Python does so by itself whenever a quarter more is held than before, and everything stands still meanwhile: 0.2 to 0.3
seconds with a grammar in memory. That was the largest part of the slowest entries.
"""

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Condition

from voicelog.hearing.engines.memory import give_back

_SELDOM = 1000
"""Instead of 10: looks through what is new before all is looked through, if there never is a pause."""
_DUE = 10
"""Looks through what is new before it is time for all, as Python has it."""
_PAUSE_S = 0.3
"""What was entered is on the screen by then."""


@contextmanager
def looked_for_in_pauses() -> Iterator[None]:
    """Within this it is done in `wait_for`."""
    before = gc.get_threshold()
    gc.set_threshold(*before[:2], _SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


def keep_all_so_far() -> None:
    """From now on look only through what is made later: the grammar and the networks stay to the end.

    Not even once through those: words may be coming already, and everything would stand still meanwhile.
    """
    gc.freeze()
    give_back()


def wait_for(changed: Condition, what: Callable[[], object]) -> None:
    """Wait, with the condition held, until `what` holds; after a pause, look, if so much is new."""
    while not changed.wait_for(what, _PAUSE_S):
        if gc.get_count()[2] >= _DUE:
            _look()


def _look() -> None:
    gc.collect()
    give_back()
