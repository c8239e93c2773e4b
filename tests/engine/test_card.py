"""Cards: what all values of a loco do, held against values worked out by hand.

The figures stand with their sums in tests/cases/card/.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib import api
from cvlib.engine.explain.card import DecoderCard, decoder_card
from cvlib.engine.explain.explained import ValueExplained
from cvlib.engine.explain.key_table import KeyWork
from cvlib.files.read.typed import parse_typed
from cvlib.files.text import typed
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Bits
from cvlib.model.cv import Slot
from cvlib.model.loco import SavedDecoder, SavedValue
from cvlib.render.view import Paragraph, text_of
from cvlib.render.views.card import value_of, view

ROOT = Path(__file__).parents[2]
FLEET = ROOT / "definitions" / "fleet"
CASES = ROOT / "tests" / "cases" / "card"
STORE = api.open_store()
Case = Mapping[str, Any]
LOCOS = sorted(path for path in FLEET.rglob("*.toml"))


def cases(name: str, key: str) -> list[Case]:
    """The cases of a file."""
    found: list[Case] = tomllib.loads((CASES / name).read_text(encoding="utf-8"))[key]
    return found


def card_of(path: Path, decoder: int = 0) -> DecoderCard:
    """The card of one decoder of a loco file."""
    return api.card(STORE, api.Asked((path,))).decoders[decoder]


def said(one: KeyWork) -> str:
    """What a key does, as the cases write it."""
    what = one.does or f"{'-' if one.blocks else ''}{one.output}"
    key = f"state {one.key}" if one.is_state else f"F{one.key}"
    return f"{key} {what} {one.direction}".strip()


FOUND = cases("fleet.toml", "card")


@pytest.mark.parametrize("case", FOUND, ids=lambda case: case["loco"])
def test_cards_of_the_demo_fleet(case: Case) -> None:
    """Address, curve, seconds, keys and values are those worked out by hand."""
    made = card_of(FLEET / case["loco"], case.get("decoder", 0))
    assert made.address == case.get("address")
    assert made.is_long == case.get("long", False)
    for step, level in case.get("curve", {}).items():
        assert made.curve is not None
        assert made.curve.forward[int(step) - 1] == made.curve.reverse[int(step) - 1] == level
    if "seconds" in case:
        assert made.times is not None
        times = made.times.speeding_up, made.times.slowing_down
        assert times == tuple(map(Decimal, case["seconds"]))
    assert set(case.get("keys", ())) <= {said(one) for one in made.keys.works}
    assert made.keys.method == case.get("method", made.keys.method)
    told = " ".join(one.value for _, one in made.sums)
    assert all(words in told for words in case.get("sums", ()))
    values = {one.setting.id: one for one in made.values if one.setting}
    for name, text in case.get("values", {}).items():
        assert value_of(values[name]) == text, name
    for name, standing in case.get("standing", {}).items():
        assert values[name].standing == standing
    for name, codes in case.get("findings", {}).items():
        assert set(values[name].codes) >= set(codes)


@pytest.mark.parametrize("path", LOCOS, ids=lambda path: path.stem)
def test_every_saved_bit_is_on_the_card_once(path: Path) -> None:
    """Nothing that is saved is left out, and nothing is told twice."""
    for held in api.card(STORE, api.Asked((path,))).decoders:
        if held.checked.checked is not None:
            assert_whole(held, held.checked.decoder.values)


@pytest.mark.parametrize("path", LOCOS, ids=lambda path: path.stem)
def test_what_a_check_finds_stands_behind_the_value(path: Path) -> None:
    """Every error and warning about some bits is on the value that has them."""
    for held in api.card(STORE, api.Asked((path,))).decoders:
        for finding in held.findings:
            for one in held.values if finding.severity is not Severity.NOTE else ():
                bits = [Bits(s.cv, str(s.page or ""), one.mask, 0) for s in one.slots]
                if any(b.cv == a.cv and b.page == a.page and b.mask & a.mask
                       for a in bits for b in finding.bits):  # fmt: skip
                    assert finding.code in (*one.codes, one.standing), (one, finding)


@pytest.mark.parametrize("case", cases("doubt.toml", "case"), ids=lambda case: case["name"])
def test_doubt_about_what_was_saved_is_told(case: Case) -> None:
    """Also where it is certain what the CV is now."""
    saved = {
        slot: replace(one, firmware=case["saved_for"])
        for slot, one in parse_typed([f"{cv}={at}" for cv, at in case["values"].items()]).items()
    }
    decoder = SavedDecoder(saved, profile=case["profile"], firmware=case["firmware"])
    held = decoder_card(api.check_decoder(STORE, decoder, api.typed_loco(saved)))
    told = {str(one.slots[0].cv): one.codes for one in held.values if any(one.codes)}
    assert {cv: set(codes) for cv, codes in told.items()} == {
        cv: set(codes) for cv, codes in case["codes"].items()
    }


@pytest.mark.parametrize("case", cases("momentum.toml", "case"), ids=lambda case: case["value"])
def test_momentum_is_told_by_what_it_is_the_time_of(case: Case) -> None:
    """Speeding up by CVs 3 and 23, stopping by CVs 4 and 24; the latter are added."""
    saved = parse_typed([case["value"]])
    decoder = SavedDecoder(saved, profile="standard/nmra-s-9.2.2", firmware="2012-07")
    (one,) = decoder_card(api.check_decoder(STORE, decoder, api.typed_loco(saved))).values
    assert value_of(one) == case["card"]
    (told,) = api.explain(STORE, [case["value"]], "standard/nmra-s-9.2.2").things
    assert isinstance(told, ValueExplained)
    assert told.meanings[0].said.value.endswith(case["explain"])


def test_a_mark_stands_behind_each_value_that_has_it() -> None:
    """Outputs that share a heading and a mark do not share one mark behind the last of them."""
    made = api.card(STORE, api.Asked((FLEET / "saltmarsh" / "01-samphire.toml",)))
    (held,) = made.decoders
    values = tuple(
        replace(one, codes=("undated",))
        if one.setting and re.fullmatch(r"output\[[123]\].effect", one.setting.id)
        else one
        for one in held.values
    )
    blocks = view(replace(made, decoders=(replace(held, values=values),)), typed)
    lines = [text_of(one.line) for one in blocks if isinstance(one, Paragraph)]
    (line,) = (one for one in lines if "Effect of output" in one)
    marked = line[line.index("Effect of output") :].partition(";")[0]
    assert marked == "Effect of output 1-2: steady [undated], 3: flicker [undated]"


def assert_whole(held: DecoderCard, saved: Mapping[Slot, SavedValue]) -> None:
    """The accounts of a check and the values of its card are the same bits."""
    checked = held.checked.checked
    assert checked is not None
    accounts = [(one.slot, one.mask) for one in checked.accounts]
    assert sum(mask for _, mask in accounts) == 255 * len(saved)
    on_card = {slot for one in held.values for slot in one.slots}
    assert on_card == set(saved)
    for one in held.values:
        for slot, raw in zip(one.slots, one.raw, strict=True):
            low = (one.mask & -one.mask).bit_length() - 1
            if len(one.slots) == 1:
                assert raw == (saved[slot].value & one.mask) >> low


@given(st.dictionaries(st.integers(1, 255), st.integers(0, 255), min_size=1, max_size=40))
def test_any_values_make_a_card(values: dict[int, int]) -> None:
    """Whatever is saved: a card, with every CV on it and no value without words."""
    saved = {Slot(cv): SavedValue(Slot(cv), value, "4.1.31") for cv, value in values.items()}
    decoder = SavedDecoder(saved, profile="ferrow/lark-8", firmware="4.1.31")
    held = api.check_decoder(STORE, decoder, api.typed_loco(saved))
    made = decoder_card(held)
    assert_whole(made, saved)
    assert all(value_of(one) for one in made.values)


RCN_227 = """format = 2

[decoder]
id = "heath/mapper"
maker = "Heath"
name = "Mapper"
kind = "motor"
follows = ["standard/rcn-225@2025-07-27", "standard/rcn-227@2018-12-02"]

[firmware]
scheme = "dotted"

[[firmware.release]]
version = "1.0"
"""


@pytest.mark.parametrize("case", cases("keys.toml", "case"), ids=lambda case: case["name"])
def test_the_table_of_keys_follows_cv_96(case: Case, tmp_path: Path) -> None:
    """Only what counts under the method in use is in the table, direction and blocks included."""
    (tmp_path / "heath").mkdir()
    (tmp_path / "heath" / "mapper.toml").write_text(RCN_227, encoding="utf-8")
    store = api.open_store(tmp_path)
    values = parse_typed([f"{cv}={value}" for cv, value in case["values"].items()])
    decoder = SavedDecoder(values, profile="heath/mapper", firmware="1.0")
    held = decoder_card(api.check_decoder(store, decoder, api.typed_loco(values)))
    assert sorted(map(said, held.keys.works)) == sorted(case["keys"])
    assert held.keys.method == case["method"]
    assert held.keys.is_saved is (case["method"] != "")


def test_a_bit_limits_an_output_to_one_direction() -> None:
    """The open function decoder keeps the direction of an output in its third byte."""
    values = parse_typed(["30=3", "32=64", "33=1"])
    decoder = SavedDecoder(values, profile="open/tiny402-function", firmware="2025-07-29")
    held = decoder_card(api.check_decoder(STORE, decoder, api.typed_loco(values)))
    assert [said(one) for one in held.keys.works] == ["F0 1 forward", "F0 2", "F1 1 forward"]


HALF = ["1=3", "29=18", "2=4", "5=200", "6=80", "67=10", "94=255"]


def test_half_of_a_speed_table_is_no_curve() -> None:
    """Two of 28 values are told by CV; no curve is made of them and of factory values."""
    values = parse_typed(HALF)
    decoder = SavedDecoder(values, profile="ferrow/lark-8", firmware="4.3.9")
    held = decoder_card(api.check_decoder(STORE, decoder, api.typed_loco(values)))
    (table,) = (one for one in held.values if one.setting and one.setting.id == "speed.table")
    assert held.curve is None
    assert value_of(table) == "CV 67 = 10, CV 94 = 255"


def test_factory_values_in_a_curve_are_told() -> None:
    """Where CV 6 is not saved the factory's is taken, and the card says so."""
    values = parse_typed([one for one in HALF if one[:2] not in ("6=", "67", "94")])
    values |= parse_typed(["29=2"])
    decoder = SavedDecoder(values, profile="ferrow/lark-8", firmware="4.3.9")
    held = decoder_card(api.check_decoder(STORE, decoder, api.typed_loco(values)))
    assert held.curve is not None
    assert held.is_factory_curve
