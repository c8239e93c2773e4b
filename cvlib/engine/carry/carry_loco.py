"""One decoder of a loco carried to another firmware or decoder type, with its write sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import assert_never

from cvlib.engine.account.dating import open_question, saved_of
from cvlib.engine.carry.carry import Carried, Goal, carry
from cvlib.engine.carry.carry_outcomes import (
    Clamped,
    Converted,
    Disputed,
    Dropped,
    Moved,
    New,
    ReadOnly,
    Refused,
    Same,
)
from cvlib.engine.carry.choosing import choices_for
from cvlib.engine.carry.compose_bytes import Composed
from cvlib.engine.carry.order import IDENTITY, plan
from cvlib.engine.carry.saved_settings import Origin
from cvlib.engine.carry.write_sheet import Setup, Sheet, job_of
from cvlib.engine.known.identity import versions_answering
from cvlib.engine.known.line import stretches
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import Fault, UndecidedError, problem
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding, Told
from cvlib.model.cv import WHOLE, Slot
from cvlib.model.loco import Loco, SavedDecoder, State, one_decoder
from cvlib.model.profile import Profile
from cvlib.model.versions import FirmwareVersion


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person wants carried, where to, and how it will be written. Empty: not said."""

    to: str = ""
    """The firmware of the goal."""
    to_profile: str = ""
    """Another decoder type; empty: the same one."""
    profile: str = ""
    """The decoder type of the saved values, where the file does not say."""
    saved_for: str = ""
    """The firmware that all values were saved for, whatever the file says."""
    role: str = ""
    """Which decoder of the loco."""
    choices: tuple[tuple[str, str], ...] = ()
    """A setting or group, and which of its disputed places is taken."""
    options: tuple[tuple[str, str], ...] = ()
    """Facts fixed when the goal's decoder was built."""
    everything: bool = False
    """Write also what holds the right value already."""
    setup: Setup = field(default_factory=Setup)
    state: State = State.UNKNOWN
    """What became of the values since the last update."""


@dataclass(frozen=True, slots=True)
class DecoderCarried:
    """The outcome for one decoder."""

    loco: Loco
    decoder: SavedDecoder
    profile: Profile
    """What the values were saved for."""
    goal: Profile
    wish: Wish
    carried: Carried
    sheet: Sheet
    is_written: bool | None = None
    """Whether the loco file was changed; nothing where that was not asked for."""

    def worst(self) -> Severity | None:
        """The gravest thing to look at; nothing where all went over as it was."""
        found = [finding.severity for finding in self.carried.findings]
        lossy = (Clamped, Dropped, Disputed, Refused)
        if any(isinstance(outcome, lossy) for outcome in self.carried.outcomes):
            found.append(Severity.WARNING)
        return max(found, key=tuple(Severity).index, default=None)

    def is_at_least(self, least: Severity) -> bool:
        """Whether there is something to look at that is as grave as ``least`` or graver."""
        worst = self.worst()
        return worst is not None and worst.at_least(least)


def kept_slots(result: DecoderCarried) -> frozenset[Slot]:
    """The saved CVs that were not carried and still count: open, refused, or not understood.

    With another decoder type nothing of the old one counts any more.
    """
    carried = result.carried
    if result.profile.id != result.goal.id:
        return frozenset()
    kept = {held.slot for held in carried.left if held.value & held.mask or held.mask == WHOLE}
    for outcome in carried.outcomes:
        match outcome:
            case Refused(place=place):
                kept |= {field.slot for field in place.fields}
            case Disputed(old=old, candidates=candidates):
                places = [old.place] if old else [one.place for one in candidates if one.place]
                kept |= {field.slot for place in places for field in place.fields}
            case Same() | Moved() | Converted() | Clamped():
                if any(field.slot in carried.held_back for field in outcome.new.place.fields):
                    kept |= {field.slot for field in outcome.old.place.fields}
            case Dropped() | New() | ReadOnly():
                pass
            case _:
                assert_never(outcome)
    versions = carried.origin.saved.saved_for
    kept |= {slot for slot, version in versions.items() if version == carried.goal.version}
    return frozenset((kept & versions.keys()) - saved_slots(result).keys())


def saved_slots(result: DecoderCarried) -> dict[Slot, Composed]:
    """The CVs that the loco file is to hold for the goal."""
    carried = result.carried
    image = {**carried.image, **(carried.offered if result.wish.everything else {})}
    return {slot: held for slot, held in image.items() if slot not in carried.held_back}


def is_kept_already(result: DecoderCarried) -> bool:
    """Whether the loco file holds all of it already, so that nothing is to be written."""
    carried, decoder = result.carried, result.decoder
    if not decoder.firmware or decoder.profile != result.goal.id:
        return False
    if result.goal.version(decoder.firmware) != carried.goal.version:
        return False
    wanted, kept, saved = saved_slots(result), kept_slots(result), carried.origin.saved
    return (
        dict(decoder.options) == dict(carried.goal.options)
        and all(
            slot in kept
            or (
                slot in wanted
                and wanted[slot].value == value
                and saved.saved_for[slot] == carried.goal.version
            )
            for slot, value in saved.values.items()
        )
        and wanted.keys() <= saved.values.keys()
    )


def wanted_decoder(loco: Loco, wish: Wish) -> SavedDecoder:
    """The decoder that is meant, with what was said of it; raises where that is not clear."""
    named = loco.file or loco.name
    held = one_decoder(loco, wish.role)
    decoder = replace(held, profile=wish.profile or held.profile, state=wish.state or held.state)
    if not decoder.profile:
        raise problem(
            f"{named}: no decoder profile is named.",
            advice='Give one with --profile; "cvlib profiles" lists them.',
        )
    if not decoder.values:
        raise problem(f"{named}: nothing is saved of this decoder.", advice="Read it first.")
    return decoder


def carry_decoder(
    loco: Loco, decoder: SavedDecoder, resolver: Resolver, target: Resolver, wish: Wish
) -> DecoderCarried:
    """A decoder's saved values carried to the goal, with the sheet to write them by.

    Raises :class:`~cvlib.errors.UndecidedError` where it is not known what the values were saved
    for, or which firmware the goal has.
    """
    origin = origin_of(loco, decoder, resolver, wish)
    same = target.profile.id == resolver.profile.id
    target = resolver if same else target
    version = _goal_version(target, wish)
    states = [target.at(version)]
    states += [resolver.at(v) for v in dict.fromkeys(origin.saved.saved_for.values())]
    choices = choices_for(wish.choices, states)
    setup = setup_in(loco, decoder, wish.setup)
    if same:
        setup = replace(setup, usual_address=loco.address)
    goal = Goal(
        target,
        version,
        dict(origin.saved.values) if same else {},
        setup.is_reset,
        _options(decoder, target.profile, wish),
        choices,
    )
    carried = carry(origin, goal)
    sheet = plan(job_of(carried, everything=wish.everything), setup)
    return DecoderCarried(loco, decoder, resolver.profile, target.profile, wish, carried, sheet)


def setup_in(loco: Loco, decoder: SavedDecoder, setup: Setup) -> Setup:
    """How a decoder is reached, with what its loco says of other decoders at its address."""
    others = [one for one in loco.decoders if one.role != decoder.role]
    mine, *theirs = (one.values.get(IDENTITY) for one in (decoder, *others))
    differ: bool | None = None
    if mine is not None and others:
        known = [held.value for held in theirs if held is not None]
        if mine.value in known:
            differ = False
        elif len(known) == len(others):
            differ = True
    return replace(setup, is_shared=setup.is_shared or bool(others), locks_differ=differ)


def origin_of(loco: Loco, decoder: SavedDecoder, resolver: Resolver, wish: Wish) -> Origin:
    """A decoder's saved values, each with the firmware it was saved for.

    That is what the wish says, else the file says of the table, else the installed firmware, else
    what the values themselves answer. Raises :class:`~cvlib.errors.UndecidedError` without any, and
    where values that nobody dated are just as well older and then mean something else.
    """
    saved = saved_of(resolver, decoder, wish.saved_for)
    undated = saved.values.keys() - saved.saved_for.keys()
    if not undated and not saved.history.outlived:
        return Origin(resolver, saved, order_of(decoder))
    said = decoder.firmware
    installed = (
        one_firmware(resolver, said) if said else _answered(loco, resolver.profile, saved.values)
    )
    question = open_question(resolver, installed, saved)
    if question is not None:
        raise _undecided(loco, wish, question)
    versions = {**saved.saved_for, **dict.fromkeys(undated, installed)}
    return Origin(resolver, saved._replace(saved_for=versions), order_of(decoder))


def _undecided(loco: Loco, wish: Wish, question: Finding) -> UndecidedError:
    """The fault of values that may be older than the installed firmware, with both ways out."""
    was, now = question.was[0], question.now[0]
    count = len({(held.cv, held.page) for held in question.bits})
    file = f'"{loco.file}"' if " " in loco.file else loco.file
    words = ["cvlib carry", file or "LOCO"]
    given = {"--profile": wish.profile, "--role": wish.role, "--to-profile": wish.to_profile}
    words += [f"{name} {word}" for name, word in {**given, "--to": wish.to}.items() if word]
    command = " ".join([*words, "--saved-for"])
    ways = (
        f"From before the update: {command} {was.firmware}. Set since: {command} {now.firmware}."
        if wish.to or wish.to_profile
        else f"From before the update: --saved-for {was.firmware}. Set since: --saved-for "
        f"{now.firmware}. Or note that firmware beside the values in the loco file."
    )
    if question.of_some:
        ways = (
            f'"cvlib keep" with these values notes it: --saved-for {was.firmware}, or --saved-for '
            f"{now.firmware} if set since."
        )
    return UndecidedError(
        Fault(
            f"{loco.file or loco.name}: nobody noted for which firmware the values were saved, and "
            f"{count} of them mean something else if they are older: {was.where} is {was.title}"
            f"{_valued(was)} in firmware {was.firmware}, {now.title}{_valued(now)} at {now.where} "
            f"in {now.firmware}.",
            advice=ways,
        )
    )


def _valued(told: Told) -> str:
    return f" ({told.value})" if told.value else ""


def _answered(loco: Loco, profile: Profile, values: Mapping[Slot, int]) -> FirmwareVersion:
    """The firmware that the values themselves name."""
    found = versions_answering(profile, values)
    if len(found) == 1:
        return found[0]
    known = ", ".join(str(release.version) for release in profile.releases)
    raise UndecidedError(
        Fault(
            f"{loco.file or loco.name}: it is not known which firmware the values were saved for.",
            advice=f"Give it with --saved-for. Known of {profile.name}: {known}.",
        )
    )


def order_of(decoder: SavedDecoder) -> dict[Slot, int]:
    """Which values were saved later: as in the file, where later readings win.

    A number that a later reading found again is as old as before, unless somebody wrote it anew.
    """
    found = dict.fromkeys(decoder.values, 0)
    numbers: dict[Slot, int] = {}
    for at, reading in enumerate(decoder.readings, 1):
        for slot, value in reading.values.items():
            if numbers.get(slot) != value.value or reading.meant_for:
                found[slot] = at
            numbers[slot] = value.value
    return found


def _goal_version(target: Resolver, wish: Wish) -> FirmwareVersion:
    profile = target.profile
    if wish.to:
        return one_firmware(target, wish.to)
    known = [str(release.version) for release in profile.releases]
    if wish.to_profile and len(stretches(target)) == 1 and profile.releases:
        return profile.releases[-1].version
    raise UndecidedError(
        Fault(
            f"{profile.id}: it is not said which firmware the values are to be carried to.",
            advice=f"Give it with --to. Known are {', '.join(known)}." if known else "",
        )
    )


def _options(decoder: SavedDecoder, profile: Profile, wish: Wish) -> Mapping[str, str | int]:
    """Facts of the goal's decoder: those of the file that it knows, and those said."""
    kept: dict[str, str | int] = {
        name: choice for name, choice in decoder.options.items() if name in profile.settings
    }
    for name, choice in wish.options:
        profile.setting(name)
        kept[name] = int(choice) if choice.isascii() and choice.isdecimal() else choice
    return kept
