"""The catalogue of the shipped store with the demo fleet, made once, and a browser to open it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from cvlib.api import open_store
from cvlib.api.pages import write_pages
from house.tree import ROOT

PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "chrome")
SWITCHES = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    "--hide-scrollbars",
)
NEEDED = "CVLIB_BROWSER"
"""With the value "needed" a missing browser is a failure and no reason to skip."""

Open = Callable[..., Any]


@pytest.fixture(scope="session")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with every page there is."""
    folder = tmp_path_factory.mktemp("catalogue") / "out"
    done = write_pages(open_store(), folder, [ROOT / "definitions" / "fleet" / "saltmarsh"])
    assert done.faults == ()
    return folder


@pytest.fixture(scope="session")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    """A function that opens a page at a width, light or dark, in one and the same Chromium."""
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    driver = shutil.which("chromedriver")
    if program is None or driver is None:
        said = "no Chromium with its driver: apt install chromium chromium-driver"
        if os.environ.get(NEEDED) == "needed":
            pytest.fail(said)
        pytest.skip(said)
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = program
    for switch in (*SWITCHES, f"--user-data-dir={tmp_path_factory.mktemp('browser')}"):
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    browser = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))

    def opening(address: str, width: int = 1280, *, dark: bool = False) -> Any:
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
        browser.get("about:blank")
        browser.get_log("browser")
        browser.get_log("performance")
        browser.get(address)
        return browser

    yield opening
    browser.quit()
