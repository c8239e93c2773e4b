"""What settings claim and what they state as default: what lint finds, and where it is silent.

"common practice, no source": the rules are about our own definitions.
"""

from typing import Any

import pytest

from cvlib.engine.lint.rules import RULES, lint_profile
from make import profile

H = {"h": ">=1.0, <2.0"}
TWO = {"h1": ">=1.0, <2.0", "h2": ">=3.0, <4.0"}


def found(sources: dict[str, Any], settings: dict[str, Any]) -> list[tuple[str, str]]:
    """The codes that lint finds in a profile, each with its setting."""
    made = profile({"sources": sources, "settings": settings})
    return [(rule.code, one.spot.id) for rule, one in lint_profile(made)]


MODE = {"at": "9", "kind": "choice", "names": {"0": "off", "1": "coil", "2": "servo"}}

FIRES = {
    "claimed-twice": [
        (H, {"s.a": {"at": "1"}, "s.b": {"at": "1"}}, "s.a"),
        (H, {"s.a": {"at": "1:0-3"}, "s.b": {"at": "1:3-5"}}, "s.a"),
        (H, {"s.a": {"at": "1"}, "s.b": {"at": "2", "also-at": 1}}, "s.a"),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": {"at": "1", "when": {"s.mode": ["coil", "servo"]}},
                "s.b": {"at": "1", "when": {"s.mode": [2]}},
            },
            "s.a",
        ),
        (
            H,
            {"s.mode": MODE, "s.a": {"at": "1", "when": {"s.mode": [1]}}, "s.b": {"at": "1"}},
            "s.a",
        ),
        (TWO, {"s.a": {"at": "1"}, "s.b": {"in": ">=3.0, <4.0", "at": "1"}}, "s.a"),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": {"at": "1", "when": {"s.mode": {"not": ["off"]}}},
                "s.b": {"at": "1", "when": {"s.mode": {"not": ["coil"]}}},
            },
            "s.a",
        ),
    ],
    "places-overlap": [
        (H, {"s.a": [{"at": "1"}, {"in": ">=1.5, <2.0", "at": "2"}]}, "s.a"),
        (
            {"h": {"in": ">=1.0, <2.0", "about": ["t"]}},
            {"s.a": [{"at": "1"}, {"in": ">=1.5", "at": "2"}], "t.b": {"at": "3"}},
            "s.a",
        ),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": [{"at": "1", "when": {"s.mode": ["coil"]}}, {"at": "2"}],
            },
            "s.a",
        ),
    ],
    "uncovered-claim": [
        (H, {"s.a": {"in": ">=1.0, <2.5", "at": "1"}}, "s.a"),
        (H, {"s.a": {"in": ">=0.5, <2.0", "at": "1"}}, "s.a"),
        (
            {"h": {"in": ">=1.0, <3.0", "about": ["t"]}, "g": ">=1.0, <2.0"},
            {"s.a": {"in": ">=1.0, <3.0", "at": "1"}, "t.b": {"at": "2"}},
            "s.a",
        ),
    ],
    "placeless": [
        (H, {"s.a": {"in": ">=2.0, <3.0", "at": "1"}}, "s.a"),
    ],
    "illegal-default": [
        (H, {"s.a": {"at": "1", "range": [1, 9], "default": 0}}, "s.a"),
        (H, {"s.a": {"at": "1", "kind": "choice", "names": {"1": "on"}, "default": 0}}, "s.a"),
        (H, {"s.a": {"at": "1", "kind": "flags", "names": {"1": "on"}, "default": 1}}, "s.a"),
        (H, {"s.a": {"at": "1, 2", "kind": "curve", "range": [0, 9], "default": [1, 10]}}, "s.a"),
    ],
    "default-contradicts": [
        (
            H,
            {
                "s.byte": {"at": "1", "kind": "fields", "default": 3},
                "s.bit": {"at": "1:1", "kind": "switch", "default": 0},
            },
            "s.bit",
        ),
    ],
}

SILENT = {
    "claimed-twice": [
        (H, {"s.a": {"at": "1:0-3"}, "s.b": {"at": "1:4-7"}}),
        (H, {"s.a": {"at": "257@16/2"}, "s.b": {"at": "257@16/3"}}),
        (H, {"s.a": {"at": "1"}, "area.1": {"at": "1", "kind": "area"}}),
        (H, {"s.a": {"at": "1", "kind": "fields"}, "s.b": {"at": "1:3"}}),
        (TWO, {"s.a": {"in": "<2.0", "at": "1"}, "s.b": {"in": ">=3.0", "at": "1"}}),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": {"at": "1", "when": {"s.mode": ["coil"]}},
                "s.b": {"at": "1", "when": {"s.mode": [2, "off"]}},
            },
        ),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": {"at": "1", "when": {"s.mode": {"not": ["coil", "servo"]}}},
                "s.b": {"at": "1", "when": {"s.mode": ["coil", 2]}},
            },
        ),
        (
            H,
            {
                "s.keys": {"at": "9:0-1", "kind": "flags", "names": {"0": "F1", "1": "F2"}},
                "s.a": {"at": "1", "when": {"s.keys": {"has": ["F1"]}}},
                "s.b": {"at": "1", "when": {"s.keys": [0, 2]}},
            },
        ),
        (
            H,
            {
                "s.mode": MODE,
                "s.fine": {"at": "8", "kind": "switch", "when": {"s.mode": ["coil"]}},
                "s.a": {"at": "1", "when": {"s.fine": [1]}},
                "s.b": {"at": "1", "when": {"s.mode": ["servo"]}},
            },
        ),
    ],
    "places-overlap": [
        (H, {"s.a": [{"in": "<1.5", "at": "1"}, {"in": ">=1.5", "at": "2"}]}),
        (
            H,
            {
                "s.mode": MODE,
                "s.a": [
                    {"at": "1", "when": {"s.mode": ["coil"]}},
                    {"at": "2", "when": {"s.mode": ["servo"]}},
                ],
            },
        ),
    ],
    "uncovered-claim": [
        (H, {"s.a": {"at": "1"}}),
        (TWO, {"s.a": {"in": ">=1.0, <4.0", "at": "1"}}),
        (
            {**H, "b": {"kind": "bench", "in": "==2.5"}},
            {"s.a": {"in": "==2.5", "at": "1", "cites": ["b works"]}},
        ),
    ],
    "placeless": [
        ({"h": {"in": ">=1.0", "about": ["t"]}}, {"s.a": {"at": "1"}, "t.b": {"at": "2"}}),
        (
            {**H, "b": {"kind": "bench", "in": "==2.5"}},
            {"s.a": {"in": "==2.5", "at": "1", "cites": ["b works"]}},
        ),
    ],
    "illegal-default": [
        (H, {"s.a": {"at": "1", "range": [1, 9], "names": {"0": "off"}, "default": 0}}),
    ],
    "default-contradicts": [
        (
            H,
            {
                "s.byte": {"at": "1", "kind": "fields", "default": 2},
                "s.bit": {"at": "1:1", "kind": "switch", "default": 1},
                "s.other": {"at": "1:0", "kind": "switch"},
            },
        ),
    ],
}


@pytest.mark.parametrize(
    ("code", "sources", "settings", "setting"),
    [(code, *case) for code, cases in FIRES.items() for case in cases],
)
def test_a_rule_finds_its_fault(
    code: str, sources: dict[str, Any], settings: dict[str, Any], setting: str
) -> None:
    """With the setting it is about."""
    assert (code, setting) in found(sources, settings)


@pytest.mark.parametrize(
    ("code", "sources", "settings"),
    [(code, *case) for code, cases in SILENT.items() for case in cases],
)
def test_a_rule_is_silent_where_nothing_is_wrong(
    code: str, sources: dict[str, Any], settings: dict[str, Any]
) -> None:
    """Nor does any other rule find anything."""
    assert [one for one in found(sources, settings) if one[0] == code] == []


def test_each_rule_here_has_both_sorts_of_cases() -> None:
    """Some that fire and some that are silent."""
    assert FIRES.keys() == SILENT.keys() <= {rule.code for rule in RULES}


def test_open_claims_of_a_gap_are_left_alone() -> None:
    """Where a deciding setting is disputed its values still keep settings apart."""
    mode = [{"in": ">=1.0, <2.0", "at": "9"}, {"in": ">=3.0, <4.0", "at": "10"}]
    settings = {
        "s.mode": mode,
        "s.a": {"at": "1", "when": {"s.mode": [1]}},
        "s.b": {"at": "1", "when": {"s.mode": [2]}},
    }
    assert {code for code, _ in found(TWO, settings)} <= {"page-missing"}


def test_a_message_says_where_and_when() -> None:
    """Both settings, the bits, the CV and the firmware."""
    settings = {"s.a": {"at": "1:0-3"}, "s.b": {"in": ">=1.5", "at": "1:3-5"}}
    made = profile({"sources": H, "settings": settings})
    (told,) = [one for rule, one in lint_profile(made) if rule.code == "claimed-twice"]
    assert told.message == '"s.a" and "s.b" both use bit 3 of CV 1 at >=1.5, <2.0.'
