"""Files opened, decoded and parsed: what is refused, and in which words."""

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.errors import InputError
from cvlib.files.text import LIMIT, decode, decode_list, one_line, parse_toml, quoted, read_bytes

NO_OWNER = not hasattr(os, "geteuid") or os.geteuid() == 0


def refusal(path: Path, limit: int = LIMIT) -> str:
    """The line with which a file is refused, without its folder."""
    with pytest.raises(InputError) as caught:
        read_bytes(path, limit)
    return str(caught.value).replace(f"{path.parent}{os.sep}", "")


def test_ordinary_file_gives_its_bytes(tmp_path: Path) -> None:
    """A file of just the limit is read whole."""
    file = tmp_path / "a.txt"
    file.write_bytes(b"27=3\r\n")
    assert read_bytes(file, limit=6) == b"27=3\r\n"


def test_file_above_the_limit_is_refused(tmp_path: Path) -> None:
    """One byte too many is refused, before anything looks at the content."""
    file = tmp_path / "a.txt"
    file.write_bytes(b"1234567")
    assert refusal(file, 6) == "a.txt: the file is larger than 6 bytes. Is it the right file?"


def test_missing_file_gets_the_nearest_name(tmp_path: Path) -> None:
    """A mistyped name is answered with the nearest one in the folder."""
    (tmp_path / "04-marsh-harrier.toml").touch()
    assert refusal(tmp_path / "04-marsh-harier.toml") == (
        '04-marsh-harier.toml: there is no such file. Did you mean "04-marsh-harrier.toml"?'
    )
    assert refusal(tmp_path / "quite-other.csv") == (
        "quite-other.csv: there is no such file. Check the name and the folder."
    )
    assert refusal(tmp_path / "none" / "a.csv") == (
        "a.csv: there is no such file. Check the name and the folder."
    )


def test_folder_is_refused(tmp_path: Path) -> None:
    """A folder is no file."""
    (tmp_path / "locos").mkdir()
    assert refusal(tmp_path / "locos") == (
        "locos: this is a folder, not a file. Name one file in it."
    )


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_special_file_is_refused(tmp_path: Path) -> None:
    """A pipe or a device is refused, and never waited for."""
    os.mkfifo(tmp_path / "pipe")
    words = "this is no ordinary file. Save what it gives in a file first."
    assert refusal(tmp_path / "pipe") == f"pipe: {words}"
    assert refusal(Path(os.devnull)) == f"{Path(os.devnull).name}: {words}"


@pytest.mark.skipif(NO_OWNER, reason="the superuser may read everything")
def test_closed_file_is_refused(tmp_path: Path) -> None:
    """A file that may not be read says so."""
    file = tmp_path / "a.txt"
    file.touch(mode=0)
    assert refusal(file) == "a.txt: you may not read this file. Change its permissions, or copy it."


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000, "a.txt/b", "\udcff\n"])
def test_impossible_name_is_one_line(name: str, tmp_path: Path) -> None:
    """A name that no file can have is an error on one printable line."""
    (tmp_path / "a.txt").touch()
    with pytest.raises(InputError) as caught:
        read_bytes(tmp_path / name)
    assert str(caught.value).isprintable()


STRAY = "the byte 0x%s here is no UTF-8. %s save the file as UTF-8."


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", ""),
        ("Möwe\t1\r\n".encode(), "Möwe\t1\r\n"),
        (b"\xef\xbb\xbf" + "Möwe".encode(), "Möwe"),
        (b"27=3\r\n\x1a", "27=3\r\n\x1a"),
    ],
)
def test_utf_8_becomes_text(data: bytes, text: str) -> None:
    """With or without its mark, of our own files and of lists."""
    assert decode(data, "a.toml") == text
    assert decode_list(data, "a.txt") == text


@pytest.mark.parametrize(
    ("data", "where", "byte", "advice"),
    [
        (b"a = 1\nb = 'M\xf6we'\n", "2:7", "F6", "If it is to be ö, type that again, and"),
        (b"\xef\xbb\xbfM\xf6we", "1:2", "F6", "If it is to be ö, type that again, and"),
        ("Möwe ".encode() + b"\x96", "1:6", "96", "If it is to be –, type that again, and"),
        ("ö\nMöw".encode() + b"\x81e", "2:4", "81", "Remove it, and"),
        ("Möwe".encode()[:2], "1:2", "C3", "If it is to be Ã, type that again, and"),
        (b"a\xa0b", "1:2", "A0", "Remove it, and"),
    ],
)
def test_a_stray_byte_is_told_with_its_spot(
    data: bytes, where: str, byte: str, advice: str
) -> None:
    """Line and column in characters, the byte, what it would be in Windows-1252, what to do."""
    with pytest.raises(InputError) as caught:
        decode(data, "a.toml")
    assert str(caught.value) == f"a.toml:{where}: " + STRAY % (byte, advice)


@pytest.mark.parametrize("data", ["a = 1".encode("utf-16"), b"\xfe\xff\x00a", b"\xff\xfea"])
def test_our_own_files_are_never_utf_16(data: bytes) -> None:
    """What begins with the mark of UTF-16 is refused in one line."""
    with pytest.raises(InputError) as caught:
        decode(data, "a.toml")
    assert str(caught.value) == "a.toml: this file is in UTF-16. Save it as UTF-8."


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ("Möwe".encode("cp1252"), "Möwe"),
        ("Höhe – 3 €".encode("cp1252"), "Höhe – 3 €"),
        (b"\xff\xfeM\x00\xf6\x00", "Mö"),
        (b"\xfe\xff\x00M\x00\xf6", "Mö"),
        ("27=3\r\n".encode("utf-16"), "27=3\r\n"),
    ],
)
def test_a_whole_list_may_be_windows_1252_or_utf_16(data: bytes, text: str) -> None:
    """A dash is a dash, not a control character (code page 1252: 0x96 is U+2013, 0x80 U+20AC).

    Source: the table of Windows-1252 by the Unicode Consortium, as Python's cp1252 has it.
    """
    assert decode_list(data, "a.txt") == text


@pytest.mark.parametrize(
    ("data", "where", "byte", "advice"),
    [
        ("Möwe\n".encode() + b"H\xf6he", "2:2", "F6", "If it is to be ö, type that again, and"),
        (b"\xef\xbb\xbf27=3 \x96", "1:6", "96", "If it is to be –, type that again, and"),
        (b"H\xf6he\nM\x81", "2:2", "81", "Remove it, and"),
    ],
)
def test_one_byte_never_turns_a_whole_list(data: bytes, where: str, byte: str, advice: str) -> None:
    """A list with UTF-8 in it is UTF-8, and a byte without meaning makes no list Windows-1252."""
    with pytest.raises(InputError) as caught:
        decode_list(data, "a.txt")
    assert str(caught.value) == f"a.txt:{where}: " + STRAY % (byte, advice)


@pytest.mark.parametrize(
    ("data", "line"),
    [(b"a\nb\x00", 2), (b"\x7fELF\x01", 1), (b"\xff\xfea", 1), (b"\xff\xfe\x00\x00a\0\0\0", 1)],
)
def test_what_is_no_text_is_refused(data: bytes, line: int) -> None:
    """NUL, control characters and a broken UTF-16 are no text."""
    with pytest.raises(InputError, match=rf"^a\.txt:{line}: this is not a text file\. Save"):
        decode_list(data, "a.txt")


@given(st.text(st.characters(codec="utf-8", min_codepoint=32), max_size=40), st.data())
def test_a_damaged_text_never_becomes_another(text: str, data: st.DataObject) -> None:
    """One byte changed in UTF-8 gives a fault at its line, or what UTF-8 itself says it is."""
    held = bytearray(text.encode() or b"a")
    at = data.draw(st.integers(0, len(held) - 1))
    held[at] = data.draw(st.integers(0x80, 0xFF))
    try:
        wanted: str | None = bytes(held).decode("utf-8")
    except UnicodeDecodeError:
        wanted = None
    if wanted is None:
        with pytest.raises(InputError):
            decode(bytes(held), "a.toml")
    else:
        assert decode(bytes(held), "a.toml") == wanted.removeprefix("\ufeff")


def test_toml_gives_its_document() -> None:
    """A valid document is what tomllib says it is."""
    assert parse_toml("a = 1\r\n[b]\r\nc = '3.10'", "a.toml") == {"a": 1, "b": {"c": "3.10"}}


BROKEN = (
    ("a = 1 2", 1, 7, "something is left over after the value."),
    ("a = 1\n = 2", 2, 2, "this line is not understood."),
    ("é = 2", 1, 1, "this line is not understood."),
    ("a.é = 2", 1, 3, "a key cannot start like this."),
    ("a", 1, 2, "the key has no equals sign after it."),
    ("[a", 1, 3, "the brackets around this heading are not closed."),
    ("[[a]", 1, 4, "the brackets around this heading are not closed."),
    ("a = 1\n[a]", 2, 3, "this key has a value already."),
    ("a = 1\na = 2\n", 2, 6, "this key has a value already."),
    ("a = {b = 1, b = 2}", 1, 18, "this key has a value already."),
    ("[a]\n[a]\n", 2, 3, "this table is in the file already."),
    ("[[a]]\n[a]\n", 2, 3, "this table is in the file already."),
    ("a = {}\na.b = 1\n", 2, 8, "this table is in the file already."),
    ("a = [1 2]", 1, 8, "a list is not closed."),
    ("a = {b = 1", 1, 11, "a table is not closed."),
    ('a = "b\nc = 1', 1, 7, "a text is not closed."),
    ("a = 'b\nc = 1", 1, 5, "a text is not closed."),
    ("a = 'b", 1, 5, "a text is not closed."),
    ('a = """b\n\n', 1, 9, "a text is not closed."),
    ("a = '''b\n\n", 1, 7, "a text is not closed."),
    ('a = "\x7f"', 1, 6, "there is a character here that TOML does not allow."),
    (r'a = "\q"', 1, 7, "a backslash in this text is not understood."),
    (r'a = "\uD800"', 1, 12, "a backslash in this text is not understood."),
    (r'a = "\u00"', 1, 8, "a backslash in this text is not understood."),
    ("a = nothing", 1, 5, "the text nothing has no quotes."),
    ("a =\n", 1, 4, "the value is missing or not understood."),
    ("a = 2026-02-30", 1, 5, "2026-02-30 is no date of TOML."),
)


@pytest.mark.parametrize(("text", "line", "column", "words"), BROKEN)
def test_broken_toml_is_told_in_plain_words(text: str, line: int, column: int, words: str) -> None:
    """Each way to break TOML 1.0 has its line in plain words, with what to do."""
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    with pytest.raises(InputError) as caught:
        parse_toml(text, "a.toml")
    (fault,) = caught.value.faults
    assert fault.problem == words
    assert fault.advice
    assert fault.position is not None
    assert fault.position.line == line
    # Later versions of the standard library may point to the other end of the same thing.
    assert fault.position.column is not None
    assert abs(fault.position.column - column) <= 8


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 40_000,
        "a = " + "{a=" * 20_000,
        "a." * 40_000 + "a = 1",
        "['a'" + ".'a'" * 99,
    ],
    ids=["lists", "tables", "dots", "quoted dots"],
)
def test_deep_nesting_is_refused(text: str) -> None:
    """Nesting without end is refused at once."""
    with pytest.raises(InputError, match=r"^a\.toml: the file is nested too deeply\. Look for"):
        parse_toml(text, "a.toml")


def test_number_without_end_is_refused() -> None:
    """A number of thousands of digits is refused."""
    with pytest.raises(InputError, match=r"^a\.toml:1: a number in this file is far too long\."):
        parse_toml("a = " + "9" * 10_000, "a.toml")


def test_shown_text_is_short_and_on_one_line() -> None:
    """What is quoted from a file is cut and free of control characters."""
    assert quoted("a\tb\nc\x1b[31m") == '"a\ufffdb\ufffdc\ufffd[31m"'
    assert quoted("x" * 100) == f'"{"x" * 39}…"'
    assert one_line("No. 4 Möwe") == "No. 4 Möwe"
