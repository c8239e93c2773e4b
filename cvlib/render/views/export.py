"""The saved values of a loco as a plain list, and as data for programs."""

from __future__ import annotations

from cvlib.model.loco import Loco, SavedDecoder, SavedValue
from cvlib.render.places import Data, slot_data


def plain_list(loco: Loco) -> str:
    """The values of a loco of one decoder: ``CV,Value``, a CV a line, pages as ``257@16/2``."""
    (decoder,) = loco.decoders
    lines = [f"{held.slot.typed},{held.value}" for held in _ordered(decoder)]
    return "\n".join(["CV,Value", *lines]) + "\n"


def data(loco: Loco) -> Data:
    """The values as data; docs/schema/output-export.schema.json describes it."""
    return {
        "loco": loco.name,
        "file": loco.file,
        "address": loco.address,
        "decoders": [
            {
                "role": decoder.role,
                "profile": decoder.profile,
                "firmware": decoder.firmware,
                "values": [_value(held) for held in _ordered(decoder)],
            }
            for decoder in loco.decoders
        ],
    }


def _ordered(decoder: SavedDecoder) -> list[SavedValue]:
    return sorted(decoder.values.values(), key=lambda held: held.slot.order)


def _value(held: SavedValue) -> Data:
    return {
        **slot_data(held.slot),
        "value": held.value,
        "firmware": held.firmware,
        "date": held.date,
        "how": held.how,
    }
