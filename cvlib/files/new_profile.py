"""A new profile made from a few answers and, where there is one, a table of CVs."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cvlib.engine.change.made import MadeProfile
from cvlib.engine.lint.rules import lint_profile
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.amend.change import bounding_versions, existing_versions
from cvlib.files.data import definitions_folder, is_installed
from cvlib.files.layout import PROFILE
from cvlib.files.lint.accepted import Accepted, check_code
from cvlib.files.load import load_profile
from cvlib.files.made_settings import MadeSettings, rows_of_table, settings_of_rows
from cvlib.files.meaning.file_format import FORMAT
from cvlib.files.read.recurring import Recurrence
from cvlib.files.read.setting_table import SettingTable, read_setting_table
from cvlib.files.read.version_readings import parts_of, read_version, version_row_answers
from cvlib.files.shapes.profile import ID
from cvlib.files.store import BLOCKS, FLEET, Store
from cvlib.files.text import decode_list, file_name, from_here, parse_toml, quoted, read_bytes
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Document, node_of
from cvlib.files.typed_keys import parse_firmware, parse_key, parse_on_off
from cvlib.files.write import create_file, says
from cvlib.findings.catalogue import Severity
from cvlib.model.profile import Extent, Profile, Source, SourceKind
from cvlib.model.ranges import FirmwareRange, in_order
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version

KINDS = ("motor", "function", "sound", "accessory")
"""The kinds of decoder that a profile can be made for."""

STANDARDS: Mapping[str, str] = {
    "nmra": "standard/nmra-s-9.2.2@2012-07",
    "nmra-accessory": "standard/nmra-s-9.2.2-accessory@2012-07",
    "rcn": "standard/rcn-225@2025-07-27",
    "rcn-accessory": "standard/rcn-225-accessory@2025-07-27",
    "none": "",
}
"""What a profile may follow, by a short name."""

SCHEMA = "#:schema ../../docs/schema/profile.schema.json"
HANDBOOK = "handbook-1"
"""The id of the source of a new profile."""

_ID = re.compile(rf"{ID}/{ID}")
_SETTING = re.compile(r"^\[\[setting\]\]$", re.M)


@dataclass(frozen=True, slots=True)
class NewWish:
    """A profile as a person asks for it; the keys are those of ``cvlib new``."""

    id: str
    given: Mapping[str, str]
    releases: tuple[str, ...] = ()
    is_complete: bool = False
    """Whether the handbook was read from first to last page: the table lists every CV in it."""
    table: Path | None = None
    ids: tuple[str, ...] = ()
    """Ids chosen for rows, as ``51.7=motor.brake``."""
    readings: tuple[str, ...] = ()
    """What the decoder answers at some firmware, as ``1.4: 7=14``."""
    accepted: tuple[str, ...] = ()
    """What lint finds and is right all the same, as ``CODE ID: REASON``."""
    takes_repeats: bool = False
    """Whether what looks like one setting repeated is written once."""

    def text(self, key: str, usual: str = "") -> str:
        """What was said for a key."""
        return self.given.get(key, "").strip() or usual


def check_new(key: str, text: str, wish: NewWish, store: Store) -> None:
    """Refuse an answer that cannot be right, as soon as it is typed."""
    checks: Mapping[str, Callable[[], object]] = {
        "profile": lambda: _free_id(text, store),
        "kind": lambda: _one_of("kind", text, KINDS),
        "follows": lambda: _one_of("follows", text, STANDARDS),
        "scheme": lambda: _one_of("scheme", text, [str(one.value) for one in Scheme]),
        "firmware": lambda: parse_firmware(text, _scheme(wish)),
        "release": lambda: parse_version(text, _scheme(wish)),
        "date": lambda: parse_key(key, text),
        "risk": lambda: parse_key(key, text),
        "manufacturer": lambda: _manufacturer(text),
        "parts": lambda: _parts(text),
        "reading": lambda: read_version(text, _scheme(wish)),
        "id": lambda: id_of_row(text),
        "accept": lambda: accepted_of(text),
        "complete": lambda: parse_on_off(text),
        "repeats": lambda: parse_on_off(text),
        "subject": lambda: read_table(Path(text)),
    }
    if key in checks:
        checks[key]()


def make_profile(store: Store, wish: NewWish, own_folder: Path | None) -> MadeProfile:
    """The profile that was asked for, read back through the loader; nothing is written yet.

    Raises InputError with everything that the loader or lint has against it.
    """
    _free_id(wish.id, store)
    path = _path(wish.id, own_folder)
    shown = file_name(from_here(path))
    table = read_table(wish.table) if wish.table else SettingTable(())
    follows = STANDARDS[_one_of("follows", wish.text("follows", "nmra"), STANDARDS)]
    standard = store.profile(follows.partition("@")[0]) if follows else None
    speaks_for = FirmwareRange.parse(_firmware(wish), _scheme(wish))
    handbook = Source(
        wish.text("source", HANDBOOK), SourceKind.DOCUMENT, wish.text("title"), speaks_for
    )
    ids = dict(map(id_of_row, wish.ids))
    rows = rows_of_table(table.rows, ids, standard, lambda _: "" if wish.takes_repeats else None)
    made = settings_of_rows(rows.rows, standard, handbook, is_complete=wish.is_complete)
    text = write_tree(Document(node_of(_data(wish, follows, made)), SCHEMA), PROFILE)
    profile = _read_back(store, wish, text, made)
    return MadeProfile(
        profile,
        shown,
        text,
        made.told,
        made.without,
        table.unused,
        file_name(own_folder) if own_folder is not None else "",
        wish.is_complete,
        tuple(map(offered, rows.offers)),
    )


def write_profile(made: MadeProfile, own_folder: Path | None) -> MadeProfile:
    """Write the file of a new profile; one that is there is never overwritten."""
    path, data = _path(made.profile.id, own_folder), made.text.encode("utf-8")
    holds = says(parse_toml(made.text, made.file))
    create_file(path, data, holds, within=path.parent.parent, entered=data)
    return replace(made, is_written=True)


def _data(wish: NewWish, follows: str, made: MadeSettings) -> dict[str, Any]:
    """The whole document."""
    scheme, handbook = _scheme(wish), wish.text("source", HANDBOOK)
    decoder: dict[str, Any] = {
        "id": wish.id,
        "maker": wish.text("maker"),
        "name": wish.text("name"),
        "kind": _one_of("kind", wish.text("kind"), KINDS),
    }
    if follows:
        decoder["follows"] = [follows]
    if follows and made.listed:
        listed = {"from": follows, "only": list(made.listed), "sources": [handbook]}
        decoder["follows"].append(listed)
    if made.without:
        decoder["without"] = list(made.without)
    if wish.text("risk"):
        decoder["risk"] = parse_key("risk", wish.text("risk"))
    places = [place for setting in made.tables for place in setting["place"]]
    if any("sources" not in place for place in places):
        decoder["sources"] = [handbook]
    firmware = _firmware(wish)
    source = {"id": handbook, "kind": "document", "title": wish.text("title")}
    if wish.text("date"):
        source["date"] = parse_key("date", wish.text("date"))
    document: dict[str, Any] = {"format": FORMAT, "decoder": decoder}
    if wish.text("manufacturer"):
        document["identity"] = {"manufacturer": _manufacturer(wish.text("manufacturer"))}
    releases = _releases(wish, firmware, made.tables, scheme)
    document["firmware"] = {
        "scheme": scheme.value,
        **_answered(wish, releases, made.tables, FirmwareRange.parse(firmware, scheme)),
    }
    extent = {"extent": Extent.WHOLE.value} if wish.is_complete else {}
    more = {key: wish.text(key) for key in ("where", "note") if wish.text(key)}
    document["source"] = [{**source, "firmware": firmware, **extent, **more}]
    document["setting"] = list(made.tables)
    document["accepted"] = [accepted_of(text) for text in wish.accepted]
    return {key: held for key, held in document.items() if held}


def _firmware(wish: NewWish) -> str | list[str]:
    """The firmware that the handbook speaks for."""
    return parse_firmware(wish.text("firmware"), _scheme(wish))


def _answered(
    wish: NewWish,
    releases: Sequence[FirmwareVersion],
    tables: Iterable[Mapping[str, Any]],
    covered: FirmwareRange,
) -> dict[str, Any]:
    """The CVs that answer the version, and the releases with what they answer beside that."""
    answers = dict(read_version(text, covered.scheme) for text in wish.readings)
    parts = _parts(wish.text("parts")) if wish.text("parts") else parts_of(answers)
    told = {} if parts else {**version_row_answers(tables, releases, covered), **answers}
    labels = [one.strip() for one in wish.text("label").split(",") if one.strip()]
    label = {"label": labels if len(labels) > 1 else labels[0]} if labels else {}
    made = []
    for version in releases:
        one: dict[str, Any] = {"version": str(version)}
        if version in covered and label and covered.single() is not None:
            one |= label
        if told.get(version):
            one["answers"] = [{"cv": cv, "value": value} for cv, value in told[version].items()]
        made.append(one)
    return {"parts": parts, "release": made}


def _releases(
    wish: NewWish, firmware: Any, settings: Iterable[Mapping[str, Any]], scheme: Scheme
) -> list[FirmwareVersion]:
    """The releases given, and the versions that the handbook and the table name as existing."""
    named = bounding_versions(firmware)
    for place in (place for setting in settings for place in setting["place"]):
        named += existing_versions(place.get("firmware", ""))
    return in_order(dict.fromkeys(parse_version(one, scheme) for one in (*wish.releases, *named)))


def _read_back(store: Store, wish: NewWish, text: str, made: MadeSettings) -> Profile:
    """The profile as the loader reads the text; faults are told at the rows of the table."""
    starts = [text.count("\n", 0, found.start()) + 1 for found in _SETTING.finditer(text)]
    lines = {one.id: one.line for one in made.told}
    lines |= {one.replace("[n]", f"[{n}]"): at for one, at in lines.items() for n in range(256)}

    def at_row(line: int | None) -> Position | None:
        return Position(file_name(wish.table), line) if wish.table and line else None

    def row_of(line: int) -> int | None:
        within = [at for at, start in enumerate(starts) if start <= line]
        return made.told[within[-1]].line if within else None

    try:
        profile = load_profile(text, f"{wish.id}.toml", store, wish.id)
    except InputError as error:
        found = [
            Fault(one.problem, at_row(row_of(one.position.line or 0)), one.advice)
            if one.position
            else one
            for one in error.faults
        ]
        raise InputError(*found) from None
    data = parse_toml(text, wish.id)
    accepted = Accepted(data)
    found = [
        Fault(f"{rule.code} {one.message}", at_row(lines.get(one.spot.id)), one.advice)
        for rule, one in lint_profile(profile, data)
        if rule.severity.at_least(Severity.WARNING)
        and not rule.unfinished
        and not accepted.takes(rule, one)
    ]
    if found:
        raise InputError(*found)
    return profile


def id_of_row(text: str) -> tuple[str, str]:
    """The CV or title of a row, and the id that a person chose for it."""
    name, _, id = text.rpartition("=")
    if not name.strip() or not id.strip():
        raise problem(
            f"{quoted(text)} gives no row an id.", advice='Write it as in "51.7=motor.brake".'
        )
    return re.sub(r"^cv\s*(?=\d)", "", name.strip().casefold()), id.strip()


def accepted_of(text: str) -> dict[str, Any]:
    """What lint finds and is right all the same, as a table of the file."""
    found = re.fullmatch(r"(\S+)\s+(\S+):\s+(.+)", text.strip())
    if not found:
        raise problem(
            f"{quoted(text)} accepts nothing.",
            advice='Write code, setting and reason: "illegal-default relay.mode: as printed".',
        )
    check_code(found[1])
    return {"code": found[1], "about": found[2], "reason": found[3]}


def offered(run: Recurrence) -> str:
    """Rows that look like one setting repeated, in words."""
    lines = [one.position.line or 0 for one in run.rows]
    example = run.title.replace("{n}", str(run.first))
    return f"rows {min(lines)}-{max(lines)} ({example} and {len(lines) - 1} more)"


def read_table(path: Path) -> SettingTable:
    """The rows of a table in a file."""
    name = file_name(path)
    return read_setting_table(decode_list(read_bytes(path), name), name)


def _path(id: str, own_folder: Path | None) -> Path:
    if own_folder is not None:
        return own_folder / f"{id}.toml"
    if is_installed():
        raise problem(
            "a new profile does not go into the installed cvlib.",
            advice="Name a folder of your own with --definitions DIR.",
        )
    return definitions_folder() / f"{id}.toml"


def _free_id(id: str, store: Store) -> None:
    if not _ID.fullmatch(id):
        raise problem(
            f'"{id}" cannot be the id of a profile.',
            advice='Write maker and decoder in lower case with a stroke, such as "ferrow/lark-8".',
        )
    if id.endswith(f"/{BLOCKS.removesuffix('.toml')}") or id.startswith(f"{FLEET}/"):
        raise problem(
            f'"{id}" cannot be the id of a profile: files of that name hold something else.',
            advice="Choose another name.",
        )
    if id in store.ids():
        raise problem(
            f"there is a profile {id} already, and it is not overwritten.",
            advice='Correct it with "cvlib amend", or choose another id.',
        )


def _one_of(what: str, text: str, known: Any) -> str:
    word = text.strip().casefold()
    if word not in known:
        raise problem(f'{what} cannot be "{text}".', advice=f"Say {', '.join(known)}.")
    return word


def _scheme(wish: NewWish) -> Scheme:
    known = [str(one.value) for one in Scheme]
    return Scheme(_one_of("scheme", wish.text("scheme", Scheme.DOTTED.value), known))


def _manufacturer(text: str) -> int:
    found: int = parse_key("cv", text)
    return found


def _parts(text: str) -> list[dict[str, Any]]:
    """The CVs that answer the version, most significant first; "none" where none does."""
    if text.strip().casefold() in ("none", "keine", "-"):
        return []
    made: list[dict[str, Any]] = []
    for one in re.split(r"[,;.]\s*", text.strip()):
        cv, _, page = one.partition("@")
        made.append({"cv": parse_key("cv", cv), **({"page": page.strip()} if page else {})})
    return made
