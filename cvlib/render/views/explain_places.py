"""What lives on a CV or a page, and where a setting lives, as blocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.explain.explain import Tenant
from cvlib.engine.explain.explained import CvExplained, PageExplained, SettingExplained, SettingTold
from cvlib.engine.explain.scopes import Scope, Shared
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area
from cvlib.model.cv import Slot
from cvlib.model.profile import Place
from cvlib.render.phrases import firmware_words, listed
from cvlib.render.view import (
    Block,
    Column,
    Heading,
    Line,
    Paragraph,
    Piece,
    Role,
    Table,
    faint,
    plain,
)
from cvlib.render.views.settings import SIDES, named, short_where, standing_line, values_line
from cvlib.render.views.sources import source_texts


def cv_blocks(scopes: tuple[Scope, ...], thing: CvExplained) -> Iterator[Block]:
    """What lives on a CV."""
    yield Heading(str(thing.slot), 2)
    yield from _use_lines(scopes, thing.uses)
    if thing.tenants:
        yield _tenants(scopes, thing.tenants, thing.slot)
    elif not thing.uses:
        yield Paragraph(plain("Nothing is known to live here."))
    if thing.pages:
        yield Paragraph(plain(f"Its page decides: ask for it as {thing.slot.cv}@16/2."))
        rows = ((one.said.text, one.said.title, who(scopes, one.by)) for one in thing.pages)
        columns = (Column("page"), Column("for"), Column(who_title(scopes)))
        yield Table(columns, tuple(tuple(map(plain, row)) for row in rows))
    wire = f"Direct mode sends it as number {thing.wire} (NMRA S-9.2.3, 2012-07)."
    yield Paragraph(faint(wire))


def page_use_blocks(scopes: tuple[Scope, ...], thing: PageExplained) -> Iterator[Block]:
    """What an index page is for, and the settings on it."""
    high, low = thing.page
    yield Heading(f"Index page {thing.page}", 2)
    yield Paragraph(faint(f"CV 31 = {high} and CV 32 = {low} choose it for CVs 257-512."))
    yield from _use_lines(scopes, thing.uses)
    if not thing.uses:
        yield Paragraph(plain("Nobody says what it is for."))
    if thing.tenants:
        yield _tenants(scopes, thing.tenants)


def _use_lines(scopes: tuple[Scope, ...], uses: Iterable[Shared[str]]) -> Iterator[Block]:
    """What an index page is for, a line for each that says so."""
    for use in uses:
        by = f"By {who(scopes, use.by)}: " if use.by else ""
        yield Paragraph((Piece(by), Piece(use.said, Role.STRONG)))


def setting_blocks(scopes: tuple[Scope, ...], thing: SettingExplained) -> Iterator[Block]:
    """Where a setting lives, in each scope that differs."""
    first = thing.told[0].said.setting
    yield Heading(f"{first.title} ({thing.id})", 2)
    if first.help:
        yield Paragraph(plain(first.help))
    by_scope = any(one.by for one in thing.told)
    columns = [
        *([Column(who_title(scopes))] if by_scope else []),
        Column("standing", shrinks=False),
        Column("place"),
        Column("values, default"),
        Column("sources"),
    ]
    rows = [
        ((plain(who(scopes, one.by) if number == 0 else ""), *row) if by_scope else row)
        for one in thing.told
        for number, row in enumerate(_answer_rows(one.said))
    ]
    yield Table(tuple(columns), tuple(rows))


def _answer_rows(said: SettingTold) -> Iterator[tuple[Line, ...]]:
    answer = said.answer
    for number, place in enumerate(answer.possible()):
        standing = faint("or") if number else standing_line(answer.standing)
        if place is None:
            yield standing, plain("-"), plain(_absent(answer)), plain("")
            continue
        sources = "; ".join(source_texts(said.profile, answer, place, answer.trace.firmware))
        yield standing, plain(short_where(place)), values_line(place), plain(sources)


def _absent(answer: Answer) -> str:
    side = f", known to {SIDES[answer.side]} firmware" if answer.side else ""
    return f"does not exist{side}"


def _tenants(
    scopes: tuple[Scope, ...], tenants: Iterable[Shared[Tenant]], slot: Slot | None = None
) -> Table:
    """The settings on a page; on one CV, its bits instead of the whole place."""
    found = list(tenants)
    by_scope = any(one.by for one in found)
    columns = (
        Column("bits" if slot else "place"),
        Column("setting"),
        Column("values, default"),
        *((Column(who_title(scopes)),) if by_scope else ()),
    )
    return Table(
        columns,
        tuple(
            (
                plain(_bits(one.said.place, slot)),
                named(one.said.setting.title, one.said.setting.id),
                (*values_line(one.said.place), *_rivals(one.said)),
                *((plain(who(scopes, one.by)),) if by_scope else ()),
            )
            for one in found
        ),
    )


def _bits(place: Place, slot: Slot | None) -> str:
    own = [field.slot for field in place.fields]
    return (place.fields[0].bits or "0-7") if own == [slot] else short_where(place)


def _rivals(tenant: Tenant) -> Line:
    text = doubt_text(tenant.rivals, tenant.failed)
    is_area = isinstance(tenant.place.coding, Area)
    if tenant.standing == Standing.FAULTY:
        text = "faulty: a bench test found it without effect"
    elif not is_area and tenant.standing in (Standing.BEYOND, Standing.BEFORE):
        text = str(tenant.standing)
    return (Piece("\n"), Piece(text, Role.WARNING)) if text else ()


def doubt_text(rivals: tuple[str, ...], failed: str) -> str:
    """Where else a disputed setting may live, or does not; empty where nothing is disputed."""
    if failed:
        return f"disputed: a bench test found it without effect at {failed}"
    where = [one for one in rivals if one != "nowhere"]
    may = [f"live at {listed(where, last='or')} instead"] if where else []
    if len(where) < len(rivals):
        may.append("not exist at all")
    return f"disputed: it may {' or '.join(may)}" if may else ""


def who(scopes: tuple[Scope, ...], by: tuple[str, ...]) -> str:
    """Who says so, in words; "all" where every scope does."""
    if not by:
        return "all"
    if scopes[0].firmware is None:
        return listed(by)
    return "; ".join(firmware_words(text) for text in by)


def who_title(scopes: tuple[Scope, ...]) -> str:
    """The title of the column that says who says so."""
    return "by" if scopes[0].firmware is None else "firmware"
