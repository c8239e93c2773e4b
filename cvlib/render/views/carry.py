"""Values carried to another firmware as blocks: what needs a look first, then the write sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.carry.carry_loco import DecoderCarried
from cvlib.engine.carry.carry_outcomes import Left, New, Outcome, Refused
from cvlib.engine.known.told import where_text
from cvlib.errors import nearest
from cvlib.model.answer import Standing
from cvlib.model.cv import WHOLE, bits_text
from cvlib.render.phrases import counted, listed
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Paragraph,
    Piece,
    Table,
    faint,
    plain,
)
from cvlib.render.views import sheet
from cvlib.render.views.carry_words import (
    TITLES,
    Row,
    grouped,
    keeping,
    notes_of,
    row_of,
    said_of,
    title_of,
    unsaved_of,
)
from cvlib.render.views.settings import named
from cvlib.render.views.undecided import SEVERITY_ROLES
from cvlib.render.words import finding_words

FOLDED = ("same", "read-only", "new")
"""Outcomes that are only counted and named, unless everything is asked for."""
MOST_NAMED = 6


def view(result: DecoderCarried, *, everything: bool = False, why: bool = False) -> list[Block]:
    """Every outcome, what the new values break, and the write sheet."""
    blocks: list[Block] = [*heading(result), Paragraph(plain(_counts(result)))]
    for kind, outcomes in grouped(result):
        rows = [row_of(result, outcome) for outcome in outcomes]
        blocks += [Gap(), Heading(TITLES[kind])]
        if kind in FOLDED and not everything:
            blocks += [Paragraph(plain(text)) for text in _folded(kind, outcomes, rows)]
        else:
            blocks.append(_table(rows))
    blocks += list(_rest(result, everything=everything))
    blocks += list(_findings(result))
    return [*blocks, Gap(), *sheet.view(told(result), why=why), *_written(result)]


def sheet_only(result: DecoderCarried, *, why: bool = False) -> list[Block]:
    """The write sheet under the name of the loco."""
    return [*heading(result), *sheet.view(told(result), why=why), *_written(result)]


def _written(result: DecoderCarried) -> Iterator[Block]:
    """What became of the loco file, where it was to be written."""
    if result.is_written is None:
        return
    done = "holds the new values now; the former state is in its history"
    said = done if result.is_written else "held these values already and was not changed"
    yield Gap()
    yield Paragraph(plain(f"{result.loco.file} {said}."))


def told(result: DecoderCarried) -> sheet.Told:
    """The sheet with what it needs to be put into words."""
    contested = {
        slot: tuple(title_of(result, name) for name in names)
        for slot, names in result.carried.contested.items()
    }
    notes = notes_of(result)
    settings = result.goal.settings
    said, unsaved = said_of(result), unsaved_of(result)
    command = keeping(result)
    return sheet.Told(
        result.sheet, said, contested, _firmware(result), notes, unsaved, command, settings
    )


def label_of(result: DecoderCarried) -> str:
    """What names the sheet on each of its pages."""
    role = f", {result.decoder.role}" if result.decoder.role else ""
    return f"{result.loco.name}{role}, {_firmware(result)}"


def sheet_head(result: DecoderCarried) -> list[Block]:
    """What stands above the sheet on a page of its own."""
    return [*heading(result), *_written(result), Heading("Write sheet")]


def heading(result: DecoderCarried) -> Iterator[Block]:
    """The loco, its decoder, and the two firmwares."""
    loco, goal = result.loco, result.carried.goal
    role = f", {result.decoder.role}" if result.decoder.role else ""
    yield Heading(f"{loco.name}{role}: values for {_firmware(result)}", 1)
    versions = dict.fromkeys(str(v) for v in result.carried.origin.saved.saved_for.values())
    was = f"{result.profile.maker} {result.profile.name} {listed(list(versions))}"
    address = f", address {loco.address}" if loco.address is not None else ""
    now = f"{_firmware(result)} ({goal.resolver.profile.id})"
    yield Paragraph(plain(f"Saved for {was}; carried to {now}{address}."))
    if slip := _unlisted(result):
        yield Paragraph(plain(slip))


def _unlisted(result: DecoderCarried) -> str:
    """That the goal is none of the listed releases, with the nearest of them."""
    version, profile = result.carried.goal.version, result.goal
    if not profile.releases or version.end is not None or profile.release_of(version):
        return ""
    listed_ones = [str(release.version) for release in profile.releases]
    near = nearest(str(version), listed_ones)
    if near is None:
        older = [str(one.version) for one in profile.releases if one.version.key <= version.key]
        near = older[-1] if older else listed_ones[0]
    name = f"{profile.maker} {profile.name}"
    return f"No release {version} of {name} is listed; the nearest one is {near}. Is it a slip?"


def _firmware(result: DecoderCarried) -> str:
    return f"{result.goal.maker} {result.goal.name} {result.carried.goal.version}"


def _counts(result: DecoderCarried) -> str:
    each = [f"{len(outcomes)} {kind}" for kind, outcomes in grouped(result)]
    number = counted(len(result.carried.outcomes), "setting")
    return f"{number}: {', '.join(each)}."


def _folded(kind: str, outcomes: list[Outcome], rows: list[Row]) -> Iterator[str]:
    """Outcomes by name only; of new settings those first that are on the sheet."""
    if kind != "new":
        yield _some([row.title for row in rows], is_whole=kind == "read-only")
        return
    stale = {held.setting for held in outcomes if isinstance(held, New) and held.is_stale}
    unread = {held.setting for held in outcomes if isinstance(held, New) and held.unread}
    bare = {row.setting for row in rows if not row.new_where} & stale - unread
    on_sheet = "Their CVs hold what another setting left there, so they get the factory value: "
    by_hand = (
        "Their CVs hold what another setting left there, and no factory value is known, so set "
        "them by hand: "
    )
    first = "Nobody saved what their factory value would replace, so the sheet reads that first: "
    rest = {row.setting for row in rows} - stale - unread
    offered = stale - bare - unread
    parts = ((unread, first), (offered, on_sheet), (bare, by_hand), (rest, ""))
    for wanted, said in parts:
        found = [row for row in rows if row.setting in wanted]
        names = [f"{row.title} {row.new_value}".strip() for row in found]
        if names:
            yield said + _some(names, is_whole=False)


def _some(names: list[str], *, is_whole: bool) -> str:
    is_more = len(names) > MOST_NAMED or not is_whole
    more = " --all lists them with their values." if is_more else ""
    return f"{listed(names, MOST_NAMED)}.{more}"


def _table(rows: Iterable[Row]) -> Table:
    rows = list(rows)
    has_new = any(row.new_where for row in rows)
    has_remark = any(row.remark for row in rows)
    columns = [Column("setting"), Column("was"), *([Column("now")] if has_new else [])]
    columns += [Column("remark")] if has_remark else []
    made = []
    for row in rows:
        cells = [named(row.title, row.setting), plain(_side(row.old_where, row.old_value))]
        if has_new:
            cells.append(plain(_side(row.new_where, row.new_value)))
        if has_remark:
            cells.append(plain(row.remark))
        made.append(tuple(cells))
    return Table(tuple(columns), tuple(made))


def _side(where: str, value: str) -> str:
    return f"{where}: {value}" if where and value else where or value or "-"


def _rest(result: DecoderCarried, *, everything: bool) -> Iterator[Block]:
    """Saved bits without a setting, values saved twice, and settings without a value."""
    carried = result.carried
    left = [held for held in carried.left if everything or held.value & held.mask]
    if left:
        yield Gap()
        yield Paragraph(
            plain(
                "Not carried, because no setting was using them: "
                f"{listed([_left(held) for held in left], None if everything else MOST_NAMED)}."
            ),
            hang=2,
        )
    for held in carried.superseded:
        title = title_of(result, held.setting)
        yield Paragraph(
            plain(
                f"{title} was also saved for {held.old.firmware} as {held.old.reading.text}; "
                "the later value is taken."
            ),
            hang=2,
        )
    for outcome in carried.outcomes:
        old = None if isinstance(outcome, (New, Refused)) else outcome.old
        if old is not None and old.standing is Standing.FAULTY:
            title = title_of(result, outcome.setting)
            yield Paragraph(
                plain(
                    f"{title}: a test found that {where_text(old.place)} had no effect at "
                    f"{old.firmware}, where {old.reading.text} was saved. Make sure that it is "
                    "what you want."
                ),
                hang=2,
            )
    for slot in sorted(carried.held_back & carried.contested.keys()):
        rivals = [title_of(result, name) for name in carried.contested[slot]]
        yield Paragraph(
            plain(
                f"{slot} is not written: a test found that it does nothing for the setting that "
                f"would go there, and it may belong to {listed(rivals, 3, 'or')}."
            ),
            hang=2,
        )
    if carried.unsaved:
        names = [title_of(result, name) for name in carried.unsaved]
        most = None if everything else MOST_NAMED
        number = counted(len(names), "setting has", "settings have")
        yield Gap()
        yield Paragraph(
            faint(f"{number} no saved value and stay as they are: {listed(names, most)}."), hang=2
        )


def _left(held: Left) -> str:
    value = held.value & held.mask
    if held.mask == WHOLE:
        return f"{held.slot} = {held.value}"
    plural = "s" if held.mask.bit_count() > 1 else ""
    return f"bit{plural} {bits_text(held.mask)} of {held.slot} ({value})"


def _findings(result: DecoderCarried) -> Iterator[Block]:
    found = result.carried.findings
    if not found:
        return
    yield Gap()
    yield Heading("What a check says of the new values")
    for finding in found:
        words = finding_words(finding, f"firmware {result.carried.goal.version}")
        severity = Piece(finding.severity.value, SEVERITY_ROLES[finding.severity])
        said = " ".join(filter(None, (words.message, words.advice)))
        head = f" {finding.code}: "
        yield Paragraph((severity, Piece(head), Piece(f"{words.subject}: "), Piece(said)), hang=2)


def kinds(outcomes: Iterable[Outcome]) -> dict[str, int]:
    """How many outcomes there are of each kind."""
    found = dict.fromkeys(TITLES, 0)
    for outcome in outcomes:
        found[outcome.kind] += 1
    return found
