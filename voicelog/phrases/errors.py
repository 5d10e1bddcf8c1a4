"""Errors of the grammar reader and of the meanings built from it."""

from pathlib import Path

from voicelog.errors import VoicelogError


class GrammarError(VoicelogError):
    """A grammar file cannot be used; says file, line and reason."""

    def __init__(self, path: Path | str, line: int, reason: str) -> None:
        super().__init__(f"{path}:{line}: {reason}")
        self.path = path
        self.line = line
        self.reason = reason


class UnknownRuleError(VoicelogError):
    """A rule was asked for by a name that the grammar does not have."""
