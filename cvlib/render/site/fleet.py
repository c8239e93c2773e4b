"""The locos of a fleet as pages: what to do first, what to write, and the evidence behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from cvlib.engine.account.decide import Decided, Ground
from cvlib.engine.bench.outcome import DecoderChecked, FleetChecked, LocoChecked
from cvlib.engine.carry.carry_loco import DecoderCarried
from cvlib.engine.explain.card import DecoderCard, LocoCard
from cvlib.findings.catalogue import Severity
from cvlib.model.cv import Slot, bits_text
from cvlib.render.html import Child, Element, grid, tag
from cvlib.render.phrases import counted
from cvlib.render.sheet_page import sheet_elements
from cvlib.render.site.facts import anchor
from cvlib.render.site.shell import shell
from cvlib.render.to_html import elements
from cvlib.render.view import Block, Heading, Paragraph, plain
from cvlib.render.views import card, carry, check

CONFIGURATION = Slot(29)


class FleetRow(NamedTuple):
    """One decoder of a loco in the overview of a fleet."""

    page: str
    loco: str
    decoder: str
    profile: str
    firmware: str
    counts: tuple[int, ...]
    """Errors, warnings and notes; none where the firmware is not known."""
    writes: int | None
    """How many CVs the write sheet writes; nothing: no sheet can be made."""


def fleet_rows(
    page: str, loco: LocoChecked, sheets: Sequence[DecoderCarried | str]
) -> list[FleetRow]:
    """The rows of one loco; ``sheets`` has one for each decoder, or why there is none."""
    rows = []
    for held, sheet in zip(loco.decoders, sheets, strict=True):
        role = f" ({held.decoder.role})" if held.decoder.role else ""
        known = held.checked is not None
        counts = tuple(held.count(one) for one in check.SEVERITIES) if known else ()
        writes = None if isinstance(sheet, str) else len(sheet.sheet.writes)
        name = f"{held.profile.maker} {held.profile.name}"
        row = (f"{loco.loco.name}{role}", name, held.profile.id, _firmware(held), counts, writes)
        rows.append(FleetRow(page, *row))
    return rows


def _firmware(held: DecoderChecked) -> str:
    if held.checked is None:
        return "not known"
    is_any = isinstance(held.outcome, Decided) and held.outcome.ground is Ground.ALIKE
    return "any" if is_any else str(held.checked.firmware)


def loco_page(
    loco: LocoChecked,
    sheets: Sequence[DecoderCarried | str],
    values: LocoCard,
    typed: Callable[..., str],
) -> str:
    """The page of one loco: what to do, what to write, what all its values do, and why.

    ``typed`` gives a command as it is typed in the shell.
    """
    result = FleetChecked((loco,))
    blocks = check.view(result, typed)
    parts: list[Child] = [elements(blocks[:1]), _contents(loco, sheets), elements(blocks[1:])]
    for at, (held, sheet) in enumerate(zip(loco.decoders, sheets, strict=True)):
        parts.append(tag("section", _sheet(held, sheet), id=f"write-{at}"))
    whole = check.view(result, typed, everything=True, why=True)
    evidence = tag(
        "details",
        tag("summary", "Every finding, with the evidence behind it"),
        elements(_lower(whole)),
    )
    told = card.view(values, typed, everything=True, page=True)
    what = [Heading("What all values do", 1), *told[1:]]
    bits = [bits_of_29(one) for one in values.decoders]
    return shell(loco.loco.name, parts, elements(_lower(what)), bits, evidence, up=1)


def bits_of_29(held: DecoderCard) -> list[Element]:
    """CV 29 as eight boxes, each bit with what it does; nothing where it is not saved."""
    found = [one for one in held.values if one.slots == (CONFIGURATION,)]
    if not found:
        return []
    byte = sum(one.raw[0] << ((one.mask & -one.mask).bit_length() - 1) for one in found)
    boxes = [
        tag(
            "g",
            tag("rect", x=4 + 38 * at, y=18, width=34, height=30, class_="plate"),
            tag("text", str(byte >> bit & 1), x=21 + 38 * at, y=38, class_="label"),
            tag("text", f"bit {bit}", x=21 + 38 * at, y=12, class_="label"),
        )
        for at, bit in enumerate(range(7, -1, -1))
    ]
    picture = tag(
        "svg",
        boxes,
        viewBox="0 0 310 52",
        role="img",
        style="max-width:310px",
        aria_label=f"CV 29 = {byte}, bit by bit; the table beneath says what they do",
    )
    rows = [
        tag(
            "tr",
            tag("th", bits_text(one.mask), scope="row"),
            tag("td", card.title_of(one)),
            tag("td", card.value_of(one)),
        )
        for one in found
    ]
    return [
        tag("h3", f"CV 29 = {byte}, bit by bit"),
        tag("div", picture, class_="track"),
        grid("CV 29", ("bit", "setting", "value"), rows),
    ]


def _lower(blocks: Iterable[Block]) -> list[Block]:
    return [
        block._replace(level=block.level + 1) if isinstance(block, Heading) else block
        for block in blocks
    ]


def _contents(loco: LocoChecked, sheets: Sequence[DecoderCarried | str]) -> Element:
    """What the page answers, as links."""
    items: list[Element] = []
    for at, (held, sheet) in enumerate(zip(loco.decoders, sheets, strict=True)):
        role = f" ({held.decoder.role})" if held.decoder.role else ""
        writes = "" if isinstance(sheet, str) else f": {counted(len(sheet.sheet.writes), 'line')}"
        items.append(tag("li", tag("a", f"What to write{role}{writes}", href=f"#write-{at}")))
        place = f"../decoder/{held.profile.id}.html"
        if held.checked is not None:
            place += f"#at={held.checked.firmware}"
        items.append(tag("li", tag("a", f"What is known of this decoder{role}", href=place)))
    return tag("nav", tag("ul", items), aria_label="On this page")


def _sheet(held: DecoderChecked, sheet: DecoderCarried | str) -> Child:
    if isinstance(sheet, str):
        role = f", {held.decoder.role}" if held.decoder.role else ""
        return elements([Heading(f"Write sheet{role}"), Paragraph(plain(f"None: {sheet}"))])
    role = f", {sheet.decoder.role}" if sheet.decoder.role else ""
    head = [Heading(f"Write sheet{role}, {sheet.carried.goal.version}")]
    return list(sheet_elements(head, carry.told(sheet), carry.label_of(sheet)))


def fleet_page(rows: Sequence[FleetRow], faults: Iterable[str]) -> str:
    """The overview of a fleet; with the script it sorts and filters."""
    title = "The locos of this fleet"
    heads = ("loco", "decoder", "firmware", *(f"{one.value}s" for one in check.SEVERITIES))
    table = grid(title, (*heads, "to write"), [_row(row) for row in rows], class_="sortable")
    wrong = [tag("li", fault) for fault in faults]
    return shell(
        title,
        tag("h1", title),
        tag(
            "div",
            tag("label", "Show only", for_="filter"),
            tag("input", id="filter", type="search", autocomplete="off"),
            class_="fields",
            hidden="hidden",
        ),
        tag("p", id="filtered", role="status"),
        table,
        (tag("h2", "Files that cannot be used"), tag("ul", wrong)) if wrong else None,
        up=1,
        script=True,
    )


def _row(row: FleetRow) -> Element:
    counts = row.counts or ("?",) * len(Severity)
    writes = "?" if row.writes is None else row.writes
    return tag(
        "tr",
        tag("th", tag("a", row.loco, href=row.page), scope="row"),
        tag("td", tag("a", row.decoder, href=f"../decoder/{row.profile}.html")),
        tag("td", row.firmware),
        [tag("td", str(one), class_="number") for one in (*counts, writes)],
    )


def page_names(names: Iterable[str]) -> list[str]:
    """A file name for each loco, no two alike."""
    found: list[str] = []
    for name in names:
        plain_name = anchor(name).strip(".-").lower() or "loco"
        again = plain_name
        number = 1
        while f"{again}.html" in (*found, "index.html"):
            number += 1
            again = f"{plain_name}-{number}"
        found.append(f"{again}.html")
    return found
