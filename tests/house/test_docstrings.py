"""Every public name says what it means."""

import ast
from collections.abc import Iterator
from pathlib import Path

from house.tree import python_files, short, syntax

Named = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def is_exempt(node: Named) -> bool:
    """Whether the name needs no docstring of its own: an overload, or the setter of a property."""
    decorators = [ast.unparse(decorator) for decorator in node.decorator_list]
    return any(
        text.split(".")[-1] == "overload" or text.endswith((".setter", ".deleter"))
        for text in decorators
    )


def undocumented(body: list[ast.stmt], prefix: str) -> Iterator[str]:
    """The public names without docstring in a body, also one level down in public classes."""
    for node in body:
        if isinstance(node, ast.If | ast.Try):
            yield from undocumented(node.body + node.orelse, prefix)
        if not isinstance(node, Named) or node.name.startswith("_") or is_exempt(node):
            continue
        if not ast.get_docstring(node):
            yield f"{prefix}{node.lineno} {node.name}"
        if isinstance(node, ast.ClassDef):
            yield from undocumented(node.body, prefix)


def faults(path: Path) -> Iterator[str]:
    """The module itself, when it has code but no docstring, and its names."""
    tree = syntax(path)
    if tree.body and not ast.get_docstring(tree):
        yield f"{short(path)} (module)"
    yield from undocumented(tree.body, f"{short(path)}:")


def test_every_public_name_has_a_docstring() -> None:
    """No module, class, function or method of cvlib with a public name lacks a docstring."""
    assert [fault for path in python_files("cvlib") for fault in faults(path)] == []
