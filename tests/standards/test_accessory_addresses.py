"""Addresses of accessory decoders, row by row of accessory-address.csv; each row has its source."""

import csv
from collections.abc import Mapping
from pathlib import Path

import pytest

from cvlib import api
from cvlib.model import formulas

PATH = Path(__file__).parent / "data" / "accessory-address.csv"
ROWS = list(csv.DictReader(PATH.read_text(encoding="utf-8").splitlines()))
STORE = api.open_store()
PROFILES = ("standard/rcn-225-accessory", "standard/nmra-s-9.2.2-accessory", "ferrow/signalbox-4")
Row = Mapping[str, str]

every_row = pytest.mark.parametrize(
    "row", ROWS, ids=lambda r: f"{r['method']} {r['cv1']} {r['cv9']}"
)


def sums(profile: str, *typed: str) -> dict[str, str]:
    """What values come to together, by its title."""
    firmware = "2021-02-17" if profile.startswith("ferrow") else ""
    return {
        one.said.title: one.said.value for one in api.explain(STORE, typed, profile, firmware).sums
    }


@every_row
def test_the_bytes_on_the_track_are_those_of_the_packet_address(row: Row) -> None:
    """Source: NMRA S-9.2.1, basic accessory packets: 10AAAAAA 1aaaCDDD, the high bits inverted."""
    first, second = row["bytes"].split()
    low = second[5:7].replace("D", "0")
    high = "".join("10"[int(bit)] for bit in second[1:4])
    assert int(high + first[2:] + low, 2) == int(row["packet_first"])


@every_row
def test_cvs_1_and_9_make_the_address(row: Row) -> None:
    """The packet address, and the number that people call the output by."""
    low, high = int(row["cv1"]), int(row["cv9"])
    match row["method"]:
        case "decoder":
            decoder = formulas.accessory_decoder(low, high)
            assert decoder is not None
            packets = [decoder * 4, decoder * 4 + 3]
        case "output":
            packets = [formulas.accessory_output(low, high)] * 2
        case _:
            packets = [formulas.accessory_output(low, high, offset=-1)] * 2
    assert packets == [int(row["packet_first"]), int(row["packet_last"])]
    numbers = [formulas.accessory_number(packet) for packet in packets]
    assert numbers == [int(row["number_first"]), int(row["number_last"])]


@pytest.mark.parametrize("profile", PROFILES)
@every_row
def test_explain_tells_it(row: Row, profile: str) -> None:
    """By the row's method, whichever the profile follows, under either number of the CVs."""
    low, high = row["cv1"], row["cv9"]
    told = sums(profile, f"1={low}", f"9={high}")
    assert sums(profile, f"513={low}", f"521={high}") == told
    title, words = {
        "decoder": (
            "Decoder address (CV 29 bit 6 off)",
            f", outputs {row['number_first']}-{row['number_last']}, "
            f"packet addresses {row['packet_first']}-{row['packet_last']}",
        ),
        "output": (
            "Output address (CV 29 bit 6 on) by RCN-225",
            f"output {row['number_first']}, packet address {row['packet_first']}",
        ),
        "output-nmra": (
            "Output address (CV 29 bit 6 on) by S-9.2.2",
            f"packet address {row['packet_first']}, four less",
        ),
    }[row["method"]]
    assert words in told[title]


@pytest.mark.parametrize(("cv29", "methods"), [(192, ["Output", "Output"]), (128, ["Decoder"])])
def test_cv_29_bit_6_chooses_the_method(cv29: int, methods: list[str]) -> None:
    """Source: RCN-225 (2025-07-27) and NMRA S-9.2.2 (2012-07), accessory CV 29 bit 6."""
    told = sums("standard/rcn-225-accessory", "1=1", "9=0", f"29={cv29}")
    assert [title.split()[0] for title in told] == methods


@pytest.mark.parametrize(("low", "high"), [(64, 0), (255, 7), (0, 8)])
def test_what_holds_no_decoder_address_is_not_allowed(low: int, high: int) -> None:
    """Source: RCN-225 (2025-07-27), CVs 1 and 9: bits 0-5 and bits 0-2, the others 0."""
    told = sums("standard/rcn-225-accessory", f"1={low}", f"9={high}")
    assert told["Decoder address (CV 29 bit 6 off)"].startswith("not allowed here")
    outputs = [words for title, words in told.items() if title.startswith("Output")]
    assert all(words.startswith("not allowed here") is (high > 7) for words in outputs)


def test_the_broadcast_is_named() -> None:
    """Source: NMRA S-9.2.1, basic accessory broadcast: 10111111 1000CDDD."""
    told = sums("standard/rcn-225-accessory", "1=63", "9=7", "29=128")
    (words,) = told.values()
    assert words.endswith("which every decoder obeys")
