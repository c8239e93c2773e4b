"""Two resolved states side by side."""

import pytest

from cvlib.engine.known.line import Change, differences, differing_slots
from make import Table, resolver

TABLE: Table = {
    "sources": {
        "h1": ">=2.0, <=2.4",
        "h2": ">=4.0, <=4.9",
        "b1": {"kind": "bench", "in": "==4.5"},
    },
    "settings": {
        "s.kept": {"at": "2"},
        "s.moved": [{"in": "<=2.4", "at": "141"}, {"in": ">=4.0", "at": "144"}],
        "s.bits": [{"in": "<=2.4", "at": "29:0-3"}, {"in": ">=4.0", "at": "29:4-7"}],
        "s.recoded": [{"in": "<=2.4", "at": "54"}, {"in": ">=4.0", "at": "54", "scale": 2}],
        "s.default": [
            {"in": "<=2.4", "at": "55", "default": 1},
            {"in": ">=4.0", "at": "55", "default": 2},
        ],
        "s.older": {"in": "<=2.4", "at": "60"},
        "s.newer": {"in": ">=4.0", "at": "61"},
        "s.tested": {"at": "62", "cites": ["b1 no-effect"]},
        "s.when": [
            {"in": "<=2.4", "at": "63", "when": {"s.kept": [1]}},
            {"in": ">=4.0", "at": "63", "when": {"s.kept": [2]}},
        ],
        "area.a": [
            {"in": "<=2.4", "at": "70", "kind": "area", "use": "reserved"},
            {"in": ">=4.0", "at": "70", "kind": "area", "use": "manufacturer"},
        ],
        "area.b": {"at": "71", "kind": "area", "use": "reserved"},
    },
}


def changes(before: str, after: str) -> dict[str, str]:
    """What changes between two firmwares of the table."""
    held = resolver(TABLE)
    old, new = (held.at(held.profile.version(text)) for text in (before, after))
    return {one.setting: one.change.value for one in differences(old, new)}


def test_changes_between_two_handbooks() -> None:
    """Moved, recoded, a new default, added and removed; what stayed is not told."""
    assert changes("2.4", "4.0") == {
        "s.moved": "moved",
        "s.bits": "moved",
        "s.recoded": "recoded",
        "s.default": "default",
        "s.older": "removed",
        "s.newer": "added",
        "s.when": "condition",
        "area.a": "recoded",
    }


def test_the_other_way_round() -> None:
    """Added and removed change places; the rest stays."""
    there, back = changes("2.4", "4.0"), changes("4.0", "2.4")
    turn = {"added": "removed", "removed": "added"}
    assert back == {name: turn.get(change, change) for name, change in there.items()}


def test_a_state_does_not_differ_from_itself() -> None:
    """Nothing changes between a firmware and itself, disputed or not."""
    for text in ("1.0", "2.4", "3.0", "4.5", "5.0"):
        assert changes(text, text) == {}


def test_a_change_of_standing_is_told_where_nothing_else_changed() -> None:
    """The same place, documented here and tested in vain there."""
    assert changes("4.0", "4.5") == {"s.tested": "standing"}
    assert changes("4.9", "5.0")["s.kept"] == "standing"


def test_disputed_is_a_change_of_standing() -> None:
    """Where a place is disputed on one side there is no telling whether it moved."""
    found = changes("2.4", "3.0")
    assert found["s.moved"] == "standing"
    assert found["s.older"] == "standing"
    assert found["s.newer"] == "added"


def test_settings_of_one_side_only_are_added_or_removed() -> None:
    """Two profiles are matched by setting id."""
    held = resolver(TABLE)
    answers = held.at(held.profile.version("2.4"))
    kept = {"s.kept": answers["s.kept"]}
    (removed,) = differences(kept, {})
    assert (removed.change, removed.after) == (Change.REMOVED, None)
    (added,) = differences({}, kept)
    assert (added.change, added.before) == (Change.ADDED, None)
    assert differences({"s.newer": answers["s.newer"]}, {}) == ()


@pytest.mark.parametrize(
    ("before", "after", "cvs"),
    [
        ("2.4", "4.0", [29, 54, 60, 61, 63, 70, 141, 144]),
        ("2.0", "2.4", []),
        ("2.4", "3.0", [29, 54, 60, 61, 63, 70, 141, 144]),
        ("4.0", "4.9", []),
    ],
)
def test_cvs_that_mean_something_else(before: str, after: str, cvs: list[int]) -> None:
    """By owner, bits, coding and condition; a new default alone is no other meaning."""
    held = resolver(TABLE)
    old, new = (held.at(held.profile.version(text)) for text in (before, after))
    assert [slot.cv for slot in differing_slots(differences(old, new))] == cvs
    assert differing_slots(differences(new, old)) == differing_slots(differences(old, new))
