"""Compiled profiles equal the loaded ones in every part, and are never believed wrongly."""

import marshal
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from pathlib import Path
from typing import Any

import pytest

from cvlib.files import compiled
from cvlib.files.store import Store, open_store
from cvlib.model.profile import Profile
from files.profile_cases import GOOD
from house.tree import ROOT


def laid_open(value: Any) -> Any:
    """A value as nested plain data with its types, so that equality overlooks nothing."""
    kind = type(value).__qualname__
    if isinstance(value, Enum):
        return kind, value.value
    if is_dataclass(value):
        return kind, [
            (field.name, laid_open(getattr(value, field.name))) for field in fields(value)
        ]
    if isinstance(value, dict):
        return kind, [(laid_open(key), laid_open(one)) for key, one in value.items()]
    if isinstance(value, (list, tuple)):
        return kind, [laid_open(one) for one in value]
    return kind, str(value) if isinstance(value, Decimal) else value


def never_loaded(self: Store, id: str) -> Any:
    """In place of loading, where everything must come from the cache."""
    raise AssertionError(f"{id} was loaded anew")


@pytest.fixture
def loads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The ids that are loaded from their TOML files."""
    ids: list[str] = []
    whole: Callable[..., Any] = Store._load

    def noted(self: Store, id: str) -> Any:
        ids.append(id)
        return whole(self, id)

    monkeypatch.setattr(Store, "_load", noted)
    return ids


STORES = {"shipped": open_store, "samples": lambda: Store(GOOD)}
ALL = [(name, id) for name, made in STORES.items() for id in made().ids()]


@pytest.mark.parametrize(("name", "id"), ALL)
def test_compiled_and_loaded_profiles_are_the_same(
    name: str, id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For every definition, every field of every part is equal, and so are spellings and types."""
    loaded = STORES[name]().profile(id)
    monkeypatch.setattr(Store, "_load", never_loaded)
    kept = STORES[name]().profile(id)
    assert kept is not loaded
    assert kept == loaded
    assert laid_open(kept) == laid_open(loaded)


def test_equal_parts_are_rebuilt_once() -> None:
    """Places with equal firmware share one range after a cold start."""
    open_store().profile("ferrow/lark-8")
    places = [
        place
        for setting in open_store().profile("ferrow/lark-8").settings.values()
        for place in setting.places
    ]
    held = [place.firmware for place in places]
    assert len(held) > 50
    assert len({id(firmware) for firmware in held}) < len(held) / 4


def one_profile(folder: Path) -> Profile:
    """The sample that follows a standard and two blocks, from a copy of its store."""
    return Store(folder).profile("heath/owl")


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A copy of the good samples that a test may change."""
    folder = tmp_path / "definitions"
    for path in GOOD.rglob("*.toml"):
        spot = folder / path.relative_to(GOOD)
        spot.parent.mkdir(parents=True, exist_ok=True)
        spot.write_bytes(path.read_bytes())
    return folder


@pytest.mark.parametrize(
    "name", ["heath/owl.toml", "heath/blocks.toml", "standard/bench-rules.toml"]
)
def test_a_change_in_any_file_behind_a_profile_is_seen(
    copied: Path, loads: list[str], name: str
) -> None:
    """A changed file makes the profile load anew, even with its size and time as before."""
    one_profile(copied)
    one_profile(copied)
    assert loads == ["heath/owl", "standard/bench-rules"]
    path = copied / name
    before, text = path.stat(), path.read_text(encoding="utf-8")
    path.write_text(text.replace('title = "', 'title = "X', 1)[:-1], encoding="utf-8")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    one_profile(copied)
    assert "heath/owl" in loads[2:]


def test_a_file_that_comes_before_another_is_seen(copied: Path, loads: list[str]) -> None:
    """A standard put into the folder in front takes the place of the one behind it."""
    front = copied.parent / "front"
    (front / "standard").mkdir(parents=True)
    store = Store(front, copied)
    assert store.profile("heath/owl").settings["address.short"].title == "Address"
    text = (copied / "standard" / "bench-rules.toml").read_text(encoding="utf-8")
    changed = text.replace('title = "Address"', 'title = "Other"')
    (front / "standard" / "bench-rules.toml").write_text(changed, encoding="utf-8")
    assert Store(front, copied).profile("heath/owl").settings["address.short"].title == "Other"


def the_file(cache: Path) -> Path:
    """The compiled form of the sample."""
    (found,) = cache.glob("heath+owl-*.cvlib")
    return found


def damage(data: bytes, how: str) -> bytes:
    """The bytes of a compiled profile after something went wrong with them."""
    middle = len(data) // 2
    match how:
        case "empty":
            return b""
        case "truncated":
            return data[:middle]
        case "one bit":
            return data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :]
        case "appended":
            return data + b"0"
        case "edited by hand":
            return data.replace(b"Distance", b"distance", 1)
        case "another":
            return b"\x00" * len(data)
    raise AssertionError(how)


@pytest.mark.parametrize(
    "how", ["empty", "truncated", "one bit", "appended", "edited by hand", "another"]
)
def test_a_damaged_cache_is_not_believed(
    copied: Path, own_cache: Path, loads: list[str], how: str
) -> None:
    """Whatever happened to the kept file, the profile is loaded anew and kept again."""
    right = laid_open(one_profile(copied))
    path = the_file(own_cache)
    data = path.read_bytes()
    assert damage(data, how) != data
    path.write_bytes(damage(data, how))
    loads.clear()
    assert laid_open(one_profile(copied)) == right
    assert loads == ["heath/owl"]
    assert path.read_bytes() == data


@pytest.mark.parametrize("at", range(0, 45, 3))
def test_a_cache_with_any_damaged_head_is_not_believed(
    copied: Path, own_cache: Path, loads: list[str], at: int
) -> None:
    """A changed byte in the digest at the head is noticed as well."""
    one_profile(copied)
    path = the_file(own_cache)
    data = bytearray(path.read_bytes())
    data[at] ^= 0xFF
    path.write_bytes(data)
    loads.clear()
    one_profile(copied)
    assert loads == ["heath/owl"]


FORGED: dict[str, object] = {
    "no table": 7,
    "other code": (("0",), "heath/owl", (), []),
    "too short a table": ((), "heath/owl"),
    "no rows": (None, "heath/owl", (), []),
    "a row of nothing": (None, "heath/owl", (), [(-1, ())]),
    "a class that is none": (None, "heath/owl", (), [(999, ())]),
    "a row that is not there": (None, "heath/owl", (), [(-1, ((5,),))]),
    "wrong values": (None, "heath/owl", (), [(0, (1, 2, 3))]),
    "another profile": (None, "heath/vole", (), [(-1, ())]),
    "odd pairs": (None, "heath/owl", (), [(-2, ("a",))]),
    "files that are none": (None, "heath/owl", 3, [(-1, ())]),
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forged_table_with_a_right_digest_is_not_believed(
    copied: Path, own_cache: Path, loads: list[str], name: str
) -> None:
    """Even with a digest that agrees, what is no profile of this code and id is passed over."""
    one_profile(copied)
    table: Any = FORGED[name]
    if isinstance(table, tuple) and table[0] is None:
        table = (compiled._stamp(), *table[1:])
    payload = marshal.dumps(table)
    the_file(own_cache).write_bytes(compiled._mark(payload, compiled._key() or b"") + payload)
    loads.clear()
    one_profile(copied)
    assert loads == ["heath/owl"]


def test_other_code_makes_all_profiles_anew(
    copied: Path, loads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept profile counts only for the code that made it."""
    one_profile(copied)
    loads.clear()
    monkeypatch.setattr(compiled, "_stamp", lambda: ("later",))
    one_profile(copied)
    assert loads[0] == "heath/owl"


def test_without_a_folder_to_write_to_all_works(
    copied: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cache folder that is a file, or none at all, costs time and nothing else."""
    blocked = tmp_path / "blocked"
    blocked.write_text("x", encoding="utf-8")
    for folder in (str(blocked), str(blocked / "inner")):
        monkeypatch.setenv("CVLIB_CACHE", folder)
        assert one_profile(copied).id == "heath/owl"
    monkeypatch.delenv("CVLIB_CACHE")
    for name in ("HOME", "LOCALAPPDATA", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    assert compiled.cache_folder() is None
    assert one_profile(copied).id == "heath/owl"


@pytest.mark.parametrize(
    ("platform", "given", "folder"),
    [
        ("linux", {"HOME": "/h"}, "/h/.cache/cvlib"),
        ("linux", {"HOME": "/h", "XDG_CACHE_HOME": "/x"}, "/x/cvlib"),
        ("linux", {"HOME": "/h", "XDG_CACHE_HOME": "relative"}, "/h/.cache/cvlib"),
        ("darwin", {"HOME": "/h"}, "/h/Library/Caches/cvlib"),
        ("win32", {"LOCALAPPDATA": "/l"}, "/l/cvlib/Cache"),
        ("linux", {"HOME": "/h", "CVLIB_CACHE": "/c"}, "/c"),
    ],
)
def test_the_cache_lies_where_the_platform_keeps_such_things(
    monkeypatch: pytest.MonkeyPatch, platform: str, given: dict[str, str], folder: str
) -> None:
    """CVLIB_CACHE first, else the usual folder of the platform."""
    for name in ("HOME", "LOCALAPPDATA", "XDG_CACHE_HOME", "CVLIB_CACHE"):
        monkeypatch.delenv(name, raising=False)
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(compiled.sys, "platform", platform)
    assert compiled.cache_folder() == Path(folder)


def test_nothing_but_kept_profiles_is_left_in_the_folder(copied: Path, own_cache: Path) -> None:
    """Writing leaves no half-written file behind."""
    one_profile(copied)
    assert {path.suffix for path in own_cache.iterdir()} == {".cvlib"}


COLD = """
import sys
from cvlib.files.store import open_store
profile = open_store().profile("ilex-works/nightjar-s")
assert len(profile.settings) > 300
heavy = {"pydantic", "pydantic_core", "cvlib.files.load", "cvlib.files.shapes", "hashlib"}
print(sorted(heavy & sys.modules.keys()))
"""


def test_a_cold_start_imports_neither_pydantic_nor_shapes(own_cache: Path) -> None:
    """A kept profile is rebuilt without the imports that loading needs."""
    open_store().profile("ilex-works/nightjar-s")
    done = subprocess.run(
        [sys.executable, "-c", COLD],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.strip() == "[]", done.stderr


def test_rebuilding_takes_milliseconds() -> None:
    """A profile of four hundred settings is there in a few milliseconds; 50 leave room for load."""
    open_store().profile("ilex-works/nightjar-s")
    times = []
    for _ in range(5):
        start = time.perf_counter()
        open_store().profile("ilex-works/nightjar-s")
        times.append(time.perf_counter() - start)
    assert min(times) < 0.05


needs_owners = pytest.mark.skipif(sys.platform == "win32", reason="rights are kept otherwise there")


@needs_owners
@pytest.mark.parametrize("how", ["open to others", "a link", "of somebody else"])
def test_a_folder_that_is_not_ones_own_is_not_used(
    copied: Path, own_cache: Path, loads: list[str], how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is read from it and nothing written into it; a note says so once."""
    one_profile(copied)
    loads.clear()
    kept = sorted(path.name for path in own_cache.iterdir())
    match how:
        case "open to others":
            own_cache.chmod(0o777)
        case "a link":
            own_cache.rename(own_cache.with_name("elsewhere"))
            own_cache.symlink_to(own_cache.with_name("elsewhere"))
        case _:
            owner = os.geteuid()
            compiled._key()
            monkeypatch.setattr(os, "geteuid", lambda: owner + 1)
    compiled.notes.clear()
    one_profile(copied)
    one_profile(copied)
    assert loads == ["heath/owl", "standard/bench-rules"] * 2
    assert sorted(path.name for path in own_cache.iterdir()) == kept
    assert len(compiled.notes) == 1
    assert "is not used" in next(iter(compiled.notes))
    compiled.notes.clear()


@needs_owners
@pytest.mark.parametrize("how", ["a link", "a pipe", "open to others", "another key", "a folder"])
def test_a_planted_file_changes_no_answer(
    copied: Path, own_cache: Path, loads: list[str], how: str
) -> None:
    """Not even one that would be right in every part, were it one's own; nothing waits for ever."""
    right = laid_open(one_profile(copied))
    path = the_file(own_cache)
    data = path.read_bytes()
    forged = data[compiled._MARK_LENGTH :].replace(b"Distance", b"Diztance")
    theirs = own_cache.parent / "theirs"
    theirs.write_bytes(compiled._mark(forged, compiled._key() or b"") + forged)
    path.unlink()
    match how:
        case "a link":
            path.symlink_to(theirs)
        case "a pipe":
            os.mkfifo(path)
        case "open to others":
            path.write_bytes(theirs.read_bytes())
            path.chmod(0o666)
        case "a folder":
            path.mkdir()
        case _:
            path.write_bytes(compiled._mark(forged, b"k" * 32) + forged)
    before = theirs.read_bytes()
    loads.clear()
    assert laid_open(one_profile(copied)) == right
    assert loads == ["heath/owl"]
    assert theirs.read_bytes() == before


@needs_owners
def test_the_forger_would_be_believed_with_the_key(copied: Path, own_cache: Path) -> None:
    """So that the tests above can fail: only the mark keeps a planted file out."""
    one_profile(copied)
    path = the_file(own_cache)
    forged = path.read_bytes()[compiled._MARK_LENGTH :].replace(b"Distance", b"Diztance")
    path.write_bytes(compiled._mark(forged, compiled._key() or b"") + forged)
    assert "Diztance" in str(laid_open(one_profile(copied)))


def test_the_key_is_ones_own_and_lasts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Made once, for nobody else to read; one that was cut short is made anew."""
    if sys.platform != "linux":
        pytest.skip("the usual folder is another there")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    compiled._key.cache_clear()
    try:
        first = compiled._key()
        path = tmp_path / "cvlib" / "key"
        assert (path.read_bytes(), path.stat().st_mode & 0o777) == (first, 0o600)
        compiled._key.cache_clear()
        assert compiled._key() == first
        path.write_bytes(b"short")
        compiled._key.cache_clear()
        assert compiled._key() not in (first, None)
        assert len(path.read_bytes()) == 32
    finally:
        compiled._key.cache_clear()
