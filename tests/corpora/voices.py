"""The voices that make test and tuning speech: engine, person, licence, settings, and which half each serves.

A person appears in one half only, whatever the engine: `speaker` names the person (or, for rule-made voices,
the accent and variant), so two engines that carry the same person's voice share it. Natural voices are those
made by a neural network trained on recordings; the diphone, formant and HMM voices are there for variety of
sound, not as evidence by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Engine = Literal["kokoro", "hibari", "piper", "flite", "festival", "espeak"]
Split = Literal["tuning", "test"]

KOKORO = "Apache-2.0 (Kokoro-82M weights and style vectors; ONNX export MIT)"
# The card says "finetuned from U.S. English lessac voice" and gives no licence for that one; its recordings are, from
# memory, licensed for research only. So joe speaks in local tests and never in a file that is passed on.
PIPER_JOE = "CC0 recordings and MIT package, fine-tuned from a voice of unstated licence"
HIBARI = "Apache-2.0 (distilled from Kokoro-82M's af_heart)"
FLITE = "BSD-style, Carnegie Mellon University"
FESTIVAL = "BSD-style, University of Edinburgh and Carnegie Mellon University"
SLT_HTS = "BSD-style, Carnegie Mellon University; BSD-3-clause, Nagoya Institute of Technology"
ESPEAK = "GPL-3.0-or-later engine and data (run as a program; its output is not covered)"


@dataclass(frozen=True, slots=True)
class Voice:
    """One way to say a text.

    `rate` multiplies the engine's own speaking rate (1.2 is faster); `pitch` is espeak's own setting (0 to
    99) and None leaves it alone; `shift` multiplies pitch and formants together, as a smaller (above 1) or
    larger head would, at the same speaking rate; `british` picks the spelling-to-sound rules.
    """

    name: str
    engine: Engine
    engine_voice: str
    licence: str
    speaker: str
    sex: Literal["female", "male"]
    accent: str
    split: Split
    rate: float = 1.0
    pitch: int | None = None
    shift: float = 1.0
    british: bool = False

    @property
    def natural(self) -> bool:
        """True for voices made by a neural network from recordings."""
        return self.engine in ("kokoro", "hibari", "piper")


def _kokoro(style: str, accent: str, split: Split, rate: float) -> Voice:
    """Kokoro names its styles by language letter and sex: `bf_emma` is British, female."""
    return Voice(
        name=f"kokoro-{style}",
        engine="kokoro",
        engine_voice=style,
        licence=KOKORO,
        speaker=style,
        sex="female" if style[1] == "f" else "male",
        accent=accent,
        split=split,
        rate=rate,
        british=style[0] in "bh",
    )


def _fast(name: str, engine: Engine, speaker: str, split: Split, shift: float) -> Voice:
    """The quick neural voices, which say hours of talk: a woman, a man, and either shifted towards the other."""
    heart = engine == "hibari"
    return Voice(
        name=name,
        engine=engine,
        engine_voice="heart" if heart else "en_US-joe-medium",
        licence=HIBARI if heart else PIPER_JOE,
        speaker=speaker,
        sex="female" if heart == (shift == 1) else "male",
        accent="American",
        split=split,
        rate=1.1,
        shift=shift,
    )


# The last figure is the speaking rate: dictation is brisker than the reading pace these voices were trained on.
# Styles of other languages speak English phonemes with that language's timbre and rhythm: a mild accent, not
# a full one, since the phonemes are those of a native speaker.
_NATURAL = (
    _kokoro("af_heart", "American", "test", 1.1),
    _kokoro("bm_george", "British", "test", 1.15),
    _kokoro("am_michael", "American", "test", 1.15),
    _kokoro("bf_emma", "British", "test", 1.1),
    _kokoro("am_fenrir", "American", "test", 1.25),
    _kokoro("af_kore", "American", "test", 1.2),
    _kokoro("hm_omega", "Hindi style, British phonemes", "test", 1.1),
    _kokoro("if_sara", "Italian style, American phonemes", "test", 1.15),
    _kokoro("af_bella", "American", "tuning", 1.15),
    _kokoro("am_puck", "American", "tuning", 1.15),
    _kokoro("bf_isabella", "British", "tuning", 1.15),
    _kokoro("bm_fable", "British", "tuning", 1.1),
    _kokoro("af_sarah", "American", "tuning", 1.25),
    _kokoro("am_eric", "American", "tuning", 1.2),
    _kokoro("hf_alpha", "Hindi style, British phonemes", "tuning", 1.1),
    _kokoro("em_alex", "Spanish style, American phonemes", "tuning", 1.15),
    _fast("hibari-heart", "hibari", "af_heart", "test", 1.0),
    _fast("hibari-heart-low", "hibari", "af_heart", "test", 0.84),
    _fast("piper-joe", "piper", "joe", "tuning", 1.0),
    _fast("piper-joe-high", "piper", "joe", "tuning", 1.18),
)

_CONCATENATIVE = (
    Voice("flite-slt", "flite", "slt", FLITE, "slt", "female", "American", "test"),
    Voice("flite-rms", "flite", "rms", FLITE, "rms", "male", "American", "tuning"),
    Voice("flite-awb", "flite", "awb", FLITE, "awb", "male", "Scottish", "tuning", rate=1.1),
    Voice("flite-kal16", "flite", "kal16", FLITE, "kal", "male", "American", "test"),
    Voice("festival-kal", "festival", "kal_diphone", FESTIVAL, "kal", "male", "American", "test", rate=1.1),
    Voice("festival-ked", "festival", "ked_diphone", FESTIVAL, "ked", "male", "American", "tuning", rate=1.1),
    Voice(
        "festival-slt-hts", "festival", "cmu_us_slt_arctic_hts", SLT_HTS, "slt", "female", "American", "test"
    ),
)

_FORMANT = (
    Voice(
        "espeak-scotland",
        "espeak",
        "en-gb-scotland+m4",
        ESPEAK,
        "espeak-scotland",
        "male",
        "Scottish",
        "test",
    ),
    Voice(
        "espeak-us-f3", "espeak", "en-us+f3", ESPEAK, "espeak-us-f3", "female", "American", "test", pitch=60
    ),
    Voice(
        "espeak-rp-f2",
        "espeak",
        "en-gb-x-rp+f2",
        ESPEAK,
        "espeak-rp-f2",
        "female",
        "British",
        "tuning",
        1.1,
        55,
    ),
    Voice(
        "espeak-caribbean", "espeak", "en-029+m3", ESPEAK, "espeak-caribbean", "male", "Caribbean", "tuning"
    ),
)

VOICES: tuple[Voice, ...] = (*_NATURAL, *_CONCATENATIVE, *_FORMANT)


def by_name(name: str) -> Voice:
    """The voice called `name`; raises KeyError when there is none."""
    for voice in VOICES:
        if voice.name == name:
            return voice
    raise KeyError(f"no voice is called {name!r}; known: {', '.join(v.name for v in VOICES)}")


def select(names: str = "", split: str = "", natural_only: bool = False) -> list[Voice]:
    """Voices filtered by a comma-separated list of names, by half and by naturalness; empty means all."""
    chosen = [by_name(name) for name in names.split(",")] if names else list(VOICES)
    return [v for v in chosen if (not split or v.split == split) and (v.natural or not natural_only)]
