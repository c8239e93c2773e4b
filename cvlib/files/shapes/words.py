"""Faults of shape in plain words: each kind of fault that pydantic knows has its sentence."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from cvlib.files.shapes.base import MARK
from cvlib.files.text import one_line, quoted

_TEXT = "must be text in quotes"
_WHOLE = "must be a whole number without quotes"
_FIGURE = "must be a figure without quotes"
_SWITCH = "must be true or false, without quotes"
_TABLE = "must be a table of keys and values"
_LIST = "must be a list in brackets"
_DATE = "must be a date without quotes, such as 2018-10-01"
_UNFIT = "cannot be used here"

SENTENCES: dict[str, str] = {
    "missing": "is missing",
    "extra_forbidden": "is not known here",
    "union_tag_not_found": '"{tag}" is missing',
    "union_tag_invalid": "must be {expected}",
    "literal_error": "must be {expected}",
    "enum": "must be {expected}",
    "value_error": "{error}",
    "assertion_error": "{error}",
    "greater_than": "must be above {gt}",
    "greater_than_equal": "must be {ge} or more",
    "less_than": "must be below {lt}",
    "less_than_equal": "must be {le} or less",
    "multiple_of": "must be a multiple of {multiple_of}",
    "finite_number": "must be a finite figure",
    "too_short": "needs {min_length} or more entries",
    "too_long": "takes {max_length} entries at most",
    "string_too_short": "must not be empty",
    "string_too_long": "may have {max_length} characters at most",
    "string_pattern_mismatch": "is not written as it should be",
    "string_not_ascii": "must be plain ASCII characters",
    "int_from_float": _WHOLE,
    "int_parsing_size": "is far too large a number",
    "recursion_loop": "is nested too deeply",
    "recursion_depth_exceeded": "is nested too deeply",
    "invalid_key": "must have keys of text",
    "none_required": "must be left out",
    **dict.fromkeys(("string_type", "string_unicode", "bytes_type"), _TEXT),
    **dict.fromkeys(("int_type", "int_parsing"), _WHOLE),
    **dict.fromkeys(
        (
            *("float_type", "float_parsing", "decimal_type", "decimal_parsing"),
            *("decimal_max_digits", "decimal_max_places", "decimal_whole_digits"),
            *("fraction_type", "fraction_parsing", "complex_type", "complex_str_parsing"),
        ),
        _FIGURE,
    ),
    **dict.fromkeys(("bool_type", "bool_parsing"), _SWITCH),
    **dict.fromkeys(
        (
            *("model_type", "model_attributes_type", "dict_type", "mapping_type"),
            *("dataclass_type", "dataclass_exact_type", "arguments_type", "named_tuple_type"),
            *("frozen_dict_type", "ordered_dict_type", "counter_type"),
        ),
        _TABLE,
    ),
    **dict.fromkeys(
        (
            *("list_type", "tuple_type", "set_type", "frozen_set_type", "iterable_type"),
            "deque_type",
        ),
        _LIST,
    ),
    **dict.fromkeys(
        (
            *("date_type", "date_parsing", "date_from_datetime_parsing"),
            *("date_from_datetime_inexact", "date_past", "date_future"),
            *("datetime_type", "datetime_parsing", "datetime_object_invalid"),
            *("datetime_from_date_parsing", "datetime_past", "datetime_future"),
            *("time_type", "time_parsing", "timezone_naive", "timezone_aware"),
            *("timezone_offset", "time_delta_type", "time_delta_parsing"),
        ),
        _DATE,
    ),
    **dict.fromkeys(
        (
            *("no_such_attribute", "json_invalid", "json_type", "needs_python_object"),
            *("frozen_field", "frozen_instance", "get_attribute_error", "iteration_error"),
            *("default_factory_not_called", "set_item_not_hashable"),
            *("bytes_too_short", "bytes_too_long", "bytes_invalid_encoding"),
            *("is_instance_of", "is_subclass_of", "callable_type"),
            *("missing_argument", "unexpected_keyword_argument"),
            *("missing_keyword_only_argument", "unexpected_positional_argument"),
            *("missing_positional_only_argument", "multiple_argument_values"),
            *("url_type", "url_parsing", "url_syntax_violation", "url_too_long", "url_scheme"),
            *("uuid_type", "uuid_parsing", "uuid_version"),
            *("missing_sentinel_error", "ellipsis_error"),
        ),
        _UNFIT,
    ),
}
"""What each kind of fault says of a key; words in braces are filled in from the fault."""


def sentence(kind: str, context: dict[str, Any], value: Any) -> str:
    """What is wrong with a value, without the key's name and without a full stop."""
    if kind == MARK:
        said = str(context["text"])
        return f"{said}, found {shown(value)}" if said.startswith("must") else said
    filled = dict(context)
    if known := choices(context):
        filled["expected"] = _either(known)
    try:
        said = SENTENCES.get(kind, _UNFIT).format_map(filled)
    except (KeyError, IndexError):
        said = _UNFIT
    return f"{said}, found {shown(value)}"


def choices(context: dict[str, Any], key: str = "") -> list[str]:
    """What pydantic would have accepted, without its quotes."""
    keys = [key] if key else ["expected_tags", "expected", "discriminator"]
    told = str(next((context[one] for one in keys if one in context), ""))
    words = [word.strip() for word in told.replace(" or ", ", ").split(",")]
    return ["true" if word == "True" else word.strip("'") for word in words if word]


def shown(value: Any) -> str:
    """A value of a file, short enough for an error line."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return quoted(value)
        case dict():
            return "a table"
        case list():
            return "an empty list" if not value else f"a list of {len(value)}"
        case datetime() | date() | time():
            return f"the date {value.isoformat()}" if not isinstance(value, time) else "a time"
        case int() if abs(value) >= 10**15:
            return "a very large number"
        case _:
            return one_line(str(value), 40)


def _either(known: list[str]) -> str:
    told = [word if word.isdecimal() or word == "true" else f'"{word}"' for word in known]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} or {told[-1]}"
