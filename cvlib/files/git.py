"""A git repository read without changing it: no checkout, no lock, no network.

Whatever a person types is resolved to a commit's own name first; only that name, and paths that
git itself gave, go into later commands.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from stat import S_ISREG

from cvlib.errors import InputError, Position, problem
from cvlib.files.bounds import CONTENT, FILES, check_count
from cvlib.files.text import LIMIT, file_name, is_folder, one_line, quoted, real_path

TAGS = "definitions-[0-9]*.[0-9]*.[0-9]*"
"""Tags that give the store a version, such as ``definitions-1.4.2``."""

_MOST_SHOWN = 200
_TURNED_OFF = ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX", "GIT_NAMESPACE")
"""Variables that a hook sets and that would lead git to another repository than the one asked."""
_FIXED = {
    "LC_ALL": "C",
    "LANGUAGE": "C",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_PAGER": "",
}
"""English messages, no questions, no locks, and nothing fetched from anywhere."""
_QUIET = (
    *("--no-pager", "--literal-pathspecs"),
    *("-c", "core.fsmonitor=false"),
    *("-c", "core.untrackedCache=false"),
    *("-c", f"core.hooksPath={os.devnull}"),
    *("-c", f"core.attributesFile={os.devnull}"),
    *("-c", "core.pager=cat"),
    *("-c", "diff.external="),
    *("-c", "credential.helper="),
    *("-c", "core.askPass="),
    *("-c", "core.sshCommand=false"),
)
"""A repository may name programs in its own settings; none of them is to run.

Filters and text converters have names of their own choosing and cannot be turned off like that: no
command is used that looks into working files, for only such a command runs them.
"""
_PLAIN_FILES = (b"100644", b"100755")
EVERY_LINE = range(1, 1 << 31)
"""All lines of a file, however many it has."""


@dataclass(frozen=True, slots=True)
class Commit:
    """One commit, and what the person called it."""

    name: str
    """Its own name, in full."""
    called: str

    @property
    def short(self) -> str:
        """The first characters of its name."""
        return self.name[:10]


class Repository:
    """One repository, with working files or bare."""

    def __init__(
        self, start: Path, elsewhere: str = "Name one with --repository, or clone it first."
    ) -> None:
        """Find the repository that a folder lies in; raises InputError where there is none.

        ``elsewhere`` is what to do then.
        """
        self.start = start
        self._elsewhere = elsewhere
        if not is_folder(start):
            raise problem(
                "there is no such folder.",
                advice="Name a folder inside a git repository.",
                position=Position(file_name(start)),
            )
        inside = self._asked("rev-parse", "--is-inside-work-tree")
        self.top = Path(self._asked("rev-parse", "--show-toplevel")) if inside == "true" else None
        """The folder of the working files; nothing where there are none, as in a bare clone."""
        if self.top is not None and not (self.top / ".git").exists():
            raise self._refused(
                "the repository looks for its working files elsewhere, by its own settings.",
                "Run it in a clone of its own.",
            )

    def prefix(self) -> PurePosixPath:
        """The path of the start folder from the top of the repository."""
        if self.top is None:
            return PurePosixPath()
        return PurePosixPath(self._asked("rev-parse", "--show-prefix"))

    def commit(self, revision: str) -> Commit:
        """The commit that a revision means: a branch, a tag, ``HEAD~2`` or a commit's name.

        Raises InputError where there is none, and says so where the clone may just be shallow.
        """
        name = "" if self._is_odd(revision) else self._found(revision)
        if name:
            return Commit(name, one_line(revision, 80))
        advice = "Give a branch, a tag or a commit, such as HEAD~1."
        if self._asked("rev-parse", "--is-shallow-repository") == "true":
            advice = 'This clone is shallow; "git fetch --unshallow" brings the rest.'
        raise self._refused(f"there is no revision {quoted(revision)}.", advice)

    def fork(self, one: Commit, other: Commit) -> Commit:
        """The commit at which the histories of two commits part; raises where they never met."""
        done = self._run("merge-base", one.name, other.name)
        name = done.stdout.decode("ascii", "replace").split("\n")[0]
        if done.returncode or not name:
            raise self._refused(
                f"{one.called} and {other.called} have no commit in common.",
                "Leave --merge-base out, or fetch more of the history.",
            )
        return Commit(name, f"where {other.called} left {one.called}")

    def tag_before(self, commit: Commit) -> str:
        """The newest tag of a store version that a commit comes from; empty where there is none."""
        done = self._run("describe", "--tags", "--abbrev=0", f"--match={TAGS}", commit.name)
        return "" if done.returncode else done.stdout.decode("utf-8", "replace").strip()

    def files(self, commit: Commit, folder: PurePosixPath) -> Mapping[str, bytes]:
        """The plain files below a folder at a commit, by their path from that folder.

        Links and submodules are left out. Empty where there is no such folder.
        """
        wanted = self._listed(commit, folder)
        here = Position(f"{file_name(self.start)}: {commit.called}")
        check_count(wanted, FILES, "files in this folder", here)
        content = self._contents(commit, wanted.values())
        return {path: content[blob] for path, blob in wanted.items()}

    def changed_since(self, commit: Commit) -> Mapping[str, tuple[range, ...]]:
        """The files of the working folder that are not what they were at a commit.

        By their path from the top, each with the lines that are new or were changed. Committed,
        staged and unsaved changes count alike; so do files that git does not know yet, unless it is
        told to ignore them. A file that is gone has no lines; kinds of line ends are no change.
        """
        top = self.top or self.start
        was = self._listed(commit, PurePosixPath())
        other = [name for name in was if not _is_still(top, name, was[name])]
        sizes = self._sizes(was[name] for name in other)
        content = self._contents(commit, (blob for blob in sizes if sizes[blob] <= LIMIT))
        found: dict[str, tuple[range, ...]] = {}
        for name in other:
            path = _working_file(top, name)
            lines = _changed_lines(content.get(was[name]), path) if path else ()
            if lines is not None:
                found[name] = lines
        for name in self._unknown_files() | (self._staged_files() - was.keys()):
            if _working_file(top, name):
                found[name] = (EVERY_LINE,)
        return found

    def _unknown_files(self) -> set[str]:
        """The files that git does not know and is not told to ignore."""
        others = ("ls-files", "--others", "--exclude-standard", "--full-name", "-z")
        return self._names(*others, *(("--", str(self.top)) if self.top else ()))

    def _staged_files(self) -> set[str]:
        """The files that git knows by now."""
        return self._names("ls-files", "--full-name", "-z", "--", str(self.top or "."))

    def _names(self, *arguments: str) -> set[str]:
        return {os.fsdecode(name) for name in self._run(*arguments).stdout.split(b"\0") if name}

    def _listed(self, commit: Commit, folder: PurePosixPath) -> dict[str, bytes]:
        """The name of the content of each file."""
        path = "" if folder == PurePosixPath() else folder.as_posix()
        tree = self._run("rev-parse", "--verify", "--quiet", f"{commit.name}:{path}")
        if tree.returncode:
            return {}
        name = tree.stdout.decode("ascii", "replace").strip()
        done = self._run("ls-tree", "-r", "-z", "--full-tree", name)
        if done.returncode:
            raise self._refused(f"{commit.called} has no folder {quoted(path)}.")
        found: dict[str, bytes] = {}
        for entry in filter(None, done.stdout.split(b"\0")):
            head, _, file = entry.partition(b"\t")
            mode, kind, blob = head.split(b" ")
            if kind == b"blob" and mode in _PLAIN_FILES:
                found[os.fsdecode(file)] = blob
        return found

    def _contents(self, commit: Commit, blobs: Iterable[bytes]) -> dict[bytes, bytes]:
        wanted = list(dict.fromkeys(blobs))
        if not wanted:
            return {}
        here = Position(file_name(self.start))
        check_count(sum(self._sizes(wanted).values()), CONTENT, "bytes to look at", here)
        done = self._run("cat-file", "--batch", given=b"".join(blob + b"\n" for blob in wanted))
        found: dict[bytes, bytes] = {}
        said, at = done.stdout, 0
        while at < len(said):
            end = said.index(b"\n", at)
            parts, at = said[at:end].split(b" "), end + 1
            if len(parts) == 3:
                size = int(parts[2])
                found[parts[0]] = said[at : at + size]
                at += size + 1
        if found.keys() != set(wanted):
            raise self._refused(
                f"not all files of {commit.called} are in this clone.",
                'Bring the rest with "git fetch", or make a full clone.',
            )
        return found

    def _sizes(self, blobs: Iterable[bytes]) -> dict[bytes, int]:
        """The bytes of each content that is in this clone."""
        given = b"".join(blob + b"\n" for blob in blobs)
        told = self._run("cat-file", "--batch-check", given=given).stdout.splitlines()
        parts = (line.split(b" ") for line in told if line[-1:].isdigit())
        return {blob: int(size) for blob, _, size in parts}

    def _found(self, revision: str) -> str:
        done = self._run("rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}")
        name = done.stdout.decode("ascii", "replace").strip()
        return "" if done.returncode or not name.isalnum() else name

    @staticmethod
    def _is_odd(revision: str) -> bool:
        """Whether a text could be taken for an option, or cannot be an argument at all."""
        return not revision.strip() or revision.startswith("-") or not revision.isprintable()

    def _asked(self, *arguments: str) -> str:
        """The answer to a question that any repository can answer; raises where there is none."""
        done = self._run(*arguments)
        if done.returncode:
            raise self._no_repository(done.stderr.decode("utf-8", "replace"))
        return os.fsdecode(done.stdout).removesuffix("\n")

    def _no_repository(self, said: str) -> InputError:
        if "dubious ownership" in said or "unsafe repository" in said:
            return self._refused(
                "git does not trust this repository, for it belongs to somebody else.",
                f'If you trust it: git config --global --add safe.directory "{self.start}"',
            )
        if "not a git repository" in said:
            return self._refused("this is not in a git repository.", self._elsewhere)
        return self._refused(f"git cannot read this repository: {one_line(_last(said.encode()))}.")

    def _refused(self, what: str, advice: str = "") -> InputError:
        return problem(what, advice=advice, position=Position(file_name(self.start)))

    def _run(self, *arguments: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
        held = {key: value for key, value in os.environ.items() if key not in _TURNED_OFF}
        try:
            return subprocess.run(
                ["git", *_QUIET, "-C", str(self.start), *arguments],
                input=given,
                capture_output=True,
                env=held | _FIXED,
                check=False,
            )
        except FileNotFoundError:
            raise problem(
                "git is not installed, or not on the search path.",
                advice="Install it from your system's packages.",
            ) from None
        except (OSError, ValueError) as error:
            raise problem(f"git cannot be started: {one_line(str(error))}.") from None


def _working_file(top: Path, name: str) -> Path | None:
    """A working file; nothing where it is gone, no plain file, or to be had over a link only."""
    path = top / name
    try:
        is_plain = S_ISREG(path.lstat().st_mode) and real_path(path) == real_path(top) / name
    except (OSError, ValueError):
        return None
    return path if is_plain else None


def _is_still(top: Path, name: str, blob: bytes) -> bool:
    """Whether a working file holds the content that git knows by a name."""
    import hashlib

    path = _working_file(top, name)
    if path is None:
        return False
    made = hashlib.new("sha1" if len(blob) == 40 else "sha256", usedforsecurity=False)
    made.update(b"blob %d\0" % path.stat().st_size)
    with path.open("rb") as file:
        while part := file.read(LIMIT):
            made.update(part)
    return made.hexdigest().encode("ascii") == blob


def _changed_lines(was: bytes | None, path: Path) -> tuple[range, ...] | None:
    """The lines that are new or other than they were; nothing where only line ends are."""
    with path.open("rb") as file:
        now = file.read(LIMIT + 1)
    if was is None or len(now) > LIMIT:
        return (EVERY_LINE,)
    before, after = (data.replace(b"\r\n", b"\n").split(b"\n") for data in (was, now))
    if before == after:
        return None
    from difflib import SequenceMatcher

    changes = SequenceMatcher(None, before, after).get_opcodes()
    found = (range(first + 1, last + 1) for kind, _, _, first, last in changes if kind != "equal")
    return tuple(lines for lines in found if lines)


def _last(said: bytes) -> str:
    """The last line that git said, without its mark."""
    lines = said.decode("utf-8", "replace").strip().splitlines()
    return one_line(lines[-1].removeprefix("fatal: "), _MOST_SHOWN).rstrip(".") if lines else ""
