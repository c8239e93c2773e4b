"""Results as JSON: sorted keys, a version of the form, nothing but data and its words."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Mapping
from enum import Enum

from cvlib.errors import Fault

_NUMBERS = re.compile(r"\[\n\s+(\d+(?:,\n\s+\d+)*)\n\s+\]")
"""A list of whole numbers over several lines; a JSON string never holds a line end."""

FORM = 1
"""The version of the JSON form; it rises when a program that reads it would have to change."""


def to_json(data: Mapping[str, object]) -> str:
    """The data as JSON text with the form's version beside it, ending in a line end."""
    whole = {"format": FORM, **data}
    text = json.dumps(whole, ensure_ascii=False, indent=2, sort_keys=True)
    return _NUMBERS.sub(lambda found: f"[{' '.join(found[1].split())}]", text) + "\n"


def as_data(value: object) -> object:
    """A frozen result as plain JSON data: dataclasses as objects, tuples as lists.

    >>> from cvlib.findings.finding import Bits
    >>> as_data(Bits(29, "", 0x20, 38))
    {'cv': 29, 'page': '', 'mask': 32, 'value': 38}
    """
    if isinstance(value, Enum):
        return value.value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: as_data(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, Mapping):
        return {str(key): as_data(held) for key, held in value.items()}
    if isinstance(value, (tuple, list)):
        return [as_data(held) for held in value]
    if isinstance(value, (set, frozenset)):
        return sorted(str(held) for held in value)
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    return str(value)


def fault_data(fault: Fault) -> dict[str, object]:
    """What is wrong with a file, with its place as far as it is known."""
    position = fault.position
    return {
        "file": position.file if position else "",
        "line": position.line if position else None,
        "column": position.column if position else None,
        "problem": fault.problem,
        "advice": fault.advice,
    }
