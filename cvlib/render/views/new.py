"""A new profile: what it holds, and which ids somebody should look at."""

from __future__ import annotations

from cvlib.engine.change.made import MadeProfile, MadeSetting
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.risks import unmarked
from cvlib.model.profile import Profile
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.places import Data, default_text, values_text
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
    plain,
)
from cvlib.render.views.settings import named, short_where


def view(made: MadeProfile) -> list[Block]:
    """The head of the profile, its settings, and what to do next."""
    profile = made.profile
    said = "written to" if made.is_written else "not written:"
    role = Role.GOOD if made.is_written else Role.WARNING
    blocks: list[Block] = [
        Heading(f"{profile.maker} {profile.name}", 1),
        Paragraph(
            (
                Piece(profile.id, Role.CODE),
                Piece(", "),
                Piece(said, role),
                Piece(" "),
                Piece(made.file, Role.CODE),
            )
        ),
        Paragraph(plain(_counts(made))),
    ]
    if made.without:
        gone = listed(list(made.without))
        blocks.append(Paragraph(plain(f"Left out of the standard: {gone}."), hang=2))
    elif not made.is_complete and made.settings and len(made.profile.settings) > len(made.settings):
        words = (
            "What the standard has beyond the table is only assumed. If the handbook was read from "
            "first to last page and the table lists every CV of it, say --complete."
        )
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(words)), hang=2))
    bare = unmarked(profile.settings.values())
    if bare:
        words = (
            f"Nobody noted what {listed(list(bare), 5)} may harm: not tried on a bench nor "
            "matched until somebody does. Give the table a column risk, or say --risk."
        )
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(words)), hang=2))
    beside = [one for one in made.settings if one.beside]
    if beside:
        first = beside[0]
        named_so = listed([f"{one.id} (CV {one.where}, {one.beside})" for one in beside], 4)
        words = (
            f"These have a number of the standard and another name, so they are not that setting: "
            f"{named_so}. Where one is, say --id {first.where}={first.beside}."
        )
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(words)), hang=2))
    if made.offers:
        words = (
            f"These look like one setting repeated: {listed(list(made.offers), 6)}. "
            "Say --repeats to write each once."
        )
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(words)), hang=2))
    if made.unused:
        unused = listed([f'"{one}"' for one in made.unused])
        words = f"Columns of the table that are not used: {unused}."
        blocks.append(Paragraph((Piece("note: ", Role.NOTE), Piece(words)), hang=2))
    if made.settings:
        columns = (Column("place"), Column("setting"), Column("values, default"), Column("line"))
        rows = tuple(_row(profile, one) for one in made.settings)
        blocks += [Gap(), Heading("Settings"), Table(columns, rows), Gap(), *_ids(made)]
    return [*blocks, *_next(made)]


def data(made: MadeProfile) -> Data:
    """The new profile as data; docs/schema/output-new.schema.json describes it."""
    return {
        "profile": made.profile.id,
        "file": made.file,
        "written": made.is_written,
        "settings": [
            {"id": one.id, "line": one.line, "standard": one.is_standard} for one in made.settings
        ],
        "complete": made.is_complete,
        "without": list(made.without),
        "unused": list(made.unused),
        "text": made.text,
    }


def _counts(made: MadeProfile) -> str:
    own = counted(len(made.settings), "setting")
    profile = made.profile
    more = sum(bool(one.origin) for one in profile.settings.values())
    covers = listed([firmware_words(one.firmware.text()) for one in profile.sources.values()])
    followed = f", {more} more by the standards it follows" if more > 0 else ""
    return f"{own} of its own{followed}. Its handbook speaks for {covers}."


def _row(profile: Profile, one: MadeSetting) -> tuple[Line, ...]:
    first = next(id for id in profile.settings if id == one.id or without_index(id) == one.id)
    setting = profile.settings[first]
    place = setting.places[0]
    default = default_text(place)
    said = f"{values_text(place.coding)}{f', default {default}' if default else ''}"
    return (
        plain(short_where(place)),
        named(setting.title, one.id),
        plain(said),
        plain(str(one.line)),
    )


def _ids(made: MadeProfile) -> list[Block]:
    own = [one.id for one in made.settings if not one.is_standard]
    if not own:
        return []
    words = (
        f"Look at the ids that no standard has: {listed(own, 8)}. An id stays for the whole life "
        "of the decoder type; change it now, or give the table a column id."
    )
    return [Paragraph(plain(words))]


def _next(made: MadeProfile) -> list[Block]:
    id = made.profile.id
    folder = f" --definitions {made.folder}" if made.folder else ""
    commands = (f"settings {id}", f"timeline {id}", f"amend bench {id}")
    lines = "\n".join(f"cvlib {command}{folder}" for command in commands)
    return [Gap(), Paragraph(plain("Next:")), Literal(lines, 2)]
