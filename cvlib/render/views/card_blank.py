"""An empty card of a decoder: every setting of a firmware with a line to write its value on."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.known.listing import Entry, Listing
from cvlib.model.answer import Standing
from cvlib.model.assignment import Topic
from cvlib.model.coding import Fields
from cvlib.render.marks import BLANK
from cvlib.render.places import default_text, values_text
from cvlib.render.view import Block, Column, Gap, Heading, Line, Paragraph, Table, plain
from cvlib.render.views.card import TITLES
from cvlib.render.views.settings import is_area, short_where

WIDEST_VALUES = 40
"""Characters of the values a setting allows; a longer list is left to ``cvlib settings``."""


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
            rows = tuple(row for one in found for row in _rows(one))
            columns = (
                Column("CV", shrinks=False),
                Column("setting"),
                Column("values"),
                Column("factory"),
                Column("value", shrinks=False),
            )
            blocks += [Gap(), Heading(title, 2), Table(columns, rows)]
    return blocks


def _rows(entry: Entry) -> Iterator[tuple[Line, ...]]:
    """One row, or one for each place where the setting may live."""
    doubt = "" if entry.answer.standing is Standing.DOCUMENTED else f" [{entry.answer.standing}]"
    for place in entry.answer.places():
        if isinstance(place.coding, Fields):
            continue
        values = values_text(place.coding)
        yield (
            plain(short_where(place)),
            plain(f"{entry.setting.title}{doubt}"),
            plain(values if len(values) <= WIDEST_VALUES else ""),
            plain(default_text(place)),
            plain(BLANK if place.can_be_set else "read only"),
        )
