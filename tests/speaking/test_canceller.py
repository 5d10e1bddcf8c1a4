"""The own sound taken out of the microphone: in reckoned rooms, alone and with somebody speaking at the same time."""

import numpy as np
import pytest

from tests.live.room import impulse_response
from voicelog.demo import demo_audio
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, read_whole
from voicelog.speaking.canceller import BLOCK_SAMPLES, Canceller
from voicelog.speaking.clocks import Clock
from voicelog.speaking.delays import delay_samples, longest_samples
from voicelog.speaking.echoes import repeats
from voicelog.speaking.hearing_again import Stretch, heard_again
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.own_sound import OwnSound

LEVELS_DB = (-18.0, -12.0, 0.0)


@pytest.fixture(scope="module", name="speech")
def _speech() -> Samples:
    """The examiner and others, one behind the other."""
    sound = read_whole(demo_audio(), max_seconds=200).samples
    return np.concatenate([one.samples for one in utterances([Block(sound, 0, 0.0)])])


def rms(samples: Samples) -> float:
    return float(np.sqrt(np.mean(np.square(samples[np.abs(samples) > 0.02]))))


def parts(speech: Samples, level_db: float, seed: int) -> tuple[Samples, Samples, Samples, Samples]:
    """Eight seconds each of reference, its echo at a level against the talker, the talker, and the room's noise."""
    random = np.random.default_rng(seed)
    count = 8 * SAMPLE_RATE_HZ
    reference = speech[28 * SAMPLE_RATE_HZ :][:count]
    talker = speech[8 * SAMPLE_RATE_HZ :][:count]
    way = impulse_response(random, latency_s=0.05 + 0.1 * random.random(), room_s=0.06)
    echo = np.convolve(reference, way)[:count].astype(np.float32)
    echo *= np.float32(rms(talker) / rms(echo) * 10 ** (level_db / 20))
    noise = random.standard_normal(count).astype(np.float32) * np.float32(rms(talker) * 10 ** (-40 / 20))
    return reference, echo, talker, noise


def left_over_db(speech: Samples, level_db: float, seed: int, *, talking: bool) -> float:
    """How much of the echo is left in the last half, in decibels of what was there."""
    reference, echo, talker, noise = parts(speech, level_db, seed)
    rest = noise + talker if talking else noise
    heard, canceller = echo + rest, Canceller()
    left = np.concatenate(
        [
            canceller.clean(reference[at : at + BLOCK_SAMPLES], heard[at : at + BLOCK_SAMPLES]).samples
            for at in range(0, heard.size - BLOCK_SAMPLES + 1, BLOCK_SAMPLES)
        ]
    )
    half = left.size // 2
    error = (left - rest[: left.size])[half:]
    return float(10 * np.log10(np.sum(error**2) / np.sum(echo[half : left.size] ** 2)))


@pytest.mark.parametrize("level_db", LEVELS_DB)
def test_after_four_seconds_little_is_left_of_the_echo(speech: Samples, level_db: float) -> None:
    """Alone a fifth of it at most; beside a talker who never stops it is a fifth of the talker at most."""
    assert left_over_db(speech, level_db, 1, talking=False) < -13
    assert level_db + left_over_db(speech, level_db, 1, talking=True) < -13


def test_what_was_learned_moves_along_when_the_reference_does(speech: Samples) -> None:
    reference, echo, _, noise = parts(speech, 0.0, 2)
    canceller, shift = Canceller(), 200
    half = echo.size // 2 // BLOCK_SAMPLES * BLOCK_SAMPLES
    for at in range(0, half, BLOCK_SAMPLES):
        canceller.clean(reference[at : at + BLOCK_SAMPLES], (echo + noise)[at : at + BLOCK_SAMPLES])
    canceller.delay(shift)
    later = reference[shift:]
    left = [
        canceller.clean(later[at : at + BLOCK_SAMPLES], (echo + noise)[at : at + BLOCK_SAMPLES]).samples
        for at in range(half, half + SAMPLE_RATE_HZ, BLOCK_SAMPLES)
    ]
    # What came before the move is still in the filter's memory for as long as it is.
    settled = SAMPLE_RATE_HZ // 2
    heard = echo[half + settled : half + sum(map(len, left))]
    assert 10 * np.log10(np.sum(np.concatenate(left)[settled:] ** 2) / np.sum(heard**2)) < -10


def through(own: OwnSound, mixer: Mixer, pulled: Clock, sound: Samples, start: int) -> Samples:
    """What comes out of blocks of 512, each pulled from the mixer when it was heard."""
    out = []
    for at in range(start, start + sound.size, 512):
        block = sound[at - start : at - start + 512]
        mixer.pull(block.size)
        pulled.note(at + block.size, (at + block.size) / SAMPLE_RATE_HZ)
        arrived_s = (at + block.size) / SAMPLE_RATE_HZ
        out += [each.samples for each in own.cleaned(Block(block, at, arrived_s))]
    return np.concatenate(out)


def test_sound_passes_as_it_is_while_the_program_is_silent(speech: Samples) -> None:
    mixer, pulled = Mixer(SAMPLE_RATE_HZ), Clock(SAMPLE_RATE_HZ)
    own = OwnSound(mixer, pulled)
    assert np.array_equal(through(own, mixer, pulled, speech[:51200], 0), speech[:51200])


@pytest.mark.parametrize("who", ["loudspeaker", "microphone"])
@pytest.mark.parametrize("stall_s", [0.3, 0.45, 1.2, 5.0])
def test_a_driver_that_stood_still_costs_no_sound_and_its_echo_is_taken_away_again(
    speech: Samples, who: str, stall_s: float
) -> None:
    """In the middle of words; six seconds later the echo is down by 10 dB again, and no block was lost."""
    mixer, pulled = Mixer(SAMPLE_RATE_HZ), Clock(SAMPLE_RATE_HZ)
    own = OwnSound(mixer, pulled)
    random = np.random.default_rng(3)
    way = impulse_response(random, latency_s=0.08, room_s=0.06)
    mixer.speak(speech[8 * SAMPLE_RATE_HZ :][: 21 * SAMPLE_RATE_HZ])
    stall = range(8 * SAMPLE_RATE_HZ // 512, round((8 + stall_s) * SAMPLE_RATE_HZ) // 512)
    tail: Samples = np.zeros(way.size - 1, np.float32)
    heard, left = list[Samples](), list[Samples]()
    played = captured = 0
    for step in range(round((15 + stall_s) * SAMPLE_RATE_HZ) // 512):
        now_s = (step + 1) * 512 / SAMPLE_RATE_HZ
        sounds = np.zeros(512, np.float32)
        if who == "microphone" or step not in stall:
            sounds, played = mixer.pull(512), played + 512
            pulled.note(played, now_s)
        echo = np.convolve(sounds, way)
        echo[: tail.size] += tail
        tail = echo[512:]
        if who == "loudspeaker" or step not in stall:
            block = (echo[:512] + random.standard_normal(512) * 1e-4).astype(np.float32)
            left += [each.samples for each in own.cleaned(Block(block, captured, now_s))]
            captured += 512
            heard.append(block)
    assert 0 <= sum(map(len, heard)) - sum(map(len, left)) < 512
    last = SAMPLE_RATE_HZ
    whole, rest = np.concatenate(heard)[-last:], np.concatenate(left)[-last:]
    assert 10 * np.log10(np.mean(rest**2) / np.mean(whole**2)) < -10


def test_with_a_headset_nothing_is_changed_while_it_speaks(speech: Samples) -> None:
    mixer, pulled = Mixer(SAMPLE_RATE_HZ), Clock(SAMPLE_RATE_HZ)
    own = OwnSound(mixer, pulled, heard=False)
    mixer.speak(speech[:51200])
    assert np.array_equal(through(own, mixer, pulled, speech[:51200], 0), speech[:51200])
    assert not own.barged_in


@pytest.mark.parametrize("level_db", LEVELS_DB)
@pytest.mark.parametrize("talking", [False, True])
def test_a_first_stretch_heard_again_leaves_its_talker_alone(
    speech: Samples, level_db: float, *, talking: bool
) -> None:
    """By a canceller that knew nothing and had the delay wrong; somebody talks in the second half, or nobody."""
    reference, echo, talker, noise = parts(speech, level_db, 5)
    count = 4 * SAMPLE_RATE_HZ
    talker = np.where(np.arange(count) < count // 2, 0.0, talker[:count] if talking else 0.0)
    base, lead = 700, longest_samples()

    def played(start: int, size: int) -> Samples:
        padded = np.concatenate([np.zeros(4 * lead, np.float32), reference, np.zeros(4 * lead, np.float32)])
        return padded[4 * lead + start - base :][:size]

    sound = (echo[:count] + talker + noise[:count]).astype(np.float32)
    noise_power = float(np.mean(np.square(noise))) * BLOCK_SAMPLES**2
    again = heard_again(Stretch(sound, 0, played, base, noise_power), Canceller(), 4000)

    assert again is not None
    left, said = again.samples, talker[: again.samples.size]
    settled = SAMPLE_RATE_HZ // 4
    error = (left - said)[settled:] - noise[settled : left.size]
    assert 10 * np.log10(np.sum(error**2) / np.sum(echo[settled : left.size] ** 2)) < (-8 if talking else -13)
    near_s = sum(each.near for each in again.blocks) * BLOCK_SAMPLES / SAMPLE_RATE_HZ
    assert near_s > 0.5 if talking else near_s < 0.1


def test_a_stretch_whose_sound_was_never_given_out_is_not_heard_again(speech: Samples) -> None:
    """The microphone hears somebody else's loudspeaker: nothing says what of it is an echo."""
    reference, _, talker, _ = parts(speech, 0.0, 6)
    stretch = Stretch(
        talker[: 2 * SAMPLE_RATE_HZ], 0, lambda start, size: np.resize(reference, size), 0, 1e-3
    )
    assert heard_again(stretch, Canceller(), 0) is None


@pytest.mark.parametrize("delay_s", [0.0, 0.1, 0.6, 1.4])
def test_the_delay_of_the_drivers_is_found(speech: Samples, delay_s: float) -> None:
    reference, _, talker, _ = parts(speech, 0.0, 3)
    longest, count = longest_samples(), round(0.8 * SAMPLE_RATE_HZ)
    given = reference[: longest + count]
    way = impulse_response(np.random.default_rng(4), latency_s=delay_s, room_s=0.06)
    heard = np.convolve(given, way)[longest : longest + count].astype(np.float32)
    heard *= np.float32(rms(talker) / rms(heard))

    found = delay_samples(given, heard + np.float32(0.5) * talker[:count])

    # A reflection may be the strongest.
    assert found == pytest.approx(delay_s * SAMPLE_RATE_HZ, abs=0.01 * SAMPLE_RATE_HZ)
    assert delay_samples(given, talker[:count]) is None


def test_what_repeats_the_programs_words_is_told_from_an_answer() -> None:
    spoken = "did you say: streak ninety neutral, plus one point five?"
    assert repeats("streak ninety neutral plus one", spoken)
    assert repeats("say streak nine neutral", spoken)
    assert not repeats("yes", spoken)
    assert not repeats("left eye", spoken)
    assert not repeats("", spoken)
