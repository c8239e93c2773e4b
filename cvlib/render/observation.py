"""What a probe has shown as text ready for a profile, and as the command that writes it there."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from cvlib.engine.learnt import Learnt, Observation
from cvlib.render.phrases import counted


def observation_text(learnt: Learnt) -> str:
    """The new source, and for each place the citation that goes into its ``sources``.

    The source is TOML as it stands in a profile; each citation stands below a remark that says
    where it belongs.
    """
    lines = [
        "[[source]]",
        f"id = {quoted(learnt.source)}",
        'kind = "bench"',
        f"title = {quoted(_title(learnt))}",
        f"date = {learnt.day}",
        f"firmware = {quoted(f'=={learnt.firmware}')}",
        f"note = {quoted(learnt.summary)}",
    ]
    for one in learnt.observations:
        lines += ["", *_citation(learnt, one)]
    return "\n".join(lines)


def _title(learnt: Learnt) -> str:
    return f"{counted(len(learnt.observations), 'place')} read or tried on one decoder"


def _citation(learnt: Learnt, one: Observation) -> Iterator[str]:
    yield f"# {one.setting}, the place {one.where} ({one.firmware}): add to its sources"
    if one.origin:
        yield f"# (taken over from {one.origin}; write the setting into the profile first)"
    verdict = f"verdict = {quoted(one.verdict.value)}"
    yield f"# {{ source = {quoted(learnt.source)}, {verdict}, note = {quoted(one.seen)} }}"


def amend_command(learnt: Learnt) -> str:
    """The command that writes the observations into the profile; empty where there are none.

    Left out are settings taken over from elsewhere, and places that their CV does not tell from
    others of the setting.
    """
    own = [one for one in learnt.observations if not one.origin and one.is_clear]
    if not own:
        return ""
    words = ["cvlib", "amend", "bench", learnt.profile]
    words += [f"{one.setting}@{one.cv}={one.verdict.value}" for one in own]
    words += ["--firmware", learnt.firmware, "--date", learnt.day, "--note", learnt.summary]
    return " ".join(shlex.quote(word) for word in words)


def quoted(text: str) -> str:
    """A text in double quotes, as TOML writes it on one line."""
    made = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else " " for char in made) + '"'
