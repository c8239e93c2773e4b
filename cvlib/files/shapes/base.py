"""The common part of every shape: strict, no unknown keys, hyphens in the file."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from cvlib.files.bounds import TEXT
from cvlib.model.units import Factor, factor_of

WORD = r"[a-z0-9]+(?:-[a-z0-9]+)*"
NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"
INDEX = r"(?:\[(?:n|[0-9]{1,3})\])?"
NEAR = r"(?:\[(?:n(?:[+-][0-9]{1,3})?|[0-9]{1,3})\])?"
SPAN_KEY = r"^-?[0-9]{1,5}(?:\s*-\s*-?[0-9]{1,5})?$"
LARGEST_FIGURE = Decimal("1e9")
FRACTION = r"^(-?[1-9][0-9]{0,8})/([1-9][0-9]{0,8})$"
FINEST_FIGURE = -9
"""Power of ten of the last place that a scale or an offset may have."""

LEAST, MOST = -(2**63), 2**63 - 1
"""The whole numbers of TOML 1.0."""
WHOLE = {"type": "integer", "minimum": LEAST, "maximum": MOST}

MARK = "cvlib"
"""The type of every fault that a shape finds itself: its text is shown as it stands."""


def hyphens(name: str) -> str:
    """The key in a file that stands for a Python name."""
    return name.rstrip("_").replace("_", "-")


def fault(text: str, advice: str = "") -> PydanticCustomError:
    """A fault of a shape's own, in plain words, with what to do where the key's hint is no help."""
    return PydanticCustomError(MARK, "{text}", {"text": text, "advice": advice})


class Shape(BaseModel):
    """A table in a file. Keys that it does not name are refused."""

    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, alias_generator=hyphens, use_enum_values=True
    )

    def one_of(self, *keys: str, at_most: bool = False) -> None:
        """Refuse the table unless exactly one of the keys (or at most one) is given."""
        given = [key for key in keys if key in self.given()]
        if len(given) == 1 or (at_most and not given):
            return
        wanted = " or ".join(f'"{key}"' for key in keys)
        if given:
            found = " and ".join(f'"{key}"' for key in given)
            raise fault(f"{found} stand together", "Give only one of them.")
        raise fault(f"{wanted} is missing", "Give one of them.")

    def given(self) -> set[str]:
        """The keys that the file gives, as written there."""
        return {hyphens(name) for name in self.model_fields_set}


def exactly_one(*keys: str) -> dict[str, Any]:
    """The same demand as :meth:`Shape.one_of`, for the JSON Schema."""
    return {"oneOf": [{"required": [key]} for key in keys]}


class OneOrMore:
    """A list that may be written without brackets when it has one entry."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """The list's own schema behind a step that makes a list of a single entry."""
        return core_schema.no_info_before_validator_function(as_list, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Either one entry or a list of them."""
        listed = handler(schema)
        return {"anyOf": [listed["items"], listed]}


class OrName:
    """A table that may be given by the name of a list instead."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """A text that can be a name goes through; all else has the table's own schema."""
        return core_schema.no_info_wrap_validator_function(
            lambda value, inner: value if is_name(value) else inner(value), handler(source)
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Either the name or the table."""
        return {"anyOf": [{"type": "string", "pattern": f"^{WORD}$"}, handler(schema)]}


class Plain:
    """A value checked by one function, with its JSON Schema written out."""

    def __init__(self, check: Callable[[Any], Any], schema: JsonSchemaValue) -> None:
        self.check = check
        self.schema = schema

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """The function alone decides."""
        return core_schema.no_info_plain_validator_function(self.check)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """The schema as given."""
        return dict(self.schema)


def as_list(value: Any) -> Any:
    """A list as it is; anything else as the only entry of a list."""
    return value if isinstance(value, list) else [value]


def is_name(value: Any) -> bool:
    """Whether a value can be the name of a list."""
    return isinstance(value, str) and re.fullmatch(WORD, value) is not None


def is_whole(value: Any) -> bool:
    """Whether a value is a whole number that TOML 1.0 has room for; true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool) and LEAST <= value <= MOST


def check_format(number: int) -> Callable[[Any], int]:
    """A check for the version of a file's form; true is no number, though Python takes it for 1."""

    def check(value: Any) -> int:
        if type(value) is int and value == number:
            return value
        raise fault(f"must be {number}")

    return check


def check_true(value: Any) -> bool:
    """A key that is there or not: its only value is true."""
    if value is True:
        return value
    raise fault("must be true")


def check_figure(value: Any) -> Decimal:
    """A figure as an exact decimal, of a size that a decoder can mean."""
    if is_whole(value):
        value = Decimal(value)
    if not isinstance(value, Decimal):
        raise fault("must be a figure, such as 2 or 0.5, without quotes")
    if not value.is_finite():
        raise fault("must be a figure of usual size, such as 2 or 0.5")
    exponent = value.as_tuple().exponent
    if abs(value) > LARGEST_FIGURE or not isinstance(exponent, int) or exponent < FINEST_FIGURE:
        raise fault("must lie between -1000000000 and 1000000000, with at most nine decimal places")
    return value.normalize() if value else Decimal(0)


def check_scale(value: Any) -> Factor:
    """A figure that is not 0, or a fraction as a text."""
    if isinstance(value, str):
        if found := re.fullmatch(FRACTION, value):
            return factor_of(Fraction(int(found[1]), int(found[2])))
        raise fault('must be a figure, such as 0.5, or a fraction, such as "1/1024"')
    figure = check_figure(value)
    if not figure:
        raise fault("must not be 0: every raw value would mean the same")
    return figure


def check_ends(value: Any) -> list[int]:
    """The two ends of a range."""
    if isinstance(value, list) and len(value) == 2 and all(map(is_whole, value)):
        return value
    raise fault("must be two whole numbers, such as [0, 255]")


def check_cvs(value: Any) -> Any:
    """CV numbers: a list of whole numbers, or a text such as "67-94"."""
    if isinstance(value, str) and re.fullmatch(r"[0-9 ,-]{1,200}", value):
        return value
    if isinstance(value, list) and value and all(is_whole(n) and 1 <= n <= 1024 for n in value):
        if len(set(value)) < len(value):
            raise fault("names a CV twice")
        return value
    raise fault('must be a list of CV numbers 1-1024, or a text such as "67-94"')


_ALLOWED: dict[str, tuple[Callable[[Any], bool], JsonSchemaValue, str]] = {
    "whole": (is_whole, WHOLE, "a whole number"),
    "bool": (lambda v: isinstance(v, bool), {"type": "boolean"}, "true or false"),
    "text": (lambda v: isinstance(v, str), {"type": "string"}, "a name in quotes"),
    "wholes": (
        lambda v: isinstance(v, list) and bool(v) and all(map(is_whole, v)),
        {"type": "array", "items": WHOLE, "minItems": 1},
        "a list of whole numbers",
    ),
    "texts": (
        lambda v: isinstance(v, list) and all(isinstance(n, str) for n in v),
        {"type": "array", "items": {"type": "string"}},
        "a list of names",
    ),
}


def written(*allowed: str) -> Plain:
    """A raw value in one of the allowed forms."""
    tests = [_ALLOWED[name][0] for name in allowed]
    words = " or ".join(_ALLOWED[name][2] for name in allowed)

    def check(value: Any) -> Any:
        if any(test(value) for test in tests):
            return value
        raise fault(f"must be {words}")

    return Plain(check, {"anyOf": [_ALLOWED[name][1] for name in allowed]})


Text: TypeAlias = Annotated[str, Field(min_length=1, max_length=TEXT)]
Whole: TypeAlias = Annotated[int, Field(ge=LEAST, le=MOST)]
Format: TypeAlias = Annotated[int, Plain(check_format(1), {"const": 1, "type": "integer"})]
ProfileFormat: TypeAlias = Annotated[int, Plain(check_format(2), {"const": 2, "type": "integer"})]
OnlyTrue: TypeAlias = Annotated[bool, Plain(check_true, {"const": True, "type": "boolean"})]
Cv: TypeAlias = Annotated[int, Field(ge=1, le=1024)]
Byte: TypeAlias = Annotated[int, Field(ge=0, le=255)]
Cvs: TypeAlias = Annotated[
    Any,
    Plain(
        check_cvs,
        {
            "anyOf": [
                {"type": "string", "pattern": "^[0-9 ,-]{1,200}$"},
                {
                    "type": "array",
                    "items": {"type": "integer", "minimum": 1, "maximum": 1024},
                    "minItems": 1,
                    "uniqueItems": True,
                },
            ]
        },
    ),
]
Figure: TypeAlias = Annotated[
    Decimal,
    Plain(check_figure, {"type": "number", "minimum": -1e9, "maximum": 1e9}),
]
Scale: TypeAlias = Annotated[
    Decimal | Fraction,
    Plain(
        check_scale,
        {
            "anyOf": [
                {"type": "number", "minimum": -1e9, "maximum": 1e9, "not": {"const": 0}},
                {"type": "string", "pattern": FRACTION},
            ]
        },
    ),
]
Ends: TypeAlias = Annotated[
    list[int],
    Plain(
        check_ends,
        {"type": "array", "items": WHOLE, "minItems": 2, "maxItems": 2},
    ),
]
RangeText: TypeAlias = Annotated[str, Field(pattern=r"[<>=]")]
Firmware: TypeAlias = Annotated[list[RangeText], Field(min_length=1), OneOrMore()]
PageText: TypeAlias = Annotated[str, Field(pattern=r"^[0-9]{1,3}/[0-9]{1,3}$")]
BITS = r"[0-7](?:\s*-\s*[0-7])?"
BitsText: TypeAlias = Annotated[str, Field(pattern=rf"^{BITS}(?:,\s*{BITS})*$")]
SettingId: TypeAlias = Annotated[
    str, Field(pattern=rf"^{WORD}{INDEX}(?:\.{WORD}{INDEX})+$", max_length=120)
]
DecidingId: TypeAlias = Annotated[
    str, Field(pattern=rf"^{WORD}{NEAR}(?:\.{WORD}{NEAR})+$", max_length=120)
]
"""The id of a setting in a condition: also of a neighbour, ``[n-1]``."""
Named: TypeAlias = Annotated[str, Field(pattern=rf"^{NAME}$", max_length=120)]
Names: TypeAlias = Annotated[
    dict[Annotated[str, Field(pattern=SPAN_KEY)], Text], Field(min_length=1)
]
NamesOrList: TypeAlias = Annotated[Names, OrName()]
"""Names of raw values, written here or in the list of a name."""
FlagsOrList: TypeAlias = Annotated[
    dict[Annotated[str, Field(pattern=r"^[0-9]{1,2}$")], Text], Field(min_length=1), OrName()
]
Lists: TypeAlias = dict[Annotated[str, Field(pattern=f"^{WORD}$", max_length=120)], Names]
LISTS = "Names of raw values that several settings share, each under a name of its own."
Day: TypeAlias = date
Risks: TypeAlias = list[
    Literal["motor", "current", "motion", "stopping", "heat", "coil", "lock", "address"]
]
"""What a setting may harm; the words are those of :class:`cvlib.model.profile.Risk`."""
Subject: TypeAlias = Literal[
    "address", "driving", "stopping", "keys", "lamps", "sound", "protection"
]
"""What a setting is about; the words are those of :class:`cvlib.model.assignment.Topic`."""
