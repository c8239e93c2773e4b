"""The library: open a store, read locos, and ask what belongs to a firmware and what does not.

>>> from cvlib import open_store
>>> store = open_store()
>>> resolver = resolver_of(store, "standard/nmra-s-9.2.2")
>>> answers = resolver.at(resolver.profile.version("2012-07"))
>>> answers["address.extended"].place.fields[0].slot.cv
17
"""

from __future__ import annotations

from cvlib.api.answers import explain, profiles, settings_against, settings_at, timeline_of, wanted
from cvlib.api.card import card
from cvlib.api.checks import (
    Asked,
    Stated,
    check_asked,
    check_decoder,
    check_loco,
    chosen_decoders,
    loco_paths,
    record_checks,
    typed_loco,
)
from cvlib.api.export import export
from cvlib.api.history import log, undo
from cvlib.api.opening import open_store, read_loco, resolver_of
from cvlib.api.recipes import opened_recipe, suggest_recipe, try_recipe
from cvlib.api.upkeep import lint, review, stale

__all__ = [
    "Asked",
    "Stated",
    "card",
    "check_asked",
    "check_decoder",
    "check_loco",
    "chosen_decoders",
    "explain",
    "export",
    "lint",
    "loco_paths",
    "log",
    "open_store",
    "opened_recipe",
    "profiles",
    "read_loco",
    "record_checks",
    "resolver_of",
    "review",
    "settings_against",
    "settings_at",
    "stale",
    "suggest_recipe",
    "timeline_of",
    "try_recipe",
    "typed_loco",
    "undo",
    "wanted",
]
