"""A new profile as a reviewer reads it: who it is, its sources, its settings, what is missing."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.known.neighbours import without_index
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.timeline import Life, timeline
from cvlib.engine.lint.risks import unmarked
from cvlib.model.answer import Standing
from cvlib.model.profile import Profile
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.places import default_text, values_text
from cvlib.render.view import Block, Column, Gap, Line, Paragraph, Piece, Role, Table, plain
from cvlib.render.views.overview import chapters
from cvlib.render.views.settings import named, short_where

MOST_ROWS = 150
"""Settings that are shown; a comment has a limit."""


def new_profile(profile: Profile) -> Iterator[Block]:
    """The whole of a profile for somebody with the handbook beside it."""
    resolver = Resolver(profile)
    yield Paragraph(plain(_identity(profile)))
    columns = tuple(map(Column, ("source", "kind", "firmware", "date", "what")))
    rows = tuple(
        (
            (Piece(one.id, Role.CODE),),
            plain(f"{one.kind.value}, {one.extent.value}" if one.is_document else one.kind.value),
            plain(firmware_words(one.firmware.text())),
            plain(one.date or "-"),
            plain(one.title or one.note or "-"),
        )
        for one in profile.sources.values()
    )
    if rows:
        yield Gap()
        yield Table(columns, rows)
    lives = [one for one in timeline(resolver, (), (), every=True).lives if not one.setting.is_area]
    told = list(_rows(profile, lives))
    more = len(told) - MOST_ROWS
    caption = f"{counted(more, 'more row')}; cvlib timeline shows all." if more > 0 else ""
    columns = tuple(map(Column, ("setting", "firmware", "place", "values", "page")))
    yield Gap()
    yield Table(columns, tuple(told[:MOST_ROWS]), caption)
    for gap in _gaps(resolver):
        yield Paragraph(plain(gap), hang=2)


def _identity(profile: Profile) -> str:
    """What the decoder answers, and which releases there are."""
    identity = profile.identity
    told = [f"manufacturer {identity.manufacturer}"] if identity.manufacturer is not None else []
    told += [
        f"{one.slot} = {one.low}" + (f"-{one.high}" if one.high != one.low else "")
        for one in identity.answers
    ]
    silent = [f"CV {cv}" for cv in identity.no_answer]
    parts = [str(part.field.slot) for part in profile.parts]
    releases = [str(one.version) for one in profile.releases]
    return (
        f"It answers {listed(told) or 'nothing that is known'}; its version stands in "
        f"{listed(parts) or 'no CV'}; no answer: {listed(silent) or 'none known'}. "
        f"Releases: {listed(releases, 8) or 'none listed'}."
    )


def _rows(profile: Profile, lives: list[Life]) -> Iterator[tuple[Line, ...]]:
    """One row for each documented place; settings that recur are told by the first of them."""
    alike: dict[str, list[Life]] = {}
    for life in lives:
        alike.setdefault(without_index(life.setting.id), []).append(life)
    for group in alike.values():
        setting = group[0].setting
        more = f" and {len(group) - 1} more" if len(group) > 1 else ""
        name = (*named(setting.title, setting.id), Piece(more))
        story = chapters(group[0])
        if not story:
            yield name, plain("assumed"), plain(short_where(setting.places[0])), (), ()
        for chapter in story:
            place, firmware = chapter.place, firmware_words(chapter.firmware.text())
            if place is None:
                yield name, plain(firmware), plain("gone"), (), ()
                continue
            own = (one for one in place.citations if one.source in profile.sources)
            pages = dict.fromkeys(map(str, own))
            default = default_text(place)
            yield (
                name,
                plain(firmware),
                (Piece(short_where(place), Role.STRONG),),
                plain(values_text(place.coding) + (f", default {default}" if default else "")),
                plain(listed(list(pages), 4) or "-"),
            )


def _gaps(resolver: Resolver) -> Iterator[str]:
    """What the profile does not know, a sentence each."""
    profile = resolver.profile
    bare = [str(one.version) for one in profile.releases if one.version not in resolver.coverage]
    if bare:
        yield f"No document speaks for {listed(bare, 8)}."
    at = profile.releases[-1].version if profile.releases else None
    answers = resolver.at(at).values() if at is not None else ()
    for standing, words in (
        (Standing.ASSUMED, "only assumed, for no document names them"),
        (Standing.DISPUTED, "disputed"),
    ):
        held = (one.setting for one in answers if one.standing is standing)
        own = (id for id in held if not profile.settings[id].is_area)
        found = list(dict.fromkeys(map(without_index, own)))
        if found:
            yield f"At {at} {counted(len(found), 'setting')} {words}: {listed(found, 6)}."
    if harm := unmarked(profile.settings.values()):
        yield f"Nobody noted what may be harmed by {listed(list(harm), 6)}."
    for question in profile.questions:
        yield f"Asked: {question.text}"
