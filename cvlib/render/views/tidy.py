"""What tidying came to: the files that were not tidy, then one line that counts."""

from __future__ import annotations

from collections.abc import Callable

from cvlib.engine.change.tidied import FormatChange, Tidied, TidiedFile
from cvlib.render.phrases import counted
from cvlib.render.places import Data
from cvlib.render.view import Block, Gap, Literal, Paragraph, Piece, Role, plain

_FEW = 3


def view(tidied: Tidied, typed: Callable[..., str]) -> list[Block]:
    """A line for each file that was not tidy, and how many were looked at; then what is new in
    files of format 1. ``typed`` gives a command as it is typed in the shell.
    """
    untidy = tidied.untidy
    blocks: list[Block] = []
    if untidy:
        blocks += [Literal("\n".join(one.file for one in untidy)), Gap()]
    done = "not tidy" if tidied.is_check else "tidied"
    words = f"{counted(len(untidy), 'file')} {done}" if untidy else "Every file is tidy"
    role = Role.WARNING if untidy and tidied.is_check else Role.GOOD
    total = f", {counted(len(tidied.files), 'file')} looked at."
    blocks.append(Paragraph((Piece(words, role), Piece(total))))
    changed = [one for one in untidy if one.change is not None]
    for one in changed:
        blocks += [Gap(), *_changed(one, typed, is_check=tidied.is_check)]
    if changed and not tidied.is_check:
        names = [changed[0].file] if len(changed) == 1 else []
        blocks += [Gap(), *_command("See what changed with:", typed("git", "diff", *names))]
    return blocks


def _changed(file: TidiedFile, typed: Callable[..., str], *, is_check: bool) -> list[Block]:
    """What is new in one file that was of format 1, and how its absences are kept."""
    change = file.change
    assert change is not None
    is_now = "would become" if is_check else "is now"
    blocks: list[Block] = [Paragraph(plain(f"{file.file}: format 1 {is_now} format 2."), hang=2)]
    blocks += [Paragraph(plain(line), 2, 2) for line in _counts(change)]
    if not change.absences:
        return blocks
    words = "Absent until now only because a document does not list them, and not known now:"
    blocks.append(Paragraph(plain(words), 2, 2))
    for document, names in change.absences:
        some = ", ".join(dict.fromkeys(names[:_FEW])) + (", ..." if len(names) > _FEW else "")
        blocks.append(Paragraph(plain(f"{document}: {len(names)}: {some}"), 4, 2))
    documents = (*change.whole, *(document for document, _ in change.absences))
    whole = [word for document in documents for word in ("--whole", document)]
    if is_check:
        words = "Name with --whole only what somebody has read from first to last page:"
    else:
        words = "If somebody has read them from first to last page, put the file back and say so:"
    return [*blocks, *_command(words, typed("cvlib", "tidy", file.file, *whole), 2)]


def _counts(change: FormatChange) -> list[str]:
    """One line for each thing that was done."""
    lines = []
    if change.ranges:
        lines.append(f"{counted(change.ranges, 'place')}: the documents cited give the firmware.")
    without = [counted(change.assumed, "place")] if change.assumed else []
    if change.followed:
        without.append(counted(change.followed, "followed entry", "followed entries"))
    if without:
        words = " and ".join(without)
        lines.append(f'{words} without a document: assumed, until "sources" names one.')
    if change.added:
        lines.append(
            f"{counted(change.added, 'citation')} without a page added: format 1 had the place in "
            "that firmware."
        )
    if change.kept:
        lines.append(f"{counted(change.kept, 'absence')} inside a range written down.")
    return lines


def _command(words: str, command: str, indent: int = 0) -> list[Block]:
    return [Paragraph(plain(words), indent, 2), Literal(command, indent + 2)]


def data(tidied: Tidied) -> Data:
    """The files as data; docs/schema/output-tidy.schema.json describes it."""
    return {
        "check": tidied.is_check,
        "files": [
            {"file": one.file, "was_tidy": one.was_tidy, "format_change": _change(one.change)}
            for one in tidied.files
        ],
        "faults": [str(fault) for fault in tidied.faults],
    }


def _change(change: FormatChange | None) -> Data | None:
    """What is new in a file of format 1."""
    if change is None:
        return None
    return {
        "ranges": change.ranges,
        "assumed": change.assumed,
        "followed": change.followed,
        "added_citations": change.added,
        "kept_absences": change.kept,
        "lost_absences": {document: list(names) for document, names in change.absences},
    }
