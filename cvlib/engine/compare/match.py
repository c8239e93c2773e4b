"""Values for one loco that bring it closest to another, so that both run alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from cvlib.engine.account.cells import Cell, State, cell_of
from cvlib.engine.account.claims import Layout
from cvlib.engine.carry.carry import is_settable
from cvlib.engine.carry.carry_outcomes import At
from cvlib.engine.carry.compose_bytes import Composed, Ground, compose_bytes
from cvlib.engine.carry.convert import (
    Conversion,
    Exact,
    Impossible,
    Limited,
    Obstacle,
    Rounded,
    convert,
)
from cvlib.engine.carry.write_sheet import Caution, Job, proof_of
from cvlib.engine.compare.compare import Apart, Compared, Member, compare
from cvlib.engine.compare.curves import curve_of
from cvlib.engine.compare.motion import Curve, Form, fitted
from cvlib.model.answer import Standing
from cvlib.model.coding import Number, Parts
from cvlib.model.coding_many import Curve as Table
from cvlib.model.profile import Risk, is_about

ALIKE = ("momentum", "braking", "stopping", "configuration.speed-steps")
"""What is set as in the other loco, setting by setting; the speed curve goes by its shape."""

HARMLESS = frozenset((Risk.MOTOR,))
"""The marks that a setting may have and be matched: how a motor is driven is what matching is
about. Whatever has another mark, or none yet, is for a person to set: where a loco stops, what it
obeys and what may burn is not the same in two locos because they are to run at one speed."""

POINTS = ("speed.minimum", "speed.middle", "speed.maximum")
TRIMS = ("speed.forward-trim", "speed.reverse-trim")
CHOOSER, TABLE, CHOICE = "configuration.speed-table", "speed.table", "speed.table-choice"


class Missing(StrEnum):
    """Why a value of the other loco is not proposed, where it is not the coding."""

    ABSENT = "absent"
    """This decoder has no such setting."""
    NOT_KNOWN = "not-known"
    """Where it lives in this decoder is disputed or depends on what is not saved."""
    NOT_ALLOWED = "not-allowed"
    """The other loco's value is not a legal one."""
    NO_EFFECT = "no-effect"
    """A test found that the CV does nothing, in this loco or in the other."""
    HARM = "harm"
    """It is marked for what it may harm, or nobody has noted yet whether it may."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """One value proposed."""

    setting: str
    now: Cell
    new: At
    like: str
    """The other loco's value in words; empty for a value that shapes the speed curve."""
    wanted: Decimal | None = None
    got: Decimal | None = None
    """Where it is not exact: the figure wanted and the one that is nearest."""


@dataclass(frozen=True, slots=True)
class Unmatched:
    """A value of the other loco that this one cannot have."""

    setting: str
    like: str
    why: Missing | Obstacle


@dataclass(frozen=True, slots=True)
class Matched:
    """What to set so that one loco runs as another does."""

    proposals: tuple[Proposal, ...]
    unmatched: tuple[Unmatched, ...]
    bytes: Mapping[str, Composed]
    """The CVs to write, by their typed names."""
    job: Job
    before: Apart | None
    """How far the curves lie apart now; nothing where one of them is not known."""
    after: Apart | None
    result: Compared
    """Both locos as they are with the values proposed."""


def match(member: Member, model: Member) -> Matched:
    """The values that bring a loco closest to a model loco, in its own units and CVs."""
    return _Matching(member, model).done()


def job_with(layout: Layout, new: Mapping[str, At], *, reread: bool = False) -> Job:
    """The writes of new values; bits of which nothing is saved stay as they are in the decoder.

    With ``reread`` the other bits of a CV are read first and kept even where they are saved.
    """
    present = dict(layout.values)
    places = {
        name: answer.place
        for name, answer in layout.answers.items()
        if answer.place is not None and not answer.place.when
    }
    known = {field.slot: 0 for held in new.values() for field in held.place.fields if reread}
    made = compose_bytes(new, {}, Ground(present, known, {}, places))
    sure = {slot: held.value for slot, held in made.items() if not held.unread}
    return Job(
        made,
        {**present, **sure},
        present,
        present,
        layout.answers,
        beware=(Caution.DOUBTFUL,) if any(at.standing.is_guess for at in new.values()) else (),
        proof=proof_of(layout.resolver, layout.version, layout.options),
        settings=layout.resolver.profile.settings,
    )


def may_write(layout: Layout, name: str) -> bool:
    """Whether the mark of a setting says that matching may touch it."""
    held = layout.resolver.profile.settings.get(name)
    return held is not None and held.risk is not None and held.risk <= HARMLESS


def can_set(layout: Layout, name: str) -> bool:
    """Whether it is known where a setting lives, and a person may set it."""
    cell = cell_of(layout, name)
    known = cell.state in (State.SAVED, State.UNSAVED) and may_write(layout, name)
    return (
        known
        and cell.standing is not Standing.FAULTY
        and cell.place is not None
        and is_settable(cell.place)
    )


class _Matching:
    """One matching under way."""

    def __init__(self, member: Member, model: Member) -> None:
        self.member, self.model = member, model
        self.mine, self.theirs = member.layout, model.layout
        self.proposals: list[Proposal] = []
        self.unmatched: list[Unmatched] = []

    def done(self) -> Matched:
        """The proposals, and what they come to."""
        for name in self.theirs.answers:
            if is_about(ALIKE, name):
                self._like(name)
        self._shape()
        job = job_with(self.mine, {held.setting: held.new for held in self.proposals})
        values = {**self.mine.values, **{slot: held.value for slot, held in job.writes.items()}}
        new = Layout(self.mine.resolver, self.mine.version, values, self.mine.options)
        before = compare((self.model, self.member)).forward[1]
        result = compare((self.model, Member(self.member.name, new)))
        return Matched(
            tuple(self.proposals),
            tuple(self.unmatched),
            {slot.typed: held for slot, held in job.writes.items()},
            job,
            before,
            result.forward[1],
            result,
        )

    def _like(self, name: str) -> None:
        """Propose the other loco's value of one setting."""
        theirs, mine = cell_of(self.theirs, name), cell_of(self.mine, name)
        if theirs.state is not State.SAVED or theirs.place is None or theirs.parts is None:
            return
        if not is_settable(theirs.place):
            return
        if not theirs.is_legal:
            self.unmatched.append(Unmatched(name, theirs.text, Missing.NOT_ALLOWED))
        elif mine.state is State.ABSENT or (mine.place and not is_settable(mine.place)):
            self.unmatched.append(Unmatched(name, theirs.text, Missing.ABSENT))
        elif mine.place is None or mine.state is State.UNDECIDED:
            self.unmatched.append(Unmatched(name, theirs.text, Missing.NOT_KNOWN))
        elif Standing.FAULTY in (mine.standing, theirs.standing):
            self.unmatched.append(Unmatched(name, theirs.text, Missing.NO_EFFECT))
        else:
            made = convert(theirs.place.coding, theirs.parts, mine.place.coding)
            self._propose(name, mine, made, theirs.text)

    def _propose(self, name: str, mine: Cell, made: Conversion, like: str) -> None:
        if isinstance(made, Impossible):
            self.unmatched.append(Unmatched(name, like, made.obstacle))
            return
        if mine.place is None or (mine.state is State.SAVED and mine.parts == made.parts):
            return
        if not may_write(self.mine, name):
            self.unmatched.append(Unmatched(name, like, Missing.HARM))
            return
        new = At(mine.place, made.parts, mine.standing or Standing.DOCUMENTED, self.mine.version)
        match made:
            case Exact():
                self.proposals.append(Proposal(name, mine, new, like))
            case Rounded(_, wanted, got) | Limited(_, wanted, got):
                self.proposals.append(Proposal(name, mine, new, like, wanted, got))

    def _shape(self) -> None:
        """Propose the values of the speed curve: the same form where both have it."""
        model, mine = curve_of(self.theirs), curve_of(self.mine)
        if model is None or model == mine:
            return
        has_table = can_set(self.mine, TABLE) and can_set(self.mine, CHOOSER)
        has_points = all(can_set(self.mine, name) for name in POINTS)
        if model.form is Form.THREE_POINT and has_points and self._same_choice():
            for name in (*POINTS, *TRIMS, CHOICE):
                self._like(name)
            self._set(CHOOSER, 0)
        elif has_table:
            self._table(model.forward)
        elif has_points:
            self._fit(model.forward)

    def _table(self, curve: Curve) -> None:
        """The curve as a speed table, with trims that change nothing."""
        self._set(CHOOSER, 1)
        for name in TRIMS:
            self._set(name, 0)
        cell = cell_of(self.mine, TABLE)
        low = cell.place.coding.low if cell.place and isinstance(cell.place.coding, Table) else 0
        self._set(TABLE, *(max(round(level), low) for level in curve))

    def _fit(self, curve: Curve) -> None:
        """The curve as nearly as three points allow."""
        for name, value in zip(POINTS, fitted(curve), strict=True):
            self._set(name, value)
        for name in (CHOOSER, *TRIMS, CHOICE):
            self._set(name, 0)

    def _set(self, name: str, *parts: int) -> None:
        """Propose raw parts, unless they are set already or not allowed."""
        mine = cell_of(self.mine, name)
        if not can_set(self.mine, name) or mine.place is None:
            return
        if mine.parts is None and not any(parts):
            return
        coding = mine.place.coding
        if isinstance(coding, Number) and coding.decode(parts).fault is not None:
            parts = coding.encode(coding.scaled(min(max(parts[0], coding.low), coding.high)))
        self._propose(name, mine, Exact(parts), "")

    def _same_choice(self) -> bool:
        """Whether the middle point can lie at the same step in both."""
        theirs = _raw(cell_of(self.theirs, CHOICE))
        return theirs in (None, 0, 1) or can_set(self.mine, CHOICE)


def _raw(cell: Cell) -> int | None:
    parts: Parts | None = cell.parts
    return None if not parts else parts[0]
