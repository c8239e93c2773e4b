"""What saved values were saved for: what somebody noted, and what must be asked before it is used.

Check, carry and compare have it from here, so that none of them takes a leftover for a setting.
"""

from __future__ import annotations

from collections.abc import Mapping

from cvlib.engine.account.check import Saved
from cvlib.engine.account.claims import Layout, canonical
from cvlib.engine.account.undated import History, outlived_findings, undated_finding
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import Severity
from cvlib.findings.finding import Finding
from cvlib.model.cv import Slot
from cvlib.model.loco import SavedDecoder
from cvlib.model.versions import FirmwareVersion


def saved_of(resolver: Resolver, decoder: SavedDecoder, saved_for: str = "") -> Saved:
    """A decoder's values, each with the firmware it was saved for where that is noted.

    ``saved_for`` is the firmware of all of them, whatever the file says. Raises
    :class:`~cvlib.errors.InputError` for names that the profile does not know.
    """
    profile, values = resolver.profile, decoder.values
    noted = {slot: saved_for or held.firmware for slot, held in values.items()}
    found = dict.fromkeys(held.firmware for held in decoder.readings if held.firmware)
    named = (*noted.values(), *(held.since for held in values.values()), *found)
    versions = {name: one_firmware(resolver, name) for name in dict.fromkeys(named) if name}
    unknown = [name for name in decoder.options if name not in profile.settings]
    if unknown:
        profile.setting(unknown[0])
    return Saved(
        {slot: held.value for slot, held in values.items()},
        {slot: versions[name] for slot, name in noted.items() if name},
        decoder.options,
        History(
            decoder.state,
            {slot: held.date for slot, held in values.items() if held.date},
            {slot: versions[held.since] for slot, held in values.items() if held.since},
            tuple(versions[name] for name in found),
            frozenset(s for s, held in values.items() if held.outlived and not saved_for),
        ),
    )


def open_question(resolver: Resolver, installed: FirmwareVersion, saved: Saved) -> Finding | None:
    """What keeps values from being taken as saved for the installed firmware: they are just as well
    older, and would mean something else. Nothing where nothing does.
    """
    values: Mapping[Slot, int] = saved.values
    undated = [slot for slot in values if slot not in saved.saved_for]
    if not undated and not saved.history.outlived:
        return None
    second = canonical(resolver.profile.settings.values(), values)
    renamed = {second.get(slot, slot): value for slot, value in values.items()}
    now = Layout(resolver, installed, renamed, saved.options)
    noted = {second.get(s, s): version for s, version in saved.saved_for.items()}
    outlived = [second.get(s, s) for s in values if s in saved.history.outlived]
    found = (
        undated_finding(now, (second.get(s, s) for s in undated), saved.history),
        *outlived_findings(
            lambda version: Layout(resolver, version, renamed, saved.options),
            noted,
            outlived,
            saved.history,
        ),
    )
    return next((one for one in found if one and one.severity is Severity.WARNING), None)
