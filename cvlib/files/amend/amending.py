"""A correction tried on a profile, looked through as loading and lint do, and written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from difflib import unified_diff
from pathlib import Path
from typing import Any

from cvlib.engine.change.amended import Amended, effect_of
from cvlib.engine.known.neighbours import without_index
from cvlib.engine.lint.risks import UNMARKED, unmarked
from cvlib.engine.lint.rules import UNFINISHED
from cvlib.errors import Fault, InputError, did_you_mean, problem
from cvlib.files.amend.bench import bench
from cvlib.files.amend.change import Change, Wish
from cvlib.files.amend.listed import advisory, answer, document, question, release
from cvlib.files.amend.parts import accept, correct, delete, follow, page, part_words, rule
from cvlib.files.amend.places import place, setting
from cvlib.files.amend.table import table
from cvlib.files.data import definitions_folder, is_installed
from cvlib.files.edit import Draft
from cvlib.files.lint.drafted import followers, new_remarks
from cvlib.files.store import Store
from cvlib.files.text import decode, encode_as, file_name, from_here, parse_toml, read_bytes
from cvlib.files.tidy import tidied
from cvlib.files.toml_tree import data_of
from cvlib.files.write import create_file, replace_file, says
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.model.profile import Profile

FORMS: Mapping[str, Callable[[Change, Wish], None]] = {
    "bench": bench,
    "release": release,
    "document": document,
    "table": table,
    "place": place,
    "question": question,
    "answer": answer,
    "setting": setting,
    "advisory": advisory,
    "correct": correct,
    "delete": delete,
    "rule": rule,
    "page": page,
    "accept": accept,
    "follow": follow,
}
"""Each form of correction and what makes it."""


@dataclass(frozen=True, slots=True)
class Amending:
    """A correction that was tried and holds; it is not written yet."""

    result: Amended
    path: Path
    """The file to write: the profile's own, or a copy in a folder of one's own."""
    was: bytes | None
    """What that file holds; nothing where it is not there yet."""
    data: bytes
    meant: Any
    """What the new text is to say."""

    def write(self) -> Amended:
        """Write the corrected profile in one step; nothing is written where that fails."""
        holds = says(self.meant)
        if self.was is None:
            folder = self.path.parent.parent
            create_file(self.path, self.data, holds, within=folder, entered=self.data)
        else:
            was, data = self.was, self.data
            replace_file(self.path, data, was, holds, cause="amend", entered=data)
        return replace(self.result, is_written=True)


def amend(store: Store, wish: Wish, own_folder: Path | None, today: date) -> Amending:
    """Try a correction.

    ``own_folder`` holds the definitions of one's own; a shipped profile is copied there.
    Raises InputError with everything that loading or lint has against the corrected profile.
    """
    if wish.form not in FORMS:
        raise problem(f'there is no form "{wish.form}".', advice=did_you_mean(wish.form, FORMS))
    before = store.profile(wish.profile)
    file, block = _written_in(before, wish)
    source = store.located(file)
    target = _target(source, file, own_folder)
    name = file_name(from_here(target))
    was = read_bytes(source)
    text = decode(was, name)
    draft = Draft(text, name, block)
    change = Change(before, draft, today, store)
    FORMS[wish.form](change, wish)
    laid_out = tidied(text.replace("\r\n", "\n"), name)
    made = draft.text()
    data = encode_as(made, was, text)
    after, noted, others = _looked_through(store, target, file, data, wish.profile, today)
    told = change.told
    notes = [*told.notes, *_listed(noted, _touched(text, data_of(draft.root)))]
    bare = unmarked(one for id, one in after.settings.items() if id not in before.settings)
    if bare and not any(one.code == UNMARKED for one in noted):
        how = "Give the table a column risk" if wish.form == "table" else "Say --risk"
        notes.append(
            f"Nobody noted what {', '.join(bare)} may harm: not tried on a bench nor matched until "
            f"it is. {how}, or write risk = [] where you looked and found none."
        )
    if laid_out != text.replace("\r\n", "\n"):
        notes.append("The file was not tidy; it is laid out anew, which the diff leaves out.")
    if target != source:
        notes.append(f"The shipped profile stays as it is; the corrected one is {name}.")
    if block:
        told.did.append(f"It is written into the block {block} of {file}, {_others(others)}.")
    result = Amended(
        wish.form,
        name,
        before,
        after,
        told.title,
        tuple(told.did),
        tuple(after.sources[id] for id in dict.fromkeys(told.evidence)),
        tuple(notes),
        effect_of(before, after),
        _diff(laid_out, made, name),
        lines=tuple(told.lines),
    )
    return Amending(result, target, was if target == source else None, data, data_of(draft.root))


def _written_in(profile: Profile, wish: Wish) -> tuple[str, str]:
    """The file to write, by its name in the store, and in a file of blocks the block."""
    is_part = wish.form in ("correct", "delete")
    kind, name = part_words(wish) if is_part else ("setting", "".join(wish.subjects))
    names = [one for one in profile.follows if "/blocks/" in one]
    if kind == "block":
        found = next((one for one in names if name in (one, one.rpartition("/")[2])), "")
        listed = ", ".join(one.rpartition("/")[2] for one in names) or "none"
        what = f'{profile.id} follows no block "{name}".'
    elif not wish.is_on("in-block"):
        return f"{profile.id}.toml", ""
    elif kind == "rule":
        raise problem("a rule of a block has no origin.", advice="Edit the file of blocks.")
    else:
        found = profile.setting(name).origin
        found, listed = (found if "/blocks/" in found else ""), "none of its blocks"
        what = f'"{name}" does not come from a block.'
    if not found:
        raise problem(what, advice=f"There is {listed}.")
    folder, _, block = found.rpartition("/")
    return f"{folder}.toml", block


def _touched(before: str, after: Any) -> set[str]:
    """The ids of the settings whose text a correction changes."""
    old, new = (_settings(data) for data in (parse_toml(before, ""), after))
    return {id for id in old.keys() | new.keys() if old.get(id) != new.get(id)}


def _settings(data: Any) -> dict[str, Any]:
    holders = [data, *data.get("block", ())]
    return {str(one.get("id")): one for held in holders for one in held.get("setting", ())}


def _listed(found: Sequence[Remark], touched: Collection[str]) -> list[str]:
    """What lint notes: each about what the correction touches, the others counted."""
    own, others = [], Counter[str]()
    for one in found:
        table, _, rest = one.about.partition(" ")
        id = without_index(rest.partition(",")[0])
        if table == "setting" and id not in touched and one.code != UNMARKED:
            others[one.code] += 1
        else:
            own.append(f"{one.code} {one.text}")
    if others:
        each = ", ".join(f"{number} {code}" for code, number in others.items())
        own.append(f"Notes about settings that this leaves as they are: {each}; see cvlib lint.")
    return own


def _others(changed: Mapping[str, int]) -> str:
    """For which other profiles a correction of a block counts."""
    if not changed:
        return "which no other profile follows"
    each = ", ".join(f"{id} ({number} answered otherwise)" for id, number in changed.items())
    return f"and counts for {each} too"


def _target(source: Path, file: str, own_folder: Path | None) -> Path:
    """The file to write for one of the store that lies in a file."""
    id = file.removesuffix(".toml")
    if own_folder is not None and not source.resolve().is_relative_to(own_folder.resolve()):
        return own_folder / file
    if is_installed() and source.resolve().is_relative_to(definitions_folder().resolve()):
        raise problem(
            f"{id} belongs to the installed cvlib and is not changed there.",
            advice="Name a folder of your own with --definitions DIR; a corrected copy goes there.",
        )
    return source


def _looked_through(
    store: Store, path: Path, name: str, data: bytes, id: str, today: date
) -> tuple[Profile, list[Remark], dict[str, int]]:
    """The corrected profile, what lint notes of it, and who else answers otherwise, how often.

    Refused with all grave faults that the former profile did not have.
    """
    drafted = store.drafted(name, path, data)
    try:
        after = drafted.profile(id)
    except InputError as error:
        raise InputError(*(_refused(fault) for fault in error.faults)) from None
    found = new_remarks(store, drafted, name, today)
    grave = (one for one in found if one.severity.at_least(Severity.WARNING))
    refused = [one for one in grave if one.code not in UNFINISHED]
    if refused:
        raise InputError(*(_refused(_fault(one, name, drafted)) for one in refused))
    others = {}
    for other in followers(drafted, name) if name != f"{id}.toml" else ():
        theirs = other.removesuffix(".toml")
        with suppress(InputError):  # one that cannot be read before is not touched
            if theirs == id:
                continue
            effect = effect_of(store.profile(theirs), drafted.profile(theirs))
            others[theirs] = len({one.setting for one in effect.changes}) if effect else 0
    return after, found, others


def _fault(remark: Remark, name: str, store: Store) -> Fault:
    """A finding as a fault; one about another file, which follows this one, says which."""
    file = remark.position.file
    where = "" if file == store.shown(name) else f"{file}: "
    return Fault(f"{where}{remark.code} {remark.problem}", advice=remark.advice)


def _refused(fault: Fault) -> Fault:
    """A fault of a file that does not exist yet: its words say where, for a line cannot."""
    return Fault(f"refused, nothing is written: {fault.problem}", None, fault.advice)


def _diff(before: str, after: str, name: str) -> str:
    shown = name.lstrip("/")
    sides = (before.splitlines(), after.splitlines())
    lines = unified_diff(*sides, f"a/{shown}", f"b/{shown}", lineterm="")
    return "\n".join(lines)
