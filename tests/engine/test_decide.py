"""Which firmware a check is for, where nobody noted it: nothing is picked silently."""

from cvlib.engine.account.check import Saved
from cvlib.engine.account.decide import Decided, Ground, Undecided, check_unknown
from cvlib.engine.known.resolve import Resolver
from make import Table, resolver, saved

LARK: Table = {
    "sources": {"h1": ">=2.0, <=2.4", "h2": ">=4.0, <=4.9"},
    "parts": [{"at": "7"}, {"at": "109"}],
    "releases": ["2.1", "2.4", "3.3", "4.1", "5.0"],
    "identity": {"manufacturer": 13},
    "settings": {
        "s.moved": [{"in": "<=2.4", "at": "141"}, {"in": ">=4.0", "at": "144"}],
        "s.kept": {"at": "2"},
        "id.version": {"at": "7", "marks": ["read-only"]},
    },
}


def outcome(table: Table, values: dict[str, int], saved_for: str = "") -> Decided | Undecided:
    """The check of values at unknown firmware."""
    held = resolver(table)
    return check_unknown(held, saved(held.profile, values, saved_for))


def tried(found: Decided | Undecided) -> list[tuple[str, str]]:
    """Each stretch that fits, and the version it was checked at."""
    assert isinstance(found, Undecided)
    return [(stretch.firmware.text(), str(one.firmware)) for stretch, one in found.possible]


def test_the_saved_answer_names_the_firmware() -> None:
    """All version CVs are saved: the check is for the firmware that they spell, known or not."""
    for values, version in (({"7": 2, "109": 4}, "2.4"), ({"7": 4, "109": 8}, "4.8")):
        found = outcome(LARK, {**values, "141": 9})
        assert isinstance(found, Decided)
        assert found.ground is Ground.ANSWERED
        assert str(found.checked.firmware) == version


def test_half_an_answer_names_nothing() -> None:
    """With one version CV of two, every stretch is tried and the reads are named."""
    found = outcome(LARK, {"7": 2, "141": 9})
    assert isinstance(found, Undecided)
    assert found.reads == (7, 109)


def test_every_stretch_is_tried_at_a_release_where_there_is_one() -> None:
    """Before, covered, gap and beyond; a stretch without a release is called by its ends."""
    table = {**LARK, "releases": ["2.1", "2.4", "3.3", "4.1"]}
    assert tried(outcome(table, {"141": 9})) == [
        ("<2.0", "<2.0"),
        (">=2.0, <=2.4", "2.1"),
        (">2.4, <4.0", "3.3"),
        (">=4.0, <=4.9", "4.1"),
        (">4.9", ">4.9"),
    ]


def test_each_stretch_has_its_own_findings() -> None:
    """The same value is fine, disputed or older-only, as the firmware may be."""
    found = outcome(LARK, {"141": 9})
    assert isinstance(found, Undecided)
    codes = [
        [one.code for one in checked.findings if one.code != "unset"]
        for _, checked in found.possible
    ]
    assert codes == [["before"], [], ["disputed"], ["older-only"], ["older-only"]]


def test_alike_where_every_firmware_says_the_same() -> None:
    """Nobody knows the firmware and it does not matter."""
    table: Table = {
        "sources": {"h1": ">=0"},
        "settings": {
            "s.kept": {"at": "2", "range": [0, 9]},
            "s.other": [{"in": "<3.0", "at": "60"}, {"in": ">=3.0", "at": "61"}],
        },
    }
    found = outcome(table, {"2": 10})
    assert isinstance(found, Decided)
    assert found.ground is Ground.ALIKE
    assert [one.code for one in found.checked.findings if one.code != "unset"] == ["out-of-range"]
    assert isinstance(outcome(table, {"2": 10, "60": 1}), Undecided)


def test_versions_that_answer_the_same_only_narrow() -> None:
    """Two releases answer so: their stretches are tried, each at its release, and no other."""
    table = {
        **LARK,
        "parts": [{"at": "7"}],
        "releases": ["2.1", {"version": "4.1", "answers": {"7": 2}}, "5.0"],
    }
    assert tried(outcome(table, {"7": 2, "141": 9})) == [
        (">=2.0, <=2.4", "2.1"),
        (">=4.0, <=4.9", "4.1"),
    ]


def test_a_decoder_without_version_cvs_may_be_told_by_its_releases() -> None:
    """No part of a version, but what each release is known to answer."""
    table = {
        **LARK,
        "parts": [],
        "releases": [
            {"version": "2.1", "answers": {"7": 1}},
            {"version": "4.1", "answers": {"7": 2}},
        ],
    }
    found = outcome(table, {"7": 2, "141": 9})
    assert isinstance(found, Decided)
    assert (found.ground, str(found.checked.firmware)) == (Ground.ANSWERED, "4.1")


def test_an_advisory_or_a_rule_of_some_firmware_is_not_overlooked() -> None:
    """A stretch is cut where an advisory or a rule begins or ends, and each part is tried."""
    table: Table = {
        "sources": {"h1": ">=0"},
        "releases": ["1.0", "3.0"],
        "settings": {"s.kept": {"at": "2"}},
        "advisories": [{"id": "hot", "in": ">=2.0, <2.5", "about": ["s"]}],
    }
    found = outcome(table, {"2": 1})
    assert tried(found) == [("<2.0", "1.0"), (">=2.0, <2.5", "2.0"), (">=2.5", "3.0")]
    ruled: Table = {
        **table,
        "advisories": [],
        "rules": [
            {"firmware": "==2.0", "conflicts": [{"setting": "s.kept", "min": 1}]},
        ],
    }
    assert [text for text, _ in tried(outcome(ruled, {"2": 1}))] == ["<2.0", "==2.0", ">2.0"]
    assert isinstance(outcome(ruled, {"2": 0}), Decided)


def test_two_advisories_are_not_alike() -> None:
    """Findings that differ only in which advisory or rule they name are not the same findings."""
    table: Table = {
        "sources": {"h1": ">=0"},
        "settings": {"s.kept": {"at": "2"}},
        "advisories": [
            {"id": "one", "in": "<2.0", "about": ["s"]},
            {"id": "two", "in": ">=2.0", "about": ["s"]},
        ],
    }
    assert len(tried(outcome(table, {"2": 1}))) == 2


def test_a_stretch_is_tried_at_a_release_that_the_saved_answer_fits() -> None:
    """CV 7 alone fits some releases: a stretch that has one is not accused of another answer."""
    table = {**LARK, "releases": ["2.1", "4.1", "5.0", "6.0"]}
    found = outcome(table, {"7": 6, "2": 1})
    assert isinstance(found, Undecided)
    beyond = next(
        checked
        for stretch, checked in found.possible
        if "4.9" in stretch.firmware.text() and stretch.firmware.text().startswith(">4.9")
    )
    assert str(beyond.firmware) == "6.0"
    assert [one.severity.value for one in beyond.findings if one.code == "read-only"] == ["note"]


def test_unset_settings_do_not_make_a_difference() -> None:
    """A setting that newer firmware adds is unset there, and still the findings are alike."""
    table: Table = {
        "sources": {"h1": ">=0"},
        "settings": {"s.kept": {"at": "2"}, "s.new": {"in": ">=3.0", "at": "60"}},
    }
    found = outcome(table, {"2": 1})
    assert isinstance(found, Decided)
    assert found.ground is Ground.ALIKE


def test_a_profile_that_knows_nothing_has_one_answer() -> None:
    """Without settings everything saved is unknown, whatever the firmware."""
    held: Resolver = resolver({})
    found = check_unknown(held, Saved({}, {}, {}))
    assert isinstance(found, Decided)
    assert found.checked.findings == ()
    unknown = outcome({}, {"99": 1})
    assert isinstance(unknown, Decided)
    assert [one.code for one in unknown.checked.findings] == ["unknown"]


def test_asked_for_changed_values() -> None:
    """The notes on changed values come on request, at unknown firmware too."""
    held = resolver({"sources": {"h1": ">=0"}, "settings": {"s.kept": {"at": "2", "default": 0}}})
    values = saved(held.profile, {"2": 1})
    for changed in (False, True):
        found = check_unknown(held, values, changed=changed)
        assert isinstance(found, Decided)
        assert bool(found.checked.findings) is changed
