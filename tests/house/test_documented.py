"""Nothing in the shipped store is called documented that no document there speaks for."""

from pathlib import Path

import pytest

from cvlib.api import open_store
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.profile import Profile
from cvlib.model.versions import Key
from house.tree import ROOT

STORE = open_store()


def is_borne_out(profile: Profile, answer: Answer, point: Key) -> bool:
    """Whether a document that is called on speaks for the firmware, or a standard demands it."""
    for one in answer.trace.citations:
        source = profile.sources.get(one.reissue or one.source)
        if source is not None and source.is_document and source.firmware.holds(point):
            return True
    demanded = answer.place is not None and answer.place.marks.requirement == "mandatory"
    return demanded and any(one.source in profile.standards for one in answer.trace.citations)


@pytest.mark.parametrize("id", STORE.ids())
def test_every_documented_answer_is_borne_out(id: str) -> None:
    """At every point where anything may change, each documented answer names who says so."""
    resolver = Resolver(STORE.profile(id))
    seen = 0
    for point in resolver.cuts.points:
        for answer in resolver.at_point(point).values():
            held = answer.documented()
            if held.standing is Standing.DOCUMENTED:
                seen += 1
                assert is_borne_out(resolver.profile, held, point), (answer.setting, point)
    assert seen


def test_the_store_is_the_shipped_one() -> None:
    """What is walked here is what an installed cvlib has."""
    shipped = set((ROOT / "definitions").rglob("*.toml"))
    assert all(Path(STORE.path(id)) in shipped for id in STORE.ids())
