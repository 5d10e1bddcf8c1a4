"""Where models lie: in the user's models folder, inside an installed package, or wherever a path says."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import platformdirs

from voicelog.errors import MissingPartError
from voicelog.hearing.models.catalogue import Known, catalogue, catalogue_path
from voicelog.hearing.models.vosk_folder import missing_parts


@dataclass(frozen=True, slots=True)
class Found:
    """A model that is there: its name, the engine it is for, its folder, and its entry in the catalogue, if any."""

    name: str
    engine: str
    folder: Path
    known: Known | None
    added: bool
    """Whether it lies in the user's models folder (and can be removed again)."""


def models_folder() -> Path:
    """The user's models: a folder beside the record (`VOICELOG_DATA`, or the platform's place for a user's data)."""
    named = os.environ.get("VOICELOG_DATA")
    return (Path(named) if named else Path(platformdirs.user_data_dir("voicelog"))) / "models"


def packaged_folder(known: Known) -> Path | None:
    """The folder of a model that a package brings along; None where the package is not installed.

    The package is only looked up, never imported. Models of our own lie beside the catalogue.
    """
    if known.package == "voicelog":
        folder = catalogue_path().parent / known.folder
        return folder if all((folder / name).is_file() for name in known.files) else None
    spec = find_spec(known.package)
    if spec is None or spec.origin is None:
        return None
    folder = Path(spec.origin).parent / known.folder
    return folder if all((folder / name).is_file() for name in known.files) else None


def models() -> Iterator[Found]:
    """Every model that is there, those that were added first."""
    known = {each.name: each for each in catalogue()}
    folder = models_folder()
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.is_dir() and not path.name.startswith("."):
            yield Found(path.name, "vosk", path, known.get(path.name), added=True)
    for each in known.values():
        packaged = packaged_folder(each)
        if packaged is not None:
            yield Found(each.name, each.engine, packaged, each, added=False)


def find_model(engine: str, named: str | None) -> Path:
    """The folder of the model that is named by path or name; with None, of the only one that was added.

    Raises MissingPartError when there is none, or more than one to choose from. The folder is not checked here.
    """
    if named is not None and Path(named).expanduser().is_dir():
        return Path(named).expanduser()
    fitting = [each for each in models() if each.engine == engine]
    if named is not None:
        for each in fitting:
            if each.name == named:
                return each.folder
        raise MissingPartError(
            f"there is no {engine} model {named!r}; add one with: voicelog models add FOLDER_OR_ZIP"
        )
    added = [each for each in fitting if each.added and not missing_parts(each.folder)]
    if len(added) == 1:
        return added[0].folder
    if added:
        names = ", ".join(each.name for each in added)
        raise MissingPartError(
            f"there are several {engine} models ({names}); name one in the setting {engine}_model"
        )
    raise MissingPartError(
        f"there is no {engine} model. Add one with: voicelog models add FOLDER_OR_ZIP; "
        f"or name its folder in the setting {engine}_model"
    )
