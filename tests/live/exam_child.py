"""Run by test_capture_exam.py in the private server's environment: a live exam from its only microphone.

    python -m tests.live.exam_child READ_BACK

Prints the exam as JSON when it is ended by SIGTERM; tells of the microphone on standard error.
"""

import sys

from voicelog import commands
from voicelog.live.commands import exam
from voicelog.settings import Settings

if __name__ == "__main__":
    exam(Settings(), commands.engine(), read_back=sys.argv[1], as_json=True)  # type: ignore[arg-type]
