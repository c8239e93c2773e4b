"""A review as a page: each setting's track before and after, with the page that speaks for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cvlib.engine.change.review import ProfileReview, SettingChange
from cvlib.engine.change.reviewed import Reviewed
from cvlib.render.html import Child, Element, grid, tag
from cvlib.render.site.tracks import LEGEND, before_and_after, hatch
from cvlib.render.to_html import elements, line_children, printed
from cvlib.render.views.review import areas, beside, broken, head, lines_of, profile_head, sections
from cvlib.render.views.review_comment import lines_of_rows, overview_table, slices
from cvlib.render.views.review_locos import locos_table
from cvlib.render.views.review_words import Row, firmware_text, rows_of
from cvlib.render.views.sources import cited
from cvlib.render.views.why import citation_text

MOST_DRAWN = 60
"""Settings that are drawn; the table has all of them."""


def review_page(result: Reviewed) -> str:
    """The whole page; it needs no script and nothing beside it."""
    blocks = [*head(result)]
    if result.review.profiles:
        blocks.append(overview_table(result))
    parts = [part for group in sections(result.review.profiles) for part in _profile(group)]
    last = elements([*broken(result), *locos_table(result)])
    body = (hatch(), tag("main", elements(blocks), parts, last))
    return printed("Review of the definitions", body)


def _profile(group: Sequence[ProfileReview]) -> Iterator[Child]:
    one = group[0]
    yield elements(profile_head(group))
    rows = rows_of(change for change in one.changes if not change.is_area)
    if rows:
        lines = lines_of_rows(rows)
        yield tag("p", LEGEND)
        yield before_and_after(f"Tracks in {one.id}", lines[:MOST_DRAWN], slices(lines))
        yield _table(one, rows)
    yield elements(areas(one))
    yield elements(beside(one))


def _table(one: ProfileReview, rows: Sequence[Row]) -> Element:
    names = ("setting", "firmware", "change", "source, page")
    made = [
        tag(
            "tr",
            [
                tag("th", line_children(row.name()), scope="row"),
                tag("td", firmware_text(row.first)),
                tag("td", line_children(lines_of(row))),
                tag("td", "; ".join(_sources(one, row.first))),
            ],
        )
        for row in rows
    ]
    return grid(f"Changes in {one.id}", names, made)


def _sources(one: ProfileReview, change: SettingChange) -> list[str]:
    """What the answer rests on now, else what it rested on."""
    for profile, answer in ((one.after, change.after), (one.before, change.before)):
        if profile is None or answer is None:
            continue
        held = [
            citation_text(profile, citation)
            for place in answer.places()
            for citation in cited(profile, answer, place, change.firmware)
        ]
        held += [] if held else [citation_text(profile, c) for c in answer.trace.citations]
        if held:
            return list(dict.fromkeys(held))
    return []
