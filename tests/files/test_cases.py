"""Files of saved values as people keep them: each folder of tests/cases/read is one case.

`input.*` is the file; `expect.toml` holds either `faults`, every error line in order, or what is
read: `name`, `address`, `note` and for each `[[decoder]]` what it names, among it `values`,
`lines` (where each stands) and `saved` (firmware, date and how). Only what it names is compared.
The layouts of lists are common practice, no source.
"""

import difflib
import pprint
import tomllib
from pathlib import Path
from typing import Any

import pytest

from cvlib.errors import InputError
from cvlib.files.read.interface import read_file
from cvlib.model.loco import Loco, SavedDecoder

CASES = Path(__file__).resolve().parents[1] / "cases" / "read"


def decoder_told(decoder: SavedDecoder) -> dict[str, Any]:
    """What a case may expect of a decoder."""
    saved = {slot.typed: value for slot, value in decoder.values.items()}
    return {
        "profile": decoder.profile,
        "role": decoder.role,
        "firmware": decoder.firmware,
        "options": dict(decoder.options),
        "values": {slot: value.value for slot, value in saved.items()},
        "lines": {slot: value.position and value.position.line for slot, value in saved.items()},
        "saved": {
            slot: " ".join(filter(None, (value.firmware, value.date, value.how)))
            for slot, value in saved.items()
        },
    }


def told(loco: Loco) -> dict[str, Any]:
    """What a case may expect of a loco."""
    decoders = [decoder_told(decoder) for decoder in loco.decoders]
    return {
        "name": loco.name,
        "address": loco.address,
        "note": loco.note,
        "decoder": decoders,
    }


def only(actual: Any, expected: Any) -> Any:
    """The part of what was read that the case names."""
    if isinstance(expected, dict) and isinstance(actual, dict) and "values" not in actual:
        return {key: only(actual.get(key), expected[key]) for key in expected}
    if isinstance(expected, dict) and isinstance(actual, dict):
        return {
            key: {slot: actual[key].get(slot) for slot in expected[key]}
            if key == "lines"
            else actual.get(key)
            for key in expected
        }
    if isinstance(expected, list) and isinstance(actual, list) and len(actual) == len(expected):
        return [only(part, named) for part, named in zip(actual, expected, strict=True)]
    return actual


def test_there_are_cases() -> None:
    """The folder holds cases of every sort."""
    sorts = {folder.name.split("-")[0] for folder in CASES.iterdir()}
    assert sorts >= {"list", "table", "bytes", "wrong", "no", "loco", "toml"}


@pytest.mark.parametrize("folder", sorted(CASES.iterdir()), ids=lambda folder: folder.name)
def test_file_is_read_as_expected(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file gives the values, or the error lines, that the case names."""
    monkeypatch.chdir(folder)
    (file,) = Path().glob("input.*")
    expected = tomllib.loads((folder / "expect.toml").read_text(encoding="utf-8"))
    actual: dict[str, Any]
    try:
        actual = told(read_file(file))
    except InputError as error:
        actual = {"faults": [str(fault) for fault in error.faults]}
    actual = only(actual, expected) if "faults" not in actual else actual
    difference = difflib.unified_diff(
        pprint.pformat(expected, width=200).splitlines(),
        pprint.pformat(actual, width=200).splitlines(),
        "expected",
        "read",
        lineterm="",
    )
    assert actual == expected, "\n".join(difference)
