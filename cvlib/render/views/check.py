"""A check as blocks: whose values, what was found, and how every saved bit is accounted for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from cvlib.engine.account.check import Checked
from cvlib.engine.account.decide import Decided, Ground, Undecided
from cvlib.engine.account.ledger import FINE
from cvlib.engine.account.undated import CODE as UNDATED
from cvlib.engine.bench.outcome import DecoderChecked, FleetChecked, LocoChecked
from cvlib.engine.known.identity import versions_answering
from cvlib.engine.known.line import Known, known_at
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding
from cvlib.model.coding import Area
from cvlib.model.profile import Question, is_about
from cvlib.render import moved
from cvlib.render.phrases import FEW, counted, cvs_text, listed
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
)
from cvlib.render.views.undecided import SEVERITY_ROLES, count_cell, undecided
from cvlib.render.views.why import why_words
from cvlib.render.words import Words, disputed_then, finding_words, folded_words

SEVERITIES = (Severity.ERROR, Severity.WARNING, Severity.NOTE)

FOLDED_ABOVE = {
    "disputed": 6,
    "read-only": 1,
    **dict.fromkeys(
        (
            *("reserved-bits", "beyond", "before", "faulty", "unknown", "undecided"),
            *("out-of-range", "undefined-choice", "unset", "changed"),
        ),
        FEW,
    ),
}
"""Codes of which many findings become one line, and the number up to which each is shown."""

OPEN_TO_DOUBT = ("disputed", "before", "beyond", "faulty")
"""Codes beside which an open question of the profile is worth showing."""

_LIES = {
    Known.COVERED: "",
    Known.GAP: ", between the documents there are",
    Known.BEFORE: ", before all documents there are",
    Known.BEYOND: ", beyond all documents there are",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """How much is to be shown."""

    typed: Callable[..., str]
    """Gives a command as it is typed in the shell."""
    everything: bool = False
    why: bool = False
    file: str = ""
    """The loco file that is told of."""


def view(
    result: FleetChecked, typed: Callable[..., str], *, everything: bool = False, why: bool = False
) -> list[Block]:
    """The check of some locos; several get a table first, then those with something to say.

    ``typed`` gives a command as it is typed in the shell.
    """
    asked = Asked(typed, everything, why)
    if len(result.locos) == 1 and not result.faults:
        return [*_loco(result.locos[0], asked, 1), Gap(), *_closing(result, asked)]
    blocks: list[Block] = [Heading("Check", 1), Gap(), _table(result.locos)]
    for loco in result.locos:
        if everything or any(map(_needs_telling, loco.decoders)):
            blocks += [Gap(), *_loco(loco, asked, 2)]
    return [*blocks, Gap(), *_closing(result, asked)]


def _needs_telling(decoder: DecoderChecked) -> bool:
    """Whether a decoder has more to tell than notes."""
    checked = decoder.checked
    return checked is None or (checked.worst() or Severity.NOTE) is not Severity.NOTE


def _table(locos: Iterable[LocoChecked]) -> Table:
    columns = (
        Column("loco"),
        Column("decoder"),
        Column("firmware", shrinks=False),
        Column("errors", numeric=True, shrinks=False),
        Column("warnings", numeric=True, shrinks=False),
        Column("notes", numeric=True, shrinks=False),
    )
    rows = tuple(_row(loco, decoder) for loco in locos for decoder in loco.decoders)
    return Table(columns, rows)


def _row(loco: LocoChecked, decoder: DecoderChecked) -> tuple[Line, ...]:
    role = f" ({decoder.decoder.role})" if decoder.decoder.role else ""
    name, profile = plain(f"{loco.loco.name}{role}"), plain(decoder.profile.id)
    if decoder.checked is None:
        return (
            name,
            profile,
            (Piece("undecided", Role.WARNING),),
            plain("?"),
            plain("?"),
            plain("?"),
        )
    known = isinstance(decoder.outcome, Decided) and decoder.outcome.ground is not Ground.ALIKE
    firmware = str(decoder.checked.firmware) if known else "any"
    counts = (count_cell(decoder.count(severity), severity) for severity in SEVERITIES)
    return name, profile, plain(firmware), *counts


def _loco(loco: LocoChecked, asked: Asked, level: int) -> Iterator[Block]:
    at = f"address {loco.loco.address}" if loco.loco.address is not None else ""
    file = loco.loco.file if loco.loco.file != loco.loco.name else ""
    beside = ", ".join(filter(None, (at, file)))
    yield Heading(loco.loco.name, level)
    if beside:
        yield Paragraph((Piece(beside, Role.FAINT),))
    for decoder in loco.decoders:
        if len(loco.decoders) > 1:
            if decoder is not loco.decoders[0]:
                yield Gap()
            name = f"{decoder.decoder.role} decoder, " if decoder.decoder.role else ""
            yield Heading(f"{loco.loco.name}: {name}{_name(decoder)}", level + 1)
        else:
            role = f", {decoder.decoder.role} decoder" if decoder.decoder.role else ""
            yield Paragraph(plain(f"{_name(decoder)}{role}"))
        yield from _decoder(decoder, replace(asked, file=loco.loco.file))
    yield from _trials(loco, asked)


def _trials(loco: LocoChecked, asked: Asked) -> Iterator[Block]:
    """What was measured of this loco: the last trial, or all of them."""
    trials = list(enumerate(loco.loco.trials, 1))
    for number, trial in trials if asked.everything else trials[-1:]:
        runs = [run for run in trial.runs if trial.condition(run.condition).wish is not None]
        near = sum(map(trial.is_near, runs))
        seen = f"{near} of {len(runs)} stops near enough" if runs else "no stop yet"
        command = asked.typed("cvlib", "trial", "report", f"{loco.loco.file}#{number}")
        yield Paragraph((Piece(f"Trial of {trial.setting}: {seen}. "), Piece(command, Role.CODE)))


def _decoder(decoder: DecoderChecked, asked: Asked) -> Iterator[Block]:
    yield from _head(decoder)
    if decoder.changes is not None:
        from cvlib.render.views.keep import changed, changed_words

        yield Gap()
        if asked.everything:
            yield from changed(decoder.changes, everything=True)
        else:
            yield Paragraph(plain(changed_words(decoder.changes)))
    match decoder.outcome:
        case Decided(checked, ground):
            yield from _findings(decoder, checked, ground, asked)
        case Undecided():
            yield from undecided(decoder, decoder.outcome, everything=asked.everything)


def _name(decoder: DecoderChecked) -> str:
    profile = decoder.profile
    return f"{f'{profile.maker} {profile.name}'.strip()} ({profile.id})"


def _head(decoder: DecoderChecked) -> Iterator[Block]:
    yield Paragraph((*_installed(decoder), Piece(f"; {_saved_for(decoder)}.")))


def _installed(decoder: DecoderChecked) -> Line:
    outcome = decoder.outcome
    if not isinstance(outcome, Decided):
        return (Piece("Firmware not known", Role.STRONG),)
    if outcome.ground is Ground.ALIKE:
        return (Piece("Firmware not known, and it makes no difference here"),)
    firmware = outcome.checked.firmware
    ground = " as stated"
    if outcome.ground is Ground.ANSWERED:
        ground = f" by the saved {listed([f'CV {cv}' for cv in _version_cvs(decoder)])}"
    known = known_at(Resolver(decoder.profile).coverage, firmware.key)
    return (
        Piece("Firmware "),
        Piece(str(firmware), Role.STRONG),
        Piece(f"{ground}{_LIES[known]}"),
    )


def _version_cvs(decoder: DecoderChecked) -> tuple[int, ...]:
    return tuple(dict.fromkeys(part.field.slot.cv for part in decoder.profile.parts))


def _saved_for(decoder: DecoderChecked) -> str:
    """How many values there are and the firmware they were saved for."""
    counts = Counter((one.firmware, one.outlived) for one in decoder.decoder.values.values())
    if not counts:
        return "no value is saved"
    unknown = counts.pop(("", False), 0)
    if not counts:
        return f"{counted(unknown, 'value')} saved, for which firmware is not known"
    parts = [
        f"{counted(n, 'value')} saved for {name}{_at_most(decoder, name) if outlived else ''}"
        for (name, outlived), n in counts.items()
    ]
    if unknown:
        parts.append(f"{unknown} for which firmware is not known")
    return listed(parts)


def _at_most(decoder: DecoderChecked, firmware: str) -> str:
    """What is to be said of values that are only known to be no newer than a firmware."""
    answered = any(
        firmware == str(version)
        for reading in decoder.decoder.readings
        if reading.firmware == firmware
        for version in versions_answering(
            decoder.profile, {slot: held.value for slot, held in reading.values.items()}
        )
    )
    return f"{' (by the version CVs noted with them)' if answered else ''} or older"


def _findings(
    decoder: DecoderChecked, checked: Checked, ground: Ground, asked: Asked
) -> Iterator[Block]:
    is_any = ground is Ground.ALIKE
    firmware = "any firmware that fits" if is_any else f"firmware {checked.firmware}"
    found = [f for f in checked.findings if not (is_any and f.code == "unset")]
    resolver = Resolver(decoder.profile)
    questions = list(open_questions(decoder, checked)) if found else []
    notes = [] if asked.everything else [one for one in found if _is_counted(one)]
    waiting = [] if asked.everything else _waiting(found, checked)
    for group in _folded((one for one in found if one not in (*notes, *waiting)), asked):
        yield Gap()
        if group[0].code in moved.CODES and len(group) > 1:
            yield from _moved(group, firmware, _command(decoder, checked, asked))
            continue
        words = (
            finding_words(group[0], firmware, fully=asked.everything)
            if len(group) == 1
            else folded_words(group, firmware)
        )
        if len(group) > 1 and disputed_then(group[0]):
            command = _command(decoder, checked, asked)
            advice = (
                f'Choose them anew: "{command} --choose NAME=CHOICE"; without --choose it lists '
                "what each may be."
            )
            words = words._replace(advice=advice)
        is_settled = asked.everything or disputed_then(group[0])
        settle = [] if is_settled else _settling(group, questions)[:1]
        if settle and len(group) > 1:
            words = words._replace(advice="")
        yield from _finding(group[0], words)
        if not asked.everything:
            questions = [one for one in questions if one not in settle]
            for question in settle:
                yield Paragraph(plain(f"→ {question.settle}"), indent=2, hang=2)
        if waiting and _is_of_today(group[0], checked):
            names = [f"{one.name} ({', '.join(_beside(one, group[0]))})" for one in waiting]
            yield Paragraph(plain(f"Set since, they break the rule {listed(names)}."), indent=2)
        if decoder.offer is not None and _is_of_today(group[0], checked):
            from cvlib.render.views.offer import weighed

            yield from weighed(decoder.offer, 2)
        if asked.why:
            yield from _why(resolver, checked, group)
    yield from _questions(questions if asked.everything else ())
    yield Gap()
    yield from _assumed(checked)
    if asked.everything:
        yield Paragraph(_accounted(checked))
    else:
        yield Paragraph((*_counted(notes), *plain(_all_bits(checked))))


def _is_of_today(finding: Finding, checked: Checked) -> bool:
    """Whether values are undated that may have been set for the installed firmware."""
    return finding.code == UNDATED and finding.now[0].firmware == str(checked.firmware)


def _waiting(found: Sequence[Finding], checked: Checked) -> list[Finding]:
    """Rules that values break only if they were not left over, which has to be answered first."""
    open_bits = {
        (held.cv, held.page)
        for one in found
        if one.severity is Severity.WARNING and _is_of_today(one, checked)
        for held in one.bits
    }
    return [
        one
        for one in found
        if one.code == "rule"
        and one.severity is not Severity.ERROR
        and any((held.cv, held.page) in open_bits for held in one.bits)
    ]


def _beside(rule: Finding, undated: Finding) -> list[str]:
    """The other CVs of a rule that undated values break."""
    known = {(held.cv, held.page) for held in undated.bits}
    others = [held for held in rule.bits if (held.cv, held.page) not in known]
    return [cvs_text([held]) for held in others]


def _is_counted(finding: Finding) -> bool:
    """Whether a finding is no more than counted: notes, but not those that were asked for."""
    return finding.severity is Severity.NOTE and finding.code != "changed"


def _counted(notes: Sequence[Finding]) -> Iterator[Piece]:
    """All notes in one sentence."""
    if notes:
        codes = dict.fromkeys(one.code for one in notes)
        parts = [f"{sum(one.code == code for one in notes)} {code}" for code in codes]
        yield Piece(counted(len(notes), "note"), Role.NOTE)
        yield Piece(f": {listed(parts)}. ")


def _all_bits(checked: Checked) -> str:
    bits = sum(account.mask.bit_count() for account in checked.accounts)
    if not bits:
        return "No value is saved, so there is nothing to account for."
    return f"All {bits} saved bits are accounted for."


def _settling(group: Sequence[Finding], questions: Sequence[Question]) -> list[Question]:
    """The open questions about what some findings leave in doubt that somebody can settle."""
    names = {name for finding in group for name in finding.settings}
    doubtful = group[0].code in OPEN_TO_DOUBT
    return [
        question
        for question in questions
        if doubtful and question.settle and any(is_about(question.about, name) for name in names)
    ]


def _command(decoder: DecoderChecked, checked: Checked, asked: Asked) -> str:
    """The command that carries the values of a decoder."""
    words = ["cvlib", "carry", *([asked.file] if asked.file else [])]
    words += ["--to", str(checked.firmware)]
    if decoder.decoder.role:
        words += ["--role", decoder.decoder.role]
    if not asked.file.endswith(".toml"):
        words += ["--profile", decoder.profile.id]
        noted = {held.firmware for held in decoder.decoder.values.values()}
        words += [word for name in noted if name and len(noted) == 1
                  for word in ("--saved-for", name)]  # fmt: skip
    return asked.typed(*words)


def _moved(group: Sequence[Finding], firmware: str, command: str) -> Iterator[Block]:
    words = moved.moved(group, firmware, command)
    codes = ", ".join(dict.fromkeys(one.code for one in group))
    yield from _headed(group[0].severity, codes, words)
    for task in words.tasks:
        yield Paragraph(plain(f"→ {task.text}"), indent=2, hang=2)
        for line in task.lines:
            yield Paragraph(plain(line), indent=4, hang=2)


def _headed(
    severity: Severity, codes: str, words: Words | moved.Moved, more: Line = ()
) -> Iterator[Block]:
    """How grave it is, its codes and what it is about; then the message."""
    head = (
        Piece(severity.value, SEVERITY_ROLES[severity]),
        Piece("  "),
        Piece(codes, Role.CODE),
        Piece("  "),
        Piece(words.subject, Role.STRONG),
    )
    yield Paragraph((*head, *more), hang=2)
    yield Paragraph(plain(words.message), indent=2)


def _assumed(checked: Checked) -> Iterator[Block]:
    """One sentence for all saved settings that only a standard, or nobody, speaks for."""
    count = len(checked.assumed())
    if count:
        is_one = count == 1
        yield Paragraph(
            plain(
                f"{counted(count, 'saved setting')} {'is' if is_one else 'are'} assumed: no "
                f"document of this decoder speaks of {'it' if is_one else 'them'}."
            )
        )


def _folded(findings: Iterable[Finding], asked: Asked) -> list[list[Finding]]:
    """The findings, with many of one kind put together."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        shape: tuple[object, ...]
        shape = (finding.code, finding.severity, bool(finding.text), bool(finding.decided_by))
        if disputed_then(finding):
            shape = (*shape, finding.was[0].firmware)
        if finding.code in moved.CODES and not asked.everything:
            shape = ("moved", finding.severity, False, False)
        groups.setdefault(shape, []).append(finding)
    shown: list[list[Finding]] = []
    for (code, *_), group in groups.items():
        most = FOLDED_ABOVE.get(str(code))
        if code == "moved":
            about = {frozenset(one.settings) for one in group}
            most = len(group) if len(about) == len(group) <= FEW else 1
        if asked.everything or most is None or len(group) <= most:
            shown += [[finding] for finding in group]
        else:
            shown.append(group)
    return sorted(shown, key=lambda group: SEVERITIES.index(group[0].severity))


def _finding(finding: Finding, words: Words) -> Iterator[Block]:
    is_new = finding.standing not in ("", finding.code)
    standing = (Piece(f"  {finding.standing}", Role.FAINT),) if is_new else ()
    yield from _headed(finding.severity, finding.code, words, standing)
    if words.advice:
        yield Paragraph(plain(f"→ {words.advice}"), indent=2, hang=2)


def _why(resolver: Resolver, checked: Checked, group: Sequence[Finding]) -> Iterator[Block]:
    """The trace of each answer behind some findings; of many findings, behind the first few."""
    names = dict.fromkeys(name for finding in group[:FEW] for name in finding.settings)
    for name in names:
        setting = resolver.profile.settings[name]
        answer = resolver.answer(setting, checked.firmware.key)
        if any(isinstance(place.coding, Area) for place in answer.places()):
            continue
        said = f"why: {setting.title} — {why_words(resolver.profile, answer)}"
        yield Paragraph((Piece(said, Role.FAINT),), indent=2, hang=2)


def open_questions(decoder: DecoderChecked, checked: Checked) -> tuple[Question, ...]:
    """The profile's open questions about saved settings that are in doubt at the firmware."""
    doubtful = {
        name
        for finding in checked.findings
        if finding.code in OPEN_TO_DOUBT
        for name in finding.settings
    }
    return tuple(
        question
        for question in decoder.profile.questions
        if (question.firmware is None or checked.firmware in question.firmware)
        and any(is_about(question.about, name) for name in doubtful)
    )


def _questions(questions: Iterable[Question]) -> Iterator[Block]:
    for question in questions:
        yield Gap()
        yield Paragraph((Piece("open question", Role.STRONG), Piece(f"  {question.text}")), hang=2)
        if question.settle:
            yield Paragraph(plain(f"→ {question.settle}"), indent=2, hang=2)


def _accounted(checked: Checked) -> Line:
    """One sentence that accounts for every saved bit."""
    verdicts: dict[str, int] = {}
    for account in checked.accounts:
        bits = account.mask.bit_count()
        verdicts[account.verdict] = verdicts.get(account.verdict, 0) + bits
    cvs = len({account.slot for account in checked.accounts})
    bits = sum(verdicts.values())
    if not bits:
        return plain("No value is saved, so there is nothing to account for.")
    fine = verdicts.pop(FINE, 0)
    parts = [f"{fine} fine"] + [f"{n} {code}" for code, n in sorted(verdicts.items())]
    return plain(
        f"Every one of the {bits} saved bits in {counted(cvs, 'CV')} is accounted for: "
        f"{listed(parts)}."
    )


def _closing(result: FleetChecked, asked: Asked) -> Iterator[Block]:
    """The counts, and how to see more."""
    counts = [counted(result.count(severity), severity.value) for severity in SEVERITIES]
    undecided = sum(decoder.checked is None for decoder in result.decoders())
    if undecided:
        counts.append(f"{counted(undecided, 'decoder')} undecided")
    if result.faults:
        counts.append(f"{counted(len(result.faults), 'fault')} in files that could not be checked")
    yield Paragraph((Piece(f"{listed(counts)}.", Role.STRONG),))
    more = _more(result, asked)
    if more:
        yield Paragraph((Piece(f"More: {more}", Role.FAINT),), hang=2)


def _more(result: FleetChecked, asked: Asked) -> str:
    findings = [f for d in result.decoders() if d.checked for f in d.checked.findings]
    if not findings:
        return ""
    ways = [f'"cvlib explain {findings[0].code}" for a code']
    if not asked.why:
        ways.append("--why for sources")
    if not asked.everything:
        ways.append("--all unfolds")
    return f"{', '.join(ways)}."
