"""Settings that moved together, and how likely each side is after reads and tests."""

import pytest

from cvlib.engine.bench.expect import AFTER_RESET
from cvlib.engine.bench.layouts import Belief, Tried, disputed_at
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from engine.bench_worlds import reads
from make import resolver

WORLD = {
    "sources": {"h1": ">=1.0, <2.0", "h2": ">=4.0, <5.0"},
    "settings": {
        "braking.distance": [
            {"at": "141", "in": ">=1.0, <2.0", "range": [0, 200], "default": 40,
             "risk": ["stopping"]},
            {"at": "144", "in": ">=4.0, <5.0", "range": [0, 200], "default": 80},
        ],
        "braking.mode": [
            {"at": "142", "in": ">=1.0, <2.0", "range": [0, 3], "default": 1},
            {"at": "141", "in": ">=4.0, <5.0", "range": [0, 3], "default": 2},
        ],
        "lamp.level": [
            {"at": "50", "in": ">=1.0, <2.0", "range": [0, 100], "default": 60},
            {"at": "51", "in": ">=4.0, <5.0", "range": [0, 100], "default": 60},
        ],
        "sound.level": [{"at": "70", "in": ">=4.0, <5.0", "range": [0, 100], "default": 90}],
        "smoke.level": [
            {"at": "70:0-3", "in": ">=1.0, <2.0", "range": [0, 9], "default": 2, "risk": ["heat"]},
        ],
        "speed.minimum": {"at": "2", "range": [0, 255], "default": 4, "risk": ["motor"]},
    },
}  # fmt: skip
HELD = resolver(WORLD)
AT = HELD.profile.version("3.0")


def sides(reads_made: str = "", *results: Tried) -> dict[str, float]:
    """How likely the newer side is for the bundle of each setting, after a factory reset."""
    disputed = disputed_at(HELD, AT)
    belief = Belief(disputed, reads(reads_made), AFTER_RESET, results)
    return {
        name: belief.chances(at)[-1]
        for at, bundle in enumerate(disputed.bundles)
        for name in bundle.settings
    }


def test_settings_that_share_a_cv_or_a_group_moved_together() -> None:
    """Both braking settings are one bundle, sound and smoke one by CV 70; the lamp is alone."""
    bundles = [bundle.settings for bundle in disputed_at(HELD, AT).bundles]
    assert bundles == [
        ("braking.distance", "braking.mode"),
        ("smoke.level", "sound.level"),
        ("lamp.level",),
    ]


def test_each_side_names_the_firmware_behind_it() -> None:
    """The covered firmware below and above the gap."""
    for bundle in disputed_at(HELD, AT).bundles:
        assert [side.firmware for side in bundle.sides] == [">=1.0, <2.0", ">=4.0, <5.0"]


def test_covered_firmware_has_nothing_to_ask() -> None:
    """Inside the coverage nothing is disputed."""
    assert disputed_at(HELD, HELD.profile.version("4.2")).bundles == ()


def test_before_any_read_both_sides_are_alike() -> None:
    """All older and all newer are equally likely, and so is each side of each bundle."""
    assert list(sides().values()) == pytest.approx([0.5] * 5)


def test_a_read_settles_its_bundle_and_tells_something_about_the_others() -> None:
    """CV 144 = 80 is the newer braking; all newer is then likelier than some of each."""
    found = sides("144=80")
    assert found["braking.distance"] > 0.99
    assert found["braking.mode"] == found["braking.distance"]
    assert 0.85 < found["lamp.level"] < 0.95


def test_a_mixed_layout_is_found() -> None:
    """Braking newer, the lamp older: both are settled, and the third is open again."""
    found = sides("144=80 50=60 51=none")
    assert found["braking.distance"] > 0.99
    assert found["lamp.level"] < 0.01
    assert found["sound.level"] == pytest.approx(0.5, abs=0.01)


def test_a_test_of_behaviour_counts_as_evidence() -> None:
    """Two settings of one bundle that were tried and worked by the newer place settle it."""
    one = Tried("braking.distance", 1)
    assert 0.9 < sides("", one)["braking.mode"] < 0.99
    assert sides("", one, Tried("braking.mode", 1))["braking.mode"] > 0.99
    assert sides("", Tried("braking.distance", None))["braking.mode"] == pytest.approx(0.5)


def test_layouts_share_the_whole() -> None:
    """Every combination of sides is a layout; all older and all newer are the likeliest."""
    layouts = Belief(disputed_at(HELD, AT)).layouts(0.99)
    assert sum(one.chance for one in layouts) == pytest.approx(1)
    assert len({one.sides for one in layouts}) == 8
    by_sides: dict[tuple[int, ...], float] = {}
    for one in layouts:
        by_sides[one.sides] = by_sides.get(one.sides, 0.0) + one.chance
    assert by_sides[0, 0, 0] == pytest.approx(0.4 + 0.2 / 8)
    assert by_sides[0, 1, 0] == pytest.approx(0.2 / 8)


def test_what_is_settled_is_not_varied() -> None:
    """A bundle that is known keeps its side in every layout."""
    belief = Belief(disputed_at(HELD, AT), reads("144=80 141=2"), AFTER_RESET)
    assert {one.sides[0] for one in belief.layouts(0.99)} == {1}


@pytest.mark.parametrize(
    ("id", "version"),
    [("ferrow/lark-8", "2.9.201"), ("ferrow/lark-8", "3.4.96"), ("ilex-works/heron", "39")],
)
def test_the_bundles_of_the_shipped_store_share_no_cv(id: str, version: str) -> None:
    """Every disputed setting is in one bundle, and no CV is in two."""
    held = Resolver(open_store().profile(id))
    disputed = disputed_at(held, held.profile.version(version))
    names = [name for bundle in disputed.bundles for name in bundle.settings]
    slots = [slot for bundle in disputed.bundles for slot in bundle.slots]
    answers = held.at(held.profile.version(version))
    assert sorted(names) == sorted(name for name, one in answers.items() if one.candidates)
    assert len(set(slots)) == len(slots)
