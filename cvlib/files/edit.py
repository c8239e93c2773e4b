"""Edits of a profile file that keep every remark: tables added, changed and taken out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from cvlib.engine.known.neighbours import without_index
from cvlib.errors import problem
from cvlib.files.layout import PROFILE
from cvlib.files.locate import written_place
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Node, data_of, node_of, read_tree
from cvlib.model.profile import group_of

_EITHER = (("cv", "cvs", "built-in"), ("default", "defaults"))
"""Keys of a place of which one goes where another comes."""


class Draft:
    """The text of a profile while it is edited."""

    def __init__(self, text: str, name: str, block: str = "") -> None:
        """``block`` is the block whose settings and rules are edited, of a file of blocks."""
        self._document = read_tree(text.replace("\r\n", "\n"), name)
        self.root = self._document.root
        self._block: Node | None = None
        self._block = self.find("block", block) if block else None

    def text(self) -> str:
        """The text as it is now, in its layout."""
        return write_tree(self._document, PROFILE)

    def tables(self, *path: str, make: bool = True) -> list[Node]:
        """The tables of a list, such as ``source``; the list is made where there is none."""
        table = self._around(path)
        for key in path[:-1]:
            table = table.table.setdefault(key, Node({}))
        if not make and path[-1] not in table.table:
            return []
        return table.table.setdefault(path[-1], Node([])).items

    def _around(self, path: tuple[str, ...]) -> Node:
        """The table that holds a list: the document, or the block that is edited."""
        if self._block is None or path[0] not in ("setting", "rule"):
            return self.root
        return self._block

    def add(self, data: Mapping[str, Any], *path: str, at: int | None = None) -> None:
        """Add a table to a list, at its end or before another one."""
        tables = self.tables(*path)
        tables.insert(len(tables) if at is None else at, node_of(dict(data)))

    def find(self, list_name: str, id: str) -> Node | None:
        """The table of a list with an id."""
        held = self.tables(list_name, make=False)
        return next((node for node in held if is_named(node, id)), None)

    def drop(self, node: Node, *path: str) -> None:
        """Take a table out of a list; its remarks stay where they stood."""
        tables = self.tables(*path)
        at = next(number for number, one in enumerate(tables) if one is node)
        kept = node.all_remarks()
        del tables[at]
        if kept and at < len(tables):
            tables[at].above = [*kept, "", *tables[at].above]
        elif kept:
            self._document.end = [*kept, *([""] if self._document.end else []), *self._document.end]
        if not tables:
            around = self._around(path)
            for key in path[:-1]:
                around = around.table[key]
            del around.table[path[-1]]

    def setting(self, id: str) -> Node | None:
        """The table of a setting; of one of a repeat the table of all."""
        return self.find("setting", id) or self.find("setting", without_index(id))

    def add_setting(self, data: Mapping[str, Any]) -> None:
        """Add a setting behind the last one of its group, or behind all."""
        group = group_of(str(data["id"]))
        groups = [group_of(str(data_of(node).get("id", ""))) for node in self.tables("setting")]
        last = max((at for at, held in enumerate(groups) if held == group), default=len(groups) - 1)
        self.add(data, "setting", at=last + 1)

    def places(self, id: str) -> list[Node]:
        """The tables of a setting's places, as they are written."""
        setting = self.setting(id)
        if setting is None:
            raise problem(f'"{id}" is not written in this profile.', advice="Check the id.")
        return setting.table["place"].items

    def place(self, id: str, number: int) -> Node:
        """The table of a place of a setting, by the number that it has in the profile, from 0."""
        places = self.places(id)
        setting = self.setting(id)
        held = _with_common(data_of(setting)) if setting is not None else {}
        at = written_place(held, id, number)
        if at is None:
            raise problem(f'"{id}" has no place {number + 1}.', advice="Check the number.")
        return places[at]


def is_named(node: Node, id: str) -> bool:
    """Whether a table has an id."""
    held = node.table.get("id")
    return held is not None and held.value == id


def cite(place: Node, citation: str | Mapping[str, Any]) -> None:
    """Call on a source for a place, behind those there are."""
    held = dict(citation) if isinstance(citation, Mapping) else citation
    place.table.setdefault("sources", Node([])).items.append(node_of(held))


def uncite(place: Node, ids: Iterable[str]) -> list[str]:
    """Take out the citations of some sources; the ids of those that the place itself named."""
    sources = place.table.get("sources")
    if sources is None:
        return []
    gone = [node for node in sources.items if cited_source(data_of(node)) in ids]
    for node in gone:
        sources.items.remove(node)
    if not sources.items:
        del place.table["sources"]
    return [cited_source(data_of(node)) for node in gone]


def cited_source(citation: Any) -> str:
    """The id of the source that a citation calls on, in either form."""
    if isinstance(citation, Mapping):
        return str(citation.get("source", ""))
    return str(citation).partition(":")[0]


def cited_sources(place: Node) -> list[tuple[str, str]]:
    """The sources that a place calls on, each with its verdict or an empty text."""
    held = data_of(place).get("sources", [])
    return [
        (cited_source(one), str(one.get("verdict", "")) if isinstance(one, Mapping) else "")
        for one in held
    ]


def set_keys(table: Node, values: Mapping[str, Any], removed: Iterable[str] = ()) -> None:
    """Change some keys of a table and take others out; remarks stay at their keys.

    The remarks of a key that goes are put above the next one, or below the table.
    """
    for key, value in values.items():
        held = table.table.setdefault(key, Node(""))
        made = node_of(value)
        inner = [one for child in held.children() for one in child.all_remarks()]
        held.above = [*held.above, *inner, *held.below]
        held.value, held.raw, held.below = made.value, "", []
    gone = [one for keys in _EITHER for one in keys if any(k in values for k in keys)]
    for key in (*removed, *(one for one in gone if one not in values)):
        _drop(table, key)


def _drop(table: Node, key: str) -> None:
    if key not in table.table:
        return
    keys = list(table.table)
    after = keys[keys.index(key) + 1 :]
    kept = table.table.pop(key).all_remarks()
    if after:
        following = table.table[after[0]]
        following.above = [*kept, *following.above]
    else:
        table.below = [*kept, *table.below]


def _with_common(setting: dict[str, Any]) -> dict[str, Any]:
    """A setting with its common keys in each of its places."""
    common = setting.get("common", {})
    return {**setting, "place": [{**common, **place} for place in setting.get("place", ())]}
