"""Why an answer is what it is: the rule, the firmware it looked at, source and page."""

from __future__ import annotations

from collections.abc import Iterable

from cvlib.engine.known.told import where_text
from cvlib.model.answer import Answer, Side, Standing
from cvlib.model.facet import Facet
from cvlib.model.profile import Citation, Place, Profile, SourceKind, Verdict
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
        case 1:
            return _bench(profile, answer, firmware)
        case 2:
            said = f"firmware {firmware}, {_documents(profile, answer)}"
        case 3:
            said = f"nothing is written for firmware {firmware}; {_sides(profile, answer)}"
        case 4:
            is_newer = answer.trace.firmware.spans[-1][1] is None
            end = "newest" if is_newer else "oldest"
            has = listed([_place(profile, one) for one in answer.possible()], last="or")
            said = (
                f"nothing is written for firmware {firmware}; the {end} firmware that a document "
                f"speaks for has {has}"
            )
        case _:
            said = _unspoken(profile, answer)
    return f"{answer.standing}: {said}{_left_open(answer)}{_taken(profile, answer)}."


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
        "reissue": citation.reissue,
    }


def citation_text(profile: Profile, citation: Citation) -> str:
    """One source called on, in words: ``Lark 8 handbook, issue 1, page 23``."""
    source = profile.sources.get(citation.source)
    title = profile.source_title(citation.source)
    if source is not None and source.kind is SourceKind.BENCH:
        title = f"{source.title or 'bench'}{f' on {source.date}' if source.date else ''}"
    if citation.reissue:
        title = f"{profile.source_title(citation.reissue)}, which reissues {title}"
    if not citation.page:
        return title
    is_number = citation.page.replace("-", "").isdecimal()
    return f"{title}, {'page ' if is_number else ''}{citation.page}"


def _bench(profile: Profile, answer: Answer, firmware: str) -> str:
    seen = "; ".join(_saw(profile, citation) for citation in answer.trace.citations)
    written = ""
    if answer.beside is not None:
        written = f" Without the bench: {why_words(profile, answer.beside)}"
    if answer.taken_by:
        left = listed([where_text(p) for p in answer.places()], last="or") or "no known place"
        return (
            f"{answer.standing}: a bench test at {firmware} gave its CV to "
            f'"{_title(profile, answer.taken_by)}" ({seen}); {left} is left.{written}'
        )
    tested = [*answer.tried, *(p for p in answer.places() if p not in answer.tried)]
    if answer.is_disputed and answer.failures():
        tested = list(answer.tried)
    places = listed([where_text(place) for place in tested], last="or")
    left = ""
    if answer.failures():
        possible = [_place(profile, one) for one in answer.candidates]
        left = f" What is left is {listed(possible, last='or')}."
    return f"{answer.standing}: a bench test at {firmware} of {places}: {seen}.{left}{written}"


def _saw(profile: Profile, citation: Citation) -> str:
    saw = {
        Verdict.NO_EFFECT: "no effect",
        Verdict.UNRELIABLE: "that it acts, but not as the handbook says",
    }.get(citation.verdict or Verdict.WORKS, "that it works")
    note = f" ({citation.note})" if citation.note else ""
    return f"{citation_text(profile, citation)} saw {saw}{note}"


def _documents(profile: Profile, answer: Answer) -> str:
    """What the documents at this very firmware say."""
    written = listed([citation_text(profile, one) for one in answer.trace.citations])
    if answer.is_disputed:
        has = listed([_place(profile, one) for one in answer.candidates], last="or")
        return f"where documents contradict each other: {has}"
    if not answer.is_absent:
        return written
    side = f", and {_SIDES[answer.side]}" if answer.side else ""
    return f"is covered by {written}; it is not listed there{side}"


def _unspoken(profile: Profile, answer: Answer) -> str:
    """What is taken where no document of the decoder says anything."""
    if not answer.trace.citations:
        return "no source is named for it"
    by = listed([citation_text(profile, one) for one in answer.trace.citations])
    if answer.standing is Standing.DOCUMENTED:
        return f"{by} demands it, and no document of the decoder speaks of it"
    return f"no document of the decoder speaks of it; it is that of {by}"


def _sides(profile: Profile, answer: Answer) -> str:
    if not answer.is_disputed:
        return f"older and newer firmware have {_place(profile, answer.place)}"
    if len(answer.candidates) != 2:
        has = listed([_place(profile, one) for one in answer.candidates], last="or")
        return f"older and newer firmware have {has}"
    older, newer = answer.candidates
    return f"older firmware has {_place(profile, older)}, newer has {_place(profile, newer)}"


def _left_open(answer: Answer) -> str:
    """What of the place is not known, because the documents on both sides differ in it."""
    told = [facet.value for facet in answer.open if facet is not Facet.WORDS]
    return f"; they differ in {listed(told)}, so that is not known" if told else ""


def _taken(profile: Profile, answer: Answer) -> str:
    if not answer.taken_by:
        return ""
    return f'; a document gives its CV to "{_title(profile, answer.taken_by)}" here'


def _title(profile: Profile, setting: str) -> str:
    held = profile.settings.get(setting)
    return held.title if held else setting


def _place(profile: Profile, place: Place | None) -> str:
    if place is None:
        return "no such setting"
    written = _written(profile, place.citations)
    return f"it at {where_text(place)}{f' ({written})' if written else ''}"


def _written(profile: Profile, citations: Iterable[Citation]) -> str:
    """What is written about a place itself; bench tests at other firmware are no part of it."""
    own = (held for held in citations if held.verdict is None and not held.is_general)
    return "; ".join(citation_text(profile, held) for held in own)
