"""An empty card of a decoder: every setting of a firmware with a line to write its value on."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.known.listing import Entry, Listing
from cvlib.model.answer import Standing
from cvlib.model.assignment import Topic
from cvlib.model.coding import Choice, Fields, Flags
from cvlib.model.profile import Place
from cvlib.render.marks import BLANK
from cvlib.render.places import default_text, values_text
from cvlib.render.view import Block, Column, Gap, Heading, Line, Paragraph, Table, plain
from cvlib.render.views.card import TITLES
from cvlib.render.views.settings import is_area, short_where

WIDEST_VALUES = 40
"""Characters of the values a setting allows; a longer list that comes again is told once."""


def view(listing: Listing) -> list[Block]:
    """The settings of a firmware in the order of a card, each with a line to write on."""
    profile = listing.profile
    blocks: list[Block] = [
        Heading(f"{profile.maker} {profile.name}, firmware {listing.version}", 1),
        Paragraph(plain(f"Loco {BLANK * 5}  address {BLANK}  read on {BLANK * 3}")),
    ]
    held = [one for one in listing.present if not is_area(one)]
    named: tuple[tuple[Topic | None, str], ...] = (*TITLES.items(), (None, "The rest"))
    for topic, title in named:
        found = [one for one in held if one.setting.topic is topic]
        if found:
            said: dict[str, str] = {}
            rows = tuple(row for one in found for row in _rows(one, said))
            columns = (
                Column("CV", shrinks=False),
                Column("setting"),
                Column("values"),
                Column("factory"),
                Column("value", shrinks=False),
            )
            blocks += [Gap(), Heading(title, 2), Table(columns, rows)]
    return blocks


def _rows(entry: Entry, said: dict[str, str]) -> Iterator[tuple[Line, ...]]:
    """One row, or one for each place where the setting may live.

    ``said`` has the long lists of values that stand above, each with its CV.
    """
    doubt = "" if entry.answer.standing is Standing.DOCUMENTED else f" [{entry.answer.standing}]"
    for place in entry.answer.places():
        if isinstance(place.coding, Fields):
            continue
        values, where = _values(place), short_where(place)
        above = said.setdefault(values, where) if len(values) > WIDEST_VALUES else where
        yield (
            plain(where),
            plain(f"{entry.setting.title}{doubt}"),
            plain(values if above == where else f"as {above}"),
            plain(_factory(place)),
            plain(BLANK if place.can_be_set else "read only"),
        )


def _values(place: Place) -> str:
    """The values with their numbers, as they are written into the decoder."""
    coding = place.coding
    if not isinstance(coding, Flags):
        return values_text(coding)
    bits = ((1 << bit + _shift(place), name) for bit, name in coding.flags)
    return f"sum of {', '.join(f'{number} = {name}' for number, name in bits)}"


def _factory(place: Place) -> str:
    """What a factory reset leaves: the number, and the name of a choice."""
    text = default_text(place)
    if not isinstance(place.coding, (Choice, Flags)) or place.cases or place.default is None:
        return text
    shift = _shift(place) if isinstance(place.coding, Flags) else 0
    number = str(place.coding.join(place.default) << shift)
    return text if text == number else f"{number} ({text})"


def _shift(place: Place) -> int:
    """How far the bits of a flag lie above those of its CV."""
    return place.fields[0].shift if len(place.fields) == 1 else 0
