"""The store finds profiles by file name and reads only what is asked for."""

import shutil
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from cvlib.errors import InputError
from cvlib.files import store as module
from cvlib.files.data import definitions_folder, docs_folder
from cvlib.files.store import Store, open_store
from cvlib.model.versions import Scheme
from files.profile_cases import DEFINITIONS, GOOD, good_store


@pytest.fixture
def read_names(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are read, in order."""
    names: list[str] = []

    def noted(path: Path) -> bytes:
        names.append(f"{path.parent.name}/{path.name}")
        return path.read_bytes()

    monkeypatch.setattr(module, "read_bytes", noted)
    return names


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A copy of the good samples that a test may change."""
    return Path(shutil.copytree(GOOD, tmp_path / "definitions"))


def test_ids_come_from_the_file_names_alone(read_names: list[str]) -> None:
    """Ids are listed in order without reading; blocks files are no profiles."""
    store = good_store()
    heath = ("heath/mouse", "heath/owl", "heath/stoat", "heath/vole")
    assert store.ids() == (*heath, "standard/bench-rules")
    assert read_names == []


def test_locos_are_no_profiles(copied: Path) -> None:
    """What lies in the folder ``fleet``, in hidden folders or deeper down is no profile."""
    for folder in ("fleet", ".hidden", "heath/deeper"):
        (copied / folder).mkdir(exist_ok=True)
        shutil.copy(GOOD / "heath" / "mouse.toml", copied / folder / "mouse.toml")
    assert Store(copied).ids() == good_store().ids()


def test_one_profile_reads_itself_and_what_it_follows(read_names: list[str]) -> None:
    """No other file is touched, neither the first time nor from the compiled form."""
    expected = {"heath/owl.toml", "heath/blocks.toml", "standard/bench-rules.toml"}
    good_store().profile("heath/owl")
    assert set(read_names) == expected
    read_names.clear()
    good_store().profile("heath/owl")
    assert sorted(read_names) == sorted(expected)
    read_names.clear()
    good_store().profile("heath/mouse")
    assert read_names == ["heath/mouse.toml"]


def test_an_unknown_id_names_the_nearest() -> None:
    """A mistyped id, one without folder and the id of a blocks file are refused with advice."""
    for asked, advice in (
        ("heath/owll", 'Did you mean "heath/owl"?'),
        ("owl", 'Did you mean "heath/owl"?'),
        ("heath/blocks", 'Did you mean "heath/mouse"?'),
        ("something else", 'See "cvlib profiles" for those there are.'),
        ("../heath/owl", 'Did you mean "heath/owl"?'),
    ):
        with pytest.raises(InputError) as caught:
            good_store().profile(asked)
        assert str(caught.value) == f'There is no profile "{asked}". {advice}'


def test_a_folder_adds_to_the_shipped_store(copied: Path) -> None:
    """The folder's profiles stand beside the shipped ones; of the same id, the folder's counts."""
    (copied / "ferrow").mkdir()
    text = (copied / "heath" / "mouse.toml").read_text(encoding="utf-8")
    own = text.replace("heath/mouse", "ferrow/lark-8").replace('"Mouse"', '"My Lark"')
    (copied / "ferrow" / "lark-8.toml").write_text(own, encoding="utf-8")
    store = open_store(copied)
    assert {"heath/owl", "standard/nmra-s-9.2.2", "ferrow/lark-8"} <= set(store.ids())
    assert store.profile("ferrow/lark-8").name == "My Lark"
    assert store.path("ferrow/lark-8") == copied / "ferrow" / "lark-8.toml"


def test_the_environment_may_name_the_folder(copied: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """CVLIB_DEFINITIONS counts where no folder is given; an empty one is none."""
    monkeypatch.setenv("CVLIB_DEFINITIONS", str(copied))
    assert "heath/owl" in open_store().ids()
    monkeypatch.setenv("CVLIB_DEFINITIONS", "")
    assert "heath/owl" not in open_store().ids()


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    """A folder of definitions that is not there, or is a file, gives one clear line."""
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for name in ("nowhere", "file"):
        with pytest.raises(InputError, match=r"there is no such folder of definitions"):
            open_store(tmp_path / name)


def test_the_file_name_is_the_id(copied: Path) -> None:
    """A profile whose id is not its folder and file name is refused."""
    (copied / "heath" / "mouse.toml").rename(copied / "heath" / "rat.toml")
    with pytest.raises(InputError) as caught:
        Store(copied).profile("heath/rat")
    assert 'the id is "heath/mouse", but the file lies at "heath/rat"' in str(caught.value)


def test_a_standard_that_follows_itself_is_refused(copied: Path) -> None:
    """A circle of standards ends in a fault, not in a search without end."""
    path = copied / "standard" / "bench-rules.toml"
    text = path.read_text(encoding="utf-8")
    follows = 'kind = "standard"\nfollows = ["standard/bench-rules@2019-05"]'
    path.write_text(text.replace('kind = "standard"', follows), encoding="utf-8")
    with pytest.raises(InputError, match="follows itself"):
        Store(copied).profile("standard/bench-rules")


def test_a_faulty_standard_is_named_where_it_is_followed(copied: Path) -> None:
    """Who follows a faulty standard is told so, with the standard's first fault."""
    path = copied / "standard" / "bench-rules.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("cv = 28", "cv = 2800"), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        Store(copied).profile("heath/vole")
    assert "standard/bench-rules cannot be followed." in str(caught.value)
    assert "must be 1024 or less, found 2800" in str(caught.value)


def test_a_file_that_is_no_text_is_refused(copied: Path) -> None:
    """Binary content in place of a profile gives a line with the file's name."""
    (copied / "heath" / "mouse.toml").write_bytes(b"\x00\x01\x02")
    with pytest.raises(InputError, match=r"mouse\.toml:1: .*not a text file"):
        Store(copied).profile("heath/mouse")


def test_files_of_a_profile_are_known() -> None:
    """The files behind a profile: its own, then those it follows, each once."""
    store = good_store()
    names = [path.relative_to(GOOD).as_posix() for path in store.files_of("heath/owl")]
    assert names == ["heath/owl.toml", "standard/bench-rules.toml", "heath/blocks.toml"]
    assert store.block_names() == ("heath/blocks.toml",)
    assert store.located("heath/blocks.toml") == GOOD / "heath" / "blocks.toml"


def test_summaries_tell_what_there_is(copied: Path) -> None:
    """Maker, name, kind, scheme and releases, without the settings; a faulty file says why."""
    (copied / "heath" / "vole.toml").write_text('[decoder]\nname = "Vole', encoding="utf-8")
    mouse, owl, _, vole, rules = Store(copied).summaries()
    assert (owl.maker, owl.name, owl.kind, owl.scheme) == ("Heath", "Owl", "motor", Scheme.DOTTED)
    assert owl.releases == ("2.0", "1.0")
    assert (mouse.name, mouse.kind, mouse.releases) == ("Mouse", "function", ())
    assert rules.scheme == "date"
    assert vole.fault is not None
    assert "a text is not closed" in str(vole.fault)


BEHIND = """
[[source]]
id = "word"
kind = "maker"
title = "The maker's word"
date = 2021-01-01
firmware = "==9.0"

[[firmware.release]]
version = "9.0"
"""
HIDDEN = (
    "",
    '[[rule]]\nid = "a"\nonly = [\n  ["a", "b"]\n]\n',
    '[[question]]\nid = \'a\'\ntext = """\n[[source]]\nfirmware = \'==8.0\'\n"""\n',
    "[[rule]]\nid = 'a'\n",
)


@pytest.mark.parametrize("between", HIDDEN)
@pytest.mark.parametrize("indent", ["", "  ", "\t"])
def test_a_summary_tells_of_tables_behind_the_settings(
    between: str, indent: str, copied: Path
) -> None:
    """Releases and sources count wherever they stand; what only looks like one does not."""
    path = copied / "heath" / "owl.toml"
    text = path.read_text(encoding="utf-8")
    (before,) = [one for one in Store(copied).summaries() if one.id == "heath/owl"]
    behind = BEHIND.replace("\n[", f"\n{indent}[")
    path.write_text(f"{text}\n{between}{behind}", encoding="utf-8")
    (after,) = [one for one in Store(copied).summaries() if one.id == "heath/owl"]
    assert after.releases == (*before.releases, "9.0")
    assert after.covered == f"{before.covered} or ==9.0"
    path.write_text(f"{text}\n{between}", encoding="utf-8")
    (alone,) = [one for one in Store(copied).summaries() if one.id == "heath/owl"]
    assert (alone.releases, alone.covered) == (before.releases, before.covered)


def test_a_summary_agrees_with_the_whole_file() -> None:
    """What the list tells of every shipped profile is what its complete file says."""
    store = Store(DEFINITIONS)
    for told in store.summaries():
        data = tomllib.loads(store.path(told.id).read_text(encoding="utf-8"))
        listed = data["firmware"].get("release", [])
        assert told.releases == tuple(one["version"] for one in listed)
        assert (told.maker, told.kind) == (data["decoder"]["maker"], data["decoder"]["kind"])


def test_a_summary_survives_whatever_the_file_holds(copied: Path) -> None:
    """Tables in the wrong form leave a summary empty; they are the loader's to refuse."""
    for text in (
        "decoder = 3\nfirmware = []",
        "x = 1",
        "[decoder]\nname = 3\n[firmware]\nrelease = 1",
    ):
        (copied / "heath" / "mouse.toml").write_text(text, encoding="utf-8")
        assert Store(copied).summaries()[0].name == ""


def test_shipped_folders_are_found() -> None:
    """In a checkout the definitions and documents are those of the checkout."""
    assert definitions_folder() == DEFINITIONS
    assert (docs_folder() / "schema" / "profile.schema.json").is_file()


def test_all_shipped_profiles_load() -> None:
    """Every shipped definition is a complete profile."""
    store = open_store()
    for id in store.ids():
        assert store.profile(id).id == id


def test_a_folder_of_a_maker_that_cannot_be_read_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it holds is never silently answered out of the shipped definitions."""
    (tmp_path / "ferrow").mkdir()
    whole = Path.iterdir

    def closed(self: Path) -> Any:
        if self.name == "ferrow" and self.parent == tmp_path:
            raise PermissionError(13, "Permission denied")
        return whole(self)

    monkeypatch.setattr(Path, "iterdir", closed)
    with pytest.raises(InputError, match=r"ferrow: the folder of definitions cannot be read"):
        open_store(tmp_path)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    """Neither of a file nor of a maker; links within the folder are."""
    store, outside = tmp_path / "store", tmp_path / "outside"
    shutil.copytree(GOOD, store)
    outside.mkdir()
    (store / "heath" / "owl.toml").rename(outside / "owl.toml")
    (store / "heath" / "owl.toml").symlink_to(outside / "owl.toml")
    (store / "linked").symlink_to(outside)
    for id in ("heath/owl", "linked/owl"):
        with pytest.raises(InputError, match="leads out of the folder of definitions"):
            Store(store).profile(id)
    (outside / "owl.toml").rename(store / "kept")
    (store / "heath" / "owl.toml").unlink()
    (store / "heath" / "owl.toml").symlink_to(store / "kept")
    assert Store(store).profile("heath/owl").id == "heath/owl"
