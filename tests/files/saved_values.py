"""Saved values and the many ways people write them down, for property tests."""

from hypothesis import strategies as st

from cvlib.model.cv import FIRST_PAGED, LAST_CV, LAST_PAGED, Page, Slot

BYTES = st.integers(0, 255)
PLAIN_SLOTS = st.integers(1, LAST_CV).map(Slot)
PAGES = st.builds(Page, BYTES, BYTES)
PAGED_SLOTS = st.builds(Slot, st.integers(FIRST_PAGED, LAST_PAGED), PAGES)
SLOTS = st.one_of(PLAIN_SLOTS, PAGED_SLOTS)
SAVED = st.dictionaries(SLOTS, BYTES, min_size=1, max_size=12)
SAVED_WITHOUT_INDEX = st.dictionaries(
    SLOTS.filter(lambda slot: slot.cv not in (31, 32)), BYTES, min_size=1, max_size=12
)
LINE_ENDS = st.sampled_from(("\n", "\r\n", "\r"))
SIGNS = st.sampled_from((" = ", "=", ": ", " : ", ":", " -> ", ";", ",", ", ", "\t", " ", "   "))
NOTATIONS = st.sampled_from(("{}", "{:03}", "0x{:02X}", "0x{:x}", "${:x}", "0{:x}h", "0b{:08b}"))
SPELLINGS = st.sampled_from(("{}", "CV{}", "CV {}", "cv{}", "CV-{}", "CV_{}", "Cv #{}"))
BETWEEN = st.sampled_from(("", "# 27 = 200", "; 27 = 200", "// 27 = 200", "Motor:", "[Motor]"))

DELIMITERS = st.sampled_from((",", ";", "\t", "|"))
NUMBER_HEADINGS = st.sampled_from(("CV", "cv-nr.", "CV number", "Nummer", "CV-Nummer", "No."))
VALUE_HEADINGS = st.sampled_from(
    (
        ("Value", "{}"),
        ("Wert", "0x{:X}"),
        ("Wert (dez.)", "{}"),
        ("Dec", "{:03}"),
        ("hex", "{:02X}"),
        ("Value [hex]", "{:X}h"),
        ("Bin", "{:08b}"),
    )
)
PAGE_HEADINGS = st.sampled_from(("Page", "Index page", "Seite", "CV31/CV32"))
OTHER_CELLS = st.sampled_from(("", "Anhalteweg", "28 steps", '"12;13,14\t15|16"', '"a ""27"" b"'))


@st.composite
def plain_lists(draw: st.DrawFn, saved: dict[Slot, int]) -> str:
    """The values as a list without headings."""
    lines: list[str] = []
    for slot, value in saved.items():
        number, _, page = slot.typed.partition("@")
        spelt = draw(SPELLINGS).format(number) + (f"@{page}" if page else "")
        lines.append(spelt + draw(SIGNS) + draw(NOTATIONS).format(value))
        lines.append(draw(BETWEEN))
    return draw(LINE_ENDS).join(lines)


@st.composite
def headed_lists(draw: st.DrawFn, saved: dict[Slot, int]) -> str:
    """The values as a table with headings, its columns in any order."""
    delimiter = draw(DELIMITERS)
    value_heading, form = draw(VALUE_HEADINGS)
    headings = {
        "number": draw(NUMBER_HEADINGS),
        "value": value_heading,
        "page": draw(PAGE_HEADINGS),
        "name": "Name",
    }
    order = draw(st.permutations(list(headings)))
    if delimiter == ";" and draw(st.booleans()):
        order = ["number", *(part for part in order if part != "number")]
    rows = [[headings[part] for part in order]]
    for slot, value in saved.items():
        cells = {
            "number": draw(SPELLINGS).format(slot.cv),
            "value": form.format(value),
            "page": str(slot.page or draw(st.sampled_from(("", "-")))),
            "name": draw(OTHER_CELLS) if delimiter != "|" else "",
        }
        rows.append([cells[part] for part in order])
    edge = "|" if delimiter == "|" else ""
    return draw(LINE_ENDS).join(edge + delimiter.join(row) + edge for row in rows)


def indexed_list(saved: dict[Slot, int]) -> str:
    """The values as a list in which rows of CVs 31 and 32 choose the page."""
    lines: list[str] = []
    for slot, value in sorted(saved.items(), key=lambda item: (item[0].page or (-1, -1), item[0])):
        if slot.page:
            lines += [f"31={slot.page.high}", f"32={slot.page.low}"]
        lines.append(f"{slot.cv}={value}")
    return "\n".join(lines)


def loco_file(tables: list[dict[Slot, int]]) -> str:
    """A loco file of one decoder with one saved table for each of the given ones."""
    lines = ["format = 1", "[loco]", 'name = "Shunter"', "[[decoder]]"]
    for saved in tables:
        lines += ["[[decoder.saved]]", "[decoder.saved.cv]"]
        lines += [f"{slot.cv} = {value}" for slot, value in saved.items() if not slot.page]
        for page in sorted({slot.page for slot in saved if slot.page}):
            lines.append(f'[decoder.saved.page."{page}"]')
            lines += [f"{slot.cv} = {value}" for slot, value in saved.items() if slot.page == page]
    return "\n".join(lines) + "\n"
