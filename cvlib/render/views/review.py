"""A review as blocks for a terminal: profile by profile, then the locos that are touched."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from cvlib.engine.change.review import ProfileReview
from cvlib.engine.change.reviewed import Broken, Reviewed
from cvlib.engine.known.digest import Step
from cvlib.render.phrases import counted, listed
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
    plain,
    text_of,
)
from cvlib.render.views.review_locos import locos
from cvlib.render.views.review_profile import new_profile
from cvlib.render.views.review_words import (
    Row,
    change_lines,
    firmware_text,
    item_row,
    parts_counted,
    rows_of,
    wording_row,
)

MOST_LINES = 12
"""Lines of one sort that are shown before the rest is counted."""

STEP_WORDS = {
    Step.NONE: "nothing changed",
    Step.PATCH: "no resolved answer changed",
    Step.MINOR: "there are new answers, and every old one is as it was",
    Step.MAJOR: "an answer changed or is gone",
}
"""Why a step is what it is."""


def view(result: Reviewed) -> list[Block]:
    """The review in full, for a terminal."""
    blocks: list[Block] = [*head(result)]
    for group in sections(result.review.profiles):
        blocks += [Gap(), *profile_head(group), *_changes(group[0]), *beside(group[0])]
    return [*blocks, *broken(result), *locos(result)]


def sections(profiles: Iterable[ProfileReview]) -> list[list[ProfileReview]]:
    """The profiles in order, those in which the very same changed together.

    That is so where a block or a standard changed that several of them follow.
    """
    found: dict[str, list[ProfileReview]] = {}
    for one in profiles:
        alone = one.before is None or one.after is None or one.was or one.is_recounted
        rows = [(text_of(row.name()), lines_of(row)) for row in rows_of(one.changes)]
        firmware = [change.firmware.text() for change in one.changes]
        told = repr((alone and one.id, rows, firmware, one.items, one.wording, one.step))
        found.setdefault(told, []).append(one)
    return list(found.values())


def head(result: Reviewed) -> Iterator[Block]:
    """Which states are compared, and the step from one to the other."""
    yield Heading("Review of the definitions", 1)
    yield Paragraph(
        (
            Piece(result.folder, Role.CODE),
            Piece(" at "),
            *_state(result.before.called, result.before.commit),
            Piece(" against "),
            *_state(result.after.called, result.after.commit),
        )
    )
    found = len(result.review.profiles)
    changed = counted(found, "profile") if found else "No profile"
    yield Paragraph(plain(f"{changed} changed, {result.unchanged} not."))
    yield Paragraph((Piece("Step: "), Piece(result.step.value, Role.STRONG), *_because(result)))
    if result.version:
        yield Paragraph(plain(f"Next version of the store: {result.version}, after {result.tag}."))
    for file, form in result.older.items():
        told = "no format" if form == "none" else f"format {form}"
        yield Paragraph(plain(f"{file} had {told} before; it is read as far as it fits today's."))


def _because(result: Reviewed) -> Line:
    because = f": {STEP_WORDS[result.step]}"
    doubt = " As far as the profiles can be read." if result.broken_after else ""
    return (Piece(f"{because}.{doubt}"),)


def _state(called: str, commit: str) -> Line:
    short = commit[:10]
    if not commit or commit.startswith(called):
        return (Piece(short or called, Role.CODE if short else Role.PLAIN),)
    return Piece(called, Role.CODE), Piece(f" ({short})")


def profile_head(group: Sequence[ProfileReview]) -> Iterator[Block]:
    """The name of a profile, or of several, and what happened to it as a whole."""
    one = group[0]
    held = one.after or one.before
    if held is None:
        return
    name = f"{held.maker} {held.name} ({one.id})"
    if len(group) > 1:
        name = listed([member.id for member in group])
    yield Heading(f"{name}: {one.step}", 2)
    if len(group) > 1:
        yield Paragraph(plain("In all of them the same changed."))
    if one.before is None or one.after is None:
        word = "This profile is new" if one.after else "This profile is gone"
        settings = counted(len(held.settings), "setting")
        releases = counted(len(held.releases), "release")
        yield Paragraph(plain(f"{word}: {settings}, {releases}."))
        if one.after is not None:
            yield from new_profile(one.after)
        return
    if one.was:
        was = (Piece("It was "), Piece(one.was, Role.CODE))
        yield Paragraph((*was, Piece(" before; locos must name the new id.")))
    if one.is_recounted:
        told = f"{one.before.scheme} before, {one.after.scheme} now"
        yield Paragraph(
            plain(f"Its firmware is counted otherwise ({told}), so no answer can be compared.")
        )


def _changes(one: ProfileReview) -> Iterator[Block]:
    rows = rows_of(change for change in one.changes if not change.is_area)
    if rows:
        columns = (Column("setting"), Column("firmware"), Column("change"))
        yield Table(columns, tuple(_row(row) for row in rows))
    yield from areas(one)


def areas(one: ProfileReview) -> Iterator[Block]:
    """How much changed of the CVs without a meaning of their own."""
    found = dict.fromkeys(change.setting for change in one.changes if change.is_area)
    if found:
        names = listed(list(found), 3)
        yield Paragraph(plain(f"CVs without a setting of their own changed too: {names}."))


def _row(row: Row) -> tuple[Line, ...]:
    return row.name(), plain(firmware_text(row.first)), lines_of(row)


def lines_of(row: Row) -> Line:
    """The changes of a row below each other, what is told by several named once."""
    lines = change_lines(row.first)
    return tuple(
        piece
        for at, line in enumerate(lines)
        for piece in ((Piece("\n"), Piece(line)) if at else (Piece(line),))
    )


def beside(one: ProfileReview) -> Iterator[Block]:
    """What changed beside the answers, and words."""
    if one.items:
        yield Gap()
        yield Paragraph((Piece(f"Beside the answers: {parts_counted(one.items)}.", Role.STRONG),))
        yield _short((Column("what"), Column("change")), [item_row(item) for item in one.items])
    if one.wording:
        yield Gap()
        yield Paragraph((Piece(f"Words alone: {len(one.wording)}.", Role.STRONG),))
        columns = (Column("words of"), Column("before"), Column("after"))
        yield _short(columns, [wording_row(held) for held in one.wording])


def _short(columns: tuple[Column, ...], rows: Sequence[tuple[Line, ...]]) -> Table:
    """A table of the first rows; the rest is counted below it."""
    shown = rows if len(rows) <= MOST_LINES else rows[: MOST_LINES - 1]
    more = len(rows) - len(shown)
    return Table(columns, tuple(shown), f"and {more} more" if more else "")


def broken(result: Reviewed) -> Iterator[Block]:
    """The profiles that could not be compared."""
    for held, when in ((result.broken_before, "before"), (result.broken_after, "now")):
        for one in held:
            yield Gap()
            yield from _broken(one, when)


def _broken(one: Broken, when: str) -> Iterator[Block]:
    verb = "could not be read before" if when == "before" else "cannot be read now"
    count = counted(len(one.faults), "fault")
    yield Paragraph(
        (Piece(one.id, Role.CODE), Piece(f" {verb} ({count}), so it is not compared. The first:"))
    )
    yield Paragraph(plain(str(one.faults[0])), indent=2, hang=2)
