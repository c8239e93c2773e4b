"""Invented decoder types as the files that would describe them: profiles and shared blocks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import groupby

from tools.bench.made_definitions import (
    BLOCK_PAGE,
    FIRST_PAGED,
    WORDS,
    Maker,
    Member,
    Plan,
    Spot,
    made_plans,
)
from tools.bench.made_places import (
    Table,
    citations,
    coding,
    indented,
    quoted,
    setting_lines,
    table,
    titles_of,
    where,
)
from tools.bench.made_rules import coil_rule, remark_lines, rule_lines

PROFILE_SCHEMA = "#:schema ../../docs/schema/profile.schema.json"
BLOCKS_SCHEMA = "#:schema ../../docs/schema/blocks.schema.json"
INVENTED = "# Invented for measuring: no such maker or decoder exists."


def made_files(count: int, seed: int = 1, today: date | None = None) -> Iterator[tuple[str, str]]:
    """Names in the store and texts of so many profiles and of the blocks that they share.

    Questions were asked a month before ``today``, so that none of them is old.
    """
    asked = (today or date.today()) - timedelta(days=30)
    for maker, plans in groupby(made_plans(count, seed), lambda plan: plan.maker.number):
        held = list(plans)
        if any(len(plan.follows) > 1 for plan in held):
            yield f"made-{maker:02}/blocks.toml", blocks_text(held[0].maker)
        for plan in held:
            yield f"{plan.id}.toml", profile_text(plan, asked)


def profile_text(plan: Plan, asked: date) -> str:
    """The file of one decoder type."""
    lines = [PROFILE_SCHEMA, INVENTED, "format = 2", ""]
    lines += [*_decoder(plan), *_firmware(plan), *_sources(plan), *_pages(plan)]
    lines += _identity_settings(plan)
    for group in plan.groups:
        lines += [f"# {WORDS[group.name]['title']}", ""]
        for member in group.members:
            lines += setting_lines(plan, group, member)
    lines += [*rule_lines(plan), *remark_lines(plan, asked)]
    return "\n".join(lines).rstrip() + "\n"


def blocks_text(maker: Maker) -> str:
    """The file of the block of outputs that the decoders of a maker share."""
    words = WORDS["wire"]
    lines = [BLOCKS_SCHEMA, INVENTED, "format = 2", ""]
    lines += table(
        "[[block]]", {"id": '"wires"', "title": quoted(words["title"]), "risk": '["coil"]'}
    )
    step = len(words["setting"])
    for at, (name, held) in enumerate(words["setting"].items()):
        member = Member(f"wire[n].{name}", held)
        spot = Spot(FIRST_PAGED + at, step, member.variants - 1)
        place = where(member, spot, BLOCK_PAGE, repeats=0) | coding(member, spot.variant)
        lines += table("[[block.setting]]", titles_of(member.id, held, maker.block, step))
        lines += indented(table("[[block.setting.place]]", place))
    rule = coil_rule(maker.block, '"common sense of the two settings"')
    return "\n".join([*lines, *table("[[block.rule]]", rule)]).rstrip() + "\n"


def _decoder(plan: Plan) -> list[str]:
    books = ", ".join(quoted(f"{one.id}:1") for one in plan.documents if not one.about)
    keys: Table = {
        "id": quoted(plan.id),
        "maker": quoted(f"Made {plan.maker.number}"),
        "name": quoted(f"Type {plan.product}"),
        "kind": quoted(plan.kind),
        "follows": [f"{{ from = {quoted(one)}, sources = [{books}] }}" for one in plan.follows],
    }
    if plan.without:
        keys["without"] = list(map(quoted, plan.without))
    keys["sources"] = f"[{books}]"
    keys["risk"] = '["motor"]'
    answers = [
        f'{{ cv = 261, page = "0/255", value = {100 + plan.maker.number} }}',
        f'{{ cv = 262, page = "0/255", value = {plan.product} }}',
    ]
    identity: Table = {"manufacturer": "13", "answers": answers}
    return [*table("[decoder]", keys), *table("[identity]", identity)]


def _firmware(plan: Plan) -> list[str]:
    scheme, parts = {
        "three": ("dotted", "{ cv = 7 }, { cv = 109 }, { cv = 110 }"),
        "number": ("number", "{ cv = 7 }"),
        "none": ("date", ""),
    }[plan.maker.scheme]
    lines = table("[firmware]", {"scheme": quoted(scheme), "parts": f"[{parts}]"})
    for generation, held in enumerate(zip(plan.generations, plan.gaps, strict=True)):
        for at, version in enumerate((*held[0], *held[1])):
            day = date(2010 + generation * 3, 1 + at, 5)
            keys: Table = {"version": quoted(version), "date": day.isoformat()}
            lines += table("[[firmware.release]]", keys)
    return lines


def _sources(plan: Plan) -> list[str]:
    lines = []
    for document in plan.documents:
        keys: Table = {
            "id": quoted(document.id),
            "kind": '"document"',
            "title": quoted(document.title),
            "date": document.issued.isoformat(),
            "firmware": quoted(document.firmware),
            "extent": '"whole"',
        }
        if document.about:
            keys["about"] = f"[{quoted(document.about)}]"
        lines += table("[[source]]", keys)
    for bench, release, day in plan.benches:
        keys = {
            "id": quoted(bench),
            "kind": '"bench"',
            "title": f'"One decoder with {release} on the test oval"',
            "date": day.isoformat(),
            "firmware": quoted(f"=={release}"),
            "note": '"Three runs for each value."',
        }
        lines += table("[[source]]", keys)
    return lines


def _pages(plan: Plan) -> list[str]:
    used = [("0/255", "Identification")]
    used += [(group.page, WORDS[group.name]["title"]) for group in plan.groups if group.page]
    if len(plan.follows) > 1:
        used.append((BLOCK_PAGE, WORDS["wire"]["title"]))
    lines = []
    for page, title in used:
        keys: Table = {"pages": quoted(page), "use": '"defined"', "title": quoted(title)}
        lines += table("[[page]]", keys)
    return lines


def _identity_settings(plan: Plan) -> list[str]:
    """The CVs that say which decoder and firmware it is."""
    rows = [
        ("identity.made", "Number of the maker", "The same for all of one maker.", 261, True),
        ("identity.kind", "Number of the type", "Another for each type.", 262, True),
    ]
    if plan.maker.scheme == "three":
        rows += [
            ("identity.middle", "Firmware, middle figure", "Read after CV 7.", 109, False),
            ("identity.last", "Firmware, last figure", "Read after CV 109.", 110, False),
        ]
    cited = citations(plan, plan.documents_for("identity"), [])
    lines = []
    for id, title, help, cv, paged in rows:
        lines += table("[[setting]]", titles_of(id, {"title": title, "help": help}))
        place: Table = {"cv": str(cv)}
        if paged:
            place["page"] = '"0/255"'
        place |= {"kind": '"number"', "read-only": "true", "sources": cited}
        lines += indented(table("[[setting.place]]", place))
    return lines
