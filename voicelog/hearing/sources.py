"""Where sound comes from: the `Source` protocol, and recordings as sources.

Every source yields mono float32 blocks at `SAMPLE_RATE_HZ`, placed by one integer sample counter. Time in
a recording is that counter divided by the rate, worked out once where it is needed: seconds added up
block by block drift.
"""

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import numpy as np
import soundfile
import soxr

from voicelog.errors import reason_of
from voicelog.hearing.errors import AudioError
from voicelog.hearing.levels import Samples

SAMPLE_RATE_HZ = 16000
BLOCK_SAMPLES = 512
"""Samples a block from a recording (the last may be shorter): 32 ms."""

MIN_RATE_HZ = 8000
"""The telephone's rate (ITU-T G.711); below it the consonants that tell digits apart are gone."""
MAX_RATE_HZ = 384_000
MAX_FULL_SCALES = 16.0
"""A float recording beyond this many times full scale (24 dB) is not scaled to 1.0 at all."""

_READ_S = 0.25
_OGG_PAGE_LIMIT = 65_307  # largest Ogg page, RFC 3533 section 6
_STREAMED_SIZE = 0x7FFF_F000  # sizes from here on are place-holders of programs that write to a pipe


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """A piece of sound."""

    samples: Samples
    """Shape (n,), float32, mono, 16 kHz, full scale 1.0. Empty only to report a gap at once."""
    start_sample: int
    """Place of the first sample on the source's counter (16 kHz, starts at 0, never goes back)."""
    arrived_s: float
    """`time.monotonic()` when the last sample of the block had been captured or read."""
    after_gap: bool = False
    """Sound is missing before this block; the counter has moved on by what is known to be missing."""

    @property
    def end_sample(self) -> int:
        """Place one past the last sample."""
        return self.start_sample + self.samples.size


class Source(Protocol):
    """Anything that can be listened to."""

    def blocks(self) -> Iterator[Block]:
        """The sound in order; ends at the end of a recording, or after `close`."""
        ...

    def close(self) -> None:
        """Make `blocks` end soon; may be called from another thread."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """A recording read as a whole."""

    samples: Samples
    """Shape (n,), float32, mono, 16 kHz."""
    notes: tuple[str, ...]
    """What was odd about the file, one line each; empty when nothing was."""


class FileSource:
    """A recording in any form that libsndfile reads, at any rate from 8 kHz up, any number of channels.

    Channels are averaged, the rate is changed by soxr in a stream; memory does not grow with length.
    `blocks` may be called again and then starts anew. With `pace` "real" a block is handed over when its
    last sample would have been spoken.

    Raises `AudioError` at once for a file that is missing, empty, not audio, without samples, or of an
    unusable rate; while reading, for samples that are no numbers. What is readable of a file that breaks
    off is read, and `notes` says so.
    """

    def __init__(self, path: Path | str, pace: Literal["fast", "real"] = "fast") -> None:
        self.path = Path(path)
        self._pace = pace
        self._closed = False
        with _opened(self.path) as file:
            self.rate_hz: int = file.samplerate
            self.channels: int = file.channels
            self._opening_notes = _opening_notes(self.path, file)
        self._reading_notes: list[str] = []

    @property
    def notes(self) -> tuple[str, ...]:
        """What was odd so far; complete when `blocks` has ended."""
        return (*self._opening_notes, *self._reading_notes)

    def close(self) -> None:
        """Make `blocks` end after the block in hand."""
        self._closed = True

    def blocks(self) -> Iterator[Block]:
        """The recording from its beginning."""
        self._reading_notes.clear()
        started_s = time.monotonic()
        start_sample = 0
        for samples in _cut(self._resampled(), BLOCK_SAMPLES):
            if self._pace == "real":
                due_s = started_s + (start_sample + samples.size) / SAMPLE_RATE_HZ
                time.sleep(max(0.0, due_s - time.monotonic()))
            if self._closed:
                return
            yield Block(samples, start_sample, time.monotonic())
            start_sample += samples.size

    def _resampled(self) -> Iterator[Samples]:
        with _opened(self.path) as file:
            chunks = self._mono(file)
            if file.samplerate == SAMPLE_RATE_HZ:
                yield from chunks
                return
            stream = soxr.ResampleStream(file.samplerate, SAMPLE_RATE_HZ, 1, dtype="float32")
            for chunk in chunks:
                yield stream.resample_chunk(chunk)
            yield stream.resample_chunk(np.zeros(0, np.float32), last=True)

    def _mono(self, file: soundfile.SoundFile) -> Iterator[Samples]:
        frames_read = 0
        while True:
            chunk = self._read(file, frames_read)
            if len(chunk) == 0:
                break
            self._check_numbers(chunk, frames_read)
            frames_read += len(chunk)
            yield chunk.mean(axis=1, dtype=np.float32)
        if frames_read == 0:
            raise AudioError(self.path, "none of its audio can be read")
        if frames_read < file.frames and not self._reading_notes:
            self._reading_notes.append(
                f"breaks off: {frames_read / self.rate_hz:.2f} s of the {file.frames / self.rate_hz:.2f} s"
                " that its header promises can be read"
            )

    def _read(self, file: soundfile.SoundFile, frames_read: int) -> Samples:
        """The next frames, shape (n, channels); none at the end or where the data break."""
        try:
            chunk: Samples = file.read(int(_READ_S * file.samplerate), dtype="float32", always_2d=True)
        except soundfile.LibsndfileError as error:
            self._reading_notes.append(
                f"breaks off after {frames_read / self.rate_hz:.2f} s ({_one_line(error.error_string)})"
            )
            return np.zeros((0, file.channels), np.float32)
        return chunk

    def _check_numbers(self, chunk: Samples, frames_read: int) -> None:
        peak = float(np.max(np.abs(chunk)))  # NaN if any sample is
        if peak <= MAX_FULL_SCALES:
            return
        start_s, end_s = frames_read / self.rate_hz, (frames_read + len(chunk)) / self.rate_hz
        where = f"between {start_s:.2f} and {end_s:.2f} s"
        if not np.isfinite(peak):
            raise AudioError(self.path, f"samples that are not numbers {where}")
        reason = f"samples {peak:.0f} times full scale {where}; float audio reaches 1 at most"
        raise AudioError(self.path, reason)


def read_whole(path: Path | str, max_seconds: float = 60.0) -> Recording:
    """A short recording as one array.

    Raises `AudioError` as `FileSource` does, and for a recording longer than `max_seconds`.
    """
    source = FileSource(path)
    limit = int(max_seconds * SAMPLE_RATE_HZ)
    pieces: list[Samples] = []
    total = 0
    for block in source.blocks():
        pieces.append(block.samples)
        total += block.samples.size
        if total > limit:
            raise AudioError(path, f"longer than the {max_seconds:g} s that one utterance may take")
    if total == 0:
        raise AudioError(path, "too short to hold sound")
    return Recording(np.concatenate(pieces), source.notes)


@contextmanager
def _opened(path: Path) -> Iterator[soundfile.SoundFile]:
    _check_file(path)
    try:
        file = soundfile.SoundFile(str(path))
    except soundfile.LibsndfileError as error:
        raise AudioError(path, f"not readable as audio ({_one_line(error.error_string)})") from error
    except TypeError as error:  # soundfile's answer to .raw, which has no header to tell the rate
        raise AudioError(path, "headerless audio cannot be read; save it as WAV or FLAC") from error
    # After each read soundfile seeks to where it already is, unless the file cannot seek. In an MP3 file
    # that loses bits which the next frame needs, and the sound clicks.
    file.seekable = lambda: False
    with file:
        if file.frames == 0:
            raise AudioError(path, "holds no samples")
        if not MIN_RATE_HZ <= file.samplerate <= MAX_RATE_HZ:
            allowed = f"allowed {MIN_RATE_HZ} to {MAX_RATE_HZ} Hz"
            raise AudioError(path, f"sample rate {file.samplerate} Hz; {allowed}")
        yield file


def _check_file(path: Path) -> None:
    if path.is_dir():
        raise AudioError(path, "is a folder, not an audio file")
    if not path.exists():
        raise AudioError(path, "no such file")
    if not path.is_file():
        raise AudioError(path, "not a regular file")
    try:
        with path.open("rb") as file:
            empty = file.read(1) == b""
    except OSError as error:
        raise AudioError(path, f"cannot be opened ({reason_of(error)})") from error
    if empty:
        raise AudioError(path, "is empty (0 bytes)")


def _opening_notes(path: Path, file: soundfile.SoundFile) -> tuple[str, ...]:
    """Signs of a file cut short that show before its samples are read."""
    found = re.search(r"^\s*(?:data|SSND) : (\d+) \(should be (\d+)\)", file.extra_info, re.MULTILINE)
    if found and int(found[2]) < int(found[1]) < _STREAMED_SIZE:
        share = 100 * int(found[2]) / int(found[1])
        return (f"breaks off: {share:.0f} % of the data that its header promises are there",)
    if file.format == "OGG" and not _ogg_end_mark(path):
        return ("the mark of its end is missing: it may break off",)
    return ()


def _ogg_end_mark(path: Path) -> bool:
    """Whether the last Ogg page says that it is the last (header flag 4, RFC 3533 section 6)."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - _OGG_PAGE_LIMIT))
        tail = file.read()
    page = tail.rfind(b"OggS")
    return page >= 0 and page + 5 < len(tail) and bool(tail[page + 5] & 4)


def _cut(chunks: Iterator[Samples], size: int) -> Iterator[Samples]:
    """The same samples in pieces of `size`, the last one shorter."""
    rest = np.zeros(0, np.float32)
    for chunk in chunks:
        rest = np.concatenate([rest, chunk])
        whole = len(rest) - len(rest) % size
        for start in range(0, whole, size):
            yield rest[start : start + size]
        rest = rest[whole:]
    if len(rest):
        yield rest


def _one_line(message: str) -> str:
    return " ".join(message.split()).rstrip(".").removeprefix("Error : ")
