"""CVs 897-1024 of sound and function modules, row by row of susi.csv; each row has its source.

Sources: RailCommunity RCN-602 (2024-07-21), sections 2 and 3; NMRA TI-9.2.3 (May 2003), page 6. The
row of NMRA S-9.4.2 is a draft, second hand, and says the same as RCN-602.
"""

import csv
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from cvlib import api
from cvlib.engine.account.claims import Basis, Claim
from cvlib.engine.explain.explain import layout_of
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import Area
from cvlib.model.cv import Slot

PATH = Path(__file__).parent / "data" / "susi.csv"
ROWS = list(csv.DictReader(PATH.read_text(encoding="utf-8").splitlines()))
STORE = api.open_store()
NEW, OLD = (Resolver(STORE.profile(f"standard/{id}")) for id in ("rcn-602", "nmra-ti-9.2.3"))
Row = Mapping[str, str]
COLUMN = "page or bank"
BANK = Slot(1021)


def cvs(row: Row) -> range:
    """The CVs of a row."""
    first, _, last = row["cv"].partition("-")
    return range(int(first), int(last or first) + 1)


def banks(row: Row) -> list[int]:
    """Every bank that a row names; bank 0 where it names none."""
    found = []
    for part in re.findall(r"\d+-\d+|\d+", row[COLUMN]):
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found or [0]


def owners(resolver: Resolver, cv: int, bank: int = 0, value: int = 0) -> Iterator[Claim]:
    """Who owns each bit of a CV while a bank is chosen."""
    slot, version = Slot(cv), resolver.profile.releases[-1].version
    held = {slot: value} if resolver is OLD else {BANK: bank, slot: value}
    layout = layout_of(resolver, version, held, {})
    for bit in range(8):
        owner = layout.owner(slot, bit)
        assert owner.basis in (Basis.SETTING, Basis.AREA), (cv, bank, bit)
        (claim,) = owner.claims
        yield claim


def names(resolver: Resolver, cv: int, bank: int = 0) -> set[str]:
    """The settings and areas on a CV."""
    return {one.setting.id for one in owners(resolver, cv, bank)}


def case(row: Row) -> str:
    """The name of a row."""
    return f"{row['cv']} {row[COLUMN]}"


BANKED = [
    (r"maker ID \(NMRA", "module[{}].manufacturer"),
    (r"hardware ID", "module[{}].hardware"),
    (r"0 = bank 0 holds the NMRA ID", "module[{}].extended-manufacturer"),
    (r"version number, maker", "module[{}].version"),
    (r"sub-version number", "module[{}].sub-version"),
    (r"supported SUSI version", "module[{}].standard-version"),
]
AREAS = [
    (r"maker-specific", "manufacturer"),
    (r"icon table", "susi"),
    (r"reserved for standard read-only", "reserved"),
    (r"free for use", "manufacturer"),
]
MODULE = [row for row in ROWS if re.match(r"module \d: ", row["meaning"])]
COMMON = [row for row in ROWS if row[COLUMN].startswith("common") and "2003" not in row[COLUMN]]
OLDER = [row for row in ROWS if "2003" in row[COLUMN]]
WHOLE = [row for row in ROWS if row not in (*MODULE, *COMMON, *OLDER)]


@pytest.mark.parametrize("row", MODULE, ids=case)
def test_a_bank_of_a_module(row: Row) -> None:
    """Each CV of a row has the setting or area of the row in each bank that the row names."""
    module = int(row["meaning"][7])
    single = [id for words, id in BANKED if re.search(words, row["meaning"])]
    areas = [use for words, use in AREAS if re.search(words, row["meaning"])]
    for bank in banks(row):
        for cv in cvs(row):
            claims = list(owners(NEW, cv, bank))
            inside = {one.setting.id.split(".")[0] for one in claims}
            if "function info" in row["meaning"]:
                found = {one.setting.id for one in claims if not one.setting.is_area}
                first = 0 if cv % 40 == 20 else 1
                expected = {f"module[{module}].function-{n}" for n in range(first, 4 * first + 1)}
                assert found == expected
            elif single:
                assert {one.setting.id for one in claims} == {single[-1].format(module)}
                assert all(one.place.marks.read_only for one in claims)
            elif set(inside) == {"area"}:
                uses = {
                    one.place.coding.use for one in claims if isinstance(one.place.coding, Area)
                }
                assert uses == {areas[0]}
                assert all(f"[{module}]" in one.setting.id for one in claims)
            else:
                # the CVs at the head of a block that rows of their own name
                assert cv % 40 in (20, 21)
                assert bank in (254,)


@pytest.mark.parametrize("row", COMMON, ids=case)
def test_what_no_bank_changes(row: Row) -> None:
    """The CVs beside the blocks are the same whatever bank is chosen."""
    expected = {
        "897": {"module.number", "area.cv-897"},
        "898": {"module.bank-obsolete"},
        "899": {"area.899"},
        "1020": {*(f"module.status-{n}" for n in ("wait", "slow", "hold", "stop")), "area.cv-1020"},
        "1021": {"module.bank"},
        **{cv: {"area.1022-1024"} for cv in ("1022", "1023", "1024")},
    }
    for bank in (0, 1, 254, 255) if row["cv"] != "1021" else (0,):
        assert names(NEW, int(row["cv"]), bank) == expected[row["cv"]]


@pytest.mark.parametrize("row", OLDER, ids=case)
def test_the_layout_of_2003(row: Row) -> None:
    """The older sheet has no banks; what it reserves is reserved."""
    for cv in cvs(row):
        found = names(OLD, cv)
        meaning = row["meaning"]
        if "maker ID" in meaning:
            assert found == {f"module[{(cv - 900) // 40 + 1}].manufacturer"}
        elif "version ID" in meaning:
            assert found == {f"module[{(cv - 901) // 40 + 1}].version"}
        elif "range selection" in meaning:
            assert found == {"module.number", "area.cv-897"}
        else:
            uses = {one.place.coding.use for one in owners(OLD, cv)}  # type: ignore[attr-defined]
            assert uses == {"reserved" if "reserved" in meaning else "manufacturer"}


@pytest.mark.parametrize("row", WHOLE, ids=case)
def test_every_cv_of_the_range_has_an_owner(row: Row) -> None:
    """The rows that speak of a whole block: each bit of each CV is owned, in every bank."""
    for cv in cvs(row):
        for bank in (0, 1, 2, 247, 248, 252, 253, 254, 255):
            if cv != BANK.cv:
                assert len(list(owners(NEW, cv, bank))) == 8


@pytest.mark.parametrize("cv", [897, 900, 901, 920, 940, 1019, 1020, 1021, 1024])
def test_explain_answers_by_the_standard(cv: int) -> None:
    """Asked without a profile, a CV of a module is told by RCN-602 with its section."""
    (thing,) = api.explain(STORE, [str(cv)]).things
    found = {one.said.setting.id: one.said.place for one in thing.tenants}  # type: ignore[union-attr]
    assert any(name in NEW.profile.settings for name in found)
    assert any(
        citation.page.startswith("section ")
        for place in found.values()
        for citation in place.citations
    )
