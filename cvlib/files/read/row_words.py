"""What a cell of a table says beside the name: marks in brackets, unit, scale, named values."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from cvlib.errors import InputError
from cvlib.files.typed_keys import parse_key

_TAG = re.compile(r"\s*\[([^\]]*)\]\s*")
_ON_CV = re.compile(r"CV\s*(\d+)\s*=\s*(\d+(?:\s*[,/]\s*\d+)*)\s*(.*)", re.I | re.A)
_MARKS = {
    **dict.fromkeys(("ro", "r", "read only", "read-only", "nur lesen"), "read-only"),
    **dict.fromkeys(("internal", "intern"), "internal"),
    **dict.fromkeys(("volatile", "flüchtig"), "volatile"),
    **dict.fromkeys(("reserved", "reserviert"), "reserved"),
}
_UNUSED = re.compile(r"not implemented|no effect|unused|nicht benutzt|ohne wirkung", re.I)
_NEVER_USED = re.compile(r"(?:not used|unused)(?: by code)?|nicht benutzt", re.I)
_UNIT = r"(?:ms|us|µs|s|min|h|Hz|kHz|V|mV|A|mA|cm|mm|m|km/h|%|°C|degrees)"
_STEP = re.compile(rf"(?:(\d+(?:[.,]\d+)?)\s*)?({_UNIT}|seconds|Sekunden)")
_SUM = re.compile(
    rf"(?:({_UNIT})\s*=\s*)?(?:value|Wert)\s*([*/])\s*\(?(-?\d+(?:\.\d+)?)\)?"
    rf"(?:\s*\+\s*(\d+))?(?:\s+({_UNIT}))?"
)
_UNITS = {"seconds": "s", "Sekunden": "s", "us": "µs", "degrees": "°"}
_SPAN = r"\d{1,3}(?:\s*[-–]\s*\d{1,3})?"
_NAMED = re.compile(rf"({_SPAN})\s*=\s*(?!.*\.\.\.)(\S.*)")
_LISTED = re.compile(rf"({_SPAN})\s+(?!and |und |counts |zählt )(\S.*)")
_FOR_TYPE = "default for this type"


@dataclass(slots=True)
class RowWords:
    """The words of a row taken apart."""

    title: str
    help: str = ""
    """What is not understood of the words behind the name."""
    keys: dict[str, Any] = field(default_factory=dict)
    """Marks, unit, scale and offset, as keys of a place."""
    names: dict[str, str] = field(default_factory=dict)
    """Raw values with their names."""
    condition: tuple[int, tuple[int, ...]] | None = None
    """The CV that decides whether the row holds, and its values for which it does."""
    variant: str = ""
    """What people call these values."""
    is_default_only: bool = False
    """Whether the row only gives another default of a setting that it names."""


def read_row_words(text: str) -> RowWords:
    """The name of a setting and what stands around it.

    >>> read_row_words("[ro] operating time; 0.1 s, 0 = off").keys
    {'read-only': True, 'unit': 's', 'scale': Decimal('0.1')}
    """
    made = RowWords("")
    kept = ""
    while found := _TAG.match(text):
        tag = found[1].strip()
        text = text[found.end() :]
        if held := _ON_CV.fullmatch(tag):
            made.condition = int(held[1]), tuple(int(one) for one in re.split("[,/]", held[2]))
            made.variant = held[3].strip()
        elif mark := _MARKS.get(tag.casefold()):
            made.keys[mark] = True
        elif _UNUSED.search(tag):
            made.keys["unused"] = tag
        else:
            kept += found[0]
    title, _, detail = text.partition("; ")
    made.title = " ".join((kept + title).split())
    _read_detail(made, " ".join(detail.split()))
    return made


def _read_detail(made: RowWords, detail: str) -> None:
    parts = [one.strip() for one in detail.split(";") if one.strip()]
    if _FOR_TYPE in parts:
        parts.remove(_FOR_TYPE)
        made.is_default_only = True
    left = [one for one in parts if not _understood(made, one)]
    made.help = "; ".join(left)
    if _NEVER_USED.fullmatch(made.help):
        made.keys.setdefault("unused", made.help)


def _understood(made: RowWords, text: str) -> bool:
    """Whether a part of the words is all unit, scale and names, which are noted then."""
    first, _, rest = text.partition(",")
    keys = _measure(first.strip())
    if keys:
        text = rest.strip()
    names = _names(text) if text else {}
    if text and not names:
        return False
    if len(names) == 1 and not keys and not re.match(_SPAN + r"\s*=", text):
        return False
    made.keys |= keys
    made.names |= names
    return True


def _measure(text: str) -> dict[str, Any]:
    """The unit and what one raw step is worth."""
    if found := _STEP.fullmatch(text):
        unit = {"unit": _UNITS.get(found[2], found[2])}
        return {**unit, "scale": parse_key("scale", found[1])} if found[1] else unit
    found = _SUM.fullmatch(text)
    if not found:
        return {}
    divides = found[2] == "/"
    of = found[1] or found[5]
    scale = f"1/{found[3]}" if divides else parse_key("scale", found[3])
    made = {"scale": scale, **({"unit": _UNITS.get(of, of)} if of else {})}
    return {**made, "offset": parse_key("offset", found[4])} if found[4] else made


def _names(text: str) -> dict[str, str]:
    """Named raw values, ``0 = off, 1 = on`` or ``0 off, 1 on``; none where a part is neither."""
    for form in (_NAMED, _LISTED):
        parts = [form.fullmatch(one.strip()) for one in text.split(",")]
        if all(parts):
            named = ", ".join(f"{one[1]}={one[2]}" for one in parts if one)
            try:
                found: dict[str, str] = parse_key("choices", named)
            except InputError:
                return {}
            return found
    return {}
