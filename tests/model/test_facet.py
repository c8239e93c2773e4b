"""In what two places differ: the one comparison of places."""

import pytest

from cvlib.model.facet import Facet, facets, same_meaning, same_placing
from make import Table, place

BASE: Table = {"at": "29:0-3", "range": [1, 9], "scale": 2, "unit": "cm"}

CHANGES: list[tuple[Table, Facet]] = [
    ({"at": "30:0-3"}, Facet.CVS),
    ({"at": "29:4-7"}, Facet.CVS),
    ({"also-at": 500}, Facet.CVS),
    ({"range": [1, 8]}, Facet.RANGE),
    ({"scale": 3}, Facet.CODING),
    ({"offset": 1}, Facet.CODING),
    ({"unit": "mm"}, Facet.CODING),
    ({"names": {"0": "off"}}, Facet.CODING),
    ({"sign": "bit"}, Facet.CODING),
    ({"refers-to": "at the motor"}, Facet.CODING),
    ({"measure": "momentum"}, Facet.CODING),
    ({"when": {"a.type": [1]}}, Facet.CONDITION),
    ({"default": 4}, Facet.DEFAULT),
    ({"marks": ["read-only", "volatile"]}, Facet.MARKS),
    ({"note": "Seen once."}, Facet.WORDS),
]


@pytest.mark.parametrize(("change", "facet"), CHANGES)
def test_each_respect_is_told_by_itself(change: Table, facet: Facet) -> None:
    """One thing said otherwise is one facet, the same from both sides."""
    one, other = place(BASE), place({**BASE, **change})
    assert facets(one, other) == facets(other, one) == {facet}
    placing = {Facet.CVS, Facet.CODING, Facet.RANGE, Facet.CONDITION}
    assert same_placing(one, other) is (facet not in placing)
    assert same_meaning(one, other) is (facet not in placing - {Facet.CONDITION})


def test_another_kind_of_value_and_fewer_bits_are_other_places() -> None:
    """With the bits the widths change, and with the kind the whole coding."""
    assert facets(place(BASE), place({**BASE, "at": "29"})) == {Facet.CVS, Facet.CODING}
    choice = {"at": "29:0-3", "kind": "choice", "names": {"1": "on"}}
    assert facets(place(BASE), place(choice)) == {Facet.CODING}


@pytest.mark.parametrize("change", [{"in": ">=3.0"}, {"cites": ["h1:23"]}])
def test_firmware_and_sources_are_no_part_of_what_a_place_says(change: Table) -> None:
    """Where it holds and who says so is asked elsewhere."""
    assert facets(place(BASE), place({**BASE, **change})) == frozenset()


def test_absent_differs_in_existence_alone() -> None:
    """A place and "absent" have nothing else to differ in."""
    assert facets(None, None) == frozenset()
    assert facets(place(BASE), None) == facets(None, place(BASE)) == {Facet.EXISTENCE}


def test_the_page_and_the_byte_order_belong_to_the_place() -> None:
    """The same CV on another page, or the same CVs the other way round, is another place."""
    assert facets(place({"at": "257@0/1"}), place({"at": "257@0/2"})) == {Facet.CVS}
    assert facets(place({"at": "17, 18"}), place({"at": "18, 17"})) == {Facet.CVS}
