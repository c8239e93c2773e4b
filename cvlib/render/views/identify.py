"""Which decoder this is, as blocks: the answer, what speaks for and against, what to read next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cvlib.engine.bench.evidence import Evidence, Ground
from cvlib.engine.bench.identification import Identification, Told
from cvlib.engine.bench.identify import Candidate, Fit, Identified, Unsure, Verdict
from cvlib.engine.bench.next_read import Suggestion
from cvlib.engine.bench.situation import Hint
from cvlib.engine.bench.weigh import gathered
from cvlib.engine.known.line import Known
from cvlib.render.phrases import counted, firmware_words, in_firmware, listed
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)
from cvlib.render.views.bench_words import (
    AIMS,
    HINTS,
    answer_words,
    answers_words,
    page_step,
    share_words,
)

FEW_CANDIDATES = 6
"""Candidates shown in the table unless everything is asked for."""
FEW_REASONS = 6
"""Reasons shown for and against each candidate."""
MOST_TOLD = 3
"""Candidates whose reasons are told one by one."""

_LIES = {
    Known.COVERED: "",
    Known.GAP: "between the handbooks",
    Known.BEFORE: "before all handbooks",
    Known.BEYOND: "newer than all handbooks",
}
_FITS = {
    Fit.FITS: "fits",
    Fit.UNLIKELY: "unlikely",
    Fit.MISREAD: "only if misread",
}
_UNSURE = {
    Unsure.MAKER: "CV 8, the manufacturer ID, was not read.",
    Unsure.PRODUCT: "no answer that says which type it is was read.",
    Unsure.UNDESCRIBED: "a decoder that no profile describes may answer like this as well.",
    Unsure.OTHERS: "others are too likely still.",
    Unsure.SHARED: "two decoders may have answered at once.",
}
NEAR = 0.5
"""A candidate so many times less likely than the best one is named beside it."""


def view(result: Identification, *, everything: bool = False) -> list[Block]:
    """What the reads or saved values say about which decoder and firmware they are of."""
    found = result.found
    blocks: list[Block] = [Heading(_title(result), 1), Paragraph(plain(_asked(result))), Gap()]
    blocks.append(_answer(result))
    shown = _shown(found.candidates, everything)
    if shown and (len(found.candidates) > 1 or found.verdict is not Verdict.ONE):
        blocks += [Gap(), _table(shown, found)]
    most = 0 if found.verdict is Verdict.SILENT else MOST_TOLD
    told = result.told if everything else result.told[:most]
    for one in told:
        blocks += [Gap(), *_reasons(one, everything=everything)]
    if result.is_saved:
        blocks += _saved(result)
    else:
        blocks += _beside(found)
    blocks += hint_blocks(result.hints)
    if result.suggestions:
        blocks += [Gap(), Heading("Read next"), *_next(result.suggestions)]
    blocks += _way_on(result)
    for fault in result.faults:
        blocks += [Gap(), Paragraph((Piece("note", Role.NOTE), Piece(f": left out: {fault}")))]
    return blocks


def _title(result: Identification) -> str:
    if result.is_saved:
        return f"{result.name or 'Saved values'}: which firmware they were saved for"
    return "Which decoder this is"


def _asked(result: Identification) -> str:
    answers = gathered(result.found.reads)
    silent = sum(not read.is_answered for read in result.found.reads)
    what = "values" if result.is_saved else "answers"
    said = (
        f"{counted(len(answers), 'CV')} with {what}"
        if result.is_saved
        else counted(len(answers), "CV") + " read"
    )
    none = f", {silent} of them without an answer" if silent else ""
    where = (
        f"the firmware of {result.profile}"
        if result.profile
        else f"{counted(result.found.count, 'profile')} with all their firmware"
    )
    return f"{said}{none}; held against {where}."


def _answer(result: Identification) -> Paragraph:
    found = result.found
    match found.verdict:
        case Verdict.ONE:
            best = found.fitting[0]
            return Paragraph(
                (
                    Piece("One fits", Role.GOOD),
                    Piece(": "),
                    Piece(f"{best.maker} {best.name}".strip(), Role.STRONG),
                    Piece(" ("),
                    Piece(best.profile, Role.CODE),
                    Piece(f"), {firmware_of(best)}."),
                )
            )
        case Verdict.SILENT:
            return _warned("Nothing was answered", _silent(found))
        case Verdict.NONE:
            return _warned("No profile fits", _none(found))
    if not found.reads:
        return _warned("Nothing was read yet", "every decoder is possible.")
    if len(found.fitting) == 1:
        best = found.fitting[0]
        name = f"{best.profile}, {firmware_of(best)} ({share_words(best.chance)})"
        why = f" Not sure, because {_UNSURE[found.unsure]}" if found.unsure else ""
        return _warned("One is left, but not sure", f"{name}.{why}")
    profiles = {held.profile for held in found.fitting}
    count = len(found.fitting)
    one = f"{counted(count, 'generation')} of one decoder, {next(iter(profiles))}"
    many = f"{count} generations of {counted(len(profiles), 'decoder')}"
    return _warned("Several fit", f"{one if len(profiles) == 1 else many}.")


def _warned(first: str, rest: str) -> Paragraph:
    return Paragraph((Piece(first, Role.WARNING), Piece(f": {rest}")))


def _silent(found: Identified) -> str:
    usual = "most decoders answer these CVs, so this one probably cannot answer where it stands"
    if found.fitting:
        names = listed(list(dict.fromkeys(held.profile for held in found.fitting)), 3)
        return f"{usual}. If it can, only {names} stays silent here."
    return f"{usual}."


def _none(found: Identified) -> str:
    if found.fitting:
        return "far more likely than all that could fit is a decoder that no profile describes."
    near = [held for held in found.candidates if held.fit is Fit.MISREAD]
    if not near or found.stranger >= 0.5:
        return "more likely than any of them is a decoder that no profile describes."
    best = near[0]
    close = [held for held in near if held.chance >= NEAR * best.chance]
    wrong = counted(best.misread, "answer was", "answers were")
    if len(close) > MOST_TOLD:
        return f"only if {wrong} misread could it be one of those that stand here, or of others."
    names = listed([in_short(held) for held in close], MOST_TOLD, "or")
    other = ""
    if found.stranger >= 0.01:
        other = f" A decoder that no profile describes: {share_words(found.stranger)} likely."
    return f"only if {wrong} misread could it be {names}.{other}"


def in_short(candidate: Candidate) -> str:
    """A candidate as its profile and firmware."""
    return f"{candidate.profile}, {firmware_of(candidate)}"


def firmware_of(candidate: Candidate) -> str:
    """The firmware of a candidate in words: one release, several, or one that nobody listed."""
    releases = candidate.releases
    lies = _LIES[candidate.known]
    tail = f" ({lies})" if lies else ""
    if len(releases) == 1:
        return f"firmware {releases[0]}{tail}"
    if releases:
        return f"firmware {listed(list(releases), 4, 'or')}{tail}"
    if candidate.spelt:
        return f"firmware {candidate.spelt}, which no list has{tail}"
    return f"unlisted firmware {firmware_words(candidate.stretch)}{tail}"


def _shown(candidates: Iterable[Candidate], everything: bool) -> list[Candidate]:
    held = list(candidates)
    if everything:
        return held
    fitting = [one for one in held if one.fit is Fit.FITS][:FEW_CANDIDATES]
    others = [one for one in held if one.fit is not Fit.FITS]
    return fitting or others[:MOST_TOLD]


def _table(shown: list[Candidate], found: Identified) -> Table:
    columns = (
        Column("decoder"),
        Column("firmware"),
        Column("likely", numeric=True, shrinks=False),
        Column("", shrinks=False),
    )
    rows = tuple(
        (
            (Piece(held.profile, Role.CODE),),
            plain(firmware_of(held).removeprefix("firmware ")),
            plain(share_words(held.chance)),
            (Piece(_FITS[held.fit], Role.GOOD if held.fit is Fit.FITS else Role.WARNING),),
        )
        for held in shown
    )
    left = len(found.candidates) + found.left_out - len(shown)
    caption = f"{left} more, less likely; --all lists them." if left > 0 else ""
    return Table(columns, rows, caption)


def _reasons(told: Told, *, everything: bool) -> Iterator[Block]:
    held = told.candidate
    yield Heading(f"{held.profile}, {firmware_of(held)}")
    most = None if everything else FEW_REASONS
    good = [one for one in told.evidence if one.bits > 0]
    bad = [one for one in reversed(told.evidence) if one.bits < 0]
    for name, role, found in (("For", Role.GOOD, good), ("Against", Role.WARNING, bad)):
        for one in found[:most]:
            words = reason_words(one, told.titles.get(one.slot, ()))
            yield Paragraph((Piece(name, role), Piece(f": {words}")), indent=2, hang=4)
        if most is not None and len(found) > most:
            left = len(found) - most
            speak = counted(left, "more that speaks", "more that speak")
            more = f"{speak} {name.lower()} it; --all tells {'it' if left == 1 else 'them'}."
            yield Paragraph((Piece(more, Role.FAINT),), indent=2)


def reason_words(one: Evidence, titles: tuple[str, ...]) -> str:
    """Why the answers of one CV speak for or against a candidate."""
    answers = listed([answer_words(answer) for answer in one.answers], last="then")
    subject = f"{one.slot} = {answers}" if one.answers[-1] < 256 else f"{one.slot}: {answers}"
    name = f" ({listed(list(titles), 2)})" if titles else ""
    return f"{subject}{name}: {_because(one)}"


def _because(one: Evidence) -> str:
    expected = answers_words(one.expected) if one.expected else ""
    is_for, silent = one.bits > 0, one.answers[-1] > 255
    match one.ground:
        case Ground.IDENTITY:
            return "that is what it answers." if is_for else f"it answers {expected}."
        case Ground.NEVER:
            return "it never answers this CV." if is_for else "it gives no answer here."
        case Ground.NOT_USED:
            return "this firmware does not use the CV." if silent else "no setting lives here."
        case Ground.HELD:
            return "this firmware has the CV and should answer."
        case Ground.FACTORY_VALUE:
            return "the factory value."
        case Ground.CHANGED:
            return f"allowed; the factory value is {expected}."
        case Ground.IN_RANGE:
            return "an allowed value."
        case Ground.BESIDE_RANGE:
            return f"not allowed; the handbook has {expected}."
        case Ground.UNCERTAIN:
            return "the handbooks leave open what it answers."


def _beside(found: Identified) -> Iterator[Block]:
    """Near misses of a clear answer, which a second look would rule out."""
    near = [held for held in found.candidates if held.fit is Fit.MISREAD]
    if found.verdict is Verdict.ONE and near:
        best = near[0]
        yield Gap()
        yield Paragraph(
            plain(
                f"If an answer was misread it could also be {best.profile}, {firmware_of(best)} "
                f"({share_words(best.chance)})."
            )
        )
    if found.verdict is Verdict.SEVERAL and found.reads and found.stranger >= 0.01:
        yield Gap()
        yield Paragraph(
            plain(f"A decoder that no profile describes: {share_words(found.stranger)} likely.")
        )


def _way_on(result: Identification) -> Iterator[Block]:
    """What remains where no read tells any more, and where probe goes on."""
    found, fitting = result.found, result.found.fitting
    asked = result.is_saved or found.verdict is Verdict.SILENT or not found.reads
    is_open = found.verdict is Verdict.SEVERAL and not result.suggestions
    if not asked and is_open and found.unsure is not Unsure.SHARED:
        yield Gap()
        yield Paragraph(plain(_no_read(result)))
    if len(fitting) != 1 or result.is_saved or found.verdict is not Verdict.ONE:
        return
    (best,) = fitting
    if best.known is not Known.COVERED and len(best.releases) == 1:
        yield Gap()
        yield Paragraph(
            (
                Piece("No handbook covers this firmware. What is doubtful there, tells "),
                Piece(
                    f"cvlib probe --profile {best.profile} --firmware {best.releases[0]}", Role.CODE
                ),
                Piece("."),
            )
        )


def _no_read(result: Identification) -> str:
    fitting = result.found.fitting
    if len(fitting) == 1:
        return "No further read would make sure of it."
    profiles = {held.profile for held in fitting}
    if len(profiles) > 1:
        return "No further read tells them apart."
    firmware = listed([name for held in fitting for name in held.releases], 6, "or")
    said = f"the handbook or the maker may: --firmware {firmware}" if firmware else "the maker may"
    return (
        "No further read tells them apart. Where you know the firmware otherwise, go on with "
        f"cvlib probe --profile {fitting[0].profile} --firmware …; {said}."
    )


def _saved(result: Identification) -> Iterator[Block]:
    """What tells the generation from the nearest other one, and what the version CVs say."""
    if result.versus:
        titles = result.told[0].titles
        told = [one for one in result.versus if one.bits >= 1][:FEW_REASONS]
        yield Gap()
        yield Heading(f"What tells it from the values of {_version_words(result.rival)}")
        for one in told:
            words = reason_words(one, titles.get(one.slot, ()))
            yield Paragraph(plain(words), indent=2, hang=4)
        if not told:
            yield Paragraph(plain("No value tells them apart."), indent=2)
    fitting = result.found.fitting
    named = {release for held in fitting for release in held.releases}
    if result.version and fitting and result.version not in named:
        yield Gap()
        yield Paragraph(
            (
                Piece("note", Role.NOTE),
                Piece(
                    f": the version CVs among the values name firmware {result.version}. Most "
                    "likely the settings were saved before an update."
                ),
            ),
            hang=2,
        )


def _version_words(stretch: str) -> str:
    return in_firmware(stretch).removeprefix("in ")


def hint_blocks(hints: Iterable[Hint]) -> Iterator[Block]:
    """What to do first or to beware of, one paragraph each."""
    for hint in hints:
        yield Gap()
        yield Paragraph((Piece("note", Role.NOTE), Piece(f": {HINTS[hint]}")), hang=2)


def _next(suggestions: Iterable[Suggestion]) -> Iterator[Block]:
    for at, held in enumerate(suggestions):
        line = (
            Piece(f"{at + 1}. "),
            Piece(str(held.slot), Role.STRONG),
            Piece(f": {AIMS[held.aim]}."),
        )
        yield Paragraph(line, indent=2, hang=3)
        step = page_step(held.slot)
        if step and at == 0:
            yield Paragraph(plain(step), indent=5)


def in_words(candidate: Candidate) -> str:
    """A candidate in one phrase, for trees and messages."""
    return f"{candidate.profile} {in_firmware(candidate.stretch)}"
