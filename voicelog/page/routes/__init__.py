"""The routes, one module and one APIRouter for each part of the page."""

from typing import Final

from fastapi import APIRouter

from voicelog.page.routes import entering, exam, feed, practice, record, review, settings, sounds, watching

ROUTERS: Final[tuple[APIRouter, ...]] = (
    exam.router,
    feed.router,
    settings.router,
    review.router,
    record.router,
    sounds.router,
    entering.router,
    practice.router,
    watching.router,
)
"""All of them. A further page adds its module here, and its link to `rendering.NAVIGATION`."""
