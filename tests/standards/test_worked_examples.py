"""Every row of worked-examples.csv, worked out by cvlib; the row names its published source."""

import csv
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path

import pytest

from cvlib import api
from cvlib.engine.explain.explain import Meaning
from cvlib.engine.explain.explained import CvExplained, Explanation, PageExplained, ValueExplained
from cvlib.files.explaining import STANDARDS
from cvlib.model.coding import Coding

DATA = Path(__file__).parent / "data"
STORE = api.open_store()
NMRA, RCN = STANDARDS

Row = Mapping[str, str]


def table() -> list[Row]:
    """The rows of the table."""
    with (DATA / "worked-examples.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def standard(row: Row) -> str:
    """The profile of the standard that a row names."""
    return NMRA if row["source"].startswith("NMRA") else RCN


def typed(text: str) -> list[str]:
    """The values of a row as they are typed: ``CV17=195``, ``page 0/43 CV258=193``."""
    page = re.match(r"page (\d+/\d+) ", text)
    at = f"@{page[1]}" if page else ""
    return [f"{cv}{at}={value}" for cv, value in re.findall(r"CV(\d+)=(\d+)", text)]


def explained(row: Row) -> Explanation:
    """The explanation of a row's values by the standard it names."""
    return api.explain(STORE, typed(row["input"]), profile=standard(row))


def meanings(row: Row) -> dict[str, Meaning]:
    """What each setting means by a row's values; reserved bits by their CV and bits."""
    found: dict[str, Meaning] = {}
    for thing in explained(row).things:
        assert isinstance(thing, ValueExplained)
        for one in thing.meanings:
            name = f"{thing.slot} bits {one.said.bits}" if one.said.use else one.said.setting
            found[name] = one.said
    return found


def switched_on(row: Row) -> set[str]:
    """The switches that a row's values turn on."""
    return {name for name, said in meanings(row).items() if said.value == "on"}


def total(row: Row) -> str:
    """What a row's values come to together, by the standard it names."""
    sums = [one.said for one in explained(row).sums]
    assert len(sums) == 1, sums
    return sums[0].value


def coding(name: str, profile: str) -> Coding:
    """How a setting is coded in a standard."""
    listing = api.settings_at(STORE, profile)
    (place,) = (e.answer.place for e in listing.present if e.setting.id == name)
    assert place is not None
    return place.coding


def seconds(text: str, steps: int) -> Decimal:
    """The seconds per step at a number of speed steps, out of the words of a momentum."""
    if text == "no momentum":
        return Decimal(0)
    found = re.search(r"([\d./ s-]+) per step at ([\d/ ]+) steps", text)
    assert found, text
    per_step = dict(zip(found[2].split(" / "), found[1].split(" / "), strict=True))
    return Decimal(per_step[str(steps)].removesuffix(" s"))


def steps_of(row: Row) -> int:
    """The number of speed steps that a row speaks of."""
    found = re.search(r"(\d+) steps", row["input"])
    assert found
    return int(found[1])


def momentum(row: Row) -> None:
    """Seconds per step from CV 3 alone."""
    text = meanings(row)["momentum.acceleration"].value.partition(": ")[2]
    assert seconds(text, steps_of(row)) == Decimal(row["expected"])


def adjusted_momentum(row: Row) -> None:
    """Seconds per step from CV 3 with the adjustment of CV 23."""
    assert seconds(total(row), steps_of(row)) == Decimal(row["expected"])


def extended_address(row: Row) -> None:
    """The address in CVs 17 and 18, or that there is none."""
    said = meanings(row)["address.extended"]
    if row["expected"].startswith("not "):
        assert said.fault == "out-of-range"
    else:
        assert (said.value, said.fault) == (row["expected"], "")


def encoded_address(row: Row) -> None:
    """The CV values that stand for an address."""
    parts = coding("address.extended", standard(row)).encode(int(row["input"]))
    assert [f"{17 + at}={part}" for at, part in enumerate(parts)] == typed(row["expected"])


def whole_total(row: Row) -> None:
    """What values come to together, in the very words of the row."""
    assert total(row) == row["expected"]


def lead_loco(row: Row) -> None:
    """The long consist address of a lead loco."""
    address, _, mark = row["expected"].partition(" ")
    assert total(row) == f"{address} normal direction, {mark}"


CONFIGURATION = {
    "normal": ("configuration.reversed", "off"),
    "reversed": ("configuration.reversed", "on"),
    "14 steps": ("configuration.speed-steps", "14 steps"),
    "28/128 steps": ("configuration.speed-steps", "28/128 steps"),
    "digital only": ("configuration.analogue", "off"),
    "conversion enabled": ("configuration.analogue", "on"),
    "no bidirectional": ("configuration.bidirectional", "off"),
    "bidirectional": ("configuration.bidirectional", "on"),
    "three-point curve": ("configuration.speed-table", "off"),
    "speed table": ("configuration.speed-table", "on"),
    "short address": ("configuration.extended-address", "off"),
    "extended address": ("configuration.extended-address", "on"),
}


def reserved_bit(row: Row) -> bool:
    """Whether a row is about a reserved bit; if so, just that bit is set and told as reserved."""
    found = re.fullmatch(r"reserved bit (\d) set", row["expected"])
    if not found:
        return False
    told = meanings(row)
    (area,) = (said for said in told.values() if said.use)
    (value,) = (int(text.partition("=")[2]) for text in typed(row["input"]))
    assert area.use == "reserved"
    assert area.mask & value == value == 1 << int(found[1])
    assert area.raw
    assert switched_on(row) == set()
    return True


def configuration(row: Row) -> None:
    """Every bit of CV 29 in words."""
    if reserved_bit(row):
        return
    told = meanings(row)
    for words in row["expected"].split("; "):
        name, value = CONFIGURATION[words]
        assert told[name].value == value, words


STOPPING = {
    "asymmetric DCC on either rail": {"stopping.asymmetry-right", "stopping.asymmetry-left"},
    "DC of either polarity": {"stopping.dc-forward", "stopping.dc-reverse"},
}


def stopping(row: Row) -> None:
    """The ways of stopping that CV 27 turns on, and no others."""
    if not reserved_bit(row):
        assert switched_on(row) == STOPPING[row["expected"]]


BIDIRECTIONAL = {
    "channel 1 address broadcast": "channel-1-address",
    "channel 1": "channel-1-address",
    "channel 2 data": "channel-2",
    "channel 2": "channel-2",
    "automatic logon": "automatic-logon",
    "unsolicited transmission": "unsolicited",
    "broadcast by asymmetric DCC": "broadcast-asymmetric",
}


def bidirectional(row: Row) -> None:
    """The bits of CV 28, which the two standards use for different things."""
    wanted = {f"bidirectional.{BIDIRECTIONAL[text]}" for text in row["expected"].split("; ")}
    assert switched_on(row) == wanted


def pwm_period(row: Row) -> None:
    """The period that CV 9 stands for, and the frequency, which is one over it."""
    period, _, frequency = (
        meanings(row)["motor.pwm-period"].value.partition(": ")[2].partition(", ")
    )
    assert period == row["expected"]
    hertz = 1_000_000 / int(period.removesuffix(" us"))
    said, kilo = re.findall(r"[\d.]+", frequency)
    assert float(said) == pytest.approx(hertz, rel=1e-3)
    assert float(kilo) == pytest.approx(hertz / 1000, rel=1e-3)


def forward_trim(row: Row) -> None:
    """CV 66 as a fraction of 128."""
    value = meanings(row)["speed.forward-trim"].value
    if row["expected"] == "not used":
        assert value == "not used"
    else:
        assert Decimal(value) == Decimal(row["expected"])


def function_output(row: Row) -> None:
    """The output that a function drives."""
    found = re.fullmatch(r"(F\d+) drives (output \d+)", row["expected"])
    assert found
    told = meanings(row)
    assert told[f"function-map.{found[1].casefold()}"].value == found[2]


def function_defaults(row: Row) -> None:
    """The factory values of CVs 33-46 as whole bytes."""
    listing = api.settings_at(STORE, standard(row), asked=api.wanted(cvs=["33-46"]))
    places = [entry.answer.place for entry in listing.present]
    defaults = [place.default for place in places if place is not None]
    assert [d[0] for d in defaults if d is not None] == list(map(int, row["expected"].split()))


def index_page(row: Row) -> None:
    """What the page is for that CVs 31 and 32 choose; one thing whichever way it is asked."""
    high, low = (text.partition("=")[2] for text in typed(row["input"]))
    thing = api.explain(STORE, [f"{high}/{low}"], profile=standard(row)).things[0]
    assert isinstance(thing, PageExplained)
    assert [use.said for use in thing.uses] == [total(row)]
    words = row["expected"].partition(" page")[0]
    assert words.split()[0] in total(row).casefold()
    if "first free" in row["expected"]:
        before = api.explain(STORE, [f"{int(high) - 1}/255"], profile=standard(row)).things[0]
        assert isinstance(before, PageExplained)
        assert "reserved" in before.uses[0].said.casefold()


def extended_manufacturer(row: Row) -> None:
    """The number in CVs 107 and 108, which are the maker's own unless CV 8 is 238."""
    if row["expected"].isdecimal():
        assert total(row) == row["expected"]
        return
    told = meanings(row)
    assert {told["CV 107 bits "].use, told["CV 108 bits "].use} == {"manufacturer"}
    assert "identity.extended-manufacturer" not in told


def map_method(row: Row) -> None:
    """The method that CV 96 chooses; bits above it are reserved."""
    told = meanings(row)
    if "must be 0" in row["expected"]:
        assert (told["CV 96 bits 3-7"].use, told["CV 96 bits 3-7"].raw) == ("reserved", 1)
    else:
        assert told["function-map.method"].value == row["expected"]


LOCK = {
    "writes ignored": "locked: writes are ignored",
    "all decoders unlocked": "all decoders unlocked",
}


def lock(row: Row) -> None:
    """What the decoder lock comes to, or that a value is not allowed."""
    if row["expected"] == "not allowed":
        assert meanings(row)["lock.identity"].fault == "out-of-range"
    else:
        assert total(row) == LOCK[row["expected"]]


def wire(row: Row) -> None:
    """The number that direct mode sends for a CV."""
    (thing,) = api.explain(STORE, row["input"].split()).things
    assert isinstance(thing, CvExplained)
    assert row["expected"] == f"wire address {thing.wire}"


def table_choice(row: Row) -> None:
    """The curve that CV 25 chooses."""
    assert meanings(row)["speed.table-choice"].value == row["expected"]


CHECKS: dict[str, Callable[[Row], None]] = {
    "acceleration seconds per step": momentum,
    "acceleration adjustment": adjusted_momentum,
    "extended address": extended_address,
    "extended address encode": encoded_address,
    "extended address limits": extended_address,
    "consist address": whole_total,
    "long consist address": whole_total,
    "long consist lead loco": lead_loco,
    "configuration bits": configuration,
    "automatic stopping bits": stopping,
    "bidirectional bits": bidirectional,
    "PWM period": pwm_period,
    "forward trim": forward_trim,
    "function outputs": function_output,
    "function outputs defaults": function_defaults,
    "index page": index_page,
    "extended manufacturer ID": extended_manufacturer,
    "function assignment method": map_method,
    "function assignment per output": whole_total,
    "decoder lock": lock,
    "direct mode address": wire,
    "speed table choice": table_choice,
}


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=f"{row['topic']} {row['input']}") for row in table()]
)
def test_worked_example(row: Row) -> None:
    """cvlib gives what the source that the row names gives."""
    assert row["source"]
    CHECKS[row["topic"]](row)


def test_every_topic_has_rows() -> None:
    """No check is left without a row that uses it."""
    assert {row["topic"] for row in table()} == CHECKS.keys()
