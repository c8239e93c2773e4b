"""Keys of the profile format as people type them: in an option, at a prompt, in a table's cell."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from cvlib.errors import InputError, did_you_mean, problem
from cvlib.files.text import quoted
from cvlib.model.profile import Extent, Risk, Verdict
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Scheme

_WHOLE = re.compile(r"-?\d{1,18}", re.ASCII)
_BASED = re.compile(r"0x[0-9a-f]{1,16}|0b[01]{1,64}", re.IGNORECASE)
_FRACTION = re.compile(r"-?\d{1,9}/\d{1,9}", re.ASCII)
_FIGURE = re.compile(r"-?\d{1,12}(?:[.,]\d{1,9})?", re.ASCII)
_RANGE = re.compile(r"(-?\d{1,12})\s*(?:-|–|\.\.\.?|…|,|to|bis)\s*(-?\d{1,12})", re.ASCII)
_SPAN = r"-?\d{1,5}(?:\s*[-–]\s*-?\d{1,5})?"
_NEXT_NAME = re.compile(rf"\s*[,;|\n]\s*(?=(?:bit\s*)?{_SPAN}\s*[=:])", re.ASCII | re.IGNORECASE)
_NAME = re.compile(rf"(?:bit\s*)?({_SPAN})\s*[=:]\s*(.+)", re.ASCII | re.IGNORECASE | re.DOTALL)
_MEASURE = re.compile(r'(\d{1,9}(?:[.,]\d{1,9})?)\s*([a-z/"\']*)', re.ASCII | re.I)
_SPELT = {'"': "in", "inch": "in", "inches": "in", "sec": "s"}
_DAY = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", re.ASCII)
_FROM_TO = re.compile(r"(\S+)\s+(?:to|bis)\s+(\S+)")
_CITED = re.compile(r"([^:=\s]+)(?::([^=]+?))?(?:\s*=\s*(works|unreliable|no[- ]effect))?")
_ON = frozenset(("on", "true", "yes", "y", "1", "ein", "an", "ja", "j"))
_OFF = frozenset(("off", "false", "no", "n", "0", "aus", "nein"))


def parse_key(key: str, text: str, kind: str = "") -> Any:
    """The value that a typed text means for a key; ``kind`` is that of the place, for its default.

    What begins with a bracket or a brace is taken as TOML. Raises InputError with what would have
    been right.
    """
    text = text.strip()
    if not text:
        raise problem(f"{key} is empty.", advice="Give a value, or leave it out.")
    if key in _BY_KIND:
        return _BY_KIND[key](key, text, kind)
    parse = _PARSERS.get(key)
    if parse is None:
        return text
    return _literal(key, text) if text[0] in "[{" else parse(key, text)


def parse_firmware(text: str, scheme: Scheme) -> str | list[str]:
    """The firmware that a typed text means, as profiles write it.

    Raises InputError for what is no range, and for one that holds nothing.
    """
    found: str | list[str] = parse_key("firmware", text)
    if FirmwareRange.parse(found, scheme).is_empty():
        raise problem(
            f"there is no firmware in {quoted(text)}.",
            advice='Give the older version first, as in "1.0 to 1.4".',
        )
    return found


def parse_verdict(text: str) -> Verdict:
    """What a bench test saw: ``works``, ``unreliable`` or ``no-effect``."""
    try:
        return Verdict(text.strip().casefold().replace(" ", "-"))
    except ValueError:
        known = [str(verdict.value) for verdict in Verdict]
        advice = did_you_mean(text, known) or f"Say {', '.join(known[:-1])} or {known[-1]}."
        raise problem(f"{quoted(text)} is no outcome of a bench test.", advice=advice) from None


def parse_on_off(text: str) -> bool:
    """Whether a text says yes."""
    word = text.strip().casefold()
    if word in _ON or word in _OFF:
        return word in _ON
    raise problem(f"{quoted(text)} is neither yes nor no.", advice="Say yes or no.")


def _literal(key: str, text: str) -> Any:
    try:
        return tomllib.loads(f"value = {text}", parse_float=Decimal)["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        raise problem(
            f"{key} {quoted(text)} is not understood.",
            advice="Close its brackets and put text in quotes, as in docs/profile-format.md.",
        ) from None


def _whole(key: str, text: str) -> int:
    if _WHOLE.fullmatch(text):
        return int(text)
    if _BASED.fullmatch(text):
        return int(text, 0)
    raise problem(f"{key} {quoted(text)} is no whole number.", advice="Write one such as 3.")


def _scale(key: str, text: str) -> int | Decimal | str:
    return text if _FRACTION.fullmatch(text) else _figure(key, text)


def _figure(key: str, text: str) -> int | Decimal:
    if not _FIGURE.fullmatch(text):
        raise problem(f"{key} {quoted(text)} is no figure.", advice="Write one such as 2 or 0.5.")
    plain = text.replace(",", ".")
    return Decimal(plain) if "." in plain else int(plain)


def _range(key: str, text: str) -> list[int]:
    found = _RANGE.fullmatch(text)
    if not found:
        raise problem(f"{key} {quoted(text)} is no range.", advice='Write one such as "0-255".')
    return [int(found[1]), int(found[2])]


def _names(key: str, text: str) -> dict[str, str]:
    made: dict[str, str] = {}
    for entry in _NEXT_NAME.split(text):
        found = _NAME.fullmatch(entry.strip().rstrip(",;"))
        if not found:
            raise problem(
                f"{key} {quoted(entry.strip())} has no number with a name.",
                advice='Write them as in "0=off, 1=on, 2-7=dim".',
            )
        number = re.sub(r"\s", "", found[1]).replace("–", "-")
        if number in made:
            raise problem(f"{key} names {number} twice.", advice="Keep one of the two.")
        made[number] = found[2].strip().strip('"')
    return made


def _firmware(_key: str, text: str) -> str | list[str]:
    parts = [_one_range(part.strip()) for part in re.split(r";|\s+or\s+|\s+oder\s+", text)]
    return parts if len(parts) > 1 else parts[0]


def _one_range(text: str) -> str:
    """A range in the comparisons of the format; a bare version stands for itself."""
    if any(sign in text for sign in "<>="):
        return text
    found = _FROM_TO.fullmatch(text)
    return f">={found[1]}, <={found[2]}" if found else f"=={text}"


def _cvs(_key: str, text: str) -> str | list[int]:
    numbers = [part.strip() for part in text.split(",")]
    return [int(part) for part in numbers] if all(map(_WHOLE.fullmatch, numbers)) else text


def split_measure(text: str) -> tuple[float, str] | None:
    """A figure as people type it and its unit, empty where there is none; nothing if it is neither.

    >>> split_measure("81,5 cm"), split_measure('32"'), split_measure("far")
    ((81.5, 'cm'), (32.0, 'in'), None)
    """
    found = _MEASURE.fullmatch(text.strip())
    if not found:
        return None
    unit = found[2].casefold()
    return float(found[1].replace(",", ".")), _SPELT.get(unit, unit)


def parse_day(text: str, what: str = "") -> date:
    """A day as people type it: ``2026-03-14`` or ``14.3.2026``; ``what`` begins a fault."""
    found = _DAY.fullmatch(text)
    try:
        if found:
            return date(int(found[3]), int(found[2]), int(found[1]))
        return date.fromisoformat(text)
    except ValueError:
        raise problem(
            f"{what}{quoted(text)} is no day.", advice="Write it as in 2026-03-14."
        ) from None


def _on_off(key: str, text: str) -> bool:
    try:
        return parse_on_off(text)
    except InputError as error:
        raise problem(f"{key}: {error.faults[0].problem}", advice="Say yes or no.") from None


def _list(_key: str, text: str) -> list[str]:
    return [part for part in (part.strip() for part in re.split(r"[,;]", text)) if part]


def _extent(key: str, text: str) -> str:
    """How much of a document was read."""
    known = [str(one.value) for one in Extent]
    if text.casefold() not in known:
        advice = did_you_mean(text, known) or f"Say {' or '.join(known)}."
        raise problem(f"{key} {quoted(text)} is no extent of a document.", advice=advice)
    return text.casefold()


def _risk(key: str, text: str) -> list[str]:
    """What a setting may harm; "none" stands for an empty list."""
    known = [str(one.value) for one in Risk]
    words = [] if text.casefold() in ("none", "nothing") else _list(key, text.casefold())
    for word in words:
        if word not in known:
            advice = did_you_mean(word, known) or f"Say {', '.join(known)}, or none."
            raise problem(f"{key} {quoted(word)} is no harm that is known.", advice=advice)
    return words


def _wholes(key: str, text: str) -> list[int]:
    return [_whole(key, part) for part in re.split(r"[\s,;]+", text.strip(" ,;"))]


def _when(key: str, text: str) -> Any:
    made = []
    for part in text.split(";"):
        setting, equals, values = (one.strip() for one in part.partition("="))
        if not equals or not values:
            raise problem(
                f"{key} {quoted(part.strip())} is no condition.",
                advice='Write it as in "output[n].type=coil, servo".',
            )
        named = [int(v) if _WHOLE.fullmatch(v) else v for v in _list(key, values)]
        test = "not" if setting.endswith("!") else "is"
        made.append({"setting": setting.rstrip("! "), test: named})
    return made if len(made) > 1 else made[0]


_TESTED = re.compile(r"(.+?)\s*(>=|<=|!=|=)\s*(.+)")
_TESTS = {">=": "min", "<=": "max", "!=": "not", "=": "is"}


def _conditions(key: str, text: str) -> list[dict[str, Any]]:
    """What a rule asks: ``braking.mode=fixed distance; momentum.deceleration>=1``."""
    made = []
    for part in text.split(";"):
        found = _TESTED.fullmatch(part.strip())
        if not found:
            raise problem(
                f"{key} {quoted(part.strip())} is no condition.",
                advice='Write it as in "braking.mode=fixed distance; momentum.deceleration>=1".',
            )
        name, sign, said = found.groups()
        values = [_scalar(one) for one in _list(key, said)]
        made.append({"setting": name, _TESTS[sign]: values[0] if sign[0] in "<>" else values})
    return made


def _scalar(text: str) -> int | bool | str:
    return int(text) if _WHOLE.fullmatch(text) else {"on": True, "off": False}.get(text, text)


def _sum(key: str, text: str) -> dict[str, Any]:
    names, sign, most = text.partition("<=")
    if not sign:
        raise problem(f"{key} {quoted(text)} has no limit.", advice='Write "a.x + a.y <= 255".')
    return {"of": [one.strip() for one in names.split("+")], "max": _figure(key, most.strip())}


def _labels(_key: str, text: str) -> str | list[str]:
    names = [one for one in (part.strip() for part in text.split(";")) if one]
    return names if len(names) > 1 else text


def _sources(key: str, text: str) -> list[Any]:
    made: list[Any] = []
    for part in text.split(";"):
        found = _CITED.fullmatch(part.strip())
        if not found:
            raise problem(
                f"{key} {quoted(part.strip())} is no source.",
                advice='Write it as in "handbook-1:23" or "bench-2026-03=works".',
            )
        source, page, verdict = found.groups()
        if verdict:
            cited = {"source": source, "verdict": parse_verdict(verdict).value}
            made.append({**cited, "page": page} if page else cited)
        else:
            made.append(f"{source}:{page}" if page else source)
    return made


def _repeat(key: str, text: str) -> dict[str, int]:
    known = ("count", "step", "first")
    made: dict[str, int] = {}
    for part in _list(key, text):
        name, equals, number = (one.strip() for one in part.partition("="))
        if not equals or name not in known:
            raise problem(
                f"{key} {quoted(part)} is not understood.",
                advice='Write it as in "count=12, step=10, first=1".',
            )
        made[name] = _whole(f"{key} {name}", number)
    return made


def _answers(key: str, text: str) -> list[dict[str, int]]:
    made = []
    for part in _list(key, text):
        cv, equals, value = (one.strip() for one in part.partition("="))
        if not equals:
            raise problem(
                f"{key} {quoted(part)} is no CV with a value.", advice='Write it as in "7=1, 8=13".'
            )
        made.append({"cv": _whole(f"{key} CV", cv), "value": _whole(f"{key} value", value)})
    return made


def _default(key: str, text: str, kind: str) -> Any:
    """A raw value in the form that fits the kind of the place."""
    if text[0] in "[{":
        return _literal(key, text)
    if kind == "text":
        return text
    if kind == "switch":
        return _on_off(key, text)
    if _WHOLE.fullmatch(text) or _BASED.fullmatch(text):
        return _whole(key, text)
    if kind == "flags":
        return _list(key, text)
    if kind == "curve" or (kind == "address" and not _WHOLE.fullmatch(text)):
        return _wholes(key, text)
    return text


def _defaults(key: str, text: str, kind: str) -> list[Any]:
    if text[0] in "[{":
        return list(_literal(key, text))
    return [_default(key, part, kind) for part in _list(key, text)]


_BY_KIND: Mapping[str, Callable[[str, str, str], Any]] = {
    "default": _default,
    "defaults": _defaults,
}
_PARSERS: Mapping[str, Callable[[str, str], Any]] = {
    **dict.fromkeys(("cv", "also-at", "step", "page-step"), _whole),
    "scale": _scale,
    "offset": _figure,
    **dict.fromkeys(("values", "choices", "flags"), _names),
    **dict.fromkeys(
        ("built-in", "read-only", "volatile", "internal", "reserved", "uniform"), _on_off
    ),
    "range": _range,
    "firmware": _firmware,
    "cvs": _cvs,
    "date": lambda key, text: parse_day(text, f"{key} "),
    **dict.fromkeys(("about", "without", "only", "order"), _list),
    **dict.fromkeys(("if", "requires", "conflicts"), _conditions),
    **dict.fromkeys(("no-answer", "ignore"), _wholes),
    "manufacturer": _whole,
    "sum": _sum,
    "label": _labels,
    "trap": _on_off,
    "parts": _literal,
    "follows": _literal,
    "extent": _extent,
    "risk": _risk,
    "when": _when,
    "sources": _sources,
    "repeat": _repeat,
    "answers": _answers,
}
