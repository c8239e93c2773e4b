"""The definitions that are generated for measuring are as good as real ones."""

from pathlib import Path

import pytest

from cvlib import api
from cvlib.files.store import Store, open_store
from cvlib.model.profile import SourceKind
from tools.bench.made_definitions import FEWEST, MOST
from tools.bench.made_text import made_files

PROFILES = 10
"""Enough for two makers, one of whom shares blocks."""


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """The shipped definitions, and generated ones beside them."""
    for name, text in made_files(PROFILES):
        file = tmp_path / "made" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return open_store(tmp_path / "made")


def test_generated_definitions_are_the_same_for_the_same_seed() -> None:
    """Two runs with one seed give the same files, and another seed gives others."""
    assert list(made_files(PROFILES)) == list(made_files(PROFILES))
    assert list(made_files(PROFILES)) != list(made_files(PROFILES, seed=2))


def test_generated_definitions_are_without_faults(store: Store) -> None:
    """Lint finds nothing in generated profiles and in the blocks that they share."""
    found = [str(remark) for remark in api.lint(store, ()).remarks]
    assert [line for line in found if "/made-" in line] == []


def test_generated_definitions_have_what_real_ones_have(store: Store) -> None:
    """Settings move between handbooks, and there are blocks, bench tests, rules and questions."""
    profiles = [store.profile(id) for id in store.ids() if id.startswith("made-")]
    settings = [setting for profile in profiles for setting in profile.settings.values()]
    assert len(profiles) == PROFILES
    assert all(FEWEST <= len(profile.settings) <= MOST for profile in profiles)
    assert all(profile.maker.startswith("Made ") for profile in profiles)
    assert any(len(setting.places) > 1 for setting in settings)
    assert any("/blocks/" in setting.origin for setting in settings)
    kinds = {source.kind for profile in profiles for source in profile.sources.values()}
    assert kinds == {SourceKind.DOCUMENT, SourceKind.BENCH}
    assert all(profile.rules and profile.advisories for profile in profiles)
    assert any(profile.questions for profile in profiles)
