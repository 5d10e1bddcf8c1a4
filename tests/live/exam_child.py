"""Run by test_capture_exam.py in the private server's environment: a live exam from its only microphone.

    python -m tests.live.exam_child READ_BACK

Prints the exam as JSON when it is ended by SIGTERM; tells on standard error of the microphone, and "spoken" each time
that it has spoken.
"""

import sys

from tests.english import load
from tests.live.run import live_exam
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.live import exam as live
from voicelog.settings import Settings
from voicelog.speaking.gate import PlaybackGate


class TellingGate(PlaybackGate):
    """Tells when speech has ended."""

    def ended(self, at_s: float) -> None:
        super().ended(at_s)
        print("spoken", file=sys.stderr, flush=True)


if __name__ == "__main__":
    setattr(live, "PlaybackGate", TellingGate)  # noqa: B010 - a name that the module does not hand on
    settings = Settings.model_validate({"read_back": sys.argv[1]})
    live_exam(settings, chosen_engine(settings, load()))
