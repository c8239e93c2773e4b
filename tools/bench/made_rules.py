"""The rules, advisories and questions of an invented decoder type as its file writes them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from tools.bench.made_definitions import Plan
from tools.bench.made_places import Table, quoted, span_of, table


def rule_lines(plan: Plan) -> Iterator[str]:
    """Rules between settings, for the firmware that has all of them."""
    there = {member.id: member for group in plan.groups for member in group.members}
    counts = {group.name: group.count for group in plan.groups}
    rules = [
        (("halt.mode", "halt.length"), _length_rule),
        (("lamps.low-level", "lamps.level"), _dimmed_rule),
        (("drive.push", "drive.patience"), _shares_rule),
        (("setup.options", "drive.push"), _control_rule),
        (("wire[n].effect", "wire[n].on"), lambda source: coil_rule(counts["wire"], source)),
    ]
    for settings, make in rules:
        spots = [there[name].spots for name in settings if name in there]
        both = [at for at, held in enumerate(zip(*spots, strict=True)) if all(held)]
        if len(spots) < len(settings) or not both:
            continue
        books = [one for one in plan.documents if one.generation in both and not one.about]
        rule = make(quoted(books[-1].id))
        if len(both) < len(plan.generations):
            source = list(rule).index("source") + 1
            rows = list(rule.items())
            rule = dict([*rows[:source], ("firmware", span_of(books)), *rows[source:]])
        yield from table("[[rule]]", rule)


def _rule(id: str, text: str, repair: str, source: str) -> Table:
    keys: Table = {"id": quoted(id), "severity": '"warning"', "text": quoted(text)}
    return keys | {"repair": quoted(repair), "source": source}


def _length_rule(source: str) -> Table:
    text = "Stopping after a fixed length needs a length."
    rule = _rule("length-is-set", text, "Set the stopping length to 1 or more.", source)
    rule["if"] = '[{ setting = "halt.mode", is = ["fixed length"] }]'
    return rule | {"requires": '[{ setting = "halt.length", min = 1 }]'}


def _dimmed_rule(source: str) -> Table:
    text = "The lamps are brighter when dimmed than otherwise."
    rule = _rule("dimmed-is-darker", text, "Lower the level when dimmed.", source)
    return rule | {"order": '["lamps.low-level", "lamps.level"]'}


def _shares_rule(source: str) -> Table:
    rule = _rule(
        "shares-swing",
        "Together the shares are so large that the motor swings.",
        "Lower one of them.",
        source,
    )
    return rule | {"sum": '{ of = ["drive.push", "drive.patience"], max = 200 }'}


def _control_rule(source: str) -> Table:
    text = "Load control is on, but its proportional share is 0."
    rule = _rule("control-has-a-share", text, "Set the share to 1 or more.", source)
    rule["if"] = '[{ setting = "setup.load-control", is = [true] }]'
    return rule | {"requires": '[{ setting = "drive.push", min = 1 }]'}


def coil_rule(count: int, source: str) -> Table:
    """The rule that no output of so many feeds a coil for ever."""
    text = "Wire {n} feeds a coil without a time, so the coil stays on and gets hot."
    rule = _rule("coil-has-a-time", text, "Set the time on of wire {n} to 1 or more.", source)
    rule["repeat"] = f"{{ count = {count} }}"
    rule["if"] = '[{ setting = "wire[n].effect", is = ["coil"] }]'
    return rule | {"requires": '[{ setting = "wire[n].on", min = 1 }]'}


def remark_lines(plan: Plan, asked: date) -> Iterator[str]:
    """An advisory for the newest handbook, and the open questions."""
    newest = [one for one in plan.documents if not one.about][-1]
    group = next(
        one for one in plan.groups if one.members[-1].spots[-1] or one.members[0].spots[-1]
    )
    yield from table(
        "[[advisory]]",
        {
            "id": '"slow-to-take-over"',
            "firmware": quoted(newest.firmware),
            "text": '"A new value counts only after the track was without power."',
            "do": '"Switch the track off for ten seconds after writing."',
            "about": f"[{quoted(group.name)}]",
            "sources": f'["{newest.id}:61"]',
        },
    )
    for gap, setting in plan.questions:
        yield from table(
            "[[question]]",
            {
                "id": f'"when-it-moved-{gap + 1}"',
                "date": asked.isoformat(),
                "about": f"[{quoted(setting)}]",
                "text": '"With which firmware did this setting take its later form?"',
                "settle": '"Set one form after the other on a decoder of that time and watch."',
                "firmware": quoted(plan.gap(gap)),
            },
        )
