"""Errors of practice."""

from voicelog.errors import VoicelogError


class PracticeError(VoicelogError):
    """An exercise that cannot be set; says which value and what is allowed."""
