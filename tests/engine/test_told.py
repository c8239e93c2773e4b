"""Places, values and claims in words."""

import pytest

from cvlib.engine.known.told import coding_text, tell, tell_answer, tell_uses, where_text
from cvlib.findings.finding import Told
from cvlib.model.cv import Slot
from make import Table, place, resolver, setting


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("141", "CV 141"),
        ("29:5", "bit 5 of CV 29"),
        ("29:0-3", "bits 0-3 of CV 29"),
        ("17, 18", "CVs 17-18"),
        ("18, 17", "CVs 18, 17"),
        ("67, 68, 69, 71", "CVs 67-69, 71"),
        ("257@16/2", "CV 257 on page 16/2"),
        ("257@16/2:7", "bit 7 of CV 257 on page 16/2"),
        ("257@16/2, 258@16/2", "CVs 257-258 on page 16/2"),
        ("257@16/9, 257@16/10", "CVs 257, 257 on page 16/9, 16/10"),
        ("", "fixed when the decoder was built"),
    ],
)
def test_where(at: str, words: str) -> None:
    """CVs with their bits and page; several in the order of their significance."""
    table = {"at": at.replace("@16/2:7", "@16/2:7")}
    assert where_text(place(table)) == words


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({}, "number 0-255"),
        ({"range": [1, 200], "unit": "cm"}, "number 1-200, in cm"),
        ({"scale": 2.0, "unit": "cm"}, "number 0-255, in steps of 2 cm"),
        ({"scale": 100}, "number 0-255, in steps of 100"),
        ({"scale": 0.5}, "number 0-255, in steps of 0.5"),
        ({"offset": -40, "unit": "C"}, "number 0-255, in C, 0 stands for -40 C"),
        ({"sign": "bit", "range": [-9, 9]}, "number -9 to 9, minus by the highest bit"),
        ({"sign": "twos-complement", "range": [-9, 9]}, "number -9 to 9, in two's complement"),
        ({"measure": "momentum"}, "number 0-255, by the momentum formula"),
        ({"unit": "V", "refers-to": "at the motor"}, "number 0-255, in V, at the motor"),
        ({"names": {"0": "off"}}, "number 0-255, 0 (off)"),
        ({"kind": "switch"}, "switch 0 (off), 1 (on)"),
        ({"kind": "choice", "names": {"0": "a", "1..2": "b"}}, "choice 0 (a), 1-2 (b)"),
        ({"kind": "flags", "names": {"0": "F1", "7": "F8"}}, "flags 0 F1, 7 F8"),
        ({"kind": "short"}, "short address 1-127"),
        ({"kind": "plain", "range": [0, 99]}, "plain address 0-99"),
        ({"kind": "text"}, "text up to 1 character"),
        ({"kind": "area", "use": "user"}, "area user"),
    ],
)
def test_coding(table: Table, words: str) -> None:
    """Kind, legal values and everything else that tells two codings apart."""
    assert coding_text(place({"at": "10", **table})) == words


def test_a_scale_written_with_an_exponent_is_told_in_plain_figures() -> None:
    """A scale of 1E+2 is told as 100."""
    assert coding_text(place({"at": "10", "scale": "1E+2"})) == "number 0-255, in steps of 100"


def test_a_setting_at_a_place() -> None:
    """Id, title, place, value where one is given, coding and firmware."""
    held = setting("s.one", {"at": "141", "scale": 2, "unit": "cm"})
    (where,) = held.places
    assert tell(held, where, (40,), "2.4") == Told(
        "s.one", "Title of s.one", "CV 141", "80 cm", "number 0-255, in steps of 2 cm", "2.4"
    )
    assert tell(held, where).value == ""


TABLE: Table = {
    "sources": {
        "h1": ">=2.0, <=2.4",
        "h2": ">=4.0",
        "b1": {"kind": "bench", "in": "==3.1"},
    },
    "settings": {
        "s.moved": [{"in": "<3.0", "at": "141"}, {"in": ">=3.0", "at": "144"}],
        "s.tried": {"in": "==3.1", "at": "141", "cites": ["b1 works"]},
        "s.claimed": {"in": "==3.0", "at": "141"},
    },
}


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("2.1", [("CV 141", ">=2.0, <=2.4")]),
        ("4.1", [("CV 144", ">=4.0")]),
        ("3.0", [("CV 141", ">=2.0, <=2.4"), ("CV 144", ">=4.0")]),
    ],
)
def test_an_answer(at: str, expected: list[tuple[str, str]]) -> None:
    """Where the setting lives, or every candidate; each with the firmware that vouches for it."""
    held = resolver(TABLE)
    answer = held.at(held.profile.version(at))["s.moved"]
    assert [(one.where, one.firmware) for one in tell_answer(held, answer)] == expected


def test_the_uses_of_bits_at_any_firmware() -> None:
    """Documented where a document speaks, tested where a bench test saw it work."""
    held = resolver(TABLE)
    names = ("s.moved", "s.tried", "s.claimed")
    found = tell_uses(held, names, Slot(141), 0xFF)
    assert [(one.setting, one.firmware) for one in found] == [
        ("s.moved", ">=2.0, <=2.4"),
        ("s.tried", "==3.1"),
        ("s.claimed", "no firmware"),
    ]
    assert tell_uses(held, names, Slot(142), 0xFF) == ()
