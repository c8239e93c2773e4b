"""Why an answer is what it is: the rule, the firmware it looked at, source and page."""

from __future__ import annotations

from collections.abc import Iterable

from cvlib.engine.known.told import where_text
from cvlib.model.answer import Answer, Side, Standing
from cvlib.model.profile import Citation, Place, Profile, Source, SourceKind, Verdict
from cvlib.render.phrases import firmware_words, listed

_SIDES = {
    Side.OLDER: "only older firmware has it",
    Side.NEWER: "only newer firmware has it",
    Side.BOTH: "older and newer firmware have it",
    Side.NEITHER: "no firmware that is covered has it",
}


def why_words(profile: Profile, answer: Answer) -> str:
    """The trace of an answer as sentences."""
    firmware = firmware_words(answer.trace.firmware.text())
    match answer.trace.rule:
        case 0:
            return "disputed: no document and no word of the maker covers it at any firmware."
        case 1:
            return _bench(profile, answer, firmware)
        case 2:
            return f"documented: {_covered(profile, answer, firmware)}."
        case 3:
            sides = _sides(profile, answer)
            return f"{answer.standing}: nothing is written for firmware {firmware}; {sides}."
        case _:
            end = "newest" if answer.standing is Standing.BEYOND else "oldest"
            return (
                f"{answer.standing}: nothing is written for firmware {firmware}; "
                f"the {end} covered firmware has {_place(profile, answer.place)}."
            )


def why_data(profile: Profile, answer: Answer) -> dict[str, object]:
    """The trace of an answer as plain data, with its words."""
    return {
        "setting": answer.setting,
        "rule": answer.trace.rule,
        "standing": answer.standing.value,
        "firmware": answer.trace.firmware.text(),
        "sources": [citation_data(profile, held) for held in answer.trace.citations],
        "words": why_words(profile, answer),
    }


def citation_data(profile: Profile, citation: Citation) -> dict[str, object]:
    """One source called on, with its title, page and verdict; empty where there is none."""
    source = profile.sources.get(citation.source)
    return {
        "source": citation.source,
        "kind": source.kind.value if source else "standard",
        "title": profile.source_title(citation.source),
        "page": citation.page,
        "verdict": citation.verdict.value if citation.verdict else "",
        "note": citation.note,
    }


def citation_text(profile: Profile, citation: Citation) -> str:
    """One source called on, in words: ``Lark 8 handbook, issue 1, page 23``."""
    source = profile.sources.get(citation.source)
    title = profile.source_title(citation.source)
    if source is not None and source.kind is SourceKind.BENCH:
        title = f"{source.title or 'bench'}{f' on {source.date}' if source.date else ''}"
    if not citation.page:
        return title
    is_number = citation.page.replace("-", "").isdecimal()
    return f"{title}, {'page ' if is_number else ''}{citation.page}"


def _bench(profile: Profile, answer: Answer, firmware: str) -> str:
    seen: list[str] = []
    for citation in answer.trace.citations:
        saw = "no effect" if citation.verdict is Verdict.NO_EFFECT else "that it works"
        note = f" ({citation.note})" if citation.note else ""
        seen.append(f"{citation_text(profile, citation)} saw {saw}{note}")
    places = listed([where_text(place) for place in answer.places()], last="or")
    tested = f"{answer.standing}: a bench test at {firmware} of {places}: {'; '.join(seen)}."
    if answer.beside is None:
        return tested
    return f"{tested} Without the bench: {why_words(profile, answer.beside)}"


def _covered(profile: Profile, answer: Answer, firmware: str) -> str:
    written = _written(profile, answer.trace.citations)
    if answer.place is not None and written:
        return f"firmware {firmware}, {written}"
    speaking = listed([source.title or source.id for source in covering(profile, answer)])
    by = f" by {speaking}" if speaking else ""
    if answer.place is not None:
        return f"firmware {firmware} is covered{by}"
    side = f", and {_SIDES[answer.side]}" if answer.side else ""
    return f"firmware {firmware} is covered{by}; it is not listed there{side}"


def covering(profile: Profile, answer: Answer) -> list[Source]:
    """The documents, and the word of the maker, that speak for a setting where the answer lies."""
    return [
        source
        for source in profile.sources.values()
        if source.kind is not SourceKind.BENCH
        and source.speaks_for(answer.setting)
        and not (source.firmware & answer.trace.firmware).is_empty()
    ]


def _sides(profile: Profile, answer: Answer) -> str:
    if not answer.candidates:
        return f"older and newer firmware have {_place(profile, answer.place)}"
    older, newer = answer.candidates
    return f"older firmware has {_place(profile, older)}, newer has {_place(profile, newer)}"


def _place(profile: Profile, place: Place | None) -> str:
    if place is None:
        return "no such setting"
    written = _written(profile, place.citations)
    return f"it at {where_text(place)}{f' ({written})' if written else ''}"


def _written(profile: Profile, citations: Iterable[Citation]) -> str:
    """What is written about a place; bench tests at other firmware are no part of it."""
    return "; ".join(citation_text(profile, held) for held in citations if held.verdict is None)
