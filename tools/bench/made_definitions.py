"""Whole definitions of invented decoders, for measuring: files as text, the same for the same seed.

Each decoder has 60 to 200 settings. Two to four handbooks speak for its firmware; from one to the
next, settings come, go, move and are coded anew. In the gaps lie releases that no handbook knows,
sheets about a few settings, tests at the bench and open questions. What can be set stands in
made_settings.toml.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from tools.bench.made_store import made_version

WORDS: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("made_settings.toml").read_text(encoding="utf-8")
)
MOST, FEWEST = 200, 60
"""Settings of one complete profile, those of the standard that it follows counted."""
LEAST_OWN = 40
PER_MAKER = 8
FIRST_CV, LAST_CV, FIRST_PAGED = 112, 255, 257
BLOCK_PAGE = "17/0"

NMRA = ("standard/nmra-s-9.2.2@2012-07", 83, {"state": 4, "speed.kick-start": 1})
RCN = ("standard/rcn-225@2025-07-27", 87, {"function-map.method": 1})
NMRA_ACCESSORY = ("standard/nmra-s-9.2.2-accessory@2012-07", 32, {"bidirectional": 1})
RCN_ACCESSORY = ("standard/rcn-225-accessory@2025-07-27", 36, {"address.mirror": 1})


class Spot(NamedTuple):
    """Where one setting lives in one generation, and which of its codings it has there."""

    cv: int
    step: int
    variant: int


class Document(NamedTuple):
    """A handbook, or a sheet about one group of settings."""

    id: str
    title: str
    firmware: str
    generation: int
    about: str
    issued: date


class Cited(NamedTuple):
    """A test at the bench of one place."""

    bench: str
    verdict: str


@dataclass
class Maker:
    """What the decoders of one invented maker have in common."""

    number: int
    scheme: str
    rows: bool
    """Whether places stand in rows below what is common to them."""
    block: int
    """How many outputs the shared block has; 0 where the maker shares nothing."""

    @property
    def folder(self) -> str:
        """The folder of the maker's files."""
        return f"made-{self.number:02}"


@dataclass
class Member:
    """One setting of a group: its words, and its spot in each generation."""

    id: str
    words: dict[str, Any]
    spots: list[Spot | None] = field(default_factory=list)
    tests: dict[Spot, list[Cited]] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """How many CVs it takes."""
        words = self.words
        return int(words.get("curve") or words.get("text") or 1 + bool(words.get("wide")))

    @property
    def variants(self) -> int:
        """How many codings it may have."""
        if "ranges" in self.words:
            return len(self.words["ranges"])
        return 1 if self.width > 1 else 2


@dataclass
class Group:
    """Settings that lie side by side and move together; recurring ones have a count above 0."""

    name: str
    members: list[Member]
    count: int
    page: str = ""

    @property
    def size(self) -> int:
        """How many settings it comes to."""
        switches = sum(len(member.words.get("switches", ())) for member in self.members)
        return len(self.members) * max(1, self.count) + switches

    @property
    def room(self) -> int:
        """How many CVs it takes while every member is there."""
        return sum(member.width for member in self.members) * max(1, self.count)


@dataclass
class Plan:
    """One decoder type."""

    maker: Maker
    name: str
    kind: str
    product: int
    follows: list[str] = field(default_factory=list)
    without: list[str] = field(default_factory=list)
    generations: list[list[str]] = field(default_factory=list)
    """Releases that each handbook speaks for."""
    gaps: list[list[str]] = field(default_factory=list)
    """Releases after each of them that no handbook knows."""
    groups: list[Group] = field(default_factory=list)
    documents: list[Document] = field(default_factory=list)
    benches: list[tuple[str, str, date]] = field(default_factory=list)
    """Id, release and day of each test at the bench."""
    questions: list[tuple[int, str]] = field(default_factory=list)
    """The gap and the setting that each question is about."""

    @property
    def id(self) -> str:
        """The id of the profile."""
        return f"{self.maker.folder}/{self.name}"

    def gap(self, number: int) -> str:
        """The firmware between one handbook and the next."""
        return f">{self.generations[number][-1]}, <{self.generations[number + 1][0]}"

    def documents_for(self, group: str) -> list[Document]:
        """The documents that speak for a group of settings."""
        return [one for one in self.documents if one.about in ("", group)]


def made_plans(count: int, seed: int = 1) -> Iterator[Plan]:
    """So many decoder types, maker by maker."""
    dice = random.Random(seed)
    makers = [_maker(dice, at + 1) for at in range(-(-count // PER_MAKER))]
    for at in range(count):
        yield _plan(dice, makers[at // PER_MAKER], at % PER_MAKER + 1)


def _maker(dice: random.Random, number: int) -> Maker:
    scheme = dice.choice(["three", "three", "number", "none"])
    return Maker(number, scheme, dice.random() < 0.5, dice.choice([0, 0, 0, 6]))


def _plan(dice: random.Random, maker: Maker, number: int) -> Plan:
    kind = dice.choice(["motor", "motor", "sound", "sound", "function", "accessory"])
    plan = Plan(maker, f"type-{number}", kind, number)
    followed = _follow(dice, plan)
    _count_firmware(dice, plan)
    _choose_groups(dice, plan, followed)
    for generation in range(len(plan.generations)):
        _lay_out(dice, plan, generation)
    for group in plan.groups:
        group.members = [member for member in group.members if any(member.spots)]
    _write_documents(dice, plan)
    for gap in range(len(plan.generations) - 1):
        _look_closer(dice, plan, gap)
    return plan


def _follow(dice: random.Random, plan: Plan) -> int:
    """Choose the standard and say what is left out; how many settings are taken over."""
    standards = (NMRA_ACCESSORY, RCN_ACCESSORY) if plan.kind == "accessory" else (NMRA, RCN)
    standard, followed, leaves = dice.choice(standards)
    plan.follows.append(standard)
    for name, settings in leaves.items():
        if dice.random() < 0.7:
            plan.without.append(name)
            followed -= settings
    return followed


def _count_firmware(dice: random.Random, plan: Plan) -> None:
    generations = dice.choice([2, 2, 3, 3, 4])
    for generation in range(generations):
        known = dice.randint(1, 3)
        unknown = dice.choice([0, 1, 2]) if generation < generations - 1 else 0
        versions = [made_version(plan.maker.scheme, generation, n) for n in range(known + unknown)]
        plan.generations.append(versions[:known])
        plan.gaps.append(versions[known:])


def _choose_groups(dice: random.Random, plan: Plan, followed: int) -> None:
    """Take groups until the number of settings that was thrown is reached; place them on CVs."""
    wanted = dice.randint(FEWEST + 30, MOST) - followed - 4
    if plan.maker.block and plan.kind != "accessory":
        plan.follows.append(f"{plan.maker.folder}/blocks/wires")
        wanted -= plan.maker.block * len(WORDS["wire"]["setting"])
    wanted = max(wanted, LEAST_OWN)
    fitting = [name for name, words in WORDS.items() if plan.kind in words["for"]]
    if len(plan.follows) > 1:
        fitting.remove("wire")
    dice.shuffle(fitting)
    fitting.sort(key=lambda name: "counts" in WORDS[name])
    cv, page = FIRST_CV, 0
    for name in fitting:
        group = _group(dice, name, wanted)
        if group is None:
            continue
        wanted -= group.size
        if cv + group.room + 4 > LAST_CV + 1:
            group.page, page = f"16/{page}", page + 1
        else:
            cv += group.room + 4
        plan.groups.append(group)


def _group(dice: random.Random, name: str, wanted: int) -> Group | None:
    """A group of at most so many settings; nothing where it does not fit."""
    words = WORDS[name]
    recurs = "counts" in words
    members = [
        Member(f"{name}[n].{one}" if recurs else f"{name}.{one}", held)
        for one, held in words["setting"].items()
        if recurs or one in ("mode", "length", "options") or dice.random() < 0.9
    ]
    counts = sorted(words.get("counts", [0]), key=lambda _: dice.random())
    for count in counts:
        group = Group(name, members, count)
        if group.size <= wanted:
            return group
    return None


def _lay_out(dice: random.Random, plan: Plan, generation: int) -> None:
    """Give every setting its spot in one generation."""
    cv = FIRST_CV
    for group in plan.groups:
        base = FIRST_PAGED if group.page else cv
        cv += 0 if group.page else group.room + 4
        shift = 0 if not generation or dice.random() < 0.7 else dice.randint(1, 4)
        there = [member for member in group.members if _is_there(dice, member, generation)]
        step = sum(member.width for member in there)
        at = base + shift
        for member in group.members:
            if member not in there:
                member.spots.append(None)
                continue
            before = member.spots[-1] if member.spots else None
            variant = _variant(dice, member, before)
            member.spots.append(Spot(at, step if group.count else 0, variant))
            at += member.width


def _is_there(dice: random.Random, member: Member, generation: int) -> bool:
    """Whether a setting is there; it may come late or go, but it does not come back."""
    if not generation:
        return dice.random() < 0.9
    if member.spots[-1] is None:
        return all(spot is None for spot in member.spots) and dice.random() < 0.6
    return dice.random() < 0.97 or generation < 2


def _variant(dice: random.Random, member: Member, before: Spot | None) -> int:
    if before is None:
        return 0
    if dice.random() < 0.85:
        return before.variant
    return min(before.variant + 1, member.variants - 1)


def _write_documents(dice: random.Random, plan: Plan) -> None:
    for generation, releases in enumerate(plan.generations):
        issue = generation + 1
        span = f"=={releases[0]}" if len(releases) == 1 else f">={releases[0]}, <={releases[-1]}"
        title = f"Handbook of {plan.name}, issue {issue}"
        issued = date(2011 + generation * 3, dice.randint(1, 12), dice.randint(1, 28))
        plan.documents.append(Document(f"handbook-{issue}", title, span, generation, "", issued))
        unknown = plan.gaps[generation]
        if unknown and dice.random() < 0.4:
            group = dice.choice(plan.groups)
            if all(member.spots[generation] is None for member in group.members):
                continue
            title = f"Sheet for {plan.name}: {WORDS[group.name]['title'].lower()}"
            issued += timedelta(days=200)
            sheet = f"sheet-{issue}"
            span = f"=={unknown[0]}"
            plan.documents.append(Document(sheet, title, span, generation, group.name, issued))


def _look_closer(dice: random.Random, plan: Plan, gap: int) -> None:
    """In the gap after a handbook, try at the bench what moved there, or ask about it."""
    sheets = {one.about for one in plan.documents if one.generation == gap}
    moved = [
        member
        for group in plan.groups
        for member in group.members
        if group.name not in sheets and "switches" not in member.words and not group.count
        if None not in (spots := member.spots[gap : gap + 2]) and spots[0] != spots[1]
    ]
    if not moved:
        return
    if plan.gaps[gap] and dice.random() < 0.7:
        bench = f"bench-{gap + 1}"
        day = date(2014 + gap * 3, dice.randint(1, 12), dice.randint(1, 28))
        plan.benches.append((bench, plan.gaps[gap][-1], day))
        works, fails = dice.choice([(gap, gap + 1), (gap + 1, gap)])
        for member in dice.sample(moved, min(len(moved), dice.randint(1, 5))):
            for generation, verdict in ((works, "works"), (fails, "no-effect")):
                spot = member.spots[generation]
                if spot is not None:
                    member.tests.setdefault(spot, []).append(Cited(bench, verdict))
    else:
        plan.questions.append((gap, dice.choice(moved).id))
