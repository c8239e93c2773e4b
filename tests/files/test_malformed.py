"""Whatever a file holds, reading it ends with a loco or with clear lines, never with a crash.

Well over a thousand files, each broken in one way: cut short, bytes changed, wrong types, binary,
huge numbers, deep nesting. The same ones every time.
"""

import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from cvlib.errors import InputError
from cvlib.files.read.interface import READERS, read_file, sniff

CASES = Path(__file__).resolve().parents[1] / "cases" / "read"
RIGHT = sorted(
    file
    for file in CASES.glob("*/input.*")
    if "faults" not in (file.parent / "expect.toml").read_text(encoding="utf-8")
)
LOCO = (CASES / "loco-full" / "input.toml").read_bytes()
ODD = (
    *(b'"text"', b"''", b"3.5", b"-1", b"256", b"1e999", b"nan", b"true", b"[]", b"[1, [2]]"),
    *(b"{}", b"{ a = { b = 1 } }", b"2026-03-14", b"2026-03-14T07:00:00Z", b"07:00:00"),
    *(b"9" * 4000, b"9" * 5000, b"0x" + b"f" * 5000, b"-" + b"9" * 300, b"[" * 3000, b"{a=" * 3000),
    *(b'"\\u0000\\u001b[31m\\n"', b'"' + b"x" * 3000 + b'"', "３".encode(), b"", b'"""', b"\xff"),
)
NOISE = (
    b"\x00",
    b"\xff\xfe",
    b"\x1b[2J",
    b'"',
    b"[",
    b"]]",
    b"=",
    b"\r",
    b";",
    b"@",
    b"\xe2\x80\xa8",
)


def cut_short(data: bytes, dice: random.Random) -> bytes:
    """The file cut somewhere."""
    return data[: dice.randrange(len(data))]


def bytes_changed(data: bytes, dice: random.Random) -> bytes:
    """Some bytes replaced by others."""
    changed = bytearray(data)
    for _ in range(dice.randint(1, 8)):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed)


def noise_put_in(data: bytes, dice: random.Random) -> bytes:
    """Something strange put in somewhere."""
    at = dice.randrange(len(data))
    return data[:at] + dice.choice(NOISE) * dice.randint(1, 3) + data[at:]


def lines_mixed(data: bytes, dice: random.Random) -> bytes:
    """The lines in another order, some of them twice."""
    lines = data.splitlines(keepends=True)
    return b"".join(dice.choices(lines, k=len(lines) + 2))


def value_replaced(data: bytes, dice: random.Random) -> bytes:
    """The value of one line replaced by one of another type or size."""
    lines = data.split(b"\n")
    places = [at for at, line in enumerate(lines) if b"=" in line or b";" in line or b"," in line]
    if not places:
        return data + dice.choice(ODD)
    at = dice.choice(places)
    sign = next(sign for sign in (b"=", b";", b",") if sign in lines[at])
    lines[at] = lines[at].partition(sign)[0] + sign + b" " + dice.choice(ODD)
    return b"\n".join(lines)


def noise_alone(_data: bytes, dice: random.Random) -> bytes:
    """No file at all, only bytes."""
    return dice.randbytes(dice.randrange(400))


BREAKS = (cut_short, bytes_changed, noise_put_in, lines_mixed, value_replaced, noise_alone)


def every_type_in_every_place() -> Iterator[bytes]:
    """The loco file with every key in turn given every odd value."""
    lines = LOCO.split(b"\n")
    for at, line in enumerate(lines):
        if b" = " in line and b'"""' not in line:
            for value in ODD:
                key = line.partition(b" = ")[0]
                yield b"\n".join([*lines[:at], key + b" = " + value, *lines[at + 1 :]])


def outcome(file: Path, data: bytes) -> bool:
    """Whether the data is refused; every line of the refusal is checked."""
    file.write_bytes(data)
    try:
        loco = read_file(file)
    except InputError as error:
        check_lines(error, str(file))
        return True
    assert loco.decoders
    assert all(0 <= value.value <= 255 for part in loco.decoders for value in part.values.values())
    return False


def check_lines(error: InputError, name: str) -> None:
    """Each fault is one printable line of bearable length that begins with the file."""
    assert error.faults
    for fault in error.faults:
        line = str(fault)
        assert line.isprintable(), line
        assert line.startswith(name), line
        assert len(line) < len(name) + 400, line
        assert fault.problem.endswith("."), line


@pytest.mark.parametrize("broken", BREAKS, ids=lambda broken: broken.__name__)
def test_broken_file_never_crashes(
    broken: Callable[[bytes, random.Random], bytes], tmp_path: Path
) -> None:
    """Each of hundreds of broken files is read or refused in clear lines."""
    dice = random.Random(broken.__name__)
    refused = 0
    for number in range(400):
        right = RIGHT[number % len(RIGHT)]
        name = f"{number}{dice.choice((right.suffix, '.toml', '.csv'))}"
        refused += outcome(tmp_path / name, broken(right.read_bytes(), dice))
    assert refused > 100


def test_every_type_in_every_place_is_read_or_refused(tmp_path: Path) -> None:
    """A loco file with any value anywhere is read or refused in clear lines."""
    refusals = [outcome(tmp_path / "loco.toml", data) for data in every_type_in_every_place()]
    assert sum(refusals) > 350


@pytest.mark.parametrize("kind", READERS)
def test_every_reader_refuses_in_its_own_words(kind: str) -> None:
    """Every reader refuses what it cannot read with faults that name the file."""
    for text in ("", "\n", "hello 4", "27 = x", "[loco]", '"' * 99, "<a>27</a>"):
        with pytest.raises(InputError) as caught:
            READERS[kind](text, "a.any")
        assert all(str(fault).startswith("a.any") for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("text", "name", "kind"),
    [
        ("27=3", "a.txt", "table"),
        ("27=3", "a.TOML", "loco"),
        ("format = 1\n[loco]\n", "a.txt", "loco"),
        ("#:schema ../docs/schema/loco.schema.json\n", "noname", "loco"),
        ("CV;Wert\n[[decoder.saved]]", "a.csv", "loco"),
        ("[Decoder]\nCV27=3", "a.ini", "table"),
        ("see [loco] and [[decoder]]", "a.txt", "table"),
    ],
)
def test_the_content_tells_the_form(text: str, name: str, kind: str) -> None:
    """The content tells the form of a file before its ending does."""
    assert sniff(text, name) == kind
