"""Trials written into a loco file: a plan put behind the others, runs added and taken back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from cvlib.errors import Position, problem
from cvlib.files.layout import LOCO
from cvlib.files.loco_file import LocoEdit, put_together, rewrite_loco, taken_apart
from cvlib.files.toml_text import write_tree
from cvlib.files.toml_tree import Document, Node, node_of, read_tree
from cvlib.model.trial import BenchTrial, Run


def add_trial(path: Path, trial: BenchTrial, seen: str = "") -> None:
    """Put a trial behind those of a loco file, in one step.

    ``seen`` is the digest of what the file held when it was planned. Raises InputError, with the
    file as it was, where it is no loco file or cannot be written.
    """
    table = trial_data(trial)

    def text(before: str, _: str) -> str:
        head, pieces = taken_apart(before)
        made = write_tree(Document(Node({"trial": Node([node_of(table)])})), LOCO)
        return put_together(head, [*(piece.text for piece in pieces), f"\n{made}"])

    def data(document: dict[str, Any]) -> None:
        document.setdefault("trial", []).append(table)

    rewrite_loco(path, LocoEdit("a trial", "trial", text, data, seen))


def set_runs(
    path: Path, number: int, kept: int, runs: Sequence[Run], seen: str, entered: bytes = b""
) -> None:
    """Leave a trial, by its number from 0, with its first runs and put further ones behind them."""
    made = [run_data(run) for run in runs]

    def text(before: str, name: str) -> str:
        head, pieces = taken_apart(before)
        if not any(piece.path == ("trial", number) for piece in pieces):
            raise problem(
                "the trial is written in one line, which cannot be edited.",
                advice="Write it under the heading [[trial]].",
                position=Position(name),
            )
        texts = [
            _with_runs(piece.text, name, kept, made) if piece.path == ("trial", number)
            else piece.text
            for piece in pieces
        ]  # fmt: skip
        return put_together(head, texts)

    def data(document: dict[str, Any]) -> None:
        table = document["trial"][number]
        table["runs"] = [*table.get("runs", [])[:kept], *made]

    rewrite_loco(path, LocoEdit("a trial", "trial", text, data, seen, entered))


def _with_runs(text: str, name: str, kept: int, runs: Sequence[dict[str, Any]]) -> str:
    """The text of one trial with other runs at the end; remarks stay where they stood."""
    document = read_tree(text, name)
    table = document.root.table["trial"].items[0].table
    held = table.setdefault("runs", Node([])).items
    gone = [remark for node in held[kept:] for remark in node.all_remarks()]
    held[kept:] = map(node_of, runs)
    document.end = [*document.end, *gone]
    made = write_tree(document, LOCO)
    return f"\n{made}" if text.startswith("\n") else made


def trial_data(trial: BenchTrial) -> dict[str, Any]:
    """A trial as the data of a loco file; what is not known is left out."""
    names = [one.name for one in trial.conditions]
    made: dict[str, Any] = {
        "date": date.fromisoformat(trial.date),
        "setting": trial.setting,
        "question": trial.question.value,
        "role": trial.role,
        "firmware": trial.firmware,
        "to": trial.to,
        "margin": trial.margin,
        "unit": trial.unit,
        "step": trial.step,
        "looks": list(trial.looks),
        "seed": trial.seed,
        "conditions": [
            {
                key: value
                for key, value in (("name", one.name), ("value", one.value), ("wish", one.wish))
                if value is not None
            }
            for one in trial.conditions
        ],
        "order": [names.index(one) + 1 for one in trial.order],
        "values": dict(trial.values),
        "note": trial.note,
        "runs": [run_data(run) for run in trial.runs],
    }
    return {key: value for key, value in made.items() if value not in ("", {})}


def run_data(run: Run) -> dict[str, Any]:
    """A run as the data of a loco file."""
    made: dict[str, Any] = {"condition": run.condition}
    made |= {"missed": True} if run.stop is None else {"stop": run.stop}
    if run.date:
        made["date"] = date.fromisoformat(run.date)
    if run.note:
        made["note"] = run.note
    return made
