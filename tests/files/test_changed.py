"""What changed since a revision, in real repositories.

Source: the manual of git, git-diff and git-ls-files.
"""

import os
from pathlib import Path

import pytest

from cvlib.errors import InputError
from cvlib.files.lint.changed import Changed, changed_since, top_of
from cvlib.files.store import Store, open_store
from files.small_store import BLOCKS, STORE, profile, put
from review.repositories import commit, git, repository


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """A repository with a small store."""
    folder = repository(tmp_path / "rail way")
    commit(folder, STORE)
    return folder


def since(here: Path, revision: str = "HEAD", folder: str = "definitions") -> Changed:
    """What changed in a repository."""
    return changed_since(open_store(here / folder), revision)


def names(changed: Changed) -> set[str]:
    """The files of the store that are told, without their endings."""
    return {name.removesuffix(".toml") for name in changed.names}


def edited(here: Path, name: str) -> None:
    """Change the eighth line of a file, and put two more after its end."""
    lines = STORE[name].splitlines()
    lines[7] += " # edited"
    put(here, name, "\n".join([*lines, "# more", "# and more", ""]))


def test_nothing_changed_is_nothing_told(here: Path) -> None:
    """A clean clone against its own commit."""
    assert since(here).names == frozenset()
    assert since(here).lines == {}


@pytest.mark.parametrize("state", ["saved", "staged", "committed"])
def test_a_change_counts_however_far_it_has_come(here: Path, state: str) -> None:
    """Saved only, staged, or committed; with the lines that are new or other."""
    base = git(here, "rev-parse", "HEAD")
    edited(here, "gulls/gull.toml")
    if state != "saved":
        git(here, "add", "--all")
    if state == "committed":
        git(here, "commit", "--quiet", "--message", "more")
    changed = since(here, base)
    last = len(STORE["gulls/gull.toml"].splitlines())
    assert names(changed) == {"gulls/gull"}
    assert changed.lines == {
        "definitions/gulls/gull.toml": (range(8, 9), range(last + 1, last + 3))
    }


def test_a_staged_change_with_a_further_one_counts_as_it_is_saved(here: Path) -> None:
    """The working file is compared, not what is staged of it; taken back, nothing changed."""
    edited(here, "gulls/gull.toml")
    git(here, "add", "--all")
    put(here, "gulls/gull.toml", STORE["gulls/gull.toml"])
    assert since(here).names == frozenset()


def test_a_file_that_git_does_not_know_counts_whole(here: Path) -> None:
    """Unless git is told to ignore it."""
    put(here, "gulls/puffin.toml", profile("gulls/puffin"))
    put(here, "gulls/private.toml", profile("gulls/private"))
    (here / ".gitignore").write_text("private.toml\n", encoding="utf-8")
    changed = since(here)
    assert names(changed) == {"gulls/puffin"}
    (lines,) = changed.lines["definitions/gulls/puffin.toml"]
    assert 1 in lines
    assert 9999 in lines


def test_a_renamed_file_counts_under_its_new_name(here: Path) -> None:
    """The old one is gone."""
    git(here, "mv", "definitions/gulls/gull.toml", "definitions/gulls/puffin.toml")
    changed = since(here)
    assert names(changed) == {"gulls/puffin"}
    assert changed.lines["definitions/gulls/gull.toml"] == ()
    assert not any(path.name == "gull.toml" for path in changed.paths)


def test_profiles_that_follow_a_changed_file_count_too(here: Path) -> None:
    """A block, and a standard."""
    put(here, "gulls/blocks.toml", BLOCKS.replace("62", "63"))
    assert names(since(here)) == {"gulls/blocks", "gulls/tern"}
    edited(here, "standard/own.toml")
    found = {"gulls/blocks", "gulls/tern", "standard/own", "ilex-works/heron"}
    assert names(since(here)) == found


def test_profiles_that_follow_a_file_that_is_gone_or_broken_count_too(here: Path) -> None:
    """They cannot be read any more, and that is what is to be told."""
    (here / "definitions" / "gulls" / "blocks.toml").unlink()
    put(here, "standard/own.toml", "[decoder\n")
    assert names(since(here)) == {"gulls/tern", "standard/own", "ilex-works/heron"}


@pytest.mark.parametrize("where", [".", "definitions", "definitions/gulls"])
def test_the_working_folder_may_lie_anywhere_inside(
    here: Path, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files are named from the top all the same, also with settings of git against it."""
    edited(here, "gulls/gull.toml")
    git(here, "config", "diff.relative", "true")
    git(here, "config", "diff.noprefix", "true")
    git(here, "config", "diff.mnemonicPrefix", "true")
    git(here, "config", "color.ui", "always")
    monkeypatch.chdir(here / where)
    changed = changed_since(open_store(here / "definitions"), "HEAD")
    assert names(changed) == {"gulls/gull"}
    assert [*changed.lines] == ["definitions/gulls/gull.toml"]
    assert len(changed.lines["definitions/gulls/gull.toml"]) == 2


def test_the_store_may_lie_in_a_subfolder(here: Path) -> None:
    """Its repository is found from its own folder."""
    git(here, "mv", "definitions", "below")
    (here / "club").mkdir()
    git(here, "mv", "below", "club/profiles")
    git(here, "commit", "--quiet", "--message", "moved")
    path = here / "club" / "profiles" / "gulls" / "gull.toml"
    path.write_text(path.read_text() + "# more\n", encoding="utf-8")
    changed = since(here, folder="club/profiles")
    assert names(changed) == {"gulls/gull"}
    assert [*changed.lines] == ["club/profiles/gulls/gull.toml"]
    assert top_of(open_store(here / "club" / "profiles")) == here.resolve()


def test_other_files_and_folders_can_be_narrowed_down(here: Path) -> None:
    """Of what is named only what changed is left: of the store by name, and beside it."""
    edited(here, "gulls/gull.toml")
    put(here, "fleet/one.toml", "format = 1\n")
    store = open_store(here / "definitions")
    changed = changed_since(store, "HEAD")
    assert changed.narrowed(store, []) == ([], {"gulls/gull.toml"})
    loco = here / "definitions" / "fleet" / "one.toml"
    assert changed.narrowed(store, [here / "definitions"]) == ([loco], {"gulls/gull.toml"})
    skua = here / "definitions" / "gulls" / "skua.toml"
    assert changed.narrowed(store, [skua]) == ([], set())


ODD = [
    "a b.toml",
    "Übung №4.toml",
    'quo"te.toml',
    "tab\there.toml",
    "back\\slash.toml",
    "+++ b.toml",
]


@pytest.mark.skipif(os.name != "posix", reason="such names cannot be there")
@pytest.mark.parametrize("name", ODD)
def test_any_name_of_a_file_will_do(here: Path, name: str) -> None:
    """However git writes it into a diff."""
    put(here, f"gulls/{name}", "# one\n# two\n# three\n")
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "odd")
    put(here, f"gulls/{name}", "# one\n# other\n# three\n")
    assert since(here).lines == {f"definitions/gulls/{name}": (range(2, 3),)}


def test_a_line_that_looks_like_a_heading_of_a_diff_is_a_line(here: Path) -> None:
    """Neither "++ b/x" nor "@@ -1 +1 @@" in a file leads astray."""
    put(here, "gulls/gull.toml", "# one\n-- a/x\n# three\n")
    git(here, "commit", "--quiet", "--all", "--message", "base")
    put(here, "gulls/gull.toml", "# one\n++ b/evil\n@@ -1 +50 @@\n# three\n# four")
    assert since(here).lines == {"definitions/gulls/gull.toml": (range(2, 4), range(5, 6))}


def test_outside_of_a_repository_there_is_one_line(
    tmp_path: Path, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It says what to do; so do a bare clone and an unknown revision."""
    (tmp_path / "plain").mkdir()
    monkeypatch.chdir(tmp_path / "plain")
    bare = tmp_path / "bare.git"
    git(tmp_path, "clone", "--quiet", "--bare", str(here), str(bare))
    for store, revision, told in (
        (Store(tmp_path / "plain", here), "HEAD", "not in a git repository"),
        (open_store(), "HEAD", "--definitions"),
        (Store(bare, here), "HEAD", "no working files"),
        (open_store(here / "definitions"), "no-such", 'no revision "no-such"'),
        (open_store(here / "definitions"), "--output=x", "no revision"),
    ):
        with pytest.raises(InputError) as refused:
            changed_since(store, revision)
        (fault,) = refused.value.faults
        assert told in str(fault)
    assert top_of(open_store()) == (tmp_path / "plain").resolve()


def test_nothing_is_written(here: Path) -> None:
    """Neither the index nor anything else below .git."""
    edited(here, "gulls/gull.toml")

    def state() -> dict[str, tuple[int, int]]:
        found = [path for path in here.rglob("*") if path.is_file()]
        return {str(path): (path.stat().st_mtime_ns, path.stat().st_size) for path in found}

    held = state()
    since(here)
    assert state() == held
