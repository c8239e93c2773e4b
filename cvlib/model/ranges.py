"""Sets of firmware: the interval algebra, and the only place that compares versions.

A range is held as disjoint half-open spans between cuts of a scheme's line, in order, never
touching; so two ranges are equal exactly when they hold the same firmware. Because whole numbers
and dates have a next one, ``>3`` and ``>=4`` are the same range of numbers, and a month is the
span of its days: ``<=2019-04`` and ``<2019-05-01`` are the same range of dates.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias, cast

from cvlib.errors import problem
from cvlib.model.versions import (
    EARLIEST,
    FirmwareVersion,
    Key,
    Scheme,
    following_key,
    is_behind,
    month_version,
    parse_version,
    preceding_key,
    spell_key,
)

Span: TypeAlias = tuple[Key, Key | None]
"""From a cut, included, to a cut, excluded; no upper cut means without end."""

_CLAUSE = re.compile(r"\s*(==|>=|<=|>|<)\s*([^\s,<>=]+)\s*", re.ASCII)
_CLAUSE_LIMIT = 32


@dataclass(frozen=True, slots=True)
class FirmwareRange:
    """A set of firmware versions of one scheme, equal by what it holds."""

    scheme: Scheme
    spans: tuple[Span, ...]
    """Sorted, disjoint, not touching, none empty."""
    spelt: tuple[tuple[Key, str], ...] = ()
    """How the writer spelt the versions at the cuts; no part of equality. A month has its year and
    number for a key, so that it is never taken for its first day."""

    def __eq__(self, other: object) -> bool:
        """Whether the other range holds the same firmware."""
        if not isinstance(other, FirmwareRange):
            return NotImplemented
        return self.scheme is other.scheme and self.spans == other.spans

    def __hash__(self) -> int:
        """A hash that agrees with equality by meaning."""
        return hash((self.scheme, self.spans))

    @classmethod
    def nothing(cls, scheme: Scheme) -> FirmwareRange:
        """The range that holds no firmware."""
        return cls(scheme, ())

    @classmethod
    def union(cls, ranges: Iterable[FirmwareRange], scheme: Scheme) -> FirmwareRange:
        """All firmware of some ranges together."""
        found = list(ranges)
        for one in found:
            one._same_scheme(scheme)
        spelt = {
            key: text for one in reversed(found) for key, text in one.spelt
        }  # the first word counts
        spans = _joined(span for one in found for span in one.spans)
        return cls(scheme, spans, tuple(spelt.items()))

    @classmethod
    def everything(cls, scheme: Scheme) -> FirmwareRange:
        """The range that holds all firmware."""
        return cls(scheme, ((EARLIEST[scheme], None),))

    @classmethod
    def exactly(cls, version: FirmwareVersion) -> FirmwareRange:
        """The range that holds one version, of a month all its days."""
        return cls(version.scheme, ((version.key, version.after),), (_spelling(version),))

    @classmethod
    def parse(cls, text: str | Iterable[str], scheme: Scheme) -> FirmwareRange:
        """The range a text means: comparisons joined by commas, several texts joined as a union.

        Raises :class:`~cvlib.errors.InputError` with what would have been right.

        >>> r = FirmwareRange.parse(">=3.0, <4.1", Scheme.DOTTED)
        >>> parse_version("3.10", Scheme.DOTTED) in r, parse_version("4.1", Scheme.DOTTED) in r
        (True, False)
        """
        if isinstance(text, str):
            return cls._conjunction(text, scheme)
        return cls.union((cls._conjunction(part, scheme) for part in text), scheme)

    @classmethod
    def between(cls, start: Key, end: Key | None, like: FirmwareRange) -> FirmwareRange:
        """The span from one cut (included) to another (excluded), spelt like another range."""
        spans = ((start, end),) if end is None or start < end else ()
        return cls(like.scheme, spans, like.spelt)

    @classmethod
    def _conjunction(cls, text: str, scheme: Scheme) -> FirmwareRange:
        clauses = text.split(",")
        if len(clauses) > _CLAUSE_LIMIT:
            raise problem(f"A firmware range has more than {_CLAUSE_LIMIT} comparisons.")
        result = cls.everything(scheme)
        for clause in clauses:
            result &= cls._clause(clause, text, scheme)
        return result

    @classmethod
    def _clause(cls, clause: str, text: str, scheme: Scheme) -> FirmwareRange:
        found = _CLAUSE.fullmatch(clause)
        if not found:
            shown = text if len(text) <= 60 else text[:57] + "..."
            raise problem(
                f'"{shown}" is not a firmware range.',
                advice='Write comparisons joined by commas, such as ">=2.0, <=2.4.118" or "==37".',
            )
        version = parse_version(found[2], scheme)
        here, after = version.key, version.after
        oldest = EARLIEST[scheme]
        span: Span = {
            "==": (here, after),
            ">=": (here, None),
            ">": (after, None),
            "<": (oldest, here),
            "<=": (oldest, after),
        }[found[1]]
        spans = () if span[0] == span[1] else (span,)
        return cls(scheme, spans, (_spelling(version),))

    def __contains__(self, version: FirmwareVersion) -> bool:
        """Whether a version lies in the range, of a month all its days."""
        self._same_scheme(version.scheme)
        at = bisect_right(self.spans, version.key, key=_start) - 1
        return at >= 0 and ((end := self.spans[at][1]) is None or version.after <= end)

    def holds(self, point: Key) -> bool:
        """Whether a point of the version line lies in the range."""
        at = bisect_right(self.spans, point, key=_start) - 1
        if at < 0:
            return False
        end = self.spans[at][1]
        return end is None or point < end

    def holds_below(self, cut: Key) -> bool:
        """Whether the firmware just before a cut lies in the range."""
        at = bisect_left(self.spans, cut, key=_start) - 1
        return at >= 0 and ((end := self.spans[at][1]) is None or cut <= end)

    def lies_before(self, point: Key) -> bool:
        """Whether a whole span of the range is older than a point."""
        return bool(self.spans) and (end := self.spans[0][1]) is not None and end <= point

    def lies_after(self, point: Key) -> bool:
        """Whether a whole span of the range is newer than a point."""
        return bool(self.spans) and point < self.spans[-1][0]

    def nearest(self, point: Key) -> tuple[FirmwareRange, ...]:
        """The span that holds a point; else the last one before and the first one after it."""
        at = bisect_right(self.spans, point, key=_start)
        beside = self.spans[max(at - 1, 0) : at + 1]
        if self.holds(point):
            beside = self.spans[at - 1 : at]
        return tuple(FirmwareRange(self.scheme, (span,), self.spelt) for span in beside)

    def around(self, point: Key) -> FirmwareRange:
        """The span of the range that holds a point, or the gap around it where none does."""
        spans = self.spans if self.holds(point) else (~self).spans
        span = spans[bisect_right(spans, point, key=_start) - 1]
        return FirmwareRange(self.scheme, (span,), self.spelt)

    def __or__(self, other: FirmwareRange) -> FirmwareRange:
        """The firmware in either range."""
        self._same_scheme(other.scheme)
        return self._made(_joined((*self.spans, *other.spans)), other)

    def __and__(self, other: FirmwareRange) -> FirmwareRange:
        """The firmware in both ranges."""
        self._same_scheme(other.scheme)
        common: list[Span] = []
        at = there = 0
        while at < len(self.spans) and there < len(other.spans):
            (start, end), (other_start, other_end) = self.spans[at], other.spans[there]
            low, high = max(start, other_start), _earlier(end, other_end)
            if high is None or low < high:
                common.append((low, high))
            at, there = (at + 1, there) if high == end else (at, there + 1)
        return self._made(common, other)

    def __invert__(self) -> FirmwareRange:
        """All firmware not in the range."""
        gaps: list[Span] = []
        cursor: Key | None = EARLIEST[self.scheme]
        for start, end in self.spans:
            assert cursor is not None
            if cursor < start:
                gaps.append((cursor, start))
            cursor = end
        if cursor is not None:
            gaps.append((cursor, None))
        return self._made(gaps, self)

    def __sub__(self, other: FirmwareRange) -> FirmwareRange:
        """The firmware in this range and not in the other."""
        return self & ~other

    def is_empty(self) -> bool:
        """Whether the range holds no firmware at all."""
        return not self.spans

    def is_everything(self) -> bool:
        """Whether the range holds all firmware."""
        return self.spans == ((EARLIEST[self.scheme], None),)

    @property
    def oldest(self) -> Key:
        """The point where the range begins; the range must not be empty."""
        return self.spans[0][0]

    def begins_with(self) -> FirmwareVersion | None:
        """The version a range begins with, where people would name it.

        Not at the end of the line, and not at what only stands behind another version.
        """
        start = self.oldest
        behind = is_behind(start, self.scheme) and not self._known(start)
        if start == EARLIEST[self.scheme] or behind:
            return None
        return FirmwareVersion(self.scheme, start, self._spell(start))

    @property
    def end(self) -> Key:
        """The cut where the range ends; it must not be empty nor go on without end."""
        end = self.spans[-1][1]
        if end is None:
            raise ValueError("the range has no end")
        return end

    def cuts(self) -> tuple[Key, ...]:
        """The points where the range begins or ends, in order, without the ends of the line."""
        ends = (cut for span in self.spans for cut in span)
        return tuple(cut for cut in ends if cut is not None and cut != EARLIEST[self.scheme])

    def single(self) -> FirmwareVersion | None:
        """The version a range holds when it holds just one, else nothing."""
        return self._one(*self.spans[0]) if len(self.spans) == 1 else None

    def singles(self) -> tuple[FirmwareVersion, ...] | None:
        """The versions of a range made of single versions, else nothing.

        Whole numbers that follow each other are single; between days and dotted versions others
        may lie.
        """
        found: list[FirmwareVersion] = []
        for start, end in self.spans:
            if one := self._one(start, end):
                found.append(one)
                continue
            key = start
            while end is None or key < end:
                if end is None or self.scheme is not Scheme.NUMBER or len(found) > 64:
                    return None
                found.append(FirmwareVersion(self.scheme, key, self._spell(key)))
                key = following_key(key, self.scheme)
        return tuple(found)

    def _one(self, start: Key, end: Key | None) -> FirmwareVersion | None:
        """The one version of a span, of a whole month the month; else nothing."""
        if end == following_key(start, self.scheme):
            return FirmwareVersion(self.scheme, start, self._spell(start))
        if self.scheme is Scheme.DATE:
            year, month, *_ = cast("tuple[int, int, int, int]", start)
            whole = month_version(year, month)
            return whole if (whole.key, whole.end) == (start, end) else None
        return None

    def text(self) -> str:
        """The range in the spelling of profiles; several spans are joined with " or ".

        >>> FirmwareRange.parse(["==37", ">=3, <=5"], Scheme.NUMBER).text()
        '>=3, <=5 or ==37'
        """
        return " or ".join(self.texts()) or "no firmware"

    def texts(self) -> tuple[str, ...]:
        """Each span in the spelling of profiles, oldest first."""
        return tuple(self._span_text(start, end) for start, end in self.spans)

    def _span_text(self, start: Key, end: Key | None) -> str:
        oldest = EARLIEST[self.scheme]
        if start == oldest and end is None:
            return "every firmware"
        if one := self._one(start, end):
            return f"=={one}"
        shown = [] if start == oldest else [self._lower_text(start)]
        if end is not None:
            shown.append(self._upper_text(end))
        return ", ".join(shown)

    def _lower_text(self, start: Key) -> str:
        if text := self._known(start):
            return f">={text}"
        before = preceding_key(start, self.scheme)
        if before is not None and (text := self._known_before(start, before)):
            return f">{text}"
        if before is not None and is_behind(start, self.scheme):
            return f">{spell_key(before, self.scheme)}"
        return f">={spell_key(start, self.scheme)}"

    def _upper_text(self, end: Key) -> str:
        before = preceding_key(end, self.scheme)
        if before is not None and (text := self._known_before(end, before)):
            return f"<={text}"
        if text := self._known(end):
            return f"<{text}"
        if before is not None and (self.scheme is Scheme.NUMBER or is_behind(end, self.scheme)):
            return f"<={spell_key(before, self.scheme)}"
        return f"<{spell_key(end, self.scheme)}"

    def _known(self, key: Key) -> str:
        """How the writer spelt what begins at a point: a version, or a month; empty if not."""
        month = key[:2] if self.scheme is Scheme.DATE and key[2:] == (1, 0) else None
        by_key = dict(self.spelt)
        return by_key.get(key) or (by_key.get(month, "") if month else "")

    def _known_before(self, cut: Key, before: Key) -> str:
        """How the writer spelt what ends at a cut: the version before it, or a month."""
        by_key = dict(self.spelt)
        month = before[:2] if self.scheme is Scheme.DATE and cut[2:] == (1, 0) else None
        return by_key.get(before) or (by_key.get(month, "") if month else "")

    def _spell(self, key: Key) -> str:
        return dict(self.spelt).get(key) or spell_key(key, self.scheme)

    def _made(self, spans: Iterable[Span], other: FirmwareRange) -> FirmwareRange:
        known = dict(other.spelt) | dict(self.spelt)
        return FirmwareRange(self.scheme, tuple(spans), tuple(known.items()))

    def _same_scheme(self, scheme: Scheme) -> None:
        if scheme is not self.scheme:
            raise ValueError(f"a range of scheme {self.scheme} meets one of scheme {scheme}")


def in_order(versions: Iterable[FirmwareVersion]) -> list[FirmwareVersion]:
    """The versions, oldest first; a month before its days."""
    return sorted(versions, key=lambda version: (version.key, version.end is None))


def is_older(version: FirmwareVersion, other: FirmwareVersion) -> bool:
    """Whether a version came before another; a month came before what follows its last day."""
    return version.after <= other.key


def is_moot(version: FirmwareVersion, other: FirmwareVersion) -> bool:
    """Whether people may take the order of two versions otherwise than it is taken here.

    A letter against further parts (3.5a and 3.5.1), a month against what lies in it.
    """
    if version.scheme is not Scheme.DOTTED:
        return (version.end is None) is not (other.end is None) and not (
            is_older(version, other) or is_older(other, version)
        )
    keys = (cast("tuple[tuple[int, ...], int]", one.key)[0] for one in (version, other))
    older, newer = sorted(keys)
    at = next((n for n, (a, b) in enumerate(zip(older, newer, strict=False)) if a != b), None)
    # Numbers and letters take turns: an odd step is a letter, and what follows it further parts.
    return at is not None and at % 2 == 1 and older[at] == 0


def points_in_order(points: Iterable[Key]) -> list[Key]:
    """Points of one version line, oldest first, each once."""
    return sorted(set(points))


def _spelling(version: FirmwareVersion) -> tuple[Key, str]:
    return (version.key[:2] if version.end else version.key), version.text


class Cuts:
    """Points that cut a version line into segments, over each of which something stays the same."""

    def __init__(self, scheme: Scheme, points: Iterable[Key]) -> None:
        self.points = points_in_order((EARLIEST[scheme], *points))

    def __len__(self) -> int:
        """How many segments there are."""
        return len(self.points)

    def segment(self, point: Key) -> int:
        """The number of the segment that a point lies in."""
        return bisect_right(self.points, point) - 1

    def segment_below(self, cut: Key) -> int:
        """The number of the segment just before a cut."""
        return max(bisect_left(self.points, cut) - 1, 0)

    def span(self, first: int, last: int, like: FirmwareRange) -> FirmwareRange:
        """The firmware from one segment to another, both included, spelt like another range."""
        end = self.points[last + 1] if last + 1 < len(self.points) else None
        return FirmwareRange.between(self.points[first], end, like)


def _start(span: Span) -> Key:
    return span[0]


def _joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same points in spans that are sorted, disjoint and do not touch."""
    joined: list[Span] = []
    for start, end in sorted(spans, key=_start):
        if joined and (joined[-1][1] is None or start <= joined[-1][1]):
            joined[-1] = (joined[-1][0], _later(joined[-1][1], end))
        else:
            joined.append((start, end))
    return tuple(joined)


def _later(one: Key | None, other: Key | None) -> Key | None:
    return None if one is None or other is None else max(one, other)


def _earlier(one: Key | None, other: Key | None) -> Key | None:
    if one is None or other is None:
        return other if one is None else one
    return min(one, other)
