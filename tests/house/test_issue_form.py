"""A filled form of an issue becomes a correction; whatever was typed in it stays text."""

import importlib.util
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

from house.tree import ROOT

FORM = ROOT / ".github" / "ISSUE_TEMPLATE" / "correction.yml"


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    """The tool as a module."""
    spec = importlib.util.spec_from_file_location("issue_form", ROOT / "tools" / "issue_form.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def body(**answers: str) -> str:
    """The text of an issue as GitHub makes it of a form; what is left out was left empty."""
    labels = re.findall(r"label: (.+)", FORM.read_text(encoding="utf-8"))
    said = {key.replace("_", " ").capitalize(): text for key, text in answers.items()}
    assert set(said) <= set(labels)
    return "\n\n".join(f"### {one}\n\n{said.get(one, '_No response_')}" for one in labels)


BENCH = {
    "what_do_you_know": "bench - I tried a setting on a decoder",
    "profile": "ferrow/lark-8",
    "firmware": "4.2.60",
    "setting": "braking.mode",
    "what_was_seen": "works",
    "date": "2026-03-14",
}


def test_every_heading_of_the_form_is_understood(tool: ModuleType) -> None:
    """The labels of the form are those that the tool asks for, and its choices the forms."""
    labels = set(re.findall(r"label: (.+)", FORM.read_text(encoding="utf-8")))
    asked = {head for keys in tool.KEYS.values() for head in keys}
    assert labels == asked | {"What do you know", "Profile", "Setting"}
    offered = re.findall(r"^ +- (\w+) - ", FORM.read_text(encoding="utf-8"), re.M)
    assert tuple(offered) == tool.FORMS


def test_a_filled_form_becomes_the_words_of_a_command(tool: ModuleType) -> None:
    """Each answer is one word; what was left empty is not said."""
    assert tool.arguments(body(**BENCH)) == [
        *("bench", "ferrow/lark-8", "braking.mode"),
        *("--firmware=4.2.60", "--verdict=works", "--date=2026-03-14"),
    ]


@pytest.mark.parametrize(
    "typed",
    [
        "$(touch owned) `id`; rm -rf . && echo \"x\" 'y' | cat > z",
        "--definitions=/etc --dry-run",
        "line one\nline two\n--pr-text=/etc/passwd",
        "### Profile\n\nferrow/other",
        "${{ secrets.TOKEN }} @everybody",
    ],
)
def test_what_was_typed_stays_text(tool: ModuleType, typed: str) -> None:
    """One word behind its key, on one line; a heading inside an answer changes no other answer."""
    words = tool.arguments(body(**BENCH, how=typed))
    assert words[:3] == ["bench", "ferrow/lark-8", "braking.mode"]
    notes = [one for one in words if one.startswith("--note=")]
    assert notes == [f"--note={' '.join(typed.split())}"] or "###" in typed
    assert len(words) <= 7


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"what_do_you_know": "place - all of it"}, "does not say what you know"),
        ({"profile": "../../etc/passwd"}, "not written as in"),
        ({"profile": "--help"}, "not written as in"),
        ({"setting": "--help"}, "signs that no name has"),
        ({"setting": "a b"}, "signs that no name has"),
    ],
)
def test_a_form_that_cannot_be_taken_over_is_refused(
    tool: ModuleType, change: dict[str, str], told: str
) -> None:
    """With a sentence for the person who filled it in."""
    with pytest.raises(ValueError, match=told):
        tool.arguments(body(**BENCH | change))


def test_the_event_file_changes_the_profile(tmp_path: Path) -> None:
    """Run as the workflow runs it, on definitions of one's own."""
    event = {"issue": {"number": 7, "body": body(**BENCH, how="$(touch owned)")}}
    (tmp_path / "event.json").write_text(json.dumps(event), encoding="utf-8")
    own = tmp_path / "own"
    own.mkdir()
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "issue_form.py"), "event.json", "text.md"],
        env={"CVLIB_DEFINITIONS": str(own), "PATH": "", "PYTHONPATH": str(ROOT)},
        cwd=tmp_path,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    data = tomllib.loads((own / "ferrow" / "lark-8.toml").read_text(encoding="utf-8"))
    assert data["source"][-1]["note"] == "$(touch owned)"
    assert "Way of braking" in (tmp_path / "text.md").read_text(encoding="utf-8")
    assert not (tmp_path / "owned").exists()
