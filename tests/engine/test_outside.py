"""Firmware that no handbook covers: what reads can tell of it, and what only a test can."""

import random

import pytest

from cvlib.engine.bench.expect import AFTER_RESET, AS_IT_STANDS, NO_ANSWER, Terms, column
from cvlib.engine.bench.layouts import Disputed, Tried
from cvlib.engine.bench.learnt import learnt_from
from cvlib.engine.bench.outside import open_at
from cvlib.engine.bench.probe import Probed, probe
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store

STORE = open_store()
OUTSIDE = [
    ("ferrow/wren-2", "1.5", ">=1.4, <=1.4a"),
    ("ferrow/wren-2", "0.9", ">=1.0, <=1.2"),
    ("ferrow/lark-8", "1.6.40", ">=2.0, <=2.4.118"),
    ("ilex-works/heron", "61", ">=52, <=55"),
]


def asked(id: str, version: str) -> tuple[Resolver, Disputed]:
    """What can be asked about a firmware."""
    held = Resolver(STORE.profile(id))
    return held, open_at(held, held.profile.version(version))


def probed(held: Resolver, disputed: Disputed, terms: Terms, seed: int, silent: int) -> Probed:
    """A probe to its end of a decoder as in the nearest firmware; but one bundle never answers."""
    dice, made = random.Random(seed), list[Read]()
    lost = disputed.bundles[silent].slots if silent >= 0 else ()
    while True:
        found = probe(held, disputed.version, made, terms, with_plans=False)
        if found.next_read is None:
            return found
        slot = found.next_read.slot
        expected = next(b.expected[0][slot] for b in disputed.bundles if slot in b.slots)
        (answer,) = dice.choices(range(257), column(expected, terms))
        made.append(Read(slot, NO_ANSWER if slot in lost else answer))


@pytest.mark.parametrize(("id", "version", "nearest"), OUTSIDE)
def test_each_bundle_is_as_in_the_nearest_firmware_or_otherwise(
    id: str, version: str, nearest: str
) -> None:
    """Two sides: the nearest covered firmware, and anything else, which names no place."""
    _, disputed = asked(id, version)
    assert disputed.is_outside
    for bundle in disputed.bundles:
        near, other = bundle.sides
        assert near.firmware == nearest or near.firmware
        assert not near.is_unknown
        assert other.is_unknown
        assert not any(other.places.values())
    assert nearest in {bundle.sides[0].firmware for bundle in disputed.bundles}


@pytest.mark.parametrize(("id", "version"), [("ferrow/wren-2", "1.2"), ("ferrow/wren-2", "1.3")])
def test_covered_and_disputed_firmware_is_asked_about_as_ever(id: str, version: str) -> None:
    """Covered firmware leaves nothing open, and between handbooks both of them are the sides."""
    _, disputed = asked(id, version)
    assert not disputed.is_outside


@pytest.mark.parametrize("terms", [AS_IT_STANDS, AFTER_RESET])
def test_a_bundle_that_does_not_answer_is_found_and_no_other_one(terms: Terms) -> None:
    """Wren 2 at 1.5: decoders with one bundle whose CVs are silent.

    Where it has a single CV, that read may have been misread, so nothing is settled.
    """
    held, disputed = asked("ferrow/wren-2", "1.5")
    for silent in range(8):
        if len(disputed.bundles[silent].slots) == 1:
            continue
        found = probed(held, disputed, terms, silent, silent)
        sides = [standing.side for standing in found.standings]
        assert sides[silent] == 1
        assert sides.count(1) == 1
        assert not found.is_settled


def test_after_a_reset_most_bundles_are_seen_to_answer() -> None:
    """The factory value speaks most clearly; bundles whose values are all 0 stay open."""
    held, disputed = asked("ferrow/wren-2", "1.5")
    found = probed(held, disputed, AFTER_RESET, 3, -1)
    sides = [standing.side for standing in found.standings]
    assert 1 not in sides
    assert sides.count(0) >= len(sides) / 2
    assert len(found.reads) <= 2.5 * len(sides)


def test_a_read_alone_is_no_observation_and_a_test_is() -> None:
    """That a CV answers does not show what it does, so nothing is cited until it was tried."""
    held, disputed = asked("ferrow/wren-2", "1.5")
    found = probed(held, disputed, AFTER_RESET, 3, -1)
    learnt = learnt_from(held, found, "2026-05-01")
    assert learnt.is_outside
    assert learnt.inferred
    assert learnt.observations == ()
    tried = Tried(learnt.inferred[0], 0)
    again = probe(held, disputed.version, found.reads, AFTER_RESET, [tried], with_plans=False)
    (observation,) = learnt_from(held, again, "2026-05-01").observations
    assert (observation.setting, observation.verdict.value) == (tried.setting, "works")


def test_what_no_read_tells_is_tried() -> None:
    """Each test names a place of the nearest handbook, and otherwise as the other answer."""
    held, disputed = asked("ferrow/wren-2", "1.5")
    found = probe(held, disputed.version, can_read=False)
    assert found.next_read is None
    assert found.tests
    for test in found.tests:
        assert test.unknown == (1,)
        assert test.absent == ()
        assert [trial.side for trial in test.trials] == [0]
        assert not test.setting.startswith(("address.", "lock.", "configuration.accessory"))
