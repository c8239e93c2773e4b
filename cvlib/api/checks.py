"""Saved values held against what the installed firmware understands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cvlib.api.opening import read_loco
from cvlib.api.recipes import opened_recipe
from cvlib.engine.account.dating import saved_of
from cvlib.engine.account.decide import Decided, Ground, Undecided, check_stated, check_unknown
from cvlib.engine.account.undated import CODE as UNDATED
from cvlib.engine.bench.outcome import DecoderChecked, FleetChecked, LocoChecked
from cvlib.engine.carry.figures import with_figures
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, InputError, in_file, problem
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedDecoder, SavedValue, State, decoders_of
from cvlib.model.recipe import Recipe

if TYPE_CHECKING:
    from cvlib.files.record_check import Recording
    from cvlib.files.store import Store


class Stated(NamedTuple):
    """What the person says of a decoder; it goes before what its file says. Empty: not said."""

    profile: str = ""
    firmware: str = ""
    saved_for: str = ""
    state: State = State.UNKNOWN


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
    recipe: Path | None = None
    """How lists in another layout are read."""

    @classmethod
    def of(
        cls,
        words: Iterable[str],
        listed: bytes | None = None,
        role: str = "",
        recipe: Path | None = None,
    ) -> Asked:
        """Words as typed: one with "=" in it is a value, unless there is a file of that name."""
        from cvlib.files.text import is_there

        said = list(words)
        typed = [word for word in said if "=" in word and not is_there(Path(word))]
        paths = [Path(word) for word in said if word not in typed]
        return cls(tuple(paths), tuple(typed), listed, role, recipe)


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
    locos = _chosen(_with_typed(list(locos_of(asked, faults)), asked.typed, faults), asked.role)
    for loco in locos:
        try:
            done.append(check_loco(store, loco, said, changed=changed))
        except InputError as error:
            faults.extend(error.faults)
    if not done:
        raise InputError(*faults)
    return FleetChecked(tuple(done), tuple(faults))


def locos_of(asked: Asked, faults: list[Fault]) -> Iterator[Loco]:
    """The locos of the files and of the list; what is wrong with files goes to the faults."""
    from cvlib.files.read.interface import read_content

    recipe = opened_recipe(asked.recipe, asked.role)
    if asked.listed is not None:
        yield read_content(asked.listed, "standard input", recipe)
    for path in loco_paths(asked.paths, recipe):
        try:
            yield read_loco(path, recipe)
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
            held = check_decoder(store, _with(decoder, said), loco, changed=changed)
            found = _figured(held)
            if len(decoder.readings) > 1:
                from cvlib.engine.account.readings import update_changes

                changes = update_changes(Resolver(found.profile), found.decoder)
                found = found._replace(changes=changes)
            done.append(found)
    return LocoChecked(loco, tuple(done))


def check_decoder(
    store: Store, decoder: SavedDecoder, loco: Loco, *, changed: bool = False
) -> DecoderChecked:
    """One decoder's saved values held against its profile."""
    if not decoder.profile:
        from cvlib.files.offering import offer_for
        from cvlib.render.views.offer import no_profile

        raise no_profile(loco, offer_for(store, decoder, loco))
    resolver = Resolver(store.profile(decoder.profile))
    saved = saved_of(resolver, decoder)
    if decoder.firmware:
        installed = resolver.profile.version(decoder.firmware)
        outcome = check_stated(resolver, installed, saved, changed=changed)
    else:
        outcome = check_unknown(resolver, saved, changed=changed)
    is_open = isinstance(outcome, Undecided) and not decoder.firmware
    if not is_open and not (isinstance(outcome, Decided) and outcome.checked.has(UNDATED)):
        return DecoderChecked(decoder, resolver.profile, outcome)
    from cvlib.files.offering import offer_for

    offer = offer_for(store, decoder, loco)
    return DecoderChecked(decoder, resolver.profile, outcome, offer)


def _figured(held: DecoderChecked) -> DecoderChecked:
    """The check with what carry would write, where the firmware is known."""
    outcome, resolver = held.outcome, Resolver(held.profile)
    if not isinstance(outcome, Decided) or outcome.ground is Ground.ALIKE:
        return held
    saved = saved_of(resolver, held.decoder)
    checked = with_figures(resolver, held.decoder, saved, outcome.checked)
    return held._replace(outcome=outcome._replace(checked=checked))


def _with(decoder: SavedDecoder, said: Stated) -> SavedDecoder:
    values = decoder.values
    if said.saved_for:
        values = {
            slot: replace(value, firmware=said.saved_for, outlived=False)
            for slot, value in values.items()
        }
    return replace(
        decoder,
        values=values,
        profile=said.profile or decoder.profile,
        firmware=said.firmware or decoder.firmware,
        state=said.state or decoder.state,
    )


def chosen_decoders(loco: Loco, role: str) -> Loco:
    """The loco with only the decoders of one role."""
    return replace(loco, decoders=decoders_of(loco, role))


def loco_paths(paths: Iterable[Path], recipe: Recipe | None = None) -> list[Path]:
    """The loco files named by paths: files as they are, folders with all they hold, sorted."""
    from cvlib.files.read.interface import loco_files

    return [found for path in paths for found in loco_files(path, recipe)]


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
