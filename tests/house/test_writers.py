"""Every file is written through one door."""

import ast
from pathlib import Path

import pytest

from house.tree import ROOT, python_files

DOORS = {"files/disk.py", "files/write.py", "files/history.py", "files/compiled.py"}
"""The steps of a write, the door itself, the former states, and the cache."""
TOOLS = {"files/shapes/schema.py"}
"""What a contributor runs to make the schemas of the docs."""
WRITING = {
    "write_text",
    "write_bytes",
    "mkstemp",
    "unlink",
    "rename",
    "fdopen",
}
MODES = set("wxa+")


def writes(tree: ast.AST) -> list[int]:
    """The lines that write, open for writing, rename or delete a file."""
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, (ast.Attribute, ast.Name)):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
        words = [
            one.value
            for one in (*node.args, *(key.value for key in node.keywords))
            if isinstance(one, ast.Constant) and isinstance(one.value, str)
        ]
        if name in WRITING or (name == "open" and any(MODES & set(word) for word in words)):
            found.append(node.lineno)
    return found


@pytest.mark.parametrize(
    "path", python_files("cvlib"), ids=lambda path: path.relative_to(ROOT / "cvlib").as_posix()
)
def test_no_other_module_writes_a_file(path: Path) -> None:
    """Whoever wants to write calls on files/write.py, so that all that it promises holds."""
    name = path.relative_to(ROOT / "cvlib").as_posix()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert name in DOORS | TOOLS or writes(tree) == []
