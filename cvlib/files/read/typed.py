"""Values typed on a command line: ``27=3``, ``CV27=0x03``, ``257@16/2=12``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from cvlib.errors import InputError, problem
from cvlib.files.read.values import CV_FORM, Gathered, parse_cv, parse_value
from cvlib.files.text import quoted
from cvlib.model.cv import Slot
from cvlib.model.loco import SavedValue

_ASSIGNMENT = re.compile(rf"\s*({CV_FORM})\s*=(.*)", re.I | re.A | re.S)


def parse_typed(items: Iterable[str]) -> Mapping[Slot, SavedValue]:
    """The values typed, each as CV=value; raises InputError with every fault.

    CVs 31 and 32 choose the page of the CVs 257-512 typed after them.

    >>> [(str(slot), saved.value) for slot, saved in parse_typed(["257@16/2=0x0C"]).items()]
    [('CV 257 on page 16/2', 12)]
    """
    gathered = Gathered(how="typed")
    for item in items:
        try:
            found = _ASSIGNMENT.fullmatch(item)
            if found is None:
                raise problem(
                    f"{quoted(item)} is not a CV with its value.",
                    advice="Write the two as 27=3, or 257@16/2=12 for an index page.",
                )
            slot = parse_cv(found[1])
            gathered.add(slot, parse_value(found[2], slot))
        except InputError as error:
            gathered.faults.extend(error.faults)
    return gathered.values()
