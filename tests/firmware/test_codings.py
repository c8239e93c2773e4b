"""What rows of real firmware tables ask of the format; each case names the file it was read in."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from cvlib.engine.account.check import Saved
from cvlib.engine.account.claims import Layout
from cvlib.engine.account.factory import factory_parts
from cvlib.engine.bench.sheets import sheet_of
from cvlib.engine.carry.carry import Goal, carry
from cvlib.engine.carry.carry_outcomes import New
from cvlib.engine.carry.convert import Exact, Rounded, convert
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.known.resolve import Resolver
from cvlib.files.layout import PROFILE
from cvlib.files.load import load_profile
from cvlib.files.store import Store
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Document, node_of
from cvlib.model.coding import Number
from cvlib.model.cv import Slot
from cvlib.model.profile import Place, Profile
from cvlib.render.places import default_text, values_text

DATA = Path(__file__).parent / "data" / "rows.toml"
CASES = tomllib.loads(DATA.read_text(encoding="utf-8"))["case"]
HEAD: dict[str, Any] = {
    "format": 2,
    "decoder": {"id": "heath/stoat", "maker": "Heath", "name": "Stoat", "kind": "accessory"},
    "firmware": {"scheme": "dotted"},
    "source": [{"id": "code", "kind": "document", "title": "Code", "firmware": ["==1.0"]}],
}


def loaded(settings: Mapping[str, Mapping[str, Any]], **more: Any) -> Profile:
    """A profile of some settings with one place each."""
    tables = [
        {"id": id, "title": id, "place": [{**place, "sources": ["code"]}]}
        for id, place in settings.items()
    ]
    text = write_tree(Document(node_of({**HEAD, **more, "setting": tables})), PROFILE)
    return load_profile(text, "stoat.toml", Store(DATA.parent), "heath/stoat")


def number(place: Mapping[str, Any]) -> tuple[Place, Number]:
    """A place with a number, and its coding."""
    held = loaded({"a.b": place}).settings["a.b"].places[0]
    assert isinstance(held.coding, Number)
    return held, held.coding


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_a_fraction_is_exact_and_shown_in_few_digits(case: Mapping[str, Any]) -> None:
    """Each raw value has its exact meaning, is written back as it was, and reads shortly."""
    place, coding = number(case["place"])
    _, _, _, default, *_ = case["row"].split(",")
    assert place.default == (int(default),)
    for raw, exact, words in case["reads"]:
        assert coding.exact(raw) == Fraction(exact)
        assert coding.decode((raw,)).text == words
    for raw in range(256):
        assert coding.encode(coding.decode((raw,)).value) == (raw,)
    assert len({coding.decode((raw,)).text for raw in range(256)}) == 256
    assert values_text(coding) == case["shown"]


def test_a_finer_scale_goes_over_exactly_where_it_can() -> None:
    """92/1024 is 23/256; 93/1024 is not. CV 49 had the one scale and then the other.

    Source: github.com/gab-k/RP2040-Decoder, CV.h at 5a045b5 and at 2cad013.
    """
    _, old = number({"cv": 49, "kind": "number", "scale": "1/1024"})
    _, new = number({"cv": 49, "kind": "number", "scale": "1/256"})
    assert convert(old, (92,), new) == Exact((23,))
    assert isinstance(convert(old, (93,), new), Rounded)
    assert convert(new, (23,), old) == Exact((92,))


def test_equal_fractions_are_one_coding_however_they_are_written() -> None:
    """ "1/2" and 0.5 are the same, and so are "2/6" and "1/3"."""
    base = {"cv": 3, "kind": "number"}
    assert number({**base, "scale": "1/2"})[1] == number({**base, "scale": 0.5})[1]
    assert number({**base, "scale": "2/6"})[1] == number({**base, "scale": "1/3"})[1]


TYPES = {16: "switch", 20: "servo", 32: "relay", 128: "safety"}
CORE: dict[str, dict[str, Any]] = {
    "decoder.type": {"cv": 27, "kind": "choice", "choices": "types"},
    "address.low": {
        "cv": 1,
        "kind": "number",
        "default": [
            {"when": {"setting": "decoder.type", "is": ["safety"]}, "value": 60},
            {"value": 1},
        ],
    },
    "address.even-only": {
        "cv": 21,
        "kind": "switch",
        "default": [
            {"when": {"setting": "decoder.type", "is": ["switch", "servo"]}, "value": True},
            {"value": False},
        ],
    },
    "input.samples": {
        "cv": 33,
        "kind": "number",
        "when": {"setting": "decoder.type", "not": ["relay", "safety"]},
    },
}
"""Rows of CVs 1, 21, 27 and 33 of an accessory decoder, the last one simplified.

Source: github.com/aikopras/AP_DCC_Decoder_Core@ddbadf95db302f5179e99e56001d26f574db0494
src/CvValues/CvValues.h: CV 1 is 1, and 60 for type 128; CV 21 is 0, and 1 for types 16 and 20.
"""


def core(values: Mapping[int, int]) -> tuple[Profile, Layout]:
    """The accessory decoder, and its layout with some values saved."""
    names = {str(raw): name for raw, name in TYPES.items()}
    profile = loaded(CORE, lists={"types": names})
    version = profile.version("1.0")
    slots = {Slot(cv): value for cv, value in values.items()}
    return profile, Layout(Resolver(profile), version, slots, {})


@pytest.mark.parametrize(
    ("type", "low", "even"), [(16, 1, 1), (20, 1, 1), (32, 1, 0), (128, 60, 0), (None, None, None)]
)
def test_a_default_is_that_of_the_type(type: int | None, low: int | None, even: int | None) -> None:
    """The saved type decides; where it is not saved, nobody knows which default it is."""
    profile, layout = core({} if type is None else {27: type})
    for id, value in (("address.low", low), ("address.even-only", even)):
        place = profile.settings[id].places[0]
        assert layout.factory(place) == (None if value is None else (value,))


def test_a_default_that_depends_is_told_with_what_it_depends_on() -> None:
    """Every case in words; after a reset of a decoder whose type has no default, none is known."""
    profile, _ = core({})
    place = profile.settings["address.low"].places[0]
    assert default_text(place) == "60 while decoder.type is safety; 1 otherwise"
    places = {id: setting.places[0] for id, setting in profile.settings.items()}
    assert factory_parts(place, places) is None
    type = places["decoder.type"]
    assert factory_parts(place, places, {"decoder.type": (type, (128,))}) == (60,)


@pytest.mark.parametrize(("type", "even"), [(20, 1), (32, 0)])
def test_identify_takes_the_default_that_a_reset_leaves(type: int, even: int) -> None:
    """Where the deciding setting has a default, the other's follows from it."""
    settings = {**CORE, "decoder.type": {**CORE["decoder.type"], "default": type}}
    profile = loaded(settings, lists={"types": {str(raw): name for raw, name in TYPES.items()}})
    chosen = {id: setting.places[0] for id, setting in profile.settings.items()}
    expected = sheet_of(profile.settings, chosen)[Slot(21)]
    assert (expected.default, expected.default_mask) == (even, 255)


@pytest.mark.parametrize(("values", "low"), [({27: 128}, 60), ({27: 20}, 1), ({21: 1}, None)])
def test_a_new_setting_is_offered_the_default_that_fits(
    values: Mapping[int, int], low: int | None
) -> None:
    """What is carried decides; where it is not saved, nothing is offered."""
    table = {**CORE, "address.low": {**CORE["address.low"], "firmware": "==2.0"}}
    goal = loaded(
        table,
        lists={"types": {str(raw): name for raw, name in TYPES.items()}},
        source=[{**HEAD["source"][0], "firmware": ["==1.0", "==2.0"]}],
    )
    held, start = Resolver(goal), goal.version("1.0")
    slots = {Slot(cv): value for cv, value in values.items()}
    origin = Origin(held, Saved(slots, dict.fromkeys(slots, start), {}), {})
    outcome = carry(origin, Goal(held, goal.version("2.0"), slots, False, {}, {})).setting(
        "address.low"
    )
    assert isinstance(outcome, New)
    assert (outcome.new and outcome.new.parts) == (None if low is None else (low,))


@pytest.mark.parametrize(
    ("type", "exists"), [(16, True), (20, True), (32, False), (128, False), (None, None)]
)
def test_a_place_may_exist_while_a_setting_has_none_of_some_values(
    type: int | None, exists: bool | None
) -> None:
    """The condition holds for every other value, and is open where none is saved."""
    profile, layout = core({} if type is None else {27: type})
    assert layout.active(profile.settings["input.samples"].places[0]) is exists
