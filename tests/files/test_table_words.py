"""What a title of a table says beside the name, and which CVs a version can be told by."""

from typing import Any

import pytest

from cvlib.errors import InputError
from cvlib.files.likeness import closeness, is_like
from cvlib.files.read.row_words import read_row_words
from cvlib.files.read.setting_table import read_setting_table
from cvlib.files.read.version_readings import parts_of, read_version
from cvlib.files.store import open_store
from cvlib.model.versions import Scheme

# Common practice, no source: how people write units, steps and named values behind a name.
WORDS: list[tuple[str, str, dict[str, Any], dict[str, str], str]] = [
    ("hum; ms", "hum", {"unit": "ms"}, {}, ""),
    ("hum; 20 ms, 0 = continuous", "hum", {"unit": "ms", "scale": 20}, {"0": "continuous"}, ""),
    ("hum; value/255", "hum", {"scale": "1/255"}, {}, ""),
    ("hum; value*(-10)", "hum", {"scale": -10}, {}, ""),
    (
        "hum; Hz = value*100+10000",
        "hum",
        {"scale": 100, "offset": 10000, "unit": "Hz"},
        {},
        "",
    ),
    ("[ro] hum", "hum", {"read-only": True}, {}, ""),
    ("[not implemented] hum", "hum", {"unused": "not implemented"}, {}, ""),
    ("hum; 0 off, 1 lamp, 2-3 coil", "hum", {}, {"0": "off", "1": "lamp", "2-3": "coil"}, ""),
    ("hum; bit 0 = one ... bit 7 = eight", "hum", {}, {}, "bit 0 = one ... bit 7 = eight"),
    ("hum; 0-28 = F0-F28, else off", "hum", {}, {}, "0-28 = F0-F28, else off"),
    ("hum; other bits unused", "hum", {}, {}, "other bits unused"),
]


@pytest.mark.parametrize(("text", "title", "keys", "names", "rest"), WORDS)
def test_words_around_a_title(
    text: str, title: str, keys: dict[str, Any], names: dict[str, str], rest: str
) -> None:
    """Marks, unit, step and names are taken where all of a part is understood, and nothing else."""
    found = read_row_words(text)
    assert (found.title, found.keys, found.names, found.help) == (title, keys, names, rest)


def test_a_condition_stands_before_a_title() -> None:
    """The CV that decides, its values, and what people call them."""
    found = read_row_words("[CV27=16/17 switch] hum; default for this type")
    assert found.condition == (27, (16, 17))
    assert (found.variant, found.is_default_only) == ("switch", True)


READINGS = [
    (["1.4: 7=14"], [("tens",), ("ones",)]),
    (["1.4: 7=20"], [("4-7",), ("0-3",)]),
    (["1.4: 7=1, 109=4"], [(7,), (109,)]),
    (["2.4.9: 7=249"], [("hundreds",), ("tens",), ("ones",)]),
    (["0.3: 7=3", "1.2: 7=12"], [("tens",), ("ones",)]),
    (["1.4: 7=99"], []),
]


@pytest.mark.parametrize(("texts", "wanted"), READINGS)
def test_a_reading_tells_where_the_version_is(texts: list[str], wanted: list[Any]) -> None:
    """Digits, halves of a CV or several CVs; nothing where no way gives what was read."""
    found = parts_of(dict(read_version(text, Scheme.DOTTED) for text in texts))
    told = [(one.get("digit") or one.get("bits") or one["cv"],) for one in found]
    assert told == wanted


def test_a_reading_that_leaves_two_ways_is_refused() -> None:
    """0.3 answered as 3 may be digits or halves; another reading is asked for, with an example."""
    with pytest.raises(InputError) as caught:
        parts_of(dict([read_version("0.3: 7=3", Scheme.DOTTED)]))
    assert "decimal digits of CV 7" in caught.value.faults[0].problem
    assert "--reading" in caught.value.faults[0].advice


def test_columns_for_single_firmware() -> None:
    """A mark says that the row holds there, a number is the CV there; all marks narrow nothing."""
    text = "cv;title;1.0-1.4;2.0\n60;Glow;x;x\n61;Hum;x;\n;Fade;70;71\n"
    rows = read_setting_table(text, "t.csv").rows
    told = [(row.title, row.where, row.keys.get("firmware")) for row in rows]
    assert told == [
        ("Glow", "60", None),
        ("Hum", "61", ">=1.0, <=1.4"),
        ("Fade", "70", ">=1.0, <=1.4"),
        ("Fade", "71", "==2.0"),
    ]


@pytest.mark.parametrize(
    ("text", "page"),
    [
        ("cv,page,title\n260,16:0,Glow\n", "16/0"),
        ("cv,cv31,cv32,title\n260,16,0,Glow\n", "16/0"),
        ("cv,CV31/CV32,title\n260,16/0,Glow\n", "16/0"),
    ],
)
def test_index_pages_as_people_write_them(text: str, page: str) -> None:
    """With a colon, in two columns, or as the format has them."""
    assert read_setting_table(text, "t.csv").rows[0].keys["page"] == page


def test_what_was_and_what_is_in_one_cell_is_refused() -> None:
    """The line is told, and that each firmware has a table of its own."""
    with pytest.raises(InputError) as caught:
        read_setting_table("cv,title,default\n60,Glow,10 -> 20\n", "t.csv")
    (fault,) = caught.value.faults
    assert fault.position is not None
    assert fault.position.line == 2
    assert "amend table" in fault.advice


@pytest.mark.parametrize(
    ("title", "id", "is_it"),
    [
        ("Anfahrspannung", "speed.minimum", True),
        ("top speed set-point", "speed.maximum", True),
        ("motor PWM clock divider", "motor.feedback-cutout", False),
        ("Rangiergang", "speed.kick-start", False),
    ],
)
def test_a_name_makes_a_setting_of_the_standard(title: str, id: str, is_it: bool) -> None:
    """A word in common with its title or name; its group is not enough."""
    assert is_like(title, open_store().profile("standard/nmra-s-9.2.2").settings[id]) is is_it


def test_names_are_close_whatever_the_order_of_words() -> None:
    """And a name is as close to another as that one to it."""
    one, other = "Lampe vorn Helligkeit", "Helligkeit der Lampe vorn"
    assert closeness(one, other) == closeness(other, one) == 1
    assert closeness(one, "Bremsweg") == 0
