"""A list, or values read anew, kept in a loco file as a reading of their day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cvlib.api.checks import Asked, locos_of
from cvlib.api.opening import read_loco
from cvlib.engine.account.dating import open_question, saved_of
from cvlib.engine.account.readings import Kept, last_changes
from cvlib.engine.known.identity import versions_answering
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, InputError, problem
from cvlib.model.loco import (
    Loco,
    Reading,
    SavedDecoder,
    SavedValue,
    State,
    latest_values,
    one_decoder,
)

if TYPE_CHECKING:
    from cvlib.files.store import Store

DATED = ("read", "written")
"""Ways by which values come that are of the day they are kept, where no day is said."""


class KeepRequest(NamedTuple):
    """What is to be kept, and what the person says of it. Empty: not said."""

    path: Path
    """The loco file; made where it is not there."""
    words: tuple[str, ...] = ()
    """Values as ``27=3``, and at most one list."""
    listed: bytes | None = None
    """A list that does not lie in a file."""
    profile: str = ""
    firmware: str = ""
    """What was in the decoder on that day."""
    saved_for: str = ""
    state: State = State.UNKNOWN
    how: str = ""
    day: date | None = None
    note: str = ""
    role: str = ""
    name: str = ""
    """The name of a new loco."""
    recipe: Path | None = None


class Keeping(NamedTuple):
    """A reading that is to be kept, and where."""

    loco: Loco | None
    """The loco that the file holds; nothing where there is no file yet."""
    number: int
    """Which decoder of it, from 0."""
    decoder: SavedDecoder
    """The decoder with the reading, as it would be."""
    reading: Reading
    firmware_from: str
    """As in :class:`~cvlib.engine.account.readings.Kept`."""
    entered: bytes


def gathered(store: Store, request: KeepRequest, today: date) -> Keeping:
    """The values that were said, as a reading of the decoder they belong to.

    Its firmware is what was said, else what the version CVs among the values name, else what the
    file says of the decoder. Raises :class:`~cvlib.errors.InputError` for what cannot be kept.
    """
    from cvlib.files.text import is_there

    given = _given(request)
    values = given.values
    loco = read_loco(request.path) if is_there(request.path) else None
    number, decoder = _decoder(loco, request)
    profile = request.profile or decoder.profile or given.profile
    firmware, ground = request.firmware or given.firmware, "said"
    numbers = {slot: held.value for slot, held in values.items()}
    if profile:
        held = store.profile(profile)
        for said in filter(None, (firmware, request.saved_for)):
            held.version(said)
        found = versions_answering(held, numbers)
        if not firmware and len(found) == 1:
            firmware, ground = str(found[0]), "answered"
    day = request.day or (today if request.how in DATED else None)
    is_last = not any(day and one.date > day.isoformat() for one in decoder.readings)
    if not firmware and is_last:
        firmware, ground = decoder.firmware, "noted"
    dated = day.isoformat() if day else ""
    values = {
        slot: SavedValue(slot, one.value, request.saved_for, dated, request.how, None, firmware)
        for slot, one in values.items()
    }
    reading = Reading(
        values, dated, request.how, firmware, request.saved_for, request.state, request.note
    )
    readings = (*decoder.readings, reading)
    installed = firmware if is_last and firmware else decoder.firmware
    same = installed == decoder.firmware
    made = replace(
        decoder,
        values=latest_values(readings, installed),
        profile=profile,
        firmware=installed,
        state=request.state or (decoder.state if same else State.UNKNOWN),
        readings=readings,
    )
    text = "".join(f"{slot.typed} = {value}\n" for slot, value in numbers.items())
    ground = ground if firmware else ""
    return Keeping(loco, number, made, reading, ground, text.encode("utf-8"))


def keep(store: Store, request: KeepRequest, keeping: Keeping) -> Kept:
    """Write a reading into the loco file, in one step, and say what it has otherwise than before.

    Raises :class:`~cvlib.errors.InputError`, with the file as it was, where it cannot be written.
    """
    from cvlib.files.edit_readings import NewReadings, keep_readings, new_loco

    reading = keeping.reading
    found = NewReadings(
        keeping.number,
        keeping.decoder.profile,
        reading.firmware,
        {slot: held.value for slot, held in reading.values.items()},
        (),
        date.fromisoformat(reading.date) if reading.date else None,
        request.note,
        request.state.value,
        request.how,
        request.saved_for,
    )
    if keeping.loco is None:
        new_loco(request.path, request.name or request.path.stem, request.role, found)
    else:
        keep_readings(request.path, found, "keep", keeping.loco.digest, keeping.entered)
    loco = read_loco(request.path)
    decoder = loco.decoders[keeping.number]
    is_last = decoder.readings[-1] == reading
    resolver = Resolver(store.profile(decoder.profile)) if decoder.profile else None
    return Kept(
        str(request.path),
        loco,
        decoder,
        reading,
        keeping.loco is None,
        keeping.loco is not None and reading in keeping.loco.decoders[keeping.number].readings,
        keeping.firmware_from,
        is_last and _is_open(resolver, decoder),
        is_last and _is_open(resolver, decoder, outlived=True),
        last_changes(resolver, decoder) if is_last else None,
    )


def _is_open(resolver: Resolver | None, decoder: SavedDecoder, *, outlived: bool = False) -> bool:
    """Whether values may be left over from older firmware and would mean something else then.

    With ``outlived`` those are looked at that were noted before the last update.
    """
    if resolver is None or not decoder.firmware:
        return False
    installed = one_firmware(resolver, decoder.firmware)
    saved = saved_of(resolver, decoder)
    question = open_question(resolver, installed, saved)
    return question is not None and outlived == (question.now[0].firmware != str(installed))


def _given(request: KeepRequest) -> SavedDecoder:
    """The values of the list with those typed over them, and what a recipe says of them."""
    from cvlib.files.read.typed import parse_typed

    asked = Asked.of(request.words, request.listed, "", request.recipe)
    if len(asked.paths) + (asked.listed is not None) > 1:
        raise problem("only one list is kept at a time.", advice="Keep them one after the other.")
    faults: list[Fault] = []
    locos = list(locos_of(asked, faults))
    if faults:
        raise InputError(*faults)
    held = SavedDecoder({})
    for loco in locos:
        held, *others = loco.decoders
        if others or held.readings:
            raise problem(
                f"{loco.file}: a list of one decoder is needed, and this is a loco file.",
                advice='"cvlib export" makes a list of it.',
            )
    values = {**held.values, **parse_typed(asked.typed)}
    if not values:
        raise problem(
            "nothing to keep.", advice="Name a list behind the loco file, or type values: 27=3."
        )
    return replace(held, values=values)


def _decoder(loco: Loco | None, request: KeepRequest) -> tuple[int, SavedDecoder]:
    """Which decoder of a loco the values belong to."""
    if loco is None and request.path.suffix.casefold() != ".toml":
        raise problem(
            f"{request.path}: the name of a loco file ends in .toml.",
            advice="Name the loco file first, then the list.",
        )
    if loco is None:
        return 0, SavedDecoder({}, role=request.role)
    if request.name:
        raise problem(
            f"{loco.file}: --name is for a new file, and this one is there.",
            advice="Leave --name out.",
        )
    held = one_decoder(loco, request.role)
    if request.profile and held.profile and request.profile != held.profile:
        raise problem(
            f"{loco.file}: the decoder is {held.profile} there, not {request.profile}.",
            advice="A decoder that was exchanged gets a file of its own.",
        )
    return loco.decoders.index(held), held
