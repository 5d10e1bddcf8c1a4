"""The one base of every error this program raises on purpose.

The command line and the page catch only this base and print its one line.
(`voicelog.optics` stands alone and has a base of its own, `OpticsError`.)
"""


class VoicelogError(Exception):
    """Something the user can act on; the message is one line: what, value, allowed, what to do."""


class MissingPartError(VoicelogError):
    """A part that the machine lacks (a microphone, a model, a system library); says what to install."""
