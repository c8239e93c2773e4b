"""Rules between settings; the cases are the tables in cases/rules."""

import pytest

from cvlib.engine.account.claims import Layout
from cvlib.engine.account.rules import broken_rules
from cvlib.model.conditions import Condition, Rule
from cvlib.model.conditions import Test as Asked
from make import Table, profile, read_cases, resolver, values
from make import rule as made_rule

CASES = [pytest.param(held["profile"], case, id=id) for id, held, case in read_cases("rules")]


def broken(table: Table, case: Table, saved: dict[str, int]) -> list[Rule]:
    """The rules that saved values break at firmware 2.0."""
    held = resolver({**table, "rules": [case["rule"]]})
    version = held.profile.version("2.0")
    return list(broken_rules(Layout(held, version, values(saved), case.get("options", {}))))


@pytest.mark.parametrize(("table", "case"), CASES)
def test_rules(table: Table, case: Table) -> None:
    """The rule is broken by exactly the listed values; what is not saved breaks nothing."""
    for saved, expected in case["broken"]:
        assert bool(broken(table, case, saved)) is expected, saved


def test_every_test_and_every_demand_has_a_case() -> None:
    """Each test of a condition and each demand of a rule occurs in the cases."""
    rules = [case["rule"] for _, _, case in read_cases("rules")]
    conditions = [
        condition
        for rule in rules
        for key in ("if", "requires", "conflicts")
        for condition in rule.get(key, ())
    ]
    assert {key for c in conditions for key in c} - {"setting"} == {test.value for test in Asked}
    demands = {"if", "requires", "conflicts", "order", "ignore", "sum", "firmware"}
    assert {key for rule in rules for key in rule} == demands


def test_rules_come_in_the_profiles_order() -> None:
    """Every broken rule is given, in the order of the profile."""
    tables = [
        {"id": name, "conflicts": [{"setting": "s.low", "min": least}]}
        for name, least in (("z", 1), ("a", 9), ("m", 2))
    ]
    table = {
        "settings": {"s.low": {"at": "2"}},
        "sources": {"h1": ">=1.0"},
        "rules": tables,
    }
    held = resolver(table)
    layout = Layout(held, held.profile.version("2.0"), values({"2": 3}), {})
    assert [rule.id for rule in broken_rules(layout)] == ["z", "m"]


def test_a_disputed_setting_breaks_no_rule() -> None:
    """Where nobody knows where a setting lives, no rule judges it."""
    table = {
        "sources": {"h1": "<=1.0", "h2": ">=3.0"},
        "settings": {"s.low": [{"at": "2", "in": "<=1.0"}, {"at": "3", "in": ">=3.0"}]},
        "rules": [{"conflicts": [{"setting": "s.low", "min": 0}]}],
    }
    held = resolver(table)
    layout = Layout(held, held.profile.version("2.0"), values({"2": 3}), {})
    assert list(broken_rules(layout)) == []


def test_a_rule_knows_every_setting_it_looks_at() -> None:
    """Settings of all conditions and demands, once each, the compared ones too."""
    rule = made_rule(
        {
            "if": [{"setting": "a", "is": [1]}],
            "conflicts": [{"setting": "b", "same-as": "c"}, {"setting": "a", "min": 2}],
        }
    )
    assert rule.settings() == ("a", "b", "c")
    assert made_rule({"order": ["a", "b"]}).settings() == ("a", "b")
    assert made_rule({"sum": {"of": ["a", "b"], "max": 3}}).settings() == ("a", "b")
    assert rule.conflicts[0] == Condition("b", Asked.SAME_AS, ("c",))
    assert profile({}).rules == ()
