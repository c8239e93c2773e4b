"""A further handbook issue or version table held against a profile, and written as one change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from cvlib.engine.change.amended import TableLine
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.told import where_text
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.amend.change import Change, Wish
from cvlib.files.amend.listed import DOCUMENTS, document
from cvlib.files.amend.places import shown
from cvlib.files.amend.table_rows import Before, doubtful, fitted_repeats, matched
from cvlib.files.edit import cite, cited_source
from cvlib.files.layout import PROFILE
from cvlib.files.load import load_profile
from cvlib.files.made_settings import MadeSettings, rows_of_table, settings_of_rows
from cvlib.files.new_profile import accepted_of, id_of_row, offered, read_table
from cvlib.files.read.setting_table import SettingRow
from cvlib.files.read.version_readings import version_row_answers
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Document, Node, data_of, node_of
from cvlib.files.typed_keys import parse_firmware, parse_on_off
from cvlib.files.written import written_citation, written_place
from cvlib.model.facet import Facet, facets
from cvlib.model.profile import Place, Profile, Setting, Source, SourceKind
from cvlib.model.ranges import FirmwareRange, points_in_order

_TOLD = (
    (Facet.CVS, "moved"),
    (Facet.CODING, "recoded"),
    (Facet.RANGE, "recoded"),
    (Facet.DEFAULT, "new default"),
    (Facet.CONDITION, "new condition"),
    (Facet.MARKS, "new mark"),
    (Facet.WORDS, "worded otherwise"),
)
_INHERITED = ("when", "also-at", "note", "read-only", "volatile", "internal", "reserved", "unused")
_MARKS = _INHERITED[3:]
_SHOWN = ("firmware", "sources", "cv", "cvs", "page", "bits", "range", "default")
_LEGAL = ("kind", "form", "choices", "values", "flags")
"""Keys of a place that few words tell: always, and where the legal values differ."""


@dataclass(slots=True)
class _Plan:
    """A table held against a profile: what of it is the same, new, otherwise, and gone."""

    source: Source
    before: Before
    rows: list[SettingRow]
    made: MadeSettings
    after: Profile
    is_complete: bool
    lines: list[TableLine] = field(default_factory=list)
    changed: dict[str, list[str]] = field(default_factory=dict)
    """By the id as it is written the settings that the table has otherwise."""
    gone: list[str] = field(default_factory=list)

    @property
    def has_pages(self) -> bool:
        return any(row.printed for row in self.rows)

    @property
    def reissues(self) -> bool:
        """Whether the document can be said to repeat the one before, but for what is told."""
        is_all = self.is_complete or not self.gone
        return self.before.document is not None and is_all and not self.has_pages


def table(change: Change, wish: Wish) -> None:
    """Hold a table against the profile, and write down what it has otherwise."""
    plan = _planned(change, wish)
    _compare(plan)
    _add_document(change, wish, plan)
    for made in plan.made.tables:
        _write(change, plan, made)
    _add_answers(change, wish, plan)
    for text in wish.several("accept"):
        change.draft.add(accepted_of(text), "accepted")
    _tell(change, plan)


def _planned(change: Change, wish: Wish) -> _Plan:
    path = Path(wish.subject("table"))
    table = read_table(path)
    profile = change.profile
    firmware = parse_firmware(wish.needed("firmware"), profile.scheme)
    covered = profile.range(firmware)
    source = Source(wish.needed("source"), SourceKind.DOCUMENT, wish.needed("title"), covered)
    if source.id in profile.sources:
        raise problem(
            f'there is a source "{source.id}" in {profile.id} already.', advice="Choose another id."
        )
    base = _base(profile, wish, covered)
    written = [data_of(node) for node in change.draft.tables("setting")]
    is_older = base is None or _is_before(base.firmware, covered)
    before = Before.of(change.resolver, base, written, is_older)

    def takes(run: Any) -> str | None:
        found = before.repeat_of(run)
        return found if found or not wish.is_on("repeats") else ""

    standard = _standard(change)
    put = rows_of_table(table.rows, dict(map(id_of_row, wish.several("id"))), standard, takes)
    for run in put.offers:
        change.told.notes.append(
            f"{offered(run)} look like one setting repeated: say --repeats to write it once."
        )
    if table.unused:
        unused = ", ".join(f'"{one}"' for one in table.unused)
        change.told.notes.append(f"Columns of the table that are not used: {unused}.")
    found = list(fitted_repeats(matched(put.rows, before, change.told.notes.append), before))
    usual = before.usual()
    rows = [_inheriting(row, usual.get(row.id), found) for row in found]
    own = [id for id, one in profile.settings.items() if not one.origin]
    others = {*own, *map(without_index, own)}
    made = settings_of_rows(rows, standard, source, is_complete=False, usual=usual, others=others)
    is_complete = wish.is_on("complete") or parse_on_off(wish.text("complete", "no"))
    after = _after(change, source, firmware, made, path)
    return _Plan(source, before, rows, made, after, is_complete)


def _base(profile: Profile, wish: Wish, covered: FirmwareRange) -> Source | None:
    """The document that a table is held against: the one said, else the nearest older one."""
    documents = {one.id: one for one in profile.sources.values() if one.is_document}
    if wish.text("reissues"):
        if wish.text("reissues") not in documents:
            raise problem(
                f'there is no document "{wish.text("reissues")}" in {profile.id}.',
                advice=f"There is {', '.join(documents) or 'none'}.",
            )
        return documents[wish.text("reissues")]
    whole = [one for one in documents.values() if not one.about and not one.replaces]
    older = [one for one in whole if _is_before(one.firmware, covered)]
    order = points_in_order(one.firmware.oldest for one in (older or whole))
    chosen = order[-1 if older else 0] if order else None
    held = [one for one in (older or whole) if one.firmware.oldest == chosen]
    return held[-1] if held else None


def _is_before(one: FirmwareRange, other: FirmwareRange) -> bool:
    return points_in_order((one.oldest, other.oldest))[0] == one.oldest


def _standard(change: Change) -> Profile | None:
    """The standard that the profile follows, for the ids of what is new."""
    for name in data_of(change.draft.root)["decoder"].get("follows", ()):
        if isinstance(name, str) and name.startswith("standard/"):
            return change.store.profile(name.partition("@")[0])
    return None


def _inheriting(
    row: SettingRow, known: Mapping[str, Any] | None, rows: Iterable[SettingRow]
) -> SettingRow:
    """A row with what is known of its place and no row of the table speaks of."""
    if known is None:
        return row
    spoken = {key for one in rows for key in (*_MARKS, "when", "note") if key in one.keys}
    if any(one.condition for one in rows):
        spoken.add("when")
    kept = {key: known[key] for key in _INHERITED if key in known and key not in spoken}
    words = {"note": row.help} if row.detail_differs(known) else {}
    return replace(row, keys={**kept, **row.keys, **words})


def _after(
    change: Change,
    source: Source,
    firmware: Any,
    made: MadeSettings,
    path: Path,
) -> Profile:
    """The profile with the settings of the table as the table alone has them."""
    data = data_of(change.draft.root)
    new = {one["id"]: one for one in made.tables}
    held = {one["id"]: one for one in data.get("setting", ())}
    data["source"] = [
        *data.get("source", ()),
        {"id": source.id, "kind": "document", "title": source.title, "firmware": firmware},
    ]
    for id, one in new.items():
        places = [{**place, "sources": [source.id]} for place in one["place"]]
        kept = {key: held[id][key] for key in ("title", "help", "risk") if key in held.get(id, ())}
        held[id] = {**one, **kept, "place": places}
    data["setting"] = list(held.values())
    text = write_tree(Document(node_of(data)), PROFILE)
    try:
        return load_profile(text, path.name, change.store, "")
    except InputError as error:
        lines = {one.id: one.line for one in made.told}
        raise InputError(*(_at_row(one, lines, path) for one in error.faults)) from None


def _at_row(fault: Fault, lines: Mapping[str, int], path: Path) -> Fault:
    """A fault at the row of the table that its setting comes from."""
    named = next((id for id in lines if f'"{id}"' in fault.problem), "")
    at = Position(path.name, lines[named]) if named else Position(path.name)
    return Fault(fault.problem, at, fault.advice)


def _compare(plan: _Plan) -> None:
    """Note of every setting what the table has otherwise."""
    ids: dict[str, list[str]] = {}
    for id in plan.after.settings:
        ids.setdefault(without_index(id), []).append(id)
    lines = {one.id: one.line for one in plan.made.told}
    listed: set[str] = set()
    for one in plan.made.tables:
        id = one["id"]
        told: dict[tuple[str, str, str], list[str]] = {}
        for inner in ids[id] if "[n]" in id else [id]:
            new = _of_source(plan.after.settings[inner], plan.source.id)
            old = plan.before.places.get(inner, ())
            if not new:
                continue
            listed.add(inner)
            what = _otherwise(old, new) if old else "new"
            if what:
                plan.changed.setdefault(id, []).append(inner)
                was, now = _differing(old, new)
                told.setdefault((what, was, now), []).append(inner)
        plan.lines += _lines(id, told, lines.get(id, 0))
    for inner in plan.before.places:
        if inner not in listed and not _is_kept(plan, inner):
            plan.gone.append(inner)
    gone: dict[str, list[str]] = {}
    for inner in plan.gone:
        gone.setdefault(without_index(inner), []).append(inner)
    word = "gone" if plan.is_complete else "not listed"
    for id, held in gone.items():
        plan.lines.append(
            TableLine(id, word, _place_text(plan.before.places[held[0]]), "", 0, len(held))
        )


def _is_kept(plan: _Plan, id: str) -> bool:
    """Whether a setting of a standard is in a byte that the table lists as a whole."""
    setting = plan.before.profile.settings[id]
    slots = {part.slot for place in plan.before.places[id] for part in place.fields}
    return bool(setting.origin) and any(
        place.coding.kind == "fields" and {part.slot for part in place.fields} >= slots
        for one in plan.made.tables
        if one["id"] in plan.after.settings
        for place in plan.after.settings[one["id"]].places
    )


def _lines(
    id: str, told: Mapping[tuple[str, str, str], list[str]], line: int
) -> Iterator[TableLine]:
    """What is told of a setting: of one that recurs once, with the place of its first index."""
    by_what: dict[str, list[tuple[str, str, int]]] = {}
    for (what, old, new), held in told.items():
        by_what.setdefault(what, []).append((old, new, len(held)))
    for what, held_so in by_what.items():
        old, new, _ = held_so[0]
        yield TableLine(id, what, old, new, line, sum(count for *_, count in held_so))


def _of_source(setting: Setting, source: str) -> tuple[Place, ...]:
    return tuple(
        place for place in setting.places if any(one.source == source for one in place.citations)
    )


def _otherwise(old: tuple[Place, ...], new: tuple[Place, ...]) -> str:
    """In what the places of a setting differ, in words; empty where they do not."""
    found: set[Facet] = set()
    if len(old) == len(new) == 1:
        found |= facets(old[0], new[0])
    elif any(all(facets(one, held) for held in old) for one in new) or len(old) != len(new):
        found.add(Facet.CVS)
    words = [word for facet, word in _TOLD if facet in found]
    return ", ".join(dict.fromkeys(words))


def _place_text(places: tuple[Place, ...]) -> str:
    """Where a setting lives and what values it has, in few words."""
    texts = []
    for place in places:
        default = "" if place.said_default is None else f", default {_default_text(place)}"
        texts.append(f"{where_text(place)}: {place.coding.legal()}{default}")
    return " or ".join(texts)


def _differing(old: tuple[Place, ...], new: tuple[Place, ...]) -> tuple[str, str]:
    """The same of both sides, with the keys that differ and that the few words leave out."""
    texts = [_place_text(old), _place_text(new)]
    if len(old) == len(new) == 1:
        written = [written_place(place, ()) for place in (*old, *new)]
        told = _SHOWN if old[0].coding.legal() == new[0].coding.legal() else (*_SHOWN, *_LEGAL)
        for key in dict.fromkeys((*written[0], *written[1])):
            pair = [one.get(key) for one in written]
            if pair[0] != pair[1] and key not in told:
                texts = [
                    f"{text}, {key} {shown(value)}" for text, value in zip(texts, pair, strict=True)
                ]
    return texts[0], texts[1]


def _default_text(place: Place) -> str:
    if not place.cases:
        return " ".join(map(str, place.default or ()))
    told = []
    for case in place.cases:
        asked = (
            f"{one.setting} {one.test.value} {'/'.join(map(str, one.values))}" for one in case.when
        )
        value = " ".join(map(str, case.parts))
        told.append(f"{value} where {' and '.join(asked)}" if case.when else f"else {value}")
    return ", ".join(told)


def _add_document(change: Change, wish: Wish, plan: _Plan) -> None:
    """Add the document, with what it repeats and what it says is gone."""
    given = {
        key: held
        for key, held in wish.given.items()
        if key in ("title", "firmware", "date", "where", "note", "kind")
    }
    if wish.text("kind", DOCUMENTS[0]) not in DOCUMENTS:
        raise problem('kind is "document" or "maker".', advice="Leave --kind out.")
    base = plan.before.document
    if plan.reissues and base is not None:
        given["reissues"] = base.id
        given["without"] = tuple(_short(plan.gone, plan.before.places))
    if plan.is_complete and not (plan.reissues and base is not None and base.extent == "whole"):
        given["extent"] = "whole"
    notes = len(change.told.notes)
    document(change, Wish("document", wish.profile, (plan.source.id,), given))
    del change.told.notes[notes:]


def _short(gone: Iterable[str], held: Iterable[str]) -> Iterator[str]:
    """Ids of settings; of one that recurs and is gone whole the id with ``[n]``."""
    away, all_ids = set(gone), list(held)
    for id in dict.fromkeys(map(without_index, gone)):
        inner = [one for one in all_ids if without_index(one) == id]
        yield from [id] if away.issuperset(inner) else [one for one in inner if one in away]


def _write(change: Change, plan: _Plan, made: Mapping[str, Any]) -> None:
    """Write down what the table says of one setting."""
    id, changed = made["id"], plan.changed.get(made["id"], [])
    if changed or not plan.reissues:
        page = [text for place in made["place"] for text in place.get("sources", ())]
        citation = page[0] if page else plan.source.id
        inner = [one for one in plan.after.settings if without_index(one) == id]
        ids = inner if "[n]" in id else [id]
        is_there = any(one in plan.before.profile.settings for one in ids)
        if not is_there or (change.draft.setting(id) is None and not _is_listed(plan, ids)):
            places = [{**place, "sources": [citation]} for place in made["place"]]
            change.draft.add_setting({**made, "place": places})
        elif changed:
            _add_places(change, plan, made, citation)
        else:
            _cite(change, plan, ids, citation)


def _is_listed(plan: _Plan, ids: Iterable[str]) -> bool:
    return any(id in plan.before.places for id in ids)


def _add_places(change: Change, plan: _Plan, made: Mapping[str, Any], citation: str) -> None:
    """Add the places that a table has otherwise; where one is there already, it is cited."""
    id = made["id"]
    first = next(one for one in plan.after.settings if without_index(one) == id or one == id)
    if "[n]" not in id and change.draft.setting(id) is None:
        change.own(id, is_cited=True)
    if "[n]" not in id and len(made["place"]) == 1:
        new = _of_source(plan.after.settings[first], plan.source.id)
        for number, place in enumerate(plan.before.profile.settings[id].places):
            if len(new) == 1 and not facets(place, new[0]) and _reaches(place, plan):
                _cite_place(change, place, change.draft.place(id, number), citation)
                return
    node = change.draft.setting(id)
    if node is None:
        raise problem(f'"{id}" is not written in this profile.', advice="Check the id.")
    _widen(node, made.get("repeat"))
    common = data_of(node).get("common", {})
    for place in made["place"]:
        own = {key: held for key, held in place.items() if common.get(key) != held}
        node.table["place"].items.append(node_of({**own, "sources": [citation]}))


def _reaches(place: Place, plan: _Plan) -> bool:
    """Whether a place may hold in all firmware that the table speaks for."""
    return place.narrowing is None or (plan.source.firmware - place.narrowing).is_empty()


def _widen(node: Node, repeat: Mapping[str, int] | None) -> None:
    """Let a setting recur as often as the table has it; its places keep the indexes they had."""
    held = data_of(node).get("repeat")
    if not repeat or not held or held["count"] >= repeat["count"]:
        return
    first = held.get("first", 1)
    for place in node.table["place"].items:
        if "index" not in place.table and "absent" not in place.table:
            place.table["index"] = Node(f"{first}-{first + held['count'] - 1}")
    node.table["repeat"] = node_of({**held, "count": repeat["count"]})


def _cite(change: Change, plan: _Plan, ids: list[str], citation: str) -> None:
    """Call on the document at the places that it has the same."""
    for id in ids[:1]:
        setting = plan.before.profile.settings[id]
        if change.draft.setting(id) is None:
            change.own(id, is_cited=True)
        held = plan.before.places.get(id, setting.places[-1:])
        for number, place in enumerate(setting.places):
            if place in held:
                node = change.draft.place(id, number)
                if _reaches(place, plan):
                    _cite_place(change, place, node, citation)
                else:
                    kept = {
                        k: v for k, v in data_of(node).items() if k not in ("firmware", "sources")
                    }
                    change.draft.places(id).append(node_of({**kept, "sources": [citation]}))


def _cite_place(change: Change, place: Place, node: Node, citation: str) -> None:
    """Call on a document beside those that the place calls on already, if only from further out."""
    own = [cited_source(one) for one in data_of(node).get("sources", ())]
    if not any(
        one in change.profile.sources and change.profile.sources[one].is_document for one in own
    ):
        for one in place.citations:
            if one.source not in own and change.profile.sources[one.source].is_document:
                cite(node, written_citation(one))
    cite(node, citation)


def _add_answers(change: Change, wish: Wish, plan: _Plan) -> None:
    """Note at the releases what CV 7 answers, where no CV holds the parts of the version."""
    labels = [one.strip() for one in wish.text("label").split(",") if one.strip()]
    firmware = change.draft.root.table["firmware"].table
    parts = data_of(firmware["parts"]) if "parts" in firmware else []
    for node in change.draft.tables("firmware", "release"):
        version = change.profile.version(str(node.table["version"].value))
        if version not in plan.source.firmware:
            continue
        if labels and plan.source.firmware.single() is not None:
            node.table["label"] = node_of(labels if len(labels) > 1 else labels[0])
        answers = version_row_answers(plan.made.tables, [version], plan.source.firmware)
        if not parts and version in answers and "answers" not in node.table:
            told = [{"cv": cv, "value": value} for cv, value in answers[version].items()]
            node.table["answers"] = node_of(told)


def _tell(change: Change, plan: _Plan) -> None:
    """Say in a few sentences and row by row what the table comes to."""
    told = change.told
    told.lines += plan.lines
    counts: dict[str, int] = {}
    for line in plan.lines:
        counts[line.what] = counts.get(line.what, 0) + 1
    same = len(plan.made.tables) - sum(1 for one in plan.made.tables if plan.changed.get(one["id"]))
    said = ", ".join(f"{count} {what}" for what, count in {**counts, "the same": same}.items())
    base = plan.before.document
    against = f" beside {base.title or base.id}" if base is not None else ""
    told.did.append(f"The table has{against}: {said}.")
    told.title = f"{plan.source.title} read into the profile"
    gone = [plan.before.profile.settings[id] for id in plan.gone]
    new = {line.line for line in plan.lines if line.what == "new"}
    for row in plan.rows:
        is_open = row.position.line in new and (row.repeat or not row.id)
        if is_open and (near := doubtful(row, gone, plan.before)) is not None:
            each = "give each row its id, as in" if row.repeat else "say"
            said = f"{row.typed}={near.id}"
            said = f'"{said}"' if row.condition else said
            told.notes.append(
                f"CV {row.where} ({row.title}) is taken as new. If it is {near.id} "
                f"({near.title}), {each} --id {said}."
            )
    if plan.gone and not plan.is_complete:
        told.notes.append(
            f"{len(plan.gone)} settings are not in this table; nothing is said of them. If it was "
            "read from first to last page, say --complete."
        )
    if not plan.is_complete and plan.reissues and base is not None:
        told.notes.append(f"It is written as a further issue that repeats {base.id}, but for this.")
