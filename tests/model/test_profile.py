"""Profiles as facts: names, groups, sources and labels."""

import pytest

from cvlib.errors import InputError
from cvlib.model.answer import Answer, Side, Standing, Trace
from cvlib.model.cv import Page
from cvlib.model.profile import Citation, IndexPages, Verdict, group_of, is_about
from cvlib.model.versions import Scheme
from make import place, profile, source, values


@pytest.mark.parametrize(
    ("at", "held", "parts"),
    [
        ("29:0-3", {"29": 0xA5}, (5,)),
        ("29:4-7", {"29": 0xA5}, (10,)),
        ("17, 18", {"17": 195, "18": 232}, (195, 232)),
        ("18, 17", {"17": 195, "18": 232}, (232, 195)),
        ("257@0/1", {"257": 1, "257@0/1": 2}, (2,)),
        ("17, 18", {"17": 195}, None),
        ("17", {}, None),
        ("", {"17": 195}, None),
    ],
)
def test_parts_of_saved_values(
    at: str, held: dict[str, int], parts: tuple[int, ...] | None
) -> None:
    """The bits of each CV, most significant first; nothing where a CV is not saved."""
    assert place({"at": at}).parts(values(held)) == parts


@pytest.mark.parametrize(
    ("setting", "group"),
    [
        ("braking.distance", "braking"),
        ("output[3].type", "output"),
        ("output[n].type", "output"),
        ("function-map.f0-forward", "function-map"),
        ("address[1].a.b", "address"),
    ],
)
def test_groups(setting: str, group: str) -> None:
    """The group is what stands before the first dot, without its index."""
    assert group_of(setting) == group


@pytest.mark.parametrize(
    ("name", "setting", "expected"),
    [
        ("braking", "braking.distance", True),
        ("braking.distance", "braking.distance", True),
        ("output", "output[3].type", True),
        ("output[3]", "output[3].type", True),
        ("output[n].type", "output[3].type", True),
        ("output[3].type", "output[3].type", True),
        ("brak", "braking.distance", False),
        ("output[3].type", "output[4].type", False),
        ("output[n].type", "output[3].time", False),
        ("braking.distance", "braking.distance-2", False),
        ("output[1]", "output[12].type", False),
    ],
)
def test_what_a_name_is_about(name: str, setting: str, expected: bool) -> None:
    """A name stands for a setting, for all of one index, or for a whole group."""
    assert is_about([name], setting) is expected


def test_a_source_speaks_for_all_or_for_what_it_is_about() -> None:
    """A source without a list speaks for every setting."""
    everything = source("h1", ">=1.0", Scheme.DOTTED)
    sheet = source("h2", {"in": ">=1.0", "about": ["lights", "a.b"]}, Scheme.DOTTED)
    asked = ("lights.dim", "a.b", "a.c")
    assert [everything.speaks_for(name) for name in asked] == [True, True, True]
    assert [sheet.speaks_for(name) for name in asked] == [True, True, False]


def test_citations_are_shown_as_they_are_written() -> None:
    """Source and page joined by a colon; the verdict is told elsewhere."""
    assert str(Citation("h1", "23")) == "h1:23"
    assert str(Citation("b1", "", Verdict.WORKS)) == "b1"


HELD = profile(
    {
        "settings": {"a.one": {"at": "3"}, "a.two": {"at": "4"}},
        "sources": {"h1": ">=1.0"},
        "releases": ["2.4", {"version": "3.0", "label": "Winter 2020"}],
    }
)


def test_a_firmware_by_version_or_by_label() -> None:
    """A label is accepted where a firmware is asked for, capitals and spaces apart."""
    assert str(HELD.version("2.4.0")) == "2.4.0"
    assert str(HELD.version(" winter 2020 ")) == "3.0"
    with pytest.raises(InputError, match='"spring" is not a firmware version'):
        HELD.version("spring")
    release = HELD.release_of(HELD.version("3"))
    assert release is not None
    assert release.label == "Winter 2020"
    assert HELD.release_of(HELD.version("9")) is None
    assert HELD.range(">=2.0").text() == ">=2.0"


def test_a_setting_by_its_id() -> None:
    """A mistyped id is answered with the nearest one."""
    assert HELD.setting("a.one").group == "a"
    with pytest.raises(InputError) as raised:
        HELD.setting("a.onee")
    assert str(raised.value) == 'No setting "a.onee" in test/decoder. Did you mean "a.one"?'


def test_source_titles() -> None:
    """A source is shown by its title; what is not known is shown as it is called."""
    assert HELD.source_title("h1") == "Title of h1"
    assert HELD.source_title("h9") == "h9"


def test_index_pages() -> None:
    """A span of pages holds every page between its ends, both numbers taken by themselves."""
    pages = IndexPages((0, 0), (40, 43), "defined", "Function assignment")
    assert [pages.holds(Page(*page)) for page in ((0, 40), (0, 43), (0, 44), (1, 41))] == [
        True,
        True,
        False,
        False,
    ]


def test_answers_list_their_places() -> None:
    """One place, none, or the disputed candidates; absent only where nothing is disputed."""
    one, other = place({"at": "3"}), place({"at": "4"})
    trace = Trace(2, HELD.range(">=1.0"))
    found = Answer("a.one", Standing.DOCUMENTED, one, trace)
    absent = Answer("a.one", Standing.DOCUMENTED, None, trace, side=Side.OLDER)
    disputed = Answer("a.one", Standing.DISPUTED, None, trace, (one, None, other))
    assert [a.is_absent for a in (found, absent, disputed)] == [False, True, False]
    assert [a.places() for a in (found, absent, disputed)] == [(one,), (), (one, other)]
