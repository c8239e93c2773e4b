"""What a list of saved values was saved for, where nobody noted it.

Saved settings outlive an update, but the version CVs are read anew: a list may name one firmware
and hold the settings of another. So the settings are asked first without the version CVs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from cvlib.engine.bench.expect import ErrorModel, Terms
from cvlib.engine.bench.identify import Fit, Identified, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex
from cvlib.engine.bench.weigh import Read
from cvlib.engine.known.identity import spelt_version
from cvlib.model.cv import Slot
from cvlib.model.versions import FirmwareVersion

SAVED = Terms(model=ErrorModel(misread=0.02, open_minded=0.7))
"""How lists come about: typed by hand now and then, and with CVs in them that nothing uses."""


def saved_for(
    index: IdentityIndex,
    reads: Sequence[Read],
    profile: str = "",
    is_open: Callable[[str], bool] | None = None,
) -> tuple[Identified, str]:
    """The generations that saved values were most likely saved for, and the firmware that the
    version CVs among them name (empty where they name none).

    Where settings and version agree, both count together. Where they do not, and where the
    settings may be older (``is_open`` says it of a profile), they decide alone, among the firmware
    up to that version.
    """
    whole = identify(index, reads, SAVED, profile)
    name = profile or _one_profile(whole)
    number = next((at for at, _, _ in index.spans() if index.listed(at).id == name), None)
    if number is None:
        return whole, ""
    listed = index.listed(number)
    slots = {part.field.slot for part in listed.parts}
    values = {read.slot: read.answer for read in reads if read.is_answered}
    version = spelt_version(listed.scheme, listed.parts, values)
    settings = identify(index, [read for read in reads if read.slot not in slots], SAVED, name)
    if version is not None:
        settings = _up_to(index, settings, version)
    likely = {held.generation for held in settings.fitting}
    agrees = bool(whole.fitting) and all(held.generation in likely for held in whole.fitting)
    is_sure = version is None or is_open is None or not is_open(name)
    found = whole if not likely or (agrees and is_sure) else settings
    if version is None:
        return found, ""
    return found, _as_answered(index, found, slots, values) or str(version)


def _up_to(index: IdentityIndex, found: Identified, version: FirmwareVersion) -> Identified:
    """The candidates that are not newer than the firmware the decoder has, with chances anew."""
    kept = []
    for held in found.candidates:
        rows = tuple(r for r in held.rows if not index.row(r).firmware.lies_after(version.key))
        at = [held.rows.index(row) for row in rows]
        names = {name for row in rows for name in index.row(row).releases}
        if rows:
            kept.append(
                replace(
                    held,
                    rows=rows,
                    shares=tuple(held.shares[one] for one in at),
                    open_shares=tuple(held.open_shares[one] for one in at),
                    chance=sum(held.shares[one] for one in at),
                    releases=tuple(name for name in held.releases if name in names),
                )
            )
    whole = sum(held.chance for held in kept) + found.stranger + found.mute
    kept = [replace(held, chance=held.chance / whole) for held in kept] if whole else []
    kept.sort(key=lambda held: -held.chance)
    fitting = sum(held.fit is Fit.FITS for held in kept)
    verdict = found.verdict
    if verdict in (Verdict.ONE, Verdict.SEVERAL):
        verdict = Verdict.ONE if fitting == 1 else Verdict.SEVERAL if fitting else Verdict.NONE
    rival = kept[1].rows[0] if len(kept) > 1 else None
    return replace(found, candidates=tuple(kept), verdict=verdict, rival=rival)


def _as_answered(
    index: IdentityIndex, found: Identified, slots: Iterable[Slot], values: Mapping[Slot, int]
) -> str:
    """The release of a fitting candidate that answers just these version CVs: several releases may
    answer alike. Empty where none of them does.
    """
    for held in found.fitting:
        for row in held.rows:
            releases = index.row(row).releases
            if releases and all(index.expect(row, s).certain >> values[s] & 1 for s in slots):
                return releases[-1]
    return ""


def _one_profile(found: Identified) -> str:
    """The decoder type that all likely candidates have in common; empty where they differ."""
    names = {held.profile for held in found.candidates if held.chance >= 0.01}
    return names.pop() if len(names) == 1 and found.stranger < 0.5 else ""
