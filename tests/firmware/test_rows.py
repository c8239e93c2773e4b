"""What `cvlib settings` gives for each firmware version is what the CV table of the version says.

Sources: the repositories and commits that the meta.toml of each folder in data/ names.
"""

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import json_of
from cvlib.engine.known.identity import expected_answers
from cvlib.files.store import open_store
from firmware.rows import (
    Setting,
    address_types,
    differences,
    function_types,
    index_of,
    read_rows,
)

Table = Mapping[str, Any]

HERE = Path(__file__).parent
PROJECTS = ("rp2350-motor", "universal-accessory", "tiny402-function")
METAS: dict[str, Table] = {
    project: tomllib.loads((HERE / "data" / project / "meta.toml").read_text(encoding="utf-8"))
    for project in PROJECTS
}
TABLES = [
    pytest.param(project, table, id=f"{project} {table['label']}")
    for project in PROJECTS
    for table in METAS[project]["version"]
]


def release(project: str, label: str) -> Table:
    """The version of the release that a table is of."""
    return {"version": str(open_store().profile(f"open/{project}").version(label))}


def settings_at(project: str, label: str, capsys: pytest.CaptureFixture[str]) -> list[Setting]:
    """The settings at a firmware, as `cvlib settings --format json` gives them."""
    code, data = json_of(capsys, "settings", f"open/{project}", "--firmware", label)
    assert code == 0
    return list(data["settings"])


def tabulated(label: str) -> Callable[[Setting], bool]:
    """Whether a table of the accessory decoder would have to name a setting.

    It gives the first block alone (V01: the first two), and the second and third of a signal that
    begins with the first.
    """

    def would_name(setting: Setting) -> bool:
        index = index_of(setting)
        if index is None or str(setting["id"]).endswith(".type"):
            return True
        if function_types(setting) == ["FSIGNAL0"]:
            others = [at for at, _ in address_types(setting) if at != index]
            return 1 in others if others else index <= 3
        return index <= (2 if label == "V01" else 1)

    return would_name


def everything(setting: Setting) -> bool:
    """The tables of the two other decoders name all there is."""
    return True


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_the_settings_at_a_version_are_the_rows_of_its_table(
    project: str, table: Table, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each row is one setting, and no setting is without row."""
    rows = read_rows(HERE / "data" / project / table["file"])
    settings = settings_at(project, table["label"], capsys)
    accessory = project == "universal-accessory"
    asked = tabulated(table["label"]) if accessory else everything
    assert differences(rows, settings, asked) == []


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_a_table_is_whole(project: str, table: Table) -> None:
    """No row was lost and none is there twice."""
    rows = read_rows(HERE / "data" / project / table["file"])
    assert len(rows) == table["rows"]
    assert len({row.key for row in rows}) == len(rows)


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_each_version_is_a_source_that_says_where_to_look(project: str, table: Table) -> None:
    """Repository, commit and files stand in the source, and it speaks for that version."""
    profile = open_store().profile(f"open/{project}")
    version = profile.version(table["label"])
    sources = [source for source in profile.sources.values() if version in source.firmware]
    assert len(sources) == 1
    assert f"{METAS[project]['repo']}, commit {table['commit']}, " in sources[0].where
    assert table["path"].split(" ")[0] in sources[0].where
    assert sources[0].date == table["date"]


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_a_release_answers_what_its_version_answers(project: str, table: Table) -> None:
    """The parts of the version, or the release's own answers, give the CVs of meta.toml."""
    profile = open_store().profile(f"open/{project}")
    parts = {part.field.slot.cv for part in profile.parts}
    told = expected_answers(profile, profile.version(table["label"]))
    answers = {slot.cv: held.value for slot, held in told.items() if slot.cv in parts}
    assert answers == {cv: table[f"cv{cv}"] for cv in parts}


def test_a_table_that_differs_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Another default, a missing setting and one without row are three differences."""
    rows = read_rows(HERE / "data" / "rp2350-motor" / "v0.6.0.csv")
    settings = settings_at("rp2350-motor", "v0.6.0", capsys)
    spoilt = [{**settings[0], "default": 4}, *settings[2:], {**settings[1], "cvs": [1024]}]
    told = differences(rows, spoilt, everything)
    assert len(told) == 3
    assert "default 4, in the table 3" in told[0]


SERVO = {"setting": "address[1].type", "is": ["FSERVO"]}


@pytest.mark.parametrize(
    ("id", "change", "told"),
    [
        ("address[1].servo-return-time", {"when": [SERVO]}, "exists only"),
        ("address[1].servo-current-position", {"internal": False}, "marks [], in the table"),
        ("address[1].coil-on-time", {"range": [0, 10]}, "range [0, 10], in the table"),
    ],
)
def test_a_setting_that_differs_is_told(
    id: str, change: Table, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing condition, another mark or another range of one setting is seen."""
    rows = read_rows(HERE / "data" / "universal-accessory" / "V6.3.0.csv")
    settings = settings_at("universal-accessory", "V6.3.0", capsys)
    spoilt = [{**held, **change} if held["id"] == id else held for held in settings]
    found = differences(rows, spoilt, tabulated("V6.3.0"))
    assert found
    assert any(told in line for line in found)
