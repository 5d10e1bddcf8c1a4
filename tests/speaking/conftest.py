"""The private sound server, for hearing what is played."""

from tests.hearing.conftest import private_pulse

__all__ = ["private_pulse"]
