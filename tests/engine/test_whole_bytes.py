"""Bytes of fields with values that stand for something as a whole: their bits then mean nothing.

That a function map marks what is not used by a whole byte of 255 is common practice, no source; of
a byte that is a number it is a rule of RCN-227 (2018-12-02), section 2, byte 4.
"""

from __future__ import annotations

import pytest

from cvlib.engine.account.cells import State, cell_of
from cvlib.engine.account.check import check
from cvlib.engine.account.claims import Basis, Layout
from cvlib.engine.account.meaning import meanings
from cvlib.engine.bench.sheets import sheet_of
from cvlib.engine.carry.carry import carry
from cvlib.engine.carry.carry_outcomes import Converted, Dropped, Moved
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.model.cv import WHOLE, Slot
from engine.test_carry import done
from make import resolver, saved, values

BYTE = {
    "key.entry": [
        {"at": "60", "in": "==1", "kind": "fields", "names": {"255": "not used"}, "default": 255},
        {"at": "70", "in": "==2", "kind": "fields", "names": {"33": "not used"}},
    ],
    "key.function": [
        {"at": "60:0-4", "in": "==1", "range": [0, 28]},
        {"at": "70:0-4", "in": "==2", "range": [0, 28]},
    ],
    "key.inverted": [
        {"at": "60:5", "in": "==1", "kind": "switch"},
        {"at": "70:5", "in": "==2", "kind": "switch"},
    ],
    "key.dimmed": {
        "at": "61",
        "in": ">=1, <=2",
        "kind": "switch",
        "when": {"key.inverted": [True]},
    },
}


def decoder() -> Resolver:
    """A decoder whose key has a byte of two fields, with the firmwares 1 and 2."""
    return resolver({"scheme": "number", "sources": {"h": ">=1, <=2"}, "settings": BYTE})


def layout(**cvs: int) -> Layout:
    """The owners of the bits of some CVs at firmware 1."""
    held = decoder()
    table = {name.removeprefix("cv"): value for name, value in cvs.items()}
    return Layout(held, held.profile.version("1"), values(table), {})


@pytest.mark.parametrize(("byte", "owner"), [(255, "key.entry"), (33, "key.function")])
def test_the_bits_belong_to_the_byte_where_it_has_a_name(byte: int, owner: str) -> None:
    """Bit 0 is the key's number, unless the whole byte says that the entry is not used."""
    held = layout(cv60=byte).owner(Slot(60), 0)
    assert held.names == (owner,)
    assert held.basis is Basis.SETTING


def test_every_bit_is_accounted_for_once() -> None:
    """One account over the whole byte, fine: 31 is no key, but nobody asks that here."""
    held = decoder()
    checked = check(held, held.profile.version("1"), saved(held.profile, {"60": 255}))
    assert [(one.mask, one.verdict) for one in checked.accounts] == [(WHOLE, "fine")]
    assert not [one for one in checked.findings if one.severity is not Severity.NOTE]
    (meaning,) = meanings(checked).values()
    assert meaning.words == "key.entry: not used"


def test_a_byte_without_a_name_is_read_by_its_bits() -> None:
    """31 is no key, and bits 6 and 7 belong to nobody."""
    held = decoder()
    checked = check(held, held.profile.version("1"), saved(held.profile, {"60": 127}))
    assert sum(one.mask for one in checked.accounts) == WHOLE
    assert {"out-of-range", "reserved-bits"} <= {one.code for one in checked.findings}


def test_fields_of_such_a_byte_are_not_there() -> None:
    """Nor is what exists only while one of them has a value."""
    held = layout(cv60=255, cv61=1)
    assert cell_of(held, "key.inverted").state is State.ABSENT
    assert held.active(held.answers["key.dimmed"].places()[0]) is False
    assert layout(cv60=33, cv61=1).active(held.answers["key.dimmed"].places()[0]) is True


def test_the_name_is_carried_over_as_a_whole() -> None:
    """255 there is 33 here: the same name, and no field is carried."""
    carried = done(decoder(), {"60": 255})
    assert isinstance(carried.setting("key.entry"), Converted)
    assert carried.image[Slot(70)].value == 33
    assert carry(carried.origin, carried.goal).image[Slot(70)].value == 33


def test_fields_are_carried_bit_by_bit() -> None:
    """Key 2 goes over as key 2; the byte's factory value, a name, does not fill its other bits."""
    carried = done(decoder(), {"60": 2})
    assert isinstance(carried.setting("key.function"), Moved)
    assert carried.image[Slot(70)].value == 2


def test_fields_that_would_come_to_a_name_are_not_written() -> None:
    """Key 1, inverted, is 33, which there means "not used"."""
    carried = done(decoder(), {"60": 33})
    outcomes = [carried.setting(name) for name in ("key.function", "key.inverted")]
    assert all(isinstance(outcome, Dropped) for outcome in outcomes)
    assert Slot(70) not in carried.image


def test_a_read_may_show_the_name() -> None:
    """After a reset the byte is 255; any time it is legal, though 31 is no key."""
    held = decoder()
    profile = held.profile
    chosen = {name: answer.place for name, answer in held.at(profile.version("1")).items()}
    expected = sheet_of(profile.settings, chosen)[Slot(60)]
    assert expected.default == expected.default_mask == 255
    assert expected.legal >> 255 & 1
    assert not expected.legal >> 254 & 1
