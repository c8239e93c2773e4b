"""The demo fleet, held against what was worked out by hand in tests/cases/fleet.toml."""

from __future__ import annotations

import json
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cli.run_cvlib import run
from cvlib.api import Stated, check_loco, loco_paths, open_store, read_loco
from cvlib.engine.account.check import Checked
from cvlib.engine.account.decide import Decided, Undecided
from cvlib.engine.bench.outcome import DecoderChecked
from cvlib.findings.catalogue import CATALOGUE
from cvlib.findings.finding import Finding
from cvlib.model.cv import WHOLE
from cvlib.render.words import finding_words

ROOT = Path(__file__).parents[2]
FLEET = ROOT / "definitions" / "fleet"
CASES = tomllib.loads((ROOT / "tests/cases/fleet.toml").read_text(encoding="utf-8"))["decoder"]
COMMANDS = [
    line.split()[1:]
    for page in ("README.md", "lists/README.md")
    for line in (FLEET / page).read_text(encoding="utf-8").splitlines()
    if line.startswith("cvlib ")
]
LISTED_NOTES = (
    *("read-only", "asleep", "rule", "trap"),
    *("recoded", "reused", "older-only", "newer-only", "disputed"),
)

_SPEC = re.compile(r"(\d+)(?:-(\d+))?(?:@(\d+/\d+))?(?: bits ([\d, -]+))?")


def name_of(case: Mapping[str, Any]) -> str:
    """How a decoder of the fleet is called: its file and its role."""
    return " ".join(filter(None, (case["file"], case.get("role", ""))))


@cache
def checks() -> dict[str, DecoderChecked]:
    """The outcome for every decoder of the fleet by name, changed values noted too."""
    store = open_store()
    stated = {
        case["file"]: Stated(case.get("profile", ""), case.get("installed", "")) for case in CASES
    }
    outcomes: dict[str, DecoderChecked] = {}
    for path in loco_paths(FLEET / folder for folder in ("saltmarsh", "open", "lists")):
        file = path.relative_to(FLEET).as_posix()
        found = check_loco(store, read_loco(path), stated.get(file), changed=True)
        for decoder in found.decoders:
            outcomes[name_of({"file": file, "role": decoder.decoder.role})] = decoder
    return outcomes


def every_check() -> Iterator[tuple[str, DecoderChecked, Checked]]:
    """Each decoder with its check, or with one for each firmware that fits."""
    for name, decoder in checks().items():
        if isinstance(decoder.outcome, Decided):
            yield name, decoder, decoder.outcome.checked
        else:
            for _, checked in decoder.outcome.possible:
                yield f"{name} at {checked.firmware}", decoder, checked


def bits_text(mask: int) -> str:
    """The numbers of the bits of a CV, or nothing for all of them."""
    return "" if mask == WHOLE else " bits " + " ".join(str(b) for b in range(8) if mask >> b & 1)


def told(heading: str, masks: Mapping[tuple[str, int], int]) -> list[str]:
    """One line for each CV under a heading, with its bits where it is not the whole CV."""
    return [
        f"{heading}: CV {cv}{f' on page {page}' if page else ''}{bits_text(mask)}"
        for (page, cv), mask in masks.items()
    ]


def expected_lines(table: Mapping[str, Any]) -> str:
    """What a case lists, one line for each CV of each code, rule and advisory."""
    lines: list[str] = []
    for severity in ("error", "warning", "note"):
        for code, listed in table.get(severity, {}).items():
            named = listed if isinstance(listed, dict) else {"": listed}
            for name, specs in named.items():
                masks: dict[tuple[str, int], int] = {}
                for spec in specs:
                    masks |= parsed(spec)
                lines += told(" ".join(filter(None, (severity, code, name))), masks)
    return "\n".join(sorted(lines))


def parsed(spec: str) -> dict[tuple[str, int], int]:
    """The CVs that a case names, each with the mask of its bits."""
    found = _SPEC.fullmatch(spec)
    assert found, f'"{spec}" is not understood'
    first, last, page, bits = found.groups()
    mask = 0
    for part in (bits or "0-7").split(","):
        low, _, high = part.strip().partition("-")
        mask |= sum(1 << bit for bit in range(int(low), int(high or low) + 1))
    return {(page or "", cv): mask for cv in range(int(first), int(last or first) + 1)}


def found_lines(findings: Iterable[Finding]) -> str:
    """What a check found, in the form of `expected_lines`."""
    masks: dict[str, dict[tuple[str, int], int]] = defaultdict(lambda: defaultdict(int))
    for finding in findings:
        if finding.severity.value == "note" and finding.code not in LISTED_NOTES:
            continue
        heading = " ".join(filter(None, (finding.severity.value, finding.code, finding.name)))
        for bits in finding.bits:
            masks[heading][bits.page, bits.cv] |= bits.mask
    lines = [line for heading, held in masks.items() for line in told(heading, held)]
    return "\n".join(sorted(lines))


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_findings_are_those_worked_out_by_hand(case: Mapping[str, Any]) -> None:
    """A check finds in each decoder exactly what the profile and the rules make of its values."""
    outcome = checks()[name_of(case)].outcome
    if "fits" not in case:
        assert isinstance(outcome, Decided)
        assert str(outcome.checked.firmware) == case["firmware"]
        assert outcome.ground.value == case.get("by", "stated")
        assert found_lines(outcome.checked.findings) == expected_lines(case)
        return
    assert isinstance(outcome, Undecided)
    profile = checks()[name_of(case)].profile
    for version in case["fits"]:
        installed = profile.version(version)
        assert sum(installed in stretch.firmware for stretch, _ in outcome.possible) == 1, version
    for at in case["at"]:
        installed = profile.version(at["firmware"])
        (found,) = (one for stretch, one in outcome.possible if installed in stretch.firmware)
        assert found_lines(found.findings) == expected_lines(at), at["firmware"]


def test_only_the_releases_listed_fit() -> None:
    """Where the firmware is not known, no release is held possible but those worked out by hand."""
    for case in CASES:
        if "fits" in case:
            decoder = checks()[name_of(case)]
            assert isinstance(decoder.outcome, Undecided)
            stretches = [stretch for stretch, _ in decoder.outcome.possible]
            known = [release.version for release in decoder.profile.releases]
            fitting = [
                str(version)
                for version in known
                if any(version in stretch.firmware for stretch in stretches)
            ]
            assert fitting == case["fits"]


def test_every_decoder_of_the_fleet_has_a_case() -> None:
    """No decoder of the fleet goes unjudged, and no case speaks of one that is not there."""
    assert sorted(checks()) == sorted(map(name_of, CASES))


def test_every_code_occurs() -> None:
    """The fleet shows every finding that a check can make."""
    found = {finding.code for _, _, checked in every_check() for finding in checked.findings}
    assert found == {row.code for row in CATALOGUE if row.family == "check"}


def test_every_saved_bit_is_accounted_for_once() -> None:
    """The accounts of a check cover all eight bits of each saved CV, and none of them twice."""
    for name, decoder, checked in every_check():
        covered = dict.fromkeys(decoder.decoder.values, 0)
        for account in checked.accounts:
            assert not covered[account.slot] & account.mask, f"{name}: {account.slot} twice"
            covered[account.slot] |= account.mask
        assert {slot: mask for slot, mask in covered.items() if mask != WHOLE} == {}, name


def test_every_account_is_told() -> None:
    """What an account finds wrong with bits is a finding about those bits, of that code."""
    for name, _, checked in every_check():
        for account in checked.accounts:
            if account.verdict != "fine":
                page = str(account.slot.page or "")
                assert any(
                    finding.code == account.verdict
                    and any(
                        (bits.page, bits.cv) == (page, account.slot.cv)
                        and bits.mask & account.mask == account.mask
                        for bits in finding.bits
                    )
                    for finding in checked.findings
                ), f"{name}: {account.slot} {account.verdict}"


def test_no_finding_is_told_twice() -> None:
    """A check says each thing once."""
    for name, _, checked in every_check():
        assert len(checked.findings) == len(set(checked.findings)), name


def test_most_of_the_fleet_is_in_order() -> None:
    """Several locos have neither error nor warning, and most have no more than two errors."""
    errors = dict.fromkeys(checks(), 0)
    clean = set(errors)
    for name, decoder in checks().items():
        checked = decoder.checked
        for finding in checked.findings if checked else ():
            errors[name] += finding.severity.value == "error"
            if finding.severity.value != "note":
                clean.discard(name)
    assert len(clean) >= 2
    assert sum(count <= 2 for count in errors.values()) > len(errors) * 2 / 3


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_the_commands_on_the_pages_of_the_fleet_can_be_typed(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command shown beside the fleet reads all its files; none of them is called unusable."""
    monkeypatch.chdir(ROOT)
    assert run(words) in (0, 1, 3)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_no_decoder_needs_more_than_a_page(
    case: Mapping[str, Any], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without --all a whole loco is told in 40 lines of 80 columns; the target of the project, no
    source.
    """
    monkeypatch.setenv("COLUMNS", "80")
    words = ["check", str(FLEET / case["file"])]
    words += ["--profile", case["profile"]] if "profile" in case else []
    words += ["--firmware", case["installed"]] if "installed" in case else []
    run(words)
    assert len(capsys.readouterr().out.splitlines()) <= 40


def test_the_figures_are_those_that_carry_writes(capsys: pytest.CaptureFixture[str]) -> None:
    """Each "CV n = v" that an error names is written by the sheet of carry for the same firmware,
    or stands in the decoder already.
    """
    path = FLEET / "saltmarsh/05-avocet.toml"
    run(["carry", str(path), "--to", "4.2.60", "--format", "json"])
    steps = json.loads(capsys.readouterr().out)["sheet"]["steps"]
    written = {(step["cv"], step["value"]) for step in steps if step["kind"] == "write"}
    held = {(slot.cv, one.value) for slot, one in read_loco(path).decoders[0].values.items()}
    run(["check", str(path), "--format", "json"])
    findings = json.loads(capsys.readouterr().out)["locos"][0]["decoders"][0]["findings"]
    figures = {
        (int(cv), int(value))
        for finding in findings
        if finding["severity"] == "error"
        for told in finding["carried"]
        for cv, value in re.findall(r"CV (\d+) = (\d+)", told["writes"])
    }
    assert len(figures) > 8
    assert figures <= written | held


def test_every_error_says_what_to_do() -> None:
    """No error of the fleet leaves its owner without an action."""
    for name, _, checked in every_check():
        for finding in checked.findings:
            if finding.severity.value == "error":
                words = finding_words(finding, f"firmware {checked.firmware}")
                assert words.advice, (name, words)
