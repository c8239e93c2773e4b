"""Marks alone decide what is tried, cautioned against and matched; names and words decide nothing.

"common practice, no source": which harm a mark keeps away from is laid down in docs/cautions.md.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cvlib.engine.account.claims import Layout
from cvlib.engine.bench.harm import Harm, harm_of
from cvlib.engine.bench.probe import probe
from cvlib.engine.carry.cautions import risk_cautions
from cvlib.engine.carry.compose_bytes import BitsFrom, Composed, Whence
from cvlib.engine.carry.order import plan
from cvlib.engine.carry.write_sheet import Caution, Job, Setup, Track, Write
from cvlib.engine.compare.compare import Member
from cvlib.engine.compare.match import HARMLESS, Missing, match
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model import conditions
from cvlib.model.conditions import Condition, Rule, When
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.profile import Place, Profile, Risk, Setting
from make import resolver

STORE = open_store()
FIRMWARES = [
    ("ferrow/lark-8", "3.0.8"),
    ("ilex-works/heron", "50"),
    ("ferrow/wren-2", "1.3"),
]
WORDS = ("smoke", "heater", "coil", "coupler", "motor", "speed", "address", "lock", "lamp", "note")
_PART = re.compile(r"([^.\[\]]+)")

Rename = Callable[[str], str]


def renamed(profile: Profile, dice: random.Random) -> tuple[Profile, dict[str, str]]:
    """The profile with other ids, titles and helps, and the old id for each new one.

    Each part of an id becomes another one, so that groups stay groups and repeats repeats.
    """
    parts: dict[str, str] = {}

    def name(id: str) -> str:
        def one(found: re.Match[str]) -> str:
            if found[1].isdigit():
                return found[1]
            word = f"{dice.choice(WORDS)}-{len(parts)}"
            return parts.setdefault(found[1], word)

        return _PART.sub(one, id)

    def text() -> str:
        return " ".join(dice.choices(WORDS, k=4))

    made = {
        name(id): replace(
            held,
            id=name(id),
            title=text(),
            help=text(),
            places=tuple(_place(place, name) for place in held.places),
        )
        for id, held in profile.settings.items()
    }
    rules = tuple(_rule(rule, name) for rule in profile.rules)
    about = {
        id: replace(
            held, about=tuple(map(name, held.about)), without=tuple(map(name, held.without))
        )
        for id, held in profile.sources.items()
    }
    other = replace(profile, settings=made, rules=rules, sources=about)
    return other, {name(id): id for id in profile.settings}


def _place(place: Place, name: Rename) -> Place:
    when = tuple(When(name(one.setting), one.values, one.test) for one in place.when)
    return replace(place, when=when)


def _rule(rule: Rule, name: Rename) -> Rule:
    def told(held: Iterable[Condition]) -> tuple[Condition, ...]:
        return tuple(
            replace(
                one,
                setting=name(one.setting),
                operand=tuple(map(name, map(str, one.operand)))
                if one.test is conditions.Test.SAME_AS
                else one.operand,
            )
            for one in held
        )

    return replace(
        rule,
        given=told(rule.given),
        requires=told(rule.requires),
        conflicts=told(rule.conflicts),
        order=tuple(map(name, rule.order)),
        sum_of=tuple(map(name, rule.sum_of)),
    )


def tried(profile: Profile, version: str, was: Mapping[str, str]) -> set[object]:
    """What is written on the bench, in which order of cautions, by the old ids."""
    held = Resolver(profile)
    found = probe(held, profile.version(version), can_read=False)
    return {
        (was[test.setting], test.trials, test.cautions, test.needs_motor) for test in found.tests
    }


@pytest.mark.parametrize(("id", "version"), FIRMWARES)
def test_names_and_words_do_not_change_what_is_tried(id: str, version: str) -> None:
    """The same values at the same CVs with the same cautions, whatever settings are called."""
    profile = STORE.profile(id)
    expected = tried(profile, version, {name: name for name in profile.settings})
    assert expected
    for seed in range(2):
        other, was = renamed(profile, random.Random(f"{id}{seed}"))
        assert tried(other, version, was) == expected


def sheet_of(profile: Profile, version: str, setup: Setup) -> tuple[object, ...]:
    """The cautions and the order of the CVs where every CV of a decoder is written."""
    held = Resolver(profile)
    answers = held.at(profile.version(version))
    owners: dict[Slot, list[str]] = {}
    for name, answer in answers.items():
        if answer.place is not None and answer.place.coding.kind not in ("area", "fields"):
            for field in answer.place.fields:
                owners.setdefault(field.slot, []).append(name)
    writes = {
        slot: Composed(
            slot, 1, tuple(BitsFrom(WHOLE, 1, Whence.CARRIED, name) for name in sorted(names))
        )
        for slot, names in owners.items()
    }
    values = dict.fromkeys(writes, 1)
    made = plan(Job(writes, values, {}, {}, answers, settings=profile.settings), setup)
    return made.cautions, tuple(step.slot for step in made.steps if isinstance(step, Write))


@pytest.mark.parametrize(
    "setup", [Setup(), Setup(Track.MAIN, answers=False, is_shared=True, address=3)]
)
@pytest.mark.parametrize("id", STORE.ids())
def test_names_and_words_do_not_change_a_sheet(id: str, setup: Setup) -> None:
    """Cautions, lock and addresses stand where they stood, whatever settings are called."""
    profile = STORE.profile(id)
    version = str(profile.releases[-1].version)
    expected = sheet_of(profile, version, setup)
    other, _ = renamed(profile, random.Random(id))
    assert sheet_of(other, version, setup) == expected


DRIVES: dict[str, tuple[str, tuple[str, ...]]] = {
    "the Heron's drive": ("ilex-works/heron", ("drive.", "shift.ratio")),
    "the Nightjar's regulation": ("ilex-works/nightjar-s", ("regulation.",)),
    "the Lark's motor": ("ferrow/lark-8", ("motor.", "speed.", "momentum.a")),
    "the open motor decoder": ("open/rp2350-motor", ("motor.", "speed")),
}


@pytest.mark.parametrize(("id", "starts"), DRIVES.values(), ids=DRIVES)
def test_what_drives_a_motor_has_its_cautions(id: str, starts: tuple[str, ...]) -> None:
    """Under whatever name a maker keeps it."""
    found = [one for name, one in STORE.profile(id).settings.items() if name.startswith(starts)]
    ours = [one for one in found if one.risk is not None]
    assert len(ours) > 3
    for one in ours:
        assert set(risk_cautions(one.risk)) >= {Caution.MOVES, Caution.MOTOR}, one.id


def test_what_stops_a_loco_is_cautioned_against() -> None:
    """It moves; nothing gets hot by it."""
    for name, one in STORE.profile("ilex-works/heron").settings.items():
        if name.startswith("stop."):
            assert risk_cautions(one.risk) == (Caution.MOVES, Caution.STOPPING)


def test_what_nobody_looked_at_has_every_caution_and_what_is_harmless_none() -> None:
    """Not known is not harmless."""
    assert set(risk_cautions(None)) == {
        Caution.MOVES,
        Caution.STOPPING,
        Caution.MOTOR,
        Caution.CURRENT,
        Caution.SMOKE,
        Caution.COILS,
        Caution.UNMARKED,
    }
    assert risk_cautions(frozenset()) == ()
    assert harm_of(Setting("a.b", "A", ())) is Harm.NEVER
    assert harm_of(Setting("a.b", "A", (), risk=frozenset())) is Harm.NONE


def german(risk: list[str] | None) -> Resolver:
    """A smoke output as a German handbook calls it, at one CV or another."""
    place = {"at": "60", "in": ">=1.0, <2.0", "range": [0, 255], "default": 40, "risk": risk}
    held = resolver(
        {
            "sources": {"h1": ">=1.0, <2.0", "h2": ">=4.0, <5.0"},
            "settings": {"ausgang.rauch": [place, {**place, "at": "70", "in": ">=4.0, <5.0"}]},
        }
    )
    named = {
        id: replace(one, title="Heizleistung des Dampferzeugers", help="Ausgang 4.")
        for id, one in held.profile.settings.items()
    }
    return Resolver(replace(held.profile, settings=named))


@pytest.mark.parametrize("risk", [["heat"], ["coil"], ["motor", "heat"], None])
def test_a_german_heater_gets_no_bench_advice(risk: list[str] | None) -> None:
    """Nor one that nobody marked."""
    held = german(risk)
    assert probe(held, held.profile.version("3.0"), can_read=False).tests == ()


def test_the_same_output_with_a_lamp_is_tried() -> None:
    """So the case above is silent for its mark alone."""
    held = german([])
    assert probe(held, held.profile.version("3.0"), can_read=False).tests


LOCO: dict[str, Any] = {
    "speed.minimum": {"at": "2", "default": 0, "risk": ["motor"]},
    "momentum.acceleration": {"at": "3", "default": 0, "risk": ["motor"]},
    "momentum.deceleration": {"at": "4", "default": 0, "risk": ["motor"]},
    "speed.maximum": {"at": "5", "default": 1, "risk": ["motor"]},
    "speed.middle": {"at": "6", "default": 1, "risk": ["motor"]},
    "stopping.left": {"at": "27:0", "kind": "switch", "default": 0, "risk": ["stopping"]},
    "stopping.right": {"at": "27:1", "kind": "switch", "default": 0, "risk": ["stopping"]},
    "braking.distance": {"at": "40", "default": 9, "risk": ["stopping"]},
    "configuration.speed-table": {"at": "29:4", "kind": "switch", "default": 0, "risk": ["motor"]},
    "speed.forward-trim": {"at": "66", "default": 0, "risk": ["motor"]},
    "speed.table": {
        "at": ", ".join(map(str, range(67, 95))),
        "kind": "curve",
        "risk": ["motor"],
    },
    "speed.reverse-trim": {"at": "95", "default": 0, "risk": ["motor"]},
}
CVS = [2, 3, 4, 5, 6, 27, 29, 40, 66, 95, *range(67, 95)]
RISKS = st.none() | st.frozensets(st.sampled_from(Risk), max_size=2)


def member(name: str, held: Resolver, values: Mapping[int, int]) -> Member:
    """A loco with these CVs."""
    saved = {Slot(cv): value for cv, value in values.items()}
    return Member(name, Layout(held, held.profile.version("1"), saved, {}))


def loco() -> Resolver:
    """A decoder that has all that matching looks at."""
    return resolver({"sources": {"h": ">=1"}, "settings": LOCO})


VALUES = st.fixed_dictionaries({cv: st.integers(0, 255) for cv in CVS})


def test_matching_does_not_switch_automatic_stopping_off() -> None:
    """CV 27 stays as it is, and the person is told to set it by hand."""
    found = match(member("A", loco(), {27: 3, 40: 9}), member("B", loco(), {27: 0, 40: 60}))
    assert found.proposals == ()
    assert {one.setting: one.why for one in found.unmatched} == {
        "stopping.left": Missing.HARM,
        "stopping.right": Missing.HARM,
        "braking.distance": Missing.HARM,
    }


def by_kind(kinds: Mapping[str, str]) -> dict[str, list[str]]:
    """The ids of each kind of value."""
    found: dict[str, list[str]] = {}
    for name, kind in kinds.items():
        found.setdefault(kind, []).append(name)
    return found


@given(VALUES, VALUES, st.lists(RISKS, min_size=len(LOCO), max_size=len(LOCO)), st.randoms())
@settings(max_examples=60, deadline=None)
def test_matching_writes_only_what_a_mark_allows(
    mine: dict[int, int],
    theirs: dict[int, int],
    risks: list[frozenset[Risk] | None],
    dice: random.Random,
) -> None:
    """Whatever the marks are, and also where every setting goes under the id of another."""
    held = loco().profile
    # Ids change places among settings of one kind, so that a table is a table still.
    kinds = {name: one.places[0].coding.kind for name, one in held.settings.items()}
    taken = {kind: dice.sample(names, len(names)) for kind, names in by_kind(kinds).items()}
    mixed = {}
    for (name, one), risk in zip(held.settings.items(), risks, strict=True):
        new = taken[kinds[name]].pop()
        mixed[new] = replace(one, id=new, risk=risk)
    other = Resolver(replace(held, settings=mixed))
    found = match(member("A", other, mine), member("B", loco(), theirs))
    for one in found.proposals:
        risk = mixed[one.setting].risk
        assert risk is not None
        assert risk <= HARMLESS
    written = {slot for step in found.job.writes.values() for slot in [step.slot]}
    allowed = {
        field.slot
        for one in mixed.values()
        if one.risk is not None and one.risk <= HARMLESS
        for place in one.places
        for field in place.fields
    }
    assert written <= allowed


@given(VALUES, VALUES, st.integers())
@settings(max_examples=25, deadline=None)
def test_titles_do_not_change_what_is_matched(
    mine: dict[int, int], theirs: dict[int, int], seed: int
) -> None:
    """Nor helps; ids of the standards say what a speed curve is, and no more."""
    dice = random.Random(seed)
    held = loco().profile
    told = {
        name: replace(one, title=" ".join(dice.choices(WORDS, k=3)), help=dice.choice(WORDS))
        for name, one in held.settings.items()
    }
    other = Resolver(replace(held, settings=told))
    plain = match(member("A", loco(), mine), member("B", loco(), theirs))
    found = match(member("A", other, mine), member("B", other, theirs))
    assert [one.setting for one in found.proposals] == [one.setting for one in plain.proposals]
    assert found.job.writes == plain.job.writes
    assert found.unmatched == plain.unmatched
