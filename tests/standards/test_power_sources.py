"""CV 12 by both standards and the rules of accessory addresses, row by row.

Sources: NMRA S-9.2.2 (2012-07), CV 12 and appendix B, CVs 1, 9 and 29; RCN-225 (2025-07-27), CV 12
and section 3.1. Each row of cv12.csv and accessory-rules.csv has its source.
"""

import csv
from collections.abc import Mapping
from pathlib import Path

import pytest

from cvlib import api
from cvlib.engine.known.resolve import Resolver
from cvlib.model import formulas
from cvlib.model.coding import Flags
from cvlib.model.cv import Slot
from cvlib.model.profile import Place

DATA = Path(__file__).parent / "data"
Row = Mapping[str, str]
STORE = api.open_store()
PROFILES = {"NMRA S-9.2.2": "standard/nmra-s-9.2.2", "RCN-225": "standard/rcn-225"}
ACCESSORIES = ("standard/nmra-s-9.2.2-accessory", "standard/rcn-225-accessory")
# The tables write some names longer, with a maker's name or with what they stand for.
SHORTER = {"DC (analog)": "DC", "radio control": "radio", "AC (analog)": "AC"}


def table(name: str) -> list[Row]:
    """The rows of a table."""
    return list(csv.DictReader((DATA / name).read_text(encoding="utf-8").splitlines()))


def place_of(profile: str, setting: str) -> Place:
    """The one place of a setting of a standard."""
    resolver = Resolver(STORE.profile(profile))
    place = resolver.at(resolver.profile.releases[-1].version)[setting].place
    assert place is not None
    return place


@pytest.mark.parametrize("row", table("cv12.csv"), ids=lambda r: f"{r['standard']} {r['bit']}")
def test_power_sources(row: Row) -> None:
    """A bit has the name of its row; bits that are not assigned or reserved have none."""
    if row["standard"] == "difference":
        nmra, rcn = (_bits(name) for name in PROFILES.values())
        assert (nmra[2], rcn[2]) == ("Zero-1", "DCC")
        assert {bit: rcn[bit] for bit in (3, 4, 5)} == {3: "Selectrix", 4: "AC", 5: "Motorola"}
        return
    bits = _bits(PROFILES[row["standard"]])
    if row["bit"] == "-":
        assert "CV 12" in row["source"]
        place = place_of(PROFILES[row["standard"]], "analogue.power-sources")
        assert place.marks.requirement == "optional"
        assert place.default is None
    elif row["meaning"] in ("not assigned", "reserved"):
        first, _, last = row["bit"].partition("-")
        assert not bits.keys() & set(range(int(first), int(last or first) + 1))
    else:
        assert row["value"] == str(1 << int(row["bit"]))
        said = SHORTER.get(row["meaning"], row["meaning"].partition(" (")[0])
        assert bits[int(row["bit"])] == said


def _bits(profile: str) -> dict[int, str]:
    coding = place_of(profile, "analogue.power-sources").coding
    assert isinstance(coding, Flags)
    return dict(coding.flags)


@pytest.mark.parametrize("profile", ACCESSORIES)
@pytest.mark.parametrize(
    "row", table("accessory-rules.csv"), ids=lambda r: f"{r['kind']} {r['method']} {r['item']}"
)
def test_rules_of_accessory_addresses(row: Row, profile: str) -> None:
    """Each rule is a place of the profiles or a sum; each worked number is computed."""
    match row["kind"], row["method"], row["item"]:
        case "rule", _, item if "bit" in item:
            names = {"6": "output-addressing", "5": "extended-type", "7": "accessory"}
            bit = item.rpartition(" ")[2]
            place = place_of(profile, f"configuration.{names[bit]}")
            assert (place.fields[0].slot, place.fields[0].bits) == (Slot(29), bit)
            assert place.also_at == 541
        case "rule", "decoder" | "output" as method, item if item.startswith("CV"):
            low = item.startswith("CV 1 ")
            place = place_of(profile, "address.low" if low else "address.high")
            assert place.also_at == (513 if low else 521)
            assert place.fields[0].slot == Slot(1 if low else 9)
            assert formulas.accessory_decoder(64, 0) is None
            assert method == "output" or formulas.accessory_decoder(63, 7) == 511
        case "rule", "output", item:
            offset = 3 if "RCN" in item else -1
            assert formulas.accessory_output(10, 1, offset) == 266 + offset
        case "rule", "both", "default":
            found = place_of("standard/nmra-s-9.2.2-accessory", "address.low").default
            assert found in (None, (1,))
        case "rule", "both", "CV 17/18":
            mirror = place_of("standard/rcn-225-accessory", "address.mirror")
            assert {one.slot.cv for one in mirror.fields} == {17, 18}
        case "rule", "both", "user address range":
            every = {formulas.accessory_number(packet) for packet in range(2048)}
            assert every == set(range(1, 2049))
        case "rule", _, "format":
            assert row["setting"].startswith("10AAAAAA")
        case _:
            _worked(row)


def _worked(row: Row) -> None:
    """The packet address by CVs 1 and 9, where the row has them; the number that people use."""
    packets = [int(one) for one in row["packet_address_11bit"].split("-")]
    numbers = row["user_address"].replace("users ", "").replace("o = ", "").split("-")
    low, high = _held(row["setting"])
    if row["method"] == "decoder" and low is not None:
        decoder = formulas.accessory_decoder(low, high)
        assert decoder is not None
        assert packets == [decoder * 4, decoder * 4 + 3]
    elif low is not None and "S-9.2.2" in row["method"]:
        assert formulas.accessory_output(low, high, -1) == packets[0]
        return
    elif low is not None:
        assert formulas.accessory_output(low, high) == packets[0]
    if row["user_address"]:
        assert [formulas.accessory_number(one) for one in packets] == [int(n) for n in numbers]


def _held(setting: str) -> tuple[int | None, int]:
    """CVs 1 and 9 as a row writes them."""
    found = dict(one.split(" = ") for one in setting.split(", ") if one.startswith("CV "))
    return (int(found["CV 1"]), int(found["CV 9"])) if found else (None, 0)
