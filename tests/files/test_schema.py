"""The JSON Schemas are current, and agree with the shapes that they are made from."""

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from cvlib.errors import InputError
from cvlib.files.faults import Faults
from cvlib.files.shapes.check import checked
from cvlib.files.shapes.schema import FILES, schema, schema_file, schema_text
from files.profile_cases import BAD, DEFINITIONS, GOOD, as_json, data_of, disturbed

VALIDATORS = {kind: jsonschema.Draft7Validator(schema(kind)) for kind in FILES}

BEYOND_A_SCHEMA = {
    "date-in-quotes": "JSON has no dates, so a date in quotes looks right to it",
    "cv-is-a-fraction": "JSON takes 2.0 for a whole number",
    "common-without-kind": "a schema cannot see what the common keys leave to a place",
    "common-fits-nowhere": "nor which places there are for a common key",
    "common-overridden-everywhere": "nor that none is left for it",
}
"""Bad samples whose shape a JSON Schema cannot refuse, and why."""


def kind_of(path: Path) -> str:
    """Which schema a file of a store asks for."""
    if path.name == "blocks.toml":
        return "blocks"
    return "loco" if "fleet" in path.parts else "profile"


def fits_shape(kind: str, data: dict[str, Any]) -> bool:
    """Whether data has the shape of its kind of file."""
    faults = Faults("x", "", data)
    return checked(FILES[kind], data, faults) is not None and not faults.found


def fits_schema(kind: str, data: dict[str, Any]) -> bool:
    """Whether data is valid by the JSON Schema of its kind of file."""
    return VALIDATORS[kind].is_valid(as_json(data))


@pytest.mark.parametrize("kind", FILES)
def test_the_schema_in_docs_is_current(kind: str) -> None:
    """docs/schema holds what the shapes give; `python -m cvlib.files.shapes.schema` writes it."""
    assert schema_file(kind).read_text(encoding="utf-8") == schema_text(kind)


@pytest.mark.parametrize("kind", FILES)
def test_the_schema_is_valid_and_stands_alone(kind: str) -> None:
    """Each schema is a valid one of draft 7 and refers to nothing outside itself."""
    made = schema(kind)
    jsonschema.Draft7Validator.check_schema(made)
    text = json.dumps(made)
    assert '"$ref": "#/definitions/' in text
    assert text.count('"$ref"') == text.count('"$ref": "#/definitions/')
    assert "null" not in text


def keys_of(node: Any) -> list[tuple[str, Any]]:
    """Every key that some table of a schema may have, with its schema."""
    found: list[tuple[str, Any]] = []
    if isinstance(node, dict):
        found += (node.get("properties") or {}).items()
        for value in node.values():
            found += keys_of(value)
    elif isinstance(node, list):
        for value in node:
            found += keys_of(value)
    return found


@pytest.mark.parametrize("kind", FILES)
def test_every_key_has_a_description(kind: str) -> None:
    """An editor can show a hint for each key; keys that are tables have it at their table."""
    made = schema(kind)
    bare = {
        name for name, value in keys_of(made) if "description" not in value and "$ref" not in value
    }
    assert bare == set()
    assert all("description" in value for value in made["definitions"].values())


STORED = sorted(DEFINITIONS.rglob("*.toml")) + sorted(GOOD.rglob("*.toml"))


@pytest.mark.parametrize("path", STORED, ids=[f"{path.parent.name}-{path.stem}" for path in STORED])
def test_stored_files_fit_shape_and_schema(path: Path) -> None:
    """Every shipped definition, loco and good sample is valid by schema and has its shape."""
    data = data_of(path)
    errors = [error.message for error in VALIDATORS[kind_of(path)].iter_errors(as_json(data))]
    assert errors == []
    assert fits_shape(kind_of(path), data)


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_schema_and_shape_agree_on_bad_samples(path: Path) -> None:
    """A sample has the shape of a profile exactly when the schema says so."""
    try:
        data = data_of(path)
    except InputError:
        pytest.skip("not TOML at all")
    if path.stem in BEYOND_A_SCHEMA:
        assert fits_schema("profile", data)
        assert not fits_shape("profile", data)
    else:
        assert fits_schema("profile", data) == fits_shape("profile", data)


def is_beyond_a_schema(node: Any) -> bool:
    """Whether data holds what JSON cannot tell apart: dates and text, 2.0 and 2, fine figures."""
    if isinstance(node, dict):
        return any(is_beyond_a_schema(value) for value in node.values())
    if isinstance(node, list):
        return any(is_beyond_a_schema(value) for value in node)
    return not isinstance(node, bool | int | str)


@settings(max_examples=300, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_schema_and_shape_agree_on_disturbed_profiles(data: st.DataObject) -> None:
    """Whatever is put into a profile, schema and shape say the same of it.

    Of a setting with common keys a schema knows less: there it may let more pass.
    """
    plain = without_figures(data_of(GOOD / "heath" / "owl.toml"))
    document = data.draw(disturbed(plain))
    assume(not is_beyond_a_schema(document))
    if has_common_keys(document):
        assert fits_schema("profile", document) >= fits_shape("profile", document)
        document["setting"] = [one for one in document["setting"] if not has_common_keys(one)]
    assert fits_schema("profile", document) == fits_shape("profile", document)


def has_common_keys(node: Any) -> bool:
    """Whether there are common keys somewhere in the settings of a profile, or in one of them."""
    settings = node.get("setting") if isinstance(node, dict) and "setting" in node else [node]
    inner = settings if isinstance(settings, list) else ()
    return any(isinstance(one, dict) and "common" in one for one in inner)


def without_figures(node: Any) -> Any:
    """The data without its dates and figures."""
    if isinstance(node, dict):
        return {
            key: without_figures(value)
            for key, value in node.items()
            if not is_beyond_a_schema(value) or isinstance(value, dict | list)
        }
    return [without_figures(value) for value in node] if isinstance(node, list) else node
