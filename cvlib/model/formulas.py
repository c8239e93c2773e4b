"""The sums printed in the standards, each with its source."""

from __future__ import annotations

from decimal import Decimal

MOMENTUM_FACTOR = Decimal("0.896")
LONGEST_ADDRESS = 10239
ADDRESS_BASE, ADDRESS_TOP = 192, 231
EXTENDED_MAKER = 238
UNLOCK_ALL = 255
RESET = 8
ACCESSORIES, ALL_ACCESSORIES = 2048, 511
"""Packet addresses of outputs; the decoder address that is a broadcast (S-9.2.1, 2012-07)."""


def seconds_per_step(value: int, steps: int) -> Decimal:
    """Seconds between two speed steps for a value of CV 3 or CV 4.

    Source: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 3 and 4: value * 0.896 / steps.
    """
    return max(value, 0) * MOMENTUM_FACTOR / steps


def seconds_in_all(value: int) -> Decimal:
    """Seconds from stand to full speed: the time per step times the steps, whatever their count."""
    return max(value, 0) * MOMENTUM_FACTOR


def adjustment(value: int) -> int:
    """The signed magnitude in CV 23 or CV 24: bits 0-6, minus with bit 7.

    Source: NMRA S-9.2.2 (2012-07), CVs 23 and 24.
    """
    return -(value & 0x7F) if value & 0x80 else value & 0x7F


def pwm_period(value: int) -> int:
    """Microseconds of the PWM period in CV 9.

    Source: NMRA S-9.2.2 (2012-07), CV 9: (131 + mantissa * 4) * 2 ** exponent, with the mantissa
    in bits 0-4 and the exponent in bits 5-7.
    """
    return (131 + (value & 0x1F) * 4) << (value >> 5 & 0x07)


def extended_address(high: int, low: int) -> int | None:
    """The address in CVs 17 and 18, or nothing where the pair is not a legal one (1-10239).

    Source: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), CVs 17-18.
    """
    address = (high - ADDRESS_BASE) * 256 + low
    legal = ADDRESS_BASE <= high <= ADDRESS_TOP and 1 <= address <= LONGEST_ADDRESS
    return address if legal else None


def consist_address(low: int, hundreds: int = 0) -> int | None:
    """The consist address in CVs 19 and 20, or nothing where the loco is in no consist.

    Source: RCN-225 (2025-07-27), CVs 19-20: bits 0-6 of CV 20 times 100 plus bits 0-6 of CV 19;
    above 10239 there is no consist.
    """
    address = (hundreds & 0x7F) * 100 + (low & 0x7F)
    return address if 1 <= address <= LONGEST_ADDRESS else None


def accessory_decoder(low: int, high: int) -> int | None:
    """The decoder address in CVs 1 and 9 of an accessory decoder, or nothing where they hold none.

    Source: NMRA S-9.2.2 (2012-07) and RCN-225 (2025-07-27), accessory CVs 1 and 9: bits 0-5 of
    CV 1 and bits 0-2 of CV 9. Its four outputs have packet addresses from four times that on.
    """
    return high * 64 + low if low < 64 and high < 8 else None


def accessory_output(low: int, high: int, offset: int = 3) -> int | None:
    """The output address in CVs 1 and 9 as a packet address, or nothing where they hold none.

    Source: RCN-225 (2025-07-27), accessory CVs 1 and 9: the number that people call the output
    by, and 3. By NMRA S-9.2.2 (2012-07), CV 1, the offset is -1, although the same text says that
    CV 1 = 1 and CV 9 = 0 are one packet by both methods, which holds for 3 alone.
    """
    return (high * 256 + low + offset) % ACCESSORIES if high < 8 else None


def accessory_number(packet: int) -> int:
    """The number, 1 to 2048, that people call an output of a packet address by.

    Source: RCN-225 (2025-07-27), accessory CV 1: 1 is packet address 4. That packet addresses
    0 to 3 come last is from RCN-213, second hand.
    """
    return (packet - 3) % ACCESSORIES or ACCESSORIES


def manufacturer(cv8: int, cv107: int, cv108: int) -> int:
    """The manufacturer ID, extended by CVs 107 and 108 where CV 8 is 238.

    Source: RCN-225 (2025-07-27), CVs 107-108: bits 0-3 of CV 107 times 256 plus CV 108.
    """
    return (cv107 & 0x0F) * 256 + cv108 if cv8 == EXTENDED_MAKER else cv8


def is_locked(cv15: int, cv16: int) -> bool:
    """Whether a decoder ignores writes because CV 15 does not name it.

    Source: NMRA S-9.2.2 (2012-07), CVs 15-16. By RCN-225 (2025-07-27) 240-255 in CV 15 are
    commands, of which 255 unlocks every decoder; they are no keys and do not belong here.
    """
    return cv15 != cv16


def function_state(value: int) -> tuple[int, str]:
    """The function number and what its state does to an output, on index page 0/43.

    Source: RCN-227 (2018-12-02), section 3.3: the number in bits 0-5; bits 6 and 7 limit it to
    one direction, or both together let the function block the output.
    """
    return value & 0x3F, _STATES[value >> 6]


_STATES = ("in both directions", "forward only", "reverse only", "blocks the output")


def wire_address(cv: int) -> int:
    """The number that direct mode sends for a CV.

    Source: NMRA S-9.2.3 (2012-07), section E: the CV number minus one.
    """
    return cv - 1
