"""Every model that is there, with licence, source, SHA-256, and whether settings use it."""

from contextlib import suppress
from pathlib import Path
from typing import Any

from voicelog.errors import MissingPartError
from voicelog.hearing.models.catalogue import as_catalogued, model_sha256
from voicelog.hearing.models.places import Found, find_model, models
from voicelog.hearing.models.vosk_folder import missing_parts
from voicelog.settings import Settings


def overview(settings: Settings) -> list[dict[str, Any]]:
    """One object a model, ready for JSON."""
    used = _in_use(settings)
    return [_described(each, used) for each in models()]


def _described(found: Found, used: frozenset[Path]) -> dict[str, Any]:
    known = found.known
    return {
        "name": found.name,
        "engine": found.engine,
        "language": known.language if known else None,
        "licence": known.licence if known else "not known",
        "source": known.source if known else "added from a folder or zip file",
        "sha256": model_sha256(found.folder),
        "state": _state(found),
        "in_use": found.folder.resolve() in used,
        "folder": str(found.folder),
    }


def _state(found: Found) -> str:
    if found.engine == "vosk" and (missing := missing_parts(found.folder)):
        return f"lacks {', '.join(missing)}"
    if found.known is None:
        return "complete"
    return "as catalogued" if as_catalogued(found.folder, found.known) else "differs from the catalogue"


def _in_use(settings: Settings) -> frozenset[Path]:
    """The folders of the models that the settings ask for: the first listener's, and the second's."""
    used = {each.folder for each in models() if each.engine == settings.engine and each.engine != "vosk"}
    if settings.engine == "vosk":
        # The listing shows what there is; listening says what is missing.
        with suppress(MissingPartError):
            used.add(find_model("vosk", settings.vosk_model))
    elif settings.policy != "single":
        second = "moonshine" if settings.engine == "letters" else "sphinx"
        used |= {each.folder for each in models() if each.engine == second}
    return frozenset(folder.resolve() for folder in used)
