"""The settings of a firmware as blocks: group by group, in CV order, with their standing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from cvlib.engine.known.line import Known
from cvlib.engine.known.listing import Entry, Listing
from cvlib.engine.known.told import where_text
from cvlib.model.answer import Answer, Side, Standing
from cvlib.model.coding import Area
from cvlib.model.cv import bit_words, spans_text
from cvlib.model.profile import Place
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.places import (
    default_text,
    marks_text,
    open_text,
    values_text,
    when_text,
)
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
from cvlib.render.views.why import why_words

LIES = {
    Known.COVERED: "A document or the maker speaks for it",
    Known.GAP: "It lies between the documents there are",
    Known.BEFORE: "It is older than all documents there are",
    Known.BEYOND: "It is newer than all documents there are",
}
"""How a firmware lies to the documents of its profile."""

SIDES = {
    Side.OLDER: "older",
    Side.NEWER: "newer",
    Side.BOTH: "older and newer",
    Side.NEITHER: "no covered",
}
"""Which firmware has a setting that is absent."""

STANDING_ROLES = {
    Standing.DISPUTED: Role.WARNING,
    Standing.FAULTY: Role.ERROR,
    Standing.BENCH: Role.GOOD,
    Standing.BEYOND: Role.WARNING,
    Standing.BEFORE: Role.WARNING,
    Standing.ASSUMED: Role.FAINT,
}


def view(listing: Listing, *, why: bool = False, absent: bool = False) -> list[Block]:
    """The settings of one firmware: a table for each group, then areas, then those absent."""
    blocks = list(_head(listing))
    own = [entry for entry in listing.present if not is_area(entry)]
    groups: dict[str, list[Entry]] = {}
    for entry in own:
        groups.setdefault(entry.setting.group, []).append(entry)
    for name, entries in groups.items():
        blocks += [Gap(), Heading(name, 2)]
        blocks += [_table(entries)]
        if why:
            blocks += _why(listing, entries)
    areas = [entry for entry in listing.present if is_area(entry)]
    if areas:
        blocks += [Gap(), Heading("CVs without a setting of their own", 2), *_areas(areas)]
    if absent:
        blocks += [Gap(), *_absent(listing, why=why)]
    blocks += [Gap(), *_closing(listing, why=why, absent=absent)]
    return blocks


def is_area(entry: Entry) -> bool:
    """Whether an entry is an area without meaning of its own."""
    places = entry.answer.places() or entry.setting.places
    return all(isinstance(place.coding, Area) for place in places)


def standing_line(standing: Standing) -> Line:
    """A standing in its word, set off where it calls for care."""
    return (Piece(standing.value, STANDING_ROLES.get(standing, Role.PLAIN)),)


def named(title: str, id: str) -> Line:
    """A setting by title and id."""
    return (Piece(title), Piece("\n"), Piece(id, Role.CODE))


def releases_text(listing: Listing) -> str:
    """The label and date of the firmware where it is a known release; else empty."""
    release = listing.profile.release_of(listing.version)
    return ", ".join(filter(None, (release.label, release.date))) if release else ""


def _head(listing: Listing) -> Iterator[Block]:
    profile = listing.profile
    yield Heading(f"{profile.maker} {profile.name}: settings at {listing.version}", 1)
    release = releases_text(listing)
    said = f"{LIES[listing.known]}." + (f" Release: {release}." if release else "")
    if not listing.stated:
        said = f"No firmware was given; all firmware of this profile has the same settings. {said}"
    yield Paragraph((Piece(profile.id, Role.CODE), Piece(f", firmware {listing.version}. {said}")))
    own = [entry for entry in listing.present if not is_area(entry)]
    counts = Counter(entry.answer.standing.value for entry in own)
    each = listed([f"{number} {standing}" for standing, number in counts.most_common()])
    if own:
        yield Paragraph(plain(f"{counted(len(own), 'setting')}: {each}."))


def _table(entries: list[Entry]) -> Table:
    columns = (
        Column("place"),
        Column("setting"),
        Column("values, default"),
        Column("standing", shrinks=False),
    )
    return Table(columns, tuple(row for entry in entries for row in _rows(entry)))


def _rows(entry: Entry) -> Iterator[tuple[Line, ...]]:
    """One row, or one for each candidate where the place is disputed."""
    answer = entry.answer
    for number, place in enumerate(answer.possible()):
        name = faint("or") if number else named(entry.setting.title, entry.setting.id)
        standing = plain("") if number else _standing(answer)
        if answer.is_unplaced:
            yield plain("?"), name, plain("its place is not known here"), standing
        elif place is None:
            yield plain("-"), name, plain("does not exist"), standing
        else:
            yield plain(short_where(place)), name, values_line(place, answer), standing


def _standing(answer: Answer) -> Line:
    """The standing, with what a bench test adds to it."""
    line = standing_line(answer.standing)
    works, locos = answer.tried_on
    more = ["unreliable"] if answer.is_unreliable else []
    more += [f"works on {works} of {locos} locos"] if locos > 1 else []
    more += [f"{short_where(one.tried[0])} had no effect" for one in answer.failures()]
    return (*line, *(part for said in more for part in (Piece("\n"), Piece(said, Role.FAINT))))


def short_where(place: Place) -> str:
    """A place for a narrow column: ``CV 29 bit 5``, ``CVs 67-94``, ``built in``."""
    if not place.fields:
        return "built in"
    first = place.fields[0]
    page = f" page {first.slot.page}" if first.slot.page else ""
    if len(place.fields) > 1:
        return where_text(place)
    bits = ""
    if first.bits is not None:
        bits = f" bit{'s' if first.mask.bit_count() > 1 else ''} {first.bits}"
    return f"CV {first.slot.cv}{page}{bits}"


def values_line(place: Place, answer: Answer | None = None) -> Line:
    """The values of a place, its default and what else is true of it, each on a line."""
    default = default_text(place)
    unknown = open_text(answer) if answer is not None else ""
    more = (
        *(f"default {default}" if default else "", unknown),
        *(marks_text(place), when_text(place.when)),
    )
    rest = (part for said in more if said for part in (Piece("\n"), Piece(said, Role.FAINT)))
    return (Piece(values_text(place.coding)), *rest)


def _why(listing: Listing, entries: Iterable[Entry]) -> Iterator[Block]:
    for entry in entries:
        said = why_words(listing.profile, entry.answer)
        yield Paragraph(
            (Piece(f"why {entry.setting.id}: ", Role.CODE), Piece(said, Role.FAINT)), hang=2
        )


def _areas(entries: Iterable[Entry]) -> Iterator[Block]:
    """What each use has, as spans of CVs; parts of a CV one by one."""
    found: dict[str, list[str]] = {}
    for entry in entries:
        for place in entry.answer.places():
            use = place.coding.use if isinstance(place.coding, Area) else ""
            found.setdefault(use, []).append(_area_text(place))
    for use, texts in found.items():
        yield Paragraph((Piece(f"{use}: ", Role.STRONG), Piece(", ".join(texts))), hang=2)


def _area_text(place: Place) -> str:
    cvs = spans_text(tuple(field.slot.cv for field in place.fields))
    first = place.fields[0]
    page = f" page {first.slot.page}" if first.slot.page else ""
    if first.bits is None:
        return f"CV{'s' if len(place.fields) > 1 else ''} {cvs}{page}"
    return f"CV {cvs}{page} {bit_words(first.mask)}"


def _absent(listing: Listing, *, why: bool) -> Iterator[Block]:
    yield Heading("Not in this firmware", 2)
    own = [entry for entry in listing.absent if not is_area(entry)]
    if not own:
        yield Paragraph(plain("Every setting asked for exists in this firmware."))
        return
    columns = (Column("setting"), Column("known to", shrinks=False), Column("where"))
    rows = []
    for entry in own:
        side = SIDES[entry.answer.side or Side.NEITHER]
        rows.append(
            (
                named(entry.setting.title, entry.setting.id),
                plain(f"{side} firmware"),
                plain("; ".join(_elsewhere(place) for place in entry.setting.places)),
            )
        )
    yield Table(columns, tuple(rows))
    if why:
        yield from _why(listing, own)


def _elsewhere(place: Place) -> str:
    return f"{short_where(place)} in {firmware_words(place.firmware.text())}"


def _closing(listing: Listing, *, why: bool, absent: bool) -> Iterator[Block]:
    if not listing.present:
        missing = "" if absent or not listing.absent else " at this firmware"
        yield Paragraph(plain(f"No setting fits what was asked{missing}."))
    ways = []
    gone = sum(not is_area(entry) for entry in listing.absent)
    if gone and not absent:
        which = "is 1 more" if gone == 1 else f"are {gone} more"
        ways.append(f"there {which} that this firmware does not have; --absent lists them")
    if listing.present and not why:
        ways.append("--why shows sources")
    if ways:
        yield Paragraph(faint(f"More: {'; '.join(ways)}."), hang=2)
