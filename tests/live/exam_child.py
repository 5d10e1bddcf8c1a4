"""Run by test_capture_exam.py in the private server's environment: a live exam from its only microphone.

    python -m tests.live.exam_child READ_BACK

Prints the exam as JSON when it is ended by SIGTERM; tells on standard error of the microphone, "spoken" each time that
it has spoken, and of each line what became of it: "accepted: right eye".
"""

import sys
from typing import Any

from tests.english import load
from tests.live import run
from voicelog.exam.events import Event, Line
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.levels import Samples
from voicelog.live import exam as live
from voicelog.session import Session
from voicelog.settings import Settings
from voicelog.speaking.mixer import Mixer


class TellingMixer(Mixer):
    """Tells when the last of what was spoken has been given to the loudspeaker."""

    def pull(self, count: int) -> Samples:
        spoke = self.is_speaking
        samples = super().pull(count)
        if spoke and not self.is_speaking:
            print("spoken", file=sys.stderr, flush=True)
        return samples


class TellingSession(Session):
    """Tells of each line."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.listen(self._tell)

    def _tell(self, event: Event, state: ExamState) -> None:
        if isinstance(event, Line):
            print(f"{event.outcome}: {event.text}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    setattr(run, "Session", TellingSession)  # noqa: B010 - as below
    setattr(live, "Mixer", TellingMixer)  # noqa: B010 - a name that the module does not hand on
    settings = Settings.model_validate({"read_back": sys.argv[1]})
    run.live_exam(settings, chosen_engine(settings, load()))
