"""Errors of speaking."""

from voicelog.errors import VoicelogError


class SpeakingError(VoicelogError):
    """Something could not be played or spoken; the exam goes on without it."""
