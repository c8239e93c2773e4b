"""The saved values of a loco, for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cvlib.api.checks import chosen_decoders
from cvlib.api.opening import read_loco
from cvlib.errors import problem

if TYPE_CHECKING:
    from cvlib.model.loco import Loco


def export(path: Path, role: str = "") -> Loco:
    """A saved loco, all its decoders or the one of a role; of each CV the value that counts.

    Raises :class:`~cvlib.errors.InputError` where the file cannot be read or has no such decoder.
    """
    loco = read_loco(path)
    return chosen_decoders(loco, role) if role else loco


def only_decoder(loco: Loco) -> Loco:
    """The same loco; raises InputError unless a plain list can hold it: one decoder with values."""
    if len(loco.decoders) != 1:
        roles = ", ".join(f'"{decoder.role}"' for decoder in loco.decoders)
        raise problem(
            f"{loco.file}: a plain list holds one decoder, and this loco has {len(loco.decoders)}.",
            advice=f"Choose one with --role: {roles}; or use --format json.",
        )
    if not loco.decoders[0].values:
        raise problem(f"{loco.file}: no values are saved.", advice="There is nothing to export.")
    return loco


def write_list(path: Path, text: str) -> None:
    """Put an exported list into a new file; one that is there is never overwritten."""
    from cvlib.files.write import any_text, create_file

    create_file(path, text.encode("utf-8"), any_text)
