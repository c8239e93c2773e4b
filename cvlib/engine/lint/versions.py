"""Firmware versions as files spell them: misspelt, unknown, out of order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from itertools import pairwise

from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject
from cvlib.engine.lint.written import Bound, WrittenRelease, bounds_of, releases_of, version_of
from cvlib.findings.catalogue import Severity
from cvlib.model.ranges import in_order, is_older
from cvlib.model.versions import FirmwareVersion, Scheme

_ZEROS = re.compile(r"\b0+(?=[0-9])", re.ASCII)
_EXISTING = ("==", "<=", ">")
"""Comparisons with a firmware that there is; ``>=4.0`` and ``<4.0`` may name a border."""
_MOST_PARTS = 8
_ALIKE = 0.8
"""How much alike two spellings are that may be mistaken for each other; 1 is the same."""


def misspelt_versions(subject: Subject) -> Iterator[LintFinding]:
    """Versions that are not spelt as the list of releases does, or as versions usually are."""
    releases = releases_of(subject)
    listed = {one.version: one.text for one in releases}
    depth = _depth(listed)
    for release in releases:
        right = _usual(release.version, _MOST_PARTS)
        if release.text != right:
            yield _misspelt(release.spot, release.text, right, "versions usually are")
    seen: set[tuple[str, str, str]] = set()
    for bound in bounds_of(subject):
        right = _right(bound.version, listed, depth)
        own = listed.get(bound.version)
        if bound.text in (right, own) or (*bound.table, bound.text) in seen:
            continue
        seen.add((*bound.table, bound.text))
        like = "versions usually are" if own is None else "it is in the list of releases"
        yield _misspelt(bound.spot, bound.text, right, like)


def _misspelt(spot: Spot, text: str, right: str, like: str) -> LintFinding:
    return LintFinding(spot, f'"{text}" is not spelt as {like}.', f'Write "{right}".')


def bound_spellings(subject: Subject) -> Iterator[LintFinding]:
    """Borders that no release has, spelt in two ways in one file."""
    listed = {one.version: one.text for one in releases_of(subject)}
    depth = _depth(listed)
    used: dict[FirmwareVersion, Counter[str]] = {}
    bounds = [one for one in bounds_of(subject) if one.version not in listed]
    for bound in bounds:
        if bound.text == _right(bound.version, listed, depth):
            used.setdefault(bound.version, Counter())[bound.text] += 1
    seen: set[tuple[str, str, str]] = set()
    for bound in bounds:
        spellings = used.get(bound.version, Counter())
        key = (*bound.table, bound.text)
        if len(spellings) < 2 or bound.text not in spellings or key in seen:
            continue
        right = spellings.most_common(1)[0][0]
        if bound.text != right:
            seen.add(key)
            yield LintFinding(
                bound.spot,
                f'"{bound.text}" and "{right}" are the same firmware, spelt in two ways in this '
                "file.",
                f'Write "{right}" everywhere.',
            )


def unlisted_versions(subject: Subject) -> Iterator[LintFinding]:
    """Firmware that is named as existing and that the list of releases does not have."""
    listed = {one.version: one.text for one in releases_of(subject)}
    if not listed:
        return
    found: dict[FirmwareVersion, list[Bound]] = {}
    for bound in bounds_of(subject):
        if bound.sign not in _EXISTING or bound.version in listed:
            continue
        # Whole numbers follow each other: <=51 is the border below a release 52.
        if bound.sign == "==" or not _borders(bound.version, listed):
            found.setdefault(bound.version, []).append(bound)
    for first, *more in found.values():
        times = "once more" if len(more) == 1 else f"{len(more)} times more"
        again = f" The file names it {times}." if more else ""
        yield LintFinding(
            first.spot,
            f'"{first.sign}{first.text}" names a firmware that is not in the list of '
            f"releases.{again}",
            f"{_near(first, listed)} If there is a firmware {first.text}, add it to the releases.",
        )


def disordered_releases(subject: Subject) -> Iterator[LintFinding]:
    """Releases that stand behind newer ones."""
    for before, release in pairwise(releases_of(subject)):
        if is_older(release.version, before.version):
            yield LintFinding(
                release.spot,
                f"Release {release.text} stands behind {before.text}, which is newer.",
                "List the releases oldest first.",
            )


def contradicted_release_dates(subject: Subject) -> Iterator[LintFinding]:
    """Releases of one line that are dated before an older release of the same line.

    A line are the versions that differ only in their last part and letter: several lines may be
    kept up side by side.
    """
    dated = {one.version: one for one in releases_of(subject) if one.date}
    newest: dict[str, WrittenRelease] = {}
    for version in in_order(dated):
        release = dated[version]
        line = release.text.rpartition(".")[0] if version.scheme is Scheme.DOTTED else ""
        before = newest.get(line)
        if before is not None and release.date < before.date:
            yield LintFinding(
                Spot("firmware.release", release.text, key=("date",)),
                f"Release {release.text} is dated {release.date}, before the older release "
                f"{before.text} of {before.date}.",
                "Correct one of the two dates.",
                Spot("firmware.release", before.text, key=("date",)),
            )
        else:
            newest[line] = release


def _depth(listed: Mapping[FirmwareVersion, str]) -> int:
    """How many parts a version has at most, by the list of releases."""
    return max(2, *(text.count(".") + 1 for text in listed.values())) if listed else _MOST_PARTS


def _near(bound: Bound, listed: Mapping[FirmwareVersion, str]) -> str:
    """The release that is spelt much like a version, else those on both sides of it."""
    like = get_close_matches(bound.text, listed.values(), n=1, cutoff=_ALIKE)
    if like:
        return f'Did you mean "{like[0]}"?'
    line = in_order((*listed, bound.version))
    at = line.index(bound.version)
    beside = [listed[one] for one in (*line[max(0, at - 1) : at], *line[at + 1 : at + 2])]
    nearest = "release is" if len(beside) == 1 else "releases are"
    return f"The nearest {nearest} {' and '.join(beside)}."


def _borders(version: FirmwareVersion, listed: Mapping[FirmwareVersion, str]) -> bool:
    """Whether the whole number behind a version is a release."""
    scheme = version.scheme
    return scheme is Scheme.NUMBER and version_of(str(int(version.text) + 1), scheme) in listed


def _right(version: FirmwareVersion, listed: Mapping[FirmwareVersion, str], depth: int) -> str:
    """How a version is spelt: as the list of releases does, where it has it."""
    text = listed.get(version)
    if text is None:
        return _usual(version, depth)
    return _usual(version_of(text, version.scheme), _MOST_PARTS)


def _usual(version: FirmwareVersion, depth: int) -> str:
    """The usual spelling: no zeros before a figure, and none behind that nobody else writes."""
    if version.scheme is Scheme.DATE:
        return version.text
    parts = _ZEROS.sub("", version.text).split(".")
    while len(parts) > depth and parts[-1] == "0":
        parts.pop()
    return ".".join(parts)


RULES = (
    LintRule(
        "version-spelling",
        Severity.WARNING,
        "A version is not spelt as the list of releases does, or as versions usually are.",
        misspelt_versions,
    ),
    LintRule(
        "bound-spellings",
        Severity.WARNING,
        "The same border between firmware is spelt in two ways in one file.",
        bound_spellings,
    ),
    LintRule(
        "unlisted-version",
        Severity.WARNING,
        "A range names a firmware as existing that is not in the list of releases.",
        unlisted_versions,
    ),
    LintRule(
        "releases-order",
        Severity.NOTE,
        "A release stands behind a newer one in the list.",
        disordered_releases,
    ),
    LintRule(
        "release-dates",
        Severity.WARNING,
        "A release is dated before an older release of the same line.",
        contradicted_release_dates,
    ),
)
