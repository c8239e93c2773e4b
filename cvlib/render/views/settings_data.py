"""The settings of a firmware as data for programs: every setting one row, complete."""

from __future__ import annotations

from cvlib.engine.known.listing import Entry, Listing
from cvlib.engine.known.told import where_text
from cvlib.model.answer import Answer
from cvlib.model.profile import Place, Profile
from cvlib.render.places import Data, open_data, place_data, sources_data, standing_word
from cvlib.render.views.why import why_data


def data(listing: Listing, *, absent: bool = False) -> Data:
    """The settings at one firmware; docs/schema/output-settings.schema.json describes it."""
    gone = listing.absent if absent else ()
    return {
        **side_data(listing),
        "settings": [row(listing.profile, entry) for entry in listing.present],
        "absent": [row(listing.profile, entry) for entry in gone],
    }


def side_data(listing: Listing) -> Data:
    """Which profile and firmware a listing is of."""
    return {
        "profile": listing.profile.id,
        "maker": listing.profile.maker,
        "name": listing.profile.name,
        "firmware": str(listing.version),
        "stated": listing.stated,
        "known": listing.known.value,
    }


def row(profile: Profile, entry: Entry) -> Data:
    """One setting with the keys of its place; they are empty where it has none or several."""
    setting, answer = entry.setting, entry.answer
    return {
        "id": setting.id,
        "title": setting.title,
        "help": setting.help,
        "group": setting.group,
        "origin": setting.origin,
        **answer_data(profile, answer),
        "beside": answer_data(profile, answer.beside) if answer.beside else None,
        "why": why_data(profile, answer),
    }


def answer_data(profile: Profile, answer: Answer) -> Data:
    """An answer: its place's keys beside standing, side and candidates."""
    return {
        **(place_data(answer.place) if answer.place else NO_PLACE),
        "sources": sources_data(profile, answer, answer.place),
        "standing": standing_word(answer),
        "unreliable": answer.is_unreliable,
        "not_known": open_data(answer),
        "tried": [where_text(place) for place in answer.tried],
        "taken_by": answer.taken_by,
        "also": [_candidate(profile, answer, place) for place in answer.also],
        "side": answer.side.value if answer.side else None,
        "candidates": [_candidate(profile, answer, place) for place in answer.candidates],
    }


def _candidate(profile: Profile, answer: Answer, place: Place | None) -> Data | None:
    """One place a disputed setting may have; nothing where it may not exist."""
    if place is None:
        return None
    return {**place_data(place), "sources": sources_data(profile, answer, place)}


NO_PLACE: Data = {
    **dict.fromkeys(
        (
            *("also_at", "kind", "form", "range", "scale", "offset", "sign", "measure"),
            *("values", "choices", "flags", "use", "default"),
        )
    ),
    **dict.fromkeys(
        (
            *("where", "page", "bits", "unit", "refers_to", "default_text", "unused"),
            *("requirement", "note"),
        ),
        "",
    ),
    **dict.fromkeys(
        ("built_in", "read_only", "volatile", "internal", "reserved", "uniform"), False
    ),
    "cvs": [],
    "when": [],
    "default_cases": [],
}
"""The keys of a place where there is none."""
