"""A store of many invented decoders, for measuring: profiles as text, the same for the same seed.

The decoders differ as real ones do. Makers share a manufacturer ID; some answer a product number
on a CV or page of their own and some none; versions lie in CV 7, in digits of it, in three CVs or
nowhere. Settings move, change their coding, come and go between two to four generations, and
between the handbooks lie gaps.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field

SCHEMES = ("three", "digits", "number", "none")
GROUPS = ("drive", "lamp", "braking", "power", "sound", "extra")


@dataclass
class Maker:
    """What the decoders of one invented maker have in common."""

    folder: str
    number: int
    product: str
    """Where a decoder answers which type it is: a CV, a CV with page, or nothing."""
    scheme: str


@dataclass
class Spot:
    """One setting in one generation."""

    cv: int
    low: int
    high: int
    default: int


@dataclass
class Plan:
    """One decoder type: its generations with their releases and settings."""

    maker: Maker
    name: str
    kind: str
    product: int
    generations: list[list[str]] = field(default_factory=list)
    """Releases of each handbook; releases of the gaps stand in ``gaps``."""
    gaps: list[str] = field(default_factory=list)
    settings: dict[str, list[Spot | None]] = field(default_factory=dict)
    """For each setting where it lives in each generation."""


def made_profiles(count: int, seed: int = 1, per_maker: int = 12) -> Iterator[tuple[str, str]]:
    """The ids and texts of so many profiles."""
    dice = random.Random(seed)
    makers = [_maker(dice, at) for at in range(max(1, -(-count // per_maker)))]
    for at in range(count):
        plan = _plan(dice, makers[at // per_maker], at, at % per_maker)
        yield f"{plan.maker.folder}/{plan.name}", text_of(plan)


def _maker(dice: random.Random, at: int) -> Maker:
    number = dice.choice([dice.randint(1, 237), dice.randint(256, 4000)])
    own = f"{dice.randint(257, 320)}@{dice.randint(16, 40)}/{dice.randint(0, 60)}"
    product = dice.choice([str(dice.randint(240, 256)), "261@0/255", own, str(64), ""])
    return Maker(f"maker-{at:03}", number, product, dice.choice(SCHEMES))


def _plan(dice: random.Random, maker: Maker, at: int, number: int) -> Plan:
    kind = dice.choice(["motor", "motor", "function", "sound", "accessory"])
    plan = Plan(maker, f"type-{at:04}", kind, (number * 17 + dice.randint(0, 8)) % 256)
    for generation in range(dice.randint(2, 4)):
        releases = [made_version(maker.scheme, generation, n) for n in range(dice.randint(1, 3))]
        plan.generations.append(releases)
        if generation and dice.random() < 0.5:
            plan.gaps.append(made_version(maker.scheme, generation - 1, 7))
    for held in range(dice.randint(10, 18)):
        _settle(dice, plan, f"{GROUPS[held % len(GROUPS)]}.item-{held:02}", held)
    return plan


def _settle(dice: random.Random, plan: Plan, name: str, number: int) -> None:
    """Give one setting its place in each generation."""
    home = 112 + 8 * (number % 16)
    spot: Spot | None = _spot(dice, home)
    spots: list[Spot | None] = []
    for generation in range(len(plan.generations)):
        if generation and dice.random() < 0.3:
            spot = None if dice.random() < 0.25 else _spot(dice, home + dice.randint(0, 7))
        spots.append(spot)
    plan.settings[name] = spots


def _spot(dice: random.Random, cv: int) -> Spot:
    low = dice.choice([0, 0, 1, 10])
    high = dice.choice([1, 3, 31, 63, 100, 200, 255])
    high = max(high, low + 1)
    return Spot(cv, low, high, dice.randint(low, high))


def made_version(scheme: str, generation: int, number: int) -> str:
    """A version as the maker of a scheme writes it; a later generation gives a later one."""
    match scheme:
        case "three":
            return f"{generation + 1}.{number}.{(generation * 37 + number * 11) % 200 + 1}"
        case "digits":
            return f"{generation + 1}.{number}"
        case "number":
            return str(20 * (generation + 1) + number)
        case _:
            return f"20{10 + generation * 3}-{1 + number:02}-05"


def text_of(plan: Plan) -> str:
    """The profile as it would stand in a file."""
    books = [f'"handbook-{number}:1"' for number in range(len(plan.generations))]
    lines = [
        "format = 2",
        "[decoder]",
        f'id = "{plan.maker.folder}/{plan.name}"',
        f'maker = "{plan.maker.folder}"',
        f'name = "{plan.name}"',
        f'kind = "{plan.kind}"',
        f"sources = [{', '.join(books)}]",
        "[identity]",
        f"manufacturer = {plan.maker.number}",
    ]
    if plan.maker.product:
        cv, _, page = plan.maker.product.partition("@")
        where = f', page = "{page}"' if page else ""
        lines.append(f"answers = [{{ cv = {cv}{where}, value = {plan.product} }}]")
    if plan.kind == "function":
        lines.append("no-answer = [2, 5, 6, 67]")
    lines += _firmware(plan)
    for number, releases in enumerate(plan.generations):
        span = f'">={releases[0]}, <={releases[-1]}"'
        lines += ["[[source]]", f'id = "handbook-{number}"', 'kind = "document"']
        lines += [f'title = "Handbook {number}"', f"firmware = {span}", 'extent = "whole"']
    for name, spots in plan.settings.items():
        lines += _setting(plan, name, spots)
    lines += _common(plan)
    return "\n".join(lines) + "\n"


def _firmware(plan: Plan) -> list[str]:
    scheme = {"three": "dotted", "digits": "dotted", "number": "number", "none": "date"}
    parts = {
        "three": "{ cv = 7 }, { cv = 109 }, { cv = 110 }",
        "digits": '{ cv = 7, digit = "tens" }, { cv = 7, digit = "ones" }',
        "number": "{ cv = 7 }",
        "none": "",
    }
    lines = ["[firmware]", f'scheme = "{scheme[plan.maker.scheme]}"']
    lines.append(f"parts = [{parts[plan.maker.scheme]}]")
    for version in [*(v for held in plan.generations for v in held), *plan.gaps]:
        lines += ["[[firmware.release]]", f'version = "{version}"']
    return lines


def _setting(plan: Plan, name: str, spots: list[Spot | None]) -> list[str]:
    lines = ["[[setting]]", f'id = "{name}"', f'title = "{name}"']
    for number, spot in enumerate(spots):
        if spot is None:
            continue
        releases = plan.generations[number]
        lines += [
            "[[setting.place]]",
            f'firmware = ">={releases[0]}, <={releases[-1]}"',
            f"cv = {spot.cv}",
            'kind = "number"',
            f"range = [{spot.low}, {spot.high}]",
            f"default = {spot.default}",
            f'sources = ["handbook-{number}:1"]',
        ]
    return lines


def _common(plan: Plan) -> list[str]:
    """The settings that every decoder has, and those that only motor decoders have."""
    rows = [("address.short", 1, 1, 127, 3)]
    if plan.kind != "function":
        rows += [
            ("speed.minimum", 2, 0, 255, 4),
            ("speed.maximum", 5, 0, 255, 200),
            ("speed.middle", 6, 0, 255, 100),
        ]
    rows += [("momentum.acceleration", 3, 0, 255, 8), ("momentum.deceleration", 4, 0, 255, 6)]
    lines: list[str] = []
    for name, cv, low, high, default in rows:
        lines += ["[[setting]]", f'id = "{name}"', f'title = "{name}"', "[[setting.place]]"]
        lines += [f"cv = {cv}", 'kind = "number"', f"range = [{low}, {high}]"]
        lines += [f"default = {default}"]
    for name, cv in (("identity.version", 7), ("identity.manufacturer", 8)):
        lines += ["[[setting]]", f'id = "{name}"', f'title = "{name}"', "[[setting.place]]"]
        lines += [f"cv = {cv}", 'kind = "number"', "range = [0, 255]", "read-only = true"]
    return lines
