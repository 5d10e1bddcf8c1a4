"""`voicelog models`: the speech models on this machine; to add one, and to remove it."""

import argparse
import json
from pathlib import Path

from voicelog.hearing.models.adding import add_model, remove_model
from voicelog.hearing.models.overview import overview
from voicelog.hearing.models.places import models_folder
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """One verb is needed."""
    verbs = parser.add_subparsers(required=True, metavar="COMMAND")

    listed = verbs.add_parser("list", help="each with its licence, source and SHA-256")
    listed.add_argument("--json", action="store_true", help="print JSON")
    listed.set_defaults(run=list_models)

    added = verbs.add_parser("add", help="copy a Vosk model into the models folder, after checks")
    added.add_argument("source", type=Path, metavar="FOLDER_OR_ZIP", help="the model as it was published")
    added.set_defaults(run=add)

    removed = verbs.add_parser("remove", help="delete a model that was added")
    removed.add_argument("name", metavar="NAME", help="as voicelog models list gives it")
    removed.set_defaults(run=remove)


def list_models(options: argparse.Namespace) -> int:
    """Print every model that is there, and whether the settings use it."""
    rows = overview(load_settings())
    if options.json:
        print(json.dumps(rows, indent=2, ensure_ascii=False))
        return 0
    labels = {"licence": "licence", "source": "source", "SHA-256": "sha256", "folder": "folder"}
    for row in rows:
        used_by = f"{row['engine']}, {'in use' if row['in_use'] else 'not in use'}"
        print(f"{row['name']} ({used_by}): {row['state']}")
        for label, key in labels.items():
            print(f"    {label:8} {row[key]}")
    print(f"Added models lie in {models_folder()}")
    return 0


def add(options: argparse.Namespace) -> int:
    """Add a model and say what it is. Raises ModelError."""
    found = add_model(options.source)
    what = found.known.source if found.known else "not in the catalogue: its licence is for you to know"
    print(
        f'added {found.name} ({what}); to use it, set engine = "vosk" and vosk_model = {json.dumps(found.name)}'
    )
    return 0


def remove(options: argparse.Namespace) -> int:
    """Remove a model that was added. Raises ModelError."""
    remove_model(options.name)
    print(f"removed {options.name}")
    return 0
