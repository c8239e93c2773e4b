"""The rules of a sheet say what the facts say, and name the same sources."""

from __future__ import annotations

import csv
from pathlib import Path

from cvlib.engine.carry.order_rules import PRACTICE, RULES

FACTS = Path(__file__).parents[1] / "standards" / "data" / "programming-rules.csv"
NOT_OF_ORDER = {"extended-address-range", "address-partitions", "direct-mode-address"}
"""Facts about addresses, not about the order or the way of writing."""
OWN = {"page-restored", "prove-first", "unknown-bits"}


def test_every_fact_about_writing_is_a_rule_with_its_source() -> None:
    """Each row of the table is in the rules, standards by name and trade facts as practice."""
    with FACTS.open(encoding="utf-8", newline="") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    assert set(rows) - NOT_OF_ORDER == set(RULES) - OWN
    for name in set(RULES) - OWN:
        row = rows[name]
        wanted = PRACTICE if row["kind"] == "trade" else row["source"]
        assert RULES[name].source == wanted, name


def test_our_own_rules_claim_no_source() -> None:
    """What no standard says is told as common practice."""
    assert all(RULES[name].source == PRACTICE for name in OWN)
