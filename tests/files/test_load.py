"""Profile files become complete profiles, or every fault is told in plain words."""

import copy
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic_core import core_schema

from cvlib.errors import InputError
from cvlib.files.faults import Faults, toml_data
from cvlib.files.load import check_blocks, load_profile
from cvlib.files.shapes.check import checked, shape_at
from cvlib.files.shapes.profile import BlocksFile, ProfileFile
from cvlib.files.shapes.words import SENTENCES
from cvlib.model import conditions
from cvlib.model.coding import Choice, Flags, Number, SignForm, Switch
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.cv import Field, Page, Slot
from cvlib.model.named import NamedSpan
from cvlib.model.profile import Citation, Marks, Verdict
from files.profile_cases import BAD, GOOD, data_of, disturbed, good_store, tables

TECHNICAL = re.compile(
    r"input should|pydantic|validation|str\b|\bint\b|\bdict|nonetype|traceback|string_|model_type"
    r"|decimal\(|literal",
    re.IGNORECASE,
)
OWL = GOOD / "heath" / "owl.toml"


def faults_of(path: Path) -> list[str]:
    """What loading a bad sample says, without the file name."""
    with pytest.raises(InputError) as caught:
        load_profile(path.read_text(encoding="utf-8"), path.name, good_store())
    return [str(fault).removeprefix(f"{path.name}:") for fault in caught.value.faults]


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_bad_profile_gives_exactly_these_faults(path: Path) -> None:
    """Each bad sample is refused with the lines of the text file beside it, all at once."""
    expected = path.with_suffix(".txt").read_text(encoding="utf-8").splitlines()
    assert faults_of(path) == expected


def test_there_are_enough_bad_samples() -> None:
    """Forty samples or more are refused, and none of the texts is without its sample."""
    assert len(BAD) >= 40
    texts = {path.stem for path in BAD[0].parent.glob("*.txt")}
    assert texts == {path.stem for path in BAD}


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_fault_is_one_plain_line_with_its_position(path: Path) -> None:
    """No fault has a line break or a word of a program's inside, and each has line and column."""
    for line in faults_of(path):
        assert re.match(r"\d+:\d+: ", line), line
        assert "\n" not in line
        assert not TECHNICAL.search(line), line
        assert line.endswith((".", "?")), line


def table_at(data: Any, path: tuple[str | int, ...]) -> Any:
    """What lies at a path of a document."""
    for part in path:
        data = data[part]
    return data


def required(shape: Any, file: Path) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every key that some table of a file cannot do without: it is there, and not common too."""
    data = data_of(file)
    for path in tables(data):
        here = shape_at(shape, data, path)
        for name, field in here.model_fields.items() if here else ():
            key = field.alias or name
            is_place = path[-2:-1] == ("place",)
            common = table_at(data, path[:-2]).get("common", {}) if is_place else {}
            if field.is_required() and key in table_at(data, path) and key not in common:
                yield path, key


REQUIRED = [
    (shape, file, path, key)
    for shape, file in ((ProfileFile, OWL), (BlocksFile, GOOD / "heath" / "blocks.toml"))
    for path, key in required(shape, file)
]


@pytest.mark.parametrize(
    ("shape", "file", "path", "key"),
    REQUIRED,
    ids=[f"{file.stem}-{'-'.join(map(str, path))}-{key}" for _, file, path, key in REQUIRED],
)
def test_each_required_key_is_missed(
    shape: type[Any], file: Path, path: tuple[str | int, ...], key: str
) -> None:
    """Without a required key there is one fault, and it names the key."""
    data = copy.deepcopy(data_of(file))
    del table_at(data, path)[key]
    faults = Faults(file.name, file.read_text(encoding="utf-8"), data)
    checked(shape, data, faults)
    assert [fault.problem for fault in faults.found if f'"{key}" is missing.' in fault.problem]
    assert len(faults.found) == 1


def test_required_keys_of_all_tables_were_found() -> None:
    """The table above looks at more than a hundred keys."""
    assert len(REQUIRED) > 100


def test_every_kind_of_fault_has_a_sentence() -> None:
    """Each kind of fault that pydantic knows is put into words, and no other is."""
    known = set(get_args(core_schema.ErrorType))
    assert known - SENTENCES.keys() == set()
    assert SENTENCES.keys() - known == set()


def test_each_kind_of_value_reaches_the_model() -> None:
    """The sample with every kind of value is read as it is written."""
    owl = good_store().profile("heath/owl")
    coded = {id: [place.coding for place in s.places] for id, s in owl.settings.items()}
    off, endless = NamedSpan(0, 0, "off"), NamedSpan(251, 255, "endless")
    assert coded["braking.distance"] == [
        Number(
            (8,),
            0,
            250,
            Decimal("0.05"),
            Decimal(-2),
            "m",
            names=(off, endless),
            refers_to="on level track",
        ),
        Number((8, 8), 0, 65535),
    ]
    less = NamedSpan(-127, -100, "much less")
    assert coded["braking.trim"] == [Number((8,), -127, 127, sign=SignForm.BIT, names=(less,))]
    assert coded["configuration.reversed"] == [Switch((1,))]
    assert coded["lamps.keys"] == [Flags((4,), ((0, "F1"), (1, "F2"), (3, "F4")))]
    assert coded["speed.table"] == [Curve((8, 8, 8, 8), 0, 200)]
    assert coded["user.name"] == [Text((8, 8, 8, 8))]
    assert coded["user.number"] == [Address((8,), AddressForm.PLAIN, 0, 99)]


def test_each_default_reaches_the_model() -> None:
    """Defaults may be names, lists, texts, switches and signed numbers."""
    owl = good_store().profile("heath/owl")
    defaults = {id: [place.default for place in s.places] for id, s in owl.settings.items()}
    assert defaults["braking.distance"] == [(0,), (3, 232)]
    assert defaults["braking.trim"] == [(0b1000_0011,)]
    assert defaults["configuration.reversed"] == [(1,)]
    assert defaults["lamps.keys"] == [(0b1001,)]
    assert defaults["speed.table"] == [(1, 2, 3, 4)]
    assert defaults["user.name"] == [(79, 87, 76, 0)]
    assert [owl.settings[f"lamp[{n}].type"].places[0].default for n in (1, 2, 3)] == [
        (1,),
        (2,),
        None,
    ]


def test_places_marks_and_evidence_reach_the_model() -> None:
    """Bits, byte order, second numbers, marks and citations are read as they are written."""
    owl = good_store().profile("heath/owl")
    old, new = owl.settings["braking.distance"].places
    assert [field.slot.cv for field in new.fields] == [18, 17]
    assert old.citations == (
        Citation("book", "23"),
        Citation("bench-1", "", Verdict.NO_EFFECT, "twice"),
    )
    assert new.marks == Marks(volatile=True, internal=True)
    assert owl.settings["configuration.byte"].places[0].also_at == 929
    assert owl.settings["area.cv-27"].places[0].fields == (Field(Slot(27), 0b1100_1000),)
    assert owl.settings["hardware.type"].places[0].fields == ()
    assert owl.settings["user.name"].places[0].marks.unused == "kept for a later version"
    assert old.narrowing is not None
    assert old.narrowing.text() == "<2.0"
    assert old.narrowing.spelt[0][1] == "2.0"
    assert old.firmware.text() == ">=1.0, <1.5"


def test_repeats_are_spread_out() -> None:
    """Titles, texts, CVs, pages, indexes and conditions follow the index; ``first`` counts."""
    owl = good_store().profile("heath/owl")
    lamp = owl.settings["lamp[3].level"]
    assert (lamp.title, lamp.places[0].note) == ("Level of lamp 3", "Lamp 3 only.")
    assert lamp.places[0].fields == (Field(Slot(129)),)
    assert lamp.places[0].when == (conditions.When("lamp[3].type", ("led", 2)),)
    tones = {
        id: [place.fields for place in setting.places]
        for id, setting in owl.settings.items()
        if id.startswith("tone")
    }
    low, high = Page(16, 9), Page(16, 2)
    assert tones == {
        "tone[2].pitch": [(Field(Slot(257, high)),)],
        "tone[3].pitch": [
            (Field(Slot(257, Page(16, 3))),),
            (Field(Slot(299, low)), Field(Slot(300, low))),
        ],
        "tone[4].pitch": [
            (Field(Slot(257, Page(16, 4))),),
            (Field(Slot(297, low)), Field(Slot(298, low))),
        ],
        "tone[5].pitch": [(Field(Slot(257, Page(16, 5))),)],
    }


def test_common_keys_hold_for_every_place_that_does_not_say_otherwise() -> None:
    """A place overrides common keys; those that do not fit its kind or its CVs it lacks."""
    owl = good_store().profile("heath/owl")
    old, new = owl.settings["siren[2].mode"].places
    assert old.fields == (Field(Slot(303, Page(16, 4))),)
    assert new.fields == (Field(Slot(312, Page(16, 4))),)
    assert (old.marks.read_only, new.marks.read_only) == (True, False)
    assert old.coding == new.coding
    assert old.when == (conditions.When("lamps.keys", ("F1",), conditions.Test.HAS),)
    coded = [place.coding for place in owl.settings["siren[1].pitch"].places]
    assert coded == [
        Number((6,), 0, 63, Decimal(10), unit="Hz", names=(NamedSpan(0, 0, "silent"),)),
        Number((7,), 0, 127, Decimal(10), unit="Hz"),
        Number((8, 8), 0, 65535, Decimal(10), unit="mHz"),
        Choice((8,), (NamedSpan(1, 1, "low"),)),
    ]


def test_a_neighbour_is_the_one_before_or_after() -> None:
    """``[n-1]`` is the index before; where there is none, place and rule do not exist."""
    owl = good_store().profile("heath/owl")
    whens = {n: [p.when for p in owl.settings[f"siren[{n}].mode"].places] for n in (1, 2, 3)}
    has = conditions.When("lamps.keys", ("F1",), conditions.Test.HAS)
    lacks = conditions.When("lamps.keys", ("F2", "F4"), conditions.Test.LACKS)
    assert whens == {
        1: [(has,)],
        2: [(has,), (conditions.When("siren[1].mode", ("off",)), lacks)],
        3: [(has,), (conditions.When("siren[2].mode", ("off",)), lacks)],
    }
    rules = {rule.id: rule for rule in owl.rules if rule.id.startswith("one-at-a-time")}
    assert list(rules) == ["one-at-a-time[2]", "one-at-a-time[3]"]
    last = rules["one-at-a-time[3]"]
    assert last.text == "Siren 3 wails as the one before."
    assert last.conflicts[1] == conditions.Condition(
        "siren[3].mode", conditions.Test.SAME_AS, ("siren[2].mode",)
    )


def test_the_rest_of_a_profile_reaches_the_model() -> None:
    """Identity, releases, sources, pages, rules, advisories and questions are read."""
    owl = good_store().profile("heath/owl")
    assert [(a.slot.typed, a.low, a.high) for a in owl.identity.answers] == [
        ("250", 7, 7),
        ("251", 1, 2),
        ("251", 5, 5),
        ("261@0/255", 40, 49),
    ]
    assert owl.identity.no_answer == (255,)
    assert [str(release.version) for release in owl.releases] == ["1.0", "2.0"]
    assert owl.version("Spring") == owl.version(" easter") == owl.version("2")
    assert owl.releases[1].labels == ("spring", "Easter")
    assert owl.sources["book"].firmware.text() == ">=1.0, <1.5 or >=2.0, <=2.9"
    assert owl.sources["bench-1"].date == "2022-02-02"
    rules = {rule.id: rule for rule in owl.rules}
    assert rules["apart"].given[2] == conditions.Condition(
        "hardware.type", conditions.Test.NOT, ("small",)
    )
    assert rules["apart"].conflicts[1].test is conditions.Test.SAME_AS
    assert (rules["limits"].sum_of, rules["limits"].sum_max) == (
        ("braking.distance", "braking.trim"),
        500,
    )
    assert owl.advisories[0].citations == (Citation("book", "3"),)
    assert owl.questions[0].settle == "Read CV 67."


def test_a_fault_in_a_block_is_told_where_the_block_stands() -> None:
    """Faults of a shared block name the blocks file, once, also when it is followed twice."""

    class Shelf:
        def ids(self) -> tuple[str, ...]:
            return ()

        def profile(self, id: str) -> Any:
            raise AssertionError(id)

        def blocks(self, folder: str) -> tuple[str, str]:
            text = (GOOD / "heath" / "blocks.toml").read_text(encoding="utf-8")
            return "heath/blocks.toml", text.replace("cv = 121", "cv = 1021")

    text = (GOOD / "heath" / "mouse.toml").read_text(encoding="utf-8")
    text = text.replace('"function"', '"function", follows = ["heath/blocks/lamps"]')
    with pytest.raises(InputError) as caught:
        load_profile(text, "mouse.toml", Shelf())
    assert str(caught.value) == (
        'heath/blocks.toml:26:3: block "lamps", setting "lamp[n].level", place 1, cv: '
        "index 2: CV 1025 does not exist. CV numbers run from 1 to 1024."
    )


def test_a_blocks_file_alone_can_be_checked() -> None:
    """A blocks file is refused for its shape and for a block that is there twice."""
    text = (GOOD / "heath" / "blocks.toml").read_text(encoding="utf-8")
    check_blocks(text, "blocks.toml")
    with pytest.raises(InputError, match=r'the block "lamps" is there twice'):
        check_blocks(text.replace('id = "paged"', 'id = "lamps"'), "blocks.toml")
    with pytest.raises(InputError, match=r'Did you mean "title"'):
        check_blocks(text.replace('title = "Paged', 'titel = "Paged'), "blocks.toml")


def test_very_many_faults_are_cut_short() -> None:
    """A hundred faults are told, then how many more there are."""
    text = (GOOD / "heath" / "mouse.toml").read_text(encoding="utf-8")
    rule = '\n[[rule]]\nid = "r"\nseverity = "note"\ntext = "t"\nrepair = "r"\norder = ["a", "b"]\n'
    with pytest.raises(InputError) as caught:
        load_profile(text + rule * 90, "mouse.toml", good_store())
    assert len(caught.value.faults) == 101
    assert caught.value.faults[-1].problem == "80 more faults are not shown."


@settings(max_examples=300, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_whatever_a_file_holds_it_is_read_or_refused(
    data: st.DataObject, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Junk anywhere in a profile gives a profile or plain faults, and never another error."""
    document = data.draw(disturbed(data_of(OWL)))
    monkeypatch.setattr("cvlib.files.load.toml_data", lambda text, name: document)
    for line in told(OWL.read_text(encoding="utf-8")):
        assert "\n" not in line
        assert not re.search("input should|pydantic", line, re.IGNORECASE)


def told(text: str) -> list[str]:
    """The faults of a text, none where it is read."""
    try:
        load_profile(text, "owl.toml", good_store())
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return []


@settings(max_examples=200, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 8000), st.text(max_size=3))
def test_a_cut_or_scribbled_file_is_read_or_refused(at: int, scribble: str) -> None:
    """A file that is cut short or written over gives a profile or plain faults."""
    text = OWL.read_text(encoding="utf-8")
    for damaged in (text[:at], text[:at] + scribble + text[at + 2 :]):
        assert all("\n" not in line for line in told(damaged))


def test_figures_are_exact() -> None:
    """A figure is what is written, to the last digit; one beyond all bounds is not finite."""
    data = toml_data("a = 0.1000000000000000055\nb = 1e99999999999999999999\nc = 3", "x")
    assert data["a"] == Decimal("0.1000000000000000055")
    assert not data["b"].is_finite()
    assert data["c"] == 3


def whole_numbers(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The path of every whole number of a document."""
    if isinstance(node, dict | list):
        for key, value in node.items() if isinstance(node, dict) else enumerate(node):
            yield from whole_numbers(value, (*path, key))
    elif isinstance(node, int) and not isinstance(node, bool):
        yield path


WHOLE_NUMBERS = list(whole_numbers(data_of(OWL)))


@pytest.mark.parametrize("path", WHOLE_NUMBERS, ids=lambda path: "-".join(map(str, path)))
def test_a_number_without_end_is_refused(
    path: tuple[str | int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A number of thousands of digits, as hexadecimal notation lets through, is a plain fault."""
    document: Any = data_of(OWL)
    table_at(document, path[:-1])[path[-1]] = 16**6000
    monkeypatch.setattr("cvlib.files.load.toml_data", lambda text, name: document)
    lines = told(OWL.read_text(encoding="utf-8"))
    assert lines
    assert all(len(line) < 500 for line in lines)
