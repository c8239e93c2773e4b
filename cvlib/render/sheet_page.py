"""A write sheet to print: large figures, room for a pencil, and each caution before its line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.carry.cautions import names_of, risk_cautions
from cvlib.engine.carry.write_sheet import Caution, Read, Step, Track, Verify, Write
from cvlib.model.cv import Slot
from cvlib.render.html import Child, Element, framed, tag
from cvlib.render.marks import BLANK, BOX
from cvlib.render.to_html import HEAVIER, elements, line_children, printed
from cvlib.render.view import Block, Piece, plain
from cvlib.render.views import sheet


def sheet_page(head: Iterable[Block], told: sheet.Told, label: str, *, why: bool = False) -> str:
    """The sheet as a page of its own; ``label`` stands above the columns of each printed page."""
    return printed(label, tag("main", sheet_elements(head, told, label, why=why)))


def sheet_elements(
    head: Iterable[Block], told: sheet.Told, label: str, *, why: bool = False
) -> Iterator[Child]:
    """The parts of such a page."""
    yield elements(head)
    if not told.sheet.steps:
        yield elements(sheet.view(told))
        return
    later = {one for step in told.sheet.steps for one in _cautions(told, step)}
    general = [one for one in told.sheet.cautions if one not in later]
    yield elements(sheet.opening(told, general))
    yield framed("Write sheet", _table(told, label))
    yield elements(sheet.ending(told, why=why))


def _cautions(told: sheet.Told, step: Step) -> Iterator[Caution]:
    """What to beware of at one line, of what the sheet has to say at all."""
    if not isinstance(step, Write):
        return
    found = {one for name in names_of(step) for one in risk_cautions(told.risk_of(name))}
    if step.slot == Slot(1):
        found.add(Caution.SHORT_ADDRESS)
    yield from (one for one in told.sheet.cautions if one in found)


def _table(told: sheet.Told, label: str) -> Element:
    is_main, answers = told.sheet.setup.track is Track.MAIN, told.sheet.setup.answers
    names = ["step", *(["address"] if is_main else []), "CV", "was", "write", "written"]
    names += [*(["read back"] if answers else []), "in words"]
    wide = len(names)
    head = tag(
        "thead",
        tag("tr", tag("th", label, colspan=wide, scope="colgroup", class_="label")),
        tag("tr", [tag("th", name, scope="col") for name in names]),
    )
    rows: list[Element] = []
    said: set[Caution] = set()
    in_block = False
    for number, step in enumerate(told.sheet.steps, 1):
        for caution in _cautions(told, step):
            if caution not in said:
                said.add(caution)
                rows.append(_across(sheet.caution_line(caution), wide, "warned"))
        is_factory = _is_factory(step)
        if is_factory and not in_block:
            text = plain("Factory values of new settings: nothing of yours is in them.")
            rows.append(_across(text, wide, "block"))
        in_block = is_factory
        cells = list(_cells(told, step, is_main=is_main, answers=answers))
        rows.append(tag("tr", cells, class_=None if number % HEAVIER else "heavier"))
    return tag("table", head, tag("tbody", rows, class_="ticked"))


def _across(line: tuple[Piece, ...], wide: int, kind: str) -> Element:
    return tag("tr", tag("td", line_children(line), colspan=wide), class_=kind)


def _is_factory(step: Step) -> bool:
    if not isinstance(step, Write) or step.composed is None:
        return False
    return step.slot.page is None and step.composed.is_factory


def _cells(told: sheet.Told, step: Step, *, is_main: bool, answers: bool) -> Iterator[Element]:
    slot = sheet.slot_of(step)
    page = f" page {slot.page}" if slot and slot.page else ""
    before = step.before if isinstance(step, Write) else None
    reads = isinstance(step, (Read, Verify)) or (isinstance(step, Write) and step.read_back)
    yield tag("td", str(step.number), class_="number")
    if is_main:
        yield tag("td", sheet.address_of(step), class_="number")
    yield tag("td", tag("b", str(slot.cv)), page, class_="cv") if slot else tag("td")
    known = _blank() if before is None and isinstance(step, Write) else before
    yield tag("td", str(known) if isinstance(known, int) else known, class_="number")
    yield tag("td", sheet.written(step), class_="number value")
    yield tag("td", _blank() if isinstance(step, Write) else line_children(plain(BOX)))
    if answers:
        yield tag("td", _blank() if reads else None)
    yield tag("td", sheet.in_words(told, step))


def _blank() -> Child:
    return line_children(plain(BLANK))
