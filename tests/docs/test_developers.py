"""DEVELOPERS.md is a true map of the package."""

import re

import pytest

from house.markdown import code_words, section, text_of
from house.tree import ROOT, python_files
from tools import dev

PAGE = ROOT / "DEVELOPERS.md"
PLACES = re.compile(r"(?:[a-z_]+/)+(?:[a-z_<>]+\.(?:py|toml|md))?|[a-z_]+\.(?:py|toml|md)")


def mapped() -> list[str]:
    """The modules that the map names, as paths inside the package."""
    found = []
    for part in re.split(r"^### ", section(text_of(PAGE), "Map of the package"), flags=re.M)[1:]:
        room = re.match(r"`cvlib/(\w+/)`", part)
        names = re.findall(r"^\| `([\w/]+\.py)` \| \S", part, re.M)
        found += [(room[1] if room else "") + name for name in names]
    return found


def test_the_map_names_every_module_once_and_nothing_else() -> None:
    """Each module of cvlib stands in the map with what it does."""
    modules = [
        path.relative_to(ROOT / "cvlib").as_posix()
        for path in python_files("cvlib")
        if path.name != "__init__.py"
    ]
    assert sorted(mapped()) == sorted(modules)


def test_every_command_of_the_tool_is_named() -> None:
    """The table of commands has a row for each command of tools/dev.py."""
    named = re.findall(r"^\| `python3 tools/dev\.py (\w+)` \|", text_of(PAGE), re.M)
    assert sorted(named) == sorted(dev.COMMANDS)


@pytest.mark.parametrize("heading", ["The top level", "Where a change goes"])
def test_the_places_that_it_names_exist(heading: str) -> None:
    """A path in code marks leads to something in the package or at the top."""
    named = code_words(section(text_of(PAGE), heading))
    paths = [word for word in named if PLACES.fullmatch(word) and "<" not in word]
    assert paths
    assert [
        path
        for path in paths
        if not (ROOT / path).exists() and not (ROOT / "cvlib" / path).exists()
    ] == []
