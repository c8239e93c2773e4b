"""A sheet followed line by line brings a decoder that obeys the standards to the wanted values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.engine.account.check import Saved
from cvlib.engine.carry.carry import Goal, carry
from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.order import plan
from cvlib.engine.carry.order_rules import RULES
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.carry.write_sheet import (
    CAUTION_RULES,
    Act,
    Caution,
    Do,
    Job,
    Reason,
    Setup,
    Sheet,
    Step,
    Track,
    Write,
    job_of,
)
from cvlib.errors import InputError
from cvlib.model.cv import WHOLE, Slot, parse_slot
from engine.simulated_decoder import SimulatedDecoder, follow
from make import resolver

SETTINGS: dict[str, Any] = {
    "address.short": {"at": "1", "kind": "short", "default": 3, "risk": ["address"]},
    "speed.minimum": {"at": "2", "default": 0, "risk": ["motor"]},
    "lock.key": {"at": "15", "default": 0, "risk": ["lock"]},
    "lock.identity": {"at": "16", "default": 0, "risk": ["lock"]},
    "address.extended": {"at": "17, 18", "kind": "extended", "default": 1000, "risk": ["address"]},
    "consist.address": {"at": "19:0-6", "default": 0, "risk": ["address"]},
    "consist.reversed": {"at": "19:7", "kind": "switch", "default": 0, "risk": ["motion"]},
    "configuration.extended-address": {
        "at": "29:5",
        "kind": "switch",
        "default": 0,
        "risk": ["address"],
    },
    "index.high": {"at": "31", "default": 0},
    "index.low": {"at": "32", "default": 0},
    "lamps.level": {"at": "257@16/2", "default": 0},
    "lamps.fade": {"at": "258@16/2", "default": 0},
    "smoke.heat": {"at": "257@16/3", "default": 0, "risk": ["heat"]},
}
PLAIN: dict[str, Any] = {
    name: held
    for name, held in SETTINGS.items()
    if not name.startswith(("lock", "index", "lamps", "smoke"))
}


def job(
    wanted: Mapping[str, int], before: Mapping[str, int], settings: Mapping[str, Any] = SETTINGS
) -> Job:
    """Values wanted in a decoder that holds others; both keyed as slots are typed."""
    held = resolver({"sources": {"h": ">=1"}, "settings": dict(settings)})
    answers = held.at(held.profile.version("1"))
    now = {parse_slot(text): value for text, value in before.items()}
    whole = {parse_slot(text): value for text, value in wanted.items()}
    writes = {
        slot: Composed(slot, value, (BitsFrom(WHOLE, value, Whence.CARRIED, "speed.minimum"),))
        for slot, value in whole.items()
        if now.get(slot) != value
    }
    return Job(writes, {**now, **whole}, now, now, answers, settings=held.profile.settings)


def decoder(before: Mapping[str, int], **more: Any) -> SimulatedDecoder:
    """A decoder that holds some values."""
    return SimulatedDecoder({parse_slot(text): value for text, value in before.items()}, **more)


def ends_as_wanted(held: Job, one: SimulatedDecoder) -> bool:
    """Whether a decoder holds every value that it is to have."""
    return all(one.memory.get(slot) == value for slot, value in held.final.items())


BEFORE = {"1": 3, "2": 5, "15": 0, "16": 0, "17": 195, "18": 232, "19": 5, "29": 38} | {
    "31": 1,
    "32": 7,
    "257@16/2": 1,
    "258@16/2": 2,
    "257@16/3": 3,
}

CASES: dict[str, tuple[dict[str, int], dict[str, int]]] = {
    "nothing": ({}, BEFORE),
    "one value": ({"2": 9}, BEFORE),
    "short address": ({"1": 44}, BEFORE),
    "short address, extended off": ({"1": 44, "29": 6}, BEFORE),
    "all addresses": ({"1": 44, "17": 196, "18": 1, "19": 130, "29": 38}, BEFORE),
    "extended address on": ({"17": 196, "18": 1, "29": 38}, {**BEFORE, "29": 6}),
    "extended address only": ({"17": 196, "18": 1}, BEFORE),
    "half of the extended address": ({"18": 1}, BEFORE),
    "paged": ({"257@16/2": 8, "258@16/2": 9, "257@16/3": 7, "2": 1}, BEFORE),
    "paged with pages": ({"257@16/2": 8, "31": 5, "32": 6}, BEFORE),
    "pages alone": ({"31": 5, "32": 6}, BEFORE),
    "locked": ({"2": 9, "257@16/2": 8}, {**BEFORE, "15": 2, "16": 1}),
    "new lock number": ({"2": 9, "16": 7}, {**BEFORE, "15": 1, "16": 1}),
    "new lock number and key": ({"15": 7, "16": 7, "1": 9}, {**BEFORE, "15": 1, "16": 1}),
    "everything": (
        {"1": 44, "2": 9, "15": 3, "16": 3, "17": 196, "18": 1, "19": 130, "29": 34}
        | {"31": 5, "32": 6, "257@16/2": 8, "258@16/2": 9, "257@16/3": 7},
        {**BEFORE, "15": 2, "16": 1},
    ),
}
SETUPS = {
    "programming track": Setup(),
    "cannot answer": Setup(answers=False),
    "on the main": Setup(Track.MAIN, answers=False),
    "on the main, answering": Setup(Track.MAIN),
}


@pytest.mark.parametrize("clears", [True, False], ids=["clears bit 5", "keeps bit 5"])
@pytest.mark.parametrize("setup", SETUPS.values(), ids=SETUPS)
@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_decoder_ends_as_wanted(
    case: tuple[dict[str, int], dict[str, int]], setup: Setup, clears: bool
) -> None:
    """Every way of writing ends with every value in place, and reading back finds nothing wrong."""
    wanted, before = case
    held, one = job(wanted, before), decoder(before, clears_extended=clears)
    sheet = plan(held, setup)
    assert follow(sheet.steps, one, on_main=setup.track is Track.MAIN) == []
    assert ends_as_wanted(held, one)


@given(
    st.dictionaries(st.sampled_from(sorted(BEFORE)), st.integers(0, 2)),
    st.sampled_from(sorted(SETUPS)),
    st.booleans(),
)
def test_any_values_arrive(picks: dict[str, int], name: str, locked: bool) -> None:
    """Whichever CVs are to change: the sheet, followed, changes just them."""
    legal = {"1": (3, 9, 44), "17": (192, 196, 231), "16": (0, 7, 9), "15": (0, 7, 9)}
    wanted = {text: legal.get(text, (0, 34, 6))[pick] for text, pick in picks.items()}
    if wanted.get("17") == 192 and wanted.get("18", 232) == 0:
        wanted["18"] = 1
    before = {**BEFORE, "15": 2, "16": 1} if locked else BEFORE
    setup = SETUPS[name]
    held, one = job(wanted, before), decoder(before)
    sheet = plan(held, setup)
    assert follow(sheet.steps, one, on_main=setup.track is Track.MAIN) == []
    assert ends_as_wanted(held, one)


def shuffled(sheet: Sheet, late: Slot, early: Slot) -> tuple[Step, ...]:
    """The steps with the last write of one CV moved before the first write of another."""
    steps = list(sheet.steps)
    at = max(n for n, s in enumerate(steps) if isinstance(s, Write) and s.slot == late)
    to = min(n for n, s in enumerate(steps) if isinstance(s, Write) and s.slot == early)
    steps.insert(to, steps.pop(at))
    return tuple(steps)


FORBIDDEN = {
    "CV 29 before CV 1": ("all addresses", Slot(29), Slot(1)),
    "CV 19 before CV 1": ("all addresses", Slot(19), Slot(1)),
    "paged CV before its page": ("paged", parse_slot("257@16/2"), Slot(31)),
    "page restored too early": ("paged", Slot(32), parse_slot("257@16/2")),
    "value before the lock is open": ("locked", Slot(2), Slot(15)),
    "lock number first": ("new lock number", Slot(16), Slot(2)),
}


@pytest.mark.parametrize("case", FORBIDDEN.values(), ids=FORBIDDEN)
def test_an_order_that_the_rules_forbid_fails(case: tuple[str, Slot, Slot]) -> None:
    """The same steps in an order that a rule forbids leave the decoder with a wrong value."""
    name, late, early = case
    wanted, before = CASES[name]
    held, one = job(wanted, before), decoder(before)
    steps = shuffled(plan(held, Setup(answers=False)), late, early)
    follow(steps, one)
    assert not ends_as_wanted(held, one)


def test_the_address_first_on_the_main_fails() -> None:
    """Written first on the main, the new address leaves the rest unanswered."""
    wanted, before = {"1": 44, "2": 9}, {**BEFORE, "29": 6}
    held, one = job(wanted, before), decoder(before)
    sheet = plan(held, Setup(Track.MAIN, answers=False))
    steps = shuffled(sheet, Slot(1), Slot(2))
    follow(steps, one, on_main=True)
    assert not ends_as_wanted(held, one)


def test_on_the_main_each_line_says_where_the_decoder_answers() -> None:
    """Each line has the address in force, and a write that changes it says the new one."""
    wanted, before = CASES["all addresses"]
    sheet = plan(job(wanted, before), Setup(Track.MAIN, answers=False))
    told = [(write.slot.cv, write.address, write.moves_to) for write in sheet.writes]
    assert told == [
        (29, 1000, 3),
        (1, 3, 44),
        (17, 44, None),
        (18, 44, None),
        (19, 44, None),
        (29, 44, 1025),
    ]


def test_two_decoders_at_one_address_by_the_lock() -> None:
    """With the lock only the wanted decoder of two takes the writes; the other keeps its values."""
    before = {**BEFORE, "15": 2, "16": 1}
    wanted = {"1": 3, "2": 9, "257@16/2": 8}
    held = job(wanted, before)
    one, other = decoder(before), decoder({**BEFORE, "15": 2, "16": 2})
    untouched = dict(other.memory)
    sheet = plan(held, Setup(Track.MAIN, answers=False, is_shared=True))
    assert not any(isinstance(step, Do) and step.act is Act.UNPLUG_OTHER for step in sheet.steps)
    follow(sheet.steps, one, other, on_main=True)
    assert ends_as_wanted(held, one)
    assert other.memory == untouched


def test_two_decoders_at_one_address_without_the_lock() -> None:
    """Where the decoder has no lock the sheet begins with unplugging the other one."""
    before = {text: value for text, value in BEFORE.items() if text in ("1", "2", "29")}
    held = job({"2": 9}, before, PLAIN)
    one, other = decoder(before, has_lock=False), decoder(before, has_lock=False)
    sheet = plan(held, Setup(is_shared=True))
    assert isinstance(sheet.steps[0], Do)
    assert sheet.steps[0].act is Act.UNPLUG_OTHER
    follow(sheet.steps, one, other)
    assert ends_as_wanted(held, one)
    assert other.memory[Slot(2)] == 5


def test_a_lock_that_may_be_closed_is_opened() -> None:
    """What CV 15 holds is not known, and CV 16 is not 0: the lock is opened first."""
    before = {text: value for text, value in BEFORE.items() if text != "15"} | {"16": 3}
    held = job({"2": 9}, before)
    one = decoder({**before, "15": 1})
    assert follow(plan(held, Setup()).steps, one) == []
    assert ends_as_wanted(held, one)


def test_cv_19_and_cv_29_are_written_again_after_cv_1() -> None:
    """Only CV 1 is to change, but writing it clears a consist and the extended address."""
    sheet = plan(job({"1": 44}, BEFORE), Setup())
    assert [(w.slot.cv, w.value) for w in sheet.writes] == [(1, 44), (19, 5), (29, 38)]
    assert {w.reason for w in sheet.writes[1:]} == {Reason.AGAIN}


def test_unknown_cv_29_is_read_first_and_written_back() -> None:
    """What CV 29 holds is not known: it is read before CV 1 is written, and put back after."""
    before = {"1": 3, "19": 0}
    held = job({"1": 44}, before, PLAIN)
    one = decoder({**before, "29": 38}, has_lock=False)
    sheet = plan(held, Setup())
    assert follow(sheet.steps, one) == []
    assert one.memory == {Slot(1): 44, Slot(19): 0, Slot(29): 38}


def test_unknown_cv_29_of_a_silent_decoder_is_told() -> None:
    """A decoder that cannot answer cannot be read first; the sheet says what CV 1 may clear."""
    sheet = plan(job({"1": 44}, {"1": 3, "19": 0}, PLAIN), Setup(answers=False))
    assert any(isinstance(s, Do) and s.act is Act.CONFIGURATION_UNKNOWN for s in sheet.steps)


def test_unknown_pages_are_read_first_and_restored() -> None:
    """CVs 31 and 32 hold what they held before, though nobody had noted it."""
    before = {text: value for text, value in BEFORE.items() if text not in ("31", "32")}
    held, one = job({"257@16/2": 8}, before), decoder(BEFORE)
    assert follow(plan(held, Setup()).steps, one) == []
    assert (one.memory[Slot(31)], one.memory[Slot(32)]) == (1, 7)
    assert one.memory[parse_slot("257@16/2")] == 8


def test_pages_of_a_silent_decoder_stay_and_are_told() -> None:
    """Where CVs 31 and 32 are not known and cannot be read, the sheet says that they stay."""
    before = {text: value for text, value in BEFORE.items() if text not in ("31", "32")}
    sheet = plan(job({"257@16/2": 8}, before), Setup(answers=False))
    assert any(isinstance(step, Do) and step.act is Act.PAGE_STAYS for step in sheet.steps)


def carried_job(is_reset: bool) -> tuple[Job, dict[Slot, int], dict[Slot, int]]:
    """A job from carried values: wanted, saved and factory values of a small decoder."""
    held = resolver({"sources": {"h": ">=1"}, "settings": SETTINGS})
    version = held.profile.version("1")
    saved = {parse_slot(text): value for text, value in BEFORE.items()}
    origin = Origin(held, Saved(saved, dict.fromkeys(saved, version), {}), {})
    done = carry(origin, Goal(held, version, saved, is_reset, {}, {}))
    return job_of(done), saved, dict(done.present)


def test_a_reset_comes_first_and_everything_is_written_after_it() -> None:
    """CV 8 = 8 leaves factory values; the sheet then writes what differs from them."""
    held, saved, factory = carried_job(True)
    factory[Slot(29)] = factory.get(Slot(29), 0)
    one = SimulatedDecoder(dict(saved), factory)
    sheet = plan(held, Setup(is_reset=True))
    first = sheet.writes[0]
    assert (first.slot.cv, first.value, first.reason) == (8, 8, Reason.RESET)
    assert isinstance(sheet.steps[0], Do)
    assert sheet.steps[0].act is Act.KEEP_ALL
    assert follow(sheet.steps, one) == []
    wanted = {slot: value for slot, value in saved.items() if slot != Slot(29)}
    assert {slot: one.memory[slot] for slot in wanted} == wanted
    assert one.memory[Slot(29)] & 0x20 == 0x20


def test_without_being_asked_there_is_no_reset_and_no_power_cycle() -> None:
    """A factory reset and a power cycle stand on the sheet only when asked for."""
    held, _, _ = carried_job(False)
    everything = plan(replace(held, before={}, start={}), Setup())
    assert not any(w.slot.cv == 8 for w in everything.writes)
    assert not any(isinstance(s, Do) and s.act is Act.POWER_CYCLE for s in everything.steps)
    asked = plan(held, Setup(power_cycle=True))
    assert any(isinstance(s, Do) and s.act is Act.POWER_CYCLE for s in asked.steps)


def test_no_reset_on_the_main() -> None:
    """The reset by CV 8 is a matter of programming mode (RCN-226, section 2.1)."""
    with pytest.raises(InputError, match="programming mode"):
        plan(job({"2": 9}, BEFORE), Setup(Track.MAIN, is_reset=True))


def test_nothing_to_write_is_an_empty_sheet() -> None:
    """A decoder that holds everything already gets no steps at all."""
    assert plan(job({}, BEFORE), Setup()).steps == ()


@pytest.mark.parametrize("setup", SETUPS.values(), ids=SETUPS)
def test_each_line_names_its_rules(setup: Setup) -> None:
    """Every rule that a step names exists, with text and source; reads back are told by line."""
    sheet = plan(job(*CASES["everything"]), setup)
    for step in sheet.steps:
        assert set(step.rules) <= set(RULES)
        if isinstance(step, Write):
            assert step.read_back is setup.answers
            assert ("main-write-twice" in step.rules) is (setup.track is Track.MAIN)
    assert all(rule.text and rule.source for rule in RULES.values())
    assert {rule for rules in CAUTION_RULES.values() for rule in rules} <= set(RULES)
    assert Caution.HANDBOOK is sheet.cautions[0]


LOCKS: dict[str, tuple[int, bool | None, bool]] = {
    "numbered, the other not known": (7, None, True),
    "numbered, the other has another number": (7, True, True),
    "numbered, the other has the same number": (7, False, False),
    "0 as delivered, the other not known": (0, None, False),
    "0 as delivered, the other has a number": (0, True, True),
}


@pytest.mark.parametrize("case", LOCKS.values(), ids=LOCKS)
def test_the_lock_chooses_only_where_the_numbers_differ(
    case: tuple[int, bool | None, bool],
) -> None:
    """Two decoders with one lock number both take the writes, so one of them is unplugged.

    NMRA S-9.2.2 (2012-07), CVs 15-16: a decoder takes writes while both CVs hold one number.
    """
    identity, differ, is_chosen = case
    held = job({"2": 9}, {**BEFORE, "15": identity, "16": identity})
    sheet = plan(held, Setup(is_shared=True, locks_differ=differ))
    unplugs = [s for s in sheet.steps if isinstance(s, Do) and s.act is Act.UNPLUG_OTHER]
    opens = [s for s in sheet.writes if s.reason is Reason.UNLOCK]
    assert (not unplugs, bool(opens)) == (is_chosen, is_chosen)


def test_a_closed_lock_is_opened_also_where_it_does_not_choose() -> None:
    """With the other decoder unplugged the writes still need this one's lock open."""
    before = {**BEFORE, "15": 2, "16": 1}
    held, one = job({"2": 9}, before), decoder(before)
    sheet = plan(held, Setup(is_shared=True, locks_differ=False))
    assert sheet.writes[0].reason is Reason.UNLOCK
    assert follow(sheet.steps, one, on_main=False) == []
    assert ends_as_wanted(held, one)


@pytest.mark.parametrize("shared", [False, True])
def test_nothing_to_write_opens_no_lock(shared: bool) -> None:
    """A decoder that holds everything already is left alone, locked or not."""
    held = job({"2": 5}, {**BEFORE, "15": 2, "16": 1})
    assert plan(held, Setup(Track.MAIN, answers=False, is_shared=shared)).steps == ()


def test_what_cv_1_clears_is_told_right_before_it() -> None:
    """Where CVs 19 and 29 are not known and cannot be read, the warning stands beside CV 1."""
    held = job({"1": 44, "2": 9}, {"1": 3, "2": 5})
    steps = plan(held, Setup(answers=False)).steps
    at = next(n for n, s in enumerate(steps) if isinstance(s, Write) and s.slot == Slot(1))
    before = steps[at - 1]
    assert isinstance(before, Do)
    assert before.act is Act.CONFIGURATION_UNKNOWN
