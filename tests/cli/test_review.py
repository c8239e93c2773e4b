"""``cvlib review``: what it prints, in which form, and with which exit code."""

from pathlib import Path

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, program, run
from make import CASES
from review.repositories import commit, git, repository

FOLDERS = sorted(path.parent for path in (CASES / "review").glob("*/expect.toml"))


@pytest.fixture
def here(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A repository with the two states of a case, by default of one that touches a loco."""
    case = CASES / "review" / getattr(request, "param", "loco-touched")
    folder = repository(tmp_path / "rail way")
    commit(folder, case / "before")
    commit(folder, case / "after")
    if (case / "locos").is_dir():
        for path in (case / "locos").iterdir():
            (folder / path.name).write_bytes(path.read_bytes())
    return folder


def text_of(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """The text of a review that goes well."""
    assert run(["review", *words]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("here", [folder.name for folder in FOLDERS], indirect=True)
def test_every_case_prints_in_every_form(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON follows its schema; text and Markdown name every profile that changed."""
    words = ["review", "HEAD~1", "HEAD", "--repository", str(here)]
    for path in here.glob("*.toml"):
        words += ["--loco", str(path)]
    code, data = json_of(capsys, *words)
    assert code == (2 if any(one["side"] == "after" for one in data["broken"]) else 0)
    for form in ("text", "markdown"):
        assert run([*words, "--format", form]) == code
        shown = capsys.readouterr().out
        for profile in data["profiles"]:
            assert profile["id"] in shown
        for one in data["broken"]:
            assert one["id"] in shown


def test_the_text_tells_setting_firmware_and_change(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A row for each firmware with the same change, and what it means for a loco."""
    words = ("HEAD~1", "HEAD", "--repository", str(here), "--loco", str(here / "harrier.toml"))
    text = " ".join(text_of(capsys, *words).split())
    assert "Step: major: an answer changed or is gone." in text
    assert "moved: CV 64 → CV 61" in text
    assert "CV 61 = 1 meant braking.mode: distance, and means braking.distance: 1 cm now" in text
    assert "gone: warning rule" in text
    assert "Nothing is different for 1 decoder" in text


def test_the_comment_has_a_table_of_settings_by_firmware(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column for each stretch of firmware, the oldest first, with its releases."""
    text = text_of(capsys, "HEAD~1", "HEAD", "--repository", str(here), "--format", "markdown")
    lines = text.splitlines()
    head = next(line for line in lines if line.startswith("| setting |"))
    columns = [cell.strip() for cell in head.strip("|").split("|")]
    assert columns == [
        "setting",
        "older than 1.0",
        "1.0 to 1.9 (1.0)",
        "after 1.9 and before 3.0 (2.0)",
        "3.0 to 3.9 (3.0)",
        "newer than 3.9 (4.0)",
    ]
    row = next(line for line in lines if "`braking.distance`" in line)
    cells = [cell.strip() for cell in row.strip("|").split("|")]
    assert cells[1:3] == ["", ""]
    assert cells[4] == "**moved**: CV 64 → CV 61"


def test_the_next_version_follows_the_newest_tag(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What changed since the tag counts, also what changed before the first state."""
    words = ["review", "HEAD", "--repository", str(here)]
    assert json_of(capsys, *words)[1]["version"] is None
    git(here, "tag", "definitions-1.4.2", "HEAD~1")
    _, data = json_of(capsys, *words)
    assert data["step"] == "none"
    assert data["version"] == {"tag": "definitions-1.4.2", "next": "2.0.0"}
    git(here, "tag", "definitions-2.0.0", "HEAD")
    git(here, "tag", "definitions-next")
    _, data = json_of(capsys, *words)
    assert data["version"] == {"tag": "definitions-2.0.0", "next": "2.0.0"}


@pytest.mark.parametrize(
    ("here", "level", "code"),
    [
        ("moved", "major", 1),
        ("moved", "never", 0),
        ("setting-added", "major", 0),
        ("setting-added", "minor", 1),
        ("reworded", "minor", 0),
        ("reworded", "patch", 1),
        ("equal", "patch", 0),
    ],
    indirect=["here"],
)
def test_the_exit_code_follows_the_step_where_asked(here: Path, level: str, code: int) -> None:
    """``--fail-on`` names the smallest step that counts; without it a review never fails."""
    words = ["review", "HEAD~1", "HEAD", "--repository", str(here)]
    assert run([*words, "--fail-on", level]) == code
    assert run(words) == 0


@pytest.mark.parametrize("here", ["broken-now"], indirect=True)
def test_a_profile_that_cannot_be_read_now_is_told_and_gives_2(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its faults go to the error stream, and the others are reviewed all the same."""
    assert run(["review", "HEAD~1", "HEAD", "--repository", str(here)]) == 2
    told = capsys.readouterr()
    assert "ferrow/finch" in told.out
    assert "ferrow/starling" in told.out
    assert told.err.startswith("cvlib: HEAD:definitions/ferrow/finch.toml:")


def test_a_loco_file_that_cannot_be_read_gives_2(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The review is shown, the fault told."""
    (here / "bad.toml").write_text("format = 1\n[loco\n")
    words = [
        "review",
        "HEAD~1",
        "HEAD",
        "--repository",
        str(here),
        "--loco",
        str(here / "bad.toml"),
    ]
    assert run(words) == 2
    told = capsys.readouterr()
    assert "major" in told.out
    assert "bad.toml:2" in told.err


def test_wrong_use_is_one_line_each(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No revision, an unknown one, no repository, an unknown folder."""
    assert fails(capsys, "review")[0] == 2
    for words in (
        ["no-such", "--repository", str(here)],
        ["--repository", str(here), "--", "-x"],
        ["HEAD", "--repository", str(here / "nowhere")],
        ["HEAD", "--repository", str(here), "--definitions", "nowhere"],
        ["HEAD", "--repository", str(here), "--fail-on", "huge"],
    ):
        code, lines = fails(capsys, "review", *words)
        assert code == 2
        assert len(lines) == 1


def test_it_runs_as_a_program_in_a_folder(here: Path) -> None:
    """Without options the folder "definitions" of the working folder's repository is reviewed."""
    done = program("review", "--help")
    assert done.returncode == 0
    assert "BASE" in done.stdout
    done = program("review", "HEAD~1", "--repository", str(here), COLUMNS="60")
    assert done.returncode == 0, done.stderr
    assert all(len(line) <= 60 for line in done.stdout.splitlines())


def test_the_shipped_store_reviews_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """The definitions of this repository at HEAD against HEAD hold no change."""
    if not (ROOT / ".git").exists():
        pytest.skip("this is no checkout")
    code, data = json_of(capsys, "review", "HEAD", "HEAD", "--repository", str(ROOT))
    assert code == 0
    assert data["profiles"] == []
