"""What makes a folder a Vosk model that can be given a grammar."""

from pathlib import Path

from voicelog.errors import MissingPartError

_ALWAYS = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    # Both halves of the graph: with one made in advance (HCLG.fst) the words could not be restricted.
    "graph/Gr.fst",
    "graph/HCLr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)
_WITH_SPEAKER_ADAPTATION = (
    "ivector/final.dubm",
    "ivector/final.ie",
    "ivector/final.mat",
    "ivector/global_cmvn.stats",
    "ivector/online_cmvn.conf",
    "ivector/splice.conf",
)


def missing_parts(folder: Path) -> list[str]:
    """The files that a folder lacks to be such a model."""
    needed = _ALWAYS + (_WITH_SPEAKER_ADAPTATION if (folder / "ivector").exists() else ())
    return [name for name in needed if not (folder / name).is_file() or not (folder / name).stat().st_size]


def check_vosk_folder(folder: Path) -> None:
    """Raises MissingPartError naming the folder and the parts that it lacks."""
    if not folder.is_dir():
        raise MissingPartError(f"{folder} is no folder, so no Vosk model")
    missing = missing_parts(folder)
    if "graph/HCLr.fst" in missing and (folder / "graph" / "HCLG.fst").is_file():
        raise MissingPartError(
            f"{folder} is a Vosk model with a fixed graph (HCLG.fst), which takes no grammar: take the small model"
        )
    if missing:
        raise MissingPartError(f"{folder} is no complete Vosk model: it lacks {', '.join(missing)}")
