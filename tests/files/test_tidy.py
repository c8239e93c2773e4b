"""Tidy files: the same data, every comment, one layout; no source outside the project."""

import math
import random
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from cvlib.errors import InputError
from cvlib.files.layout import LOCO, PROFILE, Layout
from cvlib.files.shapes.loco import LocoFile
from cvlib.files.shapes.profile import BlocksFile, ProfileFile
from cvlib.files.tidy import tidied, tidied_bytes, tidy
from cvlib.files.toml_text import string_text, write_tree
from cvlib.files.toml_tree import Document, node_of, read_tree
from files.toml_documents import documents
from house.tree import ROOT

FILES = sorted((ROOT / "definitions").rglob("*.toml"))
COMMENTS = ("# note = [1]", "# x = 1", "# end", "# empty", "# ] }")
"""The comments of a generated document; none of them is in one of its texts."""

each_file = pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
each_layout = pytest.mark.parametrize("layout", [PROFILE, LOCO], ids=("profile", "loco"))


def laid_out(text: str, layout: Layout) -> str:
    """Any document in a layout."""
    return write_tree(read_tree(text.replace("\r\n", "\n"), "a.toml"), layout)


def remarks(text: str) -> list[str]:
    """Every comment of a document, in the order of the tree."""
    document = read_tree(text, "a.toml")
    found = [document.schema, *document.root.all_remarks(), *document.end]
    return sorted(one for one in found if one)


def same(one: Any, other: Any) -> bool:
    """Whether two documents hold the same; a figure that is none equals itself."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and isinstance(other, float) and math.isnan(one):
        return math.isnan(other)
    return type(one) is type(other) and bool(one == other)


@each_layout
@given(documents())
def test_any_document_keeps_its_data_and_its_comments(layout: Layout, text: str) -> None:
    """Whatever a valid document looks like, it holds the same afterwards, and so once more."""
    made = laid_out(text, layout)
    assert same(tomllib.loads(made), tomllib.loads(text))
    assert [made.count(one) for one in COMMENTS] == [text.count(one) for one in COMMENTS]
    assert laid_out(made, layout) == made


@each_file
def test_a_definition_keeps_its_data_and_the_order_of_its_comments(path: Path) -> None:
    """Comments of the definitions stand in the order in which they stood."""
    text = path.read_text(encoding="utf-8")
    made = tidied(text, path.name)
    assert tomllib.loads(made) == tomllib.loads(text)
    lines = re.compile(r"^\s*(#.*)$", re.M)
    assert lines.findall(made) == lines.findall(text)
    assert remarks(made) == remarks(text)
    assert tidied(made, path.name) == made


def test_every_definition_is_tidy() -> None:
    """The definitions of the project are laid out as they should be."""
    done = tidy([ROOT / "definitions"], check=True)
    assert [one.file for one in done.untidy] == [], "python -m cvlib tidy"
    assert done.faults == ()


@each_file
def test_the_layout_depends_on_the_data_alone(path: Path) -> None:
    """Without comments, two files that hold the same are laid out alike, however written."""
    text = tidied(path.read_text(encoding="utf-8"), path.name)
    data = tomllib.loads(text)
    layout = LOCO if "loco" in data else PROFILE
    plain = write_tree(Document(node_of(data)), layout)
    assert laid_out(inline(data), layout) == laid_out(plain, layout) == plain


def inline(value: Any, *, is_top: bool = True) -> str:
    """The same data in another dress: tables between braces, keys in quotes, nothing in order."""
    if isinstance(value, dict):
        pairs = [f'"{key}"={inline(held, is_top=False)}' for key, held in reversed(value.items())]
        return "\n".join(pairs) + "\n" if is_top else "{" + ",".join(pairs) + "}"
    if isinstance(value, list) and value:
        return "[\n" + ",\n ".join(inline(held, is_top=False) for held in value) + ",]"
    if isinstance(value, bool):
        return str(value).lower()
    return string_text(value) if isinstance(value, str) else str(value)


@given(st.sampled_from(FILES), st.integers(0, 10**6))
def test_comments_stay_with_what_they_stand_at(path: Path, seed: int) -> None:
    """A comment above a key or heading is above it afterwards; one at its end is at its end."""
    chance = random.Random(seed)
    lines: list[str] = []
    above: dict[str, str] = {}
    beside: dict[str, str] = {}
    for number, line in enumerate(tidied(path.read_text(encoding="utf-8"), "a").splitlines()):
        found = re.match(r"\s*(\[\[?[\w.-]+\]?\]|[a-z-]+ = (?=.*[^\[]$))", line)
        if found and "#" not in line and "common" not in line and chance.random() < 0.1:
            above[f"# above {number}."] = line.strip()
            lines.append(" " * chance.randrange(4) + f"# above {number}.")
        elif found and "#" not in line and "common" not in line and chance.random() < 0.1:
            beside[f"# beside {number}."] = line.strip()
            line += f" # beside {number}."  # noqa: PLW2901 -- the line with its remark
        lines.append(line)
    made = tidied("\n".join(lines), "a").splitlines()
    assert tomllib.loads("\n".join(made)) == tomllib.loads("\n".join(lines))
    stripped = [line.strip() for line in made]
    for remark, at in above.items():
        following = stripped[stripped.index(remark) + 1 :]
        assert next(one for one in following if not one.startswith("#")).startswith(at)
    for remark, at in beside.items():
        assert f"{at}  {remark}" in stripped


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("decoder.id='a'  # b", '[decoder]\nid = "a"  # b\n'),
        ("[decoder]\n\n\n# x\nname='n'\nid='a'", '[decoder]\nid = "a"\n\n# x\nname = "n"\n'),
        ("[decoder]\nid='a'\n# end\n\n[firmware]\nscheme='date'",
         '[decoder]\nid = "a"\n# end\n\n[firmware]\nscheme = "date"\n'),
        ("[decoder]\nid='a'\n# head\n[firmware]\nscheme='date'",
         '[decoder]\nid = "a"\n\n# head\n[firmware]\nscheme = "date"\n'),
        ("[decoder]\nid = 'say \"a\"'", "[decoder]\nid = 'say \"a\"'\n"),
        ("[decoder]\nid = 'it\\s'", "[decoder]\nid = 'it\\s'\n"),
        ("[decoder]\nfollows = [ # all\n'a', # one\n'b']",
         '[decoder]\nfollows = [\n  # all\n  "a",  # one\n  "b",\n]\n'),
        ("decoder={}", "[decoder]\n"),
        ("#:schema s\n#\n#a\nformat=2\ndecoder.id='a'\n# end",
         '#:schema s\n#\n#a\nformat = 2\n\n[decoder]\nid = "a"\n\n# end\n'),
        ("[decoder]\nnote='n'\nsources=['h']\nfollows=[{sources=['h'],from='x'}]\n"
         "[[source]]\nwithout=['a']\nreplaces='h'\nreissues='h'\nabout=['b']\nextent='whole'\n"
         "firmware='==1'",
         '[decoder]\nfollows = [{ from = "x", sources = ["h"] }]\nsources = ["h"]\nnote = "n"\n\n'
         '[[source]]\nfirmware = "==1"\nextent = "whole"\nabout = ["b"]\nreissues = "h"\n'
         'replaces = "h"\nwithout = ["a"]\n'),
        ("[decoder]\n[[setting]]\nid='a.b'\nsources=['h']\ncommon.kind='switch'\n"
         "place=[{cv=3},{sources=['h:2'],absent=true}]",
         '[decoder]\n\n[[setting]]\nid = "a.b"\nsources = ["h"]\ncommon = { kind = "switch" }\n'
         'place = [\n  { cv = 3 },\n  { absent = true, sources = ["h:2"] },\n]\n'),
        ("[decoder]\n[[setting]]\nid='a.b'\nplace=[{cv=3},{sources=['h:2'],absent=true}]",
         '[decoder]\n\n[[setting]]\nid = "a.b"\n\n  [[setting.place]]\n  cv = 3\n\n'
         '  [[setting.place]]\n  absent = true\n  sources = ["h:2"]\n'),
        ("[[setting]]\nplace=[{cv=3,bits='1'}]\nid='a.b'\n[decoder]",
         '[decoder]\n\n[[setting]]\nid = "a.b"\nplace = [{ cv = 3, bits = "1" }]\n'),
        ("[decoder]\n[[setting]]\nid='a.b'\ncommon.cv=3\n[[setting.place]]\nfirmware='==1'\n"
         "[[setting.place]]\nfirmware='==2'",
         '[decoder]\n\n[[setting]]\nid = "a.b"\ncommon = { cv = 3 }\nplace = [\n'
         '  { firmware = "==1" },\n  { firmware = "==2" },\n]\n'),
        ("[decoder]\n[[setting]]\nid='a.b'\n[setting.repeat]\ncount=3\n"
         "[[setting.place]]\nsources=['x']\nvalues={'10-11'='b',2='a'}",
         '[decoder]\n\n[[setting]]\nid = "a.b"\nrepeat = { count = 3 }\n\n'
         '  [[setting.place]]\n  values = { 2 = "a", "10-11" = "b" }\n  sources = ["x"]\n'),
        ("[decoder]\n[[setting]]\nid='a.b'\n[[setting.place]]\n[setting.place.choices]\n"
         "0='off' # none\n1='on'",
         '[decoder]\n\n[[setting]]\nid = "a.b"\n\n  [[setting.place]]\n\n'
         '  [setting.place.choices]\n  0 = "off"  # none\n  1 = "on"\n'),
        ("[loco]\n[[decoder]]\n[[decoder.saved]]\ncv={5=1,17=2,2=3}",
         "[loco]\n\n[[decoder]]\n\n[[decoder.saved]]\n\n"
         "[decoder.saved.cv]\n2 = 3\n5 = 1\n17 = 2\n"),
        ("[loco]\nname='a'\n[[decoder]]\n[[decoder.saved]]\n[decoder.saved.cv]\n5=1\n# b\n2=3",
         '[loco]\nname = "a"\n\n[[decoder]]\n\n[[decoder.saved]]\n\n'
         "[decoder.saved.cv]\n5 = 1\n# b\n2 = 3\n"),
    ],
)  # fmt: skip
def test_the_layout_of_small_files(text: str, made: str) -> None:
    """Key order, quotes, spaces, empty lines and headings are as the layout has them."""
    assert tidied(text, "a.toml") == made


def test_a_long_list_of_numbers_fills_its_lines() -> None:
    """Numbers stand as many to a line as it holds, up to 100 columns; names stand one to a line."""
    numbers = ", ".join(str(100 + n) for n in range(40))
    text = f"[decoder]\n[[setting]]\nid = 'a.b'\n[[setting.place]]\nsources=[]\ndefault=[{numbers}]"
    made = tidied(text, "a.toml")
    rows = made.partition("default = [\n")[2].partition("  ]")[0].splitlines()
    assert len(rows) == 3
    assert all(len(row) <= 100 for row in rows)


def test_line_ends_and_the_mark_at_the_start_of_a_file_are_kept() -> None:
    """A file from Windows keeps its line ends and its byte-order mark."""
    data = b"\xef\xbb\xbf[decoder]\r\nname='n'\r\nid='a'\r\n"
    made = tidied_bytes(data, "a.toml")
    assert made == b'\xef\xbb\xbf[decoder]\r\nid = "a"\r\nname = "n"\r\n'
    assert tidied_bytes(made, "a.toml") == made


@pytest.mark.parametrize("text", ["", "a = 1", "[recipe]\nx = 1", "[decoder", "loco=1\nloco=2"])
def test_what_is_none_of_our_files_is_refused(text: str) -> None:
    """Neither profile nor blocks nor loco, or no TOML at all: one fault with the file."""
    with pytest.raises(InputError) as refused:
        tidied(text, "a.toml")
    (fault,) = refused.value.faults
    assert fault.position is not None
    assert fault.position.file == "a.toml"


def test_a_file_that_cannot_be_read_does_not_keep_the_others(tmp_path: Path) -> None:
    """Of three files in a folder one is broken and one is a recipe; the third is tidied."""
    (tmp_path / "bad.toml").write_text("[decoder", encoding="utf-8")
    (tmp_path / "good.toml").write_text("decoder.id='a'", encoding="utf-8")
    (tmp_path / "recipe.toml").write_text("[rows]\npath = 'x'", encoding="utf-8")
    done = tidy([tmp_path])
    assert [(Path(one.file).name, one.was_tidy) for one in done.files] == [("good.toml", False)]
    assert len(done.faults) == 1
    assert (tmp_path / "good.toml").read_text(encoding="utf-8") == '[decoder]\nid = "a"\n'
    assert (tmp_path / "recipe.toml").read_text(encoding="utf-8") == "[rows]\npath = 'x'"


def shapes(shape: type[BaseModel], name: str) -> Iterator[tuple[str, set[str]]]:
    """Each table that a shape may hold, by the key that it stands under, with its own keys."""
    yield name, {field.alias or key for key, field in shape.model_fields.items()}
    for key, field in shape.model_fields.items():
        for inner in below(field.annotation):
            yield from shapes(inner, field.alias or key)


def below(annotation: Any) -> Iterator[type[BaseModel]]:
    """The shapes in an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from below(inner)


@pytest.mark.parametrize(
    ("file", "layout"), [(ProfileFile, PROFILE), (BlocksFile, PROFILE), (LocoFile, LOCO)]
)
def test_the_layout_knows_every_key(file: type[BaseModel], layout: Layout) -> None:
    """Each key of each table of the format has its spot in the order."""
    unknown = {
        f"{name}.{key}"
        for name, keys in shapes(file, "")
        for key in keys - set(layout.orders.get(name, ()))
        if name not in ("cv", "page") or layout is PROFILE
    }
    assert unknown == set()


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_folder_is_tidied_without_its_links(tmp_path: Path) -> None:
    """One that leads out of it is told and not followed; one inside is looked at once."""
    untidy = "format = 1\n[loco]\nname='No. 3'\n[[decoder]]\nfirmware='1'\n"
    folder, outside = tmp_path / "mine", tmp_path / "outside"
    (folder / "inner").mkdir(parents=True)
    outside.mkdir()
    for path in (folder / "one.toml", outside / "theirs.toml"):
        path.write_text(untidy, encoding="utf-8")
    (folder / "inner" / "same.toml").symlink_to(folder / "one.toml")
    (folder / "theirs.toml").symlink_to(outside / "theirs.toml")
    (folder / "all").symlink_to(outside)
    done = tidy([folder])
    assert [Path(one.file).name for one in done.files] == ["one.toml"]
    assert ["leads out of this folder" in str(fault) for fault in done.faults] == [True]
    assert (outside / "theirs.toml").read_text(encoding="utf-8") == untidy
    assert (folder / "inner" / "same.toml").is_symlink()
    assert [one.name for one in outside.iterdir()] == ["theirs.toml"]
