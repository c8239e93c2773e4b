"""`cvlib check` of values of which nobody noted the firmware: what is offered, and why."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import run
from house.tree import ROOT

Capture = pytest.CaptureFixture[str]
FLEET = ROOT / "definitions" / "fleet" / "saltmarsh"
UNSURE = FLEET / "03-redshank.toml"
LIST = "CV,Value\n7,12\n8,13\n64,21\n2,4\n3,12\n49,70\n"


def offer(capsys: Capture, *words: str) -> dict[str, Any]:
    """The offer for the one decoder of an undecided check."""
    code, data = json_of(capsys, "check", *words)
    assert code == 3
    (decoder,) = data["locos"][0]["decoders"]
    return dict(decoder["offer"])


def without_firmware(folder: Path, name: str, *slots: str) -> str:
    """A loco file of the fleet with its firmware, and some saved values, left out."""
    lines = (FLEET / f"{name}.toml").read_text(encoding="utf-8").splitlines()
    heads = tuple(f"{slot} = " for slot in slots)
    kept = [line for line in lines if not line.startswith(("firmware = ", *heads))]
    path = folder / f"{name}.toml"
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return str(path)


@pytest.mark.parametrize(
    ("name", "versions", "releases"),
    [
        ("01-samphire", ("7", "109", "110"), ["2.0.12", "2.1.57", "2.4.118"]),
        ("08-curlew", ("7", "109", "110"), ["4.2.60", "4.3.9"]),
        ("14-tern", ("7", "109", "110"), ["1.3.15"]),
        ("31-workmens-van", ("7",), ["34"]),
    ],
)
def test_the_generation_that_the_values_were_saved_for_is_offered(
    tmp_path: Path, capsys: Capture, name: str, versions: tuple[str, ...], releases: list[str]
) -> None:
    """Locos of the fleet whose firmware is known, with everything that names it taken out."""
    path = without_firmware(tmp_path, name, *versions)
    found = offer(capsys, path)
    assert found["releases"] == releases
    assert found["known"] == "covered"
    assert found["chance"] > 0.25
    assert found["command"] == f"cvlib check {path} --firmware {releases[-1]}"


def test_the_reasons_are_few_and_tell_it_from_the_nearest_other(capsys: Capture) -> None:
    """Redshank: values that are the factory's there alone speak for 2.0 to 2.4.118."""
    found = offer(capsys, str(UNSURE))
    assert not found["sure"]
    assert found["told_from"] == ">=3.0, <3.4.96"
    assert 1 <= len(found["reasons"]) <= 3
    assert all(reason["bits"] >= 1 and reason["text"] for reason in found["reasons"])


def test_every_output_shows_the_offer_and_the_command(capsys: Capture) -> None:
    """How sure it is, the reasons, what else fits, and what to type."""
    for form in ("text", "markdown"):
        assert run(["check", str(UNSURE), "--format", form]) == 3
        shown = " ".join(capsys.readouterr().out.split())
        assert "most likely saved for" in shown
        assert "tells it from firmware 3.0 to before 3.4.96" in shown
        assert "It could also be firmware 1.6.40" in shown
        assert "--firmware 2.4.118" in shown
        assert "--saved-for 2.4.118" in shown


def test_the_command_takes_the_offer(capsys: Capture) -> None:
    """Typed as it stands there, the check is decided."""
    words = offer(capsys, str(UNSURE))["command"].split()
    assert words[0] == "cvlib"
    _, data = json_of(capsys, *words[1:])
    (decoder,) = data["locos"][0]["decoders"]
    assert (decoder["firmware"], decoder["offer"]) == ("2.4.118", None)


def test_few_values_are_not_called_the_most_likely(capsys: Capture) -> None:
    """One value fits nearly every firmware: the likeliest is named, and that nothing decides it."""
    assert run(["check", "--profile", "ferrow/wren-2", "112=1"]) == 3
    shown = " ".join(capsys.readouterr().out.split())
    assert "The values themselves do not decide it" in shown
    assert "cvlib check 112=1 --profile ferrow/wren-2 --firmware 1.2" in shown


def test_what_the_file_notes_is_not_offered_anew(capsys: Capture) -> None:
    """Where it is known what the values were saved for, only the installed firmware is missing."""
    words = ["--profile", "ferrow/lark-8", "--saved-for", "2.4.118", "141=45"]
    _, data = json_of(capsys, "check", *words)
    assert data["locos"][0]["decoders"][0]["offer"] is None
    run(["check", *words])
    assert "The values were saved for 2.4.118." in " ".join(capsys.readouterr().out.split())


def test_a_list_without_profile_is_told_which_it_most_likely_is(
    tmp_path: Path, capsys: Capture
) -> None:
    """One line with profile, firmware, reasons and the command; the command works as it stands."""
    path = tmp_path / "old-list.csv"
    path.write_text(LIST, encoding="utf-8")
    code, lines = fails(capsys, "check", str(path))
    (line,) = lines
    assert code == 2
    assert "no decoder profile is named" in line
    assert "it is ferrow/wren-2, firmware 1.2 (over 99 %)" in line
    assert "CV 64 = 21" in line
    take = f"cvlib check {path} --profile ferrow/wren-2 --firmware 1.2"
    assert line.endswith(take)
    assert run(take.split()[1:]) in (0, 1)


def test_a_list_that_no_profile_fits_gets_no_offer(tmp_path: Path, capsys: Capture) -> None:
    """A maker that the store does not know."""
    path = tmp_path / "old-list.csv"
    path.write_text("CV,Value\n7,6\n8,14\n110,3\n", encoding="utf-8")
    _, (line,) = fails(capsys, "check", str(path))
    assert "Take it with" not in line
    assert "cvlib identify" in line


def test_a_known_firmware_asks_for_no_offer() -> None:
    """Then nothing that works out an offer is even imported."""
    code = "import sys; from cvlib.cli.app import run; run(['check', sys.argv[1]])\n"
    code += "print([name for name in sys.modules if name.endswith(('.offer', '.offering'))])"
    path = str(FLEET / "01-samphire.toml")
    done = subprocess.run(
        [sys.executable, "-c", code, path], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
