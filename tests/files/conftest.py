"""Tests of files keep their compiled profiles to themselves."""

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache folder of the test's own, and no other store of definitions."""
    folder = tmp_path / "cache"
    monkeypatch.setenv("CVLIB_CACHE", str(folder))
    monkeypatch.delenv("CVLIB_DEFINITIONS", raising=False)
    return folder
