"""Pairs of stores in folders, each with what a review of them must find, told in full."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from cvlib import api
from cvlib.engine.change.effect import DecoderEffect
from cvlib.engine.change.review import ProfileReview
from cvlib.engine.change.reviewed import Reviewed
from cvlib.files.revisions import Revisions
from make import CASES
from review.repositories import commit, repository

FOLDERS = sorted(path.parent for path in (CASES / "review").glob("*/expect.toml"))


def told(result: Reviewed) -> dict[str, Any]:
    """A review as the expectations write it; what is empty is left out."""
    return _without_empty(
        {
            "step": result.step.value,
            "unchanged": result.unchanged,
            "older": dict(result.older),
            "broken-before": [one.id for one in result.broken_before],
            "broken-after": [one.id for one in result.broken_after],
            "profile": [_profile(one) for one in result.review.profiles],
            "loco": [_loco(one) for one in result.effects],
            "untouched": result.untouched,
        }
    )


def _profile(one: ProfileReview) -> dict[str, Any]:
    what = "added" if not one.before else "removed" if not one.after else ""
    return _without_empty(
        {
            "id": one.id,
            "was": one.was,
            "what": "recounted" if one.is_recounted else what,
            "step": one.step.value,
            "changes": sorted(
                f"{change.setting}: {', '.join(change.kinds)} in {change.firmware.text()}"
                + (f" ({', '.join(change.releases)})" if change.releases else "")
                for change in one.changes
            ),
            "items": sorted(" ".join(filter(None, (i.part, i.id, i.change))) for i in one.items),
            "wording": [" ".join(filter(None, (w.part, w.id, w.key))) for w in one.wording],
        }
    )


def _loco(one: DecoderEffect) -> dict[str, Any]:
    return _without_empty(
        {
            "name": one.loco.name,
            "role": one.decoder.role,
            "renamed": one.renamed,
            "new": [finding.code for finding in one.new],
            "gone": [finding.code for finding in one.gone],
            "meanings": [
                f"{held.slot.typed} = {held.value}: {held.before} -> {held.after}"
                for held in one.meanings
            ],
        }
    )


def _without_empty(held: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in held.items() if value or key == "step"}


def expected(folder: Path) -> dict[str, Any]:
    """What a case expects, lists in the order of their text."""
    held = tomllib.loads((folder / "expect.toml").read_text(encoding="utf-8"))
    for profile in held.get("profile", ()):
        for key in ("changes", "items"):
            profile[key] = sorted(profile.get(key, ()))
    profiles = [_without_empty(profile) for profile in held.get("profile", ())]
    return _without_empty(held | {"profile": profiles})


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_review_finds_just_what_changed(folder: Path, tmp_path: Path) -> None:
    """Between two commits of a real repository, and between a commit and the working files."""
    here = repository(tmp_path / "railway")
    before = commit(here, folder / "before")
    after = commit(here, folder / "after")
    locos = sorted((folder / "locos").glob("*.toml"))
    committed = api.review(Revisions(before, after, here), locos)
    working = api.review(Revisions(before, "", here), locos)
    assert told(committed) == expected(folder)
    assert told(working) == told(committed)


@pytest.mark.parametrize("side", ["before", "after"])
@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_state_against_itself_has_no_change(folder: Path, side: str, tmp_path: Path) -> None:
    """The review of a state and the same state is empty."""
    here = repository(tmp_path / "railway")
    name = commit(here, folder / side)
    if not any((folder / side).glob("*/*.toml")):
        pytest.skip("there is no profile in this state")
    result = api.review(Revisions(name, name, here))
    assert result.review.is_empty
    assert result.step.value == "none"
    assert not result.broken_after


def test_there_are_cases() -> None:
    """The folder of cases is found."""
    assert len(FOLDERS) >= 15
