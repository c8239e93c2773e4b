"""What is read at most: each bound of docs/reliability.md at the bound, and one past it.

Work is counted in calls of functions, not in time: doubling an input takes at most 2.3 times as
many. That a quadratic reader would show is proved with one.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.run_cvlib import run
from cvlib.engine.bench.session import Entry
from cvlib.engine.bench.weigh import Read
from cvlib.errors import InputError
from cvlib.files import bounds
from cvlib.files.answers import keep_answers, read_answers
from cvlib.files.git import Repository
from cvlib.files.read.interface import loco_files, read_content
from cvlib.files.read.setting_table import read_setting_table
from cvlib.files.text import LIMIT, decode, is_file, is_folder, is_there, parse_toml
from cvlib.model.cv import Slot
from files.small_store import put
from readers import CORPUS, READERS, made
from review.repositories import commit, repository

DOCS = Path(__file__).resolve().parents[2] / "docs"
MOST_GROWTH = 2.3


def listed(rows: int) -> str:
    """A list of so many lines, headings counted."""
    return "CV,Value\n" + "\n".join(f"{at % 256 + 1},3" for at in range(rows - 1))


def table(rows: int, title: str = "Same title") -> str:
    """A table of settings."""
    return "cv,title,min,max\n" + "".join(f"{at % 256 + 1},{title},0,255\n" for at in range(rows))


def loco(name: str) -> bytes:
    """A loco file with that name of the loco."""
    return f'format = 1\n[loco]\nname = "{name}"\n[[decoder]]\n'.encode()


def placed(places: int, *, is_everywhere: bool = False) -> bytes:
    """A profile with a setting of so many places, each for a firmware of its own or for all."""
    head = (CORPUS / "profile-1.toml").read_text(encoding="utf-8")
    head = head[: head.index("[[setting]]")] + '[[setting]]\nid = "speed.start"\ntitle = "Start"\n'
    one = '[[setting.place]]\nfirmware = "=={}.0"\nkind = "number"\ncv = {}\n'
    rows = (
        one.format(1 if is_everywhere else at + 1, at + 1) + 'sources = ["handbook-1"]\n'
        for at in range(places)
    )
    return (head + "".join(rows)).encode()


def chained(settings: int) -> bytes:
    """A profile with so many settings, each of which asks the two before it."""
    rows = [head()]
    for at in range(settings):
        rows.append(f'[[setting]]\nid = "chain.n{at}"\ntitle = "{at}"\n[[setting.place]]\n')
        rows.append(f'kind = "number"\ncv = {at + 100}\nsources = ["handbook-1"]\n')
        asked = ", ".join(
            f'{{ setting = "chain.n{one}", is = [1] }}' for one in (at - 1, at - 2) if one >= 0
        )
        rows.append(f"when = [{asked}]\n" if asked else "")
    return "".join(rows).encode()


def head() -> str:
    """A profile without settings, and with one source."""
    return (CORPUS / "profile-1.toml").read_text(encoding="utf-8").partition("[[setting]]")[0]


def settings(count: int) -> bytes:
    """A profile with so many settings."""
    one = '[[setting]]\nid = "a.s{0}"\ntitle = "t{0}"\nplace = [{{ cv = {1}, kind = "number" }}]\n'
    return (head() + "".join(one.format(at, at % 1024 + 1) for at in range(count))).encode()


def sources(count: int, key: str = "") -> bytes:
    """A profile with so many more documents, each of which repeats the one before it."""
    made = head()
    for at in range(count):
        made += (
            f'[[source]]\nid = "h{at}"\nkind = "document"\ntitle = "t"\nfirmware = "=={at + 2}"\n'
        )
        made += f'{key} = "{f"h{at - 1}" if at else "handbook-1"}"\n' if key else ""
    return made.encode()


def readings(count: int) -> bytes:
    """A loco file with so many readings."""
    one = "[[decoder.saved]]\ndate = 2026-03-14\n[decoder.saved.cv]\n{} = 3\n"
    return loco("x") + "".join(one.format(at % 1024 + 1) for at in range(count)).encode()


def ranged(count: int) -> bytes:
    """A profile with a place for so many ranges of firmware."""
    place = 'place = [{ cv = 2, kind = "number", sources = ["handbook-1"], firmware = ['
    rows = "".join(f'\n"=={at + 1}",' for at in range(count))
    return f'{head()}[[setting]]\nid = "a.b"\ntitle = "t"\n{place}{rows}] }}]\n'.encode()


def odd(rows: int, kind: str) -> bytes:
    """A list in another layout."""
    numbers = [at % 1024 + 1 for at in range(rows)]
    if kind == "xml":
        return ("<a>" + "".join(f'<v n="{at}" is="3"/>\n' for at in numbers) + "</a>").encode()
    if kind == "json":
        return ("[" + ",\n".join(f'{{"cv":{at},"value":3}}' for at in numbers) + "]").encode()
    return ("No.;Value;Role\n" + "".join(f"{at};3;motor\n" for at in numbers)).encode()


def long_list(size: int) -> bytes:
    """A list of so many bytes, most of them in comments."""
    text = listed(9).encode() + (b"\n#" + b"x" * 1000) * (size // 1002)
    return text[:size].ljust(size, b"x")


BOUNDS: list[tuple[str, int, Callable[[int], object]]] = [
    ("bytes", LIMIT, lambda n: read_content(long_list(n), "a.csv")),
    ("lines", bounds.LINES, lambda n: decode(b"\n".join([b"x"] * n), "a")),
    ("line", bounds.LINE, lambda n: decode(b"x" * n + b"\n" + b"y", "a")),
    ("cells", bounds.CELLS, lambda n: read_content(b"CV,Value" + b"," * (n - 2) + b"\n8,13", "a")),
    ("rows", bounds.ROWS, lambda n: read_setting_table(table(n), "a")),
    ("signs", bounds.SIGNS, lambda n: parse_toml("a = [" + "1," * (n - 2) + "]", "a")),
    ("nesting", bounds.NESTING, lambda n: parse_toml("a = " + "[" * n + "]" * n, "a")),
    ("parts", bounds.NESTING, lambda n: parse_toml(".".join(["a"] * n) + " = 1", "a")),
    ("digits", bounds.DIGITS, lambda n: parse_toml("a = " + "9" * n, "a")),
    ("digits of a fraction", bounds.DIGITS, lambda n: parse_toml("a = 0." + "9" * (n - 2), "a")),
    ("text of a loco", bounds.TEXT, lambda n: read_content(loco("n" * n), "a.toml")),
    ("places", bounds.PLACES, lambda n: READERS["profile"](placed(n), Path())),
    ("chain", bounds.CHAIN, lambda n: READERS["profile"](chained(n), Path())),
    (
        "places at one firmware",
        bounds.BESIDE,
        lambda n: READERS["profile"](placed(n, is_everywhere=True), Path()),
    ),
    ("settings", bounds.SETTINGS, lambda n: READERS["profile"](settings(n), Path())),
    ("sources", bounds.SOURCES, lambda n: READERS["profile"](sources(n - 1), Path())),
    ("steps", bounds.STEPS, lambda n: READERS["profile"](sources(n - 1, "reissues"), Path())),
]


@pytest.mark.parametrize(("what", "most", "read"), BOUNDS, ids=[row[0] for row in BOUNDS])
def test_bound_is_read_and_one_past_it_refused(
    what: str, most: int, read: Callable[[int], object]
) -> None:
    """At the bound it is read; one past it gives one line."""
    read(most)
    with pytest.raises(InputError) as caught:
        read(most + 1)
    (fault,) = caught.value.faults
    assert str(fault).isprintable()
    assert len(str(fault)) < 300


@pytest.mark.parametrize("digits", ["f" * 5000, "7" * 400, "7" * 5000, "0x" + "f" * 5000])
def test_number_far_too_long_is_refused(digits: str) -> None:
    """In decimal or hexadecimal, in a TOML file and in a list."""
    if digits[0] != "f":
        with pytest.raises(InputError, match="far too long"):
            parse_toml(f"a = {digits}", "a")
    with pytest.raises(InputError) as caught:
        read_content(f"CV,Value\n8,{digits}\n".encode(), "a.csv")
    assert len(str(caught.value)) < 200


def test_files_of_a_folder_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of locos, and of a revision; here with a small bound."""
    for at in range(3):
        (tmp_path / f"{at}.csv").write_text("8,13\n", encoding="utf-8")
    monkeypatch.setattr("cvlib.files.read.interface.FILES", 3)
    assert len(loco_files(tmp_path)) == 3
    (tmp_path / "3.csv").write_text("8,13\n", encoding="utf-8")
    with pytest.raises(InputError, match="more than 3 files"):
        loco_files(tmp_path)


def test_files_of_a_revision_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Their number and their bytes in all; here with small bounds."""
    repo = repository(tmp_path / "repo")
    commit(repo, {f"ferrow/{at}.toml": f"a = {at}\n" for at in range(3)})
    held = Repository(repo)
    folder = held.prefix() / "definitions"
    head = held.commit("HEAD")
    monkeypatch.setattr("cvlib.files.git.FILES", 3)
    monkeypatch.setattr("cvlib.files.git.CONTENT", 18)
    assert [len(data) for data in held.files(head, folder).values()] == [6, 6, 6]
    monkeypatch.setattr("cvlib.files.git.CONTENT", 17)
    with pytest.raises(InputError, match="more than 17 bytes"):
        held.files(head, folder)
    monkeypatch.setattr("cvlib.files.git.FILES", 2)
    with pytest.raises(InputError, match="more than 2 files"):
        held.files(head, folder)


def test_answers_are_bounded(tmp_path: Path) -> None:
    """Lines of a file of answers."""
    path = tmp_path / "answers.txt"
    path.write_text("8 = 13\n" * bounds.ANSWERS, encoding="utf-8")
    assert len(read_answers(path)) == bounds.ANSWERS
    path.write_text("8 = 13\n" * (bounds.ANSWERS + 1), encoding="utf-8")
    with pytest.raises(InputError, match="lines of answers"):
        read_answers(path)


@pytest.mark.parametrize("name", ["n" * 300, "n" * 5000, "a\0b", "broken\udcff", "é" * 200])
def test_any_name_can_be_looked_for(name: str) -> None:
    """A name too long for the system, or that none can have, is simply not there."""
    path = Path(name)
    assert not any(look(path) for look in (is_there, is_folder, is_file))


def calls(work: Callable[[], object]) -> int:
    """How many functions a piece of work calls, those of the interpreter counted."""
    count = 0

    def counted(_frame: object, event: str, _what: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def kept(folder: Path, count: int) -> None:
    """A file of answers brought up to date."""
    entries: list[Entry] = [Read(Slot(at % 1024 + 1), at % 200) for at in range(count)]
    path = folder / f"{count}.txt"
    path.unlink(missing_ok=True)
    path.write_text("8 = 13\n" * count, encoding="utf-8")
    keep_answers(path, entries, "Test")


def checked(folder: Path, count: int) -> None:
    """A value held against a setting of so many places, from the file of its profile on."""
    put(folder / str(count), "ferrow/linnet.toml", placed(count).decode())
    words = ("--profile", "ferrow/linnet", "--firmware", "1.5")
    own = folder / str(count) / "definitions"
    assert run(["check", "2=3", *words, "--definitions", str(own)]) == 1


GROWTH: dict[str, Callable[[Path, int], object]] = {
    "list": lambda _, n: read_content(listed(n).encode(), "a.csv"),
    "list with open quotes": lambda _, n: read_content(
        ("CV,Name,Value\n" + '8,"open,13\n' * n).encode(), "a.csv"
    ),
    "table with open quotes": lambda _, n: read_setting_table(table(n, '"Open'), "a"),
    "table of one title": lambda _, n: made(table(n)),
    "answers": kept,
    "values of TOML": lambda _, n: parse_toml("a = [" + "1," * n + "]", "a"),
    "readings": lambda path, n: READERS["loco"](readings(n), path),
    "readings laid out": lambda path, n: READERS["tidy"](readings(n), path),
    "settings": lambda path, n: READERS["profile"](settings(n), path),
    "places": lambda path, n: READERS["profile"](placed(n // 2), path),
    "places that a check asks": lambda path, n: checked(path, n // 2),
    "settings laid out": lambda path, n: READERS["tidy"](settings(n), path),
    "ranges of firmware": lambda path, n: READERS["profile"](ranged(n), path),
    "blocks": lambda path, n: READERS["blocks"](
        settings(n)
        .partition(b"[[setting]]")[2]
        .join((b'format = 2\n[[block]]\nid = "b"\ntitle = "b"\n[[block.setting]]', b""))
        .replace(b"[[setting]]", b"[[block.setting]]"),
        path,
    ),
    "namespaces of a recipe": lambda path, n: READERS["recipe"](
        (CORPUS / "recipe-1.toml").read_bytes() + b"".join(b's%d = "u"\n' % at for at in range(n)),
        path,
    ),
    **{
        f"{reader} of {kind}": lambda path, n, reader=reader, kind=kind: READERS[reader](
            odd(n, kind), path
        )
        for reader in ("tree", "suggest")
        for kind in ("xml", "json", "table")
    },
    "typed": lambda path, n: READERS["typed"](b"\n".join([b"8=13"] * n), path),
}


@pytest.mark.parametrize("what", list(GROWTH))
def test_work_grows_with_the_input(what: str, tmp_path: Path) -> None:
    """Doubling the input takes at most 2.3 times the steps."""
    work = GROWTH[what]
    work(tmp_path, 20)
    once, twice = (calls(lambda n=n: work(tmp_path, n)) for n in (400, 800))
    assert twice <= MOST_GROWTH * once


def test_quadratic_work_would_be_seen() -> None:
    """The measure itself tells a search that begins anew for each row."""

    def search(count: int) -> None:
        names: list[str] = []
        for _ in range(count):
            number = 0
            while f"{number}".strip() in names:
                number += 1
            names.append(str(number))

    assert calls(lambda: search(200)) > MOST_GROWTH * calls(lambda: search(100))


class Counted(bytes):
    """Bytes that count how many of them are copied."""

    copied = 0

    def __getitem__(self, key: Any) -> Any:
        found = super().__getitem__(key)
        Counted.copied += len(found) if isinstance(found, bytes) else 1
        return Counted(found) if isinstance(found, bytes) else found

    def partition(self, sep: Any, /) -> Any:
        found = super().partition(sep)
        Counted.copied += len(self)
        return tuple(map(Counted, found))


def test_content_of_a_revision_is_copied_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What git hands over is cut into its files without copying the rest for each."""
    repo = repository(tmp_path / "repo")
    commit(repo, {f"ferrow/{at}.toml": f"a = {at}\n" * 9 for at in range(60)})
    held = Repository(repo)
    whole = 0
    run = held._run

    def counted(*words: str, given: bytes = b"") -> Any:
        nonlocal whole
        done = run(*words, given=given)
        if "--batch" in words:
            whole = len(done.stdout)
            done.stdout = Counted(done.stdout)
        return done

    monkeypatch.setattr(held, "_run", counted)
    assert len(held.files(held.commit("HEAD"), held.prefix() / "definitions")) == 60
    assert 0 < Counted.copied <= 2 * whole


def test_standard_input_is_bounded(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An endless list is read up to the bound, and refused."""
    from cvlib.cli.app import run

    class Endless(io.RawIOBase):
        taken = 0

        def readable(self) -> bool:
            return True

        def read(self, size: int = -1, /) -> bytes:
            assert size >= 0
            self.taken += size
            return bytes(size)

    endless = Endless()
    monkeypatch.setattr("sys.stdin", type("Input", (), {"buffer": endless})())
    assert run(["check", "-"]) == 2
    assert endless.taken == LIMIT + 1
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_page_states_every_bound() -> None:
    """With the figure that holds."""
    page = (DOCS / "reliability.md").read_text(encoding="utf-8")
    page = page.partition("## How much is read")[2].partition("\n## ")[0]
    rows = dict(re.findall(r"^\| (.+?) \| ([\d,]+|\d+ MiB) \|", page, re.M))
    stated = sorted(int(text.replace(",", "")) for text in rows.values() if "MiB" not in text)
    held = [
        *(bounds.LINES, bounds.LINE, bounds.CELLS, bounds.ROWS, bounds.SIGNS, bounds.NESTING),
        *(bounds.DIGITS, bounds.TEXT, bounds.PLACES, bounds.SETTINGS, bounds.SOURCES),
        bounds.CHAIN,
        *(bounds.BESIDE, bounds.STEPS, bounds.ANSWERS, bounds.FILES),
    ]
    assert stated == sorted(held)
    sizes = sorted(int(text[:-4]) for text in rows.values() if "MiB" in text)
    assert [size * 1024 * 1024 for size in sizes] == [LIMIT, bounds.CONTENT]
