"""Saved locos matched by their timings: the drive they were timed at, and the values they get."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cvlib.engine.account.cells import State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.engine.carry.carry_outcomes import At
from cvlib.engine.carry.write_sheet import Job
from cvlib.engine.compare.compare import Member
from cvlib.engine.compare.curves import curve_of
from cvlib.engine.compare.match import CHOICE, CHOOSER, POINTS, TABLE, TRIMS, can_set, job_with
from cvlib.engine.compare.motion import FULL, STEPS, Drawn
from cvlib.engine.speed.fit import MeasuredLoco, measure
from cvlib.engine.speed.speed_match import Abilities, SpeedMatch, SpeedValues, match_speeds
from cvlib.engine.speed.timings import Timing
from cvlib.errors import Fault, InputError, did_you_mean, problem
from cvlib.model.answer import Standing
from cvlib.model.coding_many import Curve
from cvlib.model.cv import spans_text

MOMENTUM = (
    "momentum.acceleration",
    "momentum.deceleration",
    "momentum.acceleration-adjustment",
    "momentum.deceleration-adjustment",
)


class MatchedMember(NamedTuple):
    """One loco of a match: as it was timed, and what it gets."""

    member: Member
    loco: MeasuredLoco
    values: SpeedValues
    new: dict[str, At]
    """The new values by setting, those it has already left out."""
    job: Job


@dataclass(frozen=True, slots=True)
class MatchedFleet:
    """Locos matched by measurement, with their jobs."""

    match: SpeedMatch
    members: tuple[MatchedMember, ...]


def match_by_timings(
    members: Sequence[Member],
    timings: Sequence[Timing],
    top: float | None = None,
    *,
    reread: bool = True,
) -> MatchedFleet:
    """The values with which the locos run alike, by what was timed with their saved values.

    ``top`` is the speed wished for at step 28 in metres a second; nothing: the slowest of them.
    With ``reread`` the other bits of CV 29 are kept as they are found, else as they are saved.
    Raises InputError for timings or wishes that cannot be used.
    """
    names = [member.name for member in members]
    for one in timings:
        if one.loco not in names:
            known = " and ".join(f'"{name}"' for name in names)
            raise problem(
                f'there is no loco "{one.loco}" in this match.',
                advice=did_you_mean(one.loco, names) or f"The locos named are {known}.",
                position=one.position,
            )
    drawn = check_curves(members)
    locos, scatter = measure(timings, drawn)
    now = {name: (curve.forward, curve.reverse) for name, curve in drawn}
    able = {member.name: abilities_of(member.layout) for member in members}
    match = match_speeds(locos, now, able, scatter, top)
    found: list[MatchedMember] = []
    for member, loco, values in zip(members, locos, match.values, strict=True):
        new = _new_values(member.layout, values)
        job = job_with(member.layout, new, reread=reread)
        found.append(MatchedMember(member, loco, values, new, job))
    return MatchedFleet(match, tuple(found))


def abilities_of(layout: Layout) -> Abilities:
    """What of the speed curve a person may set, and match, in a decoder."""
    place = cell_of(layout, TABLE).place
    coding = place.coding if place is not None and len(place.fields) == STEPS else None
    is_standard = isinstance(coding, Curve) and coding.high == FULL
    return Abilities(
        is_standard and can_set(layout, TABLE) and can_set(layout, CHOOSER),
        all(can_set(layout, name) for name in POINTS),
        all(can_set(layout, name) for name in TRIMS),
        coding.low if isinstance(coding, Curve) else 0,
        tuple((cell_of(layout, name).parts or (0,))[0] for name in TRIMS),
    )


def check_curves(members: Sequence[Member]) -> list[tuple[str, Drawn]]:
    """The drive of each loco at each step; raises where its saved values do not tell it.

    No factory value stands in for one that nobody saved: a curve reckoned from a wrong drive is
    wrong altogether.
    """
    found: list[tuple[str, Drawn]] = []
    faults: list[Fault] = []
    for member in members:
        cells = {name: cell_of(member.layout, name) for name in (CHOOSER, *TRIMS, *POINTS, TABLE)}
        by_table = bool((cells[CHOOSER].parts or (0,))[0])
        needed = [CHOOSER, *TRIMS, *([TABLE] if by_table else POINTS)]
        unread = [cells[n] for n in needed if cells[n].state not in (State.SAVED, State.ABSENT)]
        curve = curve_of(member.layout)
        if unread or curve is None:
            places = [cell.place for cell in unread if cell.place is not None]
            slots = {field.slot.cv for place in places for field in place.fields}
            named = spans_text(tuple(sorted(slots))) or "2, 5, 6, 25, 29, 66, 67-94, 95"
            problem_said = f"{member.name}: the drive at each speed step is not known."
            advice = f"Read CVs {named} as they are when it is timed; note them in its loco file."
            faults.append(Fault(problem_said, advice=advice))
        elif cell_of(member.layout, "configuration.speed-steps").parts == (0,):
            problem_said = f"{member.name}: it counts 14 speed steps, and the table has 28."
            faults.append(Fault(problem_said, advice="Set CV 29 bit 1, and note it."))
        else:
            found.append((member.name, curve))
    if faults:
        raise InputError(*faults)
    return found


def momentum_of(member: Member) -> dict[int, int]:
    """The CVs of momentum that are not saved as 0, with their values."""
    found: dict[int, int] = {}
    for name in MOMENTUM:
        cell = cell_of(member.layout, name)
        if cell.state is State.SAVED and cell.place is not None and cell.parts is not None:
            pairs = zip(cell.place.fields, cell.parts, strict=True)
            found |= {field.slot.cv: part for field, part in pairs if part}
    return found


def _new_values(layout: Layout, values: SpeedValues) -> dict[str, At]:
    """The settings to write: the curve, what chooses it, and the trims."""
    wanted: dict[str, tuple[int, ...]] = {}
    if values.table is not None:
        wanted |= {CHOOSER: (1,), TABLE: values.table}
    elif values.points is not None:
        minimum, middle, maximum = values.points
        wanted |= dict(zip(POINTS, ((minimum,), (middle,), (maximum,)), strict=True))
        wanted |= {CHOOSER: (0,), CHOICE: (0,)}
    for name, trim in zip(TRIMS, (values.forward_trim, values.reverse_trim), strict=True):
        if trim is not None:
            wanted[name] = (trim,)
    found: dict[str, At] = {}
    for name, parts in wanted.items():
        cell = cell_of(layout, name)
        is_saved = cell.state is State.SAVED or name == CHOICE
        if cell.place is None or not can_set(layout, name):
            continue
        if is_saved and _is_there(cell.parts, parts, name):
            continue
        if cell.place.coding.decode(parts).fault is not None:
            title = layout.resolver.profile.settings[name].title
            raise problem(
                f"{values.loco}: {title} {', '.join(map(str, parts))} is not allowed in it.",
                advice="Wish for another top speed, or leave this loco out.",
            )
        standing = cell.standing or Standing.DOCUMENTED
        found[name] = At(cell.place, parts, standing, layout.version)
    return found


def _is_there(held: tuple[int, ...] | None, wanted: tuple[int, ...], name: str) -> bool:
    """Whether a value does what is wanted: 0 and 128 are one trim, 0 and 1 one choice."""
    if held == wanted:
        return True
    if name in TRIMS:
        return held in ((0,), (128,)) and wanted == (128,)
    return name == CHOICE and held in (None, (0,), (1,))
