"""What a probe learnt is TOML that a profile takes over, and commands that write it."""

import shlex
import tomllib
from pathlib import Path

import pytest

from cli.run_cvlib import run
from cvlib.engine.bench.expect import AFTER_RESET
from cvlib.engine.bench.layouts import Tried
from cvlib.engine.bench.learnt import Learnt, learnt_from
from cvlib.engine.bench.probe import probe
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import Store, open_store
from cvlib.files.text import typed
from cvlib.model.answer import Standing
from cvlib.model.profile import Verdict
from cvlib.render.observation import amend_command, observation_text, question_command, quoted
from engine.bench_worlds import reads
from house.tree import ROOT


def learnt(id: str, version: str, made: str, *results: Tried) -> Learnt:
    """What some reads after a factory reset, and some tests, have shown."""
    held = Resolver(open_store().profile(id))
    found = probe(held, held.profile.version(version), reads(made), AFTER_RESET, results)
    return learnt_from(held, found, "2026-03-14")


MADE = "47=2 160=none 177=10 56=none"
RESULTS = Tried("stop.time", 0), Tried("lamp[1].level", 1), Tried("stop.creep-distance", 0)
HERON = learnt("ilex-works/heron", "39", MADE, *RESULTS)
READ = learnt("ilex-works/heron", "39", MADE)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of one's own that holds the heron."""
    monkeypatch.setenv("CVLIB_CACHE", str(tmp_path / "cache"))
    made = tmp_path / "store" / "ilex-works"
    made.mkdir(parents=True)
    for name in ("heron.toml", "blocks.toml"):
        original = ROOT / "definitions" / "ilex-works" / name
        (made / name).write_bytes(original.read_bytes())
    return tmp_path / "store"


def test_the_source_is_toml_and_so_is_each_citation() -> None:
    """The table is read as it stands, and what the remarks hold as well."""
    text = observation_text(HERON)
    (source,) = tomllib.loads(text)["source"]
    assert source["id"] == "bench-2026-03"
    assert source["kind"] == "bench"
    assert source["firmware"] == "==39"
    rows = [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# {")]
    assert len(rows) == len(HERON.observations) == len(RESULTS)
    for row, one in zip(rows, HERON.observations, strict=True):
        citation = tomllib.loads(f"sources = [{row}]")["sources"][0]
        assert citation["source"] == source["id"]
        assert citation["verdict"] == one.verdict.value


def test_only_what_was_tried_is_said_to_work() -> None:
    """Reads alone make a question: where it lives is known, and nobody has seen it act."""
    assert READ.observations == ()
    assert amend_command(READ, typed) == ""
    held = tomllib.loads(observation_text(READ))
    assert "source" not in held
    (question,) = held["question"]
    assert set(question["about"]) == {one.setting for one in READ.readouts}
    assert "CV 160 no answer" in question["text"]
    assert "Nobody has seen it act" in question["text"]
    assert {test.setting for test in READ.tests} <= {one.setting for one in READ.readouts}
    seen = {one.setting: one.verdict for one in HERON.observations}
    assert seen["stop.creep-distance"] is Verdict.NO_EFFECT


def test_what_was_read_itself_is_not_said_to_be_inferred() -> None:
    """No setting is in two lists; what moved together was neither read nor tried."""
    named = [one.setting for one in HERON.observations]
    named += [one.setting for one in HERON.readouts]
    assert len(named) == len(set(named))
    assert not set(named) & {*HERON.inferred}


def test_the_command_writes_it_into_the_profile(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The source is the one of the TOML; the settings are no longer disputed at that firmware."""
    words = shlex.split(amend_command(HERON, typed))
    assert run([*words[1:], "--definitions", str(folder)]) == 0, capsys.readouterr()
    held = Resolver(Store(folder, ROOT / "definitions").profile("ilex-works/heron"))
    (source,) = tomllib.loads(observation_text(HERON))["source"]
    written = held.profile.sources[source["id"]]
    assert (written.title, written.note) == (source["title"], source["note"])
    answers = held.at(held.profile.version("39"))
    for one in HERON.observations:
        answer = answers[one.setting]
        assert answer.standing in (Standing.BENCH, Standing.FAULTY), one.setting
        assert answer.place is not None
        assert answer.place.firmware.text() == one.firmware


def test_the_question_goes_into_the_profile(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the TOML says it."""
    words = shlex.split(question_command(READ, typed))
    assert run([*words[1:], "--definitions", str(folder)]) == 0, capsys.readouterr()
    profile = Store(folder, ROOT / "definitions").profile("ilex-works/heron")
    (question,) = tomllib.loads(observation_text(READ))["question"]
    written = next(one for one in profile.questions if one.id == question["id"])
    assert (written.text, written.settle) == (question["text"], question["settle"])


def test_what_was_written_is_used_by_the_next_probe(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The settings that moved together with what was tried are as likely as the session said."""
    words = shlex.split(amend_command(HERON, typed))
    assert run([*words[1:], "--definitions", str(folder)]) == 0, capsys.readouterr()
    held = Resolver(Store(folder, ROOT / "definitions").profile("ilex-works/heron"))
    found = probe(held, held.profile.version("39"))
    for standing, bundle in zip(found.standings, found.disputed.bundles, strict=True):
        if "lamp[1].effect" in bundle.settings:
            assert standing.chances[1] > 0.9
        if "stop.wait" in bundle.settings:
            assert standing.chances[0] > 0.5


@pytest.mark.parametrize("text", ["plain", 'with "quotes"', "back\\slash", "two\nlines", "ä €"])
def test_text_is_quoted_as_toml_has_it(text: str) -> None:
    """It comes back as it was, line breaks as spaces."""
    assert tomllib.loads(f"x = {quoted(text)}")["x"] == text.replace("\n", " ")
