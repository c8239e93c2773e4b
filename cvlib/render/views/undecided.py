"""A decoder whose firmware nobody knows: what fits, and how to find out."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.account.check import Checked
from cvlib.engine.account.decide import Undecided
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.engine.known.line import Known
from cvlib.findings.catalogue import Severity
from cvlib.model.ranges import FirmwareRange
from cvlib.render.phrases import firmware_words, listed
from cvlib.render.view import Block, Column, Gap, Line, Paragraph, Piece, Role, Table, plain

MOST_RELEASES = 4
"""Releases named of a stretch of firmware before the rest is counted."""

GRAVE = (Severity.ERROR, Severity.WARNING)

SEVERITY_ROLES = {
    Severity.ERROR: Role.ERROR,
    Severity.WARNING: Role.WARNING,
    Severity.NOTE: Role.NOTE,
}

_KNOWN = {
    Known.COVERED: "documented",
    Known.GAP: "between",
    Known.BEFORE: "before",
    Known.BEYOND: "beyond",
}
"""How a stretch of firmware lies to the documents."""


def undecided(
    decoder: DecoderChecked, outcome: Undecided, *, everything: bool = False
) -> Iterator[Block]:
    """The firmware that fits, with what is wrong at each, and how to tell which it is."""
    yield Gap()
    yield Paragraph(
        plain("Several firmwares fit, and what is wrong with the values depends on which it is.")
    )
    yield Gap()
    columns = (
        Column("firmware"),
        Column("known releases"),
        *((Column("how known"),) if everything else ()),
        *(Column(f"{severity}s", numeric=True, shrinks=False) for severity in GRAVE),
    )
    rows = []
    for firmware, known, checked in _joined(outcome):
        releases = [str(r.version) for r in decoder.profile.releases if r.version in firmware]
        rows.append(
            (
                plain(firmware_words(firmware.text())),
                plain(listed(releases, MOST_RELEASES) or "-"),
                *((plain(", ".join(known)),) if everything else ()),
                *(count_cell(_number(checked, severity), severity) for severity in GRAVE),
            )
        )
    yield Table(columns, tuple(rows))
    yield Gap()
    yield Paragraph(plain(f"→ {_how_to_tell(decoder, outcome)}"), hang=2)
    if decoder.offer is not None:
        from cvlib.render.views.offer import offered

        yield Gap()
        yield from offered(decoder.offer)
    noted = {held.firmware for held in decoder.decoder.values.values()}
    if len(noted) == 1 and all(noted):
        (version,) = noted
        words = f"→ The values were saved for {version}. Still that firmware? --firmware {version}"
        yield Paragraph(plain(words), hang=2)


def _joined(outcome: Undecided) -> list[tuple[FirmwareRange, tuple[str, ...], Checked]]:
    """The stretches, neighbours with the same errors and warnings joined."""
    found: list[tuple[FirmwareRange, tuple[str, ...], Checked]] = []
    for stretch, checked in outcome.possible:
        known = _KNOWN[stretch.known]
        if found and _gist(found[-1][2]) == _gist(checked):
            before, ways, first = found.pop()
            ways = tuple(dict.fromkeys((*ways, known)))
            found.append((before | stretch.firmware, ways, first))
        else:
            found.append((stretch.firmware, (known,), checked))
    return found


def _gist(checked: Checked) -> list[tuple[object, ...]]:
    return [
        (finding.code, finding.settings, finding.bits)
        for finding in checked.findings
        if finding.severity in GRAVE
    ]


def _number(checked: Checked, severity: Severity) -> int:
    return sum(finding.severity is severity for finding in checked.findings)


def _how_to_tell(decoder: DecoderChecked, outcome: Undecided) -> str:
    known = [
        release.version
        for release in decoder.profile.releases
        if any(release.version in stretch.firmware for stretch, _ in outcome.possible)
    ]
    example = known[-1] if known else outcome.possible[-1][1].firmware
    give = f"give the firmware with --firmware, such as --firmware {example}."
    if not outcome.reads:
        return f"The decoder answers no version. Ask who built it in, or {give}"
    cvs = [f"CV {cv}" for cv in outcome.reads]
    them = "them to the loco file; they hold" if len(cvs) > 1 else "it to the loco file; it holds"
    return f"Read {listed(cvs)} and add {them} the firmware. Or {give}"


def count_cell(number: int, severity: Severity) -> Line:
    """How many findings of a severity, set off where there are any."""
    return (Piece(str(number), SEVERITY_ROLES[severity] if number else Role.FAINT),)
