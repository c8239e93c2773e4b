"""What carrying changes in a loco file, and what it leaves alone."""

from __future__ import annotations

import tomllib
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.errors import InputError
from cvlib.files.edit_loco import NewState, NewValue, carried_text
from cvlib.files.read.loco import read_loco
from cvlib.model.cv import Page, Slot

DAY = date(2026, 3, 14)


def state(**more: Any) -> NewState:
    """A new state of the first decoder."""
    held: dict[str, Any] = {
        "decoder": 0,
        "profile": "ferrow/lark-8",
        "firmware": "4.3.9",
        "was": "2.4.118",
        "values": (NewValue(Slot(144), 80, "was CV 141"), NewValue(Slot(257, Page(16, 2)), 3)),
        "kept": frozenset(),
        "note": "carried from 2.4.118",
        "day": DAY,
        "options": {},
    }
    return NewState(**(held | more))


HEAD = 'format = 2\n[loco]\nname = "A"\n'
FIRST = """
[[decoder]]
role = "motor"
firmware = "2.4.118"
[[decoder.reading]]
[decoder.reading.cv]
141 = 40
[decoder.reading.page."16/2"]
257 = 1
"""
SECOND = """
[[decoder]]
role = "sound"
[[decoder.reading]]
how = "typed"
[decoder.reading.cv]
63 = 9
"""


def parsed(text: str) -> Any:
    """The decoders of a text, after making sure that it is still a good loco file."""
    read_loco(text, "loco.toml")
    return tomllib.loads(text)["decoder"]


def test_values_firmware_and_history() -> None:
    """The new values stand in a table of their own, the old ones in the history."""
    (held,) = parsed(carried_text(HEAD + FIRST, state()))
    assert held["firmware"] == "4.3.9"
    assert held["profile"] == "ferrow/lark-8"
    assert held["reading"] == [
        {
            "date": DAY,
            "how": "carried",
            "firmware": "4.3.9",
            "note": "carried from 2.4.118",
            "cv": {"144": 80},
            "page": {"16/2": {"257": 3}},
        }
    ]
    former = {"saved-for": "2.4.118", "cv": {"141": 40}, "page": {"16/2": {"257": 1}}}
    assert held["history"] == [former]


@pytest.mark.parametrize("decoder", [0, 1])
def test_only_one_decoder_changes(decoder: int) -> None:
    """The other decoder keeps every word."""
    made = parsed(carried_text(HEAD + FIRST + SECOND, state(decoder=decoder)))
    before = parsed(HEAD + FIRST + SECOND)
    assert made[1 - decoder] == before[1 - decoder]
    assert made[decoder]["firmware"] == "4.3.9"


def test_what_was_not_carried_stays_saved() -> None:
    """Values that wait for a choice keep their firmware and stay among the saved ones."""
    kept = frozenset({Slot(257, Page(16, 2))})
    (held,) = parsed(carried_text(HEAD + FIRST, state(kept=kept)))
    left = {"saved-for": "2.4.118", "page": {"16/2": {"257": 1}}}
    assert held["reading"][0] == left


def test_a_longer_history_grows_at_its_end() -> None:
    """Carried again, the earlier history comes first."""
    once = carried_text(HEAD + FIRST, state())
    (held,) = parsed(carried_text(once, state(firmware="4.4.2", was="4.3.9")))
    assert [table.get("saved-for", table.get("firmware")) for table in held["history"]] == [
        "2.4.118",
        "4.3.9",
    ]


def test_what_was_said_of_an_update_ends_with_the_next() -> None:
    """Kept with the same firmware, gone with another."""
    text = (HEAD + FIRST).replace('role = "motor"\n', 'role = "motor"\nstate = "never-updated"\n')
    (held,) = parsed(carried_text(text, state()))
    assert "state" not in held
    (held,) = parsed(carried_text(text, state(firmware="2.4.118")))
    assert held["state"] == "never-updated"


def test_options_are_noted() -> None:
    """Facts of another decoder type stand in one line, under a heading or not before."""
    options = {"address[1].type": "coil"}
    (held,) = parsed(carried_text(HEAD + FIRST, state(options=options)))
    assert held["options"] == options
    table = FIRST.replace(
        "[[decoder.reading]]", '[decoder.options]\n"a.b" = 1\n\n[[decoder.reading]]'
    )
    (held,) = parsed(carried_text(HEAD + table, state(options=options)))
    assert held["options"] == options
    (held,) = parsed(carried_text(HEAD + table, state(options={"a.b": 1})))
    assert held["options"] == {"a.b": 1}


def test_another_decoder_type_is_told_in_the_history() -> None:
    """The history says for which profile its values were."""
    text = (HEAD + FIRST).replace("[[decoder]]\n", '[[decoder]]\nprofile = "ferrow/wren-2"\n')
    (held,) = parsed(carried_text(text, state()))
    assert held["history"][0]["note"] == "profile ferrow/wren-2"


@pytest.mark.parametrize(
    "decoder",
    [
        'decoder = [{ reading = [{ cv = { "141" = 40 } }] }]\n[loco]\nname = "A"\n',
        '[loco]\nname = "A"\n[[decoder]]\nreading = [{ cv = { "141" = 40 } }]\n',
    ],
)
def test_values_written_in_one_line_are_refused(decoder: str) -> None:
    """What stands under no heading cannot be moved; the line says how to write it."""
    with pytest.raises(InputError, match="written in one line"):
        carried_text(f"format = 1\n{decoder}", state())


REMARKS = st.lists(
    st.sampled_from(["# one", "#two", "", "", "# [decoder.reading]", "# was 3 = 4"]), max_size=3
)


@given(st.lists(REMARKS, min_size=12, max_size=12))
def test_no_remark_is_lost(remarks: list[list[str]]) -> None:
    """Wherever remarks stand, all of them are there afterwards, and the values are right."""
    lines: list[str] = []
    for at, line in enumerate((HEAD + FIRST + SECOND).splitlines()):
        lines += [*(remarks[at % len(remarks)]), line]
    text = "\n".join(lines) + "\n"
    made = carried_text(text, state())
    held = parsed(made)
    assert held[0]["history"][0]["cv"] == {"141": 40}
    assert held[1] == parsed(text)[1]
    wanted = sorted(line for line in text.splitlines() if line.startswith("#"))
    assert sorted(line for line in made.splitlines() if line.startswith("#")) == wanted


def test_texts_are_quoted() -> None:
    """Quotes and line ends in a note do not break the file."""
    note = 'read by "Kit"\nat the bench \\ twice'
    text = HEAD + FIRST.replace(
        "[decoder.reading.cv]", f"note = '''{note}'''\n[decoder.reading.cv]"
    )
    (held,) = parsed(carried_text(text, state(kept=frozenset({Slot(141)}))))
    assert held["reading"][0]["note"] == note
    assert held["history"][0]["note"] == note
