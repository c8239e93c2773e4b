"""CV numbers, index pages and bits.

Numbers 1-1024, values 0-255, bits 0-7 and the pages of CVs 257-512: NMRA S-9.2.2 (2012-07) and
RCN-225 (2025-07-27), CVs 31-32.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cvlib.errors import InputError
from cvlib.model.cv import (
    WHOLE,
    Field,
    Page,
    Slot,
    bits_of,
    bits_text,
    check_cv,
    make_slot,
    parse_bits,
    parse_numbers,
    parse_slot,
    spans_text,
)

NO_CV = "CV numbers run from 1 to 1024."
NO_PAGE = 'Write the values of CV 31 and CV 32, each 0-255, such as "16/2".'


@pytest.mark.parametrize(
    ("text", "slot"),
    [
        ("1", Slot(1)),
        ("1024", Slot(1024)),
        (" 27 ", Slot(27)),
        ("027", Slot(27)),
        ("257", Slot(257)),
        ("257@16/2", Slot(257, Page(16, 2))),
        ("512@255/255", Slot(512, Page(255, 255))),
        ("257@0/0", Slot(257, Page(0, 0))),
    ],
)
def test_a_slot_as_it_is_typed(text: str, slot: Slot) -> None:
    """A CV number, with its index page where it lies on one."""
    assert parse_slot(text) == slot


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("0", f"CV 0 does not exist. {NO_CV}"),
        ("1025", f"CV 1025 does not exist. {NO_CV}"),
        ("-1", f'"-1" is not a CV number. {NO_CV}'),
        ("1.5", f'"1.5" is not a CV number. {NO_CV}'),
        ("0x1B", f'"0x1B" is not a CV number. {NO_CV}'),
        ("", f'"" is not a CV number. {NO_CV}'),
        ("٢٧", f'"٢٧" is not a CV number. {NO_CV}'),
        ("1" * 50, f'"{"1" * 40}" is not a CV number. {NO_CV}'),
        ("257@", f'"" is not an index page. {NO_PAGE}'),
        ("257@16", f'"16" is not an index page. {NO_PAGE}'),
        ("257@16.2", f'"16.2" is not an index page. {NO_PAGE}'),
        ("257@256/0", f'"256/0" is not an index page. {NO_PAGE}'),
        ("257@0/256", f'"0/256" is not an index page. {NO_PAGE}'),
        ("257@1/2/3", f'"1/2/3" is not an index page. {NO_PAGE}'),
        ("257@" + "1" * 50, f'"{"1" * 40}" is not an index page. {NO_PAGE}'),
        (
            "256@16/2",
            "CV 256 cannot lie on an index page. Only CVs 257 to 512 lie on a page; leave the "
            "page out.",
        ),
        (
            "513@16/2",
            "CV 513 cannot lie on an index page. Only CVs 257 to 512 lie on a page; leave the "
            "page out.",
        ),
    ],
)
def test_what_is_no_slot_is_refused_in_one_line(text: str, error: str) -> None:
    """The error says what is wrong and what would be right."""
    with pytest.raises(InputError) as raised:
        parse_slot(text)
    assert str(raised.value) == error


@given(st.integers(1, 1024), st.none() | st.builds(Page, st.integers(0, 255), st.integers(0, 255)))
def test_a_typed_slot_is_read_back(cv: int, page: Page | None) -> None:
    """What a slot is typed as means that slot, wherever it may lie on a page."""
    if page is None or 257 <= cv <= 512:
        slot = make_slot(cv, page)
        assert parse_slot(slot.typed) == slot


def test_slots_in_words_and_in_order() -> None:
    """A paged CV is said with its page; slots sort by number, unpaged before paged."""
    slots = [Slot(257, Page(16, 2)), Slot(300), Slot(257, Page(2, 9)), Slot(257), Slot(3)]
    assert [str(slot) for slot in sorted(slots, key=lambda slot: slot.order)] == [
        "CV 3",
        "CV 257",
        "CV 257 on page 2/9",
        "CV 257 on page 16/2",
        "CV 300",
    ]


@pytest.mark.parametrize("number", [1, 27, 1024])
def test_a_cv_that_exists(number: int) -> None:
    """CVs 1 to 1024 exist."""
    assert check_cv(number) == number


@pytest.mark.parametrize("number", [0, -1, 1025])
def test_a_cv_that_does_not_exist(number: int) -> None:
    """Any other number is refused."""
    with pytest.raises(InputError, match=f"CV {number} does not exist. {NO_CV}"):
        check_cv(number)


@pytest.mark.parametrize(
    ("text", "mask", "words"),
    [
        ("0-7", 0xFF, "0-7"),
        ("0-3", 0x0F, "0-3"),
        ("5", 0x20, "5"),
        ("3, 6-7", 0xC8, "3, 6-7"),
        ("6-7,3", 0xC8, "3, 6-7"),
        ("0, 0, 1", 0x03, "0-1"),
        (" 0 - 1 , 7 ", 0x83, "0-1, 7"),
    ],
)
def test_bits(text: str, mask: int, words: str) -> None:
    """Bits are numbered 0 to 7 from the low end; spans have the lower number first."""
    assert parse_bits(text) == mask
    assert bits_text(mask) == words


@pytest.mark.parametrize("text", ["8", "3-0", "", "a", "0-8", "-1", "1,", "0..3", "1 2"])
def test_what_is_no_bits_is_refused(text: str) -> None:
    """A span the wrong way round, a bit 8 or no number at all is refused in one line."""
    with pytest.raises(InputError) as raised:
        parse_bits(text)
    assert str(raised.value) == (
        f'bits "{text}" is not understood. Write numbers 0-7 or spans, lower number first.'
    )


@given(st.integers(1, 255))
def test_bits_in_words_mean_the_bits(mask: int) -> None:
    """The words for a mask mean that mask, and the bits set are those of the mask."""
    assert parse_bits(bits_text(mask)) == mask
    assert sum(1 << bit for bit in bits_of(mask)) == mask


def test_numbers_keep_their_order() -> None:
    """Listed numbers come in the order given; only rising neighbours are joined in words."""
    assert parse_numbers("67-69, 3", 1, 1024, "cvs") == (67, 68, 69, 3)
    assert spans_text((3, 67, 68, 69, 71)) == "3, 67-69, 71"
    assert spans_text(()) == ""
    with pytest.raises(InputError, match='cvs "1020-1030" is not understood'):
        parse_numbers("1020-1030", 1, 1024, "cvs")
    with pytest.raises(InputError, match=f'cvs "{"x" * 40}" is not understood'):
        parse_numbers("x" * 50, 1, 1024, "cvs")


@pytest.mark.parametrize(
    ("mask", "shift", "width", "bits"),
    [(0xFF, 0, 8, None), (0x0F, 0, 4, "0-3"), (0x20, 5, 1, "5"), (0xC8, 3, 5, "3, 6-7")],
)
def test_a_field(mask: int, shift: int, width: int, bits: str | None) -> None:
    """A field lies so far above bit 0, reaches from its lowest to its highest bit, has words."""
    field = Field(Slot(29), mask)
    assert (field.shift, field.width, field.bits) == (shift, width, bits)


@given(st.integers(1, 255), st.integers(0, 255), st.integers(0, 255))
def test_putting_and_taking_are_inverse(mask: int, byte: int, value: int) -> None:
    """A field takes what was put into it and leaves all other bits alone."""
    field = Field(Slot(29), mask)
    kept = field.take(mask) & value
    assert field.take(field.put(byte, kept)) == kept
    assert field.put(byte, kept) & ~mask & WHOLE == byte & ~mask & WHOLE
    assert field.put(byte, field.take(byte)) == byte
    assert field.take(byte) <= (1 << field.width) - 1
