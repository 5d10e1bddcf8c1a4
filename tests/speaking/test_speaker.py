"""When words are spoken and when not; and that what is mixed reaches a stand-in for the sound driver whole."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import pytest

from tests.hearing.fake_sound import FakeDevice, FakeSound, FakeStream
from voicelog.hearing import portaudio
from voicelog.hearing.levels import Samples
from voicelog.speaking import speaker as speaker_module
from voicelog.speaking.clocks import Clock
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.loudspeaker import RATE_HZ, Loudspeaker
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.speaker import SilentSpeaker, SoundSpeaker, Speaker, louder
from voicelog.speaking.tones import Signal, tone
from voicelog.speaking.voice import SpokenText

PATIENCE_S = 10.0


class ToneVoice:
    """Speaks every text as a tone of a tenth of a second a letter, and keeps what it was asked for."""

    rate_hz = 22050

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.may_speak = threading.Event()
        self.may_speak.set()

    def speak(self, text: str) -> SpokenText:
        self.asked.append(text)
        self.may_speak.wait(PATIENCE_S)
        if text == "unspeakable":
            raise SpeakingError("the system voice failed")
        time_s = np.arange(len(text) * self.rate_hz // 10) / self.rate_hz
        return SpokenText((0.25 * np.sin(2 * np.pi * 200 * time_s)).astype(np.float32), self.rate_hz)


@dataclass
class Talk:
    """A speaker and what a test knows of it."""

    mixer: Mixer
    voice: ToneVoice
    speaker: SoundSpeaker
    problems: list[str]
    quiet: list[bool] = field(default_factory=lambda: [True])


@pytest.fixture(name="talk")
def _talk() -> Iterator[Talk]:
    mixer, voice, problems, quiet = Mixer(RATE_HZ), ToneVoice(), list[str](), [True]
    speaker = SoundSpeaker(mixer, voice, quiet=lambda: quiet[0], on_problem=problems.append)
    yield Talk(mixer, voice, speaker, problems, quiet)
    speaker.close()


def until(condition: Callable[[], bool]) -> None:
    deadline_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < deadline_s
        time.sleep(0.002)


def pulled(mixer: Mixer) -> Samples:
    """All that is left to sound."""
    pieces = []
    while mixer.is_playing:
        pieces.append(mixer.pull(480))
    return np.concatenate(pieces) if pieces else np.zeros(0, np.float32)


def test_a_tone_sounds_at_once_even_while_somebody_speaks(talk: Talk) -> None:
    talk.quiet[0] = False
    talk.speaker.tone(Signal.ASKED)

    expected = tone(Signal.ASKED, 0.5, RATE_HZ)
    assert np.array_equal(talk.mixer.pull(expected.size), expected)
    assert not talk.mixer.is_playing


def test_words_wait_until_nobody_speaks_and_give_way_to_newer_ones(talk: Talk) -> None:
    talk.quiet[0] = False
    talk.speaker.say("old")
    talk.speaker.say("newer")
    assert talk.speaker.is_playing
    assert talk.speaker.is_settled
    assert talk.voice.asked == []

    talk.quiet[0] = True
    until(lambda: talk.speaker.is_speaking)
    assert talk.voice.asked == ["newer"]
    assert pulled(talk.mixer).size == pytest.approx(0.5 * RATE_HZ, abs=480)


def test_words_that_waited_too_long_are_not_said_and_an_alarm_is(
    talk: Talk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(speaker_module, "_STALE_S", 0.05)
    talk.quiet[0] = False
    talk.speaker.say("old")
    talk.speaker.say("microphone lost", alarm=True)
    time.sleep(0.1)
    talk.quiet[0] = True

    until(lambda: talk.speaker.is_speaking)
    pulled(talk.mixer)
    until(lambda: not talk.speaker.is_playing)
    assert talk.voice.asked == ["microphone lost"]


def test_what_is_being_made_ready_gives_way_to_what_is_newer(talk: Talk) -> None:
    talk.voice.may_speak.clear()
    talk.speaker.say("first")
    until(lambda: talk.voice.asked == ["first"])
    talk.speaker.say("second one")
    talk.voice.may_speak.set()

    until(lambda: talk.voice.asked == ["first", "second one"] and talk.speaker.is_speaking)
    assert pulled(talk.mixer).size == pytest.approx(1.0 * RATE_HZ, abs=480)


def test_somebody_who_speaks_stops_the_words_at_once_and_what_waits(talk: Talk) -> None:
    talk.speaker.say("a long sentence")
    until(lambda: talk.speaker.is_speaking)
    talk.mixer.pull(4800)

    talk.speaker.stop()

    rest = pulled(talk.mixer)
    assert rest.size <= 0.01 * RATE_HZ
    assert abs(float(rest[239])) < 0.01
    assert not talk.speaker.is_playing


def test_what_cannot_be_spoken_is_told_and_skipped(talk: Talk) -> None:
    talk.speaker.say("unspeakable")
    until(lambda: talk.problems == ["the system voice failed"])
    assert talk.voice.asked == ["unspeakable"] * 2
    talk.speaker.say("spoken")
    until(lambda: talk.speaker.is_speaking)


def test_the_volume_is_the_peak_and_can_be_changed(talk: Talk) -> None:
    for volume in (0.5, louder(0.5, steps=1)):
        talk.speaker.volume = volume
        talk.speaker.say("plus three")
        until(lambda: talk.speaker.is_speaking)
        assert float(np.max(np.abs(pulled(talk.mixer)))) == pytest.approx(volume, abs=0.01)
    assert louder(0.5, steps=1) == pytest.approx(0.79, abs=0.01)
    assert (louder(1.0, steps=1), louder(0.125, steps=-1)) == (1.0, 0.125)
    with pytest.raises(SpeakingError, match=r"volume is 1\.5"):
        talk.speaker.volume = 1.5


@pytest.mark.parametrize("text", ["", "  \n"])
def test_nothing_to_say(talk: Talk, text: str) -> None:
    talk.speaker.say(text)
    assert not talk.speaker.is_playing


def test_without_a_voice_only_tones() -> None:
    mixer = Mixer(RATE_HZ)
    speaker = SoundSpeaker(mixer)
    speaker.say("plus three")
    assert not speaker.is_playing
    speaker.tone(Signal.ACCEPTED)
    assert speaker.is_playing
    speaker.close()


def test_the_silent_speaker_is_a_speaker() -> None:
    speaker: Speaker = SilentSpeaker()
    speaker.tone(Signal.ASKED)
    speaker.say("plus three", alarm=True)
    speaker.stop()
    speaker.close()
    assert (speaker.is_playing, speaker.is_speaking, speaker.is_settled) == (False, False, True)


class Driver:
    """Pulls sound out of each stream that is started, as a driver's thread does."""

    def __init__(self) -> None:
        self.sounds: list[Samples] = []
        self.lost = threading.Event()

    def start(self, stream: FakeStream) -> None:
        threading.Thread(target=self._pull, args=(stream,), daemon=True).start()

    def _pull(self, stream: FakeStream) -> None:
        while not stream.closed and not self.lost.is_set():
            out = np.full((256, stream.channels), np.nan, np.float32)
            stream.callback(out, len(out), None, None)
            self.sounds.append(out)
            time.sleep(0.001)
        stream.finished_callback()


@pytest.fixture(name="sound")
def _sound(monkeypatch: pytest.MonkeyPatch) -> FakeSound:
    fake = FakeSound(FakeDevice("Headphones", inputs=0, outputs=2, rates_hz=(48000, 22050)))
    monkeypatch.setattr(portaudio, "load", lambda: fake)
    return fake


@pytest.mark.parametrize("rate_hz", [48000, 44100])
def test_a_loudspeaker_plays_what_is_mixed_at_a_rate_that_it_takes(sound: FakeSound, rate_hz: int) -> None:
    sound.plugged_in[0].rates_hz = (rate_hz,)
    driver, mixer = Driver(), Mixer(RATE_HZ)
    sound.on_start = driver.start
    loudspeaker = Loudspeaker(mixer, Clock(RATE_HZ))
    until(lambda: len(driver.sounds) > 2)

    mixer.play(tone(Signal.ASKED, 0.5, RATE_HZ))
    until(lambda: not mixer.is_playing)
    time.sleep(0.1)
    loudspeaker.close()

    assert sound.streams[0].samplerate == rate_hz
    played = np.concatenate(driver.sounds)
    assert np.array_equal(played[:, 0], played[:, 1])
    sounding = np.flatnonzero(np.abs(played[:, 0]) > 0.01)
    assert float(np.max(np.abs(played))) == pytest.approx(0.5, abs=0.02)
    length_s = (sounding[-1] - sounding[0]) / rate_hz
    assert length_s == pytest.approx(tone(Signal.ASKED, 0.5, RATE_HZ).size / RATE_HZ, abs=0.01)


def test_without_a_loudspeaker_it_is_told_once_and_the_sound_goes_by(sound: FakeSound) -> None:
    sound.plugged_in.clear()
    sound._seen.clear()
    problems: list[str] = []
    mixer = Mixer(RATE_HZ)
    loudspeaker = Loudspeaker(mixer, Clock(RATE_HZ), on_problem=problems.append)

    mixer.play(tone(Signal.ACCEPTED, 0.5, RATE_HZ))
    until(lambda: not mixer.is_playing)
    loudspeaker.close()

    assert problems == ["no sound device is connected"]


def test_a_loudspeaker_that_goes_away_is_told_and_tried_again(sound: FakeSound) -> None:
    driver, problems = Driver(), list[str]()
    sound.on_start = driver.start
    loudspeaker = Loudspeaker(Mixer(RATE_HZ), Clock(RATE_HZ), on_problem=problems.append)
    until(lambda: len(driver.sounds) > 2)

    driver.lost.set()
    until(lambda: problems == ["Headphones was lost"])
    driver.lost.clear()
    until(lambda: len(sound.streams) == 2)
    loudspeaker.close()


def test_devices_can_be_looked_for_while_the_loudspeaker_plays(sound: FakeSound) -> None:
    driver = Driver()
    sound.on_start = driver.start
    loudspeaker = Loudspeaker(Mixer(RATE_HZ), Clock(RATE_HZ))
    until(lambda: len(driver.sounds) > 2)

    assert portaudio.rescan(PATIENCE_S)
    until(lambda: len(sound.streams) == 2)
    loudspeaker.close()
