"""The pages opened from a disk in a real Chromium: search, my firmware, tables, widths, print."""

from __future__ import annotations

import base64
import json
import os
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cvlib.api import open_store, resolver_of
from cvlib.render.site.facts import DecoderFacts
from make import CASES
from render.site.conftest import Open
from render.site.test_pages import KINDS

AXE = os.environ.get("CVLIB_AXE", "")
"""Where axe.min.js of the npm package axe-core lies; it is not kept in this repository."""
SEARCHES = tomllib.loads((CASES / "search.toml").read_text(encoding="utf-8"))["case"]
LARK = "decoder/ferrow/lark-8.html"


def until(holds: Callable[[], Any]) -> Any:
    """What a function gives as soon as that is something; nothing after ten seconds."""
    end = time.monotonic() + 10
    while not (found := holds()) and time.monotonic() < end:
        time.sleep(0.05)
    return found


def said(page: Any, id: str) -> str:
    """The text of one element."""
    return str(page.find_element("id", id).text)


def checked(page: Any, folder: Path) -> None:
    """No error on the console, and no request left the folder."""
    assert page.get_log("browser") == []
    for entry in page.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            address = message["params"]["request"]["url"]
            assert address.startswith((folder.as_uri(), "about:", "data:")), address


@pytest.mark.parametrize("case", SEARCHES, ids=lambda case: str(case["typed"]))
def test_a_search(case: dict[str, Any], catalogue: Path, opened: Open) -> None:
    """What is typed finds what it must, in its order."""
    page = opened((catalogue / "index.html").as_uri())
    page.find_element("id", "query").send_keys(case["typed"])
    assert until(lambda: said(page, "found"))
    time.sleep(0.2)
    rows = [one.text for one in page.find_elements("css selector", "#results li")]
    if case.get("nothing"):
        assert rows == []
        assert said(page, "found") == "Nothing found."
    else:
        assert rows[0].startswith(case.get("first", ""))
        assert any(case.get("has", "") in row for row in rows)
        assert not any(case.get("lacks", "\0") in row for row in rows)
    checked(page, catalogue)


def test_my_firmware_by_keyboard(catalogue: Path, opened: Open) -> None:
    """A firmware that nobody listed is placed; held against another, only what differs is left."""
    page = opened((catalogue / LARK).as_uri())
    page.find_element("id", "at").send_keys("2.4.999")
    assert said(page, "firmware-said") == "What is not certain at 2.4.999."
    page.find_element("id", "against").send_keys("4.0.5")
    assert "settings differ between 2.4.999 and 4.0.5" in said(page, "firmware-said")
    shown = {
        one.get_attribute("id")
        for one in page.find_elements("css selector", "tbody.setting")
        if one.is_displayed()
    }
    assert "s-braking.stopping-distance" in shown
    assert "s-momentum.acceleration" not in shown
    checked(page, catalogue)


@pytest.mark.parametrize("id", ["ferrow/lark-8", "ilex-works/glim-6", "ferrow/ember"])
def test_the_script_finds_the_step_that_the_program_finds(
    id: str, catalogue: Path, opened: Open
) -> None:
    """Every release lies in the same step of firmware for both."""
    facts = DecoderFacts(resolver_of(open_store(), id))
    page = opened((catalogue / f"decoder/{id}.html").as_uri())
    for version in facts.versions:
        page.execute_script("location.hash = arguments[0]", f"#at={version}")
        assert until(lambda v=version: said(page, "firmware-said").endswith(f"{v}."))
        link = page.find_element("css selector", "#firmware-said a").get_attribute("href")
        assert link.endswith(f"#step-{facts.step_at(version.key)}"), version


def test_a_phone_shows_seven_stretches_at_most(catalogue: Path, opened: Open) -> None:
    """The chosen one among them, and every picture is as wide as the screen."""
    page = opened((catalogue / LARK).as_uri() + "#at=2.9.201", 360)
    shown = page.execute_script(
        "return [...document.querySelectorAll('.track svg .col')].filter("
        "(one) => one.parentNode === document.querySelector('.track svg:has(.col)') && "
        "one.style.display !== 'none').map((one) => one.dataset.n)"
    )
    assert 1 < len(shown) <= 7
    assert "2" in shown


def test_the_overview_of_a_fleet_sorts_and_filters_by_keyboard(
    catalogue: Path, opened: Open
) -> None:
    """A heading is a button, and says how the table is sorted."""
    page = opened((catalogue / "locos/index.html").as_uri())
    page.find_element("id", "filter").send_keys("heron")
    rows = [one for one in page.find_elements("css selector", "tbody tr") if one.is_displayed()]
    assert {row.find_elements("tag name", "td")[0].text for row in rows} == {"Ilex Works Heron"}
    page.find_element("id", "filter").send_keys("\ue003" * len("heron"))
    head = page.find_elements("css selector", "thead th")[3]
    for order in ("ascending", "descending"):
        head.find_element("tag name", "button").send_keys("\n")
        assert head.get_attribute("aria-sort") == order
    first = page.find_element("css selector", "tbody tr").text
    assert "?" in first or "25" in first
    checked(page, catalogue)


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("name", KINDS)
def test_nothing_is_wider_than_the_screen(
    name: str, width: int, catalogue: Path, opened: Open
) -> None:
    """A wide table scrolls in its own frame; the page does not."""
    page = opened((catalogue / name).as_uri(), width)
    sizes = page.execute_script("return [document.documentElement.scrollWidth, innerWidth]")
    assert sizes[0] <= sizes[1]
    checked(page, catalogue)


@pytest.mark.parametrize("name", ["locos/index.html", "locos/04-marsh-harrier.html"])
def test_a_phone_shows_each_column_of_a_fleet_and_of_a_sheet(
    name: str, catalogue: Path, opened: Open
) -> None:
    """No cell lies beyond the right edge, and none has words that stick out of it."""
    page = opened((catalogue / name).as_uri(), 360)
    cut = page.execute_script(
        "return [...document.querySelectorAll('.fleet :is(th, td), .sheet :is(th, td)')].filter("
        "(one) => one.getBoundingClientRect().right > innerWidth || "
        "one.scrollWidth > one.clientWidth + 1).map((one) => one.outerHTML)"
    )
    assert cut == []


def test_no_ring_covers_the_words_of_an_axis(catalogue: Path, opened: Open) -> None:
    """A bench test of a release that nobody read lies above the words that say so."""
    page = opened((catalogue / LARK).as_uri())
    covered = page.execute_script(
        "const axis = document.querySelector('[aria-label=\"Releases and documents\"]');"
        "const box = (one) => one.getBoundingClientRect();"
        "const over = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && "
        "b.top < a.bottom;"
        "return [...axis.querySelectorAll('circle')].filter((ring) => "
        "[...axis.querySelectorAll('.head')].some((word) => over(box(ring), box(word)))).length"
    )
    assert covered == 0


@pytest.mark.parametrize("name", KINDS)
def test_nothing_is_cut_in_print(name: str, catalogue: Path, opened: Open) -> None:
    """On a sheet of A4 no table and no picture is wider than what is printed."""
    page = opened((catalogue / name).as_uri(), 703)
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    wide = page.execute_script(
        "return [...document.querySelectorAll('table, svg, pre, p')].filter((one) => "
        "one.getBoundingClientRect().right > innerWidth + 1 && one.getClientRects().length && "
        "!one.closest('svg svg')).map((one) => one.outerHTML.slice(0, 200))"
    )
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert wide == []
    made = page.execute_cdp_cmd("Page.printToPDF", {})
    assert base64.b64decode(made["data"]).startswith(b"%PDF")


@pytest.mark.skipif(not AXE, reason="CVLIB_AXE does not name axe.min.js (npm install axe-core)")
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("name", KINDS)
def test_axe_finds_no_violation(name: str, dark: bool, catalogue: Path, opened: Open) -> None:
    """By the rules of axe-core, WCAG's contrast among them."""
    page = opened((catalogue / name).as_uri(), dark=dark)
    page.set_script_timeout(120)
    page.execute_script(Path(AXE).read_text(encoding="utf-8"))
    found = page.execute_async_script(
        "const done = arguments[0]; axe.run(document, {preload: false}).then((result) => "
        "done(result.violations.map((one) => [one.id, one.nodes[0].html])))"
    )
    assert found == []
