"""The profiles in definitions/open say of each firmware version what its CV table says.

Sources: the repositories and commits that the meta.toml of each folder in data/ names.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from firmware.plain_profile import Table, holds, read, settings_at
from firmware.rows import Setting, differences, function_types, index_of, read_rows

HERE = Path(__file__).parent
STORE = HERE.parents[1] / "definitions" / "open"
PROJECTS = ("rp2350-motor", "universal-accessory", "tiny402-function")
PROFILES = {project: read(STORE / f"{project}.toml") for project in PROJECTS}
METAS = {project: read(HERE / "data" / project / "meta.toml") for project in PROJECTS}
TABLES = [
    pytest.param(project, table, id=f"{project} {table['label']}")
    for project in PROJECTS
    for table in METAS[project]["version"]
]


def release(project: str, label: str) -> Table:
    """The release that a table is of."""
    return next(
        known for known in PROFILES[project]["firmware"]["release"] if known["label"] == label
    )


def tabulated(label: str) -> Callable[[Setting], bool]:
    """Whether a table of the accessory decoder would have to name a setting.

    It gives the first block alone (V01: the first two), and the second and third of a signal.
    """

    def would_name(setting: Setting) -> bool:
        index = index_of(setting)
        if index is None or str(setting["id"]).endswith(".type"):
            return True
        if function_types(setting) == ["FSIGNAL0"]:
            return index <= 3
        return index <= (2 if label == "V01" else 1)

    return would_name


def everything(setting: Setting) -> bool:
    """The tables of the two other decoders name all there is."""
    return True


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_the_settings_at_a_version_are_the_rows_of_its_table(project: str, table: Table) -> None:
    """Each row is one setting, and no setting is without row."""
    rows = read_rows(HERE / "data" / project / table["file"])
    settings = settings_at(PROFILES[project], release(project, table["label"])["version"])
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
    version = release(project, table["label"])["version"]
    sources = [s for s in PROFILES[project]["source"] if holds(s["firmware"], version)]
    assert len(sources) == 1
    where = sources[0]["where"]
    assert f"{METAS[project]['repo']}, commit {table['commit']}, " in where
    assert table["path"].split(" ")[0] in where
    assert sources[0]["date"].isoformat() == table["date"]


@pytest.mark.parametrize(("project", "table"), TABLES)
def test_a_release_answers_what_its_version_answers(project: str, table: Table) -> None:
    """The parts of the version, or the release's own answers, give the CVs of meta.toml."""
    known = release(project, table["label"])
    answers = {answer["cv"]: answer["value"] for answer in known.get("answers", [])}
    if not answers:
        parts = PROFILES[project]["firmware"]["parts"]
        for part, number in zip(parts, [*known["version"].split("."), "0", "0"], strict=False):
            low = int(part.get("bits", "0").partition("-")[0])
            answers[part["cv"]] = answers.get(part["cv"], 0) | int(number) << low
    wanted = {
        int(name.removeprefix("cv")): value
        for name, value in table.items()
        if name.startswith("cv") and name != "cv109"
    }
    assert {cv: value for cv, value in answers.items() if cv != 109} == wanted


def test_a_table_that_differs_is_told() -> None:
    """Another default, a missing setting and one without row are three differences."""
    rows = read_rows(HERE / "data" / "rp2350-motor" / "v0.6.0.csv")
    settings = settings_at(PROFILES["rp2350-motor"], "0.6.0")
    spoilt = [{**settings[0], "default": 4}, *settings[2:], {**settings[1], "cvs": [1024]}]
    told = differences(rows, spoilt, everything)
    assert len(told) == 3
    assert "default 4, in the table 3" in told[0]
