"""The sums printed in the standards, and figures in words; the source stands beside each row."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.model import formulas
from cvlib.model.units import STEP_COUNTS, Measure, measured, plain, with_unit

NMRA = "NMRA S-9.2.2 (2012-07)"
RCN = "RCN-225 (2025-07-27)"


@pytest.mark.parametrize(
    ("value", "steps", "seconds", "source"),
    [
        (2, 28, "0.064", f"{NMRA}, CV 3 (printed example)"),
        (15, 28, "0.48", f"{NMRA}, CV 23: (10 + 5) * 0.896 / 28"),
        (5, 28, "0.16", f"{NMRA}, CV 23: (10 - 5) * 0.896 / 28"),
        (0, 28, "0", f"{NMRA}, CV 3"),
        (-2, 28, "0", f"{NMRA}, CV 23: underflow gives no acceleration time"),
        (1, 14, "0.064", f"{NMRA}, CV 3: 0.896 / 14"),
    ],
)
def test_seconds_per_step(value: int, steps: int, seconds: str, source: str) -> None:
    """Value times 0.896 over the speed steps, exactly."""
    assert formulas.seconds_per_step(value, steps) == Decimal(seconds), source


@given(st.integers(0, 255), st.sampled_from(STEP_COUNTS))
def test_all_steps_together(value: int, steps: int) -> None:
    """The time from stand to full is that of all the steps, whatever their count.

    Sources: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 3 and 4.
    """
    total = formulas.seconds_in_all(value)
    assert abs(formulas.seconds_per_step(value, steps) * steps - total) < Decimal("1e-20")
    assert total == value * Decimal("0.896")


def test_three_step_modes() -> None:
    """14, 28 and 126 steps drive; the "128" step mode has a stop and an emergency stop besides.

    Source: NMRA S-9.2.1 (2012-07), advanced operations speed instruction.
    """
    assert STEP_COUNTS == (14, 28, 126)


@pytest.mark.parametrize(
    ("value", "signed"), [(5, 5), (133, -5), (0, 0), (127, 127), (128, 0), (255, -127)]
)
def test_adjustment(value: int, signed: int) -> None:
    """Bits 0-6 are the amount, bit 7 takes it away. Source: NMRA S-9.2.2 (2012-07), CVs 23-24."""
    assert formulas.adjustment(value) == signed


@pytest.mark.parametrize(
    ("value", "microseconds"),
    [(0, 131), (31, 255), (37, 302), (255, 32640), (32, 262), (224, 16768)],
)
def test_pwm_period(value: int, microseconds: int) -> None:
    """(131 + mantissa * 4) * 2 ** exponent. Source: NMRA S-9.2.2 (2012-07), CV 9."""
    assert formulas.pwm_period(value) == microseconds


@pytest.mark.parametrize(
    ("high", "low", "address", "source"),
    [
        (195, 232, 1000, f"{RCN}, CVs 17-18 (printed default)"),
        (192, 1, 1, f"{RCN}, CVs 17-18"),
        (192, 0, None, f"{RCN}, CVs 17-18: not allowed"),
        (231, 255, 10239, f"{NMRA}, CVs 17-18"),
        (191, 10, None, f"{NMRA}, CVs 17-18: CV 17 from 192"),
        (232, 0, None, f"{NMRA}, CVs 17-18: CV 17 to 231"),
    ],
)
def test_extended_address(high: int, low: int, address: int | None, source: str) -> None:
    """CV 17 less 192, times 256, and CV 18; nothing where that is no address."""
    assert formulas.extended_address(high, low) == address, source


@pytest.mark.parametrize(
    ("low", "hundreds", "address", "source"),
    [
        (3, 0, 3, f"{NMRA}, CV 19"),
        (131, 0, 3, f"{NMRA}, CV 19: bit 7 is the direction"),
        (128, 0, None, f"{NMRA}, CV 19: bits 0-6 are 0"),
        (34, 12, 1234, f"{RCN}, CVs 19-20"),
        (162, 12, 1234, f"{RCN}, CVs 19-20: bit 7 of CV 19"),
        (34, 140, 1234, f"{RCN}, CV 20 bit 7"),
        (39, 102, 10239, f"{RCN}, CVs 19-20 (limit)"),
        (40, 102, None, f"{RCN}, CVs 19-20 (above 10239)"),
    ],
)
def test_consist_address(low: int, hundreds: int, address: int | None, source: str) -> None:
    """CV 19 without its direction bit, and hundreds from CV 20; nothing where no consist is."""
    assert formulas.consist_address(low, hundreds) == address, source


@pytest.mark.parametrize(
    ("cvs", "number"), [((238, 1, 44), 300), ((13, 1, 44), 13), ((238, 255, 255), 4095)]
)
def test_manufacturer(cvs: tuple[int, int, int], number: int) -> None:
    """238 in CV 8 asks for CVs 107 and 108. Source: RCN-225 (2025-07-27), CVs 107-108."""
    assert formulas.manufacturer(*cvs) == number


@pytest.mark.parametrize(
    ("key", "identity", "locked"), [(2, 1, True), (1, 1, False), (0, 0, False)]
)
def test_lock(key: int, identity: int, locked: bool) -> None:
    """Writes count only when both are alike. Source: NMRA S-9.2.2 (2012-07), CVs 15-16."""
    assert formulas.is_locked(key, identity) is locked


@pytest.mark.parametrize(("cv", "wire"), [(1, 0), (1024, 1023)])
def test_wire_address(cv: int, wire: int) -> None:
    """Direct mode sends the CV number less one. Source: NMRA S-9.2.3 (2012-07), section E."""
    assert formulas.wire_address(cv) == wire


@pytest.mark.parametrize(
    ("figure", "shown"),
    [
        (Decimal("0.10"), "0.1"),
        (Decimal("100"), "100"),
        (Decimal("1E+2"), "100"),
        (Decimal("2.0"), "2"),
        (Decimal("-0.50"), "-0.5"),
        (Decimal("1E-7"), "0.0000001"),
        (10, "10"),
        (0.1, "0.1"),
        (0, "0"),
        (Decimal("0.00"), "0"),
    ],
)
def test_plain_figures(figure: Decimal | int | float, shown: str) -> None:
    """A figure has neither an exponent nor zeros at its end."""
    assert plain(figure) == shown


def test_units() -> None:
    """The unit stands behind the figure, where there is one."""
    assert with_unit(Decimal("2.50"), "cm") == "2.5 cm"
    assert with_unit(7, "") == "7"


@pytest.mark.parametrize(
    ("measure", "raw", "words"),
    [
        (Measure.PWM_PERIOD, 37, "302 us"),
        (Measure.MOMENTUM, 0, "no momentum"),
        (
            Measure.MOMENTUM,
            1,
            "0.064 s / 0.032 s / 0.0071 s per step at 14 / 28 / 126 steps, "
            "0.896 s between a stand and full speed",
        ),
        (
            Measure.MOMENTUM,
            -1,
            "-0.064 s / -0.032 s / -0.0071 s per step at 14 / 28 / 126 steps, "
            "-0.896 s between a stand and full speed",
        ),
    ],
)
def test_measures_in_words(measure: Measure, raw: int, words: str) -> None:
    """A raw value by a formula of NMRA S-9.2.2 (2012-07), CVs 3, 9 and 23, rounded for reading."""
    assert measured(measure, raw) == words
