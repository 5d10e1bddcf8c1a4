"""voicelog: a hands-free, offline voice logger for streak retinoscopy with a trial frame."""

__version__ = "0.1.0"
