"""A card as data for programs; docs/schema/output-card.schema.json describes it."""

from __future__ import annotations

from cvlib.engine.explain.card import CardValue, DecoderCard, LocoCard
from cvlib.engine.known.listing import Listing
from cvlib.model.cv import WHOLE, bits_text
from cvlib.render.places import Data, slot_data
from cvlib.render.views.card import title_of, value_of
from cvlib.render.views.settings_data import data as settings_data


def data(card: LocoCard) -> Data:
    """The card of a loco: every saved bit of every decoder once."""
    return {
        "loco": card.loco.name,
        "file": card.loco.file,
        "decoders": [_decoder(held) for held in card.decoders],
    }


def blank_data(listing: Listing) -> Data:
    """The settings of an empty card, as ``cvlib settings`` has them."""
    return {"blank": settings_data(listing)}


def _decoder(held: DecoderCard) -> Data:
    checked = held.checked.checked
    curve = held.curve
    return {
        "role": held.checked.decoder.role,
        "profile": held.checked.profile.id,
        "firmware": str(checked.firmware) if checked else "",
        "decided": checked is not None,
        "address": held.address,
        "long_address": held.is_long,
        "curve": None
        if curve is None
        else {
            "form": curve.form.value,
            "forward": [round(float(level), 2) for level in curve.forward],
            "reverse": [round(float(level), 2) for level in curve.reverse],
        },
        "sums": [
            {"title": one.title, "value": one.value, "cvs": list(one.cvs), "source": one.source}
            for _, one in held.sums
        ],
        "method": held.keys.method,
        "method_saved": held.keys.is_saved,
        "keys": [
            {
                "key": one.key,
                "binary_state": one.is_state,
                "output": one.output,
                "does": one.does,
                "direction": one.direction,
                "blocks": one.blocks,
                "setting": one.setting,
            }
            for one in held.keys.works
        ],
        "values": [_value(one) for one in held.values],
        "saved": []
        if checked is not None
        else [
            {**slot_data(slot), "value": one.value}
            for slot, one in held.checked.decoder.values.items()
        ],
    }


def _value(one: CardValue) -> Data:
    """One value with its words, its standing and what a check finds about it."""
    return {
        "cvs": [slot.cv for slot in one.slots],
        "page": str(one.slots[0].page or ""),
        "bits": "" if one.mask == WHOLE else bits_text(one.mask),
        "raw": list(one.raw),
        "settings": list(dict.fromkeys(held.setting.id for held in one.candidates)),
        "title": title_of(one),
        "value": value_of(one),
        "topic": one.topic.value if one.topic else "",
        "group": one.group,
        "standing": one.standing,
        "findings": list(one.codes),
        "factory": one.is_factory,
    }
