"""What the routes work on: access, settings, the exam under way, the record."""

import threading
from collections.abc import Callable
from typing import Annotated

from fastapi import Depends
from starlette.requests import HTTPConnection

from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.inputs import Meters
from voicelog.hearing.sources import Block
from voicelog.live.preflight import sentence_heard
from voicelog.page.access import Access
from voicelog.page.desk import Desk
from voicelog.page.level_check import LevelCheck
from voicelog.page.messages import Messages
from voicelog.page.tries import Tries
from voicelog.phrases.grammar import Grammar, load_named
from voicelog.record.journal import Journal
from voicelog.record.opening import open_record
from voicelog.settings import Settings, load_settings


class Page:
    """One start of the page. `desk` is None while no exam is under way; `journal` opens the record when first asked."""

    def __init__(
        self,
        access: Access,
        *,
        settings: Settings | None = None,
        open_journal: Callable[[Settings], Journal] | None = None,
        level_check: LevelCheck | None = None,
    ) -> None:
        self.access = access
        self.tries = Tries()
        self.settings = settings or load_settings()
        self.desk: Desk | None = None
        self._messages: Messages | None = None
        self.level_check = level_check or LevelCheck(hears=self._hears)
        self.meters = Meters()
        self.saved = threading.Event()
        """Set once the settings were saved from the page: a first start waits for it."""
        self._open_journal = open_journal or open_record
        self._journal: Journal | None = None
        self._lock = threading.Lock()

    def messages_of(self, desk: Desk) -> Messages:
        """What there is to say of an exam, shared by all who watch it."""
        messages = self._messages
        if messages is None or messages.desk is not desk:
            messages = self._messages = Messages(desk, self.settings.acuity_notation)
        return messages

    @property
    def grammar(self) -> Grammar:
        """What may be said, in the language of the settings. Raises GrammarError."""
        return load_named(self.settings.language)

    @property
    def journal(self) -> Journal:
        """The record. Raises RecordError, MissingPartError."""
        with self._lock:
            if self._journal is None:
                self._journal = self._open_journal(self.settings)
            return self._journal

    def _hears(self, blocks: list[Block]) -> tuple[str | None, bool]:
        """The test phrase by the listener of the settings. Raises MissingPartError."""
        return sentence_heard(blocks, chosen_engine(self.settings, self.grammar), self.grammar)

    def close(self) -> None:
        """Let go of the record and of the microphones."""
        self.level_check.stop()
        self.meters.stop()
        with self._lock:
            if self._journal is not None:
                self._journal.close()
                self._journal = None


def _page(connection: HTTPConnection) -> Page:
    page = connection.app.state.page
    if not isinstance(page, Page):
        raise TypeError("the application was made without its page")
    return page


ThisPage = Annotated[Page, Depends(_page)]
"""A route's parameter of this kind is the page."""
