"""What lies in a folder, byte by byte: whether words or sound are in it, in any form that a program might leave them in."""

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.record.clips import flac

LETTERS: Final = 6
"""Words from so many letters on are looked for alone: keys and hashes as text hold shorter ones by chance."""
_PIECE: Final = 16  # samples
_EVERY: Final = SAMPLE_RATE_HZ // 2
_PRINTABLE: Final = rb"[\x20-\x7e]"
_WIDE: Final = (
    (rb"(?:%b\0){4,}", "utf-16-le"),
    (rb"(?:\0%b){4,}", "utf-16-be"),
    (rb"(?:%b\0\0\0){4,}", "utf-32-le"),
)
_ESCAPED: Final = re.compile(rb"(?:\\u00[0-9a-fA-F]{2}){4,}")
_FLAC_HEAD: Final = 86  # bytes: the marker and what is in front of the frames is alike in all files


def everything(folder: Path) -> bytes:
    """All files of a folder, one behind the other."""
    return b"\0\0\0".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def text_in(content: bytes) -> str:
    """All that reads as text there: as bytes, in two and four bytes a letter, and escaped as JSON does; lower case."""
    found = [each.decode("ascii") for each in re.findall(_PRINTABLE + rb"{4,}", content)]
    for pattern, code in _WIDE:
        found += [each.decode(code) for each in re.findall(pattern.replace(b"%b", _PRINTABLE), content)]
    found += [each.decode("unicode_escape") for each in _ESCAPED.findall(content)]
    return "\n".join(found).lower()


def pieces_of(sentence: str) -> set[str]:
    """What tells that a sentence was kept: its longer words, and any two words side by side."""
    words = re.findall(r"[a-z']+", sentence.lower())
    pairs = {f"{one} {other}" for one, other in pairwise(words)}
    return {word for word in words if len(word) >= LETTERS} | {pair for pair in pairs if len(pair) > LETTERS}


def words_found(text: str, sentences: Iterable[str], allowed: str) -> set[str]:
    """The pieces of sentences that a text holds, those left out that are in `allowed` as well."""
    pieces = set[str]().union(*map(pieces_of, sentences))
    return {piece for piece in pieces if piece in text and piece not in allowed}


def has_sound(content: bytes, samples: Samples) -> bool:
    """Whether a piece of it, one each half second, is there, as floats or 16-bit numbers, or its frames as FLAC.

    There must be sound everywhere in it: silence is like any other.
    """
    encoded = flac(samples)[_FLAC_HEAD:]
    forms = [encoded[at : at + 48] for at in range(0, max(1, len(encoded) - 48), max(48, len(encoded) // 8))]
    return any(each in content for each in (*forms, *_raw(samples)))


def _raw(samples: Samples) -> Iterator[bytes]:
    for start in range(0, samples.size - _PIECE, _EVERY):
        piece = samples[start : start + _PIECE]
        yield piece.astype("<f4").tobytes()
        for scale in (32767, 32768):
            yield np.clip(piece * scale, -32768, 32767).astype("<i2").tobytes()
            yield np.clip(np.rint(piece * scale), -32768, 32767).astype("<i2").tobytes()
