"""Errors of measuring, one line each."""

from voicelog.errors import VoicelogError


class MeasuringError(VoicelogError):
    """A manifest, a file of limits or a wish that cannot be used; says where and why."""
