"""The four profiles of the published standards say what the standards' tables say.

Sources: NMRA S-9.2.2 (2012-07), tables 1-3; RailCommunity RCN-225 (2025-07-27).
The profiles are read as plain TOML, so that a fault in the program cannot hide one in the data.
"""

import csv
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest

DATA = Path(__file__).parent / "data"
STORE = Path(__file__).parents[2] / "definitions" / "standard"

NMRA_TABLE = "nmra-s-9.2.2-2012-07.csv"
RCN_TABLE = "rcn-225-2025-07-27.csv"
TABLES = {
    "nmra-s-9.2.2": (NMRA_TABLE, "multifunction"),
    "nmra-s-9.2.2-accessory": (NMRA_TABLE, "accessory"),
    "rcn-225": (RCN_TABLE, "vehicle"),
    "rcn-225-accessory": (RCN_TABLE, "accessory"),
}
EDITIONS = {NMRA_TABLE: "2012-07", RCN_TABLE: "2025-07-27"}
REQUIREMENTS = {
    "M": "mandatory",
    "(M)": "mandatory",  # under the condition the row's note names
    "R": "recommended",
    "O": "optional",
    "": None,
}
# Rows whose status is the same in both tables but whose notes give the value another meaning:
# CV 12 (power sources), 15 and 16 (lock commands), 22 (bits 6 and 7), 28 (every bit).
DIFFERENT_BY_NOTE = {12, 15, 16, 22, 28}
# The coding of a place; marks and default say nothing about where a value is and what it means.
CODING = (
    "kind", "form", "range", "scale", "offset", "unit", "sign", "values", "measure",
    "choices", "flags", "refers-to", "use",
)  # fmt: skip

Row = dict[str, str]
Toml = dict[str, Any]


def load(name: str) -> Toml:
    """The profile as plain TOML."""
    return tomllib.loads((STORE / f"{name}.toml").read_text(encoding="utf-8"))


def rows(name: str) -> list[Row]:
    """The rows of the table behind a profile."""
    table, kind = TABLES[name]
    with (DATA / table).open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["decoder_kind"] == kind]


def span(text: str) -> list[int]:
    """The numbers of a span list such as `3, 6-7`."""
    numbers: list[int] = []
    for part in text.split(","):
        first, _, last = part.strip().partition("-")
        numbers.extend(range(int(first), int(last or first) + 1))
    return numbers


def place_of(setting: Toml) -> Toml:
    """The one place of a setting; a standard has one edition, so one place each."""
    places: list[Toml] = setting["place"]
    assert len(places) == 1, setting["id"]
    assert "firmware" not in places[0], setting["id"]
    return places[0]


def cvs_of(setting: Toml) -> list[int]:
    """The CVs a setting lies on, every repetition of it included."""
    place = place_of(setting)
    cvs = place["cvs"] if "cvs" in place else [place["cv"]]
    first = span(cvs) if isinstance(cvs, str) else list(cvs)
    repeat = setting.get("repeat", {"count": 1, "step": 0})
    return [cv + index * repeat["step"] for index in range(repeat["count"]) for cv in first]


def bits_of(setting: Toml) -> list[int]:
    """The bits of each CV that a setting claims."""
    return span(place_of(setting).get("bits", "0-7"))


def is_area(setting: Toml) -> bool:
    """Whether the setting is an area without any meaning of its own."""
    return bool(place_of(setting)["kind"] == "area")


def settings_on(name: str, row: Row) -> list[Toml]:
    """The settings of a profile that lie on the CVs of a row."""
    wanted = set(range(int(row["cv_first"]), int(row["cv_last"]) + 1))
    return [s for s in load(name)["setting"] if wanted & set(cvs_of(s))]


def mark(row: Row, *names: str) -> bool:
    """Whether a row carries a mark, by whichever name its table gives it."""
    return any(row.get(name) == "Y" for name in names)


CASES = [
    pytest.param(name, row, id=f"{name}-{row['cv_first']}-{row['cv_last']}")
    for name in TABLES
    for row in rows(name)
]


@pytest.mark.parametrize(("name", "row"), CASES)
def test_row_has_settings_on_its_cvs_and_no_others(name: str, row: Row) -> None:
    """Settings fill exactly the CVs of each row and none reaches into the next row."""
    found = {cv for s in settings_on(name, row) for cv in cvs_of(s)}
    assert found == set(range(int(row["cv_first"]), int(row["cv_last"]) + 1))


@pytest.mark.parametrize(("name", "row"), CASES)
def test_row_status(name: str, row: Row) -> None:
    """What a table defines is a setting with a meaning; everything else is an area of that use."""
    settings = settings_on(name, row)
    areas = [s for s in settings if is_area(s)]
    if row["status"] == "user":
        assert not areas
        assert {s["id"].split(".")[0] for s in settings} == {"user"}
    elif row["status"] == "defined":
        assert len(areas) < len(settings)
        conditional = any("when" in place_of(s) for s in settings)
        assert all("bits" in place_of(s) or conditional for s in areas)
    else:
        assert areas == settings
        assert {place_of(s)["use"] for s in settings} == {row["status"]}


@pytest.mark.parametrize(("name", "row"), CASES)
def test_row_marks(name: str, row: Row) -> None:
    """Read-only, volatile, uniform and requirement are as the table has them."""
    for setting in settings_on(name, row):
        place = place_of(setting)
        if is_area(setting) and row["status"] == "defined":
            continue  # reserved bits beside the settings the row speaks of
        assert place.get("read-only", False) == mark(row, "read_only", "fixed_value")
        assert place.get("uniform", False) == mark(row, "uniform", "range_given")
        assert place.get("volatile", False) == mark(row, "volatile")
        assert place.get("requirement") == REQUIREMENTS[row["requirement"]]


@pytest.mark.parametrize(("name", "row"), CASES)
def test_row_title(name: str, row: Row) -> None:
    """A setting is titled in the table's own words."""
    titles = [s["title"] for s in settings_on(name, row)]
    words = row["name"].replace("-", " ").split()
    if len(titles) == 1 and words:
        wanted = row["name"][0].upper() + row["name"][1:]
        start, repeated, _ = titles[0].partition("{n}")
        assert wanted.startswith(start) if repeated else titles[0] == wanted
    spoken = " ".join(titles).lower().replace("-", " ")
    plain = [w.lower() for w in words if w.isalpha() and w != "and" and len(w) > 2]
    assert [w for w in plain if w not in spoken and w.rstrip("s") not in spoken] == []


@pytest.mark.parametrize(("name", "row"), CASES)
def test_row_default(name: str, row: Row) -> None:
    """A default is there exactly where the table states one."""
    for setting in settings_on(name, row):
        place = place_of(setting)
        if row["default"]:
            assert place["default"] == int(row["default"])
        elif "by default" in row["note"]:
            own = cvs_of(setting)[0] - int(row["cv_first"]) + 1
            assert place["default"] == [f"output {own}"]
        else:
            assert "default" not in place


@pytest.mark.parametrize("name", TABLES)
def test_every_bit_is_covered_once(name: str) -> None:
    """Each bit of CVs 1-1024 belongs to one setting, in or out of every condition.

    A setting that exists under a condition lies on an area, which holds the CV otherwise. The
    second number of an accessory CV lies on the manufacturer's area.
    """
    firm: dict[tuple[int, int], list[str]] = defaultdict(list)
    loose: dict[tuple[int, int], list[str]] = defaultdict(list)
    areas: set[tuple[int, int]] = set()
    for setting in load(name)["setting"]:
        place = place_of(setting)
        offset = place.get("also-at", place.get("cv", 0)) - place.get("cv", 0)
        for bit in ((cv, bit) for cv in cvs_of(setting) for bit in bits_of(setting)):
            (loose if "when" in place else firm)[bit].append(setting["id"])
            if is_area(setting):
                areas.add(bit)
            if offset:
                loose[bit[0] + offset, bit[1]].append(setting["id"])
    wanted = {(cv, bit) for cv in range(1, 1025) for bit in range(8)}
    assert set(firm) == wanted
    assert {bit: ids for bit, ids in firm.items() if len(ids) > 1} == {}
    assert {bit: ids for bit, ids in loose.items() if len(ids) > 1} == {}
    assert set(loose) <= areas


@pytest.mark.parametrize("name", ["nmra-s-9.2.2-accessory", "rcn-225-accessory"])
def test_alternative_numbers(name: str) -> None:
    """An accessory CV has a second number exactly where its row states one."""
    for row in rows(name):
        stated = row["note"].partition("alternative number")[2].lstrip("s ").split(";")[0]
        for setting in settings_on(name, row):
            place = place_of(setting)
            if stated:
                assert place["also-at"] == span(stated)[0] + place["cv"] - int(row["cv_first"])
                assert len(span(stated)) == len(cvs_of(setting))
            else:
                assert "also-at" not in place


@pytest.mark.parametrize("name", TABLES)
def test_one_edition_and_one_document(name: str) -> None:
    """Each profile has one edition and one document, and every place names that document."""
    profile = load(name)
    edition = EDITIONS[TABLES[name][0]]
    assert profile["decoder"]["id"] == f"standard/{name}"
    assert profile["firmware"]["scheme"] == "date"
    assert [r["version"] for r in profile["firmware"]["release"]] == [edition]
    (source,) = profile["source"]
    assert source["kind"] == "document"
    assert source["firmware"] == f"=={edition}"
    assert {"title", "date", "where"} <= set(source)
    for setting in profile["setting"]:
        assert [s.partition(":")[0] for s in place_of(setting)["sources"]] == [source["id"]]


@pytest.mark.parametrize("name", TABLES)
def test_what_a_person_sets_is_explained(name: str) -> None:
    """Ids are unique, every setting has a help text, and every area has a title that is enough."""
    settings = load(name)["setting"]
    assert len({s["id"] for s in settings}) == len(settings)
    assert [s["id"] for s in settings if is_area(s) == bool(s.get("help"))] == []


@pytest.mark.parametrize("name", TABLES)
def test_rules_speak_of_settings_that_exist(name: str) -> None:
    """Each rule has text, repair and source, and names only settings of its own profile."""
    profile = load(name)
    ids = {s["id"] for s in profile["setting"]}
    for rule in profile["rule"]:
        assert {"text", "repair", "source"} <= set(rule)
        named = set(rule.get("order", [])) | set(rule.get("sum", {}).get("of", []))
        for condition in (c for key in ("if", "requires", "conflicts") for c in rule.get(key, [])):
            named |= {condition["setting"], condition.get("same-as", condition["setting"])}
        assert named, rule["id"]
        assert named <= ids, rule["id"]


@pytest.mark.parametrize("name", TABLES)
def test_index_pages_are_covered_once(name: str) -> None:
    """Each page 0/0 to 255/255 has one meaning."""
    seen: set[tuple[int, int]] = set()
    for page in load(name)["page"]:
        high, low = (span(part) for part in page["pages"].split("/"))
        pages = {(h, n) for h in high for n in low}
        assert not pages & seen
        seen |= pages
    assert len(seen) == 256 * 256


@pytest.mark.parametrize("name", ["rcn-225", "rcn-225-accessory"])
def test_index_pages_follow_the_table(name: str) -> None:
    """The pages are those of RCN-225 (2025-07-27), row by row."""
    with (DATA / "index-pages-rcn-225.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    pages = load(name)["page"]
    assert len(pages) == len(table)
    for page, row in zip(pages, table, strict=True):
        high, low = (span(part) for part in page["pages"].split("/"))
        assert (high[0], high[-1]) == (int(row["cv31_first"]), int(row["cv31_last"]))
        assert (low[0], low[-1]) == (int(row["cv32_first"]), int(row["cv32_last"]))
        if row["content"] == "manufacturer":
            assert page["use"] == "manufacturer"
        else:
            assert page["title"].lower() == row["content"].lower()
            reserved = row["content"].startswith("reserved")
            assert page["use"] == ("reserved" if reserved else "defined")


def meanings(name: str) -> dict[int, set[str]]:
    """What each CV means in a profile: setting ids, bits and coding; areas by their use alone."""
    found: dict[int, set[str]] = defaultdict(set)
    for setting in load(name)["setting"]:
        place = place_of(setting)
        subject = "area" if is_area(setting) else f"{setting['id']} {place.get('cvs')}"
        coding = {key: place[key] for key in CODING if key in place}
        for cv in cvs_of(setting):
            found[cv].add(f"{subject} {bits_of(setting)} {coding}")
    return found


def test_the_two_standards_differ_where_their_tables_do() -> None:
    """Multifunction decoders differ exactly where a status differs or a note names other bits."""
    status = [
        {
            cv: row["status"]
            for row in rows(name)
            for cv in range(int(row["cv_first"]), int(row["cv_last"]) + 1)
        }
        for name in ("nmra-s-9.2.2", "rcn-225")
    ]
    expected = {cv for cv in range(1, 1025) if status[0][cv] != status[1][cv]} | DIFFERENT_BY_NOTE
    nmra, rcn = meanings("nmra-s-9.2.2"), meanings("rcn-225")
    assert {cv for cv in range(1, 1025) if nmra[cv] != rcn[cv]} == expected
