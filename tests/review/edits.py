"""Random edits of the text of a good profile: each is one slip that a person can make.

An edit gives the text back as it was where it finds nothing to do.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Mapping

Edit = Callable[[random.Random, str], str]

_AT = r"(?:^[ \t]*|[{,] ?)"
"""What stands before a key: a line begins, or a table in one line goes on."""
_PLACE = r"^[ \t]*\[\[(?:block\.)?setting\.place\]\]\n(?:[ \t]*[^\s\[].*\n|[ \t]*\n)*"
_SETTING = rf"^[ \t]*\[\[(?:block\.)?setting\]\]\n(?:[ \t]*[^\s\[].*\n|[ \t]*\n)*(?:{_PLACE[1:]})*"
_SOURCE = r"^\[\[source\]\]\n(?:[^\s\[].*\n|\n)*"
_RELEASE = r"^\[\[firmware\.release\]\]\n(?:[^\s\[].*\n|\n)*"


def _one_of(chance: random.Random, text: str, pattern: str) -> re.Match[str] | None:
    found = list(re.finditer(pattern, text, re.M))
    return chance.choice(found) if found else None


def _two_of(
    chance: random.Random, text: str, pattern: str
) -> tuple[re.Match[str], re.Match[str]] | None:
    found = list(re.finditer(pattern, text, re.M))
    if len(found) < 2:
        return None
    one, other = sorted(chance.sample(found, 2), key=lambda held: held.start())
    return one, other


def _replaced(text: str, found: re.Match[str], value: str, group: int = 0) -> str:
    return text[: found.start(group)] + value + text[found.end(group) :]


def _number_after(key: str) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"{_AT}{key} = [^\n}}]*?(\d+)")
        if not found:
            return text
        step = chance.choice([-2, -1, 1, 1, 2, 10])
        return _replaced(text, found, str(max(0, int(found[1]) + step)), 1)

    return edit


def _any_number(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"(?<![\w.\"-])\d+(?![\w.\"-])")
    return _replaced(text, found, str(int(found[0]) + chance.choice([1, 2, 7]))) if found else text


def _edge(text: str, chance: random.Random) -> re.Match[str] | None:
    return _one_of(chance, text, rf"{_AT}firmware = [^\n}}]*?((>=|<=|==|>|<)([\w.-]+))")


def _sign_changed(chance: random.Random, text: str) -> str:
    found = _edge(text, chance)
    other = {">=": ">", ">": ">=", "<=": "<", "<": "<=", "==": ">="}
    return _replaced(text, found, other[found[2]], 2) if found else text


def _edge_moved(chance: random.Random, text: str) -> str:
    """The last figure of a version in a range is another one."""
    found = _edge(text, chance)
    if not found:
        return text
    figures = re.split(r"(\d+)", found[3])
    figures[-2] = str(max(0, int(figures[-2]) + chance.choice([-1, 1, 3])))
    return _replaced(text, found, "".join(figures), 3)


def _range_opened(chance: random.Random, text: str) -> str:
    """A range without its upper end: what one firmware has is claimed for all newer ones."""
    found = _one_of(chance, text, rf"{_AT}firmware = \".*?(, ?<=?[\w.-]+)\"")
    return _replaced(text, found, "", 1) if found else text


def _edge_of_another(chance: random.Random, text: str) -> str:
    """The firmware of one place or source also given to another."""
    both = _two_of(chance, text, rf"{_AT}firmware = (\"[^\"]*\")")
    return _replaced(text, both[1], both[0][1], 1) if both else text


def _line_dropped(key: str) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"^[ \t]*{key} = .*\n")
        return _replaced(text, found, "") if found else text

    return edit


def _date_of_a_test_dropped(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"kind = \"bench\"\n(?:.*\n)?(date = .*\n)")
    return _replaced(text, found, "", 1) if found else text


def _word_of(key: str, choices: Iterable[str]) -> Edit:
    held = list(choices)

    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, rf"{_AT}{key} = \"([^\"\n]*)\"")
        return _replaced(text, found, chance.choice(held), 1) if found else text

    return edit


def _misspelt(pattern: str) -> Edit:
    """Two letters of a word change places, or one is left out."""

    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, pattern)
        if not found or len(found[1]) < 4:
            return text
        word, at = found[1], chance.randrange(1, len(found[1]) - 2)
        turned = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        return _replaced(text, found, chance.choice([turned, word[:at] + word[at + 1 :]]), 1)

    return edit


def _swapped(pattern: str) -> Edit:
    """What two keys of one sort say changes places."""

    def edit(chance: random.Random, text: str) -> str:
        both = _two_of(chance, text, pattern)
        if both is None:
            return text
        one, other = both
        return _replaced(_replaced(text, other, one[1], 1), one, other[1], 1)

    return edit


def _dropped(pattern: str, group: int = 0) -> Edit:
    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, pattern)
        return _replaced(text, found, "", group) if found else text

    return edit


def _place_doubled(step: int) -> Edit:
    """A place written twice, the second time so many CVs further."""

    def edit(chance: random.Random, text: str) -> str:
        found = _one_of(chance, text, _PLACE)
        if not found:
            return text
        again = re.sub(r"cv = (\d+)", lambda cv: f"cv = {int(cv[1]) + step}", found[0])
        return _replaced(text, found, found[0].rstrip("\n") + "\n\n" + again)

    return edit


def _default_outside(chance: random.Random, text: str) -> str:
    """A default above the range of the same place."""
    found = _one_of(
        chance, text, r"range = \[-?\d+, (\d+)\](?:[^\[]*?\n)??[^\[\n]*?[ ,{]default = (\d+)"
    )
    return _replaced(text, found, str(int(found[1]) + chance.choice([1, 5])), 2) if found else text


def _byte_dropped(chance: random.Random, text: str) -> str:
    """A value of two CVs that has only one of them left."""
    found = _one_of(chance, text, rf"{_AT}(cvs = \[(\d+), (\d+)\])")
    return (
        _replaced(text, found, f"cv = {chance.choice([found[2], found[3]])}", 1) if found else text
    )


def _span_shortened(chance: random.Random, text: str) -> str:
    """A curve or a text without its last CV."""
    found = _one_of(chance, text, rf"{_AT}cvs = \"\d+-(\d+)\"")
    return _replaced(text, found, str(int(found[1]) - 1), 1) if found else text


def _choice(chance: random.Random, text: str) -> re.Match[str] | None:
    table = _one_of(chance, text, rf"{_AT}(?:choices|flags|values) = (\{{.*?\}})")
    if table is None:
        return None
    within = list(re.finditer(r"(?:\"[\d-]+\"|\d+) = \"([^\"]+)\"(?:, )?", table[1]))
    if not within:
        return None
    one = chance.choice(within)
    return re.compile(re.escape(one[0])).search(text, table.start(1) + one.start())


def _choice_removed(chance: random.Random, text: str) -> str:
    found = _choice(chance, text)
    return _replaced(text, found, "") if found else text


def _name_of_a_value(chance: random.Random, text: str) -> str:
    found = _choice(chance, text)
    return (
        _replaced(text, found, re.sub(r"\"([^\"]+)\"(,? ?)$", r'"\1s"\2', found[0]))
        if found
        else text
    )


def _switched(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"\b(?:true|false)\b")
    return _replaced(text, found, "false" if found[0] == "true" else "true") if found else text


def _zero_added(chance: random.Random, text: str) -> str:
    """A version with a zero before its last figure: 2.05 for 2.5."""
    found = _one_of(chance, text, r"(?:version = \"|[<>=]=?)\d+(?:\.\d+)*?\.(\d+[a-z]?)\b")
    return _replaced(text, found, "0" + found[1], 1) if found else text


def _date_of(table: str, day: str, old: str = r"\d") -> Edit:
    """The date of a table that has one which begins like that."""

    def edit(chance: random.Random, text: str) -> str:
        pattern = rf"^\[\[{table}\]\]\n(?:[^\s\[].*\n)*?date = ({old}.+)\n"
        found = _one_of(chance, text, pattern)
        return _replaced(text, found, day, 1) if found else text

    return edit


def _title_in_the_help(chance: random.Random, text: str) -> str:
    found = _one_of(chance, text, r"^[ \t]*title = \"(.*)\"\n[ \t]*help = \"(.*)\"")
    return _replaced(text, found, f"The {found[1].lower()}.", 2) if found else text


def _title_of_another(chance: random.Random, text: str) -> str:
    both = _two_of(chance, text, r"^[ \t]*\[\[setting\]\]\n.*\n[ \t]*title = \"(.*)\"")
    return _replaced(text, both[1], both[0][1], 1) if both else text


_CITED = r"(?:sources = \[|, )\"([\w-]+)(:[\w.-]+)\""

EDITS: Mapping[str, Edit] = {
    "any number": _any_number,
    "CV number": _number_after("cv"),
    "CVs": _number_after("cvs"),
    "two CVs swapped": _swapped(rf"{_AT}cv = (\d+)"),
    "high or low byte dropped": _byte_dropped,
    "last CV of a span dropped": _span_shortened,
    "bits": _word_of("bits", ["0", "1", "2-3", "0-3", "4-7", "7", "0-6"]),
    "two bits swapped": _swapped(rf"{_AT}bits = \"(.*?)\""),
    "bits dropped": _dropped(rf"{_AT}(bits = \".*?\"(?:, |\n))", 1),
    "index page": _number_after("page"),
    "repeat": _number_after("repeat"),
    "default": _number_after("default"),
    "default outside the range": _default_outside,
    "default dropped": _line_dropped("default"),
    "value range": _number_after("range"),
    "scale": _number_after("scale"),
    "offset": _number_after("offset"),
    "unit": _word_of("unit", ["s", "ms", "cm", "V", "%"]),
    "unit misspelt": _word_of("unit", ["sec", "secs", "percent", "volts"]),
    "kind": _word_of("kind", ["number", "switch", "flags", "curve", "bench", "maker"]),
    "choice removed": _choice_removed,
    "name of a value": _name_of_a_value,
    "mark or switch": _switched,
    "condition dropped": _line_dropped("when"),
    "firmware sign": _sign_changed,
    "firmware edge": _edge_moved,
    "range opened": _range_opened,
    "range of another place": _edge_of_another,
    "firmware line dropped": _line_dropped("firmware"),
    "place dropped": _dropped(_PLACE),
    "place duplicated": _place_doubled(0),
    "place doubled": _place_doubled(1),
    "setting dropped": _dropped(_SETTING),
    "setting duplicated": lambda chance, text: (
        _replaced(text, found, found[0].rstrip("\n") + "\n\n" + found[0])
        if (found := _one_of(chance, text, _SETTING))
        else text
    ),
    "setting's id misspelt": _misspelt(
        r"^[ \t]*\[\[(?:block\.)?setting\]\]\n[ \t]*id = \"([^\"]*\w)\""
    ),
    "id misspelt": _misspelt(rf"{_AT}id = \"([^\"]*\w)\""),
    "name of a setting misspelt": _misspelt(rf"{_AT}setting = \"([^\"]*)\""),
    "release's version": _word_of("version", ["1.9", "4.0.6", "35", "2020-01-01"]),
    "version with a zero": _zero_added,
    "release dropped": _dropped(_RELEASE),
    "release's date": _date_of("firmware.release", "2014-01-01"),
    "source dropped": _dropped(_SOURCE),
    "source's id misspelt": _misspelt(r"\[\[source\]\]\nid = \"(.*)\""),
    "cited source misspelt": _misspelt(_CITED),
    "two cited sources swapped": _swapped(_CITED),
    "cited page dropped": lambda chance, text: (
        _replaced(text, found, "", 2) if (found := _one_of(chance, text, _CITED)) else text
    ),
    "sources of a place dropped": _dropped(rf"{_AT}(sources = \[.*\])\n", 1),
    "supplement's subject dropped": _line_dropped("about"),
    "date of a test dropped": _date_of_a_test_dropped,
    "date of a test": _date_of("source", "2099-01-01"),
    "verdict turned": lambda chance, text: (
        _replaced(text, found, "works" if found[1] != "works" else "no-effect", 1)
        if (found := _one_of(chance, text, r"verdict = \"(.*?)\""))
        else text
    ),
    "verdict dropped": _dropped(r"\"(, verdict = \".*?\")", 1),
    "identity's answer": _number_after("answers = .*?value"),
    "followed block dropped": _dropped(r"^  (?:\"[\w-]+/|\{ from = ).*,\n"),
    "two titles swapped": _swapped(r"^[ \t]*\[\[setting\]\]\n.*\n[ \t]*title = \"(.*)\""),
    "title of another setting": _title_of_another,
    "help made the title": _title_in_the_help,
    "question's date old": _date_of("question", "2020-01-01", "2026"),
}
"""Each kind of edit by its name."""

FOUND = frozenset(
    (
        "setting duplicated",
        "place duplicated",
        "default outside the range",
        "version with a zero",
        "cited source misspelt",
        "source's id misspelt",
        "date of a test dropped",
        "date of a test",
        "verdict dropped",
        "unit misspelt",
        "title of another setting",
        "help made the title",
        "name of a setting misspelt",
    )
)
"""The kinds that lint has to find, nearly always."""
