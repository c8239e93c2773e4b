"""No two outputs of the program disagree on whether two firmwares differ."""

from itertools import pairwise

import pytest

from cvlib.api import open_store
from cvlib.engine.change.review import Kind, kinds_of
from cvlib.engine.known.digest import content
from cvlib.engine.known.line import Change, differ, differences, same_said, stretches
from cvlib.engine.known.listing import Wanted, compared, listing
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.known.timeline import timeline
from cvlib.model.answer import Answer

STORE = open_store()
BY_STANDING = (Kind.IMPROVED, Kind.LOST, Kind.STANDING, Kind.BESIDE)


def said_of_places(answer: Answer) -> object:
    """What the digest says of an answer, apart from how well it is known."""
    told = content(answer)
    return {key: told.get(key) for key in ("place", "candidates", "also", "open")}


@pytest.mark.parametrize("id", STORE.ids())
def test_every_output_sees_the_same_settings_differ(id: str) -> None:
    """The listings side by side, the timeline, the digest and a review name the same settings."""
    resolver = Resolver(STORE.profile(id))
    profile = resolver.profile
    named = [str(release.version) for release in profile.releases]
    lives = {
        life.setting.id: life
        for life in timeline(resolver, list(profile.settings), (), every=True).lives
    }
    for older, newer in pairwise(named):
        old, new = (resolver.at(profile.version(text)) for text in (older, newer))
        wanted = {name for name in old if differ(old[name], new[name])}
        sides = [listing(resolver, text, Wanted()) for text in (older, newer)]
        shown = compared(*sides).differences
        # A dispute that others join or leave is told as a change of standing.
        assert wanted <= {one.setting for one in shown}
        assert {one.setting for one in shown if one.change is not Change.STANDING} <= wanted
        assert {one.setting for one in differences(old, new)} == {one.setting for one in shown}
        for name, answer in old.items():
            kinds = set(kinds_of(answer, new[name])) - set(BY_STANDING)
            assert bool(kinds) <= (name in wanted)
            if answer.is_disputed is new[name].is_disputed:
                assert bool(kinds) is (name in wanted), name
            is_told_alike = said_of_places(answer) == said_of_places(new[name])
            if answer.is_disputed is new[name].is_disputed:
                assert is_told_alike is (name not in wanted), name
            rows = [
                next(s for s in lives[name].stretches if profile.version(text) in s.firmware)
                for text in (older, newer)
            ]
            assert same_said(rows[0].answers[0], answer)
            assert differ(rows[0].answers[0], rows[1].answers[0]) is (name in wanted)


@pytest.mark.parametrize("id", STORE.ids())
def test_a_setting_that_never_changes_is_the_same_everywhere(id: str) -> None:
    """What the timeline leaves out as steady differs between no two points of the line."""
    resolver = Resolver(STORE.profile(id))
    told = {life.setting.id for life in timeline(resolver, (), (), every=False).lives}
    found = stretches(resolver)
    for at, name in enumerate(resolver.profile.settings):
        if name not in told:
            answers = [stretch.answers[at] for stretch in found]
            assert not any(differ(answers[0], other) for other in answers)
