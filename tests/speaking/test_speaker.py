"""Playing in order, breaking off, and telling the gate; on a stand-in for the sound driver."""

import threading
import time
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from tests.hearing.fake_sound import CallbackStop, FakeDevice, FakeSound, FakeStream
from voicelog.hearing import portaudio
from voicelog.hearing.levels import Samples
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.speaker import TONE_RATE_HZ, SilentSpeaker, SoundSpeaker, Speaker
from voicelog.speaking.tones import Signal, tone
from voicelog.speaking.voice import SpokenText

PATIENCE_S = 10.0


class ToneVoice:
    """Speaks every text as a tone of a tenth of a second a letter."""

    rate_hz = 22050

    def speak(self, text: str) -> SpokenText:
        if text == "unspeakable":
            raise SpeakingError("the system voice failed")
        time_s = np.arange(len(text) * self.rate_hz // 10) / self.rate_hz
        return SpokenText((0.25 * np.sin(2 * np.pi * 200 * time_s)).astype(np.float32), self.rate_hz)


class Played:
    """Pulls the sound out of each stream that is started, as fast as it can or until `hold` is set."""

    def __init__(self) -> None:
        self.sounds: list[Samples] = []
        self.hold = threading.Event()

    def start(self, stream: FakeStream) -> None:
        threading.Thread(target=self._pull, args=(stream,), daemon=True).start()

    def _pull(self, stream: FakeStream) -> None:
        pieces = []
        while not stream.closed:
            out = np.full((256, stream.channels), np.nan, np.float32)
            try:
                stream.callback(out, len(out), None, None)
            except CallbackStop:
                pieces.append(out)
                break
            pieces.append(out)
            if self.hold.is_set():
                time.sleep(0.01)
        self.sounds.append(np.concatenate(pieces))
        stream.finished_callback()


@pytest.fixture(name="sound")
def _sound(monkeypatch: pytest.MonkeyPatch) -> FakeSound:
    fake = FakeSound(FakeDevice("Headphones", inputs=0, outputs=2, rates_hz=(48000, 22050)))
    monkeypatch.setattr(portaudio, "load", lambda: fake)
    return fake


@pytest.fixture(name="played")
def _played(sound: FakeSound) -> Played:
    played = Played()
    sound.on_start = played.start
    return played


@pytest.fixture(name="speakers")
def _speakers(sound: FakeSound) -> Iterator[Callable[..., SoundSpeaker]]:
    made: list[SoundSpeaker] = []

    def make(**how: object) -> SoundSpeaker:
        made.append(SoundSpeaker(**how))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for speaker in made:
        speaker.close()


def until(condition: Callable[[], bool]) -> None:
    deadline_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < deadline_s
        time.sleep(0.005)


def quiet(speaker: SoundSpeaker) -> None:
    until(lambda: not speaker.is_playing)


def test_tones_and_texts_are_played_in_order_and_whole(
    played: Played, speakers: Callable[..., SoundSpeaker]
) -> None:
    speaker = speakers(voice=ToneVoice(), volume=0.5)

    speaker.tone(Signal.ASKED)
    speaker.say("plus three")
    quiet(speaker)

    asked, spoken = played.sounds
    expected = tone(Signal.ASKED, 0.5, TONE_RATE_HZ)
    assert np.array_equal(asked[: len(expected), 0], expected)
    assert np.array_equal(asked[:, 0], asked[:, 1])
    assert not asked[len(expected) :].any()
    assert float(np.max(np.abs(spoken))) == pytest.approx(0.5, abs=1e-3)
    assert len(spoken) == pytest.approx(10 * 2205, abs=256)


def test_a_device_that_refuses_the_rate_gets_its_own(
    sound: FakeSound, played: Played, speakers: Callable[..., SoundSpeaker]
) -> None:
    sound.plugged_in[0].rates_hz = (48000,)
    speaker = speakers(voice=ToneVoice())

    speaker.say("plus three")
    quiet(speaker)

    assert sound.streams[0].samplerate == 48000
    assert len(played.sounds[0]) == pytest.approx(48000, abs=300)


def test_playing_and_quiet_times(played: Played, speakers: Callable[..., SoundSpeaker]) -> None:
    speaker = speakers()
    assert (speaker.is_playing, speaker.quiet_since) == (False, float("-inf"))
    played.hold.set()
    before_s = time.monotonic()

    speaker.tone(Signal.ACCEPTED)

    assert (speaker.is_playing, speaker.quiet_since) == (True, None)
    played.hold.clear()
    quiet(speaker)
    since = speaker.quiet_since
    assert since is not None
    assert before_s <= since <= time.monotonic()


def test_speech_is_told_with_its_times_and_tones_are_not(
    played: Played, speakers: Callable[..., SoundSpeaker]
) -> None:
    told: list[tuple[str, float]] = []
    speaker = speakers(
        voice=ToneVoice(),
        on_speech_started=lambda at_s: told.append(("started", at_s)),
        on_speech_ended=lambda at_s: told.append(("ended", at_s)),
    )

    speaker.tone(Signal.ACCEPTED)
    speaker.say("plus three")
    quiet(speaker)

    assert [what for what, _ in told] == ["started", "ended"]
    assert told[0][1] < told[1][1]


def test_stop_breaks_off_and_forgets(
    sound: FakeSound, played: Played, speakers: Callable[..., SoundSpeaker]
) -> None:
    ended: list[float] = []
    speaker = speakers(voice=ToneVoice(), on_speech_ended=ended.append)
    played.hold.set()
    speaker.say("a long text that takes several seconds")
    speaker.say("never spoken")
    until(lambda: len(sound.streams) == 1)

    stopped_s = time.monotonic()
    speaker.stop()
    quiet(speaker)

    assert len(sound.streams) == 1
    assert sound.streams[0].closed
    assert len(ended) == 1
    assert ended[0] >= stopped_s
    speaker.tone(Signal.ACCEPTED)  # and what comes later is played
    quiet(speaker)
    assert len(sound.streams) == 2


@pytest.mark.parametrize("text", ["", "  "])
def test_nothing_to_say(played: Played, speakers: Callable[..., SoundSpeaker], text: str) -> None:
    speaker = speakers(voice=ToneVoice())
    speaker.say(text)

    assert not speaker.is_playing


def test_without_a_voice_only_tones(played: Played, speakers: Callable[..., SoundSpeaker]) -> None:
    speaker = speakers()
    speaker.say("plus three")

    assert not speaker.is_playing


def test_what_cannot_be_played_is_told_and_skipped(
    sound: FakeSound, played: Played, speakers: Callable[..., SoundSpeaker]
) -> None:
    problems: list[str] = []
    speaker = speakers(voice=ToneVoice(), on_problem=problems.append)
    sound.plugged_in[0].busy = True
    speaker.tone(Signal.ACCEPTED)
    quiet(speaker)
    sound.plugged_in[0].busy = False
    speaker.say("unspeakable")
    speaker.tone(Signal.ASKED)
    quiet(speaker)

    assert problems == ["Error opening stream: Device unavailable", "the system voice failed"]
    assert len(played.sounds) == 1


def test_a_loudspeaker_that_goes_away_is_told(
    sound: FakeSound, speakers: Callable[..., SoundSpeaker]
) -> None:
    problems: list[str] = []
    sound.on_start = lambda stream: stream.finished_callback()
    speaker = speakers(on_problem=problems.append)

    speaker.tone(Signal.ACCEPTED)
    quiet(speaker)

    assert problems == ["Headphones was lost while it was playing"]


def test_the_silent_speaker_is_a_speaker() -> None:
    speaker: Speaker = SilentSpeaker()
    speaker.tone(Signal.ACCEPTED)
    speaker.say("plus three")
    speaker.stop()
    speaker.close()

    assert (speaker.is_playing, speaker.quiet_since) == (False, float("-inf"))


def test_volume_is_checked_at_once(sound: FakeSound) -> None:
    with pytest.raises(SpeakingError, match="volume is 2"):
        SoundSpeaker(volume=2.0)
