"""The line: stretches of firmware over which no answer changes, and generations by documents."""

import pytest

from cvlib.engine.known.line import (
    Known,
    Stretch,
    answer_facets,
    differ,
    generations,
    known_at,
    same_placed,
    stretches,
    version_within,
)
from cvlib.engine.known.resolve import Resolver
from cvlib.model.facet import Facet
from cvlib.model.versions import Scheme, parse_version, spell_key
from make import Table, resolver

LARK: Table = {
    "sources": {
        "h1": ">=2.0, <=2.4",
        "h2": ">=4.0, <4.4",
        "b1": {"kind": "bench", "in": "==2.9"},
        "b2": {"kind": "bench", "in": "==2.2"},
    },
    "settings": {
        "s.moved": [
            {"in": "<=2.4", "at": "141"},
            {"in": ">=4.0", "at": "144", "cites": ["b1 no-effect"]},
        ],
        "s.kept": {"at": "2", "cites": ["b2 works"]},
        "s.late": {"in": ">=4.2", "at": "60"},
    },
    "releases": ["2.1", "2.9", "3.3", "4.1"],
}


def shown(found: tuple[Stretch, ...]) -> list[str]:
    """Stretches in words."""
    return [f"{stretch.firmware.text()} {stretch.known}" for stretch in found]


def test_gaps_and_bench_tests_are_stretches_of_their_own() -> None:
    """Before, between and beyond the documents, and where a bench test changes an answer."""
    held = resolver(LARK)
    assert shown(stretches(held)) == [
        "<2.0 before",
        ">=2.0, <2.2 covered",
        "==2.2 covered",
        ">2.2, <=2.4 covered",
        ">2.4, <2.9 gap",
        "==2.9 gap",
        ">2.9, <4.0 gap",
        ">=4.0, <4.2 covered",
        ">=4.2, <4.4 covered",
        ">=4.4 beyond",
    ]


def test_a_bench_test_begins_no_generation() -> None:
    """Generations follow the documents alone."""
    assert shown(generations(resolver(LARK))) == [
        "<2.0 before",
        ">=2.0, <=2.4 covered",
        ">2.4, <4.0 gap",
        ">=4.0, <4.2 covered",
        ">=4.2, <4.4 covered",
        ">=4.4 beyond",
    ]


def test_one_setting_has_stretches_of_its_own() -> None:
    """What changes in another setting cuts nothing."""
    held = resolver(LARK)
    late = held.profile.setting("s.late")
    assert shown(stretches(held, [late])) == [
        "<2.0 before",
        ">=2.0, <=2.4 covered",
        ">2.4, <4.0 gap",
        ">=4.0, <4.2 covered",
        ">=4.2, <4.4 covered",
        ">=4.4 beyond",
    ]


def test_how_many_settings_are_disputed() -> None:
    """In the gap each setting whose sides differ; a test without effect leaves the other place."""
    held = resolver(LARK)
    counts = {one.firmware.text(): one.disputed for one in stretches(held)}
    assert [counts[text] for text in (">2.4, <2.9", "==2.9", ">=2.0, <2.2")] == [1, 1, 0]


def test_a_sheet_about_some_settings_is_no_coverage_of_the_others() -> None:
    """A gap of one setting is shown as a gap though a sheet speaks for another."""
    held = resolver(
        {
            "scheme": "number",
            "sources": {
                "h1": ">=1, <=2",
                "h2": ">=5, <=6",
                "sheet": {"in": ">=3, <=4", "about": ["light"]},
            },
            "settings": {"light.dim": {"at": "3"}, "speed.low": {"at": "2"}},
        }
    )
    low = held.profile.setting("speed.low")
    dim = held.profile.setting("light.dim")
    assert shown(stretches(held, [low])) == [
        "==0 before",
        ">=1, <=2 covered",
        ">=3, <=4 gap",
        ">=5, <=6 covered",
        ">6 beyond",
    ]
    assert shown(stretches(held, [dim])) == ["==0 before", ">=1, <=6 covered", ">6 beyond"]
    assert shown(generations(held)) == [
        "==0 before",
        ">=1, <=2 covered",
        ">=3, <=4 covered",
        ">=5, <=6 covered",
        ">6 beyond",
    ]
    standings = [[a.standing.value for a in one.answers] for one in generations(held)]
    assert standings == [
        ["before", "before"],
        ["documented", "documented"],
        ["documented", "between"],
        ["documented", "documented"],
        ["beyond", "beyond"],
    ]


def test_a_new_default_alone_is_no_new_generation() -> None:
    """Default, marks and conditions are no part of where a setting lives."""
    held = resolver(
        {
            "sources": {"h1": ">=0"},
            "settings": {
                "s.one": [
                    {"in": "<3.0", "at": "2", "default": 1},
                    {"in": ">=3.0", "at": "2", "default": 2, "marks": ["read-only"]},
                ]
            },
        }
    )
    assert shown(generations(held)) == ["every firmware covered"]
    assert shown(stretches(held)) == ["<3.0 covered", ">=3.0 covered"]
    assert [spell_key(point, Scheme.DOTTED) for point in held.cuts.points] == ["0.0", "3.0"]


def test_a_profile_without_settings_or_sources_is_one_stretch() -> None:
    """Where nothing is known, all firmware is one gap."""
    assert shown(generations(resolver({}))) == ["every firmware gap"]
    held = resolver({"settings": {"s.one": {"at": "2"}}})
    assert shown(generations(held)) == ["every firmware gap"]


@pytest.mark.parametrize(
    ("at", "first", "expected"),
    [
        ("2.1", [], "2.1"),
        ("3.9", [], "3.3"),
        ("4.1", [], "4.1"),
        ("4.1", ["4.0.7"], "4.0.7"),
        ("4.1", ["2.1"], "4.1"),
        ("2.9", [], "2.9"),
        ("4.3", [], "4.2"),
        ("1.0", [], "<2.0"),
    ],
)
def test_a_version_within_a_stretch(at: str, first: list[str], expected: str) -> None:
    """One that is asked for, else a known release, else where the stretch begins."""
    held = resolver(LARK)
    version = held.profile.version(at)
    stretch = next(one for one in stretches(held) if version in one.firmware)
    asked = [parse_version(text, Scheme.DOTTED) for text in first]
    assert str(version_within(held.profile, stretch, asked)) == expected


def test_a_stretch_without_a_release_is_not_given_an_invented_version() -> None:
    """Just behind 2.4 begins firmware that nobody named: the stretch is told, no letter made up."""
    held = resolver({**LARK, "releases": []})
    stretch = next(one for one in stretches(held) if held.profile.version("2.5") in one.firmware)
    version = version_within(held.profile, stretch)
    assert version in stretch.firmware
    assert str(version) == ">2.4, <2.9"


@pytest.mark.parametrize(
    ("at", "known"),
    [("1", Known.BEFORE), ("3", Known.COVERED), ("5", Known.GAP), ("9", Known.BEYOND)],
)
def test_how_a_point_lies_to_the_documents(at: str, known: Known) -> None:
    """Before, within, between or beyond."""
    held = resolver({"scheme": "number", "sources": {"h1": ">=2, <=4", "h2": ">=6, <=8"}})
    assert known_at(held.coverage, held.profile.version(at).key) is known


def test_answers_alike_by_place_and_by_standing() -> None:
    """The same place is the same answer, unless a test or a dispute marks one of the two."""
    held: Resolver = resolver(LARK)
    at = {text: held.at(held.profile.version(text)) for text in ("1.0", "2.1", "2.2", "3.0", "4.1")}
    kept, moved = "s.kept", "s.moved"
    assert same_placed(at["2.1"][kept], at["4.1"][kept])
    assert same_placed(at["1.0"][kept], at["2.1"][kept])
    assert not same_placed(at["2.1"][kept], at["2.2"][kept])
    assert not same_placed(at["2.1"][moved], at["4.1"][moved])
    assert not same_placed(at["2.1"][moved], at["3.0"][moved])
    assert not differ(at["2.1"][kept], at["2.2"][kept])
    assert answer_facets(at["2.1"][moved], at["3.0"][moved]) == {Facet.CVS}
    assert answer_facets(at["2.1"][moved], None) == {Facet.EXISTENCE}
