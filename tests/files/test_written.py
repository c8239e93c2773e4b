"""Settings of the model written down and read back are the same; no source outside the project."""

from dataclasses import replace

import pytest

from cvlib.files.layout import PROFILE
from cvlib.files.load import load_profile
from cvlib.files.store import open_store
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import node_of, read_tree
from cvlib.files.written import written_citation, written_setting
from cvlib.model.profile import Citation, Verdict

STORE = open_store()
DECODERS = [one.id for one in STORE.summaries() if one.kind != "standard"]


@pytest.mark.parametrize("id", DECODERS)
def test_a_profile_with_all_it_follows_can_be_written_as_its_own(id: str) -> None:
    """Every setting, own or taken over, keeps its places, defaults, conditions, marks and notes."""
    before = STORE.profile(id)
    document = read_tree(STORE.text(f"{id}.toml")[1].replace("\r\n", "\n"), id)
    root = document.root.table
    tables = [written_setting(held, before.sources) for held in before.settings.values()]
    root["setting"] = node_of(tables)
    # What a place says of nobody is not meant to be said by the documents of the whole decoder.
    for key in ("follows", "without", "sources"):
        root["decoder"].table.pop(key, None)
    after = load_profile(write_tree(document, PROFILE), id, STORE, id)
    for name, held in before.settings.items():
        cited = [
            replace(
                place,
                citations=tuple(
                    replace(one, is_general=False)
                    for one in place.citations
                    if one.source in before.sources
                ),
            )
            for place in held.places
        ]
        assert list(after.settings[name].places) == cited
        assert (after.settings[name].title, after.settings[name].help) == (held.title, held.help)


@pytest.mark.parametrize(
    ("citation", "written"),
    [
        (Citation("handbook-1", "23"), "handbook-1:23"),
        (Citation("handbook-1"), "handbook-1"),
        (Citation("bench", "", Verdict.WORKS), {"source": "bench", "verdict": "works"}),
        (Citation("h", "2", note="n"), {"source": "h", "page": "2", "note": "n"}),
    ],
)
def test_a_citation_is_short_where_it_can_be(citation: Citation, written: object) -> None:
    """Source and page stand in one text; verdict and note ask for a table."""
    assert written_citation(citation) == written
