"""A write sheet as blocks, as rows for a table program, and as data."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from cvlib.engine.carry.compose_bytes import Composed
from cvlib.engine.carry.order_rules import RULES
from cvlib.engine.carry.write_sheet import Do, Read, Setup, Sheet, Step, Track, Write
from cvlib.model.cv import Slot, bits_of
from cvlib.render.marks import BLANK, BOX
from cvlib.render.phrases import counted
from cvlib.render.short_values import Said
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)
from cvlib.render.views.sheet_words import ACTS, CAUTIONS, TRACKS, why_written

Data = dict[str, object]
NOTE_IT = "note what it holds; it is needed later"


@dataclass(frozen=True, slots=True)
class Told:
    """What a sheet must be told to put its steps into words."""

    sheet: Sheet
    said: Mapping[str, Said]
    """What each setting is called and its new value, by setting id."""
    contested: Mapping[Slot, tuple[str, ...]] = field(default_factory=dict)
    """CVs that may belong to a disputed setting, with the titles of those settings."""


def view(told: Told, *, why: bool = False, level: int = 2) -> list[Block]:
    """The cautions, then every step with boxes to tick; with ``why`` the rules of the order."""
    sheet = told.sheet
    blocks: list[Block] = [Heading("Write sheet", level)]
    if not sheet.steps:
        return [*blocks, Paragraph(plain(f"There is nothing to write. {_unchanged(sheet)}"))]
    blocks.append(Paragraph(plain(_setup_words(sheet.setup))))
    for caution in sheet.cautions:
        warning = Piece("Caution: ", Role.WARNING)
        blocks.append(Paragraph((warning, Piece(CAUTIONS[caution])), hang=2))
    blocks += [Gap(), _table(told)]
    if sheet.unchanged:
        blocks.append(Paragraph(faint(_unchanged(sheet))))
    if why:
        blocks += [Gap(), Heading("Why in this order", level + 1), *_rules(sheet)]
    return blocks


def _setup_words(setup: Setup) -> str:
    reads = "read back after each write" if setup.answers else "written without reading back"
    return f"Written {TRACKS[setup.track]}, {reads}. Keep to the order; tick each line."


def _unchanged(sheet: Sheet) -> str:
    number = counted(sheet.unchanged, "CV holds", "CVs hold")
    return f"{number} the right value already and can stay; --all writes them too."


def _table(told: Told) -> Table:
    setup = told.sheet.setup
    columns = [
        Column("step", numeric=True, shrinks=False),
        Column("CV", numeric=True, shrinks=False),
        Column("page", shrinks=False),
        Column("value", numeric=True, shrinks=False),
        Column("done", shrinks=False),
    ]
    if setup.answers:
        columns.append(Column("read back", shrinks=False))
    if setup.track is Track.MAIN:
        columns.append(Column("address", numeric=True, shrinks=False))
    columns.append(Column("why"))
    return Table(tuple(columns), tuple(_row(told, step) for step in told.sheet.steps))


def _row(told: Told, step: Step) -> tuple[Line, ...]:
    setup = told.sheet.setup
    cv, page, value, back, why = "", "", "", "", ""
    match step:
        case Write():
            cv, page = str(step.slot.cv), _page(step.slot)
            value = f"step {step.from_step}" if step.value is None else str(step.value)
            back = BOX if step.read_back else ""
            why = why_written(step, told.said, told.contested.get(step.slot, ()))
        case Read():
            cv, page, value, back = str(step.slot.cv), _page(step.slot), "read", BLANK
            why = NOTE_IT
        case Do():
            why = ACTS[step.act]
    cells = [plain(text) for text in (str(step.number), cv, page, value, BOX)]
    if setup.answers:
        cells.append(plain(back))
    if setup.track is Track.MAIN:
        address = "" if isinstance(step, Do) or step.address is None else str(step.address)
        cells.append(plain(address))
    return (*cells, plain(why))


def _page(slot: Slot) -> str:
    return str(slot.page) if slot.page else ""


def _rules(sheet: Sheet) -> Iterator[Block]:
    used = set(sheet.rules)
    for rule in RULES.values():
        if rule.id in used:
            yield Paragraph((Piece(f"{rule.text} "), Piece(f"({rule.source})", Role.FAINT)), hang=2)


def to_csv(told: Told) -> str:
    """The cautions and steps as rows of CV, page, value and why, in the order of the sheet.

    A row without a CV is a caution or something done by hand; a row without a value is a read, or
    writes back what was read.
    """
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(("cv", "page", "value", "why"))
    if told.sheet.steps:
        rows.writerows(("", "", "", f"Caution: {CAUTIONS[one]}") for one in told.sheet.cautions)
    for step in told.sheet.steps:
        match step:
            case Write():
                value = "" if step.value is None else step.value
                why = why_written(step, told.said, told.contested.get(step.slot, ()))
                rows.writerow((step.slot.cv, _page(step.slot), value, why))
            case Read():
                why = f"step {step.number}: read, and {NOTE_IT}"
                rows.writerow((step.slot.cv, _page(step.slot), "", why))
            case Do():
                rows.writerow(("", "", "", ACTS[step.act]))
    return out.getvalue()


def data(told: Told) -> Data:
    """The sheet as data: every step, caution and rule."""
    sheet, setup = told.sheet, told.sheet.setup
    return {
        "track": setup.track.value,
        "answers": setup.answers,
        "shared_address": setup.is_shared,
        "factory_reset": setup.is_reset,
        "power_cycle": setup.power_cycle,
        "cautions": [{"code": one.value, "text": CAUTIONS[one]} for one in sheet.cautions],
        "steps": [_step(told, step) for step in sheet.steps],
        "rules": [
            {"id": rule.id, "text": rule.text, "source": rule.source}
            for rule in RULES.values()
            if rule.id in sheet.rules
        ],
        "unchanged": sheet.unchanged,
    }


def _step(told: Told, step: Step) -> Data:
    found: Data = {
        "step": step.number,
        "kind": "",
        "cv": None,
        "page": None,
        "value": None,
        "before": None,
        "reason": "",
        "why": "",
        "read_back": False,
        "address": None,
        "moves_to": None,
        "from_step": None,
        "bits": [],
        "rules": list(step.rules),
    }
    match step:
        case Write():
            found |= {
                "kind": "write",
                "value": step.value,
                "before": step.before,
                "reason": step.reason.value,
                "why": why_written(step, told.said, told.contested.get(step.slot, ())),
                "read_back": step.read_back,
                "from_step": step.from_step,
                "moves_to": step.moves_to,
                "bits": composed_data(step.composed),
            }
        case Read():
            found |= {"kind": "read"}
        case Do():
            found |= {"kind": "do", "reason": step.act.value, "why": ACTS[step.act]}
    if not isinstance(step, Do):
        page = _page(step.slot) or None
        found |= {"cv": step.slot.cv, "page": page, "address": step.address}
    return found


def composed_data(composed: Composed | None) -> list[Data]:
    """Where each bit of a composed CV comes from."""
    return [
        {
            "bits": list(bits_of(part.mask)),
            "value": part.value,
            "from": part.whence.value,
            "setting": part.setting or None,
        }
        for part in (composed.parts if composed else ())
    ]
