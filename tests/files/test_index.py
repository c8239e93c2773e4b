"""The kept index is what the profiles say, is never believed unchecked, and loads no profile."""

from pathlib import Path
from typing import Any

import pytest

from cvlib.engine.bench.identify import identify
from cvlib.engine.bench.index import IdentityIndex, merged, part_of
from cvlib.files import index as kept
from cvlib.files.index import open_index
from cvlib.files.store import Store, open_store
from engine.bench_worlds import reads
from tools.bench.made_store import made_profiles


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store of twelve invented decoders."""
    for id, text in made_profiles(12, 4):
        file = tmp_path / "store" / f"{id}.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return tmp_path / "store"


@pytest.fixture
def loaded(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The ids of profiles that are looked at."""
    ids: list[str] = []
    whole = Store.profile

    def noted(self: Store, id: str) -> Any:
        ids.append(id)
        return whole(self, id)

    monkeypatch.setattr(Store, "profile", noted)
    return ids


def laid_open(index: IdentityIndex) -> list[object]:
    """Everything an index says, row by row."""
    names = [index.listed(number) for number, _, _ in index.spans()]
    rows = [index.row(row) for row in range(len(index))]
    slots = sorted(index.slots)
    cells = [[index.expect(row, slot) for slot in slots] for row in range(len(index))]
    rest = [index.expectation(number) for number in index.rest]
    return [names, rows, slots, cells, rest, index.telling]


def kept_file(own_cache: Path) -> Path:
    """The file of the index."""
    (file,) = own_cache.glob("identity-*.cvlib")
    return file


def test_the_kept_index_is_the_one_that_was_made(folder: Path) -> None:
    """Every row, every CV and every expectation comes back as it was."""
    made = open_index(Store(folder)).index
    again = open_index(Store(folder)).index
    assert again is not made
    assert laid_open(again) == laid_open(made)


def test_loading_the_index_looks_at_no_profile(folder: Path, loaded: list[str]) -> None:
    """The first time every profile is read, the second time none is."""
    open_index(Store(folder))
    assert len(loaded) > 11
    loaded.clear()
    open_index(Store(folder))
    assert loaded == []


def test_only_a_changed_profile_is_read_again(folder: Path, loaded: list[str]) -> None:
    """The rest comes from the index, and the whole is as if all were read anew."""
    open_index(Store(folder))
    path = next(iter(sorted(folder.rglob("*.toml"))))
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("default = 4", "default = 5"), encoding="utf-8")
    loaded.clear()
    changed = open_index(Store(folder)).index
    assert len(set(loaded)) == 1
    store = Store(folder)
    fresh = merged(part_of(store.profile(id)) for id in store.ids())
    assert laid_open(changed) == laid_open(fresh)


def test_a_profile_that_is_removed_is_gone(folder: Path) -> None:
    """Its rows are no longer there, and nothing else changes."""
    before = open_index(Store(folder)).index
    gone = before.listed(3).id
    (folder / f"{gone}.toml").unlink()
    after = open_index(Store(folder)).index
    ids = [after.listed(number).id for number, _, _ in after.spans()]
    assert gone not in ids
    assert after.count == before.count - 1


def test_a_profile_that_is_added_is_there(folder: Path) -> None:
    """It is read and takes its place in the order of ids."""
    open_index(Store(folder))
    for id, text in made_profiles(13, 4):
        path = folder / f"{id}.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    after = open_index(Store(folder)).index
    ids = [after.listed(number).id for number, _, _ in after.spans()]
    assert ids == sorted(Store(folder).ids())


@pytest.mark.parametrize("spot", [0, 45, 4000, -1])
def test_a_damaged_index_is_made_anew(
    folder: Path, own_cache: Path, loaded: list[str], spot: int
) -> None:
    """A single changed byte anywhere is noticed."""
    made = open_index(Store(folder)).index
    file = kept_file(own_cache)
    data = bytearray(file.read_bytes())
    data[spot] ^= 1
    file.write_bytes(data)
    loaded.clear()
    assert laid_open(open_index(Store(folder)).index) == laid_open(made)
    assert loaded


def test_other_code_makes_the_index_anew(
    folder: Path, loaded: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An index of another version of cvlib is not believed."""
    open_index(Store(folder))
    loaded.clear()
    monkeypatch.setattr(kept, "code_stamp", lambda: ("another",))
    open_index(Store(folder))
    assert loaded


def test_without_a_cache_folder_everything_still_works(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The index is then made each time."""
    monkeypatch.setattr(kept, "cache_folder", lambda: None)
    assert open_index(Store(folder)).index.count == 12


def test_a_profile_with_faults_is_left_out_and_told(folder: Path) -> None:
    """One broken file does not keep the others from being found."""
    path = next(iter(sorted(folder.rglob("*.toml"))))
    path.write_text("format = 1\n[decoder\n", encoding="utf-8")
    opened = open_index(Store(folder))
    assert opened.index.count == 11
    assert len(opened.faults) == 1
    assert path.name in str(opened.faults[0])


def test_the_published_standards_are_no_decoders() -> None:
    """They give no row, and are not read again for that."""
    index = open_index(open_store()).index
    ids = [index.listed(number).id for number, _, _ in index.spans()]
    assert [id for id in ids if id.startswith("standard/")] == []
    assert identify(index, reads("8=13 7=2 109=9 110=201 261@0/255=42")).fitting
