"""What becomes of an utterance: the word that hearing, exam and everything after them share."""

from typing import Literal

Outcome = Literal["accepted", "asked", "ignored"]
"""Entered; not entered but asked about; other talk, of which nothing comes."""
