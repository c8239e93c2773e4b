"""What a setting may harm is said by the nearest mark: setting, group, file or block, standard."""

from pathlib import Path

import pytest

from cvlib.engine.lint.risks import unmarked
from cvlib.files.compiled import Compiled
from cvlib.files.shapes.settings import SettingShape
from cvlib.files.store import Store, open_store
from cvlib.files.written import written_setting
from cvlib.model.profile import Risk, risk_text

HEAD = """format = 2

[decoder]
id = "{id}"
maker = "Ferrow"
name = "Sample"
kind = "{kind}"
{more}

[firmware]
scheme = "{scheme}"
{rest}
"""
STANDARD = HEAD.format(
    id="standard/trial",
    kind="standard",
    scheme="date",
    more='risk = ["motor"]',
    rest="""
[[firmware.release]]
version = "2020-01"

[risk]
stop = ["stopping"]

[[setting]]
id = "speed.low"
title = "Low"
place = [{ cv = 2, kind = "number" }]

[[setting]]
id = "stop.mode"
title = "Mode"
place = [{ cv = 27, kind = "number" }]

[[setting]]
id = "out[n].map"
title = "Map {n}"
repeat = { count = 2, step = 1 }
place = [{ cv = 33, kind = "number" }]
""",
)
BLOCKS = """format = 2

[[block]]
id = "early"
title = "Early"
risk = ["heat"]

[[block.setting]]
id = "smoke.level"
title = "Level"
place = [{ cv = 60, kind = "number" }]

[[block.setting]]
id = "smoke.lamp"
title = "Lamp"
risk = []
place = [{ cv = 61, kind = "number" }]

[[block]]
id = "late"
title = "Late"

[[block.setting]]
id = "smoke.level"
title = "Level"
risk = ["coil"]
place = [{ cv = 70, kind = "number" }]

[[block.setting]]
id = "smoke.lamp"
title = "Lamp"
place = [{ cv = 71, kind = "number" }]
"""
FOLLOWS = """follows = [
  "standard/trial@2020-01",
  { from = "ferrow/blocks/early", firmware = "<2.0" },
  { from = "ferrow/blocks/late", firmware = ">=2.0" },
]"""
OWN = """
[risk]
a = ["coil"]
"a.b" = ["heat"]
"a.c" = []

[[setting]]
id = "a.one"
title = "One"
place = [{ cv = 80, kind = "number" }]

[[setting]]
id = "a.b.two"
title = "Two"
place = [{ cv = 81, kind = "number" }]

[[setting]]
id = "a.c"
title = "C"
place = [{ cv = 82, kind = "number" }]

[[setting]]
id = "a.d"
title = "D"
risk = ["lock"]
place = [{ cv = 83, kind = "number" }]

[[setting]]
id = "ab.one"
title = "No part of a"
place = [{ cv = 84, kind = "number" }]

[[setting]]
id = "speed.low"
title = "Low, of our own"
place = [{ cv = 2, kind = "number" }]
"""
MARKS = {
    "a.one": "coil",
    "a.b.two": "heat",
    "a.c": "none",
    "a.d": "lock",
    "ab.one": "not known",
    # It replaces that of the standard whole.
    "speed.low": "not known",
    "stop.mode": "stopping",
    "out[1].map": "motor",
    "out[2].map": "motor",
    # One by firmware of either block: what either may harm.
    "smoke.level": "coil, heat",
    "smoke.lamp": "not known",
}


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A standard, two blocks and a profile that marks what is its own."""
    own = HEAD.format(id="ferrow/sample", kind="motor", scheme="dotted", more=FOLLOWS, rest=OWN)
    files = {"standard/trial": STANDARD, "ferrow/blocks": BLOCKS, "ferrow/sample": own}
    for name, text in files.items():
        path = tmp_path / f"{name}.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return Store(tmp_path)


def test_the_nearest_mark_counts(store: Store) -> None:
    """Of the setting, of the longest part of its id, of its file or block; else there is none."""
    held = store.profile("ferrow/sample").settings
    assert {name: risk_text(held[name].risk) for name in MARKS} == MARKS
    assert set(unmarked(held.values())) == {"ab.one", "speed.low", "smoke.lamp"}


def test_a_whole_standard_is_marked_in_its_head(store: Store) -> None:
    """What its groups do not say."""
    held = store.profile("standard/trial").settings
    assert [risk_text(one.risk) for one in held.values()] == ["motor", "stopping", "motor", "motor"]


def test_the_compiled_form_keeps_every_mark(store: Store, tmp_path: Path) -> None:
    """None, none found, and several; the same whatever order they were written in."""
    made = store.profile("ferrow/sample")
    kept = Compiled(made.id, tmp_path / "x", tmp_path)
    kept.write(made, {})
    found = kept.read(lambda _: "")
    assert found is not None
    assert found[0] == made
    assert isinstance(found[0].settings["a.d"].risk, frozenset)


def test_a_setting_that_is_written_anew_keeps_its_mark(store: Store) -> None:
    """As amend writes one that was taken over so far."""
    held = store.profile("ferrow/sample").settings
    assert written_setting(held["smoke.level"], ())["risk"] == ["coil", "heat"]
    assert written_setting(held["a.c"], ())["risk"] == []
    assert "risk" not in written_setting(held["ab.one"], ())


def test_files_know_the_words_of_the_model() -> None:
    """The shape allows just the members of the enumeration."""
    schema = SettingShape.model_json_schema()["properties"]["risk"]
    (listed,) = (one for one in schema["anyOf"] if one["type"] == "array")
    assert listed["items"]["enum"] == [one.value for one in Risk]


@pytest.mark.parametrize("id", open_store().ids())
def test_every_setting_of_the_shipped_store_is_marked(id: str) -> None:
    """Somebody looked at each that can be set."""
    assert unmarked(open_store().profile(id).settings.values()) == ()
