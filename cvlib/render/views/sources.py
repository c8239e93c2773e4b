"""The sources behind a place at some firmware."""

from __future__ import annotations

from cvlib.model.answer import Answer
from cvlib.model.profile import Citation, Place, Profile
from cvlib.model.ranges import FirmwareRange
from cvlib.render.places import telling_citations
from cvlib.render.views.why import citation_text


def source_texts(
    profile: Profile, answer: Answer, place: Place, firmware: FirmwareRange
) -> list[str]:
    """The sources of a place at some firmware, in words."""
    texts: list[str] = []
    for one in cited(profile, answer, place, firmware):
        verdict = f" ({one.verdict.replace('-', ' ')})" if one.verdict else ""
        texts.append(f"{citation_text(profile, one)}{verdict}")
    return list(dict.fromkeys(texts))


def source_ids(
    profile: Profile, answer: Answer, place: Place, firmware: FirmwareRange
) -> list[str]:
    """The ids of the same sources."""
    return [one.source for one in cited(profile, answer, place, firmware)]


def cited(
    profile: Profile, answer: Answer, place: Place, firmware: FirmwareRange
) -> list[Citation]:
    """The sources of a place that count at some firmware; else what the answer rests on.

    A bench test counts only for the very firmware it was made on. Where a document speaks for the
    firmware, one that speaks for other firmware is left out.
    """
    here: list[Citation] = []
    elsewhere: list[Citation] = []
    for one in telling_citations(answer, place):
        source = profile.sources.get(one.source)
        speaks = source is None or not (source.firmware & firmware).is_empty()
        if one.verdict is None:
            (here if speaks else elsewhere).append(one)
        elif speaks and answer.trace.rule == 1:
            here.append(one)
    return here or elsewhere or list(answer.trace.citations)
