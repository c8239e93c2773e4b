"""What lint finds in small profiles, and where it is silent: each case is a row of a data file.

"common practice, no source": the rules are about our own definitions.
"""

from pathlib import Path

import pytest

from cvlib.engine.lint.rules import RULES
from docs.lint_samples import NAME, Sample, whole
from make import CASES, Table, read_cases

ROWS = list(read_cases("lint"))
every_row = pytest.mark.parametrize(
    "row", [row for _, _, row in ROWS], ids=[row[0] for row in ROWS]
)


@every_row
def test_a_rule_finds_just_this(row: Table, tmp_path: Path) -> None:
    """The code of the case is found as often as it says, each time at the line it says."""
    files = {NAME: whole(row["text"], NAME)}
    files |= {name: whole(text, name) for name, text in row.get("files", {}).items()}
    made = Sample(tmp_path, files)
    told = [one for one in made.remarks(tmp_path) if one.code == row["code"]]
    wanted = row.get("finds", [])
    assert len(told) == len(wanted), [str(one) for one in told]
    for one, find in zip(told, wanted, strict=True):
        name = "/".join(Path(one.position.file).parts[-2:])
        line = files[name].split("\n")[(one.position.line or 1) - 1]
        assert find["line"] in line
        assert find["says"] in f"{one.problem} {one.advice}"


def test_each_code_of_a_table_has_both_sorts_of_cases() -> None:
    """Some that are found and some that are not, for codes that lint has."""
    found = {row["code"] for _, _, row in ROWS if row.get("finds")}
    silent = {row["code"] for _, _, row in ROWS if not row.get("finds")}
    assert found - {"invalid"} == silent - {"invalid"}
    assert found <= {rule.code for rule in RULES}
    assert sorted(CASES.glob("lint/*.toml"))
