"""Remarks as annotations of a GitHub workflow: lines that its runner shows beside the code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cvlib.errors import visible
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.phrases import counted

MOST = 10
"""Annotations that GitHub shows of one step."""

WORDS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "notice"}

_IN_TEXT = str.maketrans({"%": "%25", "\r": "%0D", "\n": "%0A"})
_IN_PROPERTY = _IN_TEXT | str.maketrans({":": "%3A", ",": "%2C"})


def to_github(
    remarks: Sequence[Remark],
    changed: Mapping[str, Sequence[range]] | None = None,
    *,
    has_summary: bool = False,
) -> str:
    """The remarks as lines: the first ten as annotations, the others as plain lines.

    Those on changed lines go first, then the gravest. ``changed`` gives the changed lines of each
    file. With a summary of the job the others are only counted, for the summary has them all.
    """
    ordered = sorted(
        (_at_change(one, changed or {}) for one in remarks),
        key=lambda one: (not _is_changed(one, changed or {}), -_gravity(one)),
    )
    shown, rest = ordered[:MOST], ordered[MOST:]
    lines = [annotation(one) for one in shown]
    if rest:
        more = counted(len(rest), "more finding")
        told = "in the summary of the job" if has_summary else "GitHub shows ten of a step"
        lines.append(f"{more}: {told}.")
    if not has_summary:
        lines += [_plain(one) for one in sorted(rest, key=lambda one: one.order)]
    return "".join(f"{line}\n" for line in lines)


def annotation(remark: Remark) -> str:
    """One remark as the runner reads it; nothing in it can end the line or a property."""
    spot = remark.position
    file, title = _text(spot.file, _IN_PROPERTY), _text(remark.code, _IN_PROPERTY)
    where = f"file={file},line={spot.line or 1},col={spot.column or 1},title={title}"
    return f"::{WORDS[remark.severity]} {where}::{_text(remark.text)}"


def _text(text: str, table: Mapping[int, str] = _IN_TEXT) -> str:
    """Text that can end neither the line nor, by the table for it, a property."""
    return visible(text, "\r\n").translate(table)


def _plain(remark: Remark) -> str:
    """One remark on a line that the runner takes for no command of its own."""
    told = f"{remark.severity}: {remark.position}: {remark.code} {remark.text}"
    line = " ".join(told.splitlines())
    return visible(line).replace("##[", "## [")


def _at_change(remark: Remark, changed: Mapping[str, Sequence[range]]) -> Remark:
    """The remark at its end that a change touched, where only the other one did."""
    if remark.other is None or _is_changed(remark, changed):
        return remark
    turned = replace(remark, position=remark.other, other=remark.position)
    return turned if _is_changed(turned, changed) else remark


def _is_changed(remark: Remark, changed: Mapping[str, Sequence[range]]) -> bool:
    lines = changed.get(remark.position.file)
    if lines is None:
        return False
    return remark.position.line is None or any(remark.position.line in held for held in lines)


def _gravity(remark: Remark) -> int:
    return list(Severity).index(remark.severity)
