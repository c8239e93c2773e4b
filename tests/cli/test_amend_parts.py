"""`cvlib amend`: any part corrected or taken out, rules, pages, reasons, blocks; what is read."""

import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from cli.test_amend import LARK, PLOVER, Capture, amended, changes, data_of, own, refused
from cvlib.files.amend.amending import amend
from cvlib.files.amend.change import Typed, Wish
from cvlib.files.store import Store, open_store

__all__ = ["own"]

BLOCKS = """format = 2

[[block]]
id = "lamps"
title = "Lamps"
risk = []

[[block.setting]]
id = "lamp.level"
title = "Lamp level"

  [[block.setting.place]]
  cv = 170
  kind = "number"
  range = [0, 100]
  sources = ["handbook-1:40"]
"""


def table(own: Path, kind: str, key: str, name: str) -> dict[str, Any]:
    """The table of a part in the file."""
    data = data_of(own)
    held = data["firmware"]["release"] if kind == "release" else data.get(kind, [])
    found: list[dict[str, Any]] = [one for one in held if one[key] == name]
    return found[0] if found else {}


@pytest.mark.parametrize(
    ("part", "said", "key", "value"),
    [
        ("setting motor.boost", ("--title", "Kick start"), "title", "Kick start"),
        ("setting motor.boost", ("--help-text", "A push."), "help", "A push."),
        ("setting motor.boost", ("--set", "risk=motor, motion"), "risk", ["motor", "motion"]),
        ("source handbook-2", ("--set", "date=20.05.2022"), "date", date(2022, 5, 20)),
        ("source handbook-2", ("--set", "where=shelf 3"), "where", "shelf 3"),
        ("release 3.1", ("--set", "label=spring; 3.1a"), "label", ["spring", "3.1a"]),
        ("rule crawl-below-top", ("--set", "severity=warning"), "severity", "warning"),
        ("advisory chime-stuck", ("--set", "do=Leave it."), "do", "Leave it."),
        ("question distance-between", ("--set", "text=Which CV?"), "text", "Which CV?"),
    ],
)
def test_a_key_of_any_part_is_corrected(
    own: Path, capsys: Capture, part: str, said: tuple[str, str], key: str, value: object
) -> None:
    """The one key has its right value, and what it was is told."""
    data = amended(capsys, own, "correct", PLOVER, *part.split(), *said)
    kind, name = part.split()
    assert table(own, kind, "version" if kind == "release" else "id", name)[key] == value
    assert any(f"{part}: {key} " in one for one in data["did"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("correct", PLOVER, "sorce", "handbook-2", "--set", "a=1"), 'Did you mean "source"?'),
        (("correct", PLOVER, "source", "handbok-2", "--set", "date=2022"), "handbook-2"),
        (("correct", PLOVER, "source", "handbook-2", "--set", "dat=2022"), 'mean "date"'),
        (("correct", PLOVER, "source", "handbook-2", "--set", "id=x"), "stays what it is"),
        (("correct", PLOVER, "setting", "motor.boost", "--set", "cv=9"), "use the form place"),
        (("correct", PLOVER, "source", "handbook-2"), "nothing is given"),
        (("delete", PLOVER, "source", "handbook-3x"), 'Did you mean "handbook-3"?'),
        (("delete", PLOVER, "source", "handbook-2"), "nothing else speaks for"),
        (("delete", PLOVER, "setting", "lights.mode"), 'no setting "lights.mode"'),
        (("rule", PLOVER, "r", "--text", "T.", "--repair", "R."), "exactly one of requires"),
        (("page", PLOVER, "16-2", "--title", "T"), "pages"),
        (("follow", PLOVER, "standard/rcn-225"), "standard/rcn-225"),
        (("place", PLOVER, "speed.top", "--uncite", "bench-1"), "does not call on"),
    ],
)
def test_what_cannot_be_is_refused(
    own: Path, capsys: Capture, words: tuple[str, ...], told: str
) -> None:
    """With one line each, and nothing is written."""
    assert told in " ".join(refused(capsys, own, *words))


@pytest.mark.parametrize(
    ("part", "left"),
    [
        ("question distance-between", "question"),
        ("advisory chime-stuck", "advisory"),
        ("rule keys-not-in-use", "rule"),
        ("source bench-1", "source"),
        ("setting sound.steam", "setting"),
    ],
)
def test_a_part_is_taken_out(own: Path, capsys: Capture, part: str, left: str) -> None:
    """It goes with what calls on it, and all others stay."""
    kind, name = part.split()
    before = len(data_of(own)[left])
    amended(capsys, own, "delete", PLOVER, kind, name)
    after = data_of(own)
    assert len(after.get(left, [])) == before - 1
    assert f'"{name}' not in str(after.get("setting")).replace("'", '"')


def test_a_place_alone_is_taken_out(own: Path, capsys: Capture) -> None:
    """The other place of the setting stays."""
    data = amended(capsys, own, "delete", PLOVER, "setting", "braking.wait", "--number", "2")
    (place,) = table(own, "setting", "id", "braking.wait")["place"]
    assert place["sources"] == ["handbook-1:25"]
    assert set(changes(data)) == {"braking.wait"}


def test_a_verdict_is_corrected_and_its_note_stays(own: Path, capsys: Capture) -> None:
    """A test says one thing of a place: the new word takes the place of the old."""
    said = ("place", PLOVER, "sound.chime", "--source", "bench-1=unreliable")
    data = amended(capsys, own, *said)
    cited = table(own, "setting", "id", "sound.chime")["place"][0]["sources"][-1]
    assert cited == {"source": "bench-1", "verdict": "unreliable", "note": "silent"}
    assert "bench-1 said no-effect of it, and now unreliable." in data["did"]
    amended(capsys, own, "place", PLOVER, "sound.chime", "--uncite", "bench-1")
    assert len(table(own, "setting", "id", "sound.chime")["place"][0]["sources"]) == 2


def test_a_rule_a_page_and_a_reason_are_added(own: Path, capsys: Capture) -> None:
    """Conditions are typed as they are read."""
    words = ("--if", "lights.mode=blinking", "--requires", "lights.period>=1; speed.top!=1, 2")
    texts = ("--text", "It does not blink.", "--repair", "Raise it.", "--source", "handbook-2")
    amended(capsys, own, "rule", PLOVER, "blinks", *words, *texts)
    rule = table(own, "rule", "id", "blinks")
    assert rule["if"] == [{"setting": "lights.mode", "is": ["blinking"]}]
    assert rule["requires"] == [
        {"setting": "lights.period", "min": 1},
        {"setting": "speed.top", "not": [1, 2]},
    ]
    most = ("--sum", "speed.top + speed.crawl <= 150", *texts)
    amended(capsys, own, "rule", PLOVER, "both", *most)
    assert table(own, "rule", "id", "both")["sum"] == {
        "of": ["speed.top", "speed.crawl"],
        "max": 150,
    }
    amended(capsys, own, "page", PLOVER, "16/2", "--title", "Lamps")
    assert data_of(own)["page"] == [{"pages": "16/2", "use": "defined", "title": "Lamps"}]
    because = ("--reason", "It is so.")
    amended(capsys, own, "accept", PLOVER, "page-missing", "--about", "handbook-1", *because)
    amended(capsys, own, "accept", PLOVER, "page-missing", "--about", "handbook-2", *because)
    (held,) = data_of(own)["accepted"]
    assert held["about"] == ["handbook-1", "handbook-2"]


def test_settings_are_taken_over_from_a_block_and_corrected_there(
    own: Path, capsys: Capture
) -> None:
    """A correction in the block counts for all who follow it, and says so."""
    (own / "ferrow" / "blocks.toml").write_text(BLOCKS, encoding="utf-8")
    amended(capsys, own, "follow", PLOVER, "ferrow/blocks/lamps")
    assert data_of(own)["decoder"]["follows"] == ["ferrow/blocks/lamps"]
    other = (own / f"{PLOVER}.toml").read_text().replace(PLOVER, "ferrow/dotterel")
    other = other.replace(
        "manufacturer = 13", "manufacturer = 13\nanswers = [{ cv = 250, value = 9 }]"
    )
    (own / "ferrow" / "dotterel.toml").write_text(other, encoding="utf-8")
    data = amended(capsys, own, "place", PLOVER, "lamp.level", "--range", "0-90", "--in-block")
    held = tomllib.loads((own / "ferrow" / "blocks.toml").read_text(encoding="utf-8"))
    assert held["block"][0]["setting"][0]["place"][0]["range"] == [0, 90]
    assert any("ferrow/dotterel (1 answered otherwise)" in one for one in data["did"])
    assert set(changes(data)) == {"lamp.level"}
    amended(capsys, own, "correct", PLOVER, "block", "lamps", "--title", "All lamps")
    # Without the word it is a setting of this profile alone from then on.
    amended(capsys, own, "delete", PLOVER, "setting", "lamp.level")
    assert data_of(own)["decoder"]["without"] == ["lamp.level"]


def test_only_the_profiles_that_count_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """The profile and the standards behind it; all others stay on the disk."""
    read: list[str] = []
    load = Store.profile

    def noted(self: Store, id: str) -> Any:
        read.append(id)
        return load(self, id)

    monkeypatch.setattr(Store, "profile", noted)
    store = open_store()
    amend(
        store,
        Wish("correct", LARK, ("setting", "braking.mode"), {"title": "X"}),
        None,
        date.today(),
    )
    assert {id for id in read if not id.startswith("standard/")} == {LARK}


def test_notes_about_other_settings_are_counted(own: Path) -> None:
    """A title alone leaves nothing to say of any other setting."""
    given: dict[str, Typed] = {"title": "Way of braking"}
    wish = Wish("correct", LARK, ("setting", "braking.mode"), given)
    made = amend(open_store(), wish, None, date(2026, 9, 12))
    assert made.result.notes == ()


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("accept", LARK, "nonsense", "--about", "lights", "--reason", "x"), 'no code "nonsense"'),
        (("accept", LARK, "title-twice", "--about", "nobody", "--reason", "x"), '"nobody"'),
        (("follow", LARK, "standard/nmra-s-9.2.2@2012-07"), "followed already"),
        (
            (
                *("rule", LARK, "soft", "--text", "T.", "--repair", "R."),
                *("--requires", "momentum.deceleration>=1", "--source", "handbook-9"),
            ),
            'no source "handbook-9"',
        ),
    ],
)
def test_what_names_nothing_is_refused(
    own: Path, capsys: Capture, words: tuple[str, ...], text: str
) -> None:
    """In one line, and nothing is written."""
    lines = refused(capsys, own, *words)
    assert len(lines) == 1
    assert text in lines[0]
