"""Any part of a profile corrected or taken out, and rules, pages and reasons added."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from cvlib.errors import did_you_mean, problem
from cvlib.files.amend.change import Change, Wish, existing_versions
from cvlib.files.amend.places import asked_place, shown
from cvlib.files.edit import cited_source, set_keys, uncite
from cvlib.files.layout import PROFILE_ORDER
from cvlib.files.lint.accepted import check_code
from cvlib.files.toml_tree import Node, data_of, node_of
from cvlib.files.typed_keys import parse_key
from cvlib.model.profile import Place, is_about

LISTS: Mapping[str, tuple[tuple[str, ...], str]] = {
    **{name: ((name,), "id") for name in ("setting", "source", "rule", "advisory", "question")},
    "release": (("firmware", "release"), "version"),
    "page": (("page",), "pages"),
    "accepted": (("accepted",), "code"),
    "block": (("block",), "id"),
}
"""Parts that there are several of: where they stand, and the key that names one."""
TABLES = ("decoder", "identity", "firmware")
"""Parts that there are once."""
KINDS = (*LISTS, "list", *TABLES)
_CALLED = ("id", "version", "pages")
_FIXED = ("id", "version", "format")
_PLACE_OWN = ("place", "common")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a profile that a correction is about."""

    kind: str
    name: str
    node: Node

    def __str__(self) -> str:
        """The part in words: ``source handbook-2``."""
        return f"{self.kind} {self.name}".strip()


def part_words(wish: Wish) -> tuple[str, str]:
    """The kind and the name of a part as they are typed; raises for a kind that there is not."""
    words = " ".join(wish.subjects).split()
    kind, name = (*words[:2], "", "")[:2]
    if kind not in KINDS or len(words) > 2 or bool(name) == (kind in TABLES):
        raise problem(
            f'"{" ".join(words)}" names no part of a profile.',
            advice=did_you_mean(kind, KINDS) if kind not in KINDS and kind else
            'Write what it is and its name, as in "source handbook-2", "release 4.1" or "decoder".',
        )  # fmt: skip
    return kind, name


def correct(change: Change, wish: Wish) -> None:
    """Give some keys of a part their right values, or take them out."""
    part = _part(change, *part_words(wish))
    values = wish.keys("title")
    if wish.text("help-text"):
        values["help"] = wish.text("help-text")
    for said in wish.several("set"):
        key, equals, text = (one.strip() for one in said.partition("="))
        if not equals or not text:
            raise problem(f'"{said}" has no value.', advice="Write KEY=VALUE, as in date=2022-05.")
        values[key] = text if part.kind == "list" else parse_key(key, text)
    removed = wish.several("remove")
    if not (values or removed):
        raise problem(
            "nothing is given to correct.",
            advice="Give what is wrong with its right value, as in --set date=2022-05-20.",
        )
    for key in (*values, *removed):
        _check_key(part, key)
    for named in existing_versions(values.get("firmware", ())) if part.kind == "source" else ():
        change.version(named)
    before = data_of(part.node)
    set_keys(part.node, values, removed)
    now = data_of(part.node)
    for key in dict.fromkeys((*values, *removed)):
        told = f"{shown(before.get(key))} → {shown(now.get(key))}"
        change.told.did.append(f"{part}: {key} {told}.")
    change.cited(values.get("sources", []))
    if part.kind == "source":
        change.told.evidence.append(part.name)
    change.told.title = f"{part} corrected"


def delete(change: Change, wish: Wish) -> None:
    """Take a part out; of a setting only the place that is named, where one is."""
    kind, name = part_words(wish)
    change.told.title = f"{kind} {name} taken out"
    if kind in TABLES or kind == "block":
        raise problem(f"a {kind} is not taken out so.", advice="Correct it with the form correct.")
    if kind == "setting":
        _delete_setting(change, wish, name)
        return
    part = _part(change, kind, name)
    if kind == "source":
        _release_of_citations(change, name)
    if kind == "list":
        del change.draft.root.table["lists"].table[name]
    else:
        path, _ = LISTS[kind]
        change.draft.drop(part.node, *path)
    change.told.did.append(f"{part} is taken out.")


def _delete_setting(change: Change, wish: Wish, name: str) -> None:
    setting = change.profile.setting(name)
    where = ""
    if wish.text("at") or wish.text("number"):
        setting = change.own(name)
        number = asked_place(change, setting, wish)
        if len(setting.places) > 1:
            node = change.draft.place(name, number)
            change.draft.places(name).remove(node)
            where = f"place {number + 1} of "
    held = change.draft.setting(name)
    if held is None:
        decoder = change.draft.root.table["decoder"]
        without = decoder.table.setdefault("without", Node([]))
        without.items.append(node_of(name))
        change.told.did.append(
            f"{setting.title} ({name}), which {setting.origin} brings, is named in without: the "
            "decoder lacks it."
        )
        return
    if not where:
        change.draft.drop(held, "setting")
    change.told.did.append(f"{where}{setting.title} ({name}) is taken out.")


def _release_of_citations(change: Change, id: str) -> None:
    """Take out the citations of a source that goes; raises where they are all that a place has."""
    bare = [
        f'"{setting.id}"'
        for setting in change.profile.settings.values()
        for place in setting.places
        if _rests_on(change, place, id)
    ]
    if bare:
        more = f" and {len(bare) - 3} more" if len(bare) > 3 else ""
        raise problem(
            f'nothing else speaks for {", ".join(bare[:3])}{more}: without "{id}" all of it would '
            "only be assumed.",
            advice="Take those places out first, or name another document for them.",
        )
    gone = 0
    for node in _holders(change.draft.root):
        if id in uncite(node, [id]):
            gone += 1
            if node.table.get("absent") is not None and "sources" not in node.table:
                for setting in change.draft.tables("setting"):
                    places = setting.table["place"].items
                    places[:] = [one for one in places if one is not node]
    if gone:
        change.told.did.append(f"What called on {id} no longer does, in {gone} places of the file.")


def _rests_on(change: Change, place: Place, id: str) -> bool:
    documents = [one.id for one in change.documents(map(str, place.citations))]
    return documents == [id]


def _holders(node: Node) -> Iterator[Node]:
    """Every table that calls on sources, at any depth."""
    if isinstance(node.value, dict) and "sources" in node.value:
        yield node
    for child in node.children():
        yield from _holders(child)


def _part(change: Change, kind: str, name: str) -> Part:
    """A part as it is written; raises with the nearest name where there is none."""
    draft = change.draft
    if kind in TABLES:
        return Part(kind, "", draft.root.table.setdefault(kind, Node({})))
    if kind == "list":
        lists = draft.root.table["lists"].table if "lists" in draft.root.table else {}
        return Part(kind, name, lists.get(name) or _missing(kind, name, lists))
    if kind == "setting":
        change.own(name)
        node = draft.setting(name)
        return Part(kind, name, node if node is not None else _missing(kind, name, ()))
    path, key = LISTS[kind]
    held: dict[str, Node] = {}
    for node in draft.tables(*path, make=False):
        held.setdefault(str(node.table[key].value), node)
    if kind == "release":
        held = {str(change.profile.version(one)): node for one, node in held.items()}
        name = str(change.profile.version(name))
    return Part(kind, name, held.get(name) or _missing(kind, name, held))


def _missing(kind: str, name: str, known: Any) -> Node:
    listed = f"There is {', '.join(known)}." if known else "There is none."
    raise problem(f'there is no {kind} "{name}".', advice=did_you_mean(name, known) or listed)


def _check_key(part: Part, key: str) -> None:
    if part.kind == "list":
        return
    known = [one for one in PROFILE_ORDER[part.kind] if one not in (*_PLACE_OWN, *LISTS)]
    if key in _FIXED:
        raise problem(
            f"the {key} of a {part.kind} stays what it is, for others call it by that.",
            advice="Take the part out, and add it anew under another.",
        )
    if key not in known:
        is_of_place = part.kind == "setting" and key in PROFILE_ORDER["place"]
        advice = "That is a key of its places: use the form place." if is_of_place else ""
        raise problem(
            f'a {part.kind} has no key "{key}".',
            advice=advice or did_you_mean(key, known) or f"It has {', '.join(known)}.",
        )


def rule(change: Change, wish: Wish) -> None:
    """Add a rule between settings."""
    id = _new(change, wish, "rule")
    made = {"id": id, **wish.keys("severity", "trap", "text", "repair", "source", "firmware")}
    made |= {"severity": wish.text("severity", "warning"), "text": wish.needed("text")}
    made |= {"repair": wish.needed("repair")}
    made |= wish.keys("repeat", "if", "requires", "conflicts", "order", "ignore", "sum")
    if sum(key in made for key in ("requires", "conflicts", "order", "sum")) != 1:
        raise problem(
            "a rule has exactly one of requires, conflicts, order and sum.",
            advice="Say which, as in --requires 'momentum.deceleration>=1'.",
        )
    if made.get("source"):
        change.told.evidence.append(change.source(cited_source(made["source"])))
    change.draft.add(made, "rule")
    change.told.did.append(f"Rule {id}: {made['text']}")


def page(change: Change, wish: Wish) -> None:
    """Say what an index page is for."""
    pages = _new(change, wish, "page")
    made = {"pages": pages, "use": wish.text("use", "defined"), "title": wish.needed("title")}
    change.draft.add(made, "page")
    change.told.did.append(f"Index page {pages}: {made['title']}")


def accept(change: Change, wish: Wish) -> None:
    """Say why a finding of lint is right all the same."""
    code = wish.subject("code")
    wish.needed("about")
    about, reason = wish.keys("about")["about"], wish.needed("reason")
    check_code(code)
    known = set(_names(data_of(change.draft.root))) | {*change.profile.settings}
    for name in about:
        if not any(is_about((name,), one) for one in known):
            raise problem(
                f'nothing in {change.profile.id} is called "{name}".',
                advice=did_you_mean(name, known) or "Name a setting, a group or a source.",
            )
    tables = change.draft.tables("accepted")
    same = next((one for one in tables if _says(one, code, reason)), None)
    if same is None:
        change.draft.add({"code": code, "about": about, "reason": reason}, "accepted")
    else:
        held = data_of(same)["about"]
        set_keys(same, {"about": [*([held] if isinstance(held, str) else held), *about]})
    change.told.title = f"{code} accepted"
    change.told.did.append(f"{code} about {', '.join(about)} is right: {reason}")


def _names(data: Any, path: str = "") -> Iterator[str]:
    """What the parts of a file are called: tables by their heading, others by id or version."""
    for key, held in data.items():
        heading = f"{path}{key}"
        for one in held if isinstance(held, list) else (held,):
            if isinstance(one, dict):
                yield from (heading, *(str(one[name]) for name in _CALLED if name in one))
                yield from _names(one, f"{heading}.") if key == "firmware" else ()


def _says(node: Node, code: str, reason: str) -> bool:
    held = data_of(node)
    return (held.get("code"), held.get("reason")) == (code, reason)


def follow(change: Change, wish: Wish) -> None:
    """Take settings over from a standard or from a block."""
    name = wish.subject("standard or block")
    made = {"from": name, **wish.keys("firmware", "only", "without")}
    sources = [one for said in wish.several("source") for one in parse_key("sources", said)]
    change.cited(sources)
    made |= {"sources": sources} if sources else {}
    held = change.draft.root.table["decoder"].table.setdefault("follows", Node([]))
    for one in data_of(change.draft.root)["decoder"]["follows"]:
        listed = {"from": one} if isinstance(one, str) else one
        same = listed["from"].partition("@")[0] == name.partition("@")[0]
        is_whole = len(made) == 1 and not listed.keys() & {"only", "firmware"}
        if same and (listed == made or is_whole):
            raise problem(f"{name} is followed already.", advice="Say --only for a part of it.")
    held.items.append(node_of(made if len(made) > 1 else name))
    change.told.title = f"settings of {name}"
    change.told.did.append(f"Settings are taken over from {name}.")


def _new(change: Change, wish: Wish, kind: str) -> str:
    """The name of a part that is to be added; raises where there is one of it."""
    path, key = LISTS[kind]
    name = wish.subject(key)
    if any(node.table[key].value == name for node in change.draft.tables(*path, make=False)):
        raise problem(f'there is a {kind} "{name}" already.', advice="Correct it: form correct.")
    change.told.title = f"{kind} {name}"
    return name
