"""What a decoder answers at some firmware, and the CVs that its version can be told by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from cvlib.errors import problem
from cvlib.files.text import quoted
from cvlib.files.typed_keys import parse_key
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion, Scheme, parse_version

Readings = Mapping[FirmwareVersion, Mapping[int, int]]
"""The answers of some CVs at some firmware."""

_FORMS: Mapping[int, tuple[tuple[dict[str, str], ...], ...]] = {
    2: (
        ({"bits": "4-7"}, {"bits": "0-3"}),
        ({"digit": "tens"}, {"digit": "ones"}),
    ),
    3: (({"digit": "hundreds"}, {"digit": "tens"}, {"digit": "ones"}),),
}
"""How one CV can hold several parts of a version, by their number."""


def read_version(text: str, scheme: Scheme) -> tuple[FirmwareVersion, dict[int, int]]:
    """A firmware and what it answers, out of a text such as ``1.4: 7=14`` or ``1.4: 7=1, 9=4``."""
    version, colon, answers = text.partition(":")
    if not colon or not version.strip():
        raise problem(
            f"{quoted(text)} is no reading of a firmware.",
            advice='Write the firmware and what its CVs answer, as in "1.4: 7=14".',
        )
    found = parse_key("answers", answers)
    return parse_version(version.strip(), scheme), {one["cv"]: one["value"] for one in found}


def parts_of(readings: Readings) -> list[dict[str, Any]]:
    """The CVs that hold the parts of the version by these readings; none where they hold none.

    Raises InputError where the readings leave several ways.
    """
    fitting = [
        way
        for way in _ways(readings)
        if all(_fits(way, version, answers) for version, answers in readings.items())
    ]
    if len(fitting) > 1:
        raise problem(
            "what the decoder answers can be read in several ways: "
            f"{' or '.join(map(_way_text, fitting))}.",
            advice='Add a reading of another firmware, such as --reading "2.3: 7=23", '
            "or say --parts.",
        )
    return fitting[0] if fitting else []


def version_row_answers(
    tables: Iterable[Mapping[str, Any]],
    releases: Sequence[FirmwareVersion],
    covered: FirmwareRange,
) -> dict[FirmwareVersion, dict[int, int]]:
    """What CV 7 answers at the releases of a table, where it lists CV 7 as read-only."""
    for place in (place for table in tables for place in table["place"]):
        value = place.get("default")
        if place.get("cv") == 7 and place.get("read-only") and isinstance(value, int):
            return {version: {7: value} for version in releases if version in covered}
    return {}


def _ways(readings: Readings) -> Iterable[list[dict[str, Any]]]:
    if not readings:
        return
    version, answers = next(iter(readings.items()))
    cvs, count = list(answers), len(_figures(version))
    if len(cvs) > 1 or count == 1:
        yield [{"cv": cv} for cv in cvs]
    if len(cvs) == 1:
        for form in _FORMS.get(count, ()):
            yield [{"cv": cvs[0], **part} for part in form]


def _fits(way: Sequence[Mapping[str, Any]], version: FirmwareVersion, answers: Any) -> bool:
    figures = _figures(version)
    if len(way) > len(figures):
        figures = [*figures, *[0] * (len(way) - len(figures))]
    return len(way) == len(figures) and all(
        part["cv"] in answers and _part(part, answers[part["cv"]]) == figure
        for part, figure in zip(way, figures, strict=True)
    )


def _part(part: Mapping[str, Any], value: int) -> int:
    if "bits" in part:
        return value >> 4 if part["bits"] == "4-7" else value & 15
    tens = {"hundreds": 100, "tens": 10, "ones": 1}.get(part.get("digit", ""))
    return value if tens is None else value // tens % 10


def _figures(version: FirmwareVersion) -> list[int]:
    """The figures of a version; none where it has letters or is a day."""
    try:
        return [int(one) for one in str(version).split(".")]
    except ValueError:
        return []


def _way_text(way: Sequence[Mapping[str, Any]]) -> str:
    first = way[0]
    if "bits" in first:
        return f"the upper and the lower half of CV {first['cv']}"
    if "digit" in first:
        return f"the decimal digits of CV {first['cv']}"
    return f"CV {', '.join(str(one['cv']) for one in way)}"
