"""One exam under way: what is heard and typed goes in, events and states come out."""

from voicelog.record.storing import Memory, NotKeptError, Store
from voicelog.session.session import Session

__all__ = ["Memory", "NotKeptError", "Session", "Store"]
