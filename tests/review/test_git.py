"""A store at a revision is read from a real repository, and nothing in it is touched."""

import os
import subprocess
from pathlib import Path, PurePosixPath

import pytest

from cvlib import api
from cvlib.engine.change.reviewed import Reviewed
from cvlib.errors import InputError
from cvlib.files import git as git_files
from cvlib.files.git import Repository
from cvlib.files.revisions import Revisions
from make import CASES
from review.repositories import commit, git, repository

BEFORE = CASES / "review" / "moved" / "before"
AFTER = CASES / "review" / "moved" / "after"


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """A repository with two states of a store, the second one newest."""
    folder = repository(tmp_path / "railway")
    commit(folder, BEFORE, "before")
    commit(folder, AFTER, "after")
    return folder


def changed(result: Reviewed) -> list[str]:
    """The settings that changed."""
    found = [change.setting for one in result.review.profiles for change in one.changes]
    return list(dict.fromkeys(found))


def fault(asked: Revisions) -> str:
    """The one line that a review is refused with."""
    with pytest.raises(InputError) as refused:
        api.review(asked)
    assert len(refused.value.faults) == 1
    return str(refused.value.faults[0])


def test_revisions_are_named_in_every_usual_way(here: Path) -> None:
    """Branches, tags, commits, short commits and relatives of them mean the same commits."""
    git(here, "tag", "old", "HEAD~1")
    git(here, "tag", "--annotate", "--message", "a tag", "older", "HEAD~1")
    first = git(here, "rev-parse", "HEAD~1")
    for name in ("HEAD~1", "main~1", "old", "older", first, first[:8], "HEAD^", "@~1"):
        assert changed(api.review(Revisions(name, "main", here))) == ["braking.distance"]


def test_nothing_is_written_or_checked_out(here: Path) -> None:
    """Working files, index and everything below .git are what they were."""
    (here / "definitions" / "ferrow" / "finch.toml").write_text("not even TOML [")
    (here / "notes.txt").write_text("untracked")

    def state() -> dict[str, tuple[int, int]]:
        files = [path for path in here.rglob("*") if path.is_file()]
        return {str(path): (path.stat().st_mtime_ns, path.stat().st_size) for path in files}

    held = state()
    assert changed(api.review(Revisions("HEAD~1", "HEAD", here))) == ["braking.distance"]
    assert state() == held


def test_untracked_and_unsaved_changes_count_without_a_second_revision(here: Path) -> None:
    """The working files are compared: edited ones, and a profile that git does not know yet."""
    store = here / "definitions" / "ferrow"
    text = (store / "finch.toml").read_text()
    (store / "finch.toml").write_text(text.replace("cv = 62", "cv = 63"))
    (store / "wren.toml").write_text(text.replace('"ferrow/finch"', '"ferrow/wren"'))
    result = api.review(Revisions("HEAD", "", here))
    assert [one.id for one in result.review.profiles] == ["ferrow/finch", "ferrow/wren"]
    assert changed(result) == ["lights.dim"]
    assert result.after.commit == ""


def test_a_bare_clone_needs_two_revisions(here: Path, tmp_path: Path) -> None:
    """It has no working files, and is read like any other otherwise."""
    bare = tmp_path / "bare.git"
    git(tmp_path, "clone", "--quiet", "--bare", str(here), str(bare))
    assert changed(api.review(Revisions("HEAD~1", "HEAD", bare))) == ["braking.distance"]
    assert "no working files" in fault(Revisions("HEAD~1", "", bare))


def test_a_shallow_clone_says_that_it_is_shallow(here: Path, tmp_path: Path) -> None:
    """A revision beyond what was fetched is refused with what brings it."""
    shallow = tmp_path / "shallow"
    git(tmp_path, "clone", "--quiet", "--depth", "1", here.as_uri(), str(shallow))
    assert "shallow" in fault(Revisions("HEAD~1", "HEAD", shallow))
    assert api.review(Revisions("HEAD", "", shallow)).review.is_empty


def test_a_clone_without_all_files_fetches_nothing(here: Path, tmp_path: Path) -> None:
    """Files that a partial clone lacks are not brought from elsewhere; one line says so."""
    git(here, "config", "uploadpack.allowFilter", "true")
    partial = tmp_path / "partial"
    git(tmp_path, "clone", "--quiet", "--filter=blob:none", here.as_uri(), str(partial))
    assert "not all files" in fault(Revisions("HEAD~1", "HEAD", partial))


@pytest.mark.parametrize("name", ["a path with spaces", "Übung — №4", "quo'te $HOME `x`", "-dash"])
def test_any_name_of_a_folder_will_do(name: str, tmp_path: Path) -> None:
    """Spaces, letters of all alphabets and characters that a shell would take are plain text."""
    here = repository(tmp_path / name)
    commit(here, BEFORE)
    commit(here, AFTER)
    assert changed(api.review(Revisions("HEAD~1", "HEAD", here))) == ["braking.distance"]
    assert api.review(Revisions("HEAD", "", here)).review.is_empty


def test_a_detached_head_is_a_revision_like_another(here: Path) -> None:
    """No branch needs to be checked out."""
    git(here, "checkout", "--quiet", "--detach", "HEAD~1")
    assert changed(api.review(Revisions("main", "HEAD", here))) == ["braking.distance"]
    assert changed(api.review(Revisions("main", "", here))) == ["braking.distance"]


def test_a_linked_working_tree_is_read_too(here: Path, tmp_path: Path) -> None:
    """A second working tree of the same repository has working files of its own."""
    git(here, "worktree", "add", "--quiet", "--detach", str(tmp_path / "second"), "HEAD~1")
    assert changed(api.review(Revisions("main", "", tmp_path / "second"))) == ["braking.distance"]


def test_the_store_may_lie_anywhere_in_the_repository(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder is told by --definitions: from the working folder, or from the top."""
    (here / "docs").mkdir()
    git(here, "mv", "definitions", "docs/the store")
    git(here, "commit", "--quiet", "--message", "moved")
    text = (here / "docs" / "the store" / "ferrow" / "finch.toml").read_text()
    (here / "docs" / "the store" / "ferrow" / "finch.toml").write_text(text.replace("62", "63"))
    monkeypatch.chdir(here / "docs")
    for asked in (
        Revisions("HEAD", definitions=Path("the store")),
        Revisions("HEAD", definitions=here / "docs" / "the store"),
        Revisions("HEAD", "", here, Path("docs/the store")),
        Revisions("HEAD", "", here / "docs", here / "docs" / "the store"),
    ):
        assert changed(api.review(asked)) == ["lights.dim"]
    assert "not in this repository" in fault(Revisions("HEAD", "", here, Path("../elsewhere")))
    assert "no decoder profiles" in fault(Revisions("HEAD", "", here, Path("nowhere")))


def test_the_usual_folder_is_found_from_anywhere_inside(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the top, from the folder of the store, and from the folder of a maker."""
    for folder in (here, here / "definitions", here / "definitions" / "ferrow"):
        monkeypatch.chdir(folder)
        assert changed(api.review(Revisions("HEAD~1"))) == ["braking.distance"]


def test_the_fork_is_compared_where_asked(here: Path) -> None:
    """What the other branch got meanwhile is no change of this one."""
    git(here, "checkout", "--quiet", "-b", "mine", "HEAD~1")
    text = (here / "definitions" / "ferrow" / "finch.toml").read_text()
    (here / "definitions" / "ferrow" / "finch.toml").write_text(text.replace("cv = 62", "cv = 63"))
    git(here, "commit", "--quiet", "--all", "--message", "mine")
    asked = Revisions("main", "mine", here)
    assert changed(api.review(asked)) == ["braking.distance", "lights.dim"]
    forked = Revisions("main", "mine", here, from_fork=True)
    assert changed(api.review(forked)) == ["lights.dim"]


REFUSED = ["no-such-branch", "", " ", "-h", "--help", "--output=x", "HEAD:definitions", "HEAD~99",
           "HEAD\n", "main..mine", "^main", "a b", "\0", "deadbeef", "@{upstream}"]  # fmt: skip


@pytest.mark.parametrize("revision", REFUSED)
def test_what_is_no_revision_is_refused_in_one_line(revision: str, here: Path) -> None:
    """Nothing a person types becomes an option of git or a second revision."""
    for asked in (Revisions(revision, "HEAD", here), Revisions("HEAD", revision or "--", here)):
        assert "there is no revision" in fault(asked)


def test_outside_of_a_repository_there_is_one_line(tmp_path: Path) -> None:
    """A folder without repository, and one that does not exist."""
    assert "not in a git repository" in fault(Revisions("HEAD", "", tmp_path))
    assert "no such folder" in fault(Revisions("HEAD", "", tmp_path / "nowhere"))


def test_without_git_there_is_one_line(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that has no git is told so."""
    monkeypatch.setenv("PATH", str(here))
    assert "git is not installed" in fault(Revisions("HEAD", "", here))


def test_a_repository_of_somebody_else_is_told_apart(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """git's own refusal becomes one line with what to do."""
    said = f"fatal: detected dubious ownership in repository at '{here}'\nTo add an exception …"

    def refuse(*_: object, **__: object) -> subprocess.CompletedProcess[bytes]:
        return subprocess.CompletedProcess([], 128, b"", said.encode())

    monkeypatch.setattr(git_files.subprocess, "run", refuse)
    line = fault(Revisions("HEAD", "", here))
    assert "does not trust" in line
    assert "safe.directory" in line


def test_variables_of_a_hook_do_not_mislead(
    here: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """GIT_DIR and its like point elsewhere inside a hook; the repository asked for is read."""
    other = repository(tmp_path / "other")
    monkeypatch.setenv("GIT_DIR", str(other / ".git"))
    monkeypatch.setenv("GIT_WORK_TREE", str(other))
    monkeypatch.setenv("GIT_INDEX_FILE", str(other / "index"))
    assert changed(api.review(Revisions("HEAD~1", "HEAD", here))) == ["braking.distance"]


def test_only_plain_files_of_the_store_are_read(here: Path) -> None:
    """Links, saved locos, hidden folders and files elsewhere are no profiles."""
    store = here / "definitions"
    text = (store / "ferrow" / "finch.toml").read_text()
    for name in ("fleet/finch.toml", ".hidden/finch.toml", "deep/er/finch.toml", "finch.toml"):
        (store / name).parent.mkdir(parents=True, exist_ok=True)
        (store / name).write_text(text)
    if os.name == "posix":
        (store / "ferrow" / "link.toml").symlink_to("finch.toml")
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "more files")
    assert api.review(Revisions("HEAD~1", "HEAD", here)).review.is_empty


def test_line_ends_alone_are_no_change(here: Path) -> None:
    """Working files with Windows line ends are the same store."""
    path = here / "definitions" / "ferrow" / "finch.toml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    result = api.review(Revisions("HEAD", "", here))
    assert result.step.value == "none"


def test_files_are_given_by_their_path_from_the_folder(here: Path) -> None:
    """Also those at the top, and none for a folder that the commit lacks."""
    held = Repository(here)
    newest = held.commit("HEAD")
    assert list(held.files(newest, PurePosixPath("definitions"))) == ["ferrow/finch.toml"]
    assert "definitions/ferrow/finch.toml" in held.files(newest, PurePosixPath())
    assert held.files(newest, PurePosixPath("nowhere")) == {}


def test_a_store_without_the_standards_follows_the_shipped_ones(tmp_path: Path) -> None:
    """A club's own repository holds its makers only; what it does not hold is no change."""
    text = (BEFORE / "ferrow" / "finch.toml").read_text()
    kind = 'kind = "motor"\n'
    text = text.replace(kind, f'{kind}follows = ["standard/nmra-s-9.2.2@2012-07"]\n', 1)
    here = repository(tmp_path / "club")
    commit(here, {"ferrow/finch.toml": text})
    (here / "definitions" / "ferrow" / "finch.toml").write_text(text.replace("62", "63"))
    result = api.review(Revisions("HEAD", "", here))
    assert [one.id for one in result.review.profiles] == ["ferrow/finch"]
    assert changed(result) == ["lights.dim"]


def test_a_file_name_that_is_no_text_stops_nothing(here: Path) -> None:
    """Bytes that are no UTF-8 in a name: the profile is told of, the others are reviewed."""
    if os.name != "posix":
        pytest.skip("names are text there")
    text = (here / "definitions" / "ferrow" / "finch.toml").read_bytes()
    odd = here / "definitions" / "ferrow" / os.fsdecode(b"f\xff.toml")
    odd.write_bytes(text)
    git(here, "add", "--all")
    git(here, "commit", "--quiet", "--message", "odd")
    result = api.review(Revisions("HEAD~2", "HEAD", here))
    assert changed(result) == ["braking.distance"]
    assert len(result.broken_after) == 1


def test_a_byte_order_mark_changes_nothing(here: Path) -> None:
    """A file that an editor saved with a mark at its front has the format that it says."""
    path = here / "definitions" / "ferrow" / "finch.toml"
    text = path.read_bytes()
    path.write_bytes(b"\xef\xbb\xbf" + text)
    git(here, "commit", "--all", "--quiet", "--message", "mark")
    result = api.review(Revisions("HEAD~1", "HEAD", here))
    assert (changed(result), result.broken_after, result.older) == ([], (), {})
