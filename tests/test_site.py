"""The documents as a site: it builds, every link and anchor leads somewhere, and nothing is fetched from elsewhere."""

import re
import subprocess
from pathlib import Path

import pytest

from tests import site
from tests.test_docs import ROOT


def test_the_site_is_built_and_fetches_nothing(tmp_path: Path) -> None:
    site.build(tmp_path)
    pages = {path.relative_to(tmp_path).as_posix(): path.read_text() for path in tmp_path.rglob("*.html")}

    assert {f"docs/{path.stem}.html" for path in ROOT.glob("docs/*.md")} < set(pages)
    assert "Hands-free" in pages["index.html"] or "hands-free" in pages["index.html"]
    for name, text in pages.items():
        fetched = re.findall(
            r"<(?:script|link|img|iframe|source)\b[^>]*(?:src|href)=\"((?:https?:)?//[^\"]*)", text
        )
        assert fetched == [], name
    for path in tmp_path.rglob("*.css"):
        assert not re.search(r"url\([\"']?(?:https?:)?//|@import", path.read_text()), path.name


@pytest.mark.parametrize(
    "wrong", ["[away](docs/nowhere.md)", "[away](docs/page.md#nowhere)", "[away](#nowhere)"]
)
def test_a_link_that_leads_nowhere_stops_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: str
) -> None:
    copy = tmp_path / "copy"
    for pattern in (*site.DOCUMENTS, "mkdocs.yml"):
        for path in ROOT.glob(pattern):
            there = copy / path.relative_to(ROOT)
            there.parent.mkdir(parents=True, exist_ok=True)
            there.write_bytes(path.read_bytes())
    readme = copy / "README.md"
    readme.write_text(f"{readme.read_text(encoding='utf-8')}\n{wrong}\n", encoding="utf-8")
    monkeypatch.setattr(site, "ROOT", copy)

    with pytest.raises(subprocess.CalledProcessError) as raised:
        site.build(tmp_path / "site")
    assert "nowhere" in raised.value.stderr
