"""Run by test_own_voice.py in a private server's environment: speaks, and listens to itself.

    python -m tests.speaking.speaking_child TEXT

Its loudspeaker is heard by its own microphone. It speaks TEXT, listens until a second later, and
writes one JSON line: for each utterance heard, whether it was judged to overlap own speech and whether
anything of it was left; and what the speaker told.
"""

import json
import sys
import threading
import time

from voicelog.hearing.endpointing import Endpointer
from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import Block
from voicelog.hearing.utterance import Utterance
from voicelog.speaking.gate import PlaybackGate
from voicelog.speaking.speaker import SoundSpeaker
from voicelog.speaking.tones import Signal
from voicelog.speaking.voice import SystemVoice


def speak_then_close(speaker: SoundSpeaker, source: MicrophoneSource, text: str) -> None:
    speaker.tone(Signal.ACCEPTED)
    speaker.say(text)
    while speaker.is_playing:
        time.sleep(0.05)
    time.sleep(1.2)
    source.close()


def judged(gate: PlaybackGate, one: Utterance) -> dict[str, object]:
    verdict = gate.judge(*one.span)
    return {
        "overlaps": verdict.overlaps,
        "left_over": one.after(verdict.trusted_from) is not None,
        "length_s": (one.end_sample - one.start_sample) / 16000,
        "rms_dbfs": one.rms_dbfs,
    }


def main(text: str) -> None:
    gate, problems = PlaybackGate(), list[str]()
    voice, source, ears = SystemVoice(), MicrophoneSource(), Endpointer()
    speaker = SoundSpeaker(
        voice,
        volume=0.8,
        on_speech_started=gate.started,
        on_speech_ended=gate.ended,
        on_problem=problems.append,
    )
    found: list[Utterance] = []
    speaking: threading.Thread | None = None
    block: Block
    for block in source.blocks():
        gate.heard(block)
        found += ears.feed(block)
        if speaking is None:  # sound is coming in
            speaking = threading.Thread(target=speak_then_close, args=(speaker, source, text))
            speaking.start()
    found += ears.flush()
    speaker.close()
    voice.close()
    print(json.dumps({"heard": [judged(gate, one) for one in found], "problems": problems}))


if __name__ == "__main__":
    main(sys.argv[1])
