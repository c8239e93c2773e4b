"""Many faults of one file of saved values, told at once."""

from __future__ import annotations

from cvlib.errors import Fault, InputError, Position


def raise_faults(faults: list[Fault], most: int) -> None:
    """Raise InputError with the faults, of which at most `most` are told and the rest counted.

    Without faults nothing happens.
    """
    if len(faults) > most:
        position = faults[0].position
        rest = Fault(
            f"{len(faults) - most} more faults in this file are not shown.",
            Position(position.file) if position else None,
            "Mend these first.",
            len(faults) - most,
        )
        raise InputError(*faults[:most], rest)
    if faults:
        raise InputError(*faults)
