"""A case as the text of a profile, and of the little standard that it follows."""

from __future__ import annotations

import json
from typing import Any

PROFILE = "ferrow/oracle"
STANDARD = "standard/oracle"
EDITION = "2030-01"


def profile(case: dict[str, Any], format_number: int = 2) -> str:
    """The case as a profile, scheme number."""
    lines = [
        f"format = {format_number}",
        "",
        "[decoder]",
        f'id = "{PROFILE}"',
        'maker = "Ferrow"',
        'name = "Oracle"',
        'kind = "motor"',
    ]
    if case.get("standard"):
        follows = {"from": f"{STANDARD}@{EDITION}", **case.get("follows", {})}
        lines.append(f"follows = [{inline(follows)}]")
    if case.get("decoder_sources"):
        lines.append(f"sources = {value(case['decoder_sources'])}")
    lines += ["", "[firmware]", 'scheme = "number"', "parts = []"]
    for source in case["sources"]:
        titled = {"title": source["id"], **source}
        lines += ["", "[[source]]", *pairs(titled)]
    for setting in case["settings"]:
        lines += _setting(setting)
    return "\n".join(lines) + "\n"


def standard(case: dict[str, Any], format_number: int = 2) -> str:
    """The standard that the case follows; empty where it follows none."""
    if not case.get("standard"):
        return ""
    lines = [
        f"format = {format_number}",
        "",
        "[decoder]",
        f'id = "{STANDARD}"',
        'maker = "Ferrow"',
        'name = "Invented standard"',
        'kind = "standard"',
        "",
        "[firmware]",
        'scheme = "date"',
        "parts = []",
        "",
        "[[firmware.release]]",
        f'version = "{EDITION}"',
        "",
        "[[source]]",
        'id = "edition"',
        'kind = "document"',
        'title = "Invented standard"',
        f'firmware = "=={EDITION}"',
    ]
    for setting in case["standard"]:
        cited = [{**place, "sources": [{"source": "edition"}]} for place in setting["places"]]
        lines += _setting({**setting, "places": cited})
    return "\n".join(lines) + "\n"


def _setting(setting: dict[str, Any]) -> list[str]:
    lines = ["", "[[setting]]", f'id = "{setting["id"]}"', f'title = "{setting["id"]}"']
    if "sources" in setting:
        lines.append(f"sources = {value(setting['sources'])}")
    if "common" in setting:
        lines.append(f"common = {inline(setting['common'])}")
    for place in setting["places"]:
        lines += ["", "  [[setting.place]]", *(f"  {line}" for line in pairs(_place(place)))]
    return lines


def _place(place: dict[str, Any]) -> dict[str, Any]:
    """The keys of a place as a profile has them."""
    made = {name: one for name, one in place.items() if name not in ("cvs", "marks")}
    if len(place.get("cvs", ())) == 1:
        made["cv"] = place["cvs"][0]
    elif "cvs" in place:
        made["cvs"] = place["cvs"]
    return made | dict.fromkeys(place.get("marks", ()), True)


def pairs(table: dict[str, Any]) -> list[str]:
    """One line for each key."""
    return [f"{name} = {value(one)}" for name, one in table.items()]


def inline(table: dict[str, Any]) -> str:
    return "{ " + ", ".join(pairs(table)) + " }"


def value(one: Any) -> str:
    """A value of TOML; a set of firmware becomes a range."""
    if isinstance(one, set):
        runs = ranges(one)
        return json.dumps(runs[0] if len(runs) == 1 else runs)
    if isinstance(one, dict):
        return inline(one)
    if isinstance(one, list):
        return "[" + ", ".join(value(part) for part in one) + "]"
    return json.dumps(one)


def ranges(firmware: set[int]) -> list[str]:
    """Firmware as ranges with closed ends."""
    runs = []
    for low in sorted(v for v in firmware if v - 1 not in firmware):
        high = low
        while high + 1 in firmware:
            high += 1
        runs.append(f"=={low}" if low == high else f">={low}, <={high}")
    return runs
