"""Profile, blocks and loco files in their one layout: comments and meaning stay."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from pathlib import Path

from cvlib.engine.change.tidied import Tidied, TidiedFile
from cvlib.errors import Fault, InputError, Position, problem
from cvlib.files.data import definitions_folder, is_installed
from cvlib.files.disk import target_of
from cvlib.files.format_1 import in_newer_format
from cvlib.files.layout import layout_of
from cvlib.files.own import own_folder
from cvlib.files.scanner import comments
from cvlib.files.text import (
    UTF_8_MARK,
    decode,
    file_name,
    from_here,
    is_file,
    is_folder,
    is_there,
    parse_toml,
    read_bytes,
)
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import read_tree
from cvlib.files.write import replace_file, says


def tidied(text: str, name: str) -> str:
    """The text in its layout; line ends stay of the kind that they are.

    Raises InputError where it is no valid TOML, or neither profile nor blocks nor loco.
    """
    document = read_tree(text.replace("\r\n", "\n"), name)
    layout = layout_of(document.root)
    if layout is None:
        raise problem(
            "this is neither a profile nor a file of blocks nor a loco file.",
            advice="A profile has [decoder], a loco file has [loco].",
            position=Position(name),
        )
    made = write_tree(document, layout)
    return made.replace("\n", "\r\n") if "\r\n" in text else made


def tidied_bytes(data: bytes, name: str) -> bytes:
    """The bytes of a file in its layout."""
    mark = UTF_8_MARK if data.startswith(UTF_8_MARK) else b""
    return mark + tidied(decode(data, name), name).encode("utf-8")


def tidy(paths: Iterable[Path], *, check: bool = False, whole: Collection[str] = ()) -> Tidied:
    """Lay files out anew, all of a folder's; with ``check`` only say which are not tidy.

    Profiles and blocks of format 1 are brought to format 2; ``whole`` are documents of them that
    somebody has read from first to last page.
    A file that cannot be read does not keep the others from being tidied.
    Raises InputError where a path does not exist, or ``whole`` is given for more than one file.
    """
    paths = list(paths)
    if whole and (len(paths) > 1 or any(is_folder(path) for path in paths)):
        raise problem('"--whole" is said of one file at a time.', advice="Name one profile.")
    found: list[TidiedFile] = []
    faults: list[Fault] = []
    for path, folder in _files(paths):
        name = file_name(path)
        try:
            if folder is not None and path.is_symlink():
                target_of(path, folder)
                continue  # what it leads to is looked at for itself
            data = read_bytes(path)
            if folder is not None and not _is_ours(data, name):
                continue
            newer, change = in_newer_format(data, name, whole)
            made = tidied_bytes(newer, name)
            if made != data and not check:
                replace_file(path, made, data, _same_as(newer, name), cause="tidy")
        except InputError as error:
            faults.extend(error.faults)
            continue
        found.append(TidiedFile(name, made == data, change))
    return Tidied(tuple(found), tuple(faults), check)


def _same_as(data: bytes, name: str) -> Callable[[bytes], bool]:
    """Whether other bytes say the same as these, with the same comments."""
    text = decode(data, name)
    means, remarks = says(parse_toml(text, name)), comments(text.replace("\r\n", "\n"))

    def holds(made: bytes) -> bool:
        found = comments(decode(made, name).replace("\r\n", "\n"))
        return means(made) and sorted(found) == sorted(remarks)

    return holds


def whole_store(definitions: Path | None) -> Path:
    """The folder that is tidied where no path is named.

    Raises InputError where only the definitions inside an installed cvlib are left.
    """
    own = own_folder(definitions)
    if own is not None:
        return own
    if is_installed():
        raise problem(
            "there are no definitions of your own to tidy.",
            advice="Name files or folders, or a folder with --definitions.",
        )
    return from_here(definitions_folder())


def _files(paths: Iterable[Path]) -> Iterator[tuple[Path, Path | None]]:
    """The files to look at, each once, with the folder that was named for it, if one was."""
    seen: set[Path] = set()
    for path in paths:
        if not is_there(path):
            raise problem(
                "there is no such file or folder.",
                advice="Check the name.",
                position=Position(file_name(path)),
            )
        has_inside = is_folder(path)
        inside = sorted(file for file in path.rglob("*.toml") if _is_seen(file, path))
        for file in inside if has_inside else [path]:
            if file not in seen:
                seen.add(file)
                yield file, path if has_inside else None


def _is_seen(file: Path, folder: Path) -> bool:
    """Whether a file of a folder is looked at; what lies in hidden folders is not."""
    hidden = any(part.startswith(".") for part in file.relative_to(folder).parts[:-1])
    return not hidden and (file.is_symlink() or is_file(file))


def _is_ours(data: bytes, name: str) -> bool:
    """Whether a file of a folder is of a kind that has a layout; one with faults is told."""
    return layout_of(read_tree(decode(data, name).replace("\r\n", "\n"), name).root) is not None
