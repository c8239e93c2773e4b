"""Corrections of the real profiles do what they say and nothing else; no source outside them."""

import random
from datetime import date

import pytest

from cvlib.engine.known.neighbours import without_index
from cvlib.errors import InputError
from cvlib.files.amend.amending import amend
from cvlib.files.amend.change import Wish
from cvlib.files.store import open_store
from cvlib.model.coding import Area
from cvlib.model.profile import Setting

STORE = open_store()
DECODERS = [one.id for one in STORE.summaries() if one.kind != "standard"]
TODAY = date(2026, 9, 12)
TRIED = 4
"""Settings of each profile that are tried."""


def some_settings(id: str) -> list[Setting]:
    """Some settings of a profile that could be tried on a bench, own ones and others."""
    held = STORE.profile(id).settings.values()
    settings = [one for one in held if not isinstance(one.places[0].coding, Area)]
    return random.Random(id).sample(settings, min(TRIED, len(settings)))


@pytest.mark.parametrize("id", DECODERS)
def test_a_bench_test_changes_its_own_setting_at_its_own_firmware(id: str) -> None:
    """Whatever setting is tried at whatever release, only its own answer changes, and that of
    settings which may have lived on the CVs that are proved to be its own.

    A setting that recurs is written once, so that its siblings change along.
    """
    profile = STORE.profile(id)
    chance = random.Random(id)
    for setting in some_settings(id):
        place = chance.choice(setting.places)
        version = chance.choice(profile.releases).version
        where = f"@{place.fields[0].slot.typed}" if place.fields else ""
        wish = Wish("bench", id, (f"{setting.id}{where}=works",), {"firmware": str(version)})
        try:
            made = amend(STORE, wish, None, TODAY)
        except InputError as error:
            # Several places on one CV, none without a CV, another setting is there for sure, or
            # the place rests on a handbook that the bench test cuts away from it.
            told = (
                "not clear",
                "has no place",
                "claimed-twice",
                "unreachable-place",
                "stray-source",
            )
            assert any(one in str(error) for one in told)  # noqa: PT017
            continue
        assert made.result.effect is not None
        for change in made.result.effect.changes:
            took = change.after.taken_by if change.after else ""
            assert without_index(setting.id) in (
                without_index(change.setting),
                without_index(took or ""),
            )
            assert change.firmware == change.firmware.exactly(version)


@pytest.mark.parametrize("id", DECODERS)
def test_a_release_and_a_question_change_no_answer(id: str) -> None:
    """They stand beside the settings."""
    profile = STORE.profile(id)
    version = {"dotted": "9.9", "number": "99", "date": "2099-01-01"}[profile.scheme.value]
    wishes = [
        Wish("release", id, (version,), {"date": "2026-09-12"}),
        Wish("question", id, ("new-one",), {"text": "What?", "settle": "Look."}),
    ]
    for wish in wishes:
        effect = amend(STORE, wish, None, TODAY).result.effect
        assert effect is not None
        assert effect.changes == ()
        assert len(effect.items) == 1


@pytest.mark.parametrize("id", DECODERS)
def test_the_same_place_corrected_to_what_it_is_changes_nothing(id: str) -> None:
    """A correction that gives a key the value it has is no change of an answer."""
    for setting in some_settings(id):
        if setting.origin or not setting.places[0].fields:
            continue
        number = str(len(setting.places))
        wish = Wish("place", id, (setting.id,), {"number": number, "note": "looked at again"})
        try:
            effect = amend(STORE, wish, None, TODAY).result.effect
        except InputError as error:
            assert "claimed" not in str(error)  # noqa: PT017
            raise
        assert effect is not None
        assert effect.changes == ()
