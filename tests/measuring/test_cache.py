"""What was heard comes back as it was, from a file that may have been broken off."""

import json
import math
from dataclasses import replace
from itertools import islice
from pathlib import Path
from random import Random

import pytest

from tests.english import load
from tests.measuring.made_up import READER, heard
from voicelog.hearing.engines.protocol import Hearing, Hypothesis
from voicelog.measuring.cache import WHOLE_FILE, Cut, HearingCache, HearingKey, Stretch, code_mark, sound_mark
from voicelog.measuring.errors import MeasuringError
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.phrases.sampler import samples

KEY = HearingKey("5ound", EXAM_RULES, "moonshine", WHOLE_FILE)


def test_every_meaning_comes_back(tmp_path: Path) -> None:
    """Random phrases of the grammar, so that no kind of meaning is forgotten."""
    said = list(islice(samples(load().walker(EXAM_RULES), Random(7)), 80))
    texts, readings = [each.text for each in said], [each.meanings for each in said]
    hearings = [
        Hearing("m", (Hypothesis(text, meanings, -0.1),), text, -1.5, 0.25, second)
        for text, meanings, second in zip(
            texts, readings, [None, 0.5, math.inf, -math.inf] * len(texts), strict=False
        )
    ]
    cache = HearingCache(tmp_path / "c.jsonl")
    for at, hearing in enumerate(hearings):
        cache.keep(KEY._replace(start_sample=at), hearing, "code")

    again = HearingCache(tmp_path / "c.jsonl")

    assert len({meaning.kind for meanings in readings for meaning in meanings}) >= 12
    assert [again.hearing(KEY._replace(start_sample=at)) for at in range(len(hearings))] == hearings


def test_the_file_is_strict_json(tmp_path: Path) -> None:
    path = tmp_path / "c.jsonl"
    HearingCache(path).keep(KEY, heard(("right eye", -1.0), second=math.inf), "code")

    assert (
        json.loads(path.read_text(), parse_constant=lambda name: pytest.fail(name))["second_opinion"] == "inf"
    )


def test_only_the_likeliest_are_kept(tmp_path: Path) -> None:
    cache = HearingCache(tmp_path / "c.jsonl")
    hearing = heard(*((f"streak {axis} with", -float(axis)) for axis in range(10, 20)))
    cache.keep(KEY, hearing, "code")

    assert cache.hearing(KEY) == replace(hearing, hypotheses=hearing.hypotheses[:5])


def test_a_line_broken_off_is_heard_again_and_spoils_nothing(tmp_path: Path) -> None:
    path = tmp_path / "c.jsonl"
    cache = HearingCache(path)
    cache.keep(KEY, heard(("right eye", -1.0)), "code")
    cache.keep(KEY._replace(start_sample=5), heard(("left eye", -1.0)), "code")
    path.write_bytes(path.read_bytes()[:-20])

    broken = HearingCache(path)
    assert (broken.broken_lines, KEY in broken, KEY._replace(start_sample=5) in broken) == (1, True, False)

    broken.keep(KEY._replace(start_sample=5), heard(("other eye", -1.0)), "newer")
    again = HearingCache(path)
    assert again.hearing(KEY._replace(start_sample=5)) == heard(("other eye", -1.0))
    assert again.code(KEY._replace(start_sample=5)) == "newer"


def test_cuts_come_back(tmp_path: Path) -> None:
    cut = Cut(61.5, (Stretch(100, 900, True), Stretch(2000, 9000, False)))
    HearingCache(tmp_path / "c.jsonl").keep_cut("5ound", cut)

    again = HearingCache(tmp_path / "c.jsonl")

    assert again.cut("5ound") == cut
    assert again.cut("other") is None
    assert again.hearing(KEY) is None


def test_another_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "manifest.tsv"
    path.write_text("path\ttranscript\n")

    with pytest.raises(MeasuringError, match="is no file of hearings"):
        HearingCache(path)
    with pytest.raises(MeasuringError, match="cannot be read"):
        HearingCache(tmp_path)
    with pytest.raises(MeasuringError, match="cannot be written"):
        HearingCache(tmp_path / "none" / "c.jsonl").keep(KEY, heard(), "code")
    assert path.read_text() == "path\ttranscript\n"


def test_marks_tell_content_apart(tmp_path: Path) -> None:
    one, same, other = (tmp_path / name for name in ("a", "b", "c"))
    for path, content in ((one, b"1"), (same, b"1"), (other, b"2")):
        path.write_bytes(content)

    assert sound_mark(one) == sound_mark(same) != sound_mark(other)
    assert code_mark(load(), ["hear_one"]) == code_mark(load(), ["hear_one"]) != code_mark(load(), ["levels"])
    with pytest.raises(MeasuringError, match="cannot be read"):
        sound_mark(tmp_path / "none")


def test_a_file_that_holds_one_meaning_a_hypothesis_is_still_read(tmp_path: Path) -> None:
    """As they were written before several entries could be said in one breath."""
    path = tmp_path / "c.jsonl"
    cache = HearingCache(path)
    ((meaning,),) = READER.understand("right eye").readings
    hearing = Hearing("m", (Hypothesis("right eye", (meaning,), -0.1),), "right eye", -1.5, 0.25)
    cache.keep(KEY, hearing, "code")
    (line,) = [json.loads(each) for each in path.read_text().splitlines()]
    line["hypotheses"] = [[text, said, log] for text, (said,), log in line["hypotheses"]]
    path.write_text(json.dumps(line) + "\n")

    assert HearingCache(path).hearing(KEY) == hearing
