"""A write sheet as blocks, as rows for a table program, and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from cvlib.engine.carry.compose_bytes import Composed
from cvlib.engine.carry.order_rules import RULES
from cvlib.engine.carry.write_sheet import (
    Caution,
    Do,
    Due,
    Matter,
    Note,
    Read,
    Setup,
    Sheet,
    Step,
    Track,
    Verify,
    Write,
)
from cvlib.model.cv import Slot, bits_of
from cvlib.model.profile import Risk, Setting
from cvlib.render.marks import BLANK, BOX
from cvlib.render.phrases import counted, listed
from cvlib.render.short_values import Said
from cvlib.render.to_csv import Cell
from cvlib.render.to_csv import to_csv as csv_text
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
from cvlib.render.views.sheet_words import (
    ACTS,
    CAUTIONS,
    MATTERS,
    TRACKS,
    title_of,
    why_read,
    why_written,
)

Data = dict[str, object]


@dataclass(frozen=True, slots=True)
class Told:
    """What a sheet must be told to put its steps into words."""

    sheet: Sheet
    said: Mapping[str, Said]
    """What each setting is called and its new value, by setting id."""
    contested: Mapping[Slot, tuple[str, ...]] = field(default_factory=dict)
    """CVs that may belong to a disputed setting, with the titles of those settings."""
    decoder: str = ""
    """The decoder and firmware that are meant."""
    notes: Mapping[str, str] = field(default_factory=dict)
    """What is to be said of a setting that is not simply written, by setting id."""
    unsaved: Mapping[Slot, str] = field(default_factory=dict)
    """What a CV held and holds now that meant something else before and was never saved."""
    keeping: str = ""
    """The command that keeps what was read of them."""
    settings: Mapping[str, Setting] = field(default_factory=dict)
    """The settings of the decoder, for what they may harm."""

    def risk_of(self, name: str) -> frozenset[Risk] | None:
        """What a setting may harm; nothing where nobody noted it."""
        held = self.settings.get(name)
        return None if held is None else held.risk


def view(told: Told, *, why: bool = False, level: int = 2) -> list[Block]:
    """The cautions, then every step with boxes to tick; with ``why`` the rules of the order."""
    sheet = told.sheet
    blocks: list[Block] = [Heading("Write sheet", level)]
    if not sheet.steps:
        return [*blocks, Paragraph(plain(f"There is nothing to write. {_unchanged(sheet)}"))]
    blocks += opening(told, sheet.cautions)
    return [*blocks, Gap(), _table(told), *ending(told, why=why, level=level)]


def opening(told: Told, cautions: Iterable[Caution]) -> Iterator[Block]:
    """How the sheet is to be followed, and what to beware of in all of it."""
    yield Paragraph(plain(_setup_words(told.sheet.setup)))
    for caution in cautions:
        yield Paragraph(caution_line(caution), hang=2)


def caution_line(caution: Caution) -> Line:
    """A caution as a line, with its warning word first."""
    return (Piece("Caution: ", Role.WARNING), Piece(CAUTIONS[caution]))


def ending(told: Told, *, why: bool, level: int = 2) -> Iterator[Block]:
    """What stands below the steps."""
    if told.sheet.unchanged:
        yield Paragraph(faint(_unchanged(told.sheet)))
    if why:
        yield Gap()
        yield Heading("Why in this order", level + 1)
        yield from _rules(told.sheet)


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
        *([Column("address", numeric=True, shrinks=False)] if setup.track is Track.MAIN else []),
        Column("CV", numeric=True, shrinks=False),
        Column("page", shrinks=False),
        Column("was", numeric=True, shrinks=False),
        Column("write", numeric=True, shrinks=False),
        Column("done", shrinks=False),
        *([Column("read back", shrinks=False)] if setup.answers else []),
        Column("in words"),
    ]
    return Table(tuple(columns), tuple(_row(told, step) for step in told.sheet.steps))


def _row(told: Told, step: Step) -> tuple[Line, ...]:
    setup, slot = told.sheet.setup, slot_of(step)
    back = BLANK if isinstance(step, Read) else ""
    if isinstance(step, Verify) or (isinstance(step, Write) and step.read_back):
        back = BOX
    cells = [
        str(step.number),
        *([address_of(step)] if setup.track is Track.MAIN else []),
        str(slot.cv) if slot else "",
        _page(slot),
        _was(step),
        written(step),
        BOX,
        *([back] if setup.answers else []),
        in_words(told, step),
    ]
    return tuple(plain(text) for text in cells)


def slot_of(step: Step) -> Slot | None:
    """The CV of a line, if it has one."""
    return None if isinstance(step, (Do, Verify)) else step.slot


def address_of(step: Step) -> str:
    """The address at which the decoder answers at a line, as far as it is known."""
    held = None if isinstance(step, (Do, Note)) else step.address
    return "" if held is None else str(held)


def _was(step: Step) -> str:
    if not isinstance(step, Write):
        return ""
    return "-" if step.before is None else str(step.before)


def written(step: Step) -> str:
    """What to do with the CV of a line, in a word or a number."""
    match step:
        case Write(bit=int(bit), value=value):
            return f"bit {bit} = {value}"
        case Write(from_step=int(noted)):
            return f"step {noted}"
        case Write(value=value):
            return str(value)
        case Read() | Verify():
            return "read"
        case Note() | Do():
            return ""


def in_words(told: Told, step: Step) -> str:
    """What a line is about."""
    match step:
        case Write(slot=slot):
            return why_written(step, told.said, told.contested.get(slot, ()), told.notes)
        case Read():
            return why_read(step, told.unsaved)
        case Verify(due=due):
            return listed([_due(one) for one in due])
        case Note(matter=Matter.CHANGED as matter, slot=Slot() as slot):
            return MATTERS[matter].format(words=told.unsaved.get(slot, ""))
        case Note(matter=matter, setting=setting):
            title, words = title_of(told.said, setting), told.notes.get(setting, "")
            if title not in words:
                words = f"{title}: {words}" if words else title
            return MATTERS[matter].format(words=words)
        case Do(act=act):
            decoder = told.decoder or "the decoder of this sheet"
            return ACTS[act].format(decoder=decoder, command=told.keeping)


def _due(due: Due) -> str:
    held = f"as in step {due.step}" if due.value is None else f"= {due.value}"
    return f"CV {due.slot.cv} {held}"


def _page(slot: Slot | None) -> str:
    return str(slot.page) if slot and slot.page else ""


def _rules(sheet: Sheet) -> Iterator[Block]:
    used = set(sheet.rules)
    for rule in RULES.values():
        if rule.id in used:
            yield Paragraph((Piece(f"{rule.text} "), Piece(f"({rule.source})", Role.FAINT)), hang=2)


def to_csv(told: Told) -> str:
    """The cautions and steps as rows, in the order of the sheet.

    A row without a CV is a caution or something done by hand. CVs that are read once more at the
    end have a row each.
    """
    rows: list[Sequence[Cell]] = [("step", "address", "cv", "page", "was", "write", "in words")]
    if told.sheet.steps:
        cautions = (f"Caution: {CAUTIONS[one]}" for one in told.sheet.cautions)
        rows += [("", "", "", "", "", "", text) for text in cautions]
    for step in told.sheet.steps:
        slots = [(slot_of(step), in_words(told, step))]
        if isinstance(step, Verify):
            slots = [(due.slot, _due(due)) for due in step.due]
        for slot, words in slots:
            cv, was = slot.cv if slot else "", _was(step)
            rows.append((step.number, address_of(step), cv, _page(slot), was, written(step), words))
    return csv_text(rows)


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
    slot = slot_of(step)
    found: Data = {
        "step": step.number,
        "kind": "",
        "cv": slot.cv if slot else None,
        "page": _page(slot) or None,
        "value": None,
        "before": None,
        "reason": "",
        "why": in_words(told, step),
        "read_back": False,
        "address": None if isinstance(step, (Do, Note)) else step.address,
        "moves_to": None,
        "from_step": None,
        "sets_bits": [],
        "if_locked": False,
        "expected": None,
        "setting": None,
        "verify": [],
        "bits": [],
        "rules": list(step.rules),
    }
    match step:
        case Write():
            value = step.value if step.bit is None else (step.value or 0) << step.bit
            found |= {
                "kind": "write",
                "value": value,
                "before": step.before,
                "reason": step.reason.value,
                "read_back": step.read_back,
                "from_step": step.from_step,
                "moves_to": step.moves_to,
                "sets_bits": [] if step.value is None else list(bits_of(step.mask)),
                "if_locked": step.if_locked,
                "bits": composed_data(step.composed),
            }
        case Read():
            expected = None if step.expected is None else str(step.expected)
            found |= {"kind": "read", "reason": step.purpose.value, "expected": expected}
            found["setting"] = step.setting or None
        case Verify():
            found |= {"kind": "verify", "verify": [_due_data(one) for one in step.due]}
        case Note():
            found |= {"kind": "note", "reason": step.matter.value, "setting": step.setting}
        case Do():
            found |= {"kind": "do", "reason": step.act.value}
    return found


def _due_data(due: Due) -> Data:
    page = _page(due.slot) or None
    return {"cv": due.slot.cv, "page": page, "value": due.value, "step": due.step}


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
