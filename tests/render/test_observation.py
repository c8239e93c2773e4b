"""What a probe learnt is TOML that a profile takes over, and a command that writes it."""

import shlex
import tomllib
from pathlib import Path

import pytest

from cli.run_cvlib import run
from cvlib.engine.expect import AFTER_RESET
from cvlib.engine.learnt import Learnt, learnt_from
from cvlib.engine.probe import probe
from cvlib.engine.resolve import Resolver
from cvlib.files.store import Store, open_store
from cvlib.model.answer import Standing
from cvlib.render.observation import amend_command, observation_text, quoted
from engine.bench_worlds import reads
from house.tree import ROOT


def learnt(id: str, version: str, made: str) -> Learnt:
    """What some reads after a factory reset have shown."""
    held = Resolver(open_store().profile(id))
    found = probe(held, held.profile.version(version), reads(made), AFTER_RESET)
    return learnt_from(held, found, "2026-03-14")


HERON = learnt("ilex-works/heron", "39", "47=2 160=none 177=10 56=none")


def test_the_source_is_toml_and_so_is_each_citation() -> None:
    """The table is read as it stands, and what the remarks hold as well."""
    text = observation_text(HERON)
    (source,) = tomllib.loads(text)["source"]
    assert source["kind"] == "bench"
    assert source["firmware"] == "==39"
    rows = [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# {")]
    assert len(rows) == len(HERON.observations) > 0
    for row, one in zip(rows, HERON.observations, strict=True):
        citation = tomllib.loads(f"sources = [{row}]")["sources"][0]
        assert citation["source"] == source["id"]
        assert citation["verdict"] == one.verdict.value


def test_the_command_writes_it_into_the_profile(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Afterwards the settings observed are no longer disputed at that firmware."""
    monkeypatch.setenv("CVLIB_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "store" / "ilex-works"
    folder.mkdir(parents=True)
    for name in ("heron.toml", "blocks.toml"):
        original = ROOT / "definitions" / "ilex-works" / name
        (folder / name).write_bytes(original.read_bytes())
    words = shlex.split(amend_command(HERON))
    assert run([*words[1:], "--definitions", str(tmp_path / "store")]) == 0, capsys.readouterr()
    held = Resolver(Store(tmp_path / "store", ROOT / "definitions").profile("ilex-works/heron"))
    answers = held.at(held.profile.version("39"))
    for one in HERON.observations:
        if not one.origin and one.is_clear:
            assert answers[one.setting].standing in (Standing.BENCH, Standing.FAULTY), one.setting


@pytest.mark.parametrize("text", ["plain", 'with "quotes"', "back\\slash", "two\nlines", "ä €"])
def test_text_is_quoted_as_toml_has_it(text: str) -> None:
    """It comes back as it was, line breaks as spaces."""
    assert tomllib.loads(f"x = {quoted(text)}")["x"] == text.replace("\n", " ")
