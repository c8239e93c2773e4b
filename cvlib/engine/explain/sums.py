"""What several CVs come to together, by the formulas of the standards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from cvlib.engine.account.claims import Layout
from cvlib.engine.compare import motion
from cvlib.model import formulas
from cvlib.model.cv import Page, Slot
from cvlib.model.profile import Profile
from cvlib.model.units import Measure, measured

NMRA = "NMRA S-9.2.2 (2012-07)"
RCN = "RCN-225 (2025-07-27)"
RCN_227 = "RCN-227 (2018-12-02)"
STATES_PAGE = Page(0, 43)
"""The page of function assignment per output with binary states."""
SINGLE_ENTRIES, UNUSED = 4, 255
"""Entries of one byte for each output; two of two bytes follow them. 255 leaves one unused."""


@dataclass(frozen=True, slots=True)
class Sum:
    """What several CVs come to together."""

    title: str
    value: str
    cvs: tuple[int, ...]
    source: str


def sums(layout: Layout) -> tuple[Sum, ...]:
    """What values given together come to at one firmware; only for CVs that mean it there."""
    found = [
        *_momentum(layout),
        *_curve(layout),
        *_maker(layout),
        *_lock(layout),
        *_consist(layout),
        *_accessory(layout),
    ]
    return (*found, *_page(layout), *_states(layout))


def _held(layout: Layout, settings: Mapping[str, int]) -> dict[int, int] | None:
    """The values by CV, where each setting is there, lives on its CV and has a value."""
    found: dict[int, int] = {}
    for name, cv in settings.items():
        answer, slot = layout.answers.get(name), Slot(cv)
        place = answer.place if answer else None
        if place is None or slot not in layout.values:
            return None
        if not any(field.slot == slot for field in place.fields):
            return None
        found[cv] = layout.values[slot]
    return found


def _momentum(layout: Layout) -> Iterator[Sum]:
    rows = (("acceleration", 3, 23), ("deceleration", 4, 24))
    for name, rate, change in rows:
        asked = {f"momentum.{name}": rate, f"momentum.{name}-adjustment": change}
        held = _held(layout, asked)
        if held is None:
            continue
        value = motion.rate(held[rate], formulas.adjustment(held[change]))
        words = measured(Measure.MOMENTUM, value, cv=rate)
        yield Sum(f"{name.capitalize()} in all", words, (rate, change), f"{NMRA}, CV {change}")


def _curve(layout: Layout) -> Iterator[Sum]:
    held = _held(layout, {"speed.minimum": 2, "speed.maximum": 5, "speed.middle": 6})
    if held is None:
        return
    more = _held(layout, {"speed.table-choice": 25}) or {}
    at = motion.middle_step(more.get(25, 0))
    levels = motion.three_point(held[2], held[6], held[5], at)
    said = ", ".join(f"{round(levels[step - 1])} at step {step}" for step in (1, at, motion.STEPS))
    cvs = tuple(sorted((*held, *more)))
    yield Sum("Three-point speed curve", f"{said}, of 255", cvs, f"{NMRA}, CVs 2, 5 and 6")


def _maker(layout: Layout) -> Iterator[Sum]:
    held = _held(layout, {"identity.extended-manufacturer": 107, "identity.manufacturer": 8})
    low = layout.values.get(Slot(108))
    if held is not None and low is not None and held[8] == formulas.EXTENDED_MAKER:
        number = formulas.manufacturer(held[8], held[107], low)
        yield Sum("Manufacturer ID in all", str(number), (8, 107, 108), f"{RCN}, CVs 107-108")


def _lock(layout: Layout) -> Iterator[Sum]:
    held = _held(layout, {"lock.key": 15, "lock.identity": 16})
    key = layout.reading("lock.key")
    if held is None or key is None:
        return
    if key.name is None:
        locked = formulas.is_locked(held[15], held[16])
        words = "locked: writes are ignored" if locked else "unlocked: writes are obeyed"
        yield Sum("Decoder lock", words, (15, 16), f"{NMRA}, CVs 15-16")
    elif held[15] == formulas.UNLOCK_ALL:
        yield Sum("Decoder lock", "all decoders unlocked", (15, 16), f"{RCN}, CVs 15-16")


def _consist(layout: Layout) -> Iterator[Sum]:
    held = _held(layout, {"consist.address": 19})
    answer = layout.answers.get("consist.hundreds")
    is_long = answer is not None and answer.place is not None
    high = layout.values.get(Slot(20))
    if held is None or (is_long and high is None):
        return
    hundreds = high if is_long and high is not None else 0
    address = formulas.consist_address(held[19], hundreds)
    facing = "reversed" if held[19] & 0x80 else "normal direction"
    lead = ", lead loco" if hundreds & 0x80 else ""
    words = "no consist" if address is None else f"{address} {facing}{lead}"
    if is_long:
        yield Sum("Consist", words, (19, 20), f"{RCN}, CVs 19-20")
    else:
        yield Sum("Consist", words, (19,), f"{NMRA}, CV 19")


def _accessory(layout: Layout) -> Iterator[Sum]:
    """The address of an accessory decoder, by the method that CV 29 bit 6 chooses or by both."""
    held = _held(layout, {"address.low": 1, "address.high": 9})
    if held is None:
        return
    chosen = layout.reading("configuration.output-addressing")
    by_output = None if chosen is None else bool(chosen.value)
    if by_output is not True:
        decoder = formulas.accessory_decoder(held[1], held[9])
        words = "not allowed here: CV 1 may be 0 to 63 and CV 9 0 to 7"
        if decoder is not None:
            packet = decoder * 4
            first, last = map(formulas.accessory_number, (packet, packet + 3))
            words = f"{decoder}, outputs {first}-{last}, packet addresses {packet}-{packet + 3}"
            words += ", which every decoder obeys" if decoder == formulas.ALL_ACCESSORIES else ""
        source = f"{NMRA} and {RCN}, CVs 1 and 9"
        yield Sum("Decoder address (CV 29 bit 6 off)", words, (1, 9), source)
    if by_output is not False:
        rcn = formulas.accessory_output(held[1], held[9])
        nmra = formulas.accessory_output(held[1], held[9], offset=-1)
        ours = theirs = "not allowed here: CV 9 may be 0 to 7"
        if rcn is not None:
            ours = f"output {formulas.accessory_number(rcn)}, packet address {rcn}"
            theirs = f"packet address {nmra}, four less; a try or the handbook tells which holds"
        title = "Output address (CV 29 bit 6 on) by"
        yield Sum(f"{title} RCN-225", ours, (1, 9), f"{RCN}, CVs 1 and 9")
        yield Sum(f"{title} S-9.2.2", theirs, (1, 9), f"{NMRA}, CV 1")


def _page(layout: Layout) -> Iterator[Sum]:
    held = _held(layout, {"index.high": 31, "index.low": 32})
    if held is None:
        return
    page = Page(held[31], held[32])
    title = page_title(layout.resolver.profile, page)
    if title:
        yield Sum(f"Index page {page}", title, (31, 32), f"{NMRA} and {RCN}, CVs 31-32")


def _states(layout: Layout) -> Iterator[Sum]:
    method = layout.answers.get("function-map.method")
    if method is None or method.place is None:
        return
    for slot, value in layout.values.items():
        if slot.page == STATES_PAGE and (slot.cv - 257) % 8 < SINGLE_ENTRIES and value != UNUSED:
            number, state = formulas.function_state(value)
            title = f"Function assignment, {slot}"
            yield Sum(title, f"F{number} {state}", (slot.cv,), f"{RCN_227}, section 3.3")


def page_title(profile: Profile, page: Page) -> str:
    """What an index page is for, by the profile's list of pages; empty where it says nothing."""
    return next((held.title or held.use for held in profile.pages if held.holds(page)), "")
