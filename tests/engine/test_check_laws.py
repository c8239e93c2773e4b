"""Laws of the check, on generated profiles, firmware and saved values, the wildest included."""

from collections import Counter
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

import strategies
from cvlib.engine.account.check import Checked, Saved, check
from cvlib.engine.account.claims import Basis, Layout
from cvlib.engine.account.decide import Decided, Ground, check_unknown
from cvlib.engine.account.ledger import FINE
from cvlib.engine.known.line import generations
from cvlib.engine.known.resolve import Resolver
from cvlib.findings.catalogue import CATALOGUE, Severity, row
from cvlib.model.cv import WHOLE, Page, Slot
from cvlib.model.ranges import is_older
from strategies import Case

CODES = {entry.code for entry in CATALOGUE}


def checked(case: Case, *, changed: bool = False) -> Checked:
    """The check of a case."""
    return check(Resolver(case.profile), case.installed, case.saved, changed=changed)


@given(strategies.cases())
def test_every_saved_bit_occurs_in_exactly_one_account(case: Case) -> None:
    """Each of the eight bits of each saved CV is accounted for once, and nothing else is."""
    bits = Counter(
        (account.slot, bit)
        for account in checked(case).accounts
        for bit in range(8)
        if account.mask >> bit & 1
    )
    assert set(bits) == {(slot, bit) for slot in case.saved.values for bit in range(8)}
    assert set(bits.values()) == {1}


@given(strategies.cases())
def test_an_account_is_fine_or_told_in_one_finding(case: Case) -> None:
    """Each account with a verdict is in exactly one finding of that code; a fine one in none."""
    found = checked(case)
    for account in found.accounts:
        assert account.verdict in CODES | {FINE}
        assert account.value == case.saved.values[account.slot]
        if account.verdict == FINE:
            continue
        told = [
            finding
            for finding in found.findings
            if finding.code == account.verdict
            for bits in finding.bits
            if (bits.cv, bits.page) == (account.slot.cv, str(account.slot.page or ""))
            and bits.mask == account.mask
        ]
        assert len(told) == 1 or (account.verdict == "asleep" and told)


@given(strategies.cases())
def test_severities_are_those_of_the_catalogue(case: Case) -> None:
    """Each finding has its row's severity, or another one that the row allows; graver first."""
    found = checked(case, changed=True).findings
    for finding in found:
        entry = row(finding.code)
        assert finding.severity in (entry.severity, entry.raised, entry.milder)
    order = [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    ranks = [order.index(finding.severity) for finding in found]
    assert ranks == sorted(ranks)


@given(strategies.cases())
def test_a_finding_speaks_of_saved_bits_and_known_settings(case: Case) -> None:
    """Bits of a finding are saved ones with their value; its settings are the profile's."""
    found = checked(case, changed=True)
    for finding in found.findings:
        assert set(finding.settings) <= set(case.profile.settings)
        assert len(set(finding.settings)) == len(finding.settings)
        for bits in finding.bits:
            page = Page(*map(int, bits.page.split("/"))) if bits.page else None
            assert case.saved.values[Slot(bits.cv, page)] == bits.value
            assert 0 < bits.mask <= WHOLE


@given(strategies.cases())
def test_values_saved_for_the_installed_firmware_are_never_reused_or_recoded(case: Case) -> None:
    """Saved for the very firmware is as good as not knowing what it was saved for."""
    here = dict.fromkeys(case.saved.values, case.installed)
    same = checked(replace(case, saved=Saved(case.saved.values, here, {})))
    assert {finding.code for finding in same.findings}.isdisjoint({"reused", "recoded"})
    unknown = checked(replace(case, saved=Saved(case.saved.values, {}, {})))
    assert same.findings == unknown.findings
    assert [a.verdict for a in same.accounts] == [a.verdict for a in unknown.accounts]


@given(strategies.cases())
def test_older_only_and_newer_only_agree_with_what_the_value_was_saved_for(case: Case) -> None:
    """Nothing saved for older firmware is newer-only, and nothing saved for newer is older-only."""
    for account in checked(case).accounts:
        then = case.saved.saved_for.get(account.slot)
        if then is None or then == case.installed or account.was.basis is not Basis.SETTING:
            continue
        wrong = "newer-only" if is_older(then, case.installed) else "older-only"
        assert account.verdict != wrong


@given(strategies.cases())
def test_a_check_is_a_pure_function(case: Case) -> None:
    """The same question gives the same answer, whatever was asked before."""
    resolver = Resolver(case.profile)
    first = check(resolver, case.installed, case.saved)
    generations(resolver)
    assert check(resolver, case.installed, case.saved) == first
    assert checked(case) == first


@given(strategies.cases())
def test_the_order_of_saved_values_does_not_matter(case: Case) -> None:
    """Values listed the other way round are judged alike."""
    turned = dict(reversed(list(case.saved.values.items())))
    other = checked(replace(case, saved=Saved(turned, case.saved.saved_for, {})))
    assert set(other.accounts) == set(checked(case).accounts)
    assert other.findings == checked(case).findings


@given(strategies.cases(), st.data())
def test_a_value_alone_is_owned_as_among_others(case: Case, data: st.DataObject) -> None:
    """Who owns a bit does not depend on the values of CVs that decide nothing about it."""
    whole = Layout(Resolver(case.profile), case.installed, case.saved.values, {})
    slot = data.draw(st.sampled_from(sorted(case.saved.values, key=lambda held: held.order)))
    alone = Layout(whole.resolver, case.installed, {slot: case.saved.values[slot]}, {})
    for bit in range(8):
        mine, theirs = alone.owner(slot, bit), whole.owner(slot, bit)
        if any(claim.place.when for claim in mine.claims) or whole.asleep(slot, bit):
            continue
        if not any(claim.place.when for claim in theirs.claims):
            assert mine.names == theirs.names
            assert mine.basis is theirs.basis


@given(strategies.cases())
def test_changed_adds_its_notes_and_takes_nothing_away(case: Case) -> None:
    """Asked for what differs from the factory default, the rest stays as it was."""
    plain, more = checked(case), checked(case, changed=True)
    assert [one for one in more.findings if one.code != "changed"] == list(plain.findings)
    assert all(one.code != "changed" for one in plain.findings)
    for finding in more.findings:
        if finding.code == "changed":
            (was,), (now,) = finding.was, finding.now
            assert was.setting == now.setting
            assert was.where == now.where


@given(strategies.cases())
def test_unset_settings_have_no_saved_value_and_the_others_do(case: Case) -> None:
    """An unset note without bits is of a setting of which nothing is saved."""
    found = checked(case)
    answers = Resolver(case.profile).at(case.installed)
    for finding in found.findings:
        if finding.code != "unset":
            continue
        place = answers[finding.settings[0]].place
        assert place is not None
        saved = [field.slot in case.saved.values for field in place.fields]
        assert not all(saved)
        assert any(saved) is bool(finding.bits)


@given(strategies.cases())
def test_an_unknown_firmware_is_never_chosen_silently(case: Case) -> None:
    """The saved answer names the firmware, or all that fits gives the same findings, or neither."""
    resolver = Resolver(case.profile)
    outcome = check_unknown(resolver, case.saved)
    if isinstance(outcome, Decided):
        assert outcome.ground is not Ground.STATED
        if outcome.ground is Ground.ALIKE:
            codes = {
                frozenset(
                    (one.code, one.settings)
                    for one in check(resolver, version, case.saved).findings
                    if one.code not in ("unset", "read-only")
                )
                for version in (release.version for release in case.profile.releases)
            }
            assert len(codes) <= 1
        return
    assert len(outcome.possible) > 1
    for stretch, one in outcome.possible:
        assert one.firmware in stretch.firmware
        assert one == check(resolver, one.firmware, case.saved)


@given(strategies.cases())
def test_nothing_saved_is_accounted_for_by_nothing(case: Case) -> None:
    """Without values there are no accounts, and only settings that are unset."""
    found = checked(replace(case, saved=Saved({}, {}, {})))
    assert found.accounts == ()
    assert {finding.code for finding in found.findings} <= {"unset"}
