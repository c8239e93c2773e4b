"""Places that look like a table filled in without looking: nothing but zeros."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from cvlib.engine.known.told import where_text
from cvlib.engine.lint.finding import LintFinding, LintRule, Subject, at_place, each_once
from cvlib.engine.lint.written import places_of
from cvlib.findings.catalogue import Severity
from cvlib.model.coding import Number
from cvlib.model.coding_many import Curve
from cvlib.model.cv import WHOLE
from cvlib.model.profile import Place, Setting

ROW = 3
"""From this many CVs or defaults on a row of zeros counts as filled in without looking."""

_EMPTY = re.compile(
    r"(?:cv|value|setting|parameter|entry|byte|data|reserved|unused|unknown|spare|free|empty|"
    r"not|used|none|n/a|tbd|todo|[\W\d_])*",
    re.I,
)


def zero_blocks(subject: Subject) -> Iterator[LintFinding]:
    """Curves, ranges, lists of defaults and rows of nameless CVs that hold only zeros."""
    yield from _zero_places(subject)
    yield from _zero_lists(subject.data)
    yield from _zero_rows(subject)


def _zero_places(subject: Subject) -> Iterator[LintFinding]:
    for setting, place in each_once(subject.written):
        where = f'"{setting.id}" at {where_text(place)}'
        if _is_stuck(place):
            yield LintFinding(
                at_place(setting, place, "range"),
                f"{where} has a range in which only 0 is allowed.",
                "Give the range of the source, or make the place an area that is reserved.",
            )
        elif isinstance(place.coding, Curve) and place.default and not any(place.default):
            yield LintFinding(
                at_place(setting, place, "default"),
                f"{where} is a curve of which every default is 0.",
                "Give the values of the source, or leave the default out.",
            )


def _is_stuck(place: Place) -> bool:
    """Whether a place that can be set allows nothing but 0."""
    coding, marks = place.coding, place.marks
    if marks.read_only or marks.internal or marks.reserved or marks.unused:
        return False
    if isinstance(coding, Number):
        return coding.low == coding.high == 0 and not coding.names
    return isinstance(coding, Curve) and coding.low == coding.high == 0


def _zero_lists(data: Mapping[str, Any]) -> Iterator[LintFinding]:
    """Lists of a default for each index in which every one is 0."""
    for setting in data.get("setting", ()):
        kind = setting.get("common", {}).get("kind")
        for spot, place in places_of(setting):
            held = place.get("defaults", ())
            is_number = place.get("kind", kind) == "number"
            zeros = all(type(one) is int and one == 0 for one in held)
            if is_number and len(held) >= ROW and zeros:
                yield LintFinding(
                    replace(spot, key=("defaults",)),
                    f'"{setting["id"]}" lists {len(held)} defaults, and every one is 0.',
                    "Give the values of the source; where each is really 0, write default = 0.",
                )


def _zero_rows(subject: Subject) -> Iterator[LintFinding]:
    """Three or more neighbouring CVs without a name of their own whose default is 0."""
    blank = [
        (place.fields[0].slot.order, setting, place)
        for setting in subject.written
        for place in setting.places
        if _is_blank(setting, place)
    ]
    row: list[tuple[Setting, Place]] = []
    last = None
    for order, setting, place in sorted(blank, key=lambda one: one[0]):
        if last is not None and order == last:
            continue
        if last is not None and order != (last[0] + 1, last[1]):
            yield from _row_finding(row)
            row = []
        row.append((setting, place))
        last = order
    yield from _row_finding(row)


def _row_finding(row: list[tuple[Setting, Place]]) -> Iterator[LintFinding]:
    if len(row) < ROW:
        return
    (setting, first), (_, last) = row[0], row[-1]
    yield LintFinding(
        at_place(setting, first),
        f'"{setting.id}" and its neighbours, {where_text(first)} to {where_text(last)}, have the '
        "default 0 and no name that says what they do.",
        "Take them out, or say with one place of kind area that they are reserved.",
    )


def _is_blank(setting: Setting, place: Place) -> bool:
    """Whether a place is a bare number by default 0, of a setting that says nothing."""
    coding = place.coding
    return (
        isinstance(coding, Number)
        and [field.mask for field in place.fields] == [WHOLE]
        and place.default == (0,)
        and not (coding.unit or coding.names or setting.help or place.note or place.marks.reserved)
        and _EMPTY.fullmatch(setting.title) is not None
    )


RULES = (
    LintRule(
        "zero-block",
        Severity.WARNING,
        "A whole block holds nothing but zeros, as if it had been filled in without looking.",
        zero_blocks,
    ),
)
