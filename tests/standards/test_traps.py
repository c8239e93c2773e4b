"""Traps that the profiles of the store know; the cases are the table cases/traps.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from cvlib.api import open_store
from cvlib.engine.account.check import Checked, Saved, check
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.model.cv import Slot, parse_slot
from make import values

PATH = Path(__file__).parents[1] / "cases" / "traps.toml"
CASES = tomllib.loads(PATH.read_text(encoding="utf-8"))["case"]
STORE = open_store()
CONFIGURATION, HIGH, LOW = Slot(29), Slot(17), Slot(18)
CHOSEN = (0, 6, 8, 16, 34, 63)
"""Values of CV 29: nothing on, each of bits 2 to 5 on and off, everything on."""


def checked(profile: str, firmware: str, saved: dict[Slot, int]) -> Checked:
    """The check of bare values at a firmware."""
    resolver = Resolver(STORE.profile(profile))
    return check(resolver, resolver.profile.version(firmware), Saved(saved, {}, {}))


def slots(text: str) -> list[Slot]:
    """The CVs of a text such as ``5, 17-18`` or ``257-259@16/5``."""
    found = []
    for part in text.split(", "):
        span, _, page = part.partition("@")
        first, _, last = span.partition("-")
        numbers = range(int(first), int(last or first) + 1)
        found += [parse_slot(f"{cv}@{page}" if page else str(cv)) for cv in numbers]
    return found


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_traps(case: dict[str, Any]) -> None:
    """A check tells exactly the listed traps, with the CVs that make them."""
    saved = values(case["saved"])
    if "table" in case:
        saved |= dict.fromkeys(slots("67-94"), case["table"])
    findings = checked(case["profile"], case["firmware"], saved).findings
    told = {one.name: one for one in findings if one.code == "trap"}
    found = {
        name: {parse_slot(f"{held.cv}@{held.page}" if held.page else str(held.cv)) for held in bits}
        for name, bits in ((name, one.bits) for name, one in told.items())
    }
    assert found == {name: set(slots(text)) for name, text in case["traps"].items()}
    severity = Severity.NOTE if case.get("notes") else Severity.WARNING
    assert all(one.severity is severity for one in told.values())


def test_every_trap_of_the_definitions_has_a_case() -> None:
    """Each rule that is a trap is told by some case."""
    told = {(case["profile"], name) for case in CASES for name in case["traps"]}
    rules = ((name, rule) for name in STORE.ids() for rule in STORE.profile(name).rules)
    every = {(name, rule.id) for name, rule in rules if rule.trap}
    assert {name for _, name in told} == {name for _, name in every}
    assert told <= every


@pytest.mark.parametrize("profile", STORE.ids())
def test_factory_values_make_no_trap(profile: str) -> None:
    """At every release, factory values are no trap, whatever CV 29 chooses.

    But for a factory that leaves the long address at 0: to choose that one is a trap.
    """
    resolver = Resolver(STORE.profile(profile))
    for release in resolver.profile.releases:
        factory = {
            field.slot: 0
            for answer in resolver.at(release.version).values()
            if answer.place is not None and answer.place.default is not None
            for field in answer.place.fields
        }
        for answer in resolver.at(release.version).values():
            place = answer.place
            if place is not None and place.default is not None:
                for field, part in zip(place.fields, place.default, strict=True):
                    shift = (field.mask & -field.mask).bit_length() - 1
                    factory[field.slot] = factory[field.slot] & ~field.mask | part << shift
        for chosen in CHOSEN:
            saved = Saved(factory | {CONFIGURATION: chosen}, {}, {})
            found = check(resolver, release.version, saved)
            told = [one.name for one in found.findings if one.code == "trap"]
            is_unset = factory.get(HIGH) == 192 and factory.get(LOW) == 0 and chosen >> 5 & 1
            expected = ["long-address-below-128"] if is_unset else []
            assert told == expected, (str(release.version), chosen)
