"""A newcomer with a handbook and a decoder, by the pages alone: docs/amend.md and docs/new.md.

The definitions are those of the project, and everything is written into a folder of one's own.
"""

from pathlib import Path

import pytest

from cli.run_cvlib import ROOT, run
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.answer import Answer, Standing

Capture = pytest.CaptureFixture[str]

LARK = "ferrow/lark-8"
STOP = "braking.stopping-distance"
LINNET = ROOT / "tests" / "cases" / "new" / "linnet.csv"


def answer(firmware: str) -> Answer:
    """Where the stopping distance is by the definitions as they are now."""
    profile = open_store().profile(LARK)
    return Resolver(profile).at(profile.version(firmware))[STOP]


def cvs(found: Answer) -> list[int]:
    """The CVs of the only place of an answer."""
    return [field.slot.cv for field in found.places()[0].fields]


class Newcomer:
    """Somebody who types one command after the other and reads what comes."""

    def __init__(self, capsys: Capture) -> None:
        self._capsys = capsys

    def types(self, *words: str, code: int = 0) -> str:
        """The output of a command that ends with an exit code."""
        ended = run(list(words))
        told = self._capsys.readouterr()
        assert ended == code, told.err
        return told.out


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of definitions of one's own that every command uses."""
    folder = tmp_path / "my-definitions"
    folder.mkdir()
    monkeypatch.setenv("CVLIB_DEFINITIONS", str(folder))
    return folder


def test_a_place_is_corrected_on_the_evidence_of_a_bench_test(own: Path, capsys: Capture) -> None:
    """Look it up, write the test down, correct the place, add a release, propose both."""
    shipped = (ROOT / "definitions" / f"{LARK}.toml").read_bytes()
    newcomer, text = Newcomer(capsys), own.parent / "change.md"
    assert answer("3.0.8").standing is Standing.DISPUTED
    assert "disputed" in newcomer.types("settings", LARK, "--firmware", "3.0.8", "--cv", "144")

    told = newcomer.types(
        *("amend", LARK, "bench", f"{STOP}@144=no-effect", f"{STOP}@141=no-effect"),
        *("--firmware", "3.0.8", "--date", "2026-09-12", "--note", "three stops from one speed"),
    )
    assert "bench-2026-09" in told
    newcomer.types(
        *("amend", LARK, "place", STOP, "--at", "4.3.9", "--new", "--firmware", "3.0.8"),
        *("--cv", "205", "--source", "bench-2026-09=works", "--pr-text", str(text)),
    )
    found = answer("3.0.8")
    assert (found.standing, cvs(found)) == (Standing.BENCH, [205])
    assert answer("4.1.31").standing is Standing.DOCUMENTED
    assert cvs(answer("4.1.31")) == [144]

    newcomer.types(
        "amend", LARK, "release", "5.1.0", "--date", "2026-09-14", "--pr-text", str(text)
    )
    assert "newest 5.1.0" in newcomer.types("profiles", "lark-8")
    proposal = text.read_text(encoding="utf-8")
    assert proposal.startswith("# Ferrow Lark 8: Stopping distance, another place\n")
    row = "| `bench-2026-09` | bench | 3.0.8 | 2026-09-12 | three stops from one speed |"
    assert row in proposal
    assert f"| Stopping distance `{STOP}` | 3.0.8 |" in proposal
    assert "# Ferrow Lark 8: firmware 5.1.0" in proposal
    assert (ROOT / "definitions" / f"{LARK}.toml").read_bytes() == shipped
    assert "Every file is tidy" in newcomer.types("tidy", "--check")


def test_a_profile_of_twenty_settings_is_made_from_a_table(own: Path, capsys: Capture) -> None:
    """It is used at once: its settings are listed, a value is checked, a test is added."""
    newcomer = Newcomer(capsys)
    told = newcomer.types(
        *("new", "ferrow/linnet", str(LINNET), "--maker", "Ferrow", "--name", "Linnet"),
        *("--kind", "motor", "--firmware", "1.0 to 1.4", "--title", "Linnet handbook, issue 1"),
        *("--manufacturer", "13"),
    )
    assert "20 settings of its own" in told
    told = newcomer.types("settings", "ferrow/linnet", "--firmware", "1.2", "--group", "braking")
    assert "0 to 510 cm" in told
    told = newcomer.types(
        "check", "--profile", "ferrow/linnet", "--firmware", "1.4", "53=60", code=1
    )
    assert "out-of-range" in told
    told = newcomer.types(
        *("amend", "ferrow/linnet", "bench", "braking.mode=works", "--firmware", "1.5"),
        *("--date", "2026-09-12"),
    )
    assert "Firmware 1.5 is added to the known releases." in told
    assert "Every file is tidy" in newcomer.types("tidy", "--check")
    told = newcomer.types("lint", code=1)
    # The table says nothing of bits 2-6 of CV 51, of the page it stands on, nor of harm; and the
    # open firmwares answer 13 as well.
    found = {line.split()[2] for line in told.splitlines() if "linnet" in line}
    assert found == {"uncovered-bits", "page-missing", "unmarked-risk", "shared-identity"}
