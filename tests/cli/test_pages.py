"""``cvlib pages``: written once, then only where something changed, and never half."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cli.run_cvlib import ROOT, run
from cvlib.api.pages import PagesWritten, write_pages
from cvlib.files.site import KEPT
from cvlib.files.store import Store
from cvlib.render.html import tag

LARK = "decoder/ferrow/lark-8.html"
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A folder of definitions: two decoders, and the standards that they follow."""
    folder = tmp_path / "definitions" / "ferrow"
    shutil.copytree(ROOT / "definitions" / "standard", folder.parent / "standard")
    folder.mkdir(parents=True)
    for name in ("blocks", "wren-2", "lark-8"):
        shutil.copy(ROOT / "definitions" / "ferrow" / f"{name}.toml", folder)
    return folder.parent


def pages(out: Path, store: Path, *locos: Path) -> PagesWritten:
    """The catalogue of just this folder, written or brought up to date without a fault."""
    done = write_pages(Store(store), out, locos)
    assert done.faults == ()
    return done


def states(folder: Path) -> dict[str, tuple[int, bytes]]:
    """When each file was written last, and what is in it; the database apart."""
    return {
        path.relative_to(folder).as_posix(): (path.stat().st_mtime_ns, path.read_bytes())
        for path in folder.rglob("*")
        if path.is_file() and path.name != KEPT
    }


def test_what_did_not_change_is_not_written(tmp_path: Path, store: Path) -> None:
    """A second run writes nothing; one edit writes the pages that it changes; what is gone goes."""
    out = tmp_path / "out"
    pages(out, store)
    first = states(out)
    assert {"index.html", LARK, "cv/144.html", "search/words.js"} <= first.keys()
    assert pages(out, store).written == ()
    assert states(out) == first

    lark = store / "ferrow" / "lark-8.toml"
    text = lark.read_text(encoding="utf-8")
    assert text.count("\ncv = 139\n") or text.count("cv = 139")
    lark.write_text(text.replace("cv = 139", "cv = 999"), encoding="utf-8")
    pages(out, store)
    second = states(out)
    changed = {name for name in second if second[name] != first.get(name)}
    assert {LARK, "cv/139.html", "cv/999.html", "search/13.js", "search/99.js"} <= changed
    assert "cv/29.html" not in changed
    assert not {name for name in changed if name.startswith("decoder/")} - {LARK}

    shutil.copy(lark, store / "ferrow" / "owl.toml")
    owl = (store / "ferrow" / "owl.toml").read_text(encoding="utf-8")
    owl = owl.replace('"ferrow/lark-8"', '"ferrow/owl"').replace('"Lark 8"', '"Owl"')
    (store / "ferrow" / "owl.toml").write_text(owl, encoding="utf-8")
    pages(out, store)
    assert "Ferrow Owl" in (out / "cv" / "144.html").read_text(encoding="utf-8")
    (store / "ferrow" / "owl.toml").unlink()
    pages(out, store)
    assert {name: held for name, (_, held) in states(out).items()} == {
        name: held for name, (_, held) in second.items()
    }


def test_a_page_that_somebody_changed_is_put_right(tmp_path: Path, store: Path) -> None:
    """So is one that is gone, and a database that cannot be read costs only time."""
    out = tmp_path / "out"
    pages(out, store)
    before = {name: held for name, (_, held) in states(out).items()}
    (out / LARK).write_text("nothing", encoding="utf-8")
    (out / "decoder/ferrow/wren-2.html").unlink()
    pages(out, store)
    assert {name: held for name, (_, held) in states(out).items()} == before
    (out / KEPT).write_bytes(b"no database" * 1000)
    (out / "cv" / "29.html").unlink()
    pages(out, store)
    assert {name: held for name, (_, held) in states(out).items()} == before


def test_locos_are_shown_only_where_they_are_named(tmp_path: Path, store: Path) -> None:
    """The pages of a fleet go when the catalogue is written without it."""
    out = tmp_path / "out"
    fleet = ROOT / "definitions" / "fleet" / "saltmarsh" / "05-avocet.toml"
    pages(out, store, fleet)
    page = (out / "locos" / "05-avocet.html").read_text(encoding="utf-8")
    assert "Write sheet" in page
    assert "What all values do" in page
    assert "locos/index.html" in (out / "index.html").read_text(encoding="utf-8")
    pages(out, store)
    assert not list((out / "locos").glob("*.html"))
    assert "Avocet" not in "".join(
        path.read_text(encoding="utf-8") for path in out.rglob("*.html") if path.parent == out
    )


def test_a_folder_of_other_things_is_left_alone(tmp_path: Path, capsys: Capture) -> None:
    """Exit code 2 and one line; nothing in it changes."""
    (tmp_path / "thesis.html").write_text("mine", encoding="utf-8")
    assert run(["pages", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.html"]
    assert run(["pages", str(tmp_path / "thesis.html")]) == 2


def test_a_profile_that_cannot_be_read_is_told(
    tmp_path: Path, store: Path, capsys: Capture
) -> None:
    """The other pages are written."""
    (store / "ferrow" / "broken.toml").write_text("[decoder\n", encoding="utf-8")
    assert run(["pages", str(tmp_path / "out"), "--definitions", str(store)]) == 2
    assert "broken.toml" in capsys.readouterr().err
    assert (tmp_path / "out" / LARK).is_file()


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_an_interruption_leaves_no_half_file(tmp_path: Path, store: Path) -> None:
    """Exit code 130; every page is whole, and the next run makes the rest."""
    text = (store / "ferrow" / "wren-2.toml").read_text(encoding="utf-8")
    for number in range(40):
        named = text.replace('"ferrow/wren-2"', f'"ferrow/wren-{number + 10}"')
        path = store / "ferrow" / f"wren-{number + 10}.toml"
        path.write_text(named.replace('"Wren 2"', f'"Wren {number + 10}"'), encoding="utf-8")
    out = tmp_path / "out"
    words = [sys.executable, "-m", "cvlib", "pages", str(out), "--definitions", str(store)]
    work = subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE, env=dict(os.environ))
    end = time.monotonic() + 120
    while len(list(out.rglob("*.html"))) < 5 and time.monotonic() < end:
        time.sleep(0.02)
    work.send_signal(signal.SIGINT)
    _, said = work.communicate(timeout=120)
    assert work.returncode == 130
    assert b"Traceback" not in said
    found = list(out.rglob("*.html"))
    assert len(found) >= 5
    assert all(path.read_text(encoding="utf-8").endswith("</html>\n") for path in found)
    assert run(["pages", str(out), "--definitions", str(store)]) == 0
    assert len(list((out / "decoder" / "ferrow").glob("wren-*.html"))) == 41
    assert [path.name for path in out.iterdir() if path.name.startswith(".")] == [KEPT]


def test_text_is_put_in_as_text() -> None:
    """An element takes text, elements and nothing; attributes of nothing are left out."""
    made = tag("p", "a", [tag("b", "c"), None, "d"], class_="x", id=None)
    assert (made.text, made[0].tail, dict(made.attrib)) == ("a", "d", {"class": "x"})
