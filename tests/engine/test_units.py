"""The units of a profile: all its firmware, and what each CV may answer there."""

import pytest

from cvlib.engine.bench.expect import ABSENT, NEVER, Keeping, Presence, members
from cvlib.engine.bench.sheets import sheet_of
from cvlib.engine.bench.units import maker_answers, units_of
from cvlib.engine.known.identity import expected_answers
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.cv import Slot
from cvlib.model.ranges import FirmwareRange
from make import profile, resolver

STORE = open_store()
DECODERS = [id for id in STORE.ids() if not id.startswith("standard/")]

WORLD = {
    "identity": {
        "manufacturer": 13,
        "answers": [{"at": "250", "low": 90}],
        "no-answer": [2],
    },
    "parts": [{"at": "7"}],
    "releases": ["1.0", "3.0"],
    "sources": {"h1": ">=1.0, <2.0", "h2": ">=4.0, <5.0"},
    "settings": {
        "lamp.level": [
            {"at": "49", "in": ">=1.0, <2.0", "range": [0, 100], "default": 60},
            {"at": "52", "in": ">=4.0, <5.0", "range": [0, 100], "default": 60},
        ],
        "lamp.mode": {
            "at": "50:0-1", "kind": "choice", "names": {"0": "off", "1": "on"}, "default": 1
        },
        "lamp.blink": {"at": "50:4", "kind": "switch", "default": 0},
        "state.hours": {"at": "51", "marks": ["read-only", "volatile"]},
    },
}  # fmt: skip


@pytest.mark.parametrize("id", DECODERS)
def test_the_units_are_all_firmware_and_every_release_once(id: str) -> None:
    """Units cover the whole line; a release lies in units of one generation only."""
    held = STORE.profile(id)
    units = units_of(Resolver(held))
    whole = FirmwareRange.nothing(held.scheme)
    for unit in units:
        whole |= unit.firmware
        assert unit.weight > 0
    assert whole.is_everything() or not held.parts
    for release in held.releases:
        homes = {unit.generation for unit in units if release.version in unit.releases}
        assert len(homes) == 1


@pytest.mark.parametrize("id", DECODERS)
def test_a_release_answers_what_identity_says(id: str) -> None:
    """Every CV whose answer a release fixes is certain in its units, and right there."""
    held = STORE.profile(id)
    never = {Slot(cv) for cv in held.identity.no_answer}
    for unit in units_of(Resolver(held)):
        for version in unit.releases:
            for slot, expected in expected_answers(held, version).items():
                certain = unit.expect(slot).certain
                if slot in never:
                    assert unit.expect(slot) == NEVER
                elif certain:
                    values = members(certain)
                    assert any(v & expected.mask == expected.value for v in values), (slot, version)


def test_each_bit_of_a_cv_counts() -> None:
    """Legal is what every setting in the CV allows, the rest being 0."""
    held = profile(WORLD)
    chosen = {name: setting.places[0] for name, setting in held.settings.items()}
    sheet = sheet_of(held.settings, chosen)
    both = sheet[Slot(50)]
    assert members(both.legal) == [0, 1, 16, 17]
    assert (both.default, both.default_mask) == (1, 0x13)
    assert sheet[Slot(51)].keeping is Keeping.DECODER
    assert members(sheet[Slot(49)].legal) == list(range(101))


def test_between_two_handbooks_there_is_a_unit_for_each_side_and_one_for_some_of_each() -> None:
    """The older side has CV 49 and not 52, the newer the other way round; the shares add up."""
    units = [unit for unit in units_of(resolver(WORLD)) if "3.0" in map(str, unit.releases)]
    assert [unit.weight for unit in units] == pytest.approx([0.4, 0.4, 0.2])
    older, newer, some = units
    for unit, has, lacks in ((older, 49, 52), (newer, 52, 49)):
        likeliest = {slot: max(unit.expect(Slot(slot)).mixture)[1] for slot in (has, lacks)}
        assert likeliest[has].presence is Presence.HELD
        assert likeliest[lacks] == ABSENT
    assert len(some.expect(Slot(49)).mixture) == 3


def test_what_identity_says_goes_before_the_settings() -> None:
    """Product answers, version parts and CVs that never answer are certain everywhere."""
    for unit in units_of(resolver(WORLD)):
        assert members(unit.expect(Slot(250)).certain) == [90]
        assert members(unit.expect(Slot(8)).certain) == [13]
        assert unit.expect(Slot(2)) == NEVER
        if unit.releases:
            (version,) = unit.releases
            assert members(unit.expect(Slot(7)).certain) == [int(str(version)[0])]
        else:
            assert not {1, 3} <= set(members(unit.expect(Slot(7)).certain))


@pytest.mark.parametrize(
    ("manufacturer", "answers"),
    [
        (None, {}),
        (13, {8: [13]}),
        (300, {8: [238], 107: [value for value in range(256) if value & 15 == 1], 108: [44]}),
    ],
)
def test_a_manufacturer_above_255_stands_in_three_cvs(
    manufacturer: int | None, answers: dict[int, list[int]]
) -> None:
    """RCN-225 (2025-07-27), CVs 8 and 107-108: 300 = 1 * 256 + 44, with 238 in CV 8."""
    found = {slot.cv: members(values) for slot, values in maker_answers(manufacturer).items()}
    assert found == answers
