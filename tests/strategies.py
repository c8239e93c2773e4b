"""What the laws are tried on: versions, ranges, codings, places, profiles and saved values.

The worlds are small on purpose: a few version numbers and a few CVs, so that edges meet, ranges
touch and settings collide often.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations_with_replacement

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy, composite

from coding_strategies import codings, numbers, parts_of
from cvlib.engine.account.check import Saved
from cvlib.model.coding import (
    Area,
    Choice,
    Coding,
    Fields,
    Flags,
    Number,
    SignForm,
    Switch,
)
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.conditions import Test, When
from cvlib.model.cv import Field, Page, Slot
from cvlib.model.named import NamedSpan
from cvlib.model.profile import (
    PLAIN,
    Advisory,
    Answered,
    Citation,
    DefaultCase,
    Identity,
    Marks,
    Place,
    Profile,
    Release,
    Setting,
    Source,
    SourceKind,
    Verdict,
    VersionPart,
)
from cvlib.model.ranges import FirmwareRange, in_order
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version
from make import read_whole

__all__ = ["codings", "numbers", "parts_of"]
"""Kinds of value, drawn in a file of their own and asked for here."""

schemes = st.sampled_from(Scheme)

SLOTS = (Slot(7), Slot(10), Slot(11), Slot(12), Slot(257, Page(0, 0)), Slot(257, Page(0, 1)))
"""The CVs that generated settings live on."""
NAMES = ("a.one", "a.two", "b.one", "output[1].x")
ABOUT: tuple[tuple[str, ...], ...] = ((), ("a",), ("a.one",), ("b", "output"))


# Versions and ranges


def dotted_texts(*, letters: bool = True) -> SearchStrategy[str]:
    """Dotted versions of one to three small parts, with a letter behind a part now and then."""
    suffixes = st.sampled_from(["", "", "", "a", "b", "z"] if letters else [""])
    parts = st.builds("{}{}".format, st.integers(0, 3), suffixes)
    return st.lists(parts, min_size=1, max_size=3).map(".".join)


DATES = (
    "2023-12",
    "2023-12-30",
    "2023-12-31",
    "2023-12-31z",
    "2024-01",
    "2024-01-01",
    "2024-01-01a",
    "2024-01-01b",
    "2024-02",
    "2024-02-28",
    "2024-02-29",
    "2024-03",
    "2024-03-01",
    "2025-02-28",
    "2025-03",
    "2025-07-27",
)


def version_texts(scheme: Scheme) -> SearchStrategy[str]:
    """Spelt versions of a scheme."""
    match scheme:
        case Scheme.DOTTED:
            return dotted_texts()
        case Scheme.NUMBER:
            return st.integers(0, 12).map(str)
        case Scheme.DATE:
            return st.sampled_from(DATES)


def versions(scheme: Scheme) -> SearchStrategy[FirmwareVersion]:
    """Versions of a scheme."""
    return version_texts(scheme).map(lambda text: parse_version(text, scheme))


def single_versions(scheme: Scheme) -> SearchStrategy[FirmwareVersion]:
    """Versions of a scheme that name one firmware each: no whole months."""
    return versions(scheme).filter(lambda version: version.end is None)


def clauses(texts: SearchStrategy[str]) -> SearchStrategy[str]:
    """One comparison."""
    return st.builds(str.__add__, st.sampled_from([">=", "<=", ">", "<", "=="]), texts)


def range_texts(texts: SearchStrategy[str]) -> SearchStrategy[list[str]]:
    """Ranges as a profile lists them: comparisons joined by commas, several of them."""
    joined = st.lists(clauses(texts), min_size=1, max_size=3).map(", ".join)
    return st.lists(joined, min_size=0, max_size=3)


def ranges(scheme: Scheme) -> SearchStrategy[FirmwareRange]:
    """Ranges of a scheme, some of them empty or everything."""
    texts = range_texts(version_texts(scheme))
    parsed = texts.map(lambda held: FirmwareRange.parse(held, scheme))
    return parsed | parsed.map(lambda held: ~held)


MILESTONES: dict[Scheme, tuple[str, ...]] = {
    Scheme.DOTTED: ("0", "1.0", "1.0.1", "1.0a", "2.0", "2.0z", "2.1", "3.0"),
    Scheme.NUMBER: ("0", "1", "2", "3", "5", "6", "8", "12"),
    Scheme.DATE: ("2023-12-30", "2023-12-31", "2024-01-01", "2024-01-01a", "2024-02-29", "2024-03"),
}
"""The versions at which handbooks and places begin and end."""


def _spans(scheme: Scheme) -> tuple[FirmwareRange, ...]:
    named = MILESTONES[scheme]
    texts = [f">={low}, <={high}" for low, high in combinations_with_replacement(named, 2)]
    texts += [text for edge in named[1::3] for text in (f">={edge}", f"<={edge}", f">{edge}")]
    return tuple(FirmwareRange.parse(text, scheme) for text in texts)


SPANS = {scheme: _spans(scheme) for scheme in Scheme}
"""Spans that handbooks speak for."""
WHERE = {
    scheme: (
        *held,
        *(one | other for one, other in zip(held[::2], held[::-3], strict=False)),
        *[FirmwareRange.everything(scheme)] * 5,
    )
    for scheme, held in SPANS.items()
}
"""Ranges that places claim."""
POINTS = {
    scheme: tuple(parse_version(text, scheme) for text in (*named, *more))
    for (scheme, named), more in zip(
        MILESTONES.items(),
        (("0.9", "1.5", "9"), ("4", "7", "13"), ("2012-07", "2024-02-01", "2025-01")),
        strict=True,
    )
}
"""Versions to ask about: every milestone, and between and beyond them."""


def spans(scheme: Scheme) -> SearchStrategy[FirmwareRange]:
    """One span that is not empty, as handbooks speak for one."""
    return st.sampled_from(SPANS[scheme])


def points(scheme: Scheme) -> SearchStrategy[FirmwareVersion]:
    """Versions at, between and beyond the edges of handbooks and places."""
    return st.sampled_from(POINTS[scheme])


# Places, profiles, saved values


def _placed() -> tuple[tuple[tuple[Field, ...], Coding], ...]:
    """Some CVs with bits, and codings that fit them; few, so that the same ones meet often."""
    one, wide = (8,), (8, 8)
    ten, eleven, twelve = Slot(10), Slot(11), Slot(12)
    off = NamedSpan(0, 0, "off")
    return (
        ((Field(ten),), Number(one)),
        (
            (Field(ten),),
            Number(one, 1, 3, Decimal(2), unit="cm", names=(NamedSpan(200, 255, "on"),)),
        ),
        ((Field(ten),), Choice(one, (off, NamedSpan(1, 2, "on")))),
        ((Field(ten),), Fields(one)),
        ((Field(ten),), Fields(one, (NamedSpan(1, 1, "on"), NamedSpan(128, 129, "idle")))),
        ((Field(ten),), Area(one)),
        ((Field(ten, 0x0F),), Number((4,), 0, 9)),
        ((Field(ten, 0x0F),), Flags((4,), ((0, "F1"), (2, "F3")))),
        ((Field(ten, 0xF0),), Choice((4,), (off,))),
        ((Field(ten, 0x01),), Switch((1,))),
        ((Field(ten, 0x80),), Switch((1,))),
        ((Field(ten), Field(eleven)), Number(wide)),
        ((Field(eleven), Field(ten)), Number(wide)),
        ((Field(ten), Field(eleven)), Flags(wide, ((0, "F1"), (8, "F9")))),
        ((Field(ten), Field(eleven), Field(twelve)), Curve((8, 8, 8), 1, 9)),
        ((Field(eleven), Field(twelve)), Curve((8, 8), -5, 9, SignForm.TWOS_COMPLEMENT)),
        ((Field(eleven), Field(twelve)), Address(wide, AddressForm.EXTENDED, 1, 10239)),
        ((Field(eleven),), Switch(one)),
        ((Field(eleven),), Text(one)),
        ((Field(eleven),), Area(one, use="manufacturer")),
        ((Field(eleven, 0xC0),), Area((2,))),
        ((Field(twelve),), Number(one, -9, 9, sign=SignForm.BIT)),
        ((Field(twelve),), Area(one, use="user")),
        ((Field(Slot(7)),), Number(one)),
        ((Field(Slot(257, Page(0, 0))),), Number(one, 0, 3)),
        ((Field(Slot(257, Page(0, 1))),), Number(one, 0, 3)),
        ((), Choice(one, (off, NamedSpan(1, 1, "on")))),
    )


PLACED = _placed()


MARKS = (PLAIN, PLAIN, PLAIN, PLAIN, Marks(read_only=True), Marks(reserved=True))
NEEDS: tuple[tuple[When, ...], ...] = (
    *[()] * 8,
    *((When(name, values),) for name in NAMES for values in ((0,), (1, 2))),
    (When(NAMES[0], (1,)), When(NAMES[1], (0,))),
    (When(NAMES[0], (1,), Test.NOT),),
)
VERDICTS = (None, Verdict.WORKS, Verdict.UNRELIABLE, Verdict.NO_EFFECT)


@composite
def places(draw: DrawFn, scheme: Scheme, sources: tuple[str, ...] = ()) -> Place:
    """A place for some firmware, cited from some sources with or without a verdict."""
    fields, coding = draw(st.sampled_from(PLACED))
    cited = draw(st.lists(st.sampled_from(sources), max_size=2, unique=True)) if sources else []
    cases = draw(default_cases(len(fields))) if fields else ()
    # A profile gives one default or several that depend on something, never both.
    default = draw(st.sampled_from((None, 0, 1))) if fields and not cases else None
    return Place(
        draw(st.sampled_from(WHERE[scheme])),
        fields,
        coding,
        None if default is None else (default,) * len(fields),
        draw(st.sampled_from(NEEDS)),
        tuple(Citation(name, "", draw(st.sampled_from(VERDICTS))) for name in cited),
        draw(st.sampled_from(MARKS)),
        cases=cases,
    )


@composite
def default_cases(draw: DrawFn, count: int) -> tuple[DefaultCase, ...]:
    """Defaults that depend on other settings; seldom any."""
    if draw(st.integers(0, 3)):
        return ()
    last = DefaultCase((), (draw(st.sampled_from((0, 1))),) * count)
    first = DefaultCase(draw(st.sampled_from(NEEDS)), (1,) * count)
    return (first, last) if draw(st.booleans()) else (first,)


@composite
def settings(draw: DrawFn, id: str, scheme: Scheme, sources: tuple[str, ...]) -> Setting:
    """A setting whose places never overlap in firmware."""
    taken = FirmwareRange.nothing(scheme)
    kept: list[Place] = []
    for one in draw(st.lists(places(scheme, sources), min_size=1, max_size=3)):
        left = one.firmware - taken
        taken |= left
        kept.append(replace(one, firmware=left, narrowing=left))
    return Setting(id, f"Title of {id}", tuple(kept))


@composite
def sources(draw: DrawFn, scheme: Scheme) -> dict[str, Source]:
    """Handbooks, letters of the maker and bench tests; some speak only for some settings."""
    made = {}
    for at in range(draw(st.integers(0, 3))):
        about = draw(st.sampled_from(ABOUT))
        kind = draw(st.sampled_from([SourceKind.DOCUMENT, SourceKind.DOCUMENT, SourceKind.MAKER]))
        made[f"h{at}"] = Source(f"h{at}", kind, "", draw(spans(scheme)), about=about)
    for at in range(draw(st.integers(0, 2))):
        here = FirmwareRange.exactly(draw(points(scheme)))
        made[f"b{at}"] = Source(f"b{at}", SourceKind.BENCH, "", here)
    return made


@composite
def identities(draw: DrawFn) -> Identity:
    """Makers and known answers."""
    answers = []
    for slot in draw(st.lists(st.sampled_from(SLOTS), max_size=2)):
        low, high = sorted(draw(st.tuples(st.integers(0, 3), st.integers(0, 3))))
        answers.append(Answered(slot, low, high))
    return Identity(draw(st.none() | st.sampled_from([13, 300])), tuple(answers))


@composite
def profiles(draw: DrawFn, only: Scheme | None = None) -> Profile:
    """Whole profiles, as wild as a contributor could write them and wilder."""
    scheme = only or draw(schemes)
    evidence = draw(sources(scheme))
    named = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True))
    held = {id: draw(settings(id, scheme, tuple(evidence))) for id in named}
    parts = draw(
        st.sampled_from(
            [
                (),
                (VersionPart(Field(Slot(7))),),
                (VersionPart(Field(Slot(7), 0xF0)), VersionPart(Field(Slot(7), 0x0F))),
            ]
        )
    )
    known = draw(st.lists(points(scheme), max_size=3))
    warned = draw(st.lists(spans(scheme), max_size=1))
    made = Profile(
        "test/decoder",
        "Ferrow",
        "Decoder",
        "motor",
        scheme,
        held,
        evidence,
        draw(identities()),
        parts,
        tuple(Release(version) for version in in_order(set(known))),
        advisories=tuple(Advisory("hot", held, "Hot.", "Cool.", ("a",)) for held in warned),
    )
    return read_whole(made) if draw(st.booleans()) else made


@dataclass(frozen=True)
class Case:
    """A profile, the installed firmware and what is saved."""

    profile: Profile
    installed: FirmwareVersion
    saved: Saved


@composite
def saved_values(draw: DrawFn, scheme: Scheme) -> Saved:
    """Values of some CVs, known and unknown ones, saved for one firmware, several or none."""
    slots = st.sampled_from([*SLOTS, Slot(8), Slot(99)])
    values: Mapping[Slot, int] = draw(
        st.dictionaries(slots, st.integers(0, 4) | st.integers(0, 255), min_size=1, max_size=6)
    )
    noted = draw(st.lists(st.sampled_from(sorted(values, key=lambda s: s.order)), unique=True))
    return Saved(values, {slot: draw(points(scheme)) for slot in noted}, {})


@composite
def cases(draw: DrawFn) -> Case:
    """Something to check."""
    profile = draw(profiles())
    return Case(profile, draw(points(profile.scheme)), draw(saved_values(profile.scheme)))
