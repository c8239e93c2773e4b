"""Ranges of dotted numbers answer as the specifiers of the library ``packaging`` do.

Outside judge: packaging.specifiers.SpecifierSet and packaging.version.Version, which implement
PEP 440 (Version Identification and Dependency Specification). Only final releases without letters
are compared: what PEP 440 says of pre-releases is not meant for decoders.
"""

from itertools import product

from hypothesis import given
from hypothesis import strategies as st
from packaging.specifiers import SpecifierSet
from packaging.version import Version

import strategies
from cvlib.model.ranges import FirmwareRange, in_order
from cvlib.model.versions import Scheme, parse_version

TEXTS = strategies.dotted_texts(letters=False)
LISTS = strategies.range_texts(TEXTS)
WORLD = [
    ".".join(map(str, parts))
    for count in (1, 2, 3, 4)
    for parts in product(range(5), repeat=count)
    if count < 4 or parts[3] == 1
]
"""Every version of up to three parts of the generated ranges, and points between any two."""


def by_judge(spec: list[str]) -> list[SpecifierSet]:
    """The specifiers of the outside judge."""
    return [SpecifierSet(text) for text in spec]


def judged(spec: list[SpecifierSet], version: str) -> bool:
    """Whether the outside judge finds a version in any of several specifiers."""
    asked = Version(version)
    return any(asked in one for one in spec)


def ours(spec: list[str]) -> FirmwareRange:
    """The range by our own algebra."""
    return FirmwareRange.parse(spec, Scheme.DOTTED)


@given(LISTS, st.lists(TEXTS, min_size=1, max_size=8))
def test_membership(spec: list[str], asked: list[str]) -> None:
    """Every version is in a range of ours exactly when PEP 440 has it in the specifiers."""
    held, judge = ours(spec), by_judge(spec)
    for text in asked:
        assert (parse_version(text, Scheme.DOTTED) in held) is judged(judge, text)


@given(LISTS, LISTS, st.lists(TEXTS, min_size=1, max_size=8))
def test_operations(one: list[str], other: list[str], asked: list[str]) -> None:
    """Union, intersection, difference and complement hold what logic makes of PEP 440's answers."""
    a, b = ours(one), ours(other)
    by_a, by_b = by_judge(one), by_judge(other)
    for text in asked:
        version = parse_version(text, Scheme.DOTTED)
        in_a, in_b = judged(by_a, text), judged(by_b, text)
        assert (version in a | b) is (in_a or in_b)
        assert (version in a & b) is (in_a and in_b)
        assert (version in a - b) is (in_a and not in_b)
        assert (version in ~a) is not in_a


@given(LISTS)
def test_normal_text(spec: list[str]) -> None:
    """The normal text of a range means to PEP 440 what the text it came from means."""
    held = ours(spec)
    texts = [] if held.is_empty() else [text.replace("every firmware", "") for text in held.texts()]
    before, after = by_judge(spec), by_judge(texts)
    for text in WORLD[::7]:
        assert judged(before, text) is judged(after, text)


@given(LISTS)
def test_emptiness(spec: list[str]) -> None:
    """A range is empty exactly when PEP 440 finds none of a dense set of versions in it."""
    held, judge = ours(spec), by_judge(spec)
    assert held.is_empty() is not any(judged(judge, text) for text in WORLD)


@given(LISTS, LISTS)
def test_equality(one: list[str], other: list[str]) -> None:
    """Ranges are equal exactly when PEP 440 finds the same versions in both."""
    by_a, by_b = by_judge(one), by_judge(other)
    same = all(judged(by_a, text) is judged(by_b, text) for text in WORLD)
    assert (ours(one) == ours(other)) is same


@given(st.lists(TEXTS, min_size=1, max_size=10))
def test_order(texts: list[str]) -> None:
    """Versions are in the order of PEP 440, and equal where PEP 440 has them equal."""
    versions = in_order(parse_version(text, Scheme.DOTTED) for text in texts)
    assert [Version(str(one)) for one in versions] == sorted(map(Version, texts))
    assert len(set(versions)) == len(set(map(Version, texts)))
