"""A reading that was kept: whose it is, and what it has otherwise than the one before."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from cvlib.engine.account.readings import Kept, ReadingChanges, SettingChange
from cvlib.model.loco import Reading, State
from cvlib.render.phrases import FEW, counted, listed, run_text
from cvlib.render.places import Data, slot_data
from cvlib.render.view import Block, Column, Gap, Heading, Paragraph, Piece, Role, Table, plain

MOST = 12
"""Changes that are told one by one before the rest is counted."""

_STATES = {
    State.RESET: "reset to the factory values since the update",
    State.NOT_RESET: "not reset since the update",
    State.NEVER_UPDATED: "never updated",
}


def view(kept: Kept, typed: Callable[..., str], *, everything: bool = False) -> list[Block]:
    """What was kept of which day and firmware, then what changed, told in settings.

    ``typed`` gives a command as it is typed in the shell.
    """
    role = f", {kept.decoder.role} decoder" if kept.decoder.role else ""
    blocks: list[Block] = [
        Heading(f"{kept.loco.name}{role}", 1),
        Paragraph(
            (Piece(kept.file, Role.CODE), Piece(f" {_verb(kept)} {_reading(kept.reading)}."))
        ),
    ]
    blocks += [Paragraph(plain(words)) for words in _remarks(kept)]
    if kept.changes is not None:
        blocks += [Gap(), *changed(kept.changes, everything=everything)]
    command = typed("cvlib", "check" if kept.decoder.profile else "identify", kept.file)
    return [*blocks, Gap(), Paragraph((Piece("Next: "), Piece(command, Role.CODE)))]


def _verb(kept: Kept) -> str:
    if kept.is_held:
        return "holds already"
    return "is new and holds" if kept.is_new else "holds one more reading:"


def _reading(reading: Reading) -> str:
    said = [f"{counted(len(reading.values), 'CV')} {reading.how or 'noted'}"]
    said += [reading.date] if reading.date else ["day not known"]
    said.append(f"firmware {reading.firmware}" if reading.firmware else "firmware not known")
    said += [f"saved for {reading.saved_for}"] if reading.saved_for else []
    said += [_STATES[reading.state]] if reading.state else []
    return ", ".join(said)


def _remarks(kept: Kept) -> Iterator[str]:
    """What was taken for granted, and how to say otherwise."""
    reading = kept.reading
    if kept.firmware_from == "answered":
        yield "The firmware is what the version CVs among the values name."
    if kept.firmware_from == "noted":
        yield "The firmware is the one that the file names; say --firmware where it was another."
    if kept.is_open:
        yield (
            "Values may be older than the firmware, and would mean something else then. --state "
            "says what became of them at the last update, --saved-for what they were saved for."
        )
    if kept.is_open_before:
        yield (
            "Values noted before the update may be older than the firmware of then, and would mean "
            'something else. "cvlib check" names them; --saved-for says what they were saved for.'
        )
    if kept.decoder.readings[-1] != reading and not kept.is_held:
        yield "There is a later reading already, which goes before this one."


def changed(found: ReadingChanges, *, everything: bool = False) -> list[Block]:
    """The changes since the reading before, a row for each setting, worst told first."""
    blocks: list[Block] = [
        Paragraph((Piece(f"{_headline(found, len(found.changes))}.", Role.STRONG),))
    ]
    shown = found.changes if everything else found.changes[:MOST]
    if shown:
        columns = (Column("setting"), Column("was"), Column("now"), Column("CV"))
        blocks.append(Table(columns, tuple(_row(one) for one in shown)))
    if rest := len(found.changes) - len(shown):
        blocks.append(Paragraph(plain(f"{rest} more with --all.")))
    if left_over := _left_over(found):
        blocks.append(Paragraph((Piece(left_over, Role.WARNING),)))
    return blocks


def changed_words(found: ReadingChanges) -> str:
    """The same in one sentence or two; what a decoder says of itself is not told."""
    told = [
        f"{one.now.title if one.now else one.numbers[0].slot}: "
        f"{one.was or one.numbers[0].was} → {one.now.value if one.now else one.numbers[0].now}"
        for one in found.set_by_people()
    ]
    said = f"{_headline(found, len(told))}{f': {listed(told, FEW)}' if told else ''}."
    return f"{said} {_left_over(found)}".strip()


def _left_over(found: ReadingChanges) -> str:
    sure, open_ = (run_text([s.cv for s in slots]) for slots in (found.left_over, found.disputed))
    said = []
    if found.left_over:
        said.append(f"Left over: {sure} kept the number and would do something else now.")
    if found.disputed:
        verb = "does" if len(found.disputed) == 1 else "do"
        said.append(f"Nobody knows whether {open_} {verb} what the same number did before.")
    return " ".join(said)


def _headline(found: ReadingChanges, count: int) -> str:
    before = " of ".join(filter(None, ("the reading", found.before.date)))
    firmware = f" (firmware {found.before.firmware})" if found.is_update else ""
    if not count:
        return f"No setting changed since {before}{firmware}"
    who = "the update itself, or somebody since, changed" if found.is_by_itself else "there changed"
    return f"Since {before}{firmware} {who} {counted(count, 'setting')}"


def _row(change: SettingChange) -> tuple[tuple[Piece, ...], ...]:
    cvs = run_text([one.slot.cv for one in change.numbers])
    numbers = change.numbers[0]
    raw = f"{cvs}: {numbers.was} → {numbers.now}" if len(change.numbers) == 1 else cvs
    if change.now is None:
        return plain("no setting"), plain(str(numbers.was)), plain(str(numbers.now)), plain(raw)
    factory = " (factory)" if change.is_factory else ""
    now = change.now.value or "not whole"
    return (
        plain(change.now.title),
        plain(change.was or "-"),
        plain(f"{now}{factory}"),
        plain(raw),
    )


def data(kept: Kept) -> Data:
    """The same as data; docs/schema/output-keep.schema.json describes it."""
    reading = kept.reading
    return {
        "file": kept.file,
        "loco": kept.loco.name,
        "role": kept.decoder.role,
        "profile": kept.decoder.profile,
        "new_file": kept.is_new,
        "held_already": kept.is_held,
        "firmware_from": kept.firmware_from,
        "reading": {
            "date": reading.date,
            "how": reading.how,
            "firmware": reading.firmware,
            "saved_for": reading.saved_for,
            "state": reading.state.value,
            "cvs": len(reading.values),
        },
        "may_be_older": kept.is_open or kept.is_open_before,
        "changes": None if kept.changes is None else changes_data(kept.changes),
    }


def changes_data(found: ReadingChanges) -> Data:
    """What changed since the reading before as data."""
    return {
        "since": {"date": found.before.date, "firmware": found.before.firmware},
        "by_itself": found.is_by_itself,
        "same": found.same,
        "new": found.new,
        "left_over": [slot_data(slot) for slot in found.left_over],
        "disputed": [slot_data(slot) for slot in found.disputed],
        "settings": [
            {
                "setting": one.now.setting if one.now else "",
                "title": one.now.title if one.now else "",
                "was": one.was,
                "now": one.now.value if one.now else "",
                "factory": one.is_factory,
                "cvs": [slot_data(n.slot) | {"was": n.was, "now": n.now} for n in one.numbers],
            }
            for one in found.changes
        ],
    }
