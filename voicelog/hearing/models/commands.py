"""The commands `voicelog models list`, `add` and `remove`."""

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

from voicelog.errors import MissingPartError
from voicelog.hearing.models.adding import add_model, remove_model
from voicelog.hearing.models.catalogue import as_catalogued, model_sha256
from voicelog.hearing.models.places import Found, find_model, models, models_folder
from voicelog.hearing.models.vosk_folder import missing_parts
from voicelog.settings import Settings


def list_models(settings: Settings, *, as_json: bool) -> None:
    """Print every model that is there, with licence, source, SHA-256, and whether the settings use it."""
    used = _in_use(settings)
    rows = [_described(each, used) for each in models()]
    if as_json:
        print(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    for row in rows:
        used_by = f"{row['engine']}, {'in use' if row['in_use'] else 'not in use'}"
        print(f"{row['name']} ({used_by}): {row['state']}")
        for label, key in (
            ("licence", "licence"),
            ("source", "source"),
            ("SHA-256", "sha256"),
            ("folder", "folder"),
        ):
            print(f"    {label:8} {row[key]}")
    print(f"Added models lie in {models_folder()}")


def add(source: Path) -> None:
    """Add a model and say what it is. Raises ModelError."""
    found = add_model(source)
    what = found.known.source if found.known else "not in the catalogue: its licence is for you to know"
    print(
        f'added {found.name} ({what}); to use it, set engine = "vosk" and vosk_model = {json.dumps(found.name)}'
    )


def remove(name: str) -> None:
    """Remove a model that was added. Raises ModelError."""
    remove_model(name)
    print(f"removed {name}")


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
        used |= {each.folder for each in models() if each.engine == "sphinx"}
    return frozenset(folder.resolve() for folder in used)
