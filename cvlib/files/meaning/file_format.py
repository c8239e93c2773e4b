"""Which format a file of definitions is written in, and what to do about another one."""

from __future__ import annotations

from cvlib.files.faults import Faults
from cvlib.files.text import typed

FORMAT = 2
"""The format of profile and blocks files."""


def is_current(faults: Faults) -> bool:
    """Whether a file is of this format; another one that there is or may be is noted.

    What is no format at all is left to the shape of the file, and so is a loco file.
    """
    given = faults.data.get("format")
    if type(given) is not int or given < 1 or isinstance(faults.data.get("decoder"), list):
        return True
    if given > FORMAT:
        faults.add(
            ("format",),
            f"this file has a newer format than {FORMAT}.",
            "Install a newer cvlib to read it.",
        )
    if given < FORMAT:
        faults.add(
            ("format",),
            f"this file has the older format {given}, in which documents spoke for more than they "
            "say.",
            f"Run {typed('cvlib', 'tidy', faults.name)} to bring it to format {FORMAT}.",
        )
    return given == FORMAT
