"""Sheets line by line, and carried values of several settings at once, from tables of cases."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from cvlib.engine.account.check import Saved
from cvlib.engine.carry.carry import Goal, carry
from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.order import plan
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.carry.write_sheet import Do, Job, Note, Read, Setup, Step, Track, Verify, Write
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import UndecidedError
from cvlib.model.cv import WHOLE, Slot, parse_bits, parse_slot
from cvlib.model.profile import Risk
from engine.test_order import SETTINGS
from make import profile, read_cases, resolver, values

ORDERS = {id: case for id, _, case in read_cases("sheets")}
CARRIED = {id: case for id, _, case in read_cases("carried")}


def job(case: Mapping[str, Any]) -> Job:
    """The job of a case."""
    before, wanted = values(case["before"]), values(case["wanted"])
    keep = {parse_slot(text): parse_bits(bits) for text, bits in case.get("keep", {}).items()}
    writes = {slot: composed(slot, value, keep.get(slot, 0)) for slot, value in wanted.items()}
    sure = {slot: value for slot, value in wanted.items() if slot not in keep}
    has = {
        name: held
        for name, held in SETTINGS.items()
        if case.get("lock", True) or not name.startswith("lock")
    }
    held = resolver({"sources": {"h": ">=1"}, "settings": has})
    answers = held.at(held.profile.version("1"))
    factory = values(case.get("factory", {}))
    whole = {**before, **sure}
    about = held.profile.settings
    return Job(writes, whole, before, before, answers, factory=factory, settings=about)


def composed(slot: Slot, value: int, unread: int) -> Composed:
    """A CV of which some bits are to be kept."""
    known = BitsFrom(WHOLE & ~unread, value & ~unread, Whence.CARRIED, f"a.{slot.typed}")
    rest = (BitsFrom(unread, 0, Whence.ZERO),) if unread else ()
    return Composed(slot, value, (known, *rest))


def line(step: Step) -> str:
    """A step as the cases write it."""
    match step:
        case Write(bit=int(bit)):
            words = f"bit {step.slot.typed}.{bit} = {step.value}"
        case Write(value=None):
            words = f"write {step.slot.typed} = step {step.from_step}"
        case Write(from_step=int(noted)):
            words = f"write {step.slot.typed} = step {noted} with {step.value} of {step.mask}"
        case Write():
            words = f"write {step.slot.typed} = {step.value}"
        case Read():
            must = f" must be {step.expected}" if step.expected else ""
            words = f"read {step.slot.typed} {step.purpose}{must}"
        case Verify():
            words = f"verify {' '.join(due.slot.typed for due in step.due)}"
        case Note():
            words = f"note {step.matter} {step.slot.typed if step.slot else ''}"
        case Do():
            words = f"do {step.act}"
    is_told = isinstance(step, (Write, Read, Verify)) and step.address is not None
    at = f"@{step.address} " if is_told and not isinstance(step, (Note, Do)) else ""
    return at + words + (" if locked" if isinstance(step, Write) and step.if_locked else "")


@pytest.mark.parametrize("case", ORDERS.values(), ids=ORDERS)
def test_a_sheet_line_by_line(case: Mapping[str, Any]) -> None:
    """Nothing is missing from the sheet and nothing needless stands on it."""
    setup = Setup(
        Track.MAIN if case.get("main") else Track.PROGRAMMING,
        case.get("answers", True),
        writes_bits=case.get("bits", True),
        address=case.get("address"),
        usual_address=case.get("usual"),
    )
    assert [line(step) for step in plan(job(case), setup).steps] == case["expect"]


def test_an_address_that_nobody_knows_is_asked_for() -> None:
    """On the main without any word of the address there is no sheet."""
    held = job({"before": {"15": 0, "16": 0}, "wanted": {"2": 9}})
    with pytest.raises(UndecidedError, match="--address"):
        plan(held, Setup(Track.MAIN, answers=False))


@pytest.mark.parametrize("case", CARRIED.values(), ids=CARRIED)
def test_several_settings_at_once(case: Mapping[str, Any]) -> None:
    """Every CV that is composed, the bits of it that nobody knows, and what becomes of each."""
    made = profile(
        {
            "scheme": "number",
            "sources": {"old": "==1", "new": "==9", "test": {"kind": "bench", "in": "==5"}},
            "settings": case["settings"],
        }
    )
    risk = case.get("risk", {})
    marked = {
        name: replace(s, risk=frozenset(map(Risk, risk.get(name, ()))))
        for name, s in made.settings.items()
    }
    held = Resolver(replace(made, settings=marked))
    saved, version = values(case["saved"]), made.version("1")
    options = case.get("options", {})
    origin = Origin(held, Saved(saved, dict.fromkeys(saved, version), options), {})
    done = carry(origin, Goal(held, made.version(case["to"]), saved, False, options, {}))
    assert {s.typed: c.value for s, c in done.image.items()} == case["image"]
    unread = {s.typed: c.unread for s, c in done.image.items() if c.unread}
    assert unread == case.get("unread", {})
    assert {one.setting: one.kind for one in done.outcomes} == case["kinds"]
    assert sorted(slot.typed for slot in done.held_back) == case.get("held", [])
