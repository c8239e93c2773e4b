"""One room, one purpose: files and functions stay short enough to be read at one sitting."""

import ast

from house.tree import python_files, short, syntax

MOST_LINES_OF_A_FILE = 600
MOST_LINES_OF_A_FUNCTION = 60


def test_no_file_is_longer_than_600_lines() -> None:
    """Every file of cvlib and tools has 600 lines or fewer."""
    lengths = {
        short(path): len(path.read_text(encoding="utf-8").splitlines())
        for path in python_files("cvlib", "tools")
    }
    assert lengths, "no files found"
    assert {name: n for name, n in lengths.items() if n > MOST_LINES_OF_A_FILE} == {}


def test_no_function_is_longer_than_60_lines() -> None:
    """Every function of cvlib and tools has 60 lines or fewer, its docstring counted."""
    lengths = {
        f"{short(path)}:{node.lineno} {node.name}": (node.end_lineno or 0) - node.lineno + 1
        for path in python_files("cvlib", "tools")
        for node in ast.walk(syntax(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert {name: n for name, n in lengths.items() if n > MOST_LINES_OF_A_FUNCTION} == {}
