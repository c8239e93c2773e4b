"""CV values a bit at a time, what CVs come to together, and what is said once by several.

"common practice, no source" for what no standard says: how to tell of places nobody is sure of.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.engine.account.claims import Basis
from cvlib.engine.explain.asking import Kind, kind_of, sorted_things
from cvlib.engine.explain.explain import Meaning, layout_of, meanings, tenants
from cvlib.engine.explain.explained import explain_cv, explain_values, explain_words
from cvlib.engine.explain.scopes import Scope, firmware_scope, shared, stretch_scopes
from cvlib.engine.explain.sums import sums
from cvlib.errors import InputError
from cvlib.model.cv import WHOLE, Slot, parse_slot
from cvlib.model.ranges import FirmwareRange
from make import resolver, values

SOURCES = {"h1": ">=1.0, <2.0", "h2": ">=3.0, <=4.0", "b1": {"kind": "bench", "in": "==2.5"}}
TABLE = {
    "sources": SOURCES,
    "settings": {
        "s.byte": {"at": "10", "kind": "fields"},
        "s.low": {"at": "10:0-3", "range": [1, 9], "unit": "cm"},
        "s.top": {"at": "10:7", "kind": "switch"},
        "s.pair": {"at": "20, 21"},
        "s.keys": {"at": "30", "kind": "flags", "names": {"0": "front", "1": "rear"}},
        "s.mode": {"at": "40", "kind": "choice", "names": {"0": "plain", "1": "fancy"}},
        "s.plain": {"at": "41", "when": {"s.mode": ["plain"]}, "unit": "s"},
        "s.fancy": {"at": "41", "when": {"s.mode": ["fancy"]}, "unit": "%"},
        "s.moved": [{"in": "<2.0", "at": "50"}, {"in": ">=3.0", "at": "51"}],
        "s.new": {"in": ">=3.0", "at": "50"},
        "s.failed": [
            {"in": "<2.0", "at": "60", "cites": ["h1"]},
            {"in": ">=3.0", "at": "61", "cites": ["h2", "b1 no-effect"]},
        ],
        "s.second": {"at": "70", "also-at": 570},
        "area.80": {"at": "80", "kind": "area", "use": "manufacturer"},
        "area.90": {"at": "90:6-7", "kind": "area", "use": "reserved"},
        "s.paged": {"at": "257@16/2"},
        "speed.table": {"at": ", ".join(map(str, range(601, 629))), "kind": "curve"},
        "s.curve": {"at": "200, 201, 202", "kind": "curve", "range": [0, 9]},
        "s.kilo": {"at": "210", "unit": "kHz"},
        "s.hertz": {"at": "211", "unit": "Hz", "scale": 1000},
        "s.seconds": {"at": "212", "unit": "s"},
    },
}


def said(firmware: str, saved: dict[str, int], slot: str = "") -> list[Meaning]:
    """The meanings of one CV value, the only one where none is named."""
    held = resolver(TABLE)
    found = values(saved)
    layout = layout_of(held, held.profile.version(firmware), found, {})
    return list(meanings(layout, parse_slot(slot) if slot else next(iter(found))))


def test_bits_are_explained_setting_by_setting() -> None:
    """Each setting with its bits shifted down; bits that no field uses are reserved."""
    told = [
        (one.bits, one.setting, one.raw, one.value, one.use) for one in said("1.5", {"10": 0xA5})
    ]
    assert told == [
        ("0-3", "s.low", 5, "5 cm", ""),
        ("4-6", "s.byte", 2, "", "reserved"),
        ("7", "s.top", 1, "on", ""),
    ]


def test_a_value_out_of_range_is_told_with_its_fault() -> None:
    """And without the unit: a value that is not allowed means nothing."""
    first = said("1.5", {"10": 0x0F})[0]
    assert (first.value, first.fault, first.legal) == ("15", "out-of-range", "number 1-9, in cm")
    (mode,) = said("1.5", {"40": 9})
    assert mode.fault == "undefined-choice"


@pytest.mark.parametrize(
    ("slot", "value", "words"),
    [
        ("601", 64, "step 1: 25 % (64 of 255)"),
        ("628", 255, "step 28: 100 % (255 of 255)"),
        ("602", 1, "step 2: 0.4 % (1 of 255)"),
        ("602", 0, "step 2: 0 % (0 of 255)"),
        ("201", 9, "entry 2 of 3: 9"),
    ],
)
def test_an_entry_of_a_curve_is_told_by_itself(slot: str, value: int, words: str) -> None:
    """No other CV is asked for; of a speed table, 64 of 255 is a quarter of the drive.

    Source: NMRA S-9.2.2 (2012-07), CVs 67-94: 28 steps, 0 to 255.
    """
    (one,) = said("1.5", {slot: value})
    assert (one.value, one.needs, one.fault) == (words, (), "")


def test_an_entry_of_a_curve_that_is_not_allowed_is_told_as_it_stands() -> None:
    """It is that entry's fault, whatever the others hold."""
    (one, other) = (said("1.5", {"200": 12, "201": 9}, slot)[0] for slot in ("200", "201"))
    assert (one.value, one.fault) == ("12", "out-of-range")
    assert (other.value, other.fault) == ("entry 2 of 3: 9", "")


@pytest.mark.parametrize(
    ("slot", "words"), [("210", "20 kHz (20000 Hz)"), ("211", "20000 Hz (20 kHz)"), ("212", "20 s")]
)
def test_a_frequency_is_told_in_hertz_and_kilohertz(slot: str, words: str) -> None:
    """And other units as they are."""
    assert said("1.5", {slot: 20})[0].value == words


def test_stray_bits_are_told() -> None:
    """Set bits of a setting that mean nothing in it."""
    (keys,) = said("1.5", {"30": 0b1001})
    assert (keys.value, keys.stray) == ("front", 0b1000)


def test_a_value_of_two_cvs_needs_both() -> None:
    """With one of them it names the other; with both it is told on each."""
    (alone,) = said("1.5", {"20": 1})
    assert (alone.value, alone.needs) == ("", ("CV 21",))
    for slot in ("20", "21"):
        (both,) = said("1.5", {"20": 1, "21": 2}, slot)
        assert (both.value, both.needs) == ("258", ())


def test_conditions_decide_between_settings() -> None:
    """Without the deciding value every candidate is told with its condition."""
    told = said("1.5", {"41": 3})
    assert {(one.setting, one.value, one.basis) for one in told} == {
        ("s.plain", "3 s", Basis.UNDECIDED),
        ("s.fancy", "3 %", Basis.UNDECIDED),
    }
    assert [one.when[0].values for one in told] == [("plain",), ("fancy",)]
    (decided,) = said("1.5", {"41": 3, "40": 1}, "41")
    assert (decided.setting, decided.value, decided.when) == ("s.fancy", "3 %", ())


def test_disputed_settings_name_the_other_places() -> None:
    """In a gap each place is possible; a setting that one side lacks may be nowhere."""
    told = {one.setting: one for one in said("2.2", {"50": 3})}
    assert told["s.moved"].rivals == ("CV 51",)
    assert told["s.new"].rivals == ("nowhere",)
    assert {one.standing for one in told.values()} == {"disputed"}


def test_a_place_that_failed_leaves_the_other() -> None:
    """The failed place is faulty; the other is still possible and says what was tested."""
    (failed,) = said("2.5", {"61": 3})
    assert (failed.standing, failed.failed) == ("faulty", "")
    (other,) = said("2.5", {"60": 3})
    assert (other.standing, other.failed, other.rivals) == ("disputed", "CV 61", ())


def test_a_second_number_stands_for_the_first() -> None:
    """With both given, they must agree."""
    (second,) = said("1.5", {"570": 3})
    assert (second.setting, second.value) == ("s.second", "3")
    assert said("1.5", {"570": 3, "70": 3}, "570") == [second]
    with pytest.raises(InputError, match="CV 570 is a second number of CV 70"):
        said("1.5", {"570": 3, "70": 4})


def test_areas_tell_their_use_and_the_rest_is_unknown() -> None:
    """A CV that nothing claims has no title."""
    (area,) = said("1.5", {"80": 3})
    assert (area.use, area.basis, area.value) == ("manufacturer", Basis.AREA, "")
    (nothing,) = said("1.5", {"99": 3})
    assert (nothing.basis, nothing.title, nothing.mask) == (Basis.NONE, "", WHOLE)
    part, reserved = said("1.5", {"90": 0xFF})
    assert (part.bits, part.basis) == ("0-5", Basis.NONE)
    assert (reserved.bits, reserved.raw, reserved.use) == ("6-7", 3, "reserved")


SLOTS = [10, 20, 30, 40, 41, 50, 51, 60, 61, 70, 80, 90, 99]


@given(
    st.sampled_from(["0.5", "1.0", "1.5", "2.2", "2.5", "3.5", "9"]),
    st.dictionaries(st.sampled_from(SLOTS), st.integers(0, 255), min_size=1),
)
def test_every_bit_is_explained(firmware: str, saved: dict[int, int]) -> None:
    """Whatever is given, each bit of each CV has a meaning, and one only where it is decided."""
    held = resolver(TABLE)
    found = {Slot(cv): value for cv, value in saved.items()}
    layout = layout_of(held, held.profile.version(firmware), found, {})
    for slot, value in found.items():
        told = list(meanings(layout, slot))
        for bit in range(8):
            over = [one for one in told if one.mask >> bit & 1]
            assert over
            if len(over) > 1:
                assert {one.basis for one in over} <= {Basis.UNDECIDED, Basis.DISPUTED}
        for one in told:
            low = (one.mask & -one.mask).bit_length() - 1
            assert one.raw == (value & one.mask) >> low


def test_tenants_of_a_cv() -> None:
    """What lives on a CV at a firmware, candidates and failed places apart."""
    held = resolver(TABLE)

    def at(firmware: str, slot: str) -> list[tuple[str, str, tuple[str, ...], str]]:
        version = held.profile.version(firmware)
        found = tenants(held, version, parse_slot(slot))
        return [(one.setting.id, one.standing, one.rivals, one.failed) for one in found]

    assert at("1.5", "50") == [("s.moved", "documented", (), "")]
    assert at("2.2", "50") == [
        ("s.moved", "disputed", ("CV 51",), ""),
        ("s.new", "disputed", ("nowhere",), ""),
    ]
    assert at("2.5", "60") == [("s.failed", "disputed", (), "CV 61")]
    assert at("1.5", "570") == [("s.second", "documented", (), "")]
    assert [name for name, *_ in at("1.5", "257")] == ["s.paged"]
    assert at("1.5", "257@16/3") == []


def test_scopes_that_agree_are_told_once() -> None:
    """By whom is empty where all agree, and a range where some stretches do."""
    held = resolver(TABLE)
    scopes = stretch_scopes(held)
    told, _ = explain_values(scopes, values({"10": 5, "50": 3}), {})
    assert [one.by for one in told[0].meanings] == [(), (), ()]
    by = {(one.said.setting, one.said.standing): one.by for one in told[1].meanings}
    assert by["s.moved", "disputed"] == (">=2.0, <3.0",)
    assert by["s.new", "disputed"] == (">=2.0, <3.0",)
    assert by["s.moved", "documented"] == ("<2.0",)
    assert by["s.new", "documented"] == (">=3.0",)


def test_a_cv_across_all_firmware_is_in_order() -> None:
    """Settings by place, areas last."""
    told = explain_cv(stretch_scopes(resolver(TABLE)), Slot(10)).tenants
    assert [one.said.setting.id for one in told] == ["s.byte", "s.low", "s.top"]


def test_shared_keeps_the_best_documented() -> None:
    """Equal sayings come from a stretch that documents cover, if there is one."""
    scopes = stretch_scopes(resolver(TABLE))
    found = shared(scopes, [[scope.known.value] for scope in scopes], lambda _: "one")
    assert [(one.said, one.by) for one in found] == [("covered", ())]


def test_words_find_settings() -> None:
    """An id stands for itself; words must all fit; nothing fitting names the nearest."""
    held = resolver(TABLE)
    scopes = (firmware_scope(held, held.profile.version("1.5")),)
    (thing,) = explain_words(scopes, "s.pair")
    assert thing.id == "s.pair"  # type: ignore[union-attr]
    (several,) = explain_words(scopes, "title")
    assert len(several.settings) == 18  # type: ignore[union-attr]
    with pytest.raises(InputError, match=r'Did you mean "s\.pair"'):
        list(explain_words(scopes, "s.pear"))


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("29=38", Kind.VALUE),
        ("257@16/2=1", Kind.VALUE),
        ("x=y", Kind.VALUE),
        ("29", Kind.CV),
        ("CV29", Kind.CV),
        ("257@16/2", Kind.CV),
        ("16/2", Kind.PAGE),
        ("older-only", Kind.CODE),
        ("Older-Only", Kind.CODE),
        ("braking", Kind.WORDS),
        ("output[3].brightness", Kind.WORDS),
    ],
)
def test_the_kind_of_a_word(word: str, kind: Kind) -> None:
    """Each word is one kind of thing by its form alone."""
    assert kind_of(word) is kind


def test_words_side_by_side_are_one_question() -> None:
    """But ids stand alone, and so does everything that is not a word."""
    asked = ["stopping", "distance", "29", "top", "s.low", "s.top", "crawl", "speed", "page", "1/2"]
    assert [text for _, text in sorted_things(asked)] == [
        *("stopping distance", "29", "top", "s.low", "s.top", "crawl speed", "1/2"),
    ]


MOMENTUM = {
    "momentum.acceleration": {"at": "3", "measure": "momentum"},
    "momentum.acceleration-adjustment": {"at": "23", "sign": "bit", "range": [-127, 127]},
}


@pytest.mark.parametrize(
    ("settings", "saved", "told"),
    [
        (MOMENTUM, {"3": 10, "23": 5}, ["13.44 s from a stand to full speed"]),
        (MOMENTUM, {"3": 10, "23": 138}, ["no momentum"]),
        (MOMENTUM, {"3": 10}, []),
        ({"momentum.acceleration": {"at": "9"}}, {"3": 10, "23": 5}, []),
    ],
)
def test_sums_only_where_the_settings_live_there(
    settings: dict[str, object], saved: dict[str, int], told: list[str]
) -> None:
    """A formula holds for the CVs of the standards, where the profile has the setting there.

    Source: NMRA S-9.2.2 (2012-07), CV 23.
    """
    held = resolver({"sources": {"h": ">=1.0"}, "settings": settings})
    layout = layout_of(held, held.profile.version("1.0"), values(saved), {})
    found = [one.value for one in sums(layout)]
    assert len(found) == len(told)
    assert all(one.endswith(words) for one, words in zip(found, told, strict=True))


def test_a_scope_is_one_firmware_or_a_stretch() -> None:
    """The stretches of a profile cover all firmware, each with a version inside."""
    scopes = stretch_scopes(resolver(TABLE))
    union = FirmwareRange.nothing(scopes[0].version.scheme)
    for scope in scopes:
        assert isinstance(scope, Scope)
        assert scope.firmware is not None
        assert scope.version in scope.firmware
        union |= scope.firmware
    assert union.is_everything()
