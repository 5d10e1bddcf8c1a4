"""Which eye the entries that follow belong to."""

from typing import ClassVar, Final, Literal

from voicelog.exam.entries.base import BaseEntry, ask
from voicelog.exam.entries.context import Context
from voicelog.phrases import meanings as say

RIGHT_WORD: Final = "right_word"
"""The doubt whether "right" named the eye, or told nothing."""


class EyeEntry(BaseEntry):
    """The eye that is in hand from here on."""

    said: ClassVar = say.Eye
    title: ClassVar = "eye"
    code: ClassVar = "eye"

    kind: Literal["eye"] = "eye"
    eye: say.OneEye

    def words(self) -> str:
        """ "right eye"."""
        return f"{self.eye} eye"

    @classmethod
    def from_meaning(cls, meaning: say.Eye, context: Context) -> "EyeEntry":
        """The eye named; "other" is the fellow of the one in hand. Raises NeedsAnswer."""
        if meaning.eye == "other" and context.now.eye is None:
            raise ask("eye", "no eye was named yet: right or left?", None)
        if meaning.side_only and context.now.eye == "left":
            context.confirm(RIGHT_WORD, "is that the right eye now? Left is in hand")
        return cls(eye=context.eye(meaning.eye))

    def corrected(self, meaning: say.Eye, context: Context) -> "EyeEntry":
        """The other eye was meant."""
        return EyeEntry.from_meaning(meaning, context)
