"""The settings of a new profile out of the rows of a table: ids, kinds and evidence."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from cvlib.engine.change.made import MadeSetting
from cvlib.engine.known.trade_words import GERMAN
from cvlib.errors import Fault, InputError, did_you_mean, problem
from cvlib.files.likeness import is_like
from cvlib.files.read.recurring import Recurrence, folded, halves, recurrences, settled, told_apart
from cvlib.files.read.setting_table import Condition, SettingRow
from cvlib.files.typed_keys import parse_key
from cvlib.files.written import narrowed, written_place
from cvlib.model.cv import WHOLE, Slot, parse_bits, parse_numbers, parse_page
from cvlib.model.profile import Profile, Setting, Source, group_of, is_about
from cvlib.model.ranges import FirmwareRange

_LONGEST = 60
WHOLE_CV = ", the whole CV"
"""Behind the title of a CV whose name is that of some of its bits in the standard."""
OTHER = "other"
"""The group of a setting of which the table names none."""


@dataclass(frozen=True, slots=True)
class MadeSettings:
    """The tables of the settings, where each comes from, and what becomes of a standard's."""

    tables: tuple[dict[str, Any], ...]
    told: tuple[MadeSetting, ...]
    without: tuple[str, ...]
    """What a standard brings in vain."""
    listed: tuple[str, ...]
    """Settings of the standard without a row of their own, in bits that the table lists."""


@dataclass(frozen=True, slots=True)
class TableRows:
    """The rows of a table, those that are one setting put together."""

    rows: tuple[SettingRow, ...]
    offers: tuple[Recurrence, ...]
    """Rows that look like one setting repeated and were left as they are."""


def rows_of_table(
    rows: Sequence[SettingRow],
    ids: Mapping[str, str],
    standard: Profile | None,
    takes: Callable[[Recurrence], str | None],
) -> TableRows:
    """The rows of a table put together, with the ids that a person chose by CV or title.

    ``takes`` gives the id of what recurs, an empty text for one to be made, nothing to leave it.
    What is a curve of the standard is that always. Raises InputError for an id of no row.
    """
    found = settled(rows)
    unused = dict(ids)
    for at, row in enumerate(found):
        for name in (row.where, row.title.casefold(), row.typed.casefold()):
            if name in ids:
                found[at] = replace(row, id=ids[name])
                unused.pop(name, None)
    if unused:
        names = [*(row.where for row in found), *(row.title for row in found)]
        raise InputError(
            *(
                Fault(f'no row is "{name}".', None, did_you_mean(name, names) or "Name its CV.")
                for name in unused
            )
        )
    known, chosen, offers = _Standard(standard), [], []
    for high, low, both in halves(found):
        held = known.at(_claimed(both.keys))
        if held is not None and is_like(both.title, held):
            found = [both if one is high else one for one in found if one is not low]
    for run in recurrences(found):
        curve = run.curve()
        held = known.at(_claimed(curve.keys)) if run.step == 1 else None
        if held is not None and is_like(curve.title, held):
            chosen.append((run, curve))
        elif (id := takes(run)) is not None:
            chosen.append((run, replace(run.row(), id=id or _recurring_id(run.title))))
        else:
            offers.append(run)
    return TableRows(tuple(told_apart(folded(found, chosen))), tuple(offers))


def settings_of_rows(
    rows: Sequence[SettingRow],
    standard: Profile | None,
    source: Source,
    *,
    is_complete: bool,
    usual: Mapping[str, Mapping[str, Any]] | None = None,
    others: Collection[str] = (),
) -> MadeSettings:
    """The settings of a table as tables of a profile.

    A row on the CV and bits of a setting of the standard, with a name like that one's, has its id,
    and its coding where the row says nothing of that. ``is_complete``: what the standard has beyond
    the table is left out. ``usual`` is what is known already of places, by id, and ``others`` are
    ids that only a row that says so has.
    Raises InputError with every fault.
    """
    known = _Standard(standard)
    tables: dict[str, dict[str, Any]] = {}
    told: list[MadeSetting] = []
    faults: list[Fault] = []
    lines: list[tuple[Slot, int]] = []
    claims: list[tuple[Slot, int]] = []
    split = {row.keys.get("cv") for row in rows if "bits" in row.keys}
    counts: dict[str, int] = {}
    ids: dict[Any, str] = {}
    taken = {*known.ids, *others}
    for row in rows:
        try:
            held, beside = known.named(row)
            held = None if held is not None and not row.id and held.id in others else held
            id = row.id or (held.id if held else _new_id(row, taken, counts, known.is_split(row)))
            ids[row.position, row.where, row.condition] = id
            taken.add(id)
            claimed = _claimed(row.keys)
            lines += [one for one in claimed if "bits" in row.keys or one[0].cv not in split]
            before = (usual or {}).get(id)
            keys = _completed(row, held if before is None else before, known.is_split(row))
        except InputError as error:
            faults += [Fault(one.problem, row.position, one.advice) for one in error.faults]
            continue
        place = _place(row, keys, source)
        if id in tables:
            tables[id]["place"].append(place)
            if not row.keys.keys() & {"firmware", "index"}:
                faults.append(_twice(id, row))
            continue
        is_twin = id.endswith("-byte") and id.removesuffix("-byte") in known.ids
        title = f"{row.title}{WHOLE_CV}" if is_twin else row.title
        tables[id] = _table(row, id, title, held, place)
        is_standard = held is not None and id == held.id
        told.append(MadeSetting(id, row.position.line or 0, is_standard, row.where, beside))
        if keys["kind"] != "fields":
            claims += claimed
    faults += _decided(rows, tables, ids)
    if faults:
        raise InputError(*faults)
    gone = known.gone(tables, claims, {slot for slot, _ in lines}, is_complete=is_complete)
    listed = known.listed({*tables, *gone}, lines)
    return MadeSettings(tuple(tables.values()), tuple(told), known.names(gone), listed)


def _twice(id: str, row: SettingRow) -> Fault:
    what = f'"{id}" is in the table twice.'
    advice = f', as in --id "{row.typed}=ID"' if row.condition else ""
    return Fault(what, row.position, f"Give each an id{advice}, or a firmware of its own.")


def _place(row: SettingRow, keys: Mapping[str, Any], source: Source) -> dict[str, Any]:
    """The table of a place: its keys, when it is there, and the page that says so."""
    place = {**_narrowing(row, source), **keys}
    if row.condition:
        place["when"] = {"cv": row.condition}
    if row.printed:
        place["sources"] = [f"{source.id}:{row.printed}"]
    if any(row.defaults):
        place["defaults"] = [parse_key("default", one, place["kind"]) for one in row.defaults]
    return place


def _table(
    row: SettingRow, id: str, title: str, held: Setting | None, place: dict[str, Any]
) -> dict[str, Any]:
    """The table of a setting with its first place."""
    made: dict[str, Any] = {"id": id, "title": title}
    if row.help:
        made["help"] = row.help
    usual = held.risk if held is not None and id == held.id else None
    risk = row.risk
    if risk is None and usual is not None:
        risk = sorted(mark.value for mark in usual)
    if risk is not None:
        made["risk"] = risk
    if row.repeat:
        made["repeat"] = dict(row.repeat)
    return {**made, "place": [place]}


def _decided(
    rows: Sequence[SettingRow], tables: Mapping[str, dict[str, Any]], ids: Mapping[Any, str]
) -> Iterator[Fault]:
    """Put the setting that decides in place of its CV, in conditions of places and defaults."""
    deciding = {row.keys.get("cv"): ids.get((row.position, row.where, None)) for row in rows}

    def when(condition: Condition, row: SettingRow) -> dict[str, Any]:
        cv, values = condition
        id = deciding.get(cv)
        if not id:
            raise problem(
                f"CV {cv} decides here, and no row is CV {cv}.",
                advice="Give it a row with its values.",
                position=row.position,
            )
        return {"setting": id, "is": list(values)}

    for row in rows:
        id = ids.get((row.position, row.where, row.condition), "")
        for place in tables[id]["place"] if id in tables else ():
            try:
                if place.get("when") == {"cv": row.condition}:
                    place["when"] = when(place["when"]["cv"], row)
                if row.cases and not isinstance(place.get("default"), list):
                    place["default"] = [
                        {
                            "when": when(one, row),
                            "value": parse_key("default", text, place["kind"]),
                        }
                        for one, text in row.cases
                    ] + ([{"value": place["default"]}] if "default" in place else [])
            except InputError as error:
                yield from error.faults


def _narrowing(row: SettingRow, source: Source) -> dict[str, Any]:
    """The firmware of a row, where it is less than what the source speaks for."""
    given = row.keys.get("firmware")
    if given is None:
        return {}
    needed = narrowed(FirmwareRange.parse(given, source.firmware.scheme), [source])
    return {} if needed is None else {"firmware": given}


class _Standard:
    """The settings that the new profile takes over, by what they occupy."""

    def __init__(self, standard: Profile | None) -> None:
        held = standard.settings.values() if standard else ()
        self.settings = [one for one in held if one.places and not one.is_area]
        self.ids = {one.id for one in self.settings}
        self._by_claim = {
            tuple((field.slot, field.mask) for field in one.places[-1].fields): one
            for one in self.settings
        }

    def named(self, row: SettingRow) -> tuple[Setting | None, str]:
        """The setting that a row is by its CVs and its name; or the id of one with another name."""
        held = self.at(_claimed(row.keys)) if not (row.condition or row.repeat) else None
        if held is None or row.id == held.id or (not row.id and is_like(row.title, held)):
            return held, ""
        return None, "" if row.id else held.id

    def at(self, claimed: Sequence[tuple[Slot, int]]) -> Setting | None:
        """The setting on the very same CVs and bits."""
        return self._by_claim.get(tuple(claimed))

    def is_split(self, row: SettingRow) -> bool:
        """Whether the standard has settings of their own in the bits of a whole CV of that name."""
        claimed = _claimed(row.keys)
        if len(claimed) != 1 or claimed[0][1] != WHOLE:
            return False
        return any(
            slot == claimed[0][0] and mask != WHOLE and is_like(row.title, one, by_group=True)
            for one in self.settings
            for slot, mask in _claims_of(one)
        )

    def gone(
        self,
        own: Collection[str],
        claims: Sequence[tuple[Slot, int]],
        listed: Collection[Slot],
        *,
        is_complete: bool,
    ) -> set[str]:
        """The settings that the decoder has otherwise, or lacks by a table that lists every CV.

        A table may leave out what every decoder has to have.
        """
        return {
            one.id
            for one in self.settings
            if one.id not in own
            and (
                _meets(one, claims)
                or (
                    is_complete
                    and not any(slot in listed for slot, _ in _claims_of(one))
                    and one.places[-1].marks.requirement != "mandatory"
                )
            )
        }

    def listed(self, other: Collection[str], lines: Sequence[tuple[Slot, int]]) -> tuple[str, ...]:
        """The settings, but for some others, that have bits in what the lines of a table list."""
        return tuple(one.id for one in self.settings if one.id not in other and _meets(one, lines))

    def names(self, gone: Collection[str]) -> tuple[str, ...]:
        """Settings by their ids; a whole group by its name."""
        found: dict[str, None] = {}
        for id in (one.id for one in self.settings if one.id in gone):
            group = group_of(id)
            whole = [one.id for one in self.settings if is_about([group], one.id)]
            found[group if set(whole) <= set(gone) else id] = None
        return tuple(found)


def _meets(setting: Setting, claims: Sequence[tuple[Slot, int]]) -> bool:
    """Whether a setting has bits in common with some claims."""
    own = _claims_of(setting)
    return any(s == slot and m & mask for s, m in own for slot, mask in claims)


def _claims_of(setting: Setting) -> list[tuple[Slot, int]]:
    return [(field.slot, field.mask) for field in setting.places[-1].fields]


def _claimed(keys: Mapping[str, Any]) -> list[tuple[Slot, int]]:
    """What a row occupies: CVs with their bits."""
    page = parse_page(keys["page"]) if "page" in keys else None
    mask = parse_bits(keys["bits"]) if "bits" in keys else WHOLE
    cvs = keys.get("cvs", [keys.get("cv", 0)])
    numbers = parse_numbers(cvs, 1, 1024, "cvs") if isinstance(cvs, str) else cvs
    return [(Slot(cv, page), mask) for cv in numbers]


def _completed(
    row: SettingRow, known: Setting | Mapping[str, Any] | None, is_split: bool
) -> dict[str, Any]:
    """The keys of a row with a kind: its own, those of what is known, or one that fits."""
    keys = row.keys
    made = {key: held for key, held in keys.items() if key != "firmware"}
    says = [key for key in ("kind", "range", "choices", "values", "flags", "unit") if key in keys]
    usual: Mapping[str, Any] = {}
    if isinstance(known, Setting):
        usual = written_place(known.places[-1], ())
    elif known:
        usual = known
    kind = keys.get("kind", usual.get("kind"))
    is_usual = set(says) <= {"range", "kind"} and kind is not None
    if not says and is_split and not isinstance(known, Mapping):
        made["kind"] = "fields"
    elif (is_usual or isinstance(known, Mapping)) and kind and kind == usual.get("kind"):
        coding = {key: held for key, held in usual.items() if key not in _NOT_CODING}
        if isinstance(known, Setting) and "range" in keys:
            coding.pop("values", None)
        made = {**coding, **made, "kind": kind}
        if kind == "address" and isinstance(known, Setting) and "range" not in keys:
            made["range"] = coding["range"]
    elif "kind" not in made:
        made["kind"] = _likely(made)
    if made["kind"] == "address" and "form" not in made:
        made["form"] = "plain"
    if made["kind"] in ("switch", "choice", "flags", "fields", "text"):
        made.pop("range", None)
    if row.default:
        made["default"] = parse_key("default", row.default, made["kind"])
    elif isinstance(known, Mapping) and not any(row.defaults) and "index" not in keys:
        made |= {key: known[key] for key in ("default", "defaults") if key in known}
    return made


_NOT_CODING = (
    *("firmware", "cv", "cvs", "page", "bits", "default", "sources", "note", "requirement"),
    *("uniform", "when", "also-at", "help", "defaults"),
)


def _likely(keys: Mapping[str, Any]) -> str:
    if "choices" in keys:
        return "choice"
    bits = str(keys.get("bits", ""))
    if re.fullmatch(r"\d", bits) and keys.get("range", [0, 1]) == [0, 1] and "unit" not in keys:
        return "switch"
    if len(_claimed(keys)) > 2:
        return "curve"
    return "number"


def _new_id(row: SettingRow, taken: Collection[str], counts: dict[str, int], is_byte: bool) -> str:
    """An id from the group and the title; counted where another setting has it.

    ``counts`` are the last numbers given, so that many rows of one title are no long search.
    """
    name, group = slug(row.title), slug(row.group or row.variant)
    if not group:
        first, _, rest = row.title.strip().partition(" ")
        group, name = (slug(first), slug(rest)) if slug(rest) and slug(first) else (OTHER, name)
    name = "value" if name == group else name.removeprefix(f"{group}-").strip("-") or "value"
    id = made = f"{group}.{name}"
    if is_byte and made in taken:
        id = made = f"{id}-byte"
    while made in taken:
        counts[id] = counts.get(id, 1) + 1
        made = f"{id}-{counts[id]}"
    return made


def _recurring_id(title: str) -> str:
    """The id of a setting that recurs, from its title: ``{n}`` goes with the noun before it."""
    before, _, after = title.partition("{n}")
    words = re.sub(r"\b[^\W\d_]$", "", before).split()
    noun = " ".join(words) if slug(after) else (words[-1] if words else "")
    name = slug(after) or slug(" ".join(words[:-1])) or "value"
    return f"{slug(noun) or OTHER}[n].{name}"


def slug(text: str) -> str:
    """A text as part of an id: lower-case words joined by hyphens.

    >>> slug("Größte Geschwindigkeit (CV 5)")
    'groesste-geschwindigkeit-cv-5'
    """
    plain = text.casefold().translate(GERMAN)
    plain = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:_LONGEST].strip("-")
