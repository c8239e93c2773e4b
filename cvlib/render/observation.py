"""What a probe has shown as text ready for a profile, and as the commands that write it there."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from cvlib.engine.bench.learnt import Learnt, Observation
from cvlib.render.phrases import counted, listed


def observation_text(learnt: Learnt) -> str:
    """What a profile can take over, as TOML; empty where there is nothing.

    What was tried is a new source, with a citation for each place that goes into its ``sources``
    and stands below a remark that says where it belongs. What was only read is a question: nobody
    has seen it act.
    """
    parts = []
    if learnt.observations:
        parts.append("\n".join(_source(learnt)))
    if learnt.readouts:
        parts.append("\n".join(_question(learnt)))
    return "\n\n".join(parts)


def _source(learnt: Learnt) -> Iterator[str]:
    yield "[[source]]"
    yield f"id = {quoted(learnt.source)}"
    yield 'kind = "bench"'
    yield f"title = {quoted(_title(learnt))}"
    yield f"date = {learnt.day}"
    yield f"firmware = {quoted(f'=={learnt.firmware}')}"
    yield f"note = {quoted(learnt.summary)}"
    for one in learnt.observations:
        yield ""
        yield from _citation(learnt, one)


def _question(learnt: Learnt) -> Iterator[str]:
    yield "[[question]]"
    yield f"id = {quoted(question_id(learnt))}"
    yield f"date = {learnt.day}"
    yield f"about = [{', '.join(quoted(one.setting) for one in learnt.readouts)}]"
    yield f"text = {quoted(_asked(learnt))}"
    yield f"settle = {quoted(_settle(learnt))}"
    yield f"firmware = {quoted(f'=={learnt.firmware}')}"


def _title(learnt: Learnt) -> str:
    return f"{counted(len(learnt.observations), 'setting')} tried on one decoder"


def _citation(learnt: Learnt, one: Observation) -> Iterator[str]:
    yield f"# {one.setting}, the place {one.where} ({one.firmware}): add to its sources"
    if one.origin:
        yield f"# (taken over from {one.origin}; write the setting into the profile first)"
    yield f"# {{ source = {quoted(learnt.source)}, verdict = {quoted(one.verdict.value)} }}"


def question_id(learnt: Learnt) -> str:
    """The id of the question that reads alone leave."""
    return re.sub(r"[^a-z0-9-]+", "-", f"acts-at-{learnt.firmware}-{learnt.day}".lower())


def _asked(learnt: Learnt) -> str:
    places = dict.fromkeys(
        f"{one.setting} at {one.where}" if one.where else f"{one.setting} not there"
        for one in learnt.readouts
    )
    return (
        f"Does it act so? One decoder, {learnt.summary}. That speaks for {listed(list(places))}. "
        "Nobody has seen it act."
    )


def _settle(learnt: Learnt) -> str:
    names = listed([one.setting for one in learnt.readouts])
    return f"Change {names} and see what it does; cvlib probe says how."


def amend_command(learnt: Learnt, typed: Callable[..., str]) -> str:
    """The command that writes what was tried into the profile; empty where nothing was.

    ``typed`` gives a command as it is typed in the shell.
    """
    if not learnt.observations:
        return ""
    words = ["cvlib", "amend", "bench", learnt.profile]
    words += [f"{one.setting}@{_which(one)}={one.verdict.value}" for one in learnt.observations]
    words += ["--firmware", learnt.firmware, "--date", learnt.day, "--source", learnt.source]
    words += ["--title", _title(learnt), "--note", learnt.summary]
    return typed(*words)


def _which(one: Observation) -> str:
    return f"{one.slot.typed}:{one.at}" if one.at else one.slot.typed


def question_command(learnt: Learnt, typed: Callable[..., str]) -> str:
    """The command that writes what was only read into the profile; empty where nothing was."""
    if not learnt.readouts:
        return ""
    words = ["cvlib", "amend", "question", learnt.profile, question_id(learnt)]
    words += ["--text", _asked(learnt), "--settle", _settle(learnt)]
    words += ["--about", ", ".join(one.setting for one in learnt.readouts)]
    words += ["--firmware", f"=={learnt.firmware}", "--date", learnt.day]
    return typed(*words)


def quoted(text: str) -> str:
    """A text in double quotes, as TOML writes it on one line."""
    made = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else " " for char in made) + '"'
