"""The JSON Schema of settings with common keys: their places may leave to those what they need.

A schema cannot look from a place to the common keys beside it. So it allows such a place every
key of any kind and demands none; the program itself knows better.
"""

from __future__ import annotations

from typing import Any

from cvlib.files.shapes.common import PER_PLACE
from cvlib.files.shapes.places import KINDS

Schema = dict[str, Any]

_PLACE, _COMMON, _SETTING = "PlaceBesideCommon", "Common", "SettingShape"


def with_common_keys(definitions: dict[str, Schema]) -> dict[str, Schema]:
    """The definitions of a schema, with settings that have common keys and those that have none."""
    if _SETTING not in definitions:
        return definitions
    setting = definitions[_SETTING]
    keys = _every_key([definitions[kind.__name__]["properties"] for kind in KINDS])
    shared = {key: value for key, value in keys.items() if key not in PER_PLACE}
    alone = {key: value for key, value in setting["properties"].items() if key != "common"}
    place = {**alone["place"], "items": {"$ref": f"#/definitions/{_PLACE}"}}
    beside = {**alone, "common": {"$ref": f"#/definitions/{_COMMON}"}, "place": place}
    common_of = setting["properties"]["common"]["description"]
    both = {
        "description": setting["description"],
        "anyOf": [
            _table("A setting with all in its places.", alone, setting["required"]),
            _table("A setting with common keys.", beside, [*setting["required"], "common"]),
        ],
    }
    more = {
        _COMMON: _table(common_of, shared, []),
        _PLACE: _table("Where the setting lives, and what its common keys do not say.", keys, []),
    }
    return dict(sorted({**definitions, _SETTING: both, **more}.items()))


def _table(description: str, properties: Schema, required: list[str]) -> Schema:
    demand = {"required": required} if required else {}
    return {
        "additionalProperties": False,
        "description": description,
        "properties": properties,
        "type": "object",
        **demand,
    }


def _every_key(tables: list[Schema]) -> Schema:
    """Every key that some kind of place has, with all that any kind allows there."""
    found: dict[str, list[Schema]] = {}
    for table in tables:
        for key, value in table.items():
            if value not in found.setdefault(key, []):
                found[key].append(value)
    return {key: values[0] if len(values) == 1 else _any(values) for key, values in found.items()}


def _any(values: list[Schema]) -> Schema:
    """One key out of several of the same name; the first gives its description."""
    bare = [{key: part for key, part in one.items() if key != "description"} for one in values]
    if all("const" in one for one in bare):
        allowed: Schema = {"enum": [one["const"] for one in bare], "type": bare[0]["type"]}
    else:
        distinct = [one for at, one in enumerate(bare) if one not in bare[:at]]
        allowed = distinct[0] if len(distinct) == 1 else {"anyOf": distinct}
    return {**allowed, "description": values[0]["description"]}
