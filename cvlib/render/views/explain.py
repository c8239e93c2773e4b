"""Explanations as blocks: values a bit at a time, CVs, pages, settings and finding codes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.account.claims import Basis
from cvlib.engine.explain.explain import Meaning
from cvlib.engine.explain.explained import (
    CodeExplained,
    CvExplained,
    Explanation,
    PageExplained,
    SettingExplained,
    SettingsFound,
    Thing,
    ValueExplained,
)
from cvlib.engine.explain.scopes import Scope, Shared
from cvlib.model.answer import Standing
from cvlib.model.cv import WHOLE, bits_text
from cvlib.render.pages import page_blocks
from cvlib.render.phrases import listed
from cvlib.render.places import values_text, when_text
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
from cvlib.render.views.explain_places import (
    cv_blocks,
    doubt_text,
    page_use_blocks,
    setting_blocks,
    who,
    who_title,
)

USES = {
    "manufacturer": "what it means is up to the maker",
    "user": "free for the owner of the loco",
    "indexed": "CV 31 and CV 32 choose the page, and the page decides: give both as well, or the "
    "page as in 257@16/2",
    "susi": "belongs to a sound or function module",
}
"""What the areas of the standards that are not reserved are for."""

RESET = (
    "Written into the decoder 8 is a command, not a value: in programming mode it sets every CV to "
    "its factory value (RCN-226 (2014-09-12), section 2.1)."
)
RESET_CAUTION = (
    "Caution: after that the decoder answers at its factory address, and outputs and stopping are "
    "as they left the factory. First read every CV and keep the list, and have this decoder alone "
    "on the programming track. Some makers reset by another CV or value, or only a part: the "
    "maker's handbook goes before this."
)


def view(explanation: Explanation) -> list[Block]:
    """Everything that was asked, one after another."""
    blocks: list[Block] = []
    if not all(isinstance(thing, CodeExplained) for thing in explanation.things):
        blocks += _head(explanation.scopes)
    for thing in explanation.things:
        blocks += [Gap()] if blocks else []
        blocks += _thing(explanation.scopes, thing)
    if explanation.sums:
        blocks += [Gap(), *_sums(explanation)]
    return [*blocks, *_closing(explanation)]


def _head(scopes: tuple[Scope, ...]) -> Iterator[Block]:
    first = scopes[0]
    if first.firmware is not None:
        said = f"{first.name}, at every firmware: none was given, so each that differs is shown."
    elif len(scopes) > 1:
        said = f"By {listed([scope.name for scope in scopes])}."
    else:
        is_standard = first.resolver.profile.kind == "standard"
        said = f"By {first.name}." if is_standard else f"{first.name}, firmware {first.version}."
    yield Paragraph(faint(said))


def _thing(scopes: tuple[Scope, ...], thing: Thing) -> Iterator[Block]:
    match thing:
        case ValueExplained():
            yield from _value(scopes, thing)
        case CvExplained():
            yield from cv_blocks(scopes, thing)
        case PageExplained():
            yield from page_use_blocks(scopes, thing)
        case SettingExplained():
            yield from setting_blocks(scopes, thing)
        case SettingsFound(words, settings):
            yield Heading(f'Settings that fit "{words}"', 2)
            rows = tuple((plain(one.title), (Piece(one.id, Role.CODE),)) for one in settings)
            yield Table((Column("setting"), Column("id")), rows)
            yield Paragraph(faint(f'More: "cvlib explain {settings[0].id}" tells of one.'))
        case CodeExplained(page=page):
            yield from page_blocks(page)


def _value(scopes: tuple[Scope, ...], thing: ValueExplained) -> Iterator[Block]:
    yield Heading(f"{thing.slot} = {thing.value}", 2)
    yield Paragraph(faint(f"binary {thing.value >> 4:04b} {thing.value & 15:04b}, bits 7 to 0"))
    by_bits = any(one.said.mask != WHOLE for one in thing.meanings)
    by_scope = any(one.by for one in thing.meanings)
    columns = [
        *([Column("bits"), Column("hold", numeric=True)] if by_bits else []),
        Column("setting"),
        Column("meaning"),
        *([Column(who_title(scopes))] if by_scope else []),
    ]
    rows = []
    for one in thing.meanings:
        said = one.said
        rows.append(
            (
                *((plain(said.bits or "0-7"), plain(str(said.raw))) if by_bits else ()),
                _title(said),
                meaning_line(said),
                *((plain(who(scopes, one.by)),) if by_scope else ()),
            )
        )
    yield Table(tuple(columns), tuple(rows))
    yield from _help(thing.meanings)
    if thing.resets:
        yield Paragraph(plain(RESET))
        yield Paragraph((Piece(RESET_CAUTION, Role.WARNING),))


def _title(said: Meaning) -> Line:
    return plain(said.title or "no setting")


def _help(meanings: Iterable[Shared[Meaning]]) -> Iterator[Block]:
    """The help of a setting that has the whole CV; of many small ones it would be too much."""
    helps = {one.said.help: None for one in meanings if one.said.help}
    if len(helps) == 1:
        yield Paragraph(faint(next(iter(helps))))


def meaning_line(said: Meaning) -> Line:
    """What some bits mean, with what is wrong or missing."""
    if said.basis is Basis.NONE:
        return faint("nothing is known of it" if not said.title else "on this page")
    pieces = [*_use(said)] if said.use else [Piece(said.value or _missing(said))]
    if said.fault and said.place:
        legal = values_text(said.place.coding)
        pieces.append(Piece(f", not allowed here; allowed are {legal}", Role.ERROR))
    if said.stray:
        bits = bits_text(said.stray)
        words = f"bits {bits} mean" if said.stray.bit_count() > 1 else f"bit {bits} means"
        pieces.append(Piece(f", {words} nothing", Role.WARNING))
    if said.when:
        pieces.append(Piece(f", {when_text(said.when)}", Role.WARNING))
    doubt = doubt_text(said.rivals, said.failed)
    if doubt:
        pieces.append(Piece(f", {doubt}", Role.WARNING))
    elif said.standing not in ("", Standing.DOCUMENTED, Standing.DISPUTED):
        pieces.append(Piece(f", {said.standing}", Role.FAINT))
    return tuple(pieces)


def _use(said: Meaning) -> Line:
    if said.use == "reserved":
        return (Piece("reserved, but set", Role.WARNING) if said.raw else Piece("reserved, clear"),)
    return plain(USES.get(said.use, said.use))


def _missing(said: Meaning) -> str:
    return f"needs {listed(said.needs)} too" if said.needs else "not decided"


def _sums(explanation: Explanation) -> Iterator[Block]:
    yield Heading("Together", 2)
    for one in explanation.sums:
        at = "by" if explanation.scopes[0].firmware is None else "in"
        by = f" {at} {who(explanation.scopes, one.by)}" if one.by else ""
        yield Paragraph(
            (
                Piece(f"{one.said.title}{by}: "),
                Piece(one.said.value, Role.STRONG),
                Piece(f" ({one.said.source})", Role.FAINT),
            ),
            hang=2,
        )


def _closing(explanation: Explanation) -> Iterator[Block]:
    is_standard = all(s.resolver.profile.kind == "standard" for s in explanation.scopes)
    kinds = (ValueExplained, CvExplained, SettingExplained)
    if is_standard and any(isinstance(thing, kinds) for thing in explanation.things):
        yield Gap()
        yield Paragraph(
            faint(
                "A decoder may differ: give it with --profile. For accessory decoders use "
                "--profile standard/rcn-225-accessory or standard/nmra-s-9.2.2-accessory."
            )
        )
