"""RCN-227, row by row of rcn-227.csv; each row has its section and its edition.

Sources: RailCommunity RCN-227 (2018-12-02), sections 2 to 4; RCN-225 (2025-07-27), CVs 31-46, 96.
Where the example tables of RCN-227 print a CV number that its own layout contradicts, the rows
carry the number that fits, and no setting lies where the misprint would put it.
"""

import csv
import re
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path

import pytest

from cvlib import api
from cvlib.engine.explain.explain import Tenant, layout_of
from cvlib.engine.explain.key_table import KeyTable, key_table
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import Choice, Coding, Flags
from cvlib.model.cv import Page, Slot
from cvlib.model.profile import Place, Setting

PATH = Path(__file__).parent / "data" / "rcn-227.csv"
ROWS = list(csv.DictReader(PATH.read_text(encoding="utf-8").splitlines()))
STORE = api.open_store()
RESOLVER = Resolver(STORE.profile("standard/rcn-227"))
VERSION = RESOLVER.profile.version("2018-12-02")
Row = Mapping[str, str]
METHODS = {"0/40": 2, "0/41": 3, "0/42": 4, "0/43": 5}
WORDS = {"fwd": "forward", "rev": "reverse"}


def _by_slot() -> dict[Slot, list[tuple[Setting, Place]]]:
    found: dict[Slot, list[tuple[Setting, Place]]] = defaultdict(list)
    for name, answer in RESOLVER.at(VERSION).items():
        for place in answer.places():
            for slot in dict.fromkeys(field.slot for field in place.fields):
                found[slot].append((RESOLVER.profile.settings[name], place))
    return found


BY_SLOT = _by_slot()


def slot_of(row: Row) -> Slot:
    """The CV of a row, on its page."""
    page = row["page (CV31/CV32)"]
    high, _, low = page.partition("/")
    return Slot(int(row["cv_from"]), Page(int(high), int(low)) if low else None)


def only(slot: Slot) -> tuple[Setting, Place]:
    """The one setting that owns a CV."""
    ((setting, place),) = BY_SLOT[slot]
    return setting, place


def flags(coding: Coding) -> dict[int, str]:
    """The names of bits."""
    assert isinstance(coding, Flags)
    return dict(coding.flags)


def text(coding: Coding, *parts: int) -> str:
    """A value in words; it is allowed."""
    reading = coding.decode(parts)
    assert reading.fault is None, parts
    return reading.text


def rows(scheme: str, item: str = "") -> list[Row]:
    """The rows of a scheme whose item fits."""
    return [
        row for row in ROWS if row["scheme"].startswith(scheme) and re.search(item, row["item"])
    ]


def test_every_row_is_walked() -> None:
    """Nothing in the table is left to no test."""
    walked = [
        *rows("selection"),
        *rows("per ", "whole block"),
        *rows("per function", r"byte [123]$"),
        *rows("per function", r"byte 4$"),
        *rows("per output v1", "byte"),
        *rows("per output v2", "byte"),
        *rows("per output v3", "byte"),
        *rows("example"),
        *rows("classic"),
    ]
    assert len(walked) == len(ROWS) == len({id(row) for row in walked})


def case(row: Row) -> str:
    """The name of a row."""
    return f"{row['page (CV31/CV32)']} {row['cv_from']}"


@pytest.mark.parametrize("row", rows("per ", "whole block"), ids=case)
def test_a_page_is_full(row: Row) -> None:
    """Each CV of 257-512 has one owner, which counts while CV 96 says so."""
    page = slot_of(row).page
    for cv in range(int(row["cv_from"]), int(row["cv_to"]) + 1):
        _, place = only(Slot(cv, page))
        assert [(one.setting, one.values) for one in place.when] == [
            ("function-map.method", (METHODS[str(page)],))
        ]


@pytest.mark.parametrize("row", rows("per ", "byte"), ids=case)
def test_a_place_names_its_section(row: Row) -> None:
    """The citation has the section of the row, and nothing is said of factory values."""
    _, place = only(slot_of(row))
    section = re.search(r" s\.([\d.]+)", row["source"])
    assert section is not None
    (citation,) = place.citations
    assert citation.page.startswith(f"section {section[1]},")
    assert row["default"] == "none stated"
    assert place.default is None


@pytest.mark.parametrize("row", rows("per function", r"byte [123]$"), ids=case)
def test_page_40_outputs_of_a_function(row: Row) -> None:
    """Bit n of a byte switches the output that the row counts from."""
    function, way, _ = re.fullmatch(r"F(\d+) (\w+) byte (\d)", row["item"]).groups()  # type: ignore[union-attr]
    first = int(re.search(r"output (\d+)\+n", row["meaning"])[1])  # type: ignore[index]
    setting, place = only(slot_of(row))
    assert setting.id.startswith(f"function-map.function[{function}].{way}-outputs-{first}-")
    assert flags(place.coding) == {bit: f"output {first + bit}" for bit in range(8)}
    assert setting.maps is not None
    assert (setting.maps.key, setting.maps.first) == (int(function), first)
    assert (setting.maps.output, setting.maps.direction) == ("bits", way)


@pytest.mark.parametrize("row", rows("per function", r"byte 4$"), ids=case)
def test_page_40_block(row: Row) -> None:
    """The fourth byte is the function that blocks this one; 255 is none."""
    function, way = re.fullmatch(r"F(\d+) (\w+) byte 4", row["item"]).groups()  # type: ignore[union-attr]
    setting, place = only(slot_of(row))
    assert setting.id == f"function-map.function[{function}].{way}-blocked-by"
    assert "255 = none" in row["meaning"]
    assert text(place.coding, 255) == "none"
    assert text(place.coding, 3) == "3"


@pytest.mark.parametrize("row", rows("per output v1", "byte"), ids=case)
def test_page_41_functions_of_an_output(row: Row) -> None:
    """Bit n of a byte is the function that the row counts from."""
    letter, way = re.fullmatch(r"output (?:number )?(\w+) (\w+) byte \d", row["item"]).groups()  # type: ignore[union-attr]
    first = int(re.search(r"function F(\d+)\+n", row["meaning"])[1])  # type: ignore[index]
    setting, place = only(slot_of(row))
    output = (int(row["cv_from"]) - 257) // 8 + 1
    assert letter in (chr(64 + output), str(output))
    assert setting.id == f"function-map.matrix[{output}].{way}-f{first}-f{first + 7}"
    assert flags(place.coding) == {bit: f"F{first + bit}" for bit in range(8)}


@pytest.mark.parametrize("row", rows("per output v2", "byte"), ids=case)
def test_page_42_numbers(row: Row) -> None:
    """0-28 are functions, 29-254 binary states, 255 leaves an entry unused; the fourth blocks."""
    way, byte, what = re.fullmatch(  # type: ignore[union-attr]
        r"output (?:number )?\w+ (\w+) byte (\d) \((on|off)\)", row["item"]
    ).groups()
    setting, place = only(slot_of(row))
    output = (int(row["cv_from"]) - 257) // 8 + 1
    tail = f"on-{byte}" if what == "on" else "off"
    assert setting.id == f"function-map.numbers[{output}].{way}-{tail}"
    said = [text(place.coding, raw) for raw in (0, 28, 29, 254, 255)]
    assert said == ["F0", "F28", "binary state 29", "binary state 254", "not used"]
    assert setting.maps is not None
    assert setting.maps.blocks is (what == "off")


@pytest.mark.parametrize("row", rows("per output v3", r"byte [1-4]$"), ids=case)
def test_page_43_single_entries(row: Row) -> None:
    """The function in bits 0-5, and in bits 6-7 the direction or the block; 255 is unused.

    The stored German text says bits 0 to 6 for the function, which its own sums contradict.
    """
    assert row["bits"].startswith("0-5 function")
    setting, place = only(slot_of(row))
    output, byte = divmod(int(row["cv_from"]) - 257, 8)
    assert setting.id == f"function-map.states[{output + 1}].entry-{byte + 1}"
    for function in (0, 5, 63):
        said = [text(place.coding, function + 64 * mode) for mode in range(3)]
        assert said == [f"F{function}", f"F{function} forward", f"F{function} reverse"]
    assert text(place.coding, 192 + 5) == "F5 blocks"
    assert text(place.coding, 255) == "not used"


@pytest.mark.parametrize("row", rows("per output v3", r"byte [5-8] "), ids=case)
def test_page_43_pairs(row: Row) -> None:
    """Fifteen bits of a number with the block in the top bit; 255, 255 is unused."""
    setting, place = only(slot_of(row))
    output, byte = divmod(int(row["cv_from"]) - 257, 8)
    assert setting.id == f"function-map.states[{output + 1}].pair-{(byte - 4) // 2 + 1}"
    assert place.fields[(byte - 4) % 2].slot == slot_of(row)
    assert text(place.coding, 0, 28) == "F28"
    assert text(place.coding, 0, 29).startswith("binary state")
    assert text(place.coding, 0x80, 3) == "F3 blocks"
    assert text(place.coding, 255, 255) == "not used"


def saved(page: Page | None, method: int, values: Mapping[int, int]) -> KeyTable:
    """The table of keys that some values on a page come to."""
    slots = {Slot(cv, page): value for cv, value in values.items()}
    return key_table(layout_of(RESOLVER, VERSION, {**slots, Slot(96): method}, {}))


def spread_out(examples: list[Row]) -> dict[int, int]:
    """The values of an example; a row of several CVs stands for each."""
    return {
        cv: int(row["default"])
        for row in examples
        for cv in range(int(row["cv_from"]), int(row["cv_to"]) + 1)
    }


def works(table: KeyTable) -> set[tuple[int, int | None, str, bool]]:
    """What the keys do, without order."""
    return {(one.key, one.output, one.direction, one.blocks) for one in table.works}


def test_example_of_page_42() -> None:
    """White and red lamps of both ends, by sections 3.2: one row is one entry of one direction."""
    examples = rows("example for v2")
    outputs = {"white 1": 1, "white 2": 2, "red 1": 3, "red 2": 4}
    expected = set()
    for row in examples:
        name, _, way = row["item"].rpartition(" ")
        value = int(row["default"])
        assert f"value {value}" in row["meaning"]
        is_off = (int(row["cv_from"]) - 257) % 4 == 3
        if value != 255:
            expected.add((value, outputs[name], WORDS[way], is_off))
    assert len(examples) == 32
    assert works(saved(Page(0, 42), 4, spread_out(examples))) == expected


def test_example_of_page_43() -> None:
    """The same lamps by section 3.3: the rows say function and direction in words."""
    examples = rows("example for v3")
    outputs = {"white 1": 1, "white 2": 2, "red 1": 3, "red 2": 4}
    expected = set()
    for row in examples:
        said = re.search(r"= F(\d+) (.*)", row["meaning"])
        if said:
            way = {"both directions": "", "block": ""}.get(said[2], said[2])
            expected.add((int(said[1]), outputs[row["item"]], way, said[2] == "block"))
            output, _ = divmod(int(row["cv_from"]) - 257, 8)
            assert output + 1 == outputs[row["item"]]
        else:
            assert row["default"] == "255"
    assert works(saved(Page(0, 43), 5, spread_out(examples))) == expected


@pytest.mark.parametrize("method", [1, 2, 3, 4, 5, 6])
def test_only_the_method_in_use_counts(method: int) -> None:
    """A page of another method assigns nothing: 64 on each first CV counts on its page alone."""
    page = {held: name for name, held in METHODS.items()}.get(method)
    for name in METHODS:
        table = saved(Page(0, int(name[2:])), method, {257: 64})
        assert bool(table.works) is (name == page)


@pytest.mark.parametrize("row", rows("classic"), ids=lambda row: row["cv_from"])
def test_classic_matrix(row: Row) -> None:
    """CVs 33-46 while CV 96 is 1 or not there: the factory value switches the output it names."""
    profile = STORE.profile("standard/rcn-225")
    resolver = Resolver(profile)
    function, _, way = row["item"].partition(" ")
    output = int(re.search(r"default output (\d+)", row["note"])[1])  # type: ignore[index]
    first = int(re.search(r"output (\d+)\+n", row["meaning"])[1])  # type: ignore[index]
    assert int(row["default"]) == 1 << output - first
    values = {Slot(int(row["cv_from"])): int(row["default"]), Slot(96): 1}
    table = key_table(layout_of(resolver, profile.version("2025-07-27"), values, {}))
    assert works(table) == {(int(function[1:]), output, way, False)}
    assert not key_table(
        layout_of(resolver, profile.version("2025-07-27"), {**values, Slot(96): 4}, {})
    ).works


def test_selection() -> None:
    """CV 96, its reserved bits, the page pointer, and the read-only list of methods."""
    cv96, listed, high, low = rows("selection")
    (method, place), (area, reserved) = BY_SLOT[slot_of(cv96)]
    assert isinstance(place.coding, Choice)
    assert (method.id, place.fields[0].bits) == ("function-map.method", cv96["bits"])
    said = [text(place.coding, raw) for raw in range(8)]
    assert [word.split(",")[0] for word in said] == [
        *("invalid", "CVs 33-46", "page 0/40", "page 0/41", "page 0/42", "page 0/43"),
        *("manufacturer", "reserved"),
    ]
    assert (area.is_area, reserved.fields[0].bits) == (True, "3-7")
    _, place = only(slot_of(listed))
    assert place.marks.read_only
    assert set(flags(place.coding)) == set(range(1, 8))
    assert [only(slot_of(row))[0].id for row in (high, low)] == ["index.high", "index.low"]


@pytest.mark.parametrize("page", list(METHODS))
def test_explain_answers_every_row_by_the_standard(page: str) -> None:
    """Asked without a profile, each CV of RCN-227 is told with its setting and its page."""
    slots = [slot_of(row) for row in rows("per ", "byte") if row["page (CV31/CV32)"] == page]
    things = api.explain(STORE, [f"{slot.cv}@{slot.page}" for slot in slots]).things
    assert len(things) == len(slots) == 256
    for slot, thing in zip(slots, things, strict=True):
        tenants: list[Tenant] = [one.said for one in thing.tenants]  # type: ignore[union-attr]
        assert only(slot)[0].id in {one.setting.id for one in tenants}
        pages = {one.page for tenant in tenants for one in tenant.place.citations}
        assert any(page in said for said in pages)
