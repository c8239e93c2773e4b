"""Laws of carrying, over generated decoders and values."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from cvlib.engine.account.check import Saved
from cvlib.engine.carry.carry import Goal, carry
from cvlib.engine.carry.carry_outcomes import (
    Clamped,
    Converted,
    Disputed,
    Dropped,
    Moved,
    New,
    ReadOnly,
    Refused,
    Same,
)
from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import Flags, Number
from cvlib.model.cv import WHOLE
from engine.carry_worlds import World, worlds
from strategies import Case, cases, saved_values, versions

WRITTEN = (Same, Moved, Converted, Clamped)


@given(worlds())
def test_there_and_back_is_the_identity(world: World) -> None:
    """What was not clamped, dropped or rounded comes back as the very CV bits it was."""
    there = world.carry(world.values, "1", "2")
    image = {slot: held.value for slot, held in there.image.items()}
    back = world.carry(image, "2", "1") if image else None
    for outcome in there.outcomes:
        is_exact = isinstance(outcome, (Same, Moved)) or (
            isinstance(outcome, Converted) and outcome.wanted is None
        )
        if is_exact:
            assert back is not None
            returned = back.setting(outcome.setting)
            assert isinstance(returned, WRITTEN), outcome
            assert returned.new.parts == world.parts[outcome.setting]
            assert not isinstance(returned, Clamped)


@given(worlds())
def test_rounding_is_within_half_a_step(world: World) -> None:
    """A rounded figure lies within half a step of the one wanted, at the goal and coming back."""
    there = world.carry(world.values, "1", "2")
    image = {slot: held.value for slot, held in there.image.items()}
    back = world.carry(image, "2", "1") if image else None
    for carried in filter(None, (there, back)):
        for outcome in carried.outcomes:
            if isinstance(outcome, Converted) and outcome.wanted is not None:
                coding = outcome.new.place.coding
                assert outcome.got is not None
                assert isinstance(coding, Number)
                off = abs(Fraction(outcome.got) - Fraction(outcome.wanted))
                assert 0 < off <= abs(Fraction(coding.scale)) / 2 + Fraction(1, 10**6)


@given(worlds(alike=True))
def test_settings_that_only_move_arrive_whole(world: World) -> None:
    """With the same coding on both sides everything is the same or moved."""
    there = world.carry(world.values, "1", "2")
    assert {type(outcome) for outcome in there.outcomes} <= {Same, Moved}
    for outcome in there.outcomes:
        assert isinstance(outcome, WRITTEN)
        assert outcome.new.parts == world.parts[outcome.setting]


@given(worlds())
def test_to_the_same_firmware_nothing_changes(world: World) -> None:
    """Carried to the firmware they were saved for, all values are the same and none is written."""
    there = world.carry(world.values, "1", "1")
    assert {type(outcome) for outcome in there.outcomes} <= {Same}
    assert all(world.values[slot] == held.value for slot, held in there.image.items())


@given(worlds())
def test_what_is_written_is_what_the_goal_reads(world: World) -> None:
    """Each composed CV holds the new value of every setting in it, and covers its bits once."""
    there = world.carry(world.values, "1", "2")
    for outcome in there.outcomes:
        if isinstance(outcome, WRITTEN):
            values = {slot: held.value for slot, held in there.image.items()}
            assert outcome.new.place.parts(values) == outcome.new.parts
            assert outcome.new.place.coding.decode(outcome.new.parts).fault is None
    for held in there.image.values():
        assert sum(part.mask for part in held.parts) == WHOLE
        assert sum(part.value for part in held.parts) == held.value
        assert all(not part.value & ~part.mask for part in held.parts)


@given(worlds())
def test_untouched_bits_are_saved_or_factory_bits(world: World) -> None:
    """Bits of a written CV that no setting sets are told apart: as saved, factory value, or 0."""
    there = world.carry(world.values, "1", "2")
    for slot, held in there.image.items():
        for part in held.parts:
            if part.whence is Whence.SAVED:
                assert world.values[slot] & part.mask == part.value
            if part.whence is Whence.ZERO:
                assert not part.value


@given(worlds())
def test_after_a_reset_nothing_saved_is_taken_for_granted(world: World) -> None:
    """With a factory reset first, untouched bits are factory values."""
    there = world.carry(world.values, "1", "2", is_reset=True)
    for slot, held in there.image.items():
        for part in held.parts:
            if part.whence is Whence.SAVED:
                assert there.present[slot] & part.mask == part.value


@settings(max_examples=200)
@given(cases(), st.data())
def test_every_saved_bit_has_one_fate(case: Case, data: st.DataObject) -> None:
    """Whatever the profile: each setting has one outcome, each unowned bit is left once."""
    profile = case.profile
    saved: Saved = data.draw(saved_values(profile.scheme))
    start, goal = data.draw(versions(profile.scheme)), data.draw(versions(profile.scheme))
    saved_for = {slot: saved.saved_for.get(slot, start) for slot in saved.values}
    resolver = Resolver(profile)
    origin = Origin(resolver, Saved(saved.values, saved_for, {}), {})
    carried = carry(origin, Goal(resolver, goal, saved.values, False, {}, {}))
    names = [outcome.setting for outcome in carried.outcomes]
    assert len(names) == len(set(names))
    left: dict[object, int] = {}
    for held in carried.left:
        assert not left.get(held.slot, 0) & held.mask
        left[held.slot] = left.get(held.slot, 0) | held.mask
    for composed in carried.image.values():
        assert sum(part.mask for part in composed.parts) == WHOLE
    for outcome in carried.outcomes:
        assert isinstance(outcome, (*WRITTEN, Dropped, New, Disputed, ReadOnly, Refused))
        if isinstance(outcome, (Same, Moved)):
            assert outcome.old.reading.fault is None
        if isinstance(outcome, Disputed):
            written = {name for c in carried.image.values() for name in c.settings(*Whence)}
            assert outcome.setting not in written
        if isinstance(outcome, WRITTEN):
            values = {slot: held.value for slot, held in carried.image.items()}
            coding = outcome.new.place.coding
            stray = isinstance(coding, Flags)
            assert stray or coding.decode(outcome.new.parts).fault is None
            assert set(values) >= {field.slot for field in outcome.new.place.fields}
