"""Two firmwares or profiles side by side: what one has that the other has not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.known.line import Change, Difference
from cvlib.engine.known.listing import Compared, Listing
from cvlib.model.answer import Answer
from cvlib.model.coding import Area
from cvlib.model.cv import spans_text
from cvlib.model.profile import Place, Profile, Setting
from cvlib.render.phrases import counted, listed
from cvlib.render.places import Data, default_text, slot_data, values_text
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
from cvlib.render.views.settings import named, short_where, standing_line
from cvlib.render.views.settings_data import answer_data, side_data

TITLES = {
    Change.ADDED: "Only in {after}",
    Change.REMOVED: "Only in {before}",
    Change.MOVED: "Moved to another place",
    Change.RECODED: "Same place, coded differently",
    Change.DEFAULT: "Only the default differs",
    Change.STANDING: "Not as well known in both",
}
"""What each kind of difference is called, in the order in which they are told."""

COUNTED = {
    Change.ADDED: "added",
    Change.REMOVED: "removed",
    Change.MOVED: "moved",
    Change.RECODED: "recoded",
    Change.DEFAULT: "in the default alone",
    Change.STANDING: "in standing alone",
}


def view(compared: Compared) -> list[Block]:
    """A table for each kind of difference, then the CVs concerned."""
    before, after = compared.before, compared.after
    names = _names(before, after)
    blocks: list[Block] = [
        Heading(f"{names['after']} against {names['before']}", 1),
        Paragraph(_ids(before, after)),
    ]
    own = [one for one in compared.differences if not _is_area(one)]
    for change, title in TITLES.items():
        found = [one for one in own if one.change is change]
        if found:
            heading = f"{title.format(**names)} ({len(found)})"
            blocks += [Gap(), Heading(heading, 2), *_told(compared, change, found)]
    blocks += [Gap(), Paragraph(_in_all(own))]
    if compared.slots:
        blocks.append(Paragraph(plain(f"CVs that mean something else: {slots_text(compared)}.")))
    return blocks


def data(compared: Compared) -> Data:
    """The differences as data; docs/schema/output-settings.schema.json describes them."""
    return {
        "before": side_data(compared.before),
        "after": side_data(compared.after),
        "differences": [_difference(compared, one) for one in compared.differences],
        "cvs": [slot_data(slot) for slot in compared.slots],
    }


def slots_text(compared: Compared) -> str:
    """The CVs that differ, spans joined, page by page."""
    pages = list(dict.fromkeys(slot.page for slot in compared.slots))
    texts = []
    for page in pages:
        cvs = spans_text(tuple(slot.cv for slot in compared.slots if slot.page == page))
        texts.append(f"{cvs} on page {page}" if page else cvs)
    return "; ".join(texts)


def _names(before: Listing, after: Listing) -> dict[str, str]:
    """How the two sides are called: by firmware, or by name where the profiles differ."""
    if before.profile.id == after.profile.id:
        return {"before": str(before.version), "after": str(after.version)}
    return {
        "before": f"{before.profile.maker} {_short(before)} {before.version}",
        "after": f"{after.profile.maker} {_short(after)} {after.version}",
    }


def _short(side: Listing) -> str:
    return side.profile.name.partition(",")[0]


def _ids(before: Listing, after: Listing) -> Line:
    sides = [Piece(f"{side.profile.id}@{side.version}", Role.CODE) for side in (after, before)]
    return sides[0], Piece(" against "), sides[1]


def _told(compared: Compared, change: Change, found: Iterable[Difference]) -> Iterator[Block]:
    if change in (Change.ADDED, Change.REMOVED):
        columns = (Column("place"), Column("setting"), Column("values"))
        yield Table(columns, tuple(_one_sided(compared, one) for one in found))
        return
    names = _names(compared.before, compared.after)
    columns = (Column("setting"), Column(names["before"]), Column(names["after"]))
    side = {Change.DEFAULT: _default, Change.STANDING: _standing}.get(change, _place)
    rows = tuple(
        (
            named(_setting(compared, one).title, one.setting),
            side(one.before),
            side(one.after),
        )
        for one in found
    )
    yield Table(columns, rows)


def _one_sided(compared: Compared, one: Difference) -> tuple[Line, ...]:
    answer = one.after if one.change is Change.ADDED else one.before
    places = answer.places() if answer else ()
    doubt = " (disputed)" if answer and answer.candidates else ""
    return (
        plain(listed([short_where(place) for place in places], last="or") + doubt),
        named(_setting(compared, one).title, one.setting),
        plain(" or ".join(values_text(place.coding) for place in places)),
    )


def _place(answer: Answer | None) -> Line:
    place = answer.place if answer else None
    if place is None:
        return plain("-")
    return (Piece(short_where(place)), Piece("\n"), *faint(values_text(place.coding)))


def _default(answer: Answer | None) -> Line:
    place = answer.place if answer else None
    return plain((default_text(place) if place else "") or "-")


def _standing(answer: Answer | None) -> Line:
    if answer is None:
        return plain("-")
    where = [short_where(place) if place else "absent" for place in _candidates(answer)]
    return (*standing_line(answer.standing), Piece(f": {listed(where, last='or')}"))


def _candidates(answer: Answer) -> tuple[Place | None, ...]:
    return answer.candidates or (answer.place,)


def _in_all(own: list[Difference]) -> Line:
    if not own:
        return plain("No setting differs.")
    counts = {change: sum(one.change is change for one in own) for change in Change}
    each = [f"{number} {COUNTED[change]}" for change, number in counts.items() if number]
    return plain(f"{counted(len(own), 'setting')} differ: {listed(each)}.")


def _setting(compared: Compared, one: Difference) -> Setting:
    profiles: tuple[Profile, ...] = (compared.after.profile, compared.before.profile)
    return next(p.settings[one.setting] for p in profiles if one.setting in p.settings)


def _is_area(one: Difference) -> bool:
    places = [place for answer in (one.before, one.after) if answer for place in answer.places()]
    return all(isinstance(place.coding, Area) for place in places)


def _difference(compared: Compared, one: Difference) -> Data:
    before, after = compared.before.profile, compared.after.profile
    return {
        "id": one.setting,
        "title": _setting(compared, one).title,
        "change": one.change.value,
        "before": answer_data(before, one.before) if one.before else None,
        "after": answer_data(after, one.after) if one.after else None,
    }
