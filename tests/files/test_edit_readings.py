"""Firmware and readings go into a loco file in one step, and nothing else changes."""

import tomllib
from datetime import date
from pathlib import Path

import pytest

from cvlib.api import Asked, check_asked, open_store
from cvlib.api import record_checks as record_api
from cvlib.errors import InputError
from cvlib.files.edit_readings import NewReadings, keep_readings
from cvlib.files.history import put_back
from cvlib.files.read.interface import read_file
from cvlib.files.record_check import record_checks
from cvlib.model.cv import Page, Slot
from cvlib.model.loco import LastCheck
from house.tree import ROOT

FLEET = sorted((ROOT / "definitions" / "fleet" / "saltmarsh").glob("*.toml"))
LOCO = """\
#:schema ../../docs/schema/loco.schema.json
# The club's own.
format = 2

[loco]
name = "No. 9 Lapwing"

[[decoder]]
role = "motor"  # under the hood

[[decoder.reading]]
date = 2020-02-01

[decoder.reading.cv]
1 = 9  # address

[[decoder]]
role = "lights"
profile = "ferrow/wren-2"
firmware = "1.2"
"""


def found(decoder: int, **others: object) -> NewReadings:
    """Readings of one decoder of a file."""
    values = {Slot(8): 13, Slot(261, Page(0, 255)): 42, Slot(1): 3}
    usual: dict[str, object] = {"profile": "ferrow/lark-8", "firmware": "3.0.8"}
    usual |= {"values": values, "silent": (Slot(28),), "note": "", "day": date(2026, 3, 14)}
    return NewReadings(decoder, **(usual | others))  # type: ignore[arg-type]


def test_readings_come_last_and_win(tmp_path: Path) -> None:
    """They are dated, read, and say which firmware was installed; what was noted before stays.

    What they were saved for nobody knows: a number may have outlived an update.
    """
    path = tmp_path / "loco.toml"
    path.write_text(LOCO, encoding="utf-8")
    keep_readings(path, found(0), "probe")
    motor, lights = read_file(path).decoders
    assert (motor.profile, motor.firmware) == ("ferrow/lark-8", "3.0.8")
    assert motor.values[Slot(1)].value == 3
    assert motor.values[Slot(261, Page(0, 255))].value == 42
    assert motor.values[Slot(8)].date == "2026-03-14"
    assert motor.values[Slot(8)].how == "read"
    assert motor.values[Slot(8)].installed == "3.0.8"
    assert motor.values[Slot(8)].firmware == ""
    assert (lights.profile, lights.firmware, dict(lights.values)) == ("ferrow/wren-2", "1.2", {})
    text = path.read_text(encoding="utf-8")
    for kept in ("# The club's own.", "# under the hood", "1 = 9  # address", "CV 28"):
        assert kept in text


def test_a_decoder_without_saved_values_gets_its_first(tmp_path: Path) -> None:
    """The table goes behind the decoder's own keys; a profile that is noted stays."""
    path = tmp_path / "loco.toml"
    path.write_text(LOCO, encoding="utf-8")
    keep_readings(path, found(1, profile="ferrow/lark-8", firmware="1.3"), "probe")
    motor, lights = read_file(path).decoders
    assert (lights.profile, lights.firmware) == ("ferrow/wren-2", "1.3")
    assert lights.values[Slot(8)].value == 13
    assert motor.values.keys() == {Slot(1)}


@pytest.mark.parametrize("original", FLEET, ids=lambda path: path.stem)
def test_every_loco_of_the_fleet_can_be_written_to(original: Path, tmp_path: Path) -> None:
    """Each line that was there is still there, in the words of format 2, and it is read again."""
    path = tmp_path / original.name
    path.write_bytes(original.read_bytes())
    before = read_file(path)
    keep_readings(path, found(0, profile="", firmware=before.decoders[0].firmware), "probe")
    after = read_file(path)
    assert after.decoders[0].values[Slot(8)].value == 13
    assert after.decoders[1:] == before.decoders[1:] or len(before.decoders) > 1
    lines = path.read_text(encoding="utf-8").splitlines()
    newer = {"format = 1": "format = 2", "[[decoder.saved]]": "[[decoder.reading]]"}
    changed = [newer.get(line, line).replace("[decoder.saved.", "[decoder.reading.")
               for line in original.read_text(encoding="utf-8").splitlines()]  # fmt: skip
    missing = {line for line in changed if line not in lines}
    assert {line for line in missing if not line.startswith("firmware = ")} == set()
    assert {line.replace("firmware", "saved-for") for line in missing} <= set(lines)


def test_line_ends_and_byte_order_mark_stay(tmp_path: Path) -> None:
    """A file of another system keeps its form."""
    path = tmp_path / "loco.toml"
    path.write_bytes(b"\xef\xbb\xbf" + LOCO.replace("\n", "\r\n").encode())
    keep_readings(path, found(0), "probe")
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert b"\n" not in data.replace(b"\r\n", b"")


@pytest.mark.parametrize(
    ("name", "text", "part"),
    [
        ("list.csv", "CV,Value\n1,3\n", "cannot keep firmware"),
        (
            "inline.toml",
            'format = 2\n[loco]\nname = "x"\n[[decoder]]\nreading = [{ cv = { 1 = 3 } }]\n',
            "in one line",
        ),
    ],
)
def test_what_cannot_be_edited_is_left_as_it_was(
    tmp_path: Path, name: str, text: str, part: str
) -> None:
    """One line says what to do, and the file is byte for byte the same."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=part):
        keep_readings(path, found(0), "probe")
    assert path.read_text(encoding="utf-8") == text


NOTES = [
    '''note = """
The last line looks like a remark:
# 27 = 3"""''',
    """note = '''
# all of it
# does'''""",
    'note = """a \\""" b # \n#"""',
    'note = "# one line"  # and a remark\n# another one, above the next heading',
    'note = "a"\n# with a line separator \u2028 in it',
]


@pytest.mark.parametrize("note", NOTES)
def test_a_text_whose_lines_look_like_remarks_stays_a_text(note: str, tmp_path: Path) -> None:
    """Whatever is written: readings, the record of a check, carried values."""
    path = tmp_path / "loco.toml"
    text = LOCO.replace("date = 2020-02-01", f"date = 2020-02-01\n{note}")
    loco_note = text.replace('name = "No. 9 Lapwing"', f'name = "No. 9 Lapwing"\n{note}')
    for whole in (text, loco_note):
        path.write_text(whole, encoding="utf-8")
        before = tomllib.loads(whole)
        keep_readings(path, found(0), "probe")
        record = LastCheck("2026-03-14", "ferrow/wren-2", "1.2", "d", {})
        record_checks(path, {1: record, 0: record})
        after = tomllib.loads(path.read_text(encoding="utf-8"))
        assert after["loco"] == before["loco"]
        assert after["decoder"][0]["reading"][0] == before["decoder"][0]["reading"][0]
        assert after["decoder"][1]["checked"]["digest"] == "d"
        put_back(path)
        put_back(path)
        assert path.read_text(encoding="utf-8") == whole


def test_a_file_that_changed_since_it_was_read_is_refused(tmp_path: Path) -> None:
    """What was entered lies beside it as a file of answers."""
    path = tmp_path / "loco.toml"
    path.write_text(LOCO, encoding="utf-8")
    seen = read_file(path).digest
    changed = LOCO + "# edited meanwhile\n"
    path.write_text(changed, encoding="utf-8")
    with pytest.raises(InputError, match="changed by something else"):
        keep_readings(path, found(0), "probe", seen, b"8 = 13\n")
    assert path.read_text(encoding="utf-8") == changed
    assert (tmp_path / "loco.toml.not-written").read_bytes() == b"8 = 13\n"


def test_the_record_goes_into_the_file_that_was_read(tmp_path: Path) -> None:
    """Not into another one whose name looks the same when it is shown."""
    odd, alike = tmp_path / "loco\x01.toml", tmp_path / "loco\N{REPLACEMENT CHARACTER}.toml"
    text = LOCO.replace('role = "motor"', 'role = "motor"\nprofile = "ferrow/wren-2"')
    odd.write_text(text.replace("[[decoder.reading]]", 'firmware = "1.2"\n[[decoder.reading]]', 1))
    alike.write_text(LOCO, encoding="utf-8")
    result = check_asked(open_store(), Asked((odd,)))
    assert record_api(result, Asked((odd,))).failed == ()
    assert read_file(odd).decoders[0].last_check is not None
    assert alike.read_text(encoding="utf-8") == LOCO
