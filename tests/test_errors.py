"""Errors are one clear line: where, what is wrong, what to do."""

import pytest

from cvlib.errors import (
    Fault,
    InputError,
    Position,
    UndecidedError,
    did_you_mean,
    nearest,
    one_line,
    problem,
)


@pytest.mark.parametrize(
    ("position", "shown"),
    [
        (Position("loco.toml"), "loco.toml"),
        (Position("loco.toml", 12), "loco.toml:12"),
        (Position("loco.toml", 12, 3), "loco.toml:12:3"),
        (Position("loco.toml", None, 3), "loco.toml"),
    ],
)
def test_a_position_is_shown_as_far_as_it_is_known(position: Position, shown: str) -> None:
    """File, line and column joined by colons; a column without a line says nothing."""
    assert str(position) == shown


@pytest.mark.parametrize(
    ("fault", "shown"),
    [
        (Fault("It is wrong."), "It is wrong."),
        (Fault("It is wrong.", advice="Do this."), "It is wrong. Do this."),
        (
            Fault("It is wrong.", Position("a.toml", 2), "Do this."),
            "a.toml:2: It is wrong. Do this.",
        ),
        (Fault('"a\nb\t\x1b[0m" is wrong.'), '"a\\nb\\t\\x1b[0m" is wrong.'),
        (Fault("“Grüße” ist ein Wort."), "“Grüße” ist ein Wort."),
    ],
)
def test_a_fault_is_one_line(fault: Fault, shown: str) -> None:
    """Place, problem and advice on one line, whatever the input holds."""
    assert str(fault) == shown


def test_an_error_carries_all_its_faults() -> None:
    """Every fault of an error has a line of its own."""
    error = UndecidedError(Fault("One."), Fault("Two.", advice="Do."))
    assert str(error) == "One.\nTwo. Do."
    assert [fault.problem for fault in error.faults] == ["One.", "Two."]
    made = problem("Bad.", advice="Mend it.", position=Position("f", 1))
    assert isinstance(made, InputError)
    assert str(made) == "f:1: Bad. Mend it."


@pytest.mark.parametrize(
    ("name", "known", "expected"),
    [
        ("braking.distanse", ["braking.distance", "lights.dim"], "braking.distance"),
        ("LIGHTS.DIM", ["braking.distance", "lights.dim"], "lights.dim"),
        ("Dim", ["dim", "DIM"], "dim"),
        ("quite other", ["braking.distance", "lights.dim"], None),
        ("dim", [], None),
    ],
)
def test_the_nearest_name(name: str, known: list[str], expected: str | None) -> None:
    """The most like known name, capitals apart; nothing where none is close."""
    assert nearest(name, known) == expected
    advice = f'Did you mean "{expected}"?' if expected else ""
    assert did_you_mean(name, known) == advice


def test_what_can_be_printed_stays_as_it_is() -> None:
    """Only unprintable characters are written as escapes."""
    assert one_line("CV 29 = 6 – gut") == "CV 29 = 6 – gut"
    assert one_line("a\r\nb\u2028c\x00") == "a\\r\\nb\\u2028c\\x00"
