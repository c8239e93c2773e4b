"""The printed sheet and the review as pages of their own, without a script."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import html5lib
import pytest
from lxml import html

from cli.run_cvlib import run
from house.tree import ROOT
from render.site.conftest import Open
from review.repositories import commit, repository

Capture = pytest.CaptureFixture[str]
AVOCET = ROOT / "definitions" / "fleet" / "saltmarsh" / "05-avocet.toml"


def strict(text: str) -> Any:
    """The page as a tree; html5lib, the reference parser, finds no fault in it."""
    html5lib.HTMLParser(strict=True).parse(text)
    return html.fromstring(text)


@pytest.fixture
def sheet(capsys: Capture) -> str:
    """The sheet of a loco with values of another firmware."""
    run(["carry", str(AVOCET), "--to", "4.3.9", "--format", "html"])
    return capsys.readouterr().out


@pytest.fixture
def review(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> str:
    """The review of one setting that moved, with a loco that it touches."""
    here = repository(tmp_path / "clone")
    commit(here, ROOT / "definitions", "main")
    lark = here / "definitions" / "ferrow" / "lark-8.toml"
    text = lark.read_text(encoding="utf-8")
    assert text.count("cv = 139") == 1
    lark.write_text(text.replace("cv = 139", "cv = 239"), encoding="utf-8")
    monkeypatch.chdir(here)
    run(["review", "HEAD", "--loco", str(AVOCET), "--format", "html"])
    return capsys.readouterr().out


def test_a_sheet_has_cautions_and_factory_values_where_they_belong(sheet: str) -> None:
    """A caution stands right before the first line it is about, once; factory values come last."""
    tree = strict(sheet)
    rows = tree.xpath("//tbody[@class='ticked']/tr")
    kinds = [row.get("class") for row in rows]
    assert kinds.count("block") == 1
    warned = [row.text_content() for row in rows if row.get("class") == "warned"]
    assert len(warned) == len(set(warned)) > 3
    first = next(at for at, row in enumerate(rows) if "Stopping can fail" in row.text_content())
    about = next(row for row in rows[first:] if row.get("class") not in ("warned", "block"))
    assert "run on without power" in about.text_content() or "brak" in about.text_content().lower()
    after = [row.text_content() for row in rows[kinds.index("block") + 1 :]]
    assert "(factory value)" in after[0]
    before = [row.text_content() for row in rows[: kinds.index("block")]]
    assert not any("(factory value)" in text for text in before)
    (label,) = tree.xpath("//thead//th[@class='label']/text()")
    assert label == "No. 5 Avocet, Ferrow Lark 8 4.3.9"


def test_a_review_draws_both_states_and_names_page_and_loco(review: str) -> None:
    """The track before, the track after, the source with its page, and whom it touches."""
    tree = strict(review)
    lanes = tree.xpath("//*[local-name()='text'][@class='lane']/text()")
    assert lanes[:2] == ["before", "after"]
    labels = tree.xpath("//*[local-name()='text'][contains(@class, 'label')]/text()")
    assert {"139", "239"} <= set(labels)
    (row,) = tree.xpath("//tr[th[contains(., 'Lowest speed')]][td[contains(., '2.0 to 2.4.118')]]")
    assert "Lark 8 handbook, issue 1, page" in row.text_content()
    assert "Avocet" in tree.text_content()


@pytest.mark.parametrize("width", [360, 1280])
def test_neither_is_wider_than_the_screen(
    width: int, sheet: str, review: str, tmp_path: Path, opened: Open
) -> None:
    """Tables and pictures scroll in frames of their own."""
    for name, text in (("sheet.html", sheet), ("review.html", review)):
        (tmp_path / name).write_text(text, encoding="utf-8")
        page = opened((tmp_path / name).as_uri(), width)
        sizes = page.execute_script("return [document.documentElement.scrollWidth, innerWidth]")
        assert sizes[0] <= sizes[1], name
        assert page.get_log("browser") == []
