"""Keys of the format as people type them; common practice, no source."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from cvlib.errors import InputError
from cvlib.files.typed_keys import parse_key, parse_on_off, parse_verdict

RIGHT: list[tuple[str, str, str, Any]] = [
    ("cv", " 27 ", "", 27),
    ("cv", "0x1B", "", 27),
    ("step", "-5", "", -5),
    ("scale", "0,5", "", Decimal("0.5")),
    ("scale", "2", "", 2),
    ("range", "1-200", "", [1, 200]),
    ("range", "-10 to 10", "", [-10, 10]),
    ("range", "0 bis 63", "", [0, 63]),
    ("range", "[0, 63]", "", [0, 63]),
    ("choices", "0=off, 1=on, slow; 2-7=x", "", {"0": "off", "1": "on, slow", "2-7": "x"}),
    ("choices", '{ 0 = "off" }', "", {"0": "off"}),
    ("values", "0: aus | 1: ein", "", {"0": "aus", "1": "ein"}),
    ("flags", "bit 0 = F1, bit 3 = F2", "", {"0": "F1", "3": "F2"}),
    ("firmware", ">=2.0, <=2.4.118", "", ">=2.0, <=2.4.118"),
    ("firmware", "2.0 to 2.4.118", "", ">=2.0, <=2.4.118"),
    ("firmware", "2.4.118", "", "==2.4.118"),
    ("firmware", ">=1, <2; ==3", "", [">=1, <2", "==3"]),
    ("cvs", "17, 18", "", [17, 18]),
    ("cvs", "67-94", "", "67-94"),
    ("date", "2026-03-14", "", date(2026, 3, 14)),
    ("date", "14.3.2026", "", date(2026, 3, 14)),
    ("read-only", "yes", "", True),
    ("read-only", "nein", "", False),
    ("about", "braking, lights.fade", "", ["braking", "lights.fade"]),
    ("scale", "1/1024", "", "1/1024"),
    ("when", "a.b!=1, x", "", {"setting": "a.b", "not": [1, "x"]}),
    ("when", "output[n].type=coil, 3", "", {"setting": "output[n].type", "is": ["coil", 3]}),
    ("when", "a.b=1; c=x", "", [{"setting": "a.b", "is": [1]}, {"setting": "c", "is": ["x"]}]),
    ("when", '{ setting = "a.b", has = ["x"] }', "", {"setting": "a.b", "has": ["x"]}),
    ("sources", "handbook-1:23", "", ["handbook-1:23"]),
    ("sources", "h:12, 13; b=works", "", ["h:12, 13", {"source": "b", "verdict": "works"}]),
    ("sources", "b:2=no effect", "", [{"source": "b", "verdict": "no-effect", "page": "2"}]),
    ("repeat", "count=12, step=10", "", {"count": 12, "step": 10}),
    ("answers", "7=1, 8=13", "", [{"cv": 7, "value": 1}, {"cv": 8, "value": 13}]),
    ("default", "60", "number", 60),
    ("default", "off", "number", "off"),
    ("default", "ein", "switch", True),
    ("default", "1", "switch", True),
    ("default", "fixed time", "choice", "fixed time"),
    ("default", "F1, F2", "flags", ["F1", "F2"]),
    ("default", "1 2, 3", "curve", [1, 2, 3]),
    ("default", "40", "text", "40"),
    ("default", "[1, 2]", "curve", [1, 2]),
    ("defaults", "1, 7", "number", [1, 7]),
    ("title", "7", "", "7"),
    ("unit", "cm", "", "cm"),
]
WRONG = [
    ("cv", "x"),
    ("cv", ""),
    ("scale", "1/2/3"),
    ("range", "5"),
    ("choices", "off, on"),
    ("choices", "0=off, 0=on"),
    ("choices", "{ 0 = off }"),
    ("date", "yesterday"),
    ("date", "31.2.2026"),
    ("read-only", "perhaps"),
    ("when", "output"),
    ("sources", "a b"),
    ("repeat", "12"),
    ("repeat", "count=x"),
    ("answers", "7"),
]


@pytest.mark.parametrize(("key", "text", "kind", "value"), RIGHT)
def test_what_is_typed_becomes_a_value_of_the_format(
    key: str, text: str, kind: str, value: Any
) -> None:
    """Each form that people use means what a file would say."""
    found = parse_key(key, text, kind)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(("key", "text"), WRONG)
def test_what_means_nothing_is_refused_with_what_would_be_right(key: str, text: str) -> None:
    """One fault, which names the key and gives advice."""
    with pytest.raises(InputError) as refused:
        parse_key(key, text)
    (fault,) = refused.value.faults
    assert key in fault.problem
    assert fault.advice


@pytest.mark.parametrize("text", ["workz", "", "yes"])
def test_an_outcome_is_works_or_no_effect(text: str) -> None:
    """Anything else is refused, with the nearest of the two."""
    with pytest.raises(InputError, match=r"works"):
        parse_verdict(text)


def test_yes_and_no_are_known_in_english_and_german() -> None:
    """The words that people say for on and off."""
    assert [parse_on_off(word) for word in ("Yes", "ja", "ON", "no", "aus")] == [
        *(True, True, True, False, False)
    ]
