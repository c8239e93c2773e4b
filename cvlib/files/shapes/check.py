"""A file's data held against its shape: all faults at once, and what is sound kept."""

from __future__ import annotations

import types
from collections.abc import Iterator
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from cvlib.errors import did_you_mean
from cvlib.files.faults import Faults, Path
from cvlib.files.shapes.base import Shape
from cvlib.files.shapes.common import with_common
from cvlib.files.shapes.places import AbsentPlace, CaseShape, OrCases
from cvlib.files.shapes.words import choices, sentence
from cvlib.files.slips import LISTS

S = TypeVar("S", bound=Shape)

_MOST_NOTED = 200
"""More faults of shape than this in one file are neither told nor looked behind."""

_BY_KIND = ("place", "source")
"""Lists whose entries have the shape that their ``kind`` asks for."""


def checked(shape: type[S], data: dict[str, Any], faults: Faults) -> S | None:
    """The data in its shape, after noting every fault of shape.

    Where something is wrong, the smallest part around it that can be done without is left out,
    so that the rest can still be looked at; nothing is given back where that is not possible.
    Places have the common keys of their setting.
    """
    data = with_common(data, faults)
    try:
        return shape.model_validate(data)
    except ValidationError as error:
        found = error.errors(include_url=False)
    cuts = [_noted(shape, data, fault, faults) for fault in found[:_MOST_NOTED]]
    if None in cuts or len(found) > _MOST_NOTED:
        return None
    kept = _without(data, [cut for cut in cuts if cut], (), faults.left_out)
    try:
        return shape.model_validate(kept)
    except ValidationError:
        return None


def _noted(shape: type[Shape], data: dict[str, Any], fault: Any, faults: Faults) -> Path | None:
    """Note one fault in plain words; give the path of what to leave out, if it can be."""
    kind, context, location = fault["type"], fault.get("ctx", {}), fault["loc"]
    path = _in_file(data, location)
    last = str(location[-1]) if location else ""
    if kind == "extra_forbidden":
        around = shape_at(shape, data, path[:-1])
        faults.add(path, "there is no such key here.", _unknown_key(around, str(path[-1])))
        return path
    if kind in ("missing", "union_tag_not_found"):
        key = last if kind == "missing" else choices(context)[0]
        field = _fields(shape_at(shape, data, path)).get(key)
        faults.add(path, f'"{key}" is missing.', _hint(field))
        return _entry(path)
    if kind == "union_tag_invalid":
        path = (*path, choices(context, "discriminator")[0])
    value = context["tag"] if "tag" in context else fault["input"]
    said = sentence(kind, context, value)
    about = "the key " if last == "[key]" else ""
    if isinstance(value, dict) and last in LISTS and path and path[-1] == last:
        heading = ".".join(one for one in path if isinstance(one, str))
        advice = f"Write [[{heading}]] above it, or {last} = [{{ ... }}] with brackets around it."
        faults.add(path, f"[{heading}] opens one table, where a list of them belongs.", advice)
        return _entry(path)
    field = _fields(shape_at(shape, data, path)).get(last) or _field_around(shape, data, path)
    faults.add(path, f"{about}{said}.", _advice(context, value) or _hint(field))
    return _entry(path) or (path if field is not None and not field.is_required() else None)


def _advice(context: dict[str, Any], value: Any) -> str:
    """What to do where it is told with the fault, or seen from the words that would have fitted."""
    fitting = choices(context)
    if isinstance(value, str) and value not in fitting:
        return did_you_mean(value[:80], fitting)
    return str(context.get("advice", ""))


def _in_file(data: Any, location: tuple[str | int, ...]) -> Path:
    """The part of pydantic's path that is in the file."""
    node = data
    path: list[str | int] = []
    for part in location:
        # Between the number of a place or source and its keys, pydantic names its kind.
        names_kind = len(path) > 1 and path[-2] in _BY_KIND and part == _inside(node, "kind")
        if not names_kind and _inside(node, part) is not None:
            node = node[part]
            path.append(part)
    return tuple(path)


def _entry(path: Path) -> Path | None:
    """The innermost list entry around a path."""
    for length in range(len(path), 0, -1):
        if isinstance(path[length - 1], int):
            return path[:length]
    return None


def _without(data: Any, cuts: list[Path], around: Path, left_out: dict[Path, set[int]]) -> Any:
    """The data without the parts at the paths; places and settings left empty go too."""
    if () in cuts:
        return None
    inner: dict[str | int, list[Path]] = {}
    for cut in cuts:
        inner.setdefault(cut[0], []).append(cut[1:])

    def kept(key: str | int, value: Any) -> Any:
        return _without(value, inner[key], (*around, key), left_out) if key in inner else value

    if isinstance(data, list):
        values = [kept(at, value) for at, value in enumerate(data)]
        left_out[around] = {at for at, value in enumerate(values) if value is None}
        return [value for value in values if value is not None] or None
    if not isinstance(data, dict):
        return data
    table = {key: kept(key, value) for key, value in data.items()}
    if table.get("place", ()) is None:
        return None
    return {key: value for key, value in table.items() if value is not None}


def shape_at(shape: type[Shape], data: Any, path: Path) -> type[Shape] | None:
    """The shape that a path of the file must have, or nothing where no table belongs."""
    here: type[Shape] | None = shape
    node = data
    field: FieldInfo | None = None
    for part in path:
        node = _inside(node, part)
        if isinstance(part, str):
            field = _fields(here).get(part)
        here = _choose(field, node) if field is not None else None
    return here


def _inside(node: Any, part: str | int) -> Any:
    try:
        return node[part]
    except (KeyError, IndexError, TypeError):
        return None


def _choose(field: FieldInfo, node: Any) -> type[Shape] | None:
    shapes = list(_shapes_in(field.annotation))
    if AbsentPlace in shapes:
        if _inside(node, "absent") is not None:
            return AbsentPlace
        shapes.remove(AbsentPlace)
    kind = _inside(node, "kind")
    for shape in shapes:
        known = shape.model_fields.get("kind")
        if known is not None and kind in get_args(known.annotation):
            return shape
    return shapes[0] if shapes else None


def _shapes_in(annotation: Any) -> Iterator[type[Shape]]:
    if isinstance(annotation, type) and issubclass(annotation, Shape):
        yield annotation
    elif get_origin(annotation) in (Annotated, list, Union, types.UnionType):
        for inner in get_args(annotation):
            yield from _shapes_in(inner)
    elif isinstance(annotation, OrCases):
        yield CaseShape


def _fields(shape: type[Shape] | None) -> dict[str, FieldInfo]:
    if shape is None:
        return {}
    return {field.alias or name: field for name, field in shape.model_fields.items()}


def _field_around(shape: type[Shape], data: Any, path: Path) -> FieldInfo | None:
    """The innermost key of a path that the shapes know."""
    for length in range(len(path), 0, -1):
        key = path[length - 1]
        field = _fields(shape_at(shape, data, path[: length - 1])).get(str(key))
        if field is not None and isinstance(key, str):
            return field
    return None


def _hint(field: FieldInfo | None) -> str:
    return (field.description or "") if field is not None else ""


def _unknown_key(shape: type[Shape] | None, name: str) -> str:
    known = _fields(shape)
    kind = known.get("kind")
    if kind is not None and shape is not None and (owners := _owners(shape, name)):
        mine = get_args(kind.annotation)[0]
        return f"It goes with kind {owners}, not with kind {mine}."
    if advice := did_you_mean(name[:80], known):
        return advice
    return f"Known are {', '.join(known)}." if 0 < len(known) <= 12 else "Leave it out."


def _owners(shape: type[Shape], name: str) -> str:
    """The other kinds of the same table that do have a key."""
    beside: list[type[Any]] = shape.__base__.__subclasses__() if shape.__base__ else []
    kinds = [_fields(other).get("kind") for other in beside if name in _fields(other)]
    return " or ".join(str(get_args(kind.annotation)[0]) for kind in kinds if kind is not None)
