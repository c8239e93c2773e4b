"""From the text of a profile file to a complete profile, with every fault at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from cvlib.engine.known.compose import compose
from cvlib.errors import Fault, InputError
from cvlib.files.faults import Faults, toml_data
from cvlib.files.meaning.file_format import is_current
from cvlib.files.meaning.follows import Follows, Shelf, blocks_file
from cvlib.files.meaning.names import Names
from cvlib.files.meaning.places import Known, cited
from cvlib.files.meaning.profile import own_part, sources_of
from cvlib.files.shapes.check import checked
from cvlib.files.shapes.profile import ProfileFile
from cvlib.model.profile import Profile
from cvlib.model.versions import Scheme

_MOST_TOLD = 100


class PartlyReadError(InputError):
    """A refusal of a profile of which the sound parts could be read all the same."""

    def __init__(self, rest: Profile, *faults: Fault) -> None:
        super().__init__(*faults)
        self.rest = rest


def load_profile(text: str, name: str, shelf: Shelf, id: str = "") -> Profile:
    """The profile that a text holds, complete with what it follows.

    ``name`` is the file as faults name it; ``id`` is what its spot in the store asks for.
    Raises InputError with all faults of the file and of the blocks it takes over.
    """
    faults = _opened(text, name)
    if isinstance(faults.data.get("decoder"), list):
        faults.add(("decoder",), "this is a loco file, not a profile.", "Name a profile here.")
        raise _refusal([faults])
    file = checked(ProfileFile, faults.data, faults)
    if file is None:
        raise _refusal([faults])
    follows_all = not any(path[:1] == ("decoder",) for path in faults.paths)
    decoder = file.decoder
    if id and decoder.id != id:
        faults.add(
            ("decoder", "id"),
            f'the id is "{decoder.id}", but the file lies at "{id}".',
            "The id is the folder and the file name.",
        )
    if decoder.kind == "standard" and file.firmware.scheme != "date":
        faults.add(("firmware", "scheme"), "the editions of a standard are dates.", 'Write "date".')
    scheme = Scheme(file.firmware.scheme)
    kinds = _source_kinds(faults.data)
    first = Known(scheme, kinds, {}, faults, file.lists)
    known = replace(first, sources=sources_of(first, file.source))
    own = own_part(known, file)
    follows = Follows(
        known, shelf, cited(known, decoder.sources, ("decoder", "sources"), is_general=True)
    )
    taken = follows.taken(decoder.follows)
    without = tuple(decoder.without or ())
    whole = compose(own, taken, without)
    if follows_all and follows.is_whole:
        brought = [setting for entry in taken for setting in entry.settings]
        follows.match(("decoder", "without"), without, brought)
        Names(faults, whole).check(file)
    everywhere = [faults, *follows.blocks_faults]
    if any(one.found for one in everywhere):
        raise PartlyReadError(whole, *_refusal(everywhere).faults)
    return whole


def check_blocks(text: str, name: str) -> None:
    """Refuse a blocks file that is not written as it should be, with all faults of shape.

    What its settings mean is looked at with each profile that takes a block over.
    """
    faults = _opened(text, name)
    blocks_file(faults)
    if faults.found:
        raise _refusal([faults])


def _opened(text: str, name: str) -> Faults:
    """The file's data, unless its format is not the one that this program reads."""
    faults = Faults(name, text, toml_data(text, name))
    if not is_current(faults):
        raise _refusal([faults])
    return faults


def _source_kinds(data: dict[str, Any]) -> dict[str, str]:
    """Every source id that the file gives, with its kind, also where the source is faulty."""
    kinds: dict[str, str] = {}
    sources = data.get("source")
    for source in sources if isinstance(sources, list) else ():
        if isinstance(source, dict) and isinstance(source.get("id"), str):
            kinds[source["id"]] = str(source.get("kind"))
    return kinds


def _refusal(everywhere: Sequence[Faults]) -> InputError:
    """One error with all faults, file by file and in the order of the lines."""
    told = [fault for one in everywhere for fault in one.found]
    more = len(told) - _MOST_TOLD
    if more > 0:
        rest = Fault(f"{more} more faults are not shown.", told[-1].position, stands_for=more)
        told[_MOST_TOLD:] = [rest]
    return InputError(*told)
