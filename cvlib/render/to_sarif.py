"""Remarks as SARIF 2.1.0, the OASIS standard for what a program found in files.

"§" names a section of "Static Analysis Results Interchange Format (SARIF) Version 2.1.0".
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote, urljoin

from cvlib.errors import Position
from cvlib.findings.catalogue import Severity
from cvlib.findings.remark import Remark
from cvlib.render.pages import page_blocks
from cvlib.render.to_terminal import to_terminal

VERSION = "2.1.0"
SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
TOP = "%SRCROOT%"
"""The name that stands for the top of the repository, whichever folder it is checked out to."""

_MEANING = re.compile(r"^## What it means\n(.*?)(?=^## |\Z)", re.M | re.S)
_LINK = re.compile(r"\[([^\]]+)\]\((?![a-z]+:)([^)]+)\)")
_DRIVE = re.compile(r"[A-Za-z]:/")
_PATH = "/-._~!$&'()*+,;=@"
"""What a path may have beside letters and digits without being escaped (RFC 3986, 3.3)."""


@dataclass(frozen=True, slots=True)
class RuleTold:
    """A rule as other programs show it."""

    code: str
    severity: Severity
    sentence: str
    page: str = ""
    """Its page as Markdown; empty where there is none."""
    link: str = ""
    """Where the page can be read, as an absolute URI; empty where nobody knows."""


@dataclass(frozen=True, slots=True)
class Program:
    """The program that made the remarks, and what it was doing."""

    version: str
    """The version of cvlib, as semantic versions are written."""
    task: str
    """Which of its works this is; results of one task are compared with earlier ones of it."""
    link: str = ""
    """Where the program is described, as an absolute URI; empty where nobody knows."""


def to_sarif(remarks: Iterable[Remark], rules: Sequence[RuleTold], program: Program) -> str:
    """The document as JSON text, ending in a line end.

    The file of a remark is named from the top of the repository, with forward slashes; one that
    lies elsewhere by its whole path. The code of each remark must be that of a rule.
    """
    indexes = {rule.code: at for at, rule in enumerate(rules)}
    seen: Counter[str] = Counter()
    run = {
        "tool": {"driver": _driver(rules, program)},
        "automationDetails": {"id": f"cvlib {program.task}/"},
        "originalUriBaseIds": {TOP: {"description": {"text": "The top of the repository."}}},
        "columnKind": "unicodeCodePoints",
        "results": [_result(one, indexes, seen) for one in remarks],
    }
    document = {"$schema": SCHEMA, "version": VERSION, "runs": [run]}
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def _driver(rules: Iterable[RuleTold], program: Program) -> Mapping[str, object]:
    """The program itself (§3.19)."""
    return {
        "name": "cvlib",
        "version": program.version,
        "semanticVersion": program.version,
        **({"informationUri": program.link} if program.link else {}),
        "rules": [_rule(rule) for rule in rules],
    }


def _rule(rule: RuleTold) -> Mapping[str, object]:
    """One rule with its page (§3.49)."""
    meaning = _MEANING.search(rule.page)
    page = _with_whole_links(rule.page, rule.link)
    return {
        "id": rule.code,
        "shortDescription": {"text": rule.sentence},
        "fullDescription": {"text": _as_text(meaning[1]) if meaning else rule.sentence},
        **({"help": {"text": _as_text(page), "markdown": page}} if page else {}),
        **({"helpUri": rule.link} if rule.link else {}),
        "defaultConfiguration": {"level": rule.severity.value},
    }


def _as_text(page: str) -> str:
    return to_terminal(page_blocks(page), 100).strip()


def _with_whole_links(page: str, link: str) -> str:
    """The page with links that lead somewhere wherever it is read; without them where none can."""
    if not link:
        return _LINK.sub(r"\1", page)
    return _LINK.sub(lambda found: f"[{found[1]}]({urljoin(link, found[2])})", page)


def _result(remark: Remark, indexes: Mapping[str, int], seen: Counter[str]) -> Mapping[str, object]:
    """One remark at its place (§3.27)."""
    other = [_place(remark.other, "the other end")] if remark.other else []
    return {
        "ruleId": remark.code,
        "ruleIndex": indexes[remark.code],
        "level": remark.severity.value,
        "message": {"text": remark.text},
        "locations": [_place(remark.position)],
        **({"relatedLocations": other} if other else {}),
        "partialFingerprints": _fingerprints(remark, seen),
    }


def _place(spot: Position, words: str = "") -> Mapping[str, object]:
    """A spot with its end, where that is known (§3.28)."""
    # What reads the document wants a line; a remark about a whole file stands at its top.
    region = {"startLine": spot.line or 1, "startColumn": spot.column or 1}
    if spot.end is not None and spot.line is not None:
        region |= {"endLine": spot.end[0], "endColumn": spot.end[1]}
    held = {"physicalLocation": {"artifactLocation": _location(spot.file), "region": region}}
    return {**held, "message": {"text": words}} if words else held


def _location(file: str) -> Mapping[str, str]:
    """A file as a URI: relative to the top of the repository, or absolute (§3.4)."""
    if file.startswith("/"):
        return {"uri": f"file://{quote(file, safe=_PATH)}"}
    if _DRIVE.match(file):
        return {"uri": f"file:///{file[:2]}{quote(file[2:], safe=_PATH)}"}
    return {"uri": quote(file, safe=_PATH), "uriBaseId": TOP}


def _fingerprints(remark: Remark, seen: Counter[str]) -> Mapping[str, str]:
    """What stays the same while the lines above a remark come and go (§3.27.17).

    The second name is the one by which GitHub recognises a result.
    """
    about = (remark.code, remark.position.file, remark.about or remark.problem)
    digest = hashlib.sha256("\0".join(about).encode()).hexdigest()[:32]
    seen[digest] += 1
    name = f"{digest}:{seen[digest]}"
    return {"cvlib/v1": name, "primaryLocationLineHash": name}
