"""Digests stand for what a profile says, and the store's version follows from its answers."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import make
from cvlib import api
from cvlib.engine.change.review import kinds_of, review
from cvlib.engine.known.digest import (
    Step,
    behaviour_digest,
    content,
    largest,
    next_version,
    step_between,
    wording_digest,
)
from cvlib.engine.known.line import answers_of
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.model.profile import Profile, Risk
from strategies import profiles, single_versions

BASE: dict[str, Any] = {
    "releases": ["1.0", "2.0", "3.0", "4.0"],
    "sources": {"h1": ">=1.0, <=1.9", "h2": ">=3.0, <=3.9"},
    "settings": {
        "a.one": [
            {"at": "10", "in": ">=1.0, <=1.9", "default": 1},
            {"at": "11", "in": ">=3.0, <=3.9", "default": 2},
        ],
        "a.two": [{"at": "12", "in": ">=3.0, <=3.9"}],
    },
}


def made(**changes: Any) -> Profile:
    """The base with some of its tables replaced."""
    return make.profile(BASE | changes)


def settings(**changes: Any) -> dict[str, Any]:
    """The settings of the base with some replaced, added, or left out where nothing is given."""
    held = BASE["settings"] | {name.replace("_", "."): told for name, told in changes.items()}
    return {name: told for name, told in held.items() if told is not None}


# Each row: what is changed, and the step by the rule of the design: no resolved answer changed is
# a patch, only additions are a minor step, changed or removed answers a major one.
STEPS: list[tuple[str, Callable[[], Profile], Step]] = [
    ("nothing", made, Step.NONE),
    ("a setting more", lambda: made(settings=settings(b_new={"at": "20"})), Step.MINOR),
    ("a release more", lambda: made(releases=[*BASE["releases"], "4.1"]), Step.MINOR),
    ("a setting less", lambda: made(settings=settings(a_two=None)), Step.MAJOR),
    ("a release less", lambda: made(releases=BASE["releases"][1:]), Step.MAJOR),
    (
        "a place for firmware that had none, which settles the gap behind it",
        lambda: made(settings=settings(a_two=[{"at": "12", "in": ">=1.0, <=3.9"}])),
        Step.MAJOR,
    ),
    (
        "a place less",
        lambda: made(settings=settings(a_one=[{"at": "11", "in": ">=3.0, <=3.9", "default": 2}])),
        Step.MAJOR,
    ),
    (
        "another CV",
        lambda: made(settings=settings(a_two=[{"at": "13", "in": ">=3.0, <=3.9"}])),
        Step.MAJOR,
    ),
    (
        "another default",
        lambda: made(settings=settings(a_two=[{"at": "12", "in": ">=3.0, <=3.9", "default": 9}])),
        Step.MAJOR,
    ),
    (
        "another unit",
        lambda: made(settings=settings(a_two=[{"at": "12", "in": ">=3.0, <=3.9", "unit": "s"}])),
        Step.MAJOR,
    ),
    (
        "a document for a release that had none",
        lambda: made(sources=BASE["sources"] | {"h3": "==4.0"}),
        Step.MAJOR,
    ),
    (
        "a change at firmware between the releases alone",
        lambda: made(sources=BASE["sources"] | {"h1": ">=1.0, <=1.8"}),
        Step.NONE,
    ),
    (
        "a source more that changes nothing",
        lambda: made(sources=BASE["sources"] | {"h3": "==3.0"}),
        Step.NONE,
    ),
]


@pytest.mark.parametrize(("what", "after", "step"), STEPS, ids=[row[0] for row in STEPS])
def test_the_step_follows_from_the_answers(
    what: str, after: Callable[[], Profile], step: Step
) -> None:
    """Answers at the releases that were known make the step; anything else is a patch at most."""
    assert step_between(Resolver(made()), Resolver(after())) is step
    found = review({"test/decoder": made()}, {"test/decoder": after()}).step
    is_same = after() == made()
    assert found is (Step.NONE if is_same else largest(step, Step.PATCH))


def test_a_profile_without_releases_is_looked_at_everywhere() -> None:
    """Then a change in any stretch of firmware counts."""
    before = made(releases=[])
    after = made(releases=[], sources=BASE["sources"] | {"h1": ">=1.0, <=1.8"})
    assert step_between(Resolver(before), Resolver(after)) is Step.MAJOR


def test_a_place_for_firmware_that_had_none_is_an_addition() -> None:
    """Where no release in between is known, nothing else changes with it."""
    before = made(releases=["1.0", "3.0"])
    after = made(
        releases=["1.0", "3.0"], settings=settings(a_two=[{"at": "12", "in": ">=1.0, <=3.9"}])
    )
    assert step_between(Resolver(before), Resolver(after)) is Step.MINOR


def test_profiles_that_come_and_go_make_steps() -> None:
    """A new profile only adds answers; one that is gone takes them away, and so does a new id."""
    one, other = made(), replace(made(), id="test/other")
    assert review({}, {"test/decoder": one}).step is Step.MINOR
    assert review({"test/decoder": one}, {}).step is Step.MAJOR
    renamed = review({"test/decoder": one}, {"test/other": other}, {"test/decoder": "test/other"})
    assert renamed.step is Step.MAJOR
    assert renamed.profiles[0].was == "test/decoder"


def test_words_change_one_digest_and_answers_the_other() -> None:
    """A reworded title leaves the behaviour digest alone, another CV the wording digest."""
    before = made()
    held = before.settings["a.two"]
    reworded = replace(before, settings={**before.settings, "a.two": replace(held, title="Two")})
    moved = made(settings=settings(a_two=[{"at": "13", "in": ">=3.0, <=3.9"}]))
    assert behaviour_digest(Resolver(reworded)) == behaviour_digest(Resolver(before))
    assert wording_digest(reworded) != wording_digest(before)
    assert behaviour_digest(Resolver(moved)) != behaviour_digest(Resolver(before))
    assert wording_digest(moved) == wording_digest(before)


def marked(risk: list[str] | None) -> Profile:
    """The profile with one mark for all of its settings."""
    held = None if risk is None else frozenset(map(Risk, risk))
    profile = made()
    return replace(
        profile, settings={id: replace(one, risk=held) for id, one in profile.settings.items()}
    )


def test_a_mark_is_behaviour() -> None:
    """Each has a digest of its own; the first is an addition, and no two are the same."""
    states = [None, [], ["heat"], ["heat", "coil"], ["motor"]]
    told = [behaviour_digest(Resolver(marked(risk))) for risk in states]
    assert len(set(told)) == len(states)
    assert len({wording_digest(marked(risk)) for risk in states}) == 1
    bare, none, hot = (Resolver(marked(risk)) for risk in (None, [], ["heat"]))
    assert step_between(bare, hot) is Step.MINOR
    assert step_between(none, hot) is Step.MAJOR
    assert step_between(hot, bare) is Step.MAJOR
    assert step_between(hot, hot) is Step.NONE


def test_a_digest_stays_what_it_is() -> None:
    """The digests of one profile, written down: a changed program must not change them."""
    assert behaviour_digest(Resolver(marked(None))) == "bbd34542ab9813f2179c0d2adf840f02"
    assert behaviour_digest(Resolver(marked([]))) == "8e1af3a6c7c10bba4dcd3bc5c783a77f"
    assert wording_digest(made()) == "157156d035480f8f60d775e72fac51ca"


def test_the_spelling_of_a_range_is_no_behaviour() -> None:
    """Equal ranges written in other ways give the same digest, and so do other ids."""
    before = made()
    after = made(sources={"h1": [">=1, <1.5", ">=1.5, <=1.9"], "h2": ">=3, <=3.9.0"})
    assert behaviour_digest(Resolver(after)) == behaviour_digest(Resolver(before))
    renamed = replace(before, id="test/other")
    assert behaviour_digest(Resolver(renamed)) == behaviour_digest(Resolver(before))


@pytest.mark.parametrize(
    ("version", "step", "after"),
    [
        ("1.4.2", Step.NONE, "1.4.2"),
        ("1.4.2", Step.PATCH, "1.4.3"),
        ("1.4.2", Step.MINOR, "1.5.0"),
        ("1.4.2", Step.MAJOR, "2.0.0"),
        ("0.9.10", Step.PATCH, "0.9.11"),
    ],
)
def test_a_version_takes_a_step(version: str, step: Step, after: str) -> None:
    """The number of the step goes up by one and those behind it start again."""
    assert next_version(version, step) == after


@pytest.mark.parametrize("version", ["", "1", "1.2", "1.2.3.4", "1.2.x", "²2.0.0", "-1.0.0"])
def test_what_is_no_version_of_a_store_is_refused(version: str) -> None:
    """Three whole numbers and nothing else."""
    with pytest.raises(InputError):
        next_version(version, Step.PATCH)


@given(profiles())
def test_a_profile_against_itself_has_no_change(held: Profile) -> None:
    """Law: the review of equal states is empty, however wild the profile."""
    found = review({held.id: held}, {held.id: held})
    assert found.is_empty
    assert found.step is Step.NONE


@given(st.data())
def test_a_review_shows_every_answer_that_changed(data: st.DataObject) -> None:
    """Law: at any firmware, a setting is in the review just where its answers differ.

    Two wild profiles of one scheme are compared at versions drawn at random, independent of the
    cuts that the review itself looks at.
    """
    before = data.draw(profiles())
    after = data.draw(profiles().filter(lambda held: held.scheme is before.scheme))
    version = data.draw(single_versions(before.scheme))
    (found,) = review({"x": before}, {"x": replace(after, id=before.id)}).profiles or (None,)
    shown = {
        change.setting: change.kinds
        for change in (found.changes if found else ())
        if version in change.firmware
    }
    old, new = (Resolver(side).at(version) for side in (before, after))
    differing = {
        name: kinds_of(old.get(name), new.get(name))
        for name in old.keys() | new.keys()
        if _differs(old.get(name), new.get(name))
    }
    assert shown == differing


def _differs(old: Any, new: Any) -> bool:
    if old is None or new is None:
        held = new if old is None else old
        return held.may_exist
    return content(old) != content(new)


@given(profiles(), st.data())
def test_the_digest_looks_at_all_firmware(held: Profile, data: st.DataObject) -> None:
    """Law: what the digest is made of holds the answer at any firmware."""
    resolver = Resolver(held)
    version = data.draw(single_versions(held.scheme))
    for setting in held.settings.values():
        told = [answer for firmware, answer in answers_of(resolver, setting) if version in firmware]
        assert [content(one) for one in told] == [content(resolver.at(version)[setting.id])]


def test_every_shipped_profile_has_digests() -> None:
    """They are made for all of them, and all differ."""
    store = api.open_store()
    found = [behaviour_digest(Resolver(store.profile(id))) for id in store.ids()]
    assert len(set(found)) == len(store.ids())
