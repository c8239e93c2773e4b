"""What a firmware range means, case by case; the cases are the tables in cases/ranges."""

import pytest

from cvlib.errors import InputError
from cvlib.model.ranges import FirmwareRange, in_order, is_older, points_in_order
from cvlib.model.versions import Scheme, parse_version, spell_key
from make import Table, read_cases

CASES = list(read_cases("ranges"))
RANGES = [
    pytest.param(held["scheme"], case, id=id) for id, held, case in CASES if "error" not in case
]
REFUSED = [pytest.param(case, id=id) for id, _, case in CASES if "error" in case]


@pytest.mark.parametrize(("scheme", "case"), RANGES)
def test_a_range_holds_its_inside_and_nothing_of_its_outside(scheme: str, case: Table) -> None:
    """Every version listed inside lies in the range and none of those listed outside."""
    named = Scheme(scheme)
    held = FirmwareRange.parse(case["spec"], named)
    assert [text for text in case["inside"] if parse_version(text, named) not in held] == []
    assert [text for text in case["outside"] if parse_version(text, named) in held] == []


@pytest.mark.parametrize(("scheme", "case"), RANGES)
def test_a_range_has_one_normal_text(scheme: str, case: Table) -> None:
    """The text is the normal one, and parsing it gives the same range and the same text."""
    named = Scheme(scheme)
    held = FirmwareRange.parse(case["spec"], named)
    assert held.text() == case["text"]
    if case["text"] not in ("no firmware", "every firmware"):
        again = FirmwareRange.parse(held.texts(), named)
        assert again == held
        assert again.text() == case["text"]


@pytest.mark.parametrize(("scheme", "case"), RANGES)
def test_no_firmware_and_every_firmware_are_said_only_of_those(scheme: str, case: Table) -> None:
    """A range is empty, or everything, exactly when its text says so."""
    held = FirmwareRange.parse(case["spec"], Scheme(scheme))
    assert held.is_empty() is (case["text"] == "no firmware")
    assert held.is_everything() is (case["text"] == "every firmware")


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_range_is_refused_in_one_line(case: Table) -> None:
    """The error is one line that says what is wrong and what would be right."""
    with pytest.raises(InputError) as raised:
        FirmwareRange.parse(case["spec"], Scheme(case["scheme"]))
    assert str(raised.value) == case["error"]


def test_too_many_comparisons_are_refused() -> None:
    """A range of 32 comparisons is read, one of 33 is not."""
    FirmwareRange.parse(",".join([">=1"] * 32), Scheme.NUMBER)
    with pytest.raises(InputError, match="more than 32 comparisons"):
        FirmwareRange.parse(",".join([">=1"] * 33), Scheme.NUMBER)


def test_a_fault_in_any_text_of_a_list_is_found() -> None:
    """A list is refused for its second text as for its first."""
    with pytest.raises(InputError, match='"4" is not a firmware range'):
        FirmwareRange.parse([">=3", "4"], Scheme.NUMBER)


def test_a_range_never_meets_another_scheme() -> None:
    """Versions and ranges of two schemes cannot be compared or joined, and are never equal."""
    numbers, dates = (FirmwareRange.everything(s) for s in (Scheme.NUMBER, Scheme.DATE))
    with pytest.raises(ValueError, match="scheme number meets one of scheme date"):
        numbers & dates
    with pytest.raises(ValueError, match="scheme number meets one of scheme date"):
        numbers | dates
    with pytest.raises(ValueError, match="scheme number meets one of scheme date"):
        assert parse_version("2025-07", Scheme.DATE) in numbers
    assert FirmwareRange.nothing(Scheme.NUMBER) != FirmwareRange.nothing(Scheme.DATE)
    assert numbers != ">=0"


@pytest.mark.parametrize(
    ("spec", "expected"),
    [
        ("==3.5", ["3.5"]),
        (">=3.5, <=3.5c", None),
        (["==2.9", "==3.1a"], ["2.9", "3.1a"]),
        ([], []),
        (">=3.5, <3.6", None),
        (">=3.5", None),
        (">3.5, <3.5.1", None),
    ],
)
def test_a_range_of_single_versions_lists_them(
    spec: str | list[str], expected: list[str] | None
) -> None:
    """Single versions are listed oldest first; where more lie in between there is no list."""
    singles = FirmwareRange.parse(spec, Scheme.DOTTED).singles()
    assert (None if singles is None else [str(one) for one in singles]) == expected


@pytest.mark.parametrize(
    ("spec", "expected"),
    [("==37", "37"), (">36, <38", "37"), (">=3, <=4", None), (["==3", "==5"], None), ([], None)],
)
def test_only_a_range_of_one_version_is_single(spec: str | list[str], expected: str | None) -> None:
    """The only version of a range, or nothing where it holds none or several."""
    single = FirmwareRange.parse(spec, Scheme.NUMBER).single()
    assert (str(single) if single else None) == expected


def test_the_span_or_the_gap_around_a_point() -> None:
    """Around a point lies the one span that holds it, or else the one gap."""
    held = FirmwareRange.parse([">=3, <=5", ">=9, <=9"], Scheme.NUMBER)
    around = {point: held.around((point,)).text() for point in (0, 3, 5, 6, 8, 9, 10)}
    assert around == {
        0: "<3",
        3: ">=3, <=5",
        5: ">=3, <=5",
        6: ">5, <9",
        8: ">5, <9",
        9: "==9",
        10: ">9",
    }


def test_older_and_newer_spans() -> None:
    """A span is older than a point it ends before and newer than a point it begins after."""
    held = FirmwareRange.parse([">=3, <=5", ">=8"], Scheme.NUMBER)
    points = range(2, 9)
    assert [p for p in points if held.lies_before((p,))] == [6, 7, 8]
    assert [p for p in points if held.lies_after((p,))] == [2, 3, 4, 5, 6, 7]
    nothing = FirmwareRange.nothing(Scheme.NUMBER)
    assert not nothing.lies_before((5,))
    assert not nothing.lies_after((5,))


def test_a_cut_has_a_side_below_it() -> None:
    """Firmware just before a cut is held up to the end of a span, not at its beginning."""
    held = FirmwareRange.parse([">=3, <=5", ">=8"], Scheme.NUMBER)
    assert [p for p in range(2, 11) if held.holds_below((p,))] == [4, 5, 6, 9, 10]


def test_ends_and_cuts() -> None:
    """A range knows where it begins and ends; the ends of the line are no cuts."""
    held = FirmwareRange.parse(["<=2", ">=4, <=5"], Scheme.NUMBER)
    assert held.oldest == (0,)
    assert held.end == (6,)
    assert held.cuts() == ((3,), (4,), (6,))
    assert (~held).cuts() == ((3,), (4,), (6,))
    with pytest.raises(ValueError, match="no end"):
        assert (~held).end


def test_between_two_cuts() -> None:
    """The span between two cuts has the first and not the last; the wrong way round is empty."""
    like = FirmwareRange.parse(">=3.0, <4.0", Scheme.DOTTED)
    start, end = like.cuts()
    assert FirmwareRange.between(start, end, like).text() == ">=3.0, <4.0"
    assert FirmwareRange.between(end, None, like).text() == ">=4.0"
    assert FirmwareRange.between(end, start, like).is_empty()
    assert FirmwareRange.between(start, start, like).is_empty()


def test_joined_ranges_keep_the_spelling_of_both() -> None:
    """A version keeps the spelling of the text it came from through every operation."""
    older = FirmwareRange.parse(">=2.0.0, <=2.4.0", Scheme.DOTTED)
    newer = FirmwareRange.parse("==4.1.0", Scheme.DOTTED)
    assert (older | newer).text() == ">=2.0.0, <=2.4.0 or ==4.1.0"
    assert (~older).text() == "<2.0.0 or >2.4.0"
    assert (~(older | newer)).text() == "<2.0.0 or >2.4.0, <4.1.0 or >4.1.0"
    assert (newer - older).text() == "==4.1.0"


def test_versions_and_points_in_order() -> None:
    """Oldest first, by meaning and not by letters."""
    texts = ["3.10", "3.5b", "3.9", "3.5", "3.5a", "3", "3.5.1"]
    versions = in_order(parse_version(text, Scheme.DOTTED) for text in texts)
    assert list(map(str, versions)) == ["3", "3.5", "3.5.1", "3.5a", "3.5b", "3.9", "3.10"]
    assert is_older(versions[0], versions[1])
    assert not is_older(versions[1], versions[1])
    assert not is_older(versions[1], versions[0])
    keys = points_in_order(version.key for version in [*versions, *versions])
    assert [spell_key(key, Scheme.DOTTED) for key in keys] == [
        "3.0",
        "3.5",
        "3.5.1",
        "3.5a",
        "3.5b",
        "3.9",
        "3.10",
    ]


@pytest.mark.parametrize(
    ("scheme", "spec", "expected"),
    [
        ("dotted", ">=3.5.0, <4.0", "3.5.0"),
        ("dotted", ">3.5, <4.0", None),
        ("dotted", ">=3.5a", "3.5a"),
        ("dotted", "<4.0", None),
        ("number", ">36", "37"),
        ("number", "<36", None),
        ("date", ">2025-07-27", None),
        ("date", ">=2025-07-27a", "2025-07-27a"),
        ("date", ">2025-07", "2025-08-01"),
        ("date", ">=2025-07", "2025-07-01"),
    ],
)
def test_the_version_a_range_begins_with(scheme: str, spec: str, expected: str | None) -> None:
    """The oldest version, unless it is the line's end or a letter that nobody named."""
    begin = FirmwareRange.parse(spec, Scheme(scheme)).begins_with()
    assert (str(begin) if begin else None) == expected
