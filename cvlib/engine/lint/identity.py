"""Who a decoder says it is: profiles that are taken for one another, and answers that cannot be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from cvlib.engine.bench.expect import Expectation, Keeping
from cvlib.engine.bench.sheets import sheet_of
from cvlib.engine.known.identity import Expected, expected_answers
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.lint.finding import LintFinding, LintRule, Spot, Subject, Whole, join
from cvlib.engine.lint.places import WRITTEN
from cvlib.findings.catalogue import Severity
from cvlib.model.cv import WHOLE, Field, Slot
from cvlib.model.profile import Answered, Place, Profile
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion


class _Row(NamedTuple):
    """One release of a profile, and the values it may answer where identity says so, as sets."""

    profile: str
    version: FirmwareVersion
    answers: dict[Slot, int]


def unidentified(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Decoder types of which nothing is said by which they could be known."""
    for id, profile in whole.profiles.items():
        if profile.kind != "standard" and _says_nothing(profile):
            yield (
                id,
                LintFinding(
                    Spot("identity"),
                    f'Nothing is said of what "{id}" answers when it is asked who it is.',
                    "Give the manufacturer ID of CV 8 and a product answer, or list CV 8 under "
                    "no-answer.",
                ),
            )


def shared_identities(whole: Whole) -> Iterator[tuple[str, LintFinding]]:
    """Profiles that no identity answer tells from another one, at some release of each.

    The CVs of both are asked: manufacturer, version, product answers and CVs that give no answer.
    """
    rows = list(_rows(whole))
    alike = _alike(rows, whole.profiles)
    sheets = _Sheets(whole.profiles)
    found: dict[tuple[str, str], tuple[list[str], list[str]]] = {}
    for one, other in alike:
        mine, theirs = rows[one], rows[other]
        if whole.about is not None and whole.about.isdisjoint((mine.profile, theirs.profile)):
            continue
        if not (sheets.may_show(mine, theirs) and sheets.may_show(theirs, mine)):
            continue
        if sheets.differ(mine, theirs):
            continue
        for a, b in ((mine, theirs), (theirs, mine)):
            held, beside = found.setdefault((a.profile, b.profile), ([], []))
            held.append(a.version.text)
            beside.append(b.version.text)
    taken_for: dict[str, list[str]] = {}
    for id, name in sorted(found):
        taken_for.setdefault(id, []).append(name)
    for id, names in taken_for.items():
        versions, beside = found[id, names[0]]
        more = f", and like {_listed(names[1:])}" if names[1:] else ""
        yield (
            id,
            LintFinding(
                Spot("identity"),
                f'"{id}" at {_listed(versions)} answers like "{names[0]}" at {_listed(beside)}'
                f"{more}; one is taken for the other.",
                "Add an answer that only one of them gives, with its CV and value.",
                Spot("identity"),
                names[0],
            ),
        )


def contradicted_answers(subject: Subject) -> Iterator[LintFinding]:
    """Identity answers that the profile's own settings, or its versions, do not allow."""
    yield from _against_settings(subject)
    yield from _against_versions(subject)
    yield from _against_silence(subject)
    yield from _against_parts(subject)


def _against_settings(subject: Subject) -> Iterator[LintFinding]:
    """Answers that a read-only place on the same CV cannot give."""
    for answer in subject.profile.identity.answers:
        if answer.mask != WHOLE:
            continue
        for (name, allowed), known in _read_only(subject, answer.slot).items():
            common = known if answer.firmware is None else known & answer.firmware
            values = range(answer.low, answer.high + 1)
            if common.is_empty() or any(allowed >> value & 1 for value in values):
                continue
            shown = str(answer.low) if answer.low == answer.high else f"{answer.low}-{answer.high}"
            yield LintFinding(
                _spot(subject, answer),
                f'{_name(answer.slot)} answers {shown} by the identity, but "{name}" there '
                f"can only be {_shown(allowed)} at {common.text()}.",
                "Correct the answer or the setting.",
            )
    maker = subject.profile.identity.manufacturer
    if maker is None or maker > WHOLE:
        return
    for name, allowed in _read_only(subject, Slot(8)):
        if not allowed >> maker & 1:
            yield LintFinding(
                Spot("identity", _name(Slot(8)), key=("manufacturer",)),
                f'The manufacturer ID is {maker}, but "{name}" in CV 8 can only be '
                f"{_shown(allowed)}.",
                "Correct one of the two.",
            )


def _against_versions(subject: Subject) -> Iterator[LintFinding]:
    """Answers that differ from what a release answers for its version."""
    profile = subject.profile
    found: dict[Slot, tuple[Answered, list[str], Expected]] = {}
    for release in profile.releases:
        told: dict[Slot, list[Answered]] = {}
        for answer in profile.identity.answers:
            if answer.firmware is None or release.version in answer.firmware:
                told.setdefault(answer.slot, []).append(answer)
        expected = expected_answers(profile, release.version) if told else {}
        for slot, answers in told.items():
            held = expected.get(slot)
            values = _values(held) if held is not None else 0
            if held is None or any(values & _answer_values(answer) for answer in answers):
                continue
            found.setdefault(slot, (answers[0], [], held))[1].append(release.version.text)
    for slot, (answer, versions, held) in found.items():
        yield LintFinding(
            _spot(subject, answer),
            f"{_name(slot)} answers {held} at {_listed(versions)} to tell its version, which the "
            "identity answer of the same CV does not allow.",
            "Correct the answer, limit it to its firmware, or give the release its own answers.",
        )


def _against_silence(subject: Subject) -> Iterator[LintFinding]:
    """CVs that give no answer though the decoder must have them."""
    profile = subject.profile
    silent = {Slot(cv): at for at, cv in enumerate(profile.identity.no_answer)}
    if not silent:
        return
    telling = {part.field.slot: "a part of the version" for part in profile.parts}
    telling |= {answer.slot: "an answer of the identity" for answer in profile.identity.answers}
    for slot, at in silent.items():
        what = telling.get(slot) or _always_there(subject, slot)
        if what:
            yield LintFinding(
                Spot("identity", _name(slot), key=("no-answer", at)),
                f"{_name(slot)} is said to give no answer, but holds {what}.",
                "Correct one of the two.",
            )


def _against_parts(subject: Subject) -> Iterator[LintFinding]:
    """Releases whose version does not fit into the CVs that answer it."""
    profile = subject.profile
    parts = {part.field.slot for part in profile.parts}
    for release in profile.releases:
        unfit = parts - expected_answers(profile, release.version).keys()
        if unfit and not release.answers:
            named = " and ".join(sorted(_name(slot) for slot in unfit))
            yield LintFinding(
                Spot("firmware.release", release.version.text, key=("version",)),
                f"Release {release.version.text} cannot be answered: {named} cannot hold its part "
                "of the version.",
                'Correct the version or the parts, or say in "answers" of the release what it '
                "really answers.",
            )


def _always_there(subject: Subject, slot: Slot) -> str:
    """A setting that lives on a CV at every documented firmware, in words; empty where none."""
    covered = subject.resolver.coverage
    for setting, place in subject.resolver.users(slot):
        lives = FirmwareRange.nothing(covered.scheme)
        for held in setting.places:
            if not held.when and any(field.slot == slot for field in held.fields):
                lives |= subject.resolver.known(setting, held)
        if not place.when and not lives.is_empty() and (covered - lives).is_empty():
            return f'"{setting.id}" at every documented firmware'
    return ""


def _read_only(subject: Subject, slot: Slot) -> dict[tuple[str, int], FirmwareRange]:
    """Each setting that is a whole CV alone, always there and never written, with the bytes that
    it may show, as a set, and the firmware at which these are known.
    """
    names = dict.fromkeys(setting.id for setting, _ in subject.resolver.users(slot))
    found: dict[tuple[str, int], FirmwareRange] = {}
    for firmware, answers in subject.answers() if names else ():
        for name in names:
            place = answers[name].place
            if place is None or answers[name].standing not in WRITTEN:
                continue
            if place.marks.read_only and not place.when and place.fields == (Field(slot, WHOLE),):
                join(found, (name, _allowed(place)), firmware)
    return found


def _allowed(place: Place) -> int:
    """The bytes that a read-only place may show, as a set: its factory value alone, if known."""
    if place.default is not None and not place.marks.volatile:
        return 1 << place.default[0]
    return sum(1 << byte for byte in range(256) if place.coding.decode((byte,)).fault is None)


def _shown(values: int) -> str:
    held = [value for value in range(256) if values >> value & 1]
    return f"{held[0]}-{held[-1]}" if len(held) > 1 else ", ".join(map(str, held)) or "nothing"


def _spot(subject: Subject, answer: Answered) -> Spot:
    """Where an answer is written."""
    raw = subject.data.get("identity", {}).get("answers", ())
    page = str(answer.slot.page) if answer.slot.page else None
    for at, one in enumerate(raw):
        values = one.get("values") or [one.get("value", (one.get("range") or [None])[0])]
        if (one.get("cv"), one.get("page")) == (answer.slot.cv, page) and answer.low in values:
            return Spot("identity", _name(answer.slot), key=("answers", at))
    return Spot("identity", _name(answer.slot), key=("answers",))


def _name(slot: Slot) -> str:
    return str(slot)


def _listed(names: list[str]) -> str:
    """Some names in a row, each once; many are cut short."""
    held = list(dict.fromkeys(names))
    more = len(held) - 6
    return ", ".join(held[:6]) + (f" and {more} more" if more > 0 else "")


def _rows(whole: Whole) -> Iterator[_Row]:
    """Each release; of a profile that lists none one row, of which the version is not told."""
    for id, profile in whole.profiles.items():
        if profile.kind == "standard" or _says_nothing(profile):
            continue
        versions = [release.version for release in profile.releases]
        unknown = set() if versions else {part.field.slot for part in profile.parts}
        for version in versions or _first(profile):
            expected = expected_answers(profile, version)
            answers = {s: _values(held) for s, held in expected.items() if s not in unknown}
            yield _Row(id, version, answers)


def _first(profile: Profile) -> list[FirmwareVersion]:
    """The oldest firmware that a document names, where there is one."""
    coverage = Resolver(profile).coverage
    first = None if coverage.is_empty() else coverage.begins_with()
    return [] if first is None else [first]


def _says_nothing(profile: Profile) -> bool:
    identity = profile.identity
    return identity.manufacturer is None and not identity.answers and not identity.no_answer


def _alike(rows: list[_Row], profiles: Mapping[str, Profile]) -> Iterator[tuple[int, int]]:
    """Pairs of rows of two profiles whose identity answers do not contradict each other."""
    everyone = (1 << len(rows)) - 1
    told: dict[Slot, int] = dict.fromkeys((slot for row in rows for slot in row.answers), 0)
    held: dict[Slot, dict[int, int]] = {slot: {} for slot in told}
    silent: dict[Slot, int] = dict.fromkeys(told, 0)
    own: dict[str, int] = {}
    for at, row in enumerate(rows):
        own[row.profile] = own.get(row.profile, 0) | 1 << at
        for slot, values in row.answers.items():
            told[slot] |= 1 << at
            held[slot][values] = held[slot].get(values, 0) | 1 << at
        for cv in profiles[row.profile].identity.no_answer:
            if Slot(cv) in silent and Slot(cv) not in row.answers:
                silent[Slot(cv)] |= 1 << at
    for at, row in enumerate(rows):
        left = everyone & ~own[row.profile] & -(1 << at)
        for slot, values in row.answers.items():
            same = sum(mask for other, mask in held[slot].items() if other & values)
            left &= ~told[slot] & ~silent[slot] | same
        for cv in profiles[row.profile].identity.no_answer:
            left &= ~told.get(Slot(cv), 0)
        while left:
            other = (left & -left).bit_length() - 1
            left &= left - 1
            yield at, other


class _Sheets:
    """What settings may answer where identity says nothing, worked out once for each release."""

    def __init__(self, profiles: Mapping[str, Profile]) -> None:
        self._profiles = profiles
        self._resolvers: dict[str, Resolver] = {}
        self._made: dict[tuple[str, FirmwareVersion], dict[Slot, Expectation]] = {}

    def may_show(self, row: _Row, other: _Row) -> bool:
        """Whether a release may answer, and be silent, as another one does by its identity."""
        sheet = self._sheet(row)
        for slot, values in other.answers.items():
            if slot in row.answers:
                continue
            held = sheet.get(slot)
            if held is None or not held.legal & values:
                return False
        return not any(
            Slot(cv) in sheet and not sheet[Slot(cv)].is_loose
            for cv in self._profiles[other.profile].identity.no_answer
            if cv not in self._profiles[row.profile].identity.no_answer
        )

    def differ(self, row: _Row, other: _Row) -> bool:
        """Whether some CV that both have and nobody sets shows other values in each."""
        mine, theirs = self._sheet(row), self._sheet(other)
        return any(
            not mine[slot].is_loose
            and not theirs[slot].is_loose
            and mine[slot].keeping is theirs[slot].keeping is Keeping.MAKER
            and not mine[slot].legal & theirs[slot].legal
            for slot in mine.keys() & theirs.keys()
        )

    def _sheet(self, row: _Row) -> dict[Slot, Expectation]:
        key = (row.profile, row.version)
        if key not in self._made:
            profile = self._profiles[row.profile]
            resolver = self._resolvers.setdefault(row.profile, Resolver(profile))
            answers = resolver.at(row.version)
            places = {name: answer.place for name, answer in answers.items()}
            self._made[key] = sheet_of(profile.settings, places)
        return self._made[key]


@lru_cache(maxsize=1 << 12)
def _values(expected: Expected) -> int:
    """The values that an expectation allows, as a set."""
    return sum(1 << byte for byte in range(256) if expected.allows(byte, WHOLE))


def _answer_values(answer: Answered) -> int:
    shift = (answer.mask & -answer.mask).bit_length() - 1
    return sum(
        1 << byte
        for byte in range(256)
        if answer.low <= (byte & answer.mask) >> shift <= answer.high
    )


RULES = (
    LintRule(
        "not-identified",
        Severity.NOTE,
        "Nothing is said of what a decoder answers when it is asked who it is.",
        across=unidentified,
    ),
    LintRule(
        "shared-identity",
        Severity.WARNING,
        "Two profiles give the same answers when they are asked who they are.",
        across=shared_identities,
    ),
    LintRule(
        "answer-contradicts",
        Severity.ERROR,
        "An answer of the identity contradicts the settings or the versions of the profile.",
        contradicted_answers,
    ),
)
