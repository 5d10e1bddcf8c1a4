"""Runs listeners over recordings; what was heard before is not heard again."""

import signal
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from voicelog.errors import VoicelogError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource, read_whole
from voicelog.measuring.cache import WHOLE_FILE, Cut, HearingCache, HearingKey, Stretch, sound_mark
from voicelog.measuring.counting import Case, Heard
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.listeners import FIRST, Listeners, Task, code_marks, heard_by
from voicelog.measuring.manifests import Row
from voicelog.phrases.grammar import Grammar, load
from voicelog.phrases.language import language_in

_WAITING_PER_JOB = 4
_LONGEST_S = 30.0
"""A longer file is no single phrase."""


@dataclass(slots=True)
class Progress:
    """How far a run is."""

    rows: int
    rows_done: int = 0
    """Rows whose sound was looked at; some of it may still be with a listener."""
    heard: int = 0
    """Stretches of sound that were heard now, not found in the cache."""
    seconds: float = 0.0


Tell = Callable[[Progress], None]


class Run:
    """One run over rows with the hearings of some listeners. `renew`: hear again what another version heard."""

    def __init__(
        self,
        rows: Sequence[Row],
        names: Sequence[str],
        cache: HearingCache,
        grammar: Grammar,
        *,
        renew: bool = False,
    ) -> None:
        self._rows, self._cache, self._grammar = rows, cache, grammar
        self.names = tuple(names)
        self.hearers = tuple(dict.fromkeys(heard_by(name) for name in names))
        self._renew = renew
        self._codes = code_marks(grammar)
        self._marks = {path: sound_mark(path) for path in dict.fromkeys(row.path for row in rows)}

    def hear(self, jobs: int = 1, tell: Tell = lambda progress: None) -> Progress:
        """Hear what is lacking, in `jobs` processes; every hearing is on the disk as soon as it is known.

        Raises AudioError for a recording that cannot be used, MissingPartError for a model that is not there.
        """
        progress = Progress(len(self._rows))
        started = time.monotonic()
        todo = self._tasks(progress)
        for keys, found in _all_heard(todo, self._grammar.language.folder, self.hearers, jobs):
            for key in keys:
                self._cache.keep(key, found[key.listener], self._codes[key.listener])
            progress.heard += 1
            progress.seconds = time.monotonic() - started
            tell(progress)
        progress.seconds = time.monotonic() - started
        return progress

    def stale(self) -> int:
        """How many hearings of these rows were made by another version of the program or grammar."""
        keys = {key for row in self._rows for key in self._keys_of(row)}
        return sum(self._is_stale(key) for key in keys)

    def cases(self, name: str) -> list[Case]:
        """What a listener heard in each row. Raises KeyError when that was not heard yet."""
        return [self._case(row, heard_by(name)) for row in self._rows]

    def _case(self, row: Row, hearer: str) -> Case:
        sound = self._marks[row.path]
        if row.expected is not None:
            hearing = self._known(HearingKey(sound, row.rule, hearer, WHOLE_FILE))
            return Case(row, (Heard(hearing, whole=True),), 0.0)
        cut = self._cache.cut(sound)
        if cut is None:
            raise KeyError(row.path)
        heard = (
            Heard(self._known(HearingKey(sound, row.rule, hearer, each.start_sample)), each.whole)
            for each in cut.stretches
        )
        return Case(row, tuple(heard), cut.length_s)

    def _known(self, key: HearingKey) -> Hearing:
        hearing = self._cache.hearing(key)
        if hearing is None:
            raise KeyError(key)
        return hearing

    def _keys_of(self, row: Row) -> Iterator[HearingKey]:
        cut = None if row.expected is not None else self._cache.cut(self._marks[row.path])
        starts = [WHOLE_FILE] if cut is None else [each.start_sample for each in cut.stretches]
        for start in starts:
            for hearer in self.hearers:
                yield HearingKey(self._marks[row.path], row.rule, hearer, start)

    def _tasks(self, progress: Progress) -> Iterator[tuple[list[HearingKey], Task]]:
        done: set[tuple[str, str, bool]] = set()
        for row in self._rows:
            this = (self._marks[row.path], row.rule, row.expected is None)
            if this not in done:
                yield from self._of_phrase(row) if row.expected is not None else self._of_talk(row)
            done.add(this)
            progress.rows_done += 1

    def _of_phrase(self, row: Row) -> Iterator[tuple[list[HearingKey], Task]]:
        lacking = self._lacking(row, WHOLE_FILE)
        if lacking:
            samples = read_whole(row.path, _LONGEST_S).samples
            yield lacking, self._task(row, lacking, samples, as_one=True)

    def _of_talk(self, row: Row) -> Iterator[tuple[list[HearingKey], Task]]:
        """As in an exam: the sound streams through the end-pointer, however long it is."""
        sound = self._marks[row.path]
        cut = self._cache.cut(sound)
        if cut and not any(self._lacking(row, each.start_sample) for each in cut.stretches):
            return
        source = _Counted(row.path)
        stretches = []
        for utterance in utterances(source.blocks()):
            start = utterance.start_sample
            stretches.append(Stretch(start, utterance.end_sample, utterance.whole))
            lacking = self._lacking(row, start)
            if lacking:
                yield lacking, self._task(row, lacking, utterance.samples, as_one=False)
        self._cache.keep_cut(sound, Cut(source.samples / SAMPLE_RATE_HZ, tuple(stretches)))

    def _lacking(self, row: Row, start_sample: int) -> list[HearingKey]:
        sound = self._marks[row.path]
        keys = [HearingKey(sound, row.rule, hearer, start_sample) for hearer in self.hearers]
        return [key for key in keys if key not in self._cache or (self._renew and self._is_stale(key))]

    def _is_stale(self, key: HearingKey) -> bool:
        return self._cache.code(key) != self._codes[key.listener]

    def _task(self, row: Row, lacking: Sequence[HearingKey], samples: Samples, *, as_one: bool) -> Task:
        names = tuple(key.listener for key in lacking)
        first = None
        known = lacking[0]._replace(listener=FIRST)
        if FIRST not in names and known in self._cache and not self._is_stale(known):
            first = self._cache.hearing(known)
        return Task(samples, row.rule, names, as_one, first)


class _Counted:
    """A recording as blocks, with the count of its samples."""

    def __init__(self, path: Path) -> None:
        self._source = FileSource(path)
        self.samples = 0

    def blocks(self) -> Iterator[Block]:
        """The sound from its beginning."""
        for block in self._source.blocks():
            self.samples = block.end_sample
            yield block


_Job = tuple[list[HearingKey], Task]
_Found = tuple[list[HearingKey], Mapping[str, Hearing]]


def _all_heard(todo: Iterator[_Job], grammar: Path, hearers: Sequence[str], jobs: int) -> Iterator[_Found]:
    """The tasks' hearings as they come; in other processes when `jobs` is more than 1."""
    if jobs > 1:
        yield from _in_processes(todo, grammar, hearers, jobs)
        return
    listeners: Listeners | None = None
    for keys, task in todo:
        listeners = listeners or Listeners(load(language_in(grammar)), hearers)
        yield keys, listeners.hear(task)


def _in_processes(todo: Iterator[_Job], grammar: Path, hearers: Sequence[str], jobs: int) -> Iterator[_Found]:
    # Fresh processes, for a copy of one that runs threads (the network's) may hang.
    pool = ProcessPoolExecutor(jobs, get_context("spawn"), _begin, (grammar, tuple(hearers)))
    waiting: dict[Future[dict[str, Hearing]], list[HearingKey]] = {}
    try:
        for keys, task in todo:
            waiting[pool.submit(_hear, task)] = keys
            if len(waiting) >= jobs * _WAITING_PER_JOB:
                yield from _finished(waiting)
        while waiting:
            yield from _finished(waiting)
    except BrokenProcessPool:
        raise MeasuringError(
            "a listening process was ended from outside (out of memory?); start again, with fewer --jobs"
        ) from None
    finally:
        pool.shutdown(cancel_futures=True)


def _finished(waiting: dict[Future[dict[str, Hearing]], list[HearingKey]]) -> Iterator[_Found]:
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in done:
        yield waiting.pop(future), future.result()


# Of a worker process: its listeners, or why there are none, which is told with the first task.
_here: list[Listeners | VoicelogError] = []


def _begin(grammar: Path, hearers: tuple[str, ...]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the main process ends the pool
    try:
        _here.append(Listeners(load(language_in(grammar)), hearers))
    except VoicelogError as error:
        _here.append(error)


def _hear(task: Task) -> dict[str, Hearing]:
    (listeners,) = _here
    if isinstance(listeners, VoicelogError):
        raise listeners
    return listeners.hear(task)
