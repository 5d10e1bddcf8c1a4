"""Run by test_own_voice.py in a private server's environment: speaks, and listens to itself.

    python -m tests.speaking.speaking_child TEXT...

Its loudspeaker is heard by its own microphone. It speaks each text, listens until a second later, and writes one JSON
line: what each utterance was taken for, how loud the microphone was, and what the speaker told.
"""

import json
import sys
import threading
import time

from voicelog.hearing.endpointing import Endpointer
from voicelog.hearing.levels import measure
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.utterance import Utterance
from voicelog.speaking.clocks import Clock
from voicelog.speaking.loudspeaker import RATE_HZ, Loudspeaker
from voicelog.speaking.mixer import Mixer
from voicelog.speaking.own_sound import OwnSound
from voicelog.speaking.speaker import SoundSpeaker
from voicelog.speaking.tones import Signal
from voicelog.speaking.voice import SystemVoice


def speak_then_close(speaker: SoundSpeaker, source: MicrophoneSource, texts: list[str]) -> None:
    for text in texts:
        speaker.tone(Signal.ACCEPTED)
        speaker.say(text)
        while speaker.is_playing:
            time.sleep(0.05)
        time.sleep(1.2)
    source.close()


def judged(own: OwnSound, one: Utterance) -> dict[str, object]:
    return {
        "kind": own.settle(one)[0].kind,
        "length_s": (one.end_sample - one.start_sample) / 16000,
        "rms_dbfs": one.rms_dbfs,
    }


def main(texts: list[str]) -> None:
    problems = list[str]()
    mixer, pulled = Mixer(RATE_HZ), Clock(RATE_HZ)
    voice, source, ears, own = SystemVoice(), MicrophoneSource(), Endpointer(), OwnSound(mixer, pulled)
    speaker = SoundSpeaker(mixer, voice, volume=0.8, on_problem=problems.append)
    loudspeaker = Loudspeaker(mixer, pulled, on_problem=problems.append)
    found, loudest = list[Utterance](), -120.0
    speaking: threading.Thread | None = None
    for block in source.blocks():
        loudest = max(loudest, measure(block.samples).rms_dbfs)
        for cleaned in own.cleaned(block):
            found += ears.feed(cleaned)
        if speaking is None:  # sound is coming in
            speaking = threading.Thread(target=speak_then_close, args=(speaker, source, texts))
            speaking.start()
    found += ears.flush()
    speaker.close()
    loudspeaker.close()
    voice.close()
    heard = [judged(own, one) for one in found]
    print(json.dumps({"heard": heard, "problems": problems, "loudest_dbfs": loudest}))


if __name__ == "__main__":
    main(sys.argv[1:])
