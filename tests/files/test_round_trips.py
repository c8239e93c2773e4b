"""Whatever way values are written down, the same values are read (common practice, no source).

Pages chosen by CVs 31 and 32: NMRA S-9.2.2 (2012-07).
"""

from collections.abc import Mapping

from hypothesis import given
from hypothesis import strategies as st

from cvlib.files.read.loco import read_loco
from cvlib.files.read.table import read_table
from cvlib.files.read.typed import parse_typed
from cvlib.files.text import decode, decode_list
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco, SavedValue
from files.saved_values import (
    SAVED,
    SAVED_WITHOUT_INDEX,
    headed_lists,
    indexed_list,
    loco_file,
    plain_lists,
)


def numbers(values: Mapping[Slot, SavedValue]) -> dict[Slot, int]:
    """The bare values."""
    assert all(slot == value.slot for slot, value in values.items())
    return {slot: value.value for slot, value in values.items()}


def only_decoder(loco: Loco) -> dict[Slot, int]:
    """The bare values of a loco with one decoder."""
    (decoder,) = loco.decoders
    return numbers(decoder.values)


@given(st.data(), SAVED_WITHOUT_INDEX)
def test_list_without_headings_gives_its_values(
    data: st.DataObject, saved: dict[Slot, int]
) -> None:
    """A list without headings gives its values, whatever signs and notations it mixes."""
    assert only_decoder(read_table(data.draw(plain_lists(saved)), "a.txt")) == saved


@given(st.data(), SAVED_WITHOUT_INDEX)
def test_table_with_headings_gives_its_values(data: st.DataObject, saved: dict[Slot, int]) -> None:
    """A table gives its values, whatever the order and the language of its columns."""
    assert only_decoder(read_table(data.draw(headed_lists(saved)), "a.csv")) == saved


@given(SAVED_WITHOUT_INDEX)
def test_rows_of_cv_31_and_32_choose_the_page(saved: dict[Slot, int]) -> None:
    """Each value lies on the page that CVs 31 and 32 named last."""
    read = only_decoder(read_table(indexed_list(saved), "a.txt"))
    assert {slot: value for slot, value in read.items() if slot.cv not in (31, 32)} == saved


@given(SAVED_WITHOUT_INDEX)
def test_typed_values_are_taken_as_typed(saved: dict[Slot, int]) -> None:
    """What is typed as CV=value is taken as typed, and said to be typed."""
    typed = parse_typed(f"{slot.typed}={value}" for slot, value in saved.items())
    assert numbers(typed) == saved
    assert {value.how for value in typed.values()} == {"typed"}


@given(st.lists(SAVED, min_size=1, max_size=4))
def test_later_tables_of_a_loco_file_win(tables: list[dict[Slot, int]]) -> None:
    """Of several saved tables the later one wins, CV by CV, and each value knows its line."""
    text = loco_file(tables)
    (decoder,) = read_loco(text, "a.toml").decoders
    wanted: dict[Slot, int] = {}
    for table in tables:
        wanted.update(table)
    assert numbers(decoder.values) == wanted
    lines = text.splitlines()
    for slot, value in decoder.values.items():
        assert value.position is not None
        assert value.position.line is not None
        assert lines[value.position.line - 1] == f"{slot.cv} = {value.value}"


@given(st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1))
def test_text_survives_its_encoding(text: str) -> None:
    """UTF-8 with or without its mark and UTF-16 of both orders give the same text."""
    text = text.removeprefix("\ufeff")
    for data in (
        b"\xef\xbb\xbf" + text.encode("utf-8"),
        b"\xff\xfe" + text.encode("utf-16-le"),
        b"\xfe\xff" + text.encode("utf-16-be"),
    ):
        assert decode_list(data, "a.txt") == text
    assert decode_list(text.encode("utf-8"), "a.txt") == text
    assert decode(text.encode("utf-8"), "a.toml") == text


WORDS = ("Lok 7", "Höhe", "–", "3 €", "„Spaß“", "Straße", "Ö", "\n")


@given(st.lists(st.sampled_from(WORDS), min_size=1).map(" ".join))
def test_a_list_in_windows_1252_is_what_was_typed(text: str) -> None:
    """German words with dashes, quotes and a euro sign come out as they went in."""
    assert decode_list(text.encode("cp1252"), "a.txt") == text
