"""Saved values held against a profile: verdict, findings and words, for every code.

The cases are the tables in cases/check. "common practice, no source": no standard says how to
read values of another firmware.
"""

from collections import defaultdict

import pytest

from cvlib.engine.account.check import Checked, check
from cvlib.engine.account.undated import History
from cvlib.engine.known.resolve import Resolver
from cvlib.errors import InputError
from cvlib.findings.catalogue import CATALOGUE
from cvlib.findings.finding import Bits, Finding, Told
from cvlib.model.cv import WHOLE, bits_text, parse_bits, parse_slot
from cvlib.model.loco import State
from make import Table, profile, read_cases, resolver, saved

CASES = list(read_cases("check"))
every_case = pytest.mark.parametrize(
    ("table", "case"), [pytest.param(held["profile"], case, id=id) for id, held, case in CASES]
)


def checked(table: Table, case: Table) -> Checked:
    """The check of a case."""
    held = resolver(table)
    history = History(
        State(case.get("state", "")),
        {parse_slot(slot): day for slot, day in case.get("dates", {}).items()},
        {parse_slot(s): held.profile.version(v) for s, v in case.get("since", {}).items()},
    )
    noted, options = case.get("saved-for", ""), case.get("options", {})
    values = saved(held.profile, case["saved"], noted, options, history)
    installed = held.profile.version(case["installed"])
    changed, undated = case.get("changed", False), case.get("undated", False)
    return check(held, installed, values, changed=changed, undated=undated)


def bit_verdicts(found: Checked) -> dict[str, dict[int, str]]:
    """The verdict on each bit of each saved CV."""
    verdicts: dict[str, dict[int, str]] = defaultdict(dict)
    for account in found.accounts:
        for bit in range(8):
            if account.mask >> bit & 1:
                assert bit not in verdicts[account.slot.typed], account
                verdicts[account.slot.typed][bit] = account.verdict
    return dict(verdicts)


def listed_verdicts(text: str) -> dict[int, str]:
    """``fine``, or bits and verdicts such as ``0-2 fine, 3,7 reserved-bits``."""
    if " " not in text:
        return dict.fromkeys(range(8), text)
    found: dict[int, str] = {}
    for part in text.split(", "):
        bits, _, verdict = part.partition(" ")
        found |= {bit: verdict for bit in range(8) if parse_bits(bits) >> bit & 1}
    return found


def shown_bits(bits: Bits) -> str:
    """The bits of a finding as the cases write them."""
    slot = f"{bits.cv}@{bits.page}" if bits.page else str(bits.cv)
    return slot if bits.mask == WHOLE else f"{slot}:{bits_text(bits.mask).replace(', ', ',')}"


def shown(finding: Finding) -> str:
    """A finding as the cases write it."""
    parts = [finding.severity.value, finding.code, *finding.settings, "@"]
    return " ".join([*parts, *map(shown_bits, finding.bits)])


def told(one: Told) -> str:
    """What one side says, as the cases write it."""
    value = f" = {one.value}" if one.value else ""
    return f"{one.setting} {one.where}{value}" + (f" ({one.firmware})" if one.firmware else "")


@every_case
def test_every_bit_has_its_verdict(table: Table, case: Table) -> None:
    """Every bit of every saved CV has one verdict, and it is the listed one."""
    expected = {slot: listed_verdicts(text) for slot, text in case["verdicts"].items()}
    assert bit_verdicts(checked(table, case)) == expected


@every_case
def test_findings(table: Table, case: Table) -> None:
    """The findings are the listed ones, gravest first, then by CV."""
    unset = case.get("with-unset", ())
    found = checked(table, case).findings
    kept = [one for one in found if one.code != "unset" or set(one.settings) & set(unset)]
    assert list(map(shown, kept)) == case["findings"]
    assert checked(table, case).worst() == (found[0].severity if found else None)


@every_case
def test_what_findings_say(table: Table, case: Table) -> None:
    """Was, now, where it lives, after an update, what decides, words and standing are as listed."""
    found = checked(table, case).findings
    for wanted in case.get("told", ()):
        of_code = [one for one in found if one.code == wanted["code"]]
        sides = [
            {
                "was": list(map(told, one.was)),
                "now": list(map(told, one.now)),
                "lives-at": [told(t).partition(" (")[0] for t in one.lives_at],
                "after": list(map(told, one.after_update)),
                "decided-by": list(map(told, one.decided_by)),
                "text": one.text,
                "advice": one.advice,
                "name": one.name,
                "standing": one.standing,
            }
            for one in of_code
        ]
        assert {key: value for key, value in wanted.items() if key != "code"} in [
            {key: side[key] for key in wanted if key != "code"} for side in sides
        ]


def test_every_code_occurs_in_the_cases() -> None:
    """Each code of the catalogue is shown by at least one case."""
    seen = {line.split()[1] for _, _, case in CASES for line in case.get("findings", ())}
    assert seen == {row.code for row in CATALOGUE}


def test_every_code_is_silent_in_some_case() -> None:
    """Each code of the catalogue is also missing from a case of the same profile."""
    by_profile: dict[int, list[set[str]]] = defaultdict(list)
    for _, held, case in CASES:
        by_profile[id(held["profile"])].append(
            {line.split()[1] for line in case.get("findings", ())}
        )
    for codes in by_profile.values():
        assert set.intersection(*codes) == set()


def test_one_cv_saved_under_two_numbers_with_two_values_is_refused() -> None:
    """The error names both numbers and values."""
    held = Resolver(profile({"settings": {"a.b": {"at": "10", "also-at": 522}}}))
    values = saved(held.profile, {"10": 7, "522": 8})
    with pytest.raises(InputError) as raised:
        check(held, held.profile.version("1.0"), values)
    assert str(raised.value) == (
        "CV 10 = 7 and CV 522 = 8 are one CV with two values. Leave one of them out."
    )


def test_nothing_saved_is_nothing_found_but_unset() -> None:
    """Without a value there is no account and nothing to warn of."""
    table = next(held["profile"] for id, held, _ in CASES if id.startswith("extras"))
    held = resolver(table)
    found = check(held, held.profile.version("3.5"), saved(held.profile, {}))
    assert found.accounts == ()
    assert {finding.code for finding in found.findings} == {"unset"}
    assert {name for one in found.findings for name in one.settings} == {"must.know"}
