"""A filled form of an issue made into a correction: ``issue_form.py EVENT.json TEXT.md``.

The form is ``.github/ISSUE_TEMPLATE/correction.yml``. What people typed is data: it reaches
``cvlib amend`` as arguments of one process, each as ``--key=value``, and never a shell.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

FORMS = ("bench", "release", "document", "question")
KEYS = {
    "bench": {"Firmware": "firmware", "What was seen": "verdict", "Date": "date"}
    | {"Title": "title", "How": "note"},
    "release": {"Date": "date", "How": "note"},
    "document": {"Firmware": "firmware", "Date": "date", "Title": "title", "How": "note"},
    "question": {"Firmware": "firmware", "Date": "date", "How": "text"}
    | {"What would settle it": "settle"},
}
"""The headings of the form that count for each form of ``cvlib amend``, and the keys they mean."""

EMPTY = "_No response_"
MOST = 4000
"""Characters of one answer that are taken."""

_PROFILE = re.compile(r"[a-z0-9-]+/[a-z0-9.-]+")
_SUBJECT = re.compile(r"[A-Za-z0-9][\w.@:/\[\]-]*")
_ANSWER = re.compile(r"^### (.+?)\r?\n(.*?)(?=^### |\Z)", re.M | re.S)


def answers(body: str) -> dict[str, str]:
    """What was answered under each heading; what was left empty is not there."""
    found: dict[str, str] = {}
    for head, text in _ANSWER.findall(body):
        # The first counts: a heading inside an answer changes no answer above it.
        found.setdefault(head.strip(), text.strip()[:MOST])
    return {head: text for head, text in found.items() if text and text != EMPTY}


def arguments(body: str) -> list[str]:
    """The words for ``cvlib amend``; raises ValueError with what is wrong with the form."""
    given = answers(body)
    form = given.get("What do you know", "").partition(" ")[0]
    profile = given.get("Profile", "")
    subject = given.get("Firmware" if form == "release" else "Setting", "")
    if form not in FORMS:
        raise ValueError(f"The form does not say what you know: {', '.join(FORMS)}.")
    if not _PROFILE.fullmatch(profile):
        raise ValueError('"Profile" is not written as in ferrow/lark-8.')
    if not _SUBJECT.fullmatch(subject):
        wanted = "Firmware" if form == "release" else "Setting"
        raise ValueError(f'"{wanted}" is empty, or has signs that no name has.')
    keys = KEYS[form].items()
    options = [f"--{key}={' '.join(given[head].split())}" for head, key in keys if head in given]
    return [form, profile, subject, *options]


def main(event: str, text: str) -> int:
    """Correct the profile that the issue is about; the text for a pull request goes to a file."""
    body = json.loads(Path(event).read_text(encoding="utf-8"))["issue"]["body"] or ""
    try:
        words = arguments(body)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    command = [sys.executable, "-m", "cvlib", "amend", *words, f"--pr-text={text}"]
    return subprocess.run(command, check=False, stdin=subprocess.DEVNULL).returncode


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
