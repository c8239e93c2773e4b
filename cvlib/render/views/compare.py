"""Locos side by side as blocks: what differs, what cannot be set, and their speed curves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from cvlib.engine.account.cells import Cell, State, cell_of
from cvlib.engine.carry.convert import Obstacle
from cvlib.engine.carry.write_sheet import Sheet
from cvlib.engine.compare.compare import Apart, Compared, Row
from cvlib.engine.compare.curves import Times
from cvlib.engine.compare.match import Matched, Missing
from cvlib.engine.compare.motion import FULL
from cvlib.model.answer import Standing
from cvlib.model.units import plain as figure_text
from cvlib.model.units import with_unit
from cvlib.render.phrases import counted, listed
from cvlib.render.places import default_text
from cvlib.render.plot import BOTH, LETTERS, curves_text
from cvlib.render.short_values import Said, short_value
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)
from cvlib.render.views import sheet
from cvlib.render.views.settings import named, short_where

_STATES = {
    State.UNSAVED: "not saved",
    State.DISPUTED: "disputed place",
    State.UNDECIDED: "depends on what is not saved",
    State.ABSENT: "does not have it",
}
_WHY = {
    Missing.ABSENT: "it has no such setting",
    Missing.NOT_KNOWN: "its place is not known",
    Missing.NOT_ALLOWED: "the value is not a legal one",
    Missing.NO_EFFECT: "a test found that its CV has no effect, here or in the other",
    Missing.HARM: "a wrong value may do harm: set it by hand",
    Obstacle.KIND: "the value is of another kind",
    Obstacle.UNIT: "the units do not turn into one another",
    Obstacle.REFERENCE: "it is measured against something else",
    Obstacle.FORMULA: "only one side follows the formula of the standards",
    Obstacle.NAME: "the named value does not exist",
    Obstacle.LENGTH: "the curve has another number of values",
    Obstacle.RANGE: "the value does not fit",
}


def view(result: Compared, *, everything: bool = False) -> list[Block]:
    """What differs first, then the curves; with ``everything`` also what is alike."""
    blocks: list[Block] = [Heading("Locos side by side", 1), *_members(result)]
    differing = [row for row in result.rows if row.differs]
    alike = [row for row in result.rows if row.differs is False]
    open_ = [row for row in result.rows if row.differs is None]
    disputed = [row for row in open_ if any(cell.state is State.DISPUTED for cell in row.cells)]
    unknown = [row for row in open_ if row not in disputed]
    blocks += [Gap(), Heading("What differs")]
    if differing:
        blocks.append(_table(result, differing))
    else:
        blocks.append(Paragraph(plain("Nothing of what is saved in more than one of them.")))
    for rows, said in (
        (disputed, "Nobody knows, for their place is disputed"),
        (alike, "Alike"),
        (unknown, "Known of one of them only"),
    ):
        if rows and everything:
            blocks += [Gap(), Heading(said), _table(result, rows)]
        elif rows:
            names = listed([row.title for row in rows], 6)
            blocks += [Gap(), Paragraph(faint(f"{said}: {names}. --all shows the values."))]
    return [*blocks, *_times(result), *_curves(result)]


def _members(result: Compared) -> Iterator[Block]:
    for letter, member in zip(LETTERS, result.members, strict=False):
        profile = member.layout.resolver.profile
        said = f"{member.name}, {profile.maker} {profile.name} {member.layout.version}"
        yield Paragraph((Piece(f"{letter}  ", Role.STRONG), Piece(said)), hang=3)


def _table(result: Compared, rows: Iterable[Row]) -> Table:
    letters = LETTERS[: len(result.members)]
    held = list(rows)
    has_cannot = any(cell.cannot for row in held for cell in row.cells)
    columns = [Column("setting"), *(Column(letter) for letter in letters)]
    columns += [Column("apart from A"), *([Column("cannot be set")] if has_cannot else [])]
    made: list[tuple[Line, ...]] = []
    for row in held:
        cells = [named(row.title, row.setting), *(plain(_value(cell)) for cell in row.cells)]
        cells.append(plain(_apart(row)))
        if has_cannot:
            cells.append(plain(_cannot(row)))
        made.append(tuple(cells))
    return Table(tuple(columns), tuple(made))


def _value(cell: Cell) -> str:
    if cell.state is State.SAVED and cell.place is not None and cell.parts is not None:
        text = short_value(cell.place, cell.parts)
        if cell.standing is Standing.FAULTY:
            text += " (no effect in a test)"
        return text if cell.is_legal else f"{text} (not allowed)"
    words = _STATES[cell.state]
    if cell.place is None or cell.state is not State.UNSAVED:
        return words
    default = default_text(cell.place, cell.parts)
    return f"{words} (factory value {default})" if default else words


def _apart(row: Row) -> str:
    said = [
        f"{letter} {_signed(amount, row.unit)}"
        for letter, amount in zip(LETTERS[1:], row.apart[1:], strict=False)
        if amount is not None
    ]
    return ", ".join(said)


def _signed(amount: Decimal, unit: str) -> str:
    sign = "+" if amount > 0 else ""
    return f"{sign}{with_unit(amount, unit)}"


def _cannot(row: Row) -> str:
    """The values that another loco cannot hold as they are."""
    return "; ".join(
        f"{letter}'s value in {listed([LETTERS[other] for other in cell.cannot])}"
        for letter, cell in zip(LETTERS, row.cells, strict=False)
        if cell.cannot
    )


def _times(result: Compared) -> Iterator[Block]:
    if not any(_has_time(held) for held in result.times):
        return
    yield Gap()
    yield Heading("From a stand to full speed and back")
    rows = []
    for letter, held in zip(LETTERS, result.times, strict=False):
        cells = [f"{letter}", _seconds(held.speeding_up), _seconds(held.slowing_down)]
        rows.append(tuple(map(plain, cells)))
    titles = ("speeding up", "slowing down")
    columns = (Column(""), *(Column(title, numeric=True) for title in titles))
    caption = "By the formula of the standards for CVs 3, 4, 23 and 24, whatever the step count."
    yield Table(columns, tuple(rows), caption)


def _has_time(held: Times) -> bool:
    return held.speeding_up is not None or held.slowing_down is not None


def _seconds(held: Decimal | None) -> str:
    return "not known" if held is None else f"{figure_text(round(held, 2))} s"


def _curves(result: Compared) -> Iterator[Block]:
    yield Gap()
    yield Heading("Speed curves")
    known = [held for held in result.curves if held is not None]
    for letter, held in zip(LETTERS, result.curves, strict=False):
        said = "cannot be told from what is saved" if held is None else held.form.value
        yield Paragraph((Piece(f"{letter}  ", Role.STRONG), Piece(said)), hang=3)
    if not known:
        return
    yield Gap()
    yield Literal(curves_text([None if held is None else held.forward for held in result.curves]))
    yield Gap()
    yield Paragraph(
        faint(f"Forward, drive in per cent of the full voltage; {BOTH} where they meet."), hang=2
    )
    for letter, forward, back in list(zip(LETTERS, result.forward, result.reverse, strict=False))[
        1:
    ]:
        if forward is not None:
            yield Paragraph(plain(f"{letter} against A, forward: {deviation(forward)}."), hang=2)
        if back is not None and back != forward:
            yield Paragraph(plain(f"{letter} against A, reverse: {deviation(back)}."), hang=2)


def deviation(held: Apart) -> str:
    """The largest deviation in words."""
    if not held.drive:
        return "no deviation"
    share = held.drive * 100 / FULL
    way = "faster" if held.drive > 0 else "slower"
    return (
        f"at most {_levels(abs(held.drive))} of 255 ({float(abs(share)):.1f} %) {way}, "
        f"at step {held.step}"
    )


def _levels(drive: Fraction) -> str:
    return figure_text(round(Decimal(drive.numerator) / Decimal(drive.denominator), 1))


def match_heading(matched: Matched) -> Heading:
    """What the values proposed are for."""
    model, member = matched.result.members
    return Heading(f"{member.name}: values to run as {model.name}", 1)


def match_view(matched: Matched, plan: Sheet, *, why: bool = False) -> list[Block]:
    """The values proposed, what cannot be matched, and the sheet to write them by."""
    blocks: list[Block] = [match_heading(matched)]
    if matched.proposals:
        number = counted(len(matched.proposals), "value")
        blocks += [Paragraph(plain(f"{number} proposed.")), Gap(), _proposals(matched)]
    elif not matched.unmatched:
        blocks.append(Paragraph(plain("Nothing to change: it runs as alike as it can.")))
    else:
        number = counted(len(matched.unmatched), "setting")
        blocks.append(Paragraph(plain(f"No value proposed; {number} cannot be matched from here.")))
    if matched.unmatched:
        blocks += [Gap(), Heading("What cannot be matched"), _unmatched(matched)]
    blocks += list(_shapes(matched))
    return [*blocks, Gap(), *sheet.view(told_of(matched, plan), why=why)]


def told_of(matched: Matched, plan: Sheet) -> sheet.Told:
    """The sheet with what it needs to be put into words."""
    layout = matched.result.members[1].layout
    profile = layout.resolver.profile
    decoder = f"{profile.maker} {profile.name} {layout.version}"
    return sheet.Told(plan, said_of(matched), decoder=decoder, settings=profile.settings)


def said_of(matched: Matched) -> dict[str, Said]:
    """What each setting is called and the value proposed, for the write sheet."""
    return {
        held.setting: Said.of(_title(matched, held.setting), held.new.place, held.new.parts)
        for held in matched.proposals
    }


def _title(matched: Matched, name: str) -> str:
    for member in reversed(matched.result.members):
        found = member.layout.resolver.profile.settings.get(name)
        if found is not None:
            return found.title
    return name


def _proposals(matched: Matched) -> Table:
    columns = (Column("setting"), Column("now"), Column("proposed"), Column("the other"))
    rows = []
    for held in matched.proposals:
        new = short_value(held.new.place, held.new.parts)
        if held.wanted is not None and held.got is not None:
            new += " (nearest)"
        name = named(_title(matched, held.setting), held.setting)
        place = short_where(held.new.place)
        model = matched.result.members[0].layout
        like = _value(cell_of(model, held.setting)) if held.like else "shape of its curve"
        rows.append((name, plain(_value(held.now)), plain(f"{place}: {new}"), plain(like)))
    return Table(columns, tuple(rows))


def _unmatched(matched: Matched) -> Table:
    columns = (Column("setting"), Column("the other"), Column("why not"))
    rows = []
    for held in matched.unmatched:
        name = named(_title(matched, held.setting), held.setting)
        rows.append((name, plain(held.like), plain(_WHY[held.why])))
    return Table(columns, tuple(rows))


def _shapes(matched: Matched) -> Iterator[Block]:
    yield Gap()
    yield Heading("Speed curves with these values")
    if matched.after is None:
        yield Paragraph(plain("One of the curves cannot be told from what is saved."))
        return
    if matched.before is not None:
        yield Paragraph(plain(f"Now: {deviation(matched.before)}."))
    yield Paragraph(plain(f"Then: {deviation(matched.after)}."))
    curves = [None if held is None else held.forward for held in matched.result.curves]
    yield Gap()
    yield Literal(curves_text(curves))
    yield Gap()
    yield Paragraph(faint("A is the other loco, B this one with the values proposed."))
