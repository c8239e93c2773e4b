"""README.md tells a newcomer what to type, and what the demo shows."""

import pytest

from house.markdown import text_of
from house.tree import ROOT
from tools.pages import DEMO, transcripts

README = text_of(ROOT / "README.md")


@pytest.mark.parametrize("command", ["demo", "test"])
def test_the_two_commands_stand_in_the_readme(command: str) -> None:
    """A newcomer finds both commands that a fresh clone understands, on Windows too."""
    assert f"python3 tools/dev.py {command}" in README
    assert f"py tools\\dev.py {command}" in README


def test_the_readme_shows_the_demo_in_its_order() -> None:
    """README.md shows each command that the demo runs, with its output."""
    shown = [command for command, _ in transcripts(README)]
    scenes = [scene.command for scene in DEMO]
    assert [command for command in shown if command in scenes] == scenes


def test_the_first_paragraph_is_the_job() -> None:
    """Before anything else one paragraph says what it is for."""
    title, job, after = README.split("\n\n")[:3]
    assert title == "# cvlib"
    assert job.startswith("cvlib tells you ")
    assert after.startswith("## ")


def test_the_cautions_are_linked_before_the_end() -> None:
    """Who reads only the README comes past the cautions."""
    assert "(docs/cautions.md)" in README
    for danger in ("Programming track", "Motors", "Smoke units", "Firmware updates", "Mains"):
        assert f"**{danger}" in README
