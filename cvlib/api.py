"""The library: open a store, read locos, and ask what belongs to a firmware and what does not.

>>> from cvlib import open_store
>>> store = open_store()
>>> resolver = resolver_of(store, "standard/nmra-s-9.2.2")
>>> answers = resolver.at(resolver.profile.version("2012-07"))
>>> answers["address.extended"].place.fields[0].slot.cv
17
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cvlib.engine.check import Saved, check
from cvlib.engine.decide import Decided, Ground, check_unknown
from cvlib.engine.outcome import DecoderChecked, FleetChecked, LocoChecked
from cvlib.engine.resolve import Resolver
from cvlib.errors import Fault, InputError, in_file, problem
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder, SavedValue
from cvlib.model.profile import Profile
from cvlib.model.versions import FirmwareVersion

if TYPE_CHECKING:
    from cvlib.engine.explained import Explanation
    from cvlib.engine.lint.finding import Linted
    from cvlib.engine.listing import Compared, Listing, Wanted
    from cvlib.engine.reviewed import Reviewed
    from cvlib.engine.stale import Stale
    from cvlib.engine.timeline import Timeline
    from cvlib.files.record_check import Recording
    from cvlib.files.revisions import Revisions
    from cvlib.files.store import Store
    from cvlib.model.summary import Summary


class Stated(NamedTuple):
    """What the person says of a decoder; it goes before what its file says. Empty: not said."""

    profile: str = ""
    firmware: str = ""
    saved_for: str = ""


class Asked(NamedTuple):
    """What a check is asked about: files, values typed, a list handed in, and one role."""

    paths: tuple[Path, ...] = ()
    """Files, or folders of files."""
    typed: tuple[str, ...] = ()
    """Values as ``27=3``; they go before those of the file."""
    listed: bytes | None = None
    """A list of values that does not lie in a file."""
    role: str = ""
    """Only the decoders of this role; empty: all."""

    @classmethod
    def of(cls, words: Iterable[str], listed: bytes | None = None, role: str = "") -> Asked:
        """Words as typed: one with "=" in it is a value, unless there is a file of that name."""
        said = list(words)
        typed = [word for word in said if "=" in word and not _exists(word)]
        paths = [Path(word) for word in said if word not in typed]
        return cls(tuple(paths), tuple(typed), listed, role)


def open_store(definitions: Path | None = None) -> Store:
    """The shipped definitions, with those of a further folder where one is given."""
    from cvlib.files.store import open_store as open_files

    return open_files(definitions)


def read_loco(path: Path) -> Loco:
    """A loco file, or a list of CV values as people keep them.

    Raises :class:`~cvlib.errors.InputError` with every fault of the file.
    """
    from cvlib.files.read.interface import read_file

    return read_file(path)


def resolver_of(store: Store, profile: str) -> Resolver:
    """The answers of one profile of the store."""
    return Resolver(store.profile(profile))


def typed_loco(values: Mapping[Slot, SavedValue], name: str = "Typed values") -> Loco:
    """A loco of one decoder with values typed by hand."""
    return Loco(name, (SavedDecoder(values),))


def check_asked(
    store: Store, asked: Asked, stated: Stated | None = None, *, changed: bool = False
) -> FleetChecked:
    """The check of everything asked about; files that cannot be used are told as faults.

    Raises :class:`~cvlib.errors.InputError` where nothing at all can be checked.
    """
    if not asked.paths and not asked.typed and asked.listed is None:
        raise problem(
            "nothing to check.",
            advice='Name a loco file or a folder, or type values such as "27=3" with --profile.',
        )
    said = stated or Stated()
    faults: list[Fault] = []
    done: list[LocoChecked] = []
    locos = _chosen(_with_typed(list(_locos(asked, faults)), asked.typed, faults), asked.role)
    for loco in locos:
        try:
            done.append(check_loco(store, loco, said, changed=changed))
        except InputError as error:
            faults.extend(error.faults)
    if not done:
        raise InputError(*faults)
    return FleetChecked(tuple(done), tuple(faults))


def _locos(asked: Asked, faults: list[Fault]) -> Iterator[Loco]:
    """The locos of the files and of the list; what is wrong with files goes to the faults."""
    from cvlib.files.read.interface import read_content

    if asked.listed is not None:
        yield read_content(asked.listed, "standard input")
    for path in loco_paths(asked.paths):
        try:
            yield read_loco(path)
        except InputError as error:
            faults.extend(error.faults)


def _with_typed(locos: list[Loco], typed: tuple[str, ...], faults: list[Fault]) -> list[Loco]:
    """The locos with typed values laid over the only decoder, or the typed values alone."""
    if not typed:
        return locos
    from cvlib.files.read.typed import parse_typed

    values = parse_typed(typed)
    if not locos and not faults:
        return [typed_loco(values)]
    if len(locos) != 1 or len(locos[0].decoders) != 1 or faults:
        raise InputError(
            *faults,
            Fault(
                "typed values need one loco with one decoder to go with.",
                advice="Name one loco file beside them, or none.",
            ),
        )
    (decoder,) = locos[0].decoders
    return [replace(locos[0], decoders=(replace(decoder, values={**decoder.values, **values}),))]


def _chosen(locos: list[Loco], role: str) -> list[Loco]:
    """The locos with only the decoders of a role; those without such a decoder are left out."""
    if not role:
        return locos
    if len(locos) == 1:
        return [chosen_decoders(locos[0], role)]
    having = [loco for loco in locos if any(held.role == role for held in loco.decoders)]
    if locos and not having:
        raise problem(f'no decoder of these locos has the role "{role}".')
    return [chosen_decoders(loco, role) for loco in having]


def _exists(word: str) -> bool:
    try:
        return Path(word).exists()
    except (OSError, ValueError):
        return False


def check_loco(
    store: Store, loco: Loco, stated: Stated | None = None, *, changed: bool = False
) -> LocoChecked:
    """Every decoder of a loco held against its profile at its firmware.

    Raises :class:`~cvlib.errors.InputError` where the profile or a firmware is not to be used.
    """
    said = stated or Stated()
    if len(loco.decoders) > 1 and said != Stated():
        roles = ", ".join(f'"{decoder.role}"' for decoder in loco.decoders if decoder.role)
        raise problem(
            f"{loco.file or loco.name}: what is said of profile and firmware is about one decoder, "
            f"and this loco has {len(loco.decoders)}.",
            advice=f"Choose one with --role; the roles are {roles}.",
        )
    done: list[DecoderChecked] = []
    for decoder in loco.decoders:
        with in_file("" if said.profile else loco.file):
            done.append(check_decoder(store, _with(decoder, said), loco, changed=changed))
    return LocoChecked(loco, tuple(done))


def check_decoder(
    store: Store, decoder: SavedDecoder, loco: Loco, *, changed: bool = False
) -> DecoderChecked:
    """One decoder's saved values held against its profile."""
    if not decoder.profile:
        raise problem(
            f"{'' if loco.file else f'{loco.name}: '}no decoder profile is named.",
            advice='Give one with --profile, such as "--profile ferrow/lark-8"; '
            '"cvlib identify" with the same file says which it most likely is.',
        )
    resolver = Resolver(store.profile(decoder.profile))
    saved = _saved(resolver.profile, decoder)
    if decoder.firmware:
        installed = resolver.profile.version(decoder.firmware)
        checked = check(resolver, installed, saved, changed=changed)
        return DecoderChecked(decoder, resolver.profile, Decided(checked, Ground.STATED))
    outcome = check_unknown(resolver, saved, changed=changed)
    return DecoderChecked(decoder, resolver.profile, outcome)


def _with(decoder: SavedDecoder, said: Stated) -> SavedDecoder:
    values = decoder.values
    if said.saved_for:
        values = {slot: replace(value, firmware=said.saved_for) for slot, value in values.items()}
    return replace(
        decoder,
        values=values,
        profile=said.profile or decoder.profile,
        firmware=said.firmware or decoder.firmware,
    )


def _saved(profile: Profile, decoder: SavedDecoder) -> Saved:
    versions: dict[str, FirmwareVersion] = {}
    for value in decoder.values.values():
        if value.firmware and value.firmware not in versions:
            versions[value.firmware] = profile.version(value.firmware)
    unknown = [name for name in decoder.options if name not in profile.settings]
    if unknown:
        profile.setting(unknown[0])
    return Saved(
        {slot: value.value for slot, value in decoder.values.items()},
        {s: versions[v.firmware] for s, v in decoder.values.items() if v.firmware},
        decoder.options,
    )


def chosen_decoders(loco: Loco, role: str) -> Loco:
    """The loco with only the decoders of one role."""
    kept = tuple(decoder for decoder in loco.decoders if decoder.role == role)
    if not kept:
        roles = ", ".join(f'"{decoder.role}"' for decoder in loco.decoders if decoder.role)
        raise problem(
            f'{loco.file or loco.name}: no decoder has the role "{role}".',
            advice=f"Its roles are {roles}." if roles else "Its decoders have no roles.",
        )
    return replace(loco, decoders=kept)


def loco_paths(paths: Iterable[Path]) -> list[Path]:
    """The loco files named by paths: files as they are, folders with all they hold, sorted."""
    from cvlib.files.read.interface import loco_files

    return [found for path in paths for found in loco_files(path)]


def wanted(
    words: Iterable[str] = (), groups: Iterable[str] = (), cvs: Iterable[str] = ()
) -> Wanted:
    """Which settings are asked for: by words, groups, and CVs as ``27``, ``67-94``, ``257@16/2``.

    Raises :class:`~cvlib.errors.InputError` for a CV that does not exist.
    """
    from cvlib.engine.listing import Wanted

    return Wanted.of(words, groups, cvs)


def settings_at(
    store: Store, profile: str, firmware: str = "", asked: Wanted | None = None
) -> Listing:
    """The settings of a profile at a firmware; without one, where it knows one generation only.

    Raises :class:`~cvlib.errors.UndecidedError` where it knows several.
    """
    from cvlib.engine.listing import Wanted, listing

    return listing(resolver_of(store, profile), firmware, asked or Wanted())


def settings_against(
    store: Store, profile: str, firmware: str, other: str, asked: Wanted | None = None
) -> Compared:
    """What a firmware has that another has not: of the same profile, or ``profile[@firmware]``."""
    from cvlib.engine.listing import compared

    name, _, version = other.partition("@") if "/" in other else (profile, "", other)
    before = settings_at(store, name, version, asked)
    return compared(before, settings_at(store, profile, firmware, asked))


def timeline_of(
    store: Store,
    profile: str,
    settings: Iterable[str] = (),
    groups: Iterable[str] = (),
    *,
    every: bool = False,
) -> Timeline:
    """A profile through all firmware, or some settings; ``every``: also those that never change."""
    from cvlib.engine.timeline import timeline

    return timeline(resolver_of(store, profile), settings, groups, every=every)


def explain(
    store: Store,
    things: Iterable[str],
    profile: str = "",
    firmware: str = "",
    options: Mapping[str, str | int] | None = None,
) -> Explanation:
    """Things a person asks about, in words.

    A thing is a value as ``29=38``, a CV, an index page as ``16/2``, the code of a finding, the
    id of a setting, or words from its title. They are explained at one firmware of a profile; at
    every stretch of firmware where none is given; by both standards where no profile is.
    """
    from cvlib.files.explaining import explain as explain_things

    return explain_things(store, list(things), profile, firmware, options or {})


def profiles(store: Store, words: Iterable[str] = ()) -> Iterator[Summary]:
    """What the store holds, by id; only profiles with all the words in what the list tells."""
    asked = [word.casefold() for word in words]
    for id in store.ids():
        found = store.summary(id)
        text = " ".join((id, found.maker, found.name, found.kind, *found.releases)).casefold()
        if all(word in text for word in asked):
            yield found


def lint(store: Store, paths: Iterable[Path] = ()) -> Linted:
    """What is wrong with the definitions of a store and with further files and folders.

    Raises :class:`~cvlib.errors.InputError` where a path does not exist.
    """
    from cvlib.files.lint import lint as lint_files

    return lint_files(store, paths)


def review(asked: Revisions, locos: Iterable[Path] = ()) -> Reviewed:
    """What changed in a store between two git revisions, and what that does to some locos.

    Raises :class:`~cvlib.errors.InputError` where the repository or a revision is not to be used.
    """
    from cvlib.files.reviewing import reviewed

    faults: list[Fault] = []
    read = list(_locos(Asked(tuple(locos)), faults))
    return reviewed(asked, read, check_decoder, faults)


def stale(
    store: Store, locos: Iterable[Path] = (), only: Iterable[str] = (), today: date | None = None
) -> Stale:
    """What wants looking at in a store, and in locos: what nobody covered, what changed since.

    ``only`` names profiles; without it, those that the locos use, and without locos all of them.
    """
    from cvlib.files.stale_store import stale_in

    faults: list[Fault] = []
    read = list(_locos(Asked(tuple(locos)), faults))
    return stale_in(store, tuple(only), read, check_decoder, today or date.today(), faults)


def record_checks(
    result: FleetChecked, asked: Asked, stated: Stated | None = None, day: date | None = None
) -> Recording:
    """Leave the outcome of a check in the loco files it was asked about.

    Raises :class:`~cvlib.errors.InputError` where more was checked than the files themselves say.
    """
    from cvlib.files.record_check import record_all

    if asked.typed or asked.listed is not None or asked.role or (stated or Stated()) != Stated():
        raise problem(
            "only the check of loco files as they stand can be recorded.",
            advice="Write profile, firmware and values into the file, then check it without them.",
        )
    return record_all(result, day or date.today())
