"""The line of a decoder as pictures: firmware on an axis, and each setting as a track through it.

Places are given in hundredths of the width, so that a picture fits every screen and its words keep
their size. Each column is a drawing of its own: a narrow screen may leave columns out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cvlib.engine.known.line import Known, Stretch, same_placed
from cvlib.engine.known.timeline import Life
from cvlib.model.answer import Answer, Standing
from cvlib.model.facet import PLACING, Facet, facets, same_placing
from cvlib.model.profile import Place
from cvlib.model.ranges import FirmwareRange
from cvlib.render.html import Child, Element, tag
from cvlib.render.site.facts import Course, DecoderFacts, is_unread
from cvlib.render.views.overview import alike
from cvlib.render.views.review_comment import Slice
from cvlib.render.views.review_words import Row

ROW, HEAD, RAIL = 40, 34, 28
"""Pixels: a row, the heads of the columns, and how deep in its row a line lies."""
LEAST = 52
"""Pixels that a column needs at least."""
MOST_COLUMNS = 11
"""Columns that fit on a sheet of paper; with more the table stands for the picture there."""
MOST_LETTERS = 44

_LINES = {
    Standing.DOCUMENTED: "rail",
    Standing.BENCH: "rail",
    Standing.FAULTY: "rail",
    Standing.BETWEEN: "rail between",
    Standing.BEFORE: "rail guess",
    Standing.BEYOND: "rail guess",
    Standing.DISPUTED: "rail between",
    Standing.ASSUMED: "rail assumed",
}

LEGEND = (
    "Solid: documented. Dashed: between two documents that agree. Dotted: older or newer than all "
    "documents. Thin: by a standard alone. A thick bar: it begins or ends there. A fork with "
    "“?”: nobody knows which. “!”: other values from there on. A ring: a bench test. Shaded: "
    "nobody read this."
)


def tracks(facts: DecoderFacts, group: str, lives: Sequence[Life]) -> Element:
    """The settings of a group that changed, each a row with its track."""
    rows = alike(lives)
    heads = [head_lines(one.firmware, one.known) for one in facts.columns]
    cells = [
        [one for n, row in enumerate(rows) for one in _cell(facts, row[0], at, HEAD + ROW * n)]
        for at in range(len(facts.columns))
    ]
    names = [
        _name(row[0].setting.title, len(row), facts.courses[row[0].setting.id], HEAD + ROW * n)
        for n, row in enumerate(rows)
    ]
    unread = [is_unread(one) for one in facts.columns]
    return _picture(f"Tracks of {group}", heads, unread, cells, names)


def before_and_after(label: str, lines: Sequence[Sequence[Row]], cut: Sequence[Slice]) -> Element:
    """Settings of a review, each with its track before a change and after it.

    Where nothing changed in a setting, its track is left out.
    """
    heads = [("", ""), *(head_lines(one.firmware, Known.COVERED) for one in cut)]
    cells: list[list[Element]] = [[] for _ in heads]
    names: list[Element] = []
    for n, line in enumerate(lines):
        top = HEAD + (2 * ROW - 8) * n
        first = line[0].first
        names.append(_name(first.title, len(line[0].changes), first.kinds[0].value, top))
        for lane, word in enumerate(("before", "after")):
            y = top + lane * (ROW - 10)
            names.append(tag("text", word, x=2, y=y + RAIL + 4, class_="lane"))
            sides = [_side(one.cells[n], word) for one in cut]
            for at, answer in enumerate(sides):
                near = sides[at - 1] if at else None, (*sides, None)[at + 1]
                drawn = _track(answer, near, y, "") if answer else []
                if cut[at].cells[n] is not None:
                    cells[at + 1] += drawn or [_none(y)]
    height = HEAD + (2 * ROW - 8) * len(lines)
    return _picture(label, heads, [False] * len(heads), cells, names, height)


def _side(row: Row | None, word: str) -> Answer | None:
    """The answer before or after a change; nothing where it is none of this setting's."""
    if row is None:
        return None
    return row.first.before if word == "before" else row.first.after


def _none(top: int) -> Element:
    return tag("text", "none", x=6, y=top + RAIL + 4, class_="small")


def _picture(
    label: str,
    heads: Sequence[tuple[str, str]],
    unread: Sequence[bool],
    cells: Sequence[Sequence[Element]],
    names: Sequence[Element],
    height: int = 0,
) -> Element:
    """Columns side by side, each a drawing of its own, and the names of the rows above them."""
    wide = len(heads)
    height = height or HEAD + ROW * len(names)
    shades, drawn = [], []
    for at, (head, shaded) in enumerate(zip(heads, unread, strict=True)):
        place: dict[str, str | int] = {
            "x": f"{100 * at / wide:.3f}%",
            "width": f"{100 / wide:.3f}%",
            "data_n": at,
        }
        shade = _shade(height, is_unread=shaded)
        shades.append(tag("svg", shade, class_="shade", height=height, **place))
        drawn.append(tag("svg", _head(head), cells[at], overflow="visible", class_="col", **place))
    kind = "track wide" if wide > MOST_COLUMNS else "track"
    title = f"{label}; the table beneath says the same"
    return _drawing(label, title, (shades, drawn, names), (LEAST * wide, height), kind)


def _drawing(
    label: str, title: str, drawn: Child, size: tuple[int, int], kind: str = "track"
) -> Element:
    """A drawing that scrolls where a screen is narrower than it has to be, in pixels."""
    narrowest, height = size
    style = f"min-width:{narrowest}px"
    picture = tag("svg", tag("title", title), drawn, role="img", height=height, style=style)
    return tag("div", picture, class_=kind, tabindex="0", role="group", aria_label=label)


def head_lines(firmware: FirmwareRange, known: Known) -> tuple[str, str]:
    """The head of a column in two short lines."""
    text = firmware.text()
    if known is Known.GAP:
        return ("nobody", "read this")
    span, *more = text.split(" or ")
    parts = [part.strip() for part in span.split(",")]
    figures = [part.lstrip("<>=") for part in parts]
    rest = " …" if more else ""
    if len(parts) == 2:
        return (figures[0], f"{'to' if '<=' in text else 'before'} {figures[1]}{rest}")
    signs = {"<": "before", "<=": "up to", ">": "after", ">=": "from"}
    sign = parts[0][: len(parts[0]) - len(figures[0])]
    return (signs[sign], f"{figures[0]}{rest}") if sign in signs else (figures[0], rest)


def _shade(height: int, *, is_unread: bool) -> Child:
    frame = tag("rect", width="100%", height=height, class_="choice", fill="none")
    if not is_unread:
        return frame
    return tag("rect", width="100%", height=height, class_="unread"), frame


def _head(head: tuple[str, str]) -> list[Element]:
    return [
        tag("text", line, x="50%", y=12 + 13 * at, class_="head") for at, line in enumerate(head)
    ]


def _name(title: str, number: int, word: str, top: int) -> Element:
    """What a row is about and what became of it; the table has the whole of a long name."""
    more = f" and {number - 1} more" if number > 1 else ""
    if len(title) > MOST_LETTERS:
        title = f"{title[: MOST_LETTERS - 1]}…"
    said = tag("tspan", f" {word}", class_="word")
    return tag("text", title, more, said, x=2, y=top + 11, class_="name")


def _cell(facts: DecoderFacts, life: Life, at: int, top: int) -> list[Element]:
    """One setting in one column: its line, with what begins and ends there."""
    columns = facts.columns
    before = _answer(columns[at - 1], life) if at else None
    after = _answer(columns[at + 1], life) if at + 1 < len(columns) else None
    answer = _answer(columns[at], life)
    found = _track(answer, (before, after), top, _mark(life, facts, at))
    return [*found, *_tests(facts, life, columns[at], top + RAIL)]


def _track(
    answer: Answer, near: tuple[Answer | None, Answer | None], top: int, mark: str
) -> list[Element]:
    """The line of an answer between those of the columns beside it."""
    before, after = near
    if answer.is_disputed:
        return list(_fork(answer, before, after, top))
    if answer.place is None:
        return []
    y = top + RAIL
    is_again = before is not None and _goes_on(before, answer)
    return [
        tag("line", x1="0%", x2="100%", y1=y, y2=y, class_=_LINES[answer.standing]),
        *_stops(answer, before, after, y),
        *_plate(answer.place, mark, y, is_again=is_again),
    ]


def _answer(column: Stretch, life: Life) -> Answer:
    return next(one for one in column.answers if one.setting == life.setting.id)


def _goes_on(before: Answer, answer: Answer) -> bool:
    """Whether a place is that of the column before, so that it needs no second label."""
    return not before.is_disputed and same_placing(before.place, answer.place)


def _stops(
    answer: Answer, before: Answer | None, after: Answer | None, y: int
) -> Iterator[Element]:
    """Thick bars where a documented place begins and ends."""
    if answer.standing not in (Standing.DOCUMENTED, Standing.BENCH):
        return
    for other, x in ((before, "2"), (after, "100%")):
        if other is not None and not other.is_disputed and not _goes_on(other, answer):
            yield tag("line", x1=x, x2=x, y1=y - 9, y2=y + 9, class_="stop")


def _mark(life: Life, facts: DecoderFacts, at: int) -> str:
    """The mark of other values at the same CVs, held against the last place before."""
    place = _answer(facts.columns[at], life).place
    for column in reversed(facts.columns[:at]):
        last = _answer(column, life).place
        if last is not None:
            found = facets(last, place) & PLACING
            return "!" if found and Facet.CVS not in found else ""
    return ""


def _plate(place: Place, mark: str, y: int, *, is_again: bool) -> Iterator[Element]:
    """The box with the CV; for columns further on it stands ready, hidden."""
    text = short_cv(place).split(" ")[0] if is_again else f"{short_cv(place)}{mark}"
    width = 10 + 6.4 * len(text)
    yield tag(
        "g",
        tag("rect", x=6, y=y - 9, width=f"{width:.0f}", height=18, class_="plate"),
        tag("text", text, x=f"{6 + width / 2:.1f}", y=y + 4, class_="label"),
        class_="again" if is_again else None,
    )


def _fork(
    answer: Answer, before: Answer | None, after: Answer | None, top: int
) -> Iterator[Element]:
    """Two legs with what each would be; equal neighbours are one fork."""
    opens = before is None or not same_placed(before, answer)
    closes = after is None or not same_placed(answer, after)
    y = top + RAIL
    first, last = "12%" if opens else "0%", "88%" if closes else "100%"
    labels = _sides(answer)
    for leg, label in zip((y - 7, y + 7), labels, strict=True):
        yield tag("line", x1=first, x2=last, y1=leg, y2=leg, class_="leg between")
        if opens:
            yield tag("line", x1="0%", x2=first, y1=y, y2=leg, class_="leg")
        if closes:
            yield tag("line", x1=last, x2="100%", y1=leg, y2=y, class_="leg")
        yield tag(
            "text",
            f"{label}?",
            x="16%",
            y=leg + 4,
            class_="small" if opens else "small again",
        )


def _sides(answer: Answer) -> tuple[str, str]:
    """The candidates in two labels."""
    found = list(
        dict.fromkeys("none" if place is None else short_cv(place) for place in answer.candidates)
    ) or ["not known"]
    if len(found) == 1:
        return found[0], f"{found[0]}!"
    return found[0], "/".join(found[1:])


def _tests(facts: DecoderFacts, life: Life, column: Stretch, y: int) -> Iterator[Element]:
    """A ring for each bench test of a setting, never a bar."""
    held = {
        citation.source
        for place in life.setting.places
        for citation in place.citations
        if citation.verdict is not None
    }
    tests = [
        name
        for name in sorted(held)
        if name in facts.profile.sources
        and not (facts.profile.sources[name].firmware & column.firmware).is_empty()
    ]
    for at, name in enumerate(tests):
        title = tag("title", f"bench test: {facts.profile.source_title(name)}")
        yield tag("circle", title, cx=f"{80 - 14 * at}%", cy=y, r=5, class_="dot")


def short_cv(place: Place) -> str:
    """A place in the fewest letters that a label may have: ``144``, ``29 bit 4``, ``67-94``."""
    if not place.fields:
        return "built in"
    numbers = [field.slot.cv for field in place.fields]
    if len(numbers) > 1:
        return f"{numbers[0]}-{numbers[-1]}" if numbers == sorted(numbers) else f"{numbers[0]} …"
    first = place.fields[0]
    return str(numbers[0]) if first.bits is None else f"{numbers[0]} bit {first.bits}"


def hatch() -> Element:
    """The pattern of what nobody read; once on each page with pictures."""
    line = tag("path", d="M0 8 8 0M-2 2 2-2M6 10 10 6", stroke="var(--hatch)", stroke_width=2)
    pattern = tag("pattern", line, id="hatch", width=8, height=8, patternUnits="userSpaceOnUse")
    return tag("svg", tag("defs", pattern), width=0, height=0, class_="defs", aria_hidden="true")


def axis(facts: DecoderFacts) -> Element:
    """Releases in their order, equally wide, with what was read of each; a test is a ring."""
    versions, profile = facts.versions, facts.profile
    documents = [one for one in profile.sources.values() if one.is_document]
    tests = [one for one in profile.sources.values() if not one.is_document]
    wide, top, row = len(versions), 20, 34
    height = top + row * (len(documents) + bool(tests)) + 78
    drawn: list[Element] = list(_unread(facts, height - 74))
    for number, source in enumerate(documents):
        y = top + row * number
        drawn.append(tag("text", source.title or source.id, x=2, y=y + 2, class_="name"))
        for start, end in _runs([version in source.firmware for version in versions]):
            left, width = f"{100 * start / wide:.3f}%", f"{100 * (end - start) / wide:.3f}%"
            drawn.append(tag("rect", x=left, y=y + 8, width=width, height=8, class_="doc"))
    y = top + row * len(documents)
    if tests:
        drawn.append(tag("text", "bench tests", x=2, y=y + 2, class_="name"))
    for at, version in enumerate(versions):
        for source in tests:
            if version in source.firmware:
                title = tag("title", f"{profile.source_title(source.id)} at {version}")
                middle = f"{100 * (at + 0.5) / wide:.3f}%"
                drawn.append(tag("circle", title, cx=middle, cy=y + 12, r=5, class_="dot"))
        drawn.append(_tick(facts, at, height - 74))
    told = "Releases in their order, and the documents that speak for each"
    return _drawing("Releases and documents", told, drawn, (30 * wide, height))


def _unread(facts: DecoderFacts, height: int) -> Iterator[Element]:
    versions = facts.versions
    wide = len(versions)
    for start, end in _runs([one not in facts.resolver.coverage for one in versions]):
        left, width = f"{100 * start / wide:.3f}%", f"{100 * (end - start) / wide:.3f}%"
        yield tag("rect", x=left, y=0, width=width, height=height, class_="unread")
        yield tag(
            "svg",
            tag("text", "nobody", x="50%", y=height - 18, class_="head"),
            tag("text", "read this", x="50%", y=height - 6, class_="head"),
            x=left,
            y=0,
            width=width,
            overflow="visible",
        )


def _tick(facts: DecoderFacts, at: int, y: int) -> Element:
    """The version and the date of a release, written aslant beneath the axis."""
    version = facts.versions[at]
    release = facts.profile.release_of(version)
    date = release.date[:7] if release else ""
    return tag(
        "svg",
        tag("line", x1="50%", x2="50%", y1=y, y2=y + 6, class_="rail"),
        tag(
            "svg",
            tag("text", str(version), transform="rotate(52)", x=2, y=2),
            tag("text", date, transform="rotate(52)", x=2, y=13, fill_opacity="0.85"),
            x="50%",
            y=y + 12,
            overflow="visible",
        ),
        x=f"{100 * at / len(facts.versions):.3f}%",
        overflow="visible",
        width=f"{100 / len(facts.versions):.3f}%",
    )


def _runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """Where flags are set: first and one behind the last of each run.

    >>> _runs([True, False, True, True])
    [(0, 1), (2, 4)]
    """
    found: list[tuple[int, int]] = []
    for at, flag in enumerate(flags):
        if not flag:
            continue
        if found and found[-1][1] == at:
            found[-1] = (found[-1][0], at + 1)
        else:
            found.append((at, at + 1))
    return found


def is_drawn(facts: DecoderFacts, life: Life) -> bool:
    """Whether a setting has a track of its own, and is not folded with those that never moved."""
    return facts.courses[life.setting.id] not in (Course.STEADY, Course.UNREAD)
