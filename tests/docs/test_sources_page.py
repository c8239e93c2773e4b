"""The table of answers beside the example of sources is what the program answers for it."""

from pathlib import Path

import pytest

from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import Store
from cvlib.model.versions import parse_version
from house.markdown import blocks, table_rows, text_of
from house.tree import ROOT

PAGE = ROOT / "docs" / "profile-format.md"
NAME = "ferrow/lamp-board"
ROWS = list(
    table_rows(text_of(PAGE).partition("What follows from it:")[2].partition("A sheet on")[0])
)


@pytest.fixture(scope="module")
def resolver(tmp_path_factory: pytest.TempPathFactory) -> Resolver:
    """The example of the page, in a store of its own."""
    folder = tmp_path_factory.mktemp("store")
    (text,) = [one.text for one in blocks("toml profile") if NAME in one.text]
    path = folder / f"{NAME}.toml"
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    return Resolver(Store(Path(folder)).profile(NAME))


def test_the_table_is_there() -> None:
    """Eleven rows, one for each way in which a document speaks or does not."""
    assert len(ROWS) == 11


@pytest.mark.parametrize("row", ROWS, ids=lambda row: " ".join(row[:2]))
def test_an_answer_is_as_the_page_says(resolver: Resolver, row: list[str]) -> None:
    """Standing and CV at that firmware, or that the setting is absent."""
    setting, firmware, answer, _ = row
    held = resolver.profile.settings[setting.strip("`")]
    found = resolver.answer(held, parse_version(firmware, resolver.profile.scheme).key)
    place = f"CV {found.place.fields[0].slot.cv}" if found.place else "absent"
    assert f"{found.standing}, {place}" == answer


def test_what_a_reissue_repeats_names_both(resolver: Resolver) -> None:
    """The citation of issue 2, by way of issue 3."""
    version = parse_version("3.0", resolver.profile.scheme)
    found = resolver.at(version)["lights.fade"]
    assert [(one.source, one.page, one.reissue) for one in found.trace.citations] == [
        ("issue-2", "10", "issue-3")
    ]
