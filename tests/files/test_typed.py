"""Values typed on a command line."""

import pytest

from cvlib.errors import InputError
from cvlib.files.read.typed import parse_typed
from cvlib.model.cv import Page, Slot
from cvlib.model.loco import SavedValue


def test_values_are_taken_in_every_notation() -> None:
    """Decimal, hexadecimal and binary values, with CV before the number or not, and on a page."""
    typed = parse_typed(["27=3", "CV28=0x03", "cv 29 = 0b11", "257@16/2=12"])
    assert typed == {
        Slot(27): SavedValue(Slot(27), 3, how="typed"),
        Slot(28): SavedValue(Slot(28), 3, how="typed"),
        Slot(29): SavedValue(Slot(29), 3, how="typed"),
        Slot(257, Page(16, 2)): SavedValue(Slot(257, Page(16, 2)), 12, how="typed"),
    }


def test_index_cvs_choose_the_page() -> None:
    """CVs 31 and 32 choose the page of what is typed after them (NMRA S-9.2.2, 2012-07)."""
    typed = parse_typed(["257=1", "31=16", "32=2", "257=12", "32=3", "257=13"])
    assert {slot.typed: value.value for slot, value in typed.items()} == {
        "257": 1,
        "31": 16,
        "32": 3,
        "257@16/2": 12,
        "257@16/3": 13,
    }


def test_nothing_typed_is_nothing() -> None:
    """No arguments give no values."""
    assert parse_typed([]) == {}


@pytest.mark.parametrize(
    ("items", "line"),
    [
        (["27"], '"27" is not a CV with its value. Write the two as 27=3, or 257@16/2=12 for an'),
        (["27:3"], '"27:3" is not a CV with its value. '),
        (["17/18=192"], '"17/18=192" is not a CV with its value. '),
        (["=3"], '"=3" is not a CV with its value. '),
        (["٢٧=3"], '"٢٧=3" is not a CV with its value. '),
        (["0=3"], "CV 0 does not exist. CV numbers run from 1 to 1024."),
        (["1025=3"], "CV 1025 does not exist. "),
        (["-1=3"], "CV -1 does not exist. "),
        (["9" * 5000 + "=3"], "CV 999999999… does not exist. "),
        (["27="], "CV 27 has no value. "),
        (["27=256"], "CV 27 cannot hold 256. CV values run from 0 to 255."),
        (["27=-1"], "CV 27 cannot hold -1. "),
        (["27=0x100"], "CV 27 cannot hold 0x100. "),
        (["27=" + "9" * 5000], "CV 27 cannot hold 999999999…. "),
        (["27=3.5"], "CV 27 cannot hold 3.5. CV values are whole numbers from 0 to 255."),
        (["27=on"], 'CV 27: "on" is not a value. '),
        (["27=٣"], 'CV 27: "٣" is not a value. '),
        (["27=3=4"], 'CV 27: "3=4" is not a value. '),
        (["27=3\n4"], 'CV 27: "3\ufffd4" is not a value. '),
        (["27@16/2=3"], "CV 27 cannot lie on an index page. "),
        (["257@16/256=3"], '"16/256" is not an index page. '),
        (["27=3", "CV27=4"], "CV 27 is given twice, as 3 and as 4. Keep the one that is right."),
        (["31=3", "31=4", "32=0", "257=1"], "CV 31 is given twice, as 3 and as 4. "),
    ],
)
def test_what_is_not_a_value_is_one_line(items: list[str], line: str) -> None:
    """Each typing fault is one line that says what to type."""
    with pytest.raises(InputError) as caught:
        parse_typed(items)
    assert str(caught.value).startswith(line)
    assert "\n" not in str(caught.value)


def test_all_faults_come_at_once() -> None:
    """Every argument at fault is told, the right ones among them change nothing."""
    with pytest.raises(InputError) as caught:
        parse_typed(["27=256", "28=3", "x", "29=-1"])
    assert [fault.problem for fault in caught.value.faults] == [
        "CV 27 cannot hold 256.",
        '"x" is not a CV with its value.',
        "CV 29 cannot hold -1.",
    ]


def test_same_value_twice_is_fine() -> None:
    """The same value typed twice counts once."""
    assert [value.value for value in parse_typed(["27=3", "27=0x3"]).values()] == [3]
