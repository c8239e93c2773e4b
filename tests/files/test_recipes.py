"""Lists in other layouts, read by recipes: each folder of tests/cases/recipe is one case.

`input.*` is the list and `recipe.toml` the recipe. `expect.toml` holds `faults`, every error line
in order, with the `exit` code of the command line, or what is read, as in tests/cases/read.
`ask` is the decoder asked for; `suggest` says how sure the proposal for the list must be, which
must read the same values as the recipe. All layouts are made up for the purpose.
"""

import os
import random
import threading
import time
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from cli.run_cvlib import run
from cvlib.errors import CvlibError, InputError, UndecidedError
from cvlib.files.read import recipe as recipes
from cvlib.files.read.interface import read_file
from cvlib.files.read.recipe import by_recipe, open_recipe, parse_recipe
from cvlib.files.read.suggest import suggest
from cvlib.files.read.tree import MOST_MARKS
from cvlib.files.read.xpath_rows import MOST_CELL, MOST_NESTED, MOST_ROWS
from cvlib.files.shapes.schema import schema
from files.test_cases import only, told
from files.test_malformed import BREAKS, check_lines

CASES = Path(__file__).resolve().parents[1] / "cases" / "recipe"
FOLDERS = sorted(CASES.iterdir())
RECIPE = 'format = 1\nkind = "xml"\nrows = "//v"\nnumber = "@cv"\nvalue = "@value"\n'


def expected(folder: Path) -> dict[str, Any]:
    """What a case names."""
    return tomllib.loads((folder / "expect.toml").read_text(encoding="utf-8"))


def case(folder: Path) -> Any:
    """A case as a parameter."""
    return pytest.param(folder, id=folder.name)


@pytest.mark.parametrize("folder", list(map(case, FOLDERS)))
def test_list_is_read_as_expected(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The recipe gives the values, or the error lines, that the case names."""
    monkeypatch.chdir(folder)
    (file,) = Path().glob("input.*")
    wanted = expected(folder)
    asked = tuple(filter(None, [wanted.pop("ask", "")]))
    for key in ("suggest", "exit"):
        wanted.pop(key, None)
    is_start = wanted.pop("only-start", False)
    try:
        actual = told(read_file(file, open_recipe(Path("recipe.toml"), asked)))
    except CvlibError as error:
        lines = [str(fault) for fault in error.faults]
        starts = wanted.get("faults", ())
        if is_start and len(lines) == len(starts):
            lines = [line[: len(start)] for line, start in zip(lines, starts, strict=True)]
        assert {"faults": lines} == wanted
    else:
        assert only(actual, wanted) == wanted


@pytest.mark.parametrize("folder", [case(one) for one in FOLDERS if "exit" in expected(one)])
def test_the_exit_code_of_a_check(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 for what cannot be read, 3 where several decoders fit; one line a fault."""
    monkeypatch.chdir(folder)
    (file,) = Path().glob("input.*")
    wanted = expected(folder)
    role = ["--role", wanted["ask"]] if "ask" in wanted else []
    words = ["check", str(file), "--recipe", "recipe.toml", "--profile", "ferrow/lark-8", *role]
    assert run(words) == wanted["exit"]
    output = capsys.readouterr()
    assert output.out == ""
    assert len(output.err.splitlines()) == len(wanted["faults"])


@pytest.mark.parametrize("folder", [case(one) for one in FOLDERS if "suggest" in expected(one)])
def test_the_proposal_reads_the_same(folder: Path) -> None:
    """What is proposed for the list reads the values that the case names, and says how sure."""
    (file,) = folder.glob("input.*")
    wanted = expected(folder)
    found = suggest(file)
    assert found.certainty == wanted["suggest"], found.text
    assert (
        parse_recipe(found.text, "proposal").kind
        == parse_recipe((folder / "recipe.toml").read_text(encoding="utf-8"), "recipe.toml").kind
    )
    loco = told(found.outcome.loco([wanted["ask"]] if "ask" in wanted else ()))
    assert loco["decoder"][0]["values"] == wanted["decoder"][0]["values"]


@pytest.mark.parametrize("folder", list(map(case, FOLDERS)))
def test_recipes_fit_the_schema_when_they_have_the_shape(folder: Path) -> None:
    """The JSON Schema says of each recipe what the shape says."""
    text = (folder / "recipe.toml").read_text(encoding="utf-8")
    is_valid = jsonschema.Draft7Validator(schema("recipe")).is_valid(tomllib.loads(text))
    assert is_valid is not folder.name.startswith("recipe-")


def refusal(tmp_path: Path, data: bytes | str, recipe: str = RECIPE) -> str:
    """The only line of the refusal of a list, without the folder."""
    file = tmp_path / "input.xml"
    file.write_bytes(data.encode() if isinstance(data, str) else data)
    path = tmp_path / "recipe.toml"
    path.write_text(recipe, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_file(file, open_recipe(path))
    assert not isinstance(caught.value, UndecidedError)
    (fault,) = caught.value.faults
    return str(fault).replace(f"{tmp_path}{os.sep}", "")


ROW = '<v cv="1" value="3"/>'
JSON = RECIPE.replace('"xml"', '"json"').replace("@", "")


@pytest.mark.parametrize(
    ("data", "recipe", "part"),
    [
        (b" " * (4 * 1024 * 1024 + 1), RECIPE, "larger than 4194304 bytes"),
        (f"<t>{ROW * (MOST_ROWS + 1)}</t>", RECIPE, f"more than {MOST_ROWS} rows"),
        (f"<t>{'<v/>' * MOST_MARKS}</t>", RECIPE, f"more than {MOST_MARKS} tags"),
        ("<a>" * MOST_NESTED + ROW + "</a>" * MOST_NESTED, RECIPE, "nested too deeply"),
        ("<a>" * 100_000, RECIPE, "nested too deeply"),
        (f'<v cv="1" value="{"3" * (MOST_CELL + 1)}"/>', RECIPE, "too many characters"),
        ("[" * 101 + "]" * 101, JSON, "nested too deeply"),
        ("[" * 100_000, JSON, "nested too deeply"),
        ("[" + "[]," * MOST_MARKS + "[]]", JSON, f"more than {MOST_MARKS} lists"),
        ('[{"cv": 1' + "0" * 100_000 + "}]", JSON.replace("//v", "//item"), "too many characters"),
    ],
    ids=map(str, range(10)),
)
def test_the_bounds_hold(tmp_path: Path, data: bytes | str, recipe: str, part: str) -> None:
    """One past a bound of docs/recipes.md is refused in one line."""
    line = refusal(tmp_path, data, recipe)
    assert part in line
    assert len(line) < 300


@pytest.mark.parametrize(
    ("data", "recipe"),
    [
        (f"<t>{ROW.replace('3', '4') * MOST_ROWS}</t>", RECIPE),
        ("<a>" * (MOST_NESTED - 1) + ROW + "</a>" * (MOST_NESTED - 1), RECIPE),
        ("[" * 98 + '{"cv": 1, "value": 4}' + "]" * 98, JSON.replace("//v", "//item[cv]")),
    ],
    ids=["rows", "nesting", "json-nesting"],
)
def test_at_the_bounds_is_read(tmp_path: Path, data: str, recipe: str) -> None:
    """What is just within a bound is read."""
    assert by_recipe(data, "a", parse_recipe(recipe, "r")).loco().decoders[0].values


WIDE = {
    "attributes": "<t " + " ".join(f"a{at}='x'" for at in range(120_000)) + "/>",
    "elements": "<t>" + "<a/>" * (MOST_MARKS - 9) + "</t>",
    "names": "<t>" + "".join(f"<t{at} n='1' v='2'/>" for at in range(30_000)) + "</t>",
    "outside": "<t " + " ".join(f"a{at}='x'" for at in range(9000)) + f">{ROW * 9000}</t>",
}
"""Lists near their bounds."""


@pytest.mark.parametrize("name", WIDE)
def test_a_wide_list_is_looked_at_in_part(tmp_path: Path, name: str) -> None:
    """A proposal for it, or the line that there is none, comes though the list is at its bounds."""
    file = tmp_path / "wide.xml"
    file.write_text(WIDE[name], encoding="utf-8")
    if name == "outside":
        assert len(suggest(file).outcome.rows) == 9000
    else:
        with pytest.raises(InputError, match=r"looks like CV|more than"):
            suggest(file)


@pytest.mark.parametrize("number", range(60))
def test_a_broken_list_is_read_or_refused(tmp_path: Path, number: int) -> None:
    """Lists and recipes broken in one way give a result or clear lines, never a crash."""
    dice = random.Random(number)
    folder = FOLDERS[number % len(FOLDERS)]
    (source,) = folder.glob("input.*")
    list_, recipe = tmp_path / source.name, tmp_path / "recipe.toml"
    data, text = source.read_bytes(), (folder / "recipe.toml").read_bytes()
    is_recipe = dice.random() < 0.3
    list_.write_bytes(data if is_recipe or not data else dice.choice(BREAKS)(data, dice))
    recipe.write_bytes(dice.choice(BREAKS)(text, dice) if is_recipe else text)
    for work in (lambda: suggest(list_), lambda: read_file(list_, open_recipe(recipe))):
        try:
            work()
        except CvlibError as error:
            check_lines(error, str(tmp_path))


FOREVER = "//*[count(//*[count(//*[count(//*) > 1]) > 1]) > 1]"
CONCAT = f"//v[string-length(concat({'/,' * 200}/)) > 0]"


@pytest.mark.parametrize(
    ("rows", "data"),
    [(FOREVER, f"<t>{ROW * 5000}</t>"), (CONCAT, f"<t>{' ' * 4_000_000}{ROW * 9}</t>")],
    ids=["time", "memory"],
)
def test_a_path_without_an_end_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: str, data: str
) -> None:
    """A path that runs for hours, or fills the memory, is stopped; one line says so."""
    monkeypatch.setattr(recipes, "MOST_SECONDS", 2)
    start = time.monotonic()
    line = refusal(tmp_path, data, RECIPE.replace("//v", rows))
    assert time.monotonic() - start < 8
    assert "no end in 2 seconds" in line or "too much memory" in line


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
@pytest.mark.parametrize("form", ["suggest", "read"])
def test_nothing_that_a_list_names_is_opened(tmp_path: Path, form: str) -> None:
    """A document type elsewhere is never opened: a pipe in its place would be waited for."""
    os.mkfifo(tmp_path / "pipe.dtd")
    file = tmp_path / "input.xml"
    file.write_text(
        f'<!DOCTYPE v SYSTEM "{tmp_path}/pipe.dtd"><t>{ROW}</t>',
        encoding="utf-8",
    )
    done = threading.Thread(
        target=lambda: (
            suggest(file) if form == "suggest" else read_file(file, parse_recipe(RECIPE, "r"))
        ),
        daemon=True,
    )
    done.start()
    done.join(20)
    assert not done.is_alive()
