"""Where disputed settings may live: settings that moved together, and how likely each side is.

At a disputed firmware some handbook is older and some is newer. Settings that moved between the
two together are one bundle: each bundle is laid out as the older side says, or as the newer. All
older and all newer are the likeliest layouts; a mixed one is possible.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import exp, log

from cvlib.engine.bench.expect import ABSENT, UNKNOWN, Expectation, Terms, seen
from cvlib.engine.bench.sheets import Chosen, sheet_of
from cvlib.engine.bench.units import MIXED, is_open
from cvlib.engine.bench.weigh import LEAST, Read, gathered
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.cv import Slot
from cvlib.model.facet import same_meaning
from cvlib.model.profile import Place, Profile, Setting, group_of, is_about
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion

ALL_OLDER = ALL_NEWER = (1 - MIXED) / 2
"""How likely it is that every bundle is as the older side says, or as the newer."""
TEST_IS_RIGHT = 0.95
"""How likely a behaviour test shows what is true."""
MOST_BUNDLES = 7
"""How many open bundles are planned for at once; the others wait."""


@dataclass(frozen=True, slots=True)
class Side:
    """One way in which the settings of a bundle may be laid out."""

    firmware: str
    """The firmware whose handbooks say so, in the spelling of profiles; empty where a bench test
    or no handbook at all is behind it."""
    places: Mapping[str, Place | None]
    """The place of each setting; nothing where this side does not have it."""
    is_unknown: bool = False
    """Whether it stands for anything else than the other sides; it names no place then."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a behaviour test of one setting showed."""

    setting: str
    side: int | None
    """The side whose place worked; nothing where the test showed nothing."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """Settings that moved together."""

    settings: tuple[str, ...]
    sides: tuple[Side, ...]
    """Two or more, the older firmware first."""
    slots: tuple[Slot, ...]
    """Every CV that any side uses, in order."""
    expected: tuple[Mapping[Slot, Expectation], ...]
    """For each side what each of the CVs may answer."""
    known: tuple[Tried, ...] = ()
    """What bench tests in the profile have shown of settings that moved together with these."""


@dataclass(frozen=True, slots=True)
class Disputed:
    """The disputed settings of a profile at one firmware."""

    profile: Profile
    version: FirmwareVersion
    bundles: tuple[Bundle, ...]
    """The largest first."""
    shares: tuple[float, float, float] = (ALL_OLDER, ALL_NEWER, MIXED)
    """How likely it is that every bundle is as the first side says, as the last, and mixed."""

    leaning: tuple[float, ...] = ()
    """How likely each side of a bundle is where it is mixed; empty: all are alike."""

    def lean(self, sides: int) -> tuple[float, ...]:
        """How likely each of so many sides is where it is mixed."""
        return self.leaning or (1 / sides,) * sides

    @property
    def is_outside(self) -> bool:
        """Whether no handbook says anything else than the nearest one, and none covers it."""
        return any(side.is_unknown for bundle in self.bundles for side in bundle.sides)


@dataclass(frozen=True, slots=True)
class Layout:
    """A side for each bundle, and whether the decoder answers for CVs it does not use."""

    sides: tuple[int, ...]
    is_open_minded: bool
    chance: float


def disputed_at(resolver: Resolver, version: FirmwareVersion) -> Disputed:
    """The disputed settings of a firmware, put together as they moved."""
    answers = resolver.at(version)
    disputed = {name: _open(answer) for name, answer in answers.items() if answer.candidates}
    known = {name: found for name, answer in answers.items() if (found := _shown(answer))}
    settings = resolver.profile.settings
    count = max((len(answer.candidates) for answer in disputed.values()), default=0)
    chosen = [_chosen(answers, at) for at in range(count)]
    sheets = [sheet_of(settings, one) for one in chosen]
    beside = {name: answers[name].beside for name in known}
    moved = disputed | {name: answer for name, answer in beside.items() if answer is not None}
    bundles: list[Bundle] = []
    for group in together(settings, moved):
        names = tuple(name for name in group if name in disputed)
        shown = tuple(known[name] for name in group if name in known)
        if names:
            bundles += _one_by_one(_bundle(resolver, names, disputed, sheets, shown), ())
    bundles.sort(key=lambda held: (-len(held.settings), held.settings))
    return Disputed(resolver.profile, version, tuple(bundles))


def narrowed(disputed: Disputed, tests: Sequence[Tried], about: Sequence[str] = ()) -> Disputed:
    """What is disputed, as far as it is asked about; settings one by one where tests show that some
    of those that moved together lie as one side says and some as another.
    """
    bundles = [
        bundle
        for bundle in disputed.bundles
        if not about or any(is_about((one,), name) for one in about for name in bundle.settings)
    ]
    split = [held for bundle in bundles for held in _one_by_one(bundle, tests)]
    kept = [held for held in split if not about or any(is_about(about, n) for n in held.settings)]
    return replace(disputed, bundles=tuple(kept))


def _one_by_one(bundle: Bundle, tests: Sequence[Tried]) -> Iterator[Bundle]:
    own = [test for test in tests if test.setting in bundle.settings]
    shown = {test.side for test in (*bundle.known, *own) if test.side is not None}
    if len(shown) < 2 or len(bundle.settings) < 2:
        yield bundle
        return
    used = {name: _used(bundle, name) for name in bundle.settings}
    for name in bundle.settings:
        # A CV that another of them uses as well tells of neither alone.
        alone = used[name].difference(*(held for other, held in used.items() if other != name))
        yield Bundle(
            (name,),
            tuple(
                replace(side, places={name: side.places[name]} if side.places else {})
                for side in bundle.sides
            ),
            tuple(slot for slot in bundle.slots if slot in alone),
            tuple({s: one for s, one in held.items() if s in alone} for held in bundle.expected),
            tuple(test for test in bundle.known if test.setting == name),
        )


def _used(bundle: Bundle, name: str) -> set[Slot]:
    """The CVs that a setting uses on any side."""
    places = (side.places.get(name) for side in bundle.sides)
    return {part.slot for place in places if place is not None for part in place.fields}


def _open(answer: Answer) -> Answer:
    """A dispute as the handbooks leave it, where a bench test only took candidates out of it."""
    beside = answer.beside
    return beside if beside is not None and beside.candidates else answer


def _shown(answer: Answer) -> Tried | None:
    """The side that a bench test in the profile speaks for, where the handbooks leave it open."""
    beside, place = answer.beside, answer.place
    if beside is None or len(beside.candidates) != 2:
        return None
    if answer.is_disputed:
        left = [held in answer.candidates for held in beside.candidates]
        return Tried(answer.setting, left.index(True)) if sum(left) == 1 else None
    if place is None:
        return None
    same = [held is not None and same_meaning(held, place) for held in beside.candidates]
    if sum(same) != 1:
        return None
    works = answer.standing is Standing.BENCH
    return Tried(answer.setting, same.index(works))


class Belief:
    """How likely each side of each bundle is, after reads and behaviour tests."""

    def __init__(
        self,
        disputed: Disputed,
        reads: Iterable[Read] = (),
        terms: Terms | None = None,
        tests: Iterable[Tried] = (),
    ) -> None:
        self.disputed = disputed
        self.terms = terms or Terms()
        self.answers = gathered(reads)
        results = tuple(tests)
        self._traits = [
            _Trait(disputed, self.answers, self.terms, results, is_open_minded)
            for is_open_minded in (False, True)
        ]
        whole = sum(trait.weight for trait in self._traits) or 1.0
        self._shares = [trait.weight / whole for trait in self._traits]

    def chances(self, bundle: int) -> tuple[float, ...]:
        """How likely each side of a bundle is."""
        columns = [trait.chances(bundle) for trait in self._traits]
        return tuple(
            sum(share * column[at] for share, column in zip(self._shares, columns, strict=True))
            for at in range(len(columns[0]))
        )

    def own(self, bundle: int) -> tuple[float, ...]:
        """How likely each side would be by the reads and tests of the bundle's own CVs alone."""
        found = [0.0] * len(self.disputed.bundles[bundle].sides)
        for trait, share in zip(self._traits, self._shares, strict=True):
            held = trait.likely[bundle]
            for at, one in enumerate(held):
                found[at] += share * one / sum(held)
        return tuple(found)

    def layouts(self, settled: float) -> list[Layout]:
        """The layouts still in question, with every bundle that is settled held fixed.

        Of more than ``MOST_BUNDLES`` open bundles the most doubtful ones are varied.
        """
        chances = [self.chances(at) for at in range(len(self.disputed.bundles))]
        open_ones = [at for at, held in enumerate(chances) if max(held) < settled]
        open_ones.sort(key=lambda at: max(chances[at]))
        varied = set(open_ones[:MOST_BUNDLES])
        ways = [
            range(len(held)) if at in varied else (held.index(max(held)),)
            for at, held in enumerate(chances)
        ]
        found = []
        for sides in product(*ways):
            for trait, share in zip(self._traits, self._shares, strict=True):
                chance = share * trait.layout(sides, varied)
                found.append(Layout(sides, trait.is_open_minded, chance))
        whole = sum(held.chance for held in found) or 1.0
        return [Layout(held.sides, held.is_open_minded, held.chance / whole) for held in found]


class _Trait:
    """The belief for decoders that do, or do not, answer for CVs they do not use."""

    def __init__(
        self,
        disputed: Disputed,
        answers: Mapping[Slot, tuple[int, ...]],
        terms: Terms,
        tests: Sequence[Tried],
        is_open_minded: bool,
    ) -> None:
        self.is_open_minded = is_open_minded
        self.disputed = disputed
        logs = [
            [_side_log(bundle, side, answers, terms, tests, is_open_minded)
             for side in range(len(bundle.sides))]
            for bundle in disputed.bundles
        ]  # fmt: skip
        tops = [max(held) for held in logs]
        self.likely = [
            [exp(one - top) for one in held] for held, top in zip(logs, tops, strict=True)
        ]
        share = terms.model.open_minded
        self.modes = self._modes()
        scale = exp(max(sum(tops), -600.0))
        self.weight = (share if is_open_minded else 1 - share) * sum(self.modes) * scale

    def _modes(self) -> tuple[float, float, float]:
        """The weights of all older, all newer and mixed."""
        older = newer = mixed = 1.0
        for held in self.likely:
            older *= held[0]
            newer *= held[-1]
            mixed *= self._mean(held)
        shares = self.disputed.shares
        return shares[0] * older, shares[1] * newer, shares[2] * mixed

    def _mean(self, held: Sequence[float]) -> float:
        """How likely the answers of a bundle are where it is mixed."""
        lean = self.disputed.lean(len(held))
        return sum(part * one for part, one in zip(lean, held, strict=True))

    def chances(self, bundle: int) -> tuple[float, ...]:
        """How likely each side of a bundle is."""
        held = self.likely[bundle]
        older, newer, mixed = self.modes
        lean, whole = self.disputed.lean(len(held)), self._mean(held)
        found = [mixed * part * one / whole for part, one in zip(lean, held, strict=True)]
        found[0] += older
        found[-1] += newer
        whole = sum(found) or 1.0
        return tuple(one / whole for one in found)

    def layout(self, sides: tuple[int, ...], varied: set[int]) -> float:
        """How likely one layout is beside others that differ in the varied bundles."""
        older, newer, mixed = self.disputed.shares
        for at, (side, held) in enumerate(zip(sides, self.likely, strict=True)):
            if at not in varied:
                older *= held[0]
                newer *= held[-1]
                mixed *= self._mean(held)
                continue
            mixed *= held[side] * self.disputed.lean(len(held))[side]
            older *= held[side] if side == 0 else 0.0
            newer *= held[side] if side == len(held) - 1 else 0.0
        return older + newer + mixed


def _side_log(
    bundle: Bundle,
    side: int,
    answers: Mapping[Slot, tuple[int, ...]],
    terms: Terms,
    tests: Sequence[Tried],
    is_open_minded: bool,
) -> float:
    """The logarithm of how likely the reads and tests of a bundle are on one side."""
    found = 0.0
    for slot, held in bundle.expected[side].items():
        if slot in answers:
            chance = seen(held, answers[slot], terms, open_minded=is_open_minded)
            found += log(max(chance, LEAST))
    own = (test for test in tests if test.setting in bundle.settings)
    for test in (*bundle.known, *own):
        if test.side is not None:
            others = (1 - TEST_IS_RIGHT) / (len(bundle.sides) - 1)
            found += log(TEST_IS_RIGHT if test.side == side else others)
    return found


def _chosen(answers: Mapping[str, Answer], at: int) -> Chosen:
    return {
        name: answer.candidates[min(at, len(answer.candidates) - 1)]
        if answer.candidates
        else answer.place
        for name, answer in answers.items()
    }


def together(
    settings: Mapping[str, Setting], disputed: Mapping[str, Answer], *, by_origin: bool = True
) -> Iterator[tuple[str, ...]]:
    """The disputed settings in bundles.

    Two belong together when their sides use bits of one CV, or when they moved in the same gap
    and are of one group, or, ``by_origin``, came with one block.
    """
    joined = {name: name for name in disputed}

    def root(name: str) -> str:
        while joined[name] != name:
            name = joined[name]
        return name

    for keys in (_by_slot(disputed), _by_kin(settings, disputed, by_origin)):
        for names in keys.values():
            for other in names[1:]:
                joined[root(other)] = root(names[0])
    bundles: dict[str, list[str]] = {}
    for name in disputed:
        bundles.setdefault(root(name), []).append(name)
    yield from (tuple(sorted(names)) for names in bundles.values())


def _by_slot(disputed: Mapping[str, Answer]) -> dict[object, list[str]]:
    found: dict[object, list[str]] = {}
    for name, answer in disputed.items():
        for place in answer.places():
            for part in place.fields:
                found.setdefault(part.slot, []).append(name)
    return found


def _by_kin(
    settings: Mapping[str, Setting], disputed: Mapping[str, Answer], by_origin: bool
) -> dict[object, list[str]]:
    found: dict[object, list[str]] = {}
    for name, answer in disputed.items():
        gap = answer.trace.firmware.spans
        found.setdefault((gap, "group", group_of(name)), []).append(name)
        if by_origin and settings[name].origin:
            found.setdefault((gap, "origin", settings[name].origin), []).append(name)
    return found


def _bundle(
    resolver: Resolver,
    names: Sequence[str],
    disputed: Mapping[str, Answer],
    sheets: Sequence[Mapping[Slot, Expectation]],
    known: tuple[Tried, ...],
) -> Bundle:
    count = max(len(disputed[name].candidates) for name in names)
    sides = tuple(_side(resolver, names, disputed, at, count) for at in range(count))
    used = {
        part.slot for name in names for place in disputed[name].places() for part in place.fields
    }
    slots = tuple(sorted(used, key=lambda slot: slot.order))
    pages = resolver.profile.pages
    expected = tuple(
        {
            slot: sheets[at].get(slot) or (UNKNOWN if is_open(slot, pages) else ABSENT)
            for slot in slots
        }
        for at in range(count)
    )
    return Bundle(tuple(names), sides, slots, expected, known)


def _side(
    resolver: Resolver,
    names: Sequence[str],
    disputed: Mapping[str, Answer],
    at: int,
    count: int,
) -> Side:
    places = {}
    for name in names:
        candidates = disputed[name].candidates
        places[name] = candidates[min(at, len(candidates) - 1)]
    return Side(_firmware(resolver, disputed[names[0]], at, count), places)


def _firmware(resolver: Resolver, answer: Answer, at: int, count: int) -> str:
    """The covered firmware on one side of the gap that an answer lies in."""
    if answer.trace.rule != 3 or count != 2:
        return ""
    gap, coverage = answer.trace.firmware, resolver.coverage_of(answer.setting)
    for span in coverage.spans:
        if (span[1] == gap.oldest) if at == 0 else (span[0] == gap.end):
            return FirmwareRange(coverage.scheme, (span,), coverage.spelt).text()
    return ""


def bundle_of(disputed: Disputed, setting: str) -> int | None:
    """The number of the bundle a setting belongs to, or nothing where it is not disputed."""
    for at, bundle in enumerate(disputed.bundles):
        if setting in bundle.settings:
            return at
    return None
