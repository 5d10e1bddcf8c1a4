"""Errors of listening: one base, one line a message."""

from pathlib import Path

from voicelog.errors import VoicelogError


class HearingError(VoicelogError):
    """Something about sound or its recognition that the user can act on."""


class AudioError(HearingError):
    """A recording that cannot be used; the message names the file and the reason."""

    def __init__(self, path: Path | str, reason: str) -> None:
        super().__init__(f"{path}: {reason}")
        self.path = Path(path)
        self.reason = reason


class DeviceError(HearingError):
    """A microphone or loudspeaker that cannot be opened now; it may come back."""
