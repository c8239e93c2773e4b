"""Keys that hold for every place of a setting: handed on before the places are looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, get_args

from cvlib.errors import did_you_mean
from cvlib.files.faults import Faults, Path
from cvlib.files.shapes.places import KINDS

PER_PLACE = ("firmware", "default", "defaults")
"""Keys that each place gives for itself."""

_SPOTS = ("cv", "cvs", "built-in")
_NOT_WITH: dict[str, tuple[str, ...]] = {
    "built-in": ("bits", "page", "page-step", "step", "also-at"),
    "cvs": ("bits", "also-at"),
}
"""Keys that a place without CV, and one with several, cannot have."""

KEYS: Mapping[str, frozenset[str]] = {
    get_args(kind.model_fields["kind"].annotation)[0]: frozenset(
        field.alias or name for name, field in kind.model_fields.items()
    )
    for kind in KINDS
}
"""The keys that a place of each kind may have."""

_EVERY = frozenset(key for keys in KEYS.values() for key in keys)


def with_common(data: dict[str, Any], faults: Faults) -> dict[str, Any]:
    """The document with the common keys of each setting in those of its places that they fit.

    What a place says itself goes before. Keys that no place takes are noted.
    """
    made = dict(data)
    if "setting" in data:
        made["setting"] = _settings(data["setting"], ("setting",), faults)
    if isinstance(data.get("block"), list):
        made["block"] = [
            {**block, "setting": _settings(block["setting"], ("block", at, "setting"), faults)}
            if isinstance(block, dict) and "setting" in block
            else block
            for at, block in enumerate(data["block"])
        ]
    return made


def _settings(settings: Any, path: Path, faults: Faults) -> Any:
    if not isinstance(settings, list):
        return settings
    kinds = _kinds(faults.data)
    return [_spread(setting, (*path, at), faults, kinds) for at, setting in enumerate(settings)]


def _kinds(data: dict[str, Any]) -> dict[Any, Any]:
    """The kind of each source that a file lists, by its id."""
    sources = data.get("source")
    listed = sources if isinstance(sources, list) else []
    tables = (one for one in listed if isinstance(one, dict))
    return {one["id"]: one.get("kind") for one in tables if isinstance(one.get("id"), str)}


def _names_document(cited: Any, kinds: dict[Any, Any]) -> bool:
    """Whether sources that are called on hold any that is no bench test."""
    for one in cited if isinstance(cited, list) else ():
        is_table = isinstance(one, dict)
        id = one.get("source") if is_table else str(one).partition(":")[0]
        kind = kinds.get(id) if isinstance(id, str) else None
        if kind != "bench" and not (is_table and "verdict" in one):
            return True
    return False


def _spread(setting: Any, path: Path, faults: Faults, kinds: dict[Any, Any]) -> Any:
    common = setting.get("common") if isinstance(setting, dict) else None
    places = setting.get("place") if isinstance(setting, dict) else None
    if not isinstance(common, dict) or not isinstance(places, list):
        return setting
    tables = [place for place in places if isinstance(place, dict) and "absent" not in place]
    taken = {id(place): set(_taken(common, place)) for place in tables}
    unused = set(common).difference(*taken.values()) if tables else set()
    unused.discard("sources")  # places that name a document go before, and need no fault
    for key in common:
        if key in unused:
            faults.add((*path, "common", key), *_unused(key, tables))
    rest = {key: value for key, value in setting.items() if key != "common"}
    return {
        **rest,
        "place": [
            {**{key: common[key] for key in common if key in taken[id(place)]}, **place}
            | _joined_sources(common, place, kinds)
            if id(place) in taken
            else place
            for place in places
        ],
    }


def _joined_sources(common: Any, place: Any, kinds: dict[Any, Any]) -> dict[str, Any]:
    """The common sources behind those of a place that names bench tests alone."""
    own, shared = place.get("sources"), common.get("sources")
    if isinstance(own, list) and isinstance(shared, list) and not _names_document(own, kinds):
        return {"sources": [*own, *shared]}
    return {}


def _taken(common: dict[str, Any], place: dict[str, Any]) -> Iterator[str]:
    """The common keys that go to a place."""
    kind = place.get("kind", common.get("kind"))
    fitting = KEYS.get(kind, _EVERY) if isinstance(kind, str) else _EVERY
    own_spot = [key for key in _SPOTS if key in place]
    spot = next((key for key in own_spot or _SPOTS if key in place or key in common), "")
    barred = {*place, *PER_PLACE, *_NOT_WITH.get(spot, ())}
    barred |= set(_SPOTS) if own_spot else set()
    barred |= {"bits"} if kind == "fields" else set()
    return (key for key in common if key in fitting and key not in barred)


def _unused(key: str, places: Iterable[dict[str, Any]]) -> tuple[str, str]:
    """What is wrong with a common key that no place takes, and what to do."""
    if key in PER_PLACE:
        return f'"{key}" is not common to all places.', "Write it in each place."
    if key not in _EVERY:
        return "there is no such key here.", did_you_mean(key[:80], _EVERY) or "Leave it out."
    if all(key in place for place in places):
        return "every place says otherwise.", "Leave it out here."
    owners = [kind for kind, keys in KEYS.items() if key in keys]
    advice = "Leave it out." if len(owners) == len(KEYS) else f"It goes with {_either(owners)}."
    return "it fits no place of this setting.", advice


def _either(kinds: list[str]) -> str:
    return f"kind {' or '.join(kinds)}"
