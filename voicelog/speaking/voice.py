"""The system voice as sound: text in, samples out."""

import json
import queue
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import IO

import soundfile

from voicelog.errors import MissingPartError
from voicelog.hearing.levels import Samples
from voicelog.speaking.errors import SpeakingError

_START_S = 15.0
_ANSWER_S = 10.0
_HINT = (
    "read-back needs pyttsx3 (pip install pyttsx3) and a system voice (Debian or Ubuntu: apt install espeak-ng;"
    " macOS and Windows have one)"
)


@dataclass(frozen=True, slots=True, eq=False)
class SpokenText:
    """Speech as sound."""

    samples: Samples
    """Shape (n,), float32, mono."""
    rate_hz: int


class SystemVoice:
    """Speaks through `pyttsx3`, in a helper process that is started at once and kept.

    `voice` is a part of a voice's name or id; empty for the system's default. Not for several threads at
    a time. Raises `MissingPartError`, with what to install, when there is no voice to speak with.
    """

    def __init__(self, words_per_minute: int = 190, voice: str = "") -> None:
        if find_spec("pyttsx3") is None:
            raise MissingPartError(_HINT)
        self._folder = tempfile.TemporaryDirectory(prefix="voicelog-")
        command = [sys.executable, "-m", "voicelog.speaking.synthesis", str(words_per_minute), voice]
        self._helper = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
        )
        self._answers: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._collect, args=(self._helper.stdout,), daemon=True).start()
        error = self._answer(_START_S)
        if error is not None:
            self.close()
            raise MissingPartError(f"{_HINT}; {error}")

    def speak(self, text: str) -> SpokenText:
        """`text` as sound. Raises `SpeakingError` when the voice fails or does not answer."""
        path = Path(self._folder.name) / "spoken.wav"
        path.unlink(missing_ok=True)
        failure = self._request({"text": text, "path": str(path)})
        if failure is not None:
            raise SpeakingError(f"the system voice failed: {failure}")
        try:
            sound, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError as error:
            raise SpeakingError("the system voice wrote no sound") from error
        return SpokenText(sound.mean(axis=1), rate_hz)

    def close(self) -> None:
        """End the helper process."""
        self._helper.kill()
        self._helper.wait()
        for pipe in (self._helper.stdin, self._helper.stdout):
            if pipe is not None:
                with suppress(OSError):  # what was being written to a helper that has ended
                    pipe.close()
        self._folder.cleanup()

    def _request(self, request: dict[str, str]) -> str | None:
        if self._helper.stdin is None or self._helper.stdin.closed:
            return "it has been closed"
        try:
            self._helper.stdin.write(json.dumps(request) + "\n")
            self._helper.stdin.flush()
        except OSError:
            return "it has stopped"
        return self._answer(_ANSWER_S)

    def _answer(self, timeout_s: float) -> str | None:
        """The helper's next answer: None if all went well, else what did not."""
        try:
            line = self._answers.get(timeout=timeout_s)
        except queue.Empty:
            self._helper.kill()  # a late answer would be taken for that of the next request
            return f"it did not answer within {timeout_s:g} s"
        if not line:
            return "it has stopped"
        error: str | None = json.loads(line)["error"]
        return error

    def _collect(self, answers: IO[str] | None) -> None:
        for line in answers or ():
            self._answers.put(line)
        self._answers.put("")
