"""The settings of a profile at one version, worked out from its file with nothing of cvlib."""

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from packaging.specifiers import SpecifierSet
from packaging.version import Version

Table = Mapping[str, Any]


def read(path: Path) -> Table:
    """A TOML file as plain tables."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def holds(firmware: str | list[str] | None, version: str) -> bool:
    """Whether a range, or one of several, contains a version; no range contains every one.

    Versions compare as in ``packaging``; a date is taken as its three numbers.
    """
    ranges = firmware if isinstance(firmware, list) else [firmware or ""]
    asked = Version(version.replace("-", "."))
    return any(asked in SpecifierSet(text.replace("-", ".")) for text in ranges)


def settings_at(profile: Table, version: str) -> list[dict[str, Any]]:
    """Every setting that has a place at a version, blocks that recur written out."""
    return [
        found
        for setting in profile["setting"]
        for index in _indices(setting)
        for found in _at(setting, index, version)
    ]


def _indices(setting: Table) -> list[int]:
    repeat = setting.get("repeat")
    if repeat is None:
        return [0]
    first = repeat.get("first", 1)
    return list(range(first, first + repeat["count"]))


def _spans(text: str) -> list[int]:
    numbers: list[int] = []
    for part in str(text).split(","):
        low, _, high = part.partition("-")
        numbers += range(int(low), int(high or low) + 1)
    return numbers


def _at(setting: Table, index: int, version: str) -> Iterator[dict[str, Any]]:
    places = [
        place
        for place in setting["place"]
        if holds(place.get("firmware"), version)
        and ("index" not in place or index in _spans(place["index"]))
    ]
    assert len(places) <= 1, f"{setting['id']}, {index}: two places at {version}"
    for place in places:
        yield {
            "id": setting["id"].replace("[n]", f"[{index}]"),
            "title": setting["title"].replace("{n}", str(index)),
            "cvs": _cvs(setting, place, index),
            "page": place.get("page", ""),
            "bits": place.get("bits", ""),
            "kind": place["kind"],
            "range": _range(place),
            "default": _default(setting, place, index),
            "read_only": place.get("read-only", False),
            "internal": place.get("internal", False),
            "volatile": place.get("volatile", False),
            "unused": place.get("unused", ""),
            "when": _when(place, index),
        }


def _cvs(setting: Table, place: Table, index: int) -> list[int]:
    if "cv" not in place:
        return list(place.get("cvs", []))
    repeat = setting.get("repeat")
    if repeat is None:
        return [place["cv"]]
    step = place.get("step", repeat["step"])
    return [place["cv"] + step * (index - repeat.get("first", 1))]


def _range(place: Table) -> list[int] | None:
    codes = [code for text in place.get("choices", {}) for code in _spans(text)]
    if codes:
        return [min(codes), max(codes)]
    if place["kind"] == "switch":
        return [0, 1]
    return [1, 127] if place.get("form") == "short" else place.get("range", _full(place))


def _full(place: Table) -> list[int]:
    width = len(_spans(place.get("bits", "0-7")))
    return [0, (1 << width) - 1]


def _default(setting: Table, place: Table, index: int) -> int | None:
    if "defaults" not in place:
        return place.get("default")
    named = _spans(place["index"]) if "index" in place else _indices(setting)
    values = place["defaults"]
    position = named.index(index)
    return values[position] if position < len(values) else None


def _when(place: Table, index: int) -> list[dict[str, Any]]:
    given = place.get("when", [])
    conditions = given if isinstance(given, list) else [given]
    return [
        {**condition, "setting": condition["setting"].replace("[n]", f"[{index}]")}
        for condition in conditions
    ]
