"""Locos side by side as data for programs."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from cvlib.engine.account.cells import Cell
from cvlib.engine.carry.write_sheet import Sheet
from cvlib.engine.compare.compare import Apart, Compared, Row
from cvlib.engine.compare.match import Matched
from cvlib.engine.compare.motion import Drawn
from cvlib.engine.known.told import where_text
from cvlib.model.coding import Number
from cvlib.render.places import raw_data
from cvlib.render.views import sheet
from cvlib.render.views.compare import told_of

Data = dict[str, object]


def compare_data(
    result: Compared, matched: Matched | None = None, plan: Sheet | None = None
) -> Data:
    """The comparison; docs/schema/output-compare.schema.json describes it.

    With a match its proposals and their sheet stand beside it.
    """
    return {
        "locos": [
            {
                "name": member.name,
                "profile": member.layout.resolver.profile.id,
                "firmware": str(member.layout.version),
            }
            for member in result.members
        ],
        "settings": [_row(row) for row in result.rows],
        "times": [
            {
                "speeding_up": _figure(held.speeding_up),
                "slowing_down": _figure(held.slowing_down),
            }
            for held in result.times
        ],
        "curves": [_drawn(held) for held in result.curves],
        "deviations": [
            {"forward": _apart(forward), "reverse": _apart(back)}
            for forward, back in zip(result.forward, result.reverse, strict=True)
        ],
        "match": None if matched is None or plan is None else _matched(matched, plan),
    }


def _row(row: Row) -> Data:
    return {
        "setting": row.setting,
        "title": row.title,
        "differs": row.differs,
        "unit": row.unit,
        "apart": [_figure(amount) for amount in row.apart],
        "values": [_cell(cell) for cell in row.cells],
    }


def _cell(cell: Cell) -> Data:
    place, parts = cell.place, cell.parts
    value = None if place is None or parts is None else place.coding.decode(parts).value
    coding = place.coding if place else None
    return {
        "state": cell.state.value,
        "where": where_text(place) if place else "",
        "raw": None if place is None or parts is None else raw_data(place.coding, parts),
        "value": _figure(value) if isinstance(value, Decimal) else None,
        "unit": coding.unit if isinstance(coding, Number) else "",
        "text": cell.text,
        "legal": cell.is_legal,
        "standing": cell.standing.value if cell.standing else None,
        "cannot": list(cell.cannot),
    }


def _drawn(held: Drawn | None) -> Data | None:
    if held is None:
        return None
    return {
        "form": held.form.value,
        "forward": [_level(level) for level in held.forward],
        "reverse": [_level(level) for level in held.reverse],
    }


def _apart(held: Apart | None) -> Data | None:
    return None if held is None else {"step": held.step, "drive": _level(held.drive)}


def _level(level: Fraction) -> float:
    return round(float(level), 3)


def _matched(matched: Matched, plan: Sheet) -> Data:
    return {
        "proposals": [
            {
                "setting": held.setting,
                "where": where_text(held.new.place),
                "raw": raw_data(held.new.place.coding, held.new.parts),
                "text": held.new.reading.text,
                "like": held.like,
                "wanted": _figure(held.wanted),
                "got": _figure(held.got),
            }
            for held in matched.proposals
        ],
        "unmatched": [
            {"setting": held.setting, "like": held.like, "reason": held.why.value}
            for held in matched.unmatched
        ],
        "before": _apart(matched.before),
        "after": _apart(matched.after),
        "sheet": sheet.data(told_of(matched, plan)),
    }


def _figure(figure: Decimal | None) -> int | float | None:
    if figure is None:
        return None
    return int(figure) if figure == figure.to_integral_value() else float(figure)
