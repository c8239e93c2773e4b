"""What becomes of single values, case by case, and of values that hang together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

import pytest

from cvlib.engine.account.check import Saved
from cvlib.engine.carry.carry import Carried, Goal, carry
from cvlib.engine.carry.carry_outcomes import Disputed, Dropped, New, Refused
from cvlib.engine.carry.choosing import choices_for
from cvlib.engine.carry.compose_bytes import Whence
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.carry.write_sheet import job_of
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.model.cv import parse_slot
from make import read_cases, resolver, values

CASES = {id: case for id, _, case in read_cases("carry")}


def done(
    held: Resolver,
    saved: Mapping[str, int],
    *,
    start: str | Mapping[str, str] = "1",
    to: str = "2",
    choose: Iterable[tuple[str, str]] = (),
) -> Carried:
    """Values saved for some firmware carried to another one of the same decoder."""
    found = values(saved)
    firmware = dict.fromkeys(saved, start) if isinstance(start, str) else start
    versions = {parse_slot(text): held.profile.version(at) for text, at in firmware.items()}
    states = [held.at(version) for version in (held.profile.version(to), *versions.values())]
    order = {slot: at for at, slot in enumerate(found)}
    origin = Origin(held, Saved(found, versions, {}), order)
    choices = choices_for(choose, states)
    return carry(origin, Goal(held, held.profile.version(to), found, False, {}, choices))


def two(settings: Mapping[str, Any]) -> Resolver:
    """A decoder with the firmwares 1 and 2, both covered."""
    return resolver({"scheme": "number", "sources": {"h": ">=1, <=2"}, "settings": dict(settings)})


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_each_outcome(case: Mapping[str, Any]) -> None:
    """One saved value, its places at both firmwares, and what becomes of it."""
    places = [{**case[key], "in": f"=={at}"} for key, at in (("old", 1), ("new", 2)) if key in case]
    settings: dict[str, Any] = {"a.one": places}
    if "other" in case:
        settings["b.other"] = [{**case["other"], "in": "==1"}]
    carried = done(two(settings), case["saved"])
    outcome, expect = carried.setting("a.one"), case["expect"]
    assert outcome is not None
    assert outcome.kind == expect["outcome"]
    for key in ("wanted", "got"):
        figure = getattr(outcome, key, None)
        assert figure == (None if key not in expect else Decimal(str(expect[key])))
    assert list(getattr(outcome, "lost", ())) == expect.get("lost", [])
    if "reason" in expect:
        assert isinstance(outcome, (Dropped, Refused))
        assert outcome.reason.value == expect["reason"]
    written = {slot.typed: held.value for slot, held in carried.image.items()}
    assert written == expect.get("cvs", {})
    if "offered" in expect:
        assert {s.typed: held.value for s, held in carried.offered.items()} == expect["offered"]


def test_one_cv_is_composed_from_all_its_settings() -> None:
    """Settings in one CV: carried, offered and untouched bits each say where they are from."""
    held = two(
        {
            "a.left": [
                {"at": "40", "range": [0, 3], "in": "==1"},
                {"at": "50:0-1", "range": [0, 3], "in": "==2"},
            ],
            "a.right": [
                {"at": "41", "kind": "switch", "in": "==1"},
                {"at": "50:7", "kind": "switch", "in": "==2"},
            ],
            "a.fresh": [{"at": "50:2", "kind": "switch", "default": 1, "in": "==2"}],
            "a.byte": [{"at": "50", "kind": "fields", "default": 8, "in": "==2"}],
        }
    )
    carried = done(held, {"40": 2, "41": 1})
    composed = carried.image[parse_slot("50")]
    assert composed.value == 2 + 4 + 8 + 128
    whence = {part.mask: (part.whence, part.setting) for part in composed.parts}
    assert whence == {
        0x03: (Whence.CARRIED, "a.left"),
        0x04: (Whence.OFFERED, "a.fresh"),
        0x78: (Whence.DEFAULT, "a.byte"),
        0x80: (Whence.CARRIED, "a.right"),
    }


def test_untouched_bits_keep_their_saved_value() -> None:
    """Bits of a CV that nothing at either firmware uses stay as they were saved."""
    place = {"at": "40:0-1", "range": [0, 3]}
    composed = done(two({"a.left": place}), {"40": 0xF2}).image[parse_slot("40")]
    assert composed.value == 0xF2
    assert {part.whence for part in composed.parts} == {Whence.CARRIED, Whence.SAVED}


ONE_CV = {
    "documented alike, another value": ({}, {}, {"40": 200, "41": 9}, {"a.first", "a.second"}, {}),
    "documented alike, the same value": ({}, {}, {"40": 9, "41": 9}, set(), {"50": 9}),
    "one place proved on the bench": (
        {"cites": ["b works"]},
        {},
        {"40": 200, "41": 9},
        {"a.second"},
        {"50": 200},
    ),
    "one place without effect": (
        {},
        {"cites": ["b no-effect"]},
        {"40": 200, "41": 9},
        {"a.second"},
        {"50": 200},
    ),
}


@pytest.mark.parametrize("case", ONE_CV.values(), ids=ONE_CV)
def test_two_settings_never_meet_on_one_cv_silently(case: Any) -> None:
    """The better known place keeps the bits, of two alike neither is written; both are told."""
    first, second, saved, refused, written = case
    held = resolver(
        {
            "scheme": "number",
            "sources": {"h": ">=1, <=2", "b": {"kind": "bench", "in": "==2"}},
            "settings": {
                "a.first": [{"at": "40", "in": "==1"}, {"at": "50", "in": "==2", **first}],
                "a.second": [{"at": "41", "in": "==1"}, {"at": "50", "in": "==2", **second}],
            },
        }
    )
    carried = done(held, saved)
    outcomes = [one for one in carried.outcomes if isinstance(one, (Refused, Disputed))]
    assert {one.setting for one in outcomes} == refused
    assert {one.reason.value for one in outcomes if isinstance(one, Refused)} <= {"taken"}
    assert {s.typed: h.value for s, h in carried.image.items()} == written


def test_a_choice_that_meets_another_setting_keeps_the_cv() -> None:
    """The chosen place of one setting is the CV of another: the choice is followed, and told."""
    held = resolver(
        {
            "scheme": "number",
            "sources": {"old": "==1", "new": "==9", "b": {"kind": "bench", "in": "==5"}},
            "settings": {
                "a.moves": [{"at": "40", "in": "==1"}, {"at": "41", "in": "==9"}],
                "a.other": [{"at": "39", "in": "==1"}, {"at": "40", "in": "==9"}],
            },
        }
    )
    carried = done(held, {"40": 5, "39": 7}, to="5", choose=[("a.moves", "40"), ("a.other", "40")])
    kinds = {one.setting: one.kind for one in carried.outcomes}
    assert kinds == {"a.moves": "refused", "a.other": "refused"}, "both were chosen"
    carried = done(held, {"40": 5, "39": 7}, to="5", choose=[("a", "older")])
    assert {s.typed: h.value for s, h in carried.image.items()} == {"39": 7, "40": 5}


def test_stale_bits_are_not_kept() -> None:
    """Bits that another setting used before do not stay in a CV that is written anew."""
    held = two(
        {
            "a.gone": [{"at": "40:4-7", "in": "==1"}],
            "a.stays": [{"at": "40:0-3"}],
        }
    )
    composed = done(held, {"40": 0xF2}).image[parse_slot("40")]
    assert composed.value == 0x02


def test_only_what_differs_is_written_unless_everything_is_asked_for() -> None:
    """A CV that holds its new value already is left out; with everything it is on the sheet."""
    moves = [{"at": "41", "in": "==1"}, {"at": "42", "in": "==2"}]
    held = two({"a.one": {"at": "40"}, "a.two": moves})
    carried = done(held, {"40": 1, "41": 2})
    assert [slot.typed for slot in job_of(carried).writes] == ["42"]
    assert job_of(carried).unchanged == 1
    assert [slot.typed for slot in job_of(carried, everything=True).writes] == ["40", "42"]


def test_a_value_of_several_cvs_is_written_whole() -> None:
    """Of 1 000 ms only the low byte differs from what CV 45 holds; both are on the sheet."""
    held = two(
        {
            "a.two": [{"at": "40, 41", "in": "==1"}, {"at": "44, 45", "in": "==2"}],
            "a.before": [{"at": "44", "in": "==1"}],
        }
    )
    carried = done(held, {"40": 3, "41": 232, "44": 3})
    writes = {slot.typed: one.value for slot, one in job_of(carried).writes.items()}
    assert writes == {"44": 3, "45": 232}


LONG: dict[str, Any] = {
    "address.short": {"at": "1", "kind": "short", "default": 3},
    "address.extended": {"at": "17, 18", "kind": "extended"},
    "configuration.extended-address": {"at": "29:5", "kind": "switch"},
}
OTHER: dict[str, dict[str, Any]] = {
    "by halves": {
        "address.short": {"at": "1", "kind": "short", "default": 3},
        "address.extended-high": {"at": "17", "default": 0, "names": {"0": "none"}},
        "address.extended-low": {"at": "18", "default": 0},
        "configuration.long": {"at": "29", "kind": "flags", "names": {"5": "long address"}},
    },
    "by another name for the bit": {
        **LONG,
        "configuration.extended-address": {
            "at": "29:5",
            "kind": "choice",
            "names": {"0": "CV 1", "1": "CVs 17 and 18"},
        },
    },
}


@pytest.mark.parametrize("there", OTHER.values(), ids=OTHER)
def test_a_long_address_goes_over_whatever_its_parts_are_called(there: dict[str, Any]) -> None:
    """CVs 17, 18 and bit 5 of CV 29 are the address by standard: NMRA S-9.2.2 (2012-07)."""
    old, new = two(LONG), two(there)
    first = old.profile.version("1")
    saved = values({"17": 195, "18": 232, "29": 0x22})
    origin = Origin(old, Saved(saved, dict.fromkeys(saved, first), {}), {})
    carried = carry(origin, Goal(new, first, {}, False, {}, {}))
    assert {s.typed: held.value for s, held in carried.image.items()} == {
        "17": 195,
        "18": 232,
        "29": 0x20,
    }
    assert carried.image[parse_slot("29")].unread == 0xDF
    assert carried.lost_address is None
    assert {one.kind for one in carried.outcomes} <= {"same", "moved", "new"}


def test_a_long_address_without_room_is_told() -> None:
    """A decoder with CV 1 alone cannot answer at 1000, and bit 5 is not set for it."""
    old = two(LONG)
    bit = "configuration.extended-address"
    new = two({"address.short": LONG["address.short"], bit: LONG[bit]})
    first = old.profile.version("1")
    saved = values({"1": 8, "17": 195, "18": 232, "29": 0x20})
    origin = Origin(old, Saved(saved, dict.fromkeys(saved, first), {}), {})
    carried = carry(origin, Goal(new, first, {}, False, {}, {}))
    assert {s.typed: held.value for s, held in carried.image.items()} == {"1": 8}
    assert carried.lost_address == 1000
    assert "address" in {one.matter.value for one in job_of(carried).matters}


GAP: dict[str, Any] = {
    "scheme": "number",
    "sources": {"old": "==1", "new": "==9"},
    "settings": {
        "a.moves": [{"at": "40", "in": "==1"}, {"at": "41", "in": "==9"}],
        "a.goes": [{"at": "42", "in": "==1"}],
        "a.stays": [{"at": "43"}],
    },
}


def test_disputed_settings_wait_for_a_choice() -> None:
    """Between two handbooks that differ nothing is written, and both candidates are told."""
    carried = done(resolver(GAP), {"40": 5, "42": 6, "43": 7}, to="5")
    moves, goes = carried.setting("a.moves"), carried.setting("a.goes")
    assert isinstance(moves, Disputed)
    assert [held.parts for held in moves.candidates] == [(5,), (5,)]
    assert isinstance(goes, Disputed)
    assert goes.candidates[1].place is None
    assert [slot.typed for slot in carried.image] == ["43"]


@pytest.mark.parametrize(
    ("choice", "written"),
    [
        ("a=newer", {"41": 5, "43": 7}),
        ("a=older", {"40": 5, "42": 6, "43": 7}),
        ("a.moves=41", {"41": 5, "43": 7}),
        ("a.moves=40", {"40": 5, "43": 7}),
        ("a.goes=none", {"43": 7}),
        ("a.goes=42", {"42": 6, "43": 7}),
        ("a=none", {"43": 7}),
        ("a.moves=40 a=newer", {"40": 5, "43": 7}),
    ],
)
def test_a_choice_settles_a_dispute(choice: str, written: dict[str, int]) -> None:
    """A side, a CV or "none", for one setting or a whole group, decides what is written.

    A group's choice leaves those alone that do not have it; the choice for one setting goes first.
    """
    pairs = [(name, said) for name, _, said in (one.partition("=") for one in choice.split())]
    saved = {"40": 5, "42": 6, "43": 7}
    carried = done(resolver(GAP), saved, to="5", choose=pairs)
    assert {slot.typed: held.value for slot, held in carried.image.items()} == written


@pytest.mark.parametrize(
    ("name", "choice", "said"),
    [
        ("a.moves", "44", "no choice for a.moves. Choose older or newer or 40 or 41"),
        ("a.moves", "none", "Choose older or newer or 40 or 41"),
        ("a.stays", "newer", "a.stays is not disputed"),
        ("a.move", "newer", 'Did you mean "a.moves"'),
        ("b", "newer", 'No setting or group "b"'),
    ],
)
def test_a_choice_that_is_none_is_refused(name: str, choice: str, said: str) -> None:
    """A wrong choice names the right ones, a wrong name the nearest right one."""
    with pytest.raises(InputError, match=said):
        done(resolver(GAP), {"40": 5}, to="5", choose=[(name, choice)])


def test_a_disputed_saved_value_waits_for_a_choice_too() -> None:
    """What was saved for a firmware between the handbooks is not read by guess."""
    saved = {"40": 5, "41": 8}
    carried = done(resolver(GAP), saved, start="5", to="9")
    outcome = carried.setting("a.moves")
    assert isinstance(outcome, Disputed)
    assert outcome.old is None
    assert [held.parts for held in outcome.candidates] == [(5,), (8,)]
    older = done(resolver(GAP), saved, start="5", to="9", choose=[("a.moves", "older")])
    assert {slot.typed: held.value for slot, held in older.image.items()} == {"41": 5}


def test_of_two_saved_values_the_later_one_is_taken() -> None:
    """A setting saved for two firmwares at two CVs: the later value, and the earlier is told."""
    held = two({"a.one": [{"at": "40", "in": "==1"}, {"at": "41", "in": "==2"}]})
    carried = done(held, {"40": 5, "41": 8}, start={"40": "1", "41": "2"})
    assert {slot.typed: held.value for slot, held in carried.image.items()} == {"41": 8}
    assert [one.old.parts for one in carried.superseded] == [(5,)]
    turned = done(held, {"41": 8, "40": 5}, start={"40": "1", "41": "2"})
    assert {slot.typed: held.value for slot, held in turned.image.items()} == {"41": 5}


WHEN: dict[str, Any] = {
    "out.type": [
        {"at": "40", "kind": "choice", "names": {"0": "lamp", "1": "coil"}, "in": "==1"},
        {"at": "50", "kind": "choice", "names": {"0": "coil", "1": "lamp"}, "in": "==2"},
    ],
    "out.level": [
        {"at": "41", "when": {"out.type": ["lamp"]}, "in": "==1"},
        {"at": "51", "when": {"out.type": ["lamp"]}, "in": "==2"},
    ],
    "out.pulse": [
        {"at": "41", "when": {"out.type": ["coil"]}, "in": "==1"},
        {"at": "51", "when": {"out.type": ["coil"]}, "in": "==2"},
    ],
}


@pytest.mark.parametrize(("type", "name", "new"), [(0, "out.level", 1), (1, "out.pulse", 0)])
def test_conditions_are_asked_on_both_sides(type: int, name: str, new: int) -> None:
    """What a CV means is decided by another setting, before and after."""
    carried = done(two(WHEN), {"40": type, "41": 77})
    assert {s.typed: held.value for s, held in carried.image.items()} == {"50": new, "51": 77}
    assert carried.setting(name) is not None


def test_a_value_whose_meaning_is_not_decided_is_refused() -> None:
    """Without the deciding value nothing is passed on, and the reason names it."""
    carried = done(two(WHEN), {"41": 77})
    for name in ("out.level", "out.pulse"):
        outcome = carried.setting(name)
        assert isinstance(outcome, Refused)
        assert outcome.needs == ("out.type",)
    assert not carried.image


def test_a_place_that_another_value_puts_to_sleep_drops_its_value() -> None:
    """The goal keeps the setting only for lamps, and the output is a coil."""
    sleeping = dict(WHEN)
    sleeping["out.level"] = [{"at": "41", "in": "==1"}, WHEN["out.level"][1]]
    sleeping.pop("out.pulse")
    outcome = done(two(sleeping), {"40": 1, "41": 77}).setting("out.level")
    assert isinstance(outcome, Dropped)
    assert outcome.reason.value == "asleep"


def test_rules_are_held_against_the_new_values() -> None:
    """A rule that the carried values break is told with its settings and CVs."""
    held = resolver(
        {
            "scheme": "number",
            "sources": {"h": ">=1, <=2"},
            "settings": {
                "a.crawl": [
                    {"at": "40", "in": "==1"},
                    {"at": "50", "range": [20, 99], "in": "==2"},
                ],
                "a.stop": [{"at": "41", "in": "==1"}, {"at": "51", "in": "==2"}],
            },
            "rules": [{"id": "order", "order": ["a.crawl", "a.stop"]}],
        }
    )
    carried = done(held, {"40": 5, "41": 10})
    (finding,) = carried.findings
    assert (finding.code, finding.name) == ("rule", "order")
    assert [(bits.cv, bits.value) for bits in finding.bits] == [(50, 20), (51, 10)]


def test_a_faulty_place_that_a_disputed_setting_may_own_is_held_back() -> None:
    """A test found that the CV does nothing for one setting, and it may belong to another."""
    held = resolver(
        {
            "scheme": "number",
            "sources": {"old": "==1", "new": "==9", "b": {"kind": "bench", "in": "==5"}},
            "settings": {
                "a.one": [
                    {"at": "40", "in": "==1"},
                    {"at": "41", "in": "==9", "cites": ["b no-effect"]},
                ],
                "a.two": [{"at": "41", "in": "==1"}, {"at": "42", "in": "==9"}],
            },
        }
    )
    carried = done(held, {"40": 5, "41": 6}, to="5")
    assert isinstance(carried.setting("a.one"), Disputed)
    assert not job_of(carried, everything=True).writes


def test_a_setting_new_to_the_goal_offers_its_factory_value() -> None:
    """New settings are told with their factory value, and written only when asked for."""
    held = two({"a.one": {"at": "40"}, "a.new": [{"at": "41", "default": 3, "in": "==2"}]})
    carried = done(held, {"40": 1})
    outcome = carried.setting("a.new")
    assert isinstance(outcome, New)
    assert outcome.new is not None
    assert outcome.new.parts == (3,)
    assert not job_of(carried).writes
    assert [slot.typed for slot in job_of(carried, everything=True).writes] == ["40", "41"]


def test_a_second_number_of_a_cv_is_the_same_cv() -> None:
    """What is saved under the second number of a CV is carried as that CV."""
    held = two({"a.one": [{"at": "40", "also-at": 540, "in": "==1"}, {"at": "44", "in": "==2"}]})
    assert {s.typed: h.value for s, h in done(held, {"540": 9}).image.items()} == {"44": 9}


def test_to_another_decoder_by_the_names_of_settings() -> None:
    """Settings of the same name go over; the others are dropped, and nothing is taken as known."""
    old = two({"a.one": {"at": "40", "scale": 2, "unit": "cm"}, "a.own": {"at": "41"}})
    new = two({"a.one": {"at": "60", "unit": "cm"}, "a.else": {"at": "61", "default": 1}})
    first = old.profile.version("1")
    saved = values({"40": 5, "41": 6})
    origin = Origin(old, Saved(saved, dict.fromkeys(saved, first), {}), {})
    carried = carry(origin, Goal(new, first, {}, False, {}, {}))
    kinds = {outcome.setting: outcome.kind for outcome in carried.outcomes}
    assert kinds == {"a.one": "converted", "a.own": "dropped", "a.else": "new"}
    assert {s.typed: h.value for s, h in job_of(carried).writes.items()} == {"60": 10}
