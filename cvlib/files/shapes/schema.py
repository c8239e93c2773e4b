"""JSON Schemas of the files, for editors and other programs: made from the shapes.

``python -m cvlib.files.shapes.schema`` writes them to docs/schema/. They keep to draft 7, which
common TOML editors understand, with references that stand alone.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from cvlib.files.data import docs_folder
from cvlib.files.shapes.base import Shape
from cvlib.files.shapes.common_schema import with_common_keys
from cvlib.files.shapes.loco import LocoFile
from cvlib.files.shapes.profile import BlocksFile, ProfileFile
from cvlib.files.shapes.recipe import RecipeFile

DRAFT = "http://json-schema.org/draft-07/schema#"
FILES: Mapping[str, type[Shape]] = {
    "profile": ProfileFile,
    "blocks": BlocksFile,
    "loco": LocoFile,
    "recipe": RecipeFile,
}
"""Each kind of file and its shape."""

_DROPPED = ("discriminator", "title")
_NAMED = ("properties", "patternProperties", "definitions")
"""Keys whose tables have names of their own, which are no keywords."""


def schema(kind: str) -> dict[str, Any]:
    """The JSON Schema of one kind of file, such as ``profile``."""
    shape = FILES[kind]
    made = shape.model_json_schema(ref_template="#/definitions/{model}")
    made["definitions"] = made.pop("$defs")
    plain = _plain(made)
    plain["definitions"] = with_common_keys(plain["definitions"])
    return {
        "$schema": DRAFT,
        "$comment": "Made from the shapes by python -m cvlib.files.shapes.schema.",
        "title": f"cvlib {kind} file",
        **plain,
    }


def schema_text(kind: str) -> str:
    """The schema as it is kept in docs/schema/."""
    return json.dumps(schema(kind), indent=2, ensure_ascii=False) + "\n"


def schema_file(kind: str) -> Path:
    """Where the schema of one kind of file is kept."""
    return docs_folder() / "schema" / f"{kind}.schema.json"


def write_schemas() -> None:
    """Write all schemas anew."""
    for kind in FILES:
        path = schema_file(kind)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(schema_text(kind), encoding="utf-8", newline="\n")


def _plain(node: Any) -> Any:
    """The schema without what only pydantic needs, in the form that draft 7 reads everywhere."""
    if isinstance(node, list):
        return [_plain(one) for one in node]
    if not isinstance(node, dict):
        return node
    made: dict[str, Any] = {}
    for key, value in node.items():
        if key in _NAMED:
            made[key] = {name: _plain(one) for name, one in value.items()}
        elif key not in _DROPPED and not (key == "default" and value is None):
            made[key] = _plain(value)
    if "patternProperties" in made:
        made.setdefault("additionalProperties", False)
    return _alone(_without_null(made))


def _without_null(node: dict[str, Any]) -> dict[str, Any]:
    """TOML has no null: a key is there or it is not."""
    either = node.get("anyOf")
    if either is None or {"type": "null"} not in either:
        return node
    kept = [one for one in either if one != {"type": "null"}]
    rest = {key: value for key, value in node.items() if key != "anyOf"}
    return {**kept[0], **rest} if len(kept) == 1 else {"anyOf": kept, **rest}


def _alone(node: dict[str, Any]) -> dict[str, Any]:
    """Draft 7 overlooks what stands beside a reference, so the reference moves one level down."""
    if "$ref" not in node or len(node) == 1:
        return node
    rest = {key: value for key, value in node.items() if key != "$ref"}
    return {"allOf": [{"$ref": node["$ref"]}], **rest}


if __name__ == "__main__":
    write_schemas()
