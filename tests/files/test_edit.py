"""Edits keep every remark; no source outside the project."""

import tomllib

import pytest

from cvlib.errors import InputError
from cvlib.files.edit import Draft, cite, cited_sources, set_keys

TEXT = """#:schema ../../docs/schema/profile.schema.json
# head
format = 2

[decoder]
id = "a/b"

# --- Sources

[[source]]
id = "h"  # the handbook
firmware = "==1"

# --- Settings

# about one
[[setting]]
id = "one.a"
title = "A"

  [[setting.place]]
  firmware = "==1"  # first
  # why this CV
  cv = 3
  kind = "number"
  default = 7  # seen
  # end of the place

[[setting]]
id = "two[n].b"
repeat = { count = 3, step = 1 }
common = { kind = "switch" }
place = [
  { firmware = "==1", cv = 10, index = "1-2" },  # few
  { firmware = "==2", cv = 20 },
]

# --- Questions

# who knows
[[question]]
id = "q"
text = "?"  # really

# the end
"""
REMARKS = [line.partition("#")[2] for line in TEXT.splitlines() if "#" in line]


@pytest.fixture
def draft() -> Draft:
    """A draft of the small profile."""
    return Draft(TEXT, "b.toml")


def remarks_kept(text: str) -> bool:
    """Whether every remark is still there, once."""
    return all(text.count(f"#{remark}\n") == 1 for remark in REMARKS)


def test_a_draft_that_is_not_edited_is_the_tidy_text(draft: Draft) -> None:
    """Opening and closing changes nothing."""
    assert draft.text() == TEXT


def test_keys_change_and_go_with_their_remarks_kept(draft: Draft) -> None:
    """A remark stays at its key; that of a key that goes stands above the next one."""
    set_keys(draft.place("one.a", 0), {"default": 9, "cvs": [3, 4], "note": "n"}, ["firmware"])
    made = draft.text()
    assert remarks_kept(made)
    place = tomllib.loads(made)["setting"][0]["place"][0]
    assert place == {"cvs": [3, 4], "kind": "number", "default": 9, "note": "n"}
    assert "  # first\n" in made
    assert "  default = 9  # seen\n" in made


def test_a_place_of_one_index_is_found_where_it_is_written(draft: Draft) -> None:
    """The first place of index 3 is the second one written, for the first leaves it out."""
    cite(draft.place("two[3].b", 0), {"source": "h", "verdict": "works"})
    cite(draft.place("two[1].b", 0), "h:2")
    made = draft.text()
    assert remarks_kept(made)
    places = tomllib.loads(made)["setting"][1]["place"]
    assert places[0]["sources"] == ["h:2"]
    assert places[1]["sources"] == [{"source": "h", "verdict": "works"}]
    assert cited_sources(draft.place("two[3].b", 0)) == [("h", "works")]


def test_a_new_setting_stands_behind_its_group(draft: Draft) -> None:
    """It comes behind the last setting of the same group, or behind all."""
    draft.add_setting({"id": "one.b", "place": [{"cv": 5, "kind": "number", "sources": ["h"]}]})
    draft.add_setting({"id": "three.c", "place": [{"cv": 6, "kind": "number"}]})
    made = draft.text()
    assert remarks_kept(made)
    ids = [one["id"] for one in tomllib.loads(made)["setting"]]
    assert ids == ["one.a", "one.b", "two[n].b", "three.c"]


def test_what_is_taken_out_leaves_its_remarks(draft: Draft) -> None:
    """The only question goes; its remarks are still in the file, and so is its section."""
    asked = draft.find("question", "q")
    assert asked is not None
    draft.drop(asked, "question")
    made = draft.text()
    assert "question" not in tomllib.loads(made)
    assert remarks_kept(made)


def test_lists_are_made_where_there_are_none(draft: Draft) -> None:
    """A first release makes the table of the firmware too."""
    draft.add({"version": "1"}, "firmware", "release")
    assert tomllib.loads(draft.text())["firmware"] == {"release": [{"version": "1"}]}


@pytest.mark.parametrize(("id", "number"), [("no.such", 0), ("one.a", 1)])
def test_a_place_that_is_not_written_is_refused(draft: Draft, id: str, number: int) -> None:
    """There is nothing to edit then."""
    with pytest.raises(InputError):
        draft.place(id, number)
