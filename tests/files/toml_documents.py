"""Valid TOML documents in every dress the format allows, for property tests."""

from collections.abc import Iterator
from itertools import count

from hypothesis import strategies as st

NAMES = ("cv", "place", "27", "16/2", "a.b", "a b", "", "=", "#x", "[y]", 'q"t', "it's", "é", "\\")
BLANKS = ("", " ", "\t")
ENDS = ("", "  # note = [1] \"x\" 'y'")
TEXTS = (
    '"plain"',
    '"with \\" and \\\\ and # and ]"',
    "'literal \\ # } \"'",
    '"""\nmany ""lines""\n[x]\ny = 1 \\""" """',
    '"""ends with two"""""',
    "'''\nlit''eral\n[z]\n'''",
    "'''ends with one''''",
    '""',
    "''",
    '""""""',
    "''''''",
)
OTHERS = (
    "true",
    "false",
    "-1.5e3",
    "inf",
    "0xFF",
    "1_000",
    "2026-03-14",
    "2026-03-14 07:32:00",
    "2026-03-14T07:32:00.5+01:00",
    "07:32:00",
    "[]",
    "{}",
    "[ # empty\n]",
)


class Document:
    """One document as it is drawn; each number in it occurs once, so that none is mistaken."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.numbers = count(100_000)
        self.lines: list[str] = []

    def pick(self, *choices: str) -> str:
        """One of the texts."""
        return self.draw(st.sampled_from(choices))

    def names(self, most: int) -> list[str]:
        """Different names, at most that many."""
        return self.draw(st.lists(st.sampled_from(NAMES), max_size=most, unique=True))

    def key(self, name: str) -> str:
        """The name as a key: bare where it may be, else in quotes of either kind."""
        escaped = name.replace("\\", "\\\\").replace('"', '\\"').replace("é", "\\u00e9")
        forms = [f'"{escaped}"']
        if "'" not in name:
            forms.append(f"'{name}'")
        if name in ("cv", "place", "27"):
            forms.append(name)
        return self.pick(*forms)

    def dotted(self, names: list[str]) -> str:
        """The names as a dotted key."""
        dot = self.pick(".", " . ", ".\t")
        return dot.join(self.key(name) for name in names)

    def value(self, depth: int) -> str:
        """A value: most often a number of its own."""
        sort = self.draw(st.integers(0, 7 if depth else 5))
        if sort < 3:
            return str(next(self.numbers))
        if sort < 6:
            return self.pick(*(TEXTS if sort < 5 else OTHERS))
        blank = self.pick(*BLANKS, "\n", " # ] }\n  ") if sort == 6 else self.pick(*BLANKS)
        if sort == 6:
            inner = [self.value(depth - 1) for _ in range(self.draw(st.integers(1, 3)))]
            return "[" + blank + f"{blank},{blank}".join(inner) + blank + self.pick("", ",") + "]"
        pairs = [self.pair([name], depth - 1) for name in self.names(3)]
        return "{" + blank + f"{blank},{blank}".join(pairs) + blank + "}"

    def pair(self, names: list[str], depth: int) -> str:
        """A key, dotted or not, with its value."""
        names = [*names, *self.names(2)] if depth else names
        gap = self.pick(*BLANKS)
        return f"{self.dotted(names)}{gap}={gap}{self.value(depth)}"

    def line(self, text: str) -> None:
        """One line of the document, perhaps with a comment, a blank line or spaces around it."""
        self.lines.append(self.pick("", " ") + text + self.pick(*ENDS))
        self.lines.extend(self.pick("none", "", "# x = 1") for _ in range(1))
        if self.lines[-1] == "none":
            self.lines.pop()

    def table(self, outer: list[str], depth: int) -> None:
        """The body of a table and then the tables and lists of tables below it."""
        names = self.names(5)
        cut = self.draw(st.integers(0, len(names))) if depth else len(names)
        for name in names[:cut]:
            self.line(self.pair([name], 2))
        for name in names[cut:]:
            below = [*outer, name]
            gap = self.pick(*BLANKS)
            if self.draw(st.booleans()):
                if self.draw(st.booleans()):
                    below.append(self.pick(*NAMES))
                self.line(f"[{gap}{self.dotted(below)}{gap}]")
                self.table(below, depth - 1)
            else:
                for _ in range(self.draw(st.integers(1, 2))):
                    self.line(f"[[{gap}{self.dotted(below)}{gap}]]")
                    self.table(below, depth - 1)


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A valid document, with line ends of one of the two kinds."""
    document = Document(draw)
    document.table([], 3)
    return draw(st.sampled_from(("\n", "\r\n"))).join(document.lines) + draw(
        st.sampled_from(("", "\n", "\n# end"))
    )


def paths(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every path of a parsed document, tables and lists among them."""
    if path:
        yield path
    children: Iterator[tuple[str | int, object]] = iter(())
    if isinstance(value, dict):
        children = iter(value.items())
    elif isinstance(value, list):
        children = iter(enumerate(value))
    for key, child in children:
        yield from paths(child, (*path, key))
