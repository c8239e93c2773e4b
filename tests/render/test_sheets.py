"""Sheets of random locos, followed word by word on a decoder that knows only the standards."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest

from cvlib.engine.carry.carry_loco import DecoderCarried, Wish, carry_decoder
from cvlib.engine.carry.carry_outcomes import Clamped, Converted, Dropped, Moved, New, Same
from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.write_sheet import Caution, Track
from cvlib.model import formulas
from cvlib.model.cv import Slot
from cvlib.render.views.carry import told
from cvlib.render.views.sheet import to_csv
from engine.sheet_person import Person
from engine.sheet_worlds import Table, World, fields_of, meaning, owned, raw_of, world

FEW, MANY = range(400), range(10_000)
CHANGED_BY_CV_1 = {Slot(19): 0xFF, Slot(29): 0x20}
LOCK, PAGES = {Slot(15), Slot(16)}, {Slot(31), Slot(32)}
NEEDED = {
    "motor": Caution.MOTOR,
    "current": Caution.CURRENT,
    "motion": Caution.MOVES,
    "stopping": Caution.STOPPING,
    "heat": Caution.SMOKE,
    "coil": Caution.COILS,
    None: Caution.UNMARKED,
}


def carried(held: World) -> DecoderCarried:
    """The loco carried to the other firmware or decoder type."""
    wish = Wish(to="2", to_profile="test/other" if held.is_other_type else "", setup=held.setup)
    return carry_decoder(held.loco, held.loco.decoders[0], held.origin, held.goal, wish)


def followed(held: World, text: str) -> Person:
    """A person who has followed the sheet."""
    person = Person(held.decoder, held.setup.track is Track.MAIN, held.setup.answers)
    person.follow(text)
    return person


def faults(seed: int) -> Iterator[str]:
    """What is wrong with the sheet of one loco, as the decoder shows it in the end."""
    held = world(seed)
    result = carried(held)
    text = to_csv(told(result))
    person = followed(held, text)
    yield from person.wrong
    if person.stopped:
        yield "the right decoder was taken for a wrong one"
    yield from values_lost(held, result, text)
    yield from halves_written(held)
    yield from bits_overwritten(held, result)
    yield from address_wrong(held)
    yield from cautions_missing(held, result)
    if held.setup.answers and result.sheet.writes:
        wrong = world(seed)
        wrong.decoder.memory[Slot(8)] = 99
        followed(wrong, text)
        if wrong.decoder.writes:
            yield "another decoder was written"


def values_lost(held: World, result: DecoderCarried, text: str) -> Iterator[str]:
    """Saved values that are neither in the decoder with their meaning nor on the sheet."""
    for name, place in held.old.items():
        raw = raw_of(place, held.saved)
        meant = None if raw is None or not name.startswith("a.") else meaning(place, raw)
        if meant is None:
            continue
        outcome, there = result.carried.setting(name), held.new.get(name)
        if outcome is None:
            yield f"{name}: no word of it"
        lines = [line for line in text.splitlines() if f"Title of {name}" in line]
        if there is None or any("nobody knows the other bits" in line for line in lines):
            continue
        got = raw_of(there, held.decoder.memory)
        now = None if got is None else meaning(there, got)
        is_limit = "current" in (held.marks.get(name) or ())
        if isinstance(outcome, (Same, Moved, Converted, Clamped)):
            yield from (f"{name}: {it}" for it in changed(outcome, there, meant, now, is_limit))
        names = there.get("names", {}).values()
        if isinstance(outcome, Dropped) and meant in names and "kind" not in there:
            yield f"{name}: {meant} is there and was dropped"
        if not lines and not isinstance(outcome, (Same, Moved, Converted)):
            yield f"{name}: {outcome}, and not on the sheet"


def changed(
    outcome: Same | Moved | Converted | Clamped,
    there: Table,
    meant: object,
    now: object,
    is_limit: bool,
) -> Iterator[str]:
    """How the meaning of a value that went over is another than it may be."""
    is_exact = not isinstance(outcome, Clamped)
    if isinstance(outcome, Converted):
        is_exact = outcome.wanted is None
        step = Fraction(str(there["scale"])) if outcome.wanted is not None else Fraction(0)
        off = abs(Fraction(outcome.got or 0) - Fraction(outcome.wanted or 0))
        if off > (step if is_limit else step / 2):
            yield "rounded too far"
    if is_exact and now != meant:
        yield f"{meant} became {now}"
    if not is_exact and (isinstance(meant, str) or isinstance(now, str)):
        yield "a special value was rounded or clamped"
    figures = isinstance(now, Fraction) and isinstance(meant, Fraction)
    if is_limit and figures and now > meant:
        yield f"a current limit grew from {meant} to {now}"


def halves_written(held: World) -> Iterator[str]:
    """Values of two CVs of which one was written and the other not."""
    for name, place in held.new.items():
        fields = fields_of(place)
        if len(fields) > 1 and name.startswith("a."):
            was, now = raw_of(place, held.start), raw_of(place, held.decoder.memory)
            old = held.old.get(name)
            raw = None if old is None else raw_of(old, held.saved)
            meant = None if old is None or raw is None else meaning(old, raw)
            legal = now is not None and meaning(place, now) is not None
            if now not in (was, place.get("default")) and (meant is None or not legal):
                yield f"{name}: half of it was written"


def bits_overwritten(held: World, result: DecoderCarried) -> Iterator[str]:
    """Bits of the decoder that changed though nothing that is known belongs there."""
    free = dict.fromkeys(held.decoder.memory, 0xFF)
    written = {
        name
        for composed in result.carried.image.values()
        for name in composed.settings(Whence.CARRIED, Whence.OFFERED)
    }
    for name, place in held.new.items():
        for slot, mask in owned(place).items() if name in written else ():
            free[slot] &= ~mask
    if not held.is_other_type:
        for place in held.old.values():
            for slot, mask in owned(place).items():
                free[slot] &= ~(mask if slot in held.saved else 0)
    wrote = {step.slot for step in result.sheet.writes}
    blind = not held.setup.answers
    for slot, mask in free.items():
        if slot in LOCK and (blind or Slot(16) in wrote):
            continue
        if slot in PAGES and blind and slot not in held.saved:
            continue
        is_hit = Slot(1) in wrote and blind and slot not in held.saved
        kept = mask & ~(CHANGED_BY_CV_1.get(slot, 0) if is_hit else 0)
        if (held.start[slot] ^ held.decoder.memory[slot]) & kept:
            yield f"{slot}: {held.start[slot]} became {held.decoder.memory[slot]}"


def address_wrong(held: World) -> Iterator[str]:
    """The loco answers at another address than before, though that was known."""
    saved = held.saved
    if not {Slot(1), Slot(17), Slot(18), Slot(29)} <= saved.keys():
        return
    wanted: int | None = saved[Slot(1)]
    if saved[Slot(29)] & 0x20:
        wanted = formulas.extended_address(saved[Slot(17)], saved[Slot(18)])
    if held.decoder.address() != wanted and held.setup.writes_bits:
        yield f"it answers at {held.decoder.address()}, not at {wanted}"


def cautions_missing(held: World, result: DecoderCarried) -> Iterator[str]:
    """Marks of settings that are written without the caution that they ask for."""
    for step in result.sheet.writes:
        for part in step.composed.parts if step.composed else ():
            if part.setting.startswith("a.") and part.whence in (Whence.CARRIED, Whence.OFFERED):
                marks = held.marks[part.setting]
                for mark in (None,) if marks is None else marks:
                    if NEEDED[mark] not in result.sheet.cautions:
                        yield f"{part.setting}: no caution for {mark}"


@pytest.mark.parametrize("tens", range(len(FEW) // 10))
def test_a_sheet_alone_brings_the_decoder_to_its_values(tens: int) -> None:
    """Nothing lost, nothing half, no unknown bit changed, each address right, all cautions."""
    found = {seed: list(faults(seed)) for seed in range(tens * 10, tens * 10 + 10)}
    assert {seed: wrong for seed, wrong in found.items() if wrong} == {}


@pytest.mark.long
def test_ten_thousand_sheets() -> None:
    """The same of 10,000 locos."""
    found = {seed: wrong for seed in MANY if (wrong := list(faults(seed)))}
    assert found == {}


def test_the_worlds_are_of_all_kinds() -> None:
    """Among the locos are both tracks, decoders that answer and not, locks, pages and new ones."""
    held = [world(seed) for seed in range(60)]
    assert {(one.setup.track, one.setup.answers) for one in held} >= {
        (track, answers) for track in Track for answers in (True, False)
    }
    assert {one.is_other_type for one in held} == {True, False}
    assert {one.decoder.is_locked() for one in held} == {True, False}
    outcomes = {type(o) for one in held for o in carried(one).carried.outcomes}
    assert outcomes >= {Same, Moved, Converted, Clamped, Dropped, New}
