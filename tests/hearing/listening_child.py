"""Run by test_capture.py in the private server's environment: listens, and tells what it hears.

    python -m tests.hearing.listening_child OUT.npz

Writes a line "state TEXT" for each state of the microphone to the standard output; ends when its standard
input does, and leaves all blocks in OUT.npz. PortAudio reads the environment once, when it is loaded, so
this cannot be done in the tests' own process.
"""

import sys
import threading

import numpy as np

from voicelog.hearing.microphone import MicrophoneSource
from voicelog.hearing.sources import Block


def main(out: str) -> None:
    source = MicrophoneSource(on_state=lambda state, text: print(state, text, flush=True), retry_s=0.2)

    def close_at_end_of_input() -> None:
        sys.stdin.read()
        source.close()

    threading.Thread(target=close_at_end_of_input, daemon=True).start()
    blocks: list[Block] = list(source.blocks())
    np.savez(
        out,
        samples=np.concatenate([block.samples for block in blocks]),
        sizes=[block.samples.size for block in blocks],
        starts=[block.start_sample for block in blocks],
        arrived_s=[block.arrived_s for block in blocks],
        gaps=[block.after_gap for block in blocks],
        lost_samples=source.lost_samples,
    )


if __name__ == "__main__":
    main(sys.argv[1])
