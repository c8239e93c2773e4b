"""The JSON output of a command, held against its published schema."""

import json
from functools import cache
from typing import Any

import jsonschema
import pytest

from cli.run_cvlib import ROOT, run


@cache
def schema(command: str) -> Any:
    """The published schema of a command's output."""
    path = ROOT / "docs" / "schema" / f"output-{command}.schema.json"
    return json.loads(path.read_text(encoding="utf-8"))


def json_of(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    """Exit code and JSON output of a command; the output follows its schema."""
    code = run([*words, "--format", "json"])
    data = json.loads(capsys.readouterr().out)
    jsonschema.Draft7Validator(schema(words[0])).validate(data)
    assert data["format"] == 1
    return code, data


def fails(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, list[str]]:
    """Exit code and error lines of a command that has no result."""
    code = run(list(words))
    told = capsys.readouterr()
    assert told.out == ""
    lines = told.err.splitlines()
    assert lines
    assert all(line.startswith("cvlib: ") for line in lines)
    return code, lines
