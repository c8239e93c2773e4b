"""A decoder's page: what became of its settings, what nobody knows, and each place with its
source.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence

from cvlib.engine.known.line import Known, Stretch, answer_facets
from cvlib.engine.known.timeline import Life
from cvlib.model.answer import Answer, Side, Standing
from cvlib.model.cv import spans_text
from cvlib.model.facet import Facet
from cvlib.model.profile import Citation, Place, Source
from cvlib.model.versions import Key
from cvlib.render.html import Child, Element, framed, grid, tag
from cvlib.render.phrases import counted, firmware_words, first_up, in_firmware, listed
from cvlib.render.places import default_text, marks_text, open_text, values_text, when_text
from cvlib.render.site.facts import Course, DecoderFacts, anchor, by_group
from cvlib.render.site.shell import shell
from cvlib.render.site.tracks import LEGEND, axis, hatch, is_drawn, tracks
from cvlib.render.to_html import breakable
from cvlib.render.views.settings import SIDES, short_where
from cvlib.render.views.sources import cited
from cvlib.render.views.why import citation_text

_LIES = {
    Known.COVERED: "A document speaks for it.",
    Known.GAP: "Nobody read this: it lies between the documents there are.",
    Known.BEFORE: "Nobody read this: it is older than all documents there are.",
    Known.BEYOND: "Nobody read this: it is newer than all documents there are.",
}
_GUESSES = {
    Standing.BETWEEN: "as in the documents on both sides, which agree",
    Standing.BEFORE: "as in the oldest document",
    Standing.BEYOND: "as in the newest document",
    Standing.ASSUMED: "by a standard alone, or by nobody's word",
}


def decoder_page(facts: DecoderFacts) -> str:
    """The whole page of one profile."""
    profile = facts.profile
    is_one = len(facts.columns) <= 1 or profile.kind == "standard"
    return shell(
        facts.name,
        tag("h1", facts.name),
        tag("p", facts.sentence(), class_="lead"),
        tag("p", "Profile ", tag("code", profile.id), f". {profile.note}", class_="faint"),
        None if is_one else _fields(facts),
        hatch(),
        _warnings(facts),
        None if is_one else _firmware(facts),
        None if is_one else _pictures(facts),
        None if is_one else _one_by_one(facts),
        _tables(facts),
        _sources(facts),
        up=2,
        script=True,
    )


def _fields(facts: DecoderFacts) -> Iterator[Element]:
    """The firmware that a person has; without script each release is a link."""
    versions = [tag("option", value=str(version)) for version in facts.versions]
    yield tag(
        "form",
        tag("div", tag("label", "My firmware", for_="at"), _input("at")),
        tag("div", tag("label", "Held against", for_="against"), _input("against")),
        tag("div", tag("button", "Show everything", type="reset")),
        tag("datalist", versions, id="versions"),
        class_="fields",
        id="firmware-form",
        hidden="hidden",
        data_scheme=facts.profile.scheme.value,
        data_steps=json.dumps([_key(step.point) for step in facts.steps]),
        data_columns=json.dumps([facts.step_at(column.point) for column in facts.columns]),
        data_unread=json.dumps([column.known is not Known.COVERED for column in facts.columns]),
    )
    yield tag("p", id="firmware-said", role="status")
    links = [
        tag("li", tag("a", str(version), href=f"#{anchor(f'at-{version}')}"))
        for version in facts.versions
    ]
    yield tag("nav", tag("ul", links, class_="releases"), aria_label="Releases")


def _input(name: str) -> Element:
    return tag(
        "input",
        id=name,
        name=name,
        list="versions",
        autocomplete="off",
        spellcheck="false",
        size=14,
    )


def _key(point: Key) -> tuple[list[int], int]:
    """A point of the version line as the script compares it: its figures, and 1 where it lies
    just behind the version of those figures.
    """
    first, *rest = point
    if isinstance(first, tuple):
        return [*first], int(str(rest[0]))
    return [int(str(part)) for part in point], 0


def _warnings(facts: DecoderFacts) -> Iterator[Element]:
    """What is known to misbehave, and what the profile does not know."""
    profile = facts.profile
    if profile.advisories:
        yield tag("h2", "What is known to misbehave")
        for one in profile.advisories:
            yield tag(
                "p",
                tag("strong", f"{first_up(in_firmware(one.firmware.text()))}: "),
                f"{one.text} {one.do} ",
                _cites(facts, one.citations),
                class_="caution first last",
            )
    if profile.questions:
        yield tag("h2", "What nobody knows yet")
        items = []
        for question in profile.questions:
            where = f" ({in_firmware(question.firmware.text())})" if question.firmware else ""
            settle = f" What would settle it: {question.settle}" if question.settle else ""
            items.append(tag("li", f"{question.text}{where}{settle}"))
        yield tag("ul", items)


def _firmware(facts: DecoderFacts) -> Iterator[Element]:
    yield tag("h2", "Firmware and what was read of it")
    yield axis(facts)
    rows = [
        tag(
            "tr",
            tag(
                "th",
                tag("a", str(one.version), href=f"#{anchor(f'at-{one.version}')}"),
                scope="row",
            ),
            tag("td", one.date or "-"),
            tag("td", ", ".join(one.labels) + (f" {one.note}" if one.note else "")),
        )
        for one in facts.profile.releases
    ]
    yield grid("Releases", ("release", "date", "name, note"), rows)


def _pictures(facts: DecoderFacts) -> Iterator[Element]:
    yield tag("h2", "Each setting that changed, as a track through the firmware", id="tracks")
    yield tag("p", LEGEND)
    still = []
    for group, lives in by_group(facts.lives).items():
        drawn = [life for life in lives if is_drawn(facts, life)]
        folded = _folded(group, [life for life in lives if not is_drawn(facts, life)])
        if drawn:
            yield tag("h3", group)
            yield tracks(facts, group, drawn)
            yield from folded
        else:
            still += folded
    if still:
        yield tag("h3", "Groups in which nothing moved")
        yield from still


def _folded(group: str, lives: Sequence[Life]) -> list[Element]:
    """The settings of a group that never moved, in one line that unfolds."""
    if not lives:
        return []
    names = [
        (", " if at else "", tag("a", life.setting.title, href=f"#{_id(life)}"))
        for at, life in enumerate(lives)
    ]
    settings = counted(len(lives), "setting that never moved", "settings that never moved")
    return [tag("details", tag("summary", f"{group}: {settings}"), tag("p", names))]


def _one_by_one(facts: DecoderFacts) -> Iterator[Element]:
    """Each step of firmware: what is not certain in it."""
    yield tag("h2", "Firmware by firmware: what is not certain")
    titles = {one.id: one.title for one in facts.settings}
    for at, step in enumerate(facts.steps):
        yield _step(facts, at, step, titles)


def _step(facts: DecoderFacts, at: int, step: Stretch, titles: dict[str, str]) -> Element:
    held = [version for version in facts.versions if version in step.firmware]
    releases = [
        tag("span", f"{', ' if n else ' · releases '}{version}", id=anchor(f"at-{version}"))
        for n, version in enumerate(held)
    ]
    there = [answer for answer in step.answers if answer.may_exist]
    open_ = [one for one in there if one.is_disputed or one.standing is Standing.FAULTY]
    sure = sum(one.standing in (Standing.DOCUMENTED, Standing.BENCH) for one in there)
    rows = [
        tag(
            "tr",
            tag(
                "th",
                tag("a", titles[one.setting], href=f"#{anchor(f's-{one.setting}')}"),
                scope="row",
            ),
            tag("td", _candidates(one)),
            tag("td", "no effect on the bench" if not one.is_disputed else "disputed"),
        )
        for one in open_
    ]
    text = firmware_words(step.firmware.text())
    lies = _LIES[step.known]
    if step.known is Known.COVERED and any(one.standing.is_guess for one in there):
        lies = "A document speaks for some of its settings."
    sentence = f"{lies} {sure} of {counted(len(there), 'setting')} certain."
    return tag(
        "section",
        tag("h3", text, releases),
        tag("p", sentence),
        grid(f"Not certain at {text}", ("setting", "where it may be", "why"), rows)
        if rows
        else None,
        _guesses(there),
        id=f"step-{at}",
        class_="step",
    )


def _candidates(answer: Answer) -> str:
    words = ["none" if one is None else short_where(one) for one in answer.possible()]
    return listed(list(dict.fromkeys(words)), last="or") if answer.candidates else "not known here"


def _guesses(there: Iterable[Answer]) -> Element | None:
    """What is likely and not certain, as runs of CVs."""
    found: dict[Standing, set[int]] = {}
    for answer in there:
        if answer.standing in _GUESSES:
            cvs = {field.slot.cv for place in answer.places() for field in place.fields}
            found.setdefault(answer.standing, set()).update(cvs)
    items = [
        tag("li", f"Likely, {_GUESSES[standing]}: CVs {spans_text(tuple(sorted(cvs)))}.")
        for standing, cvs in found.items()
        if cvs
    ]
    return tag("ul", items) if items else None


def _id(life: Life) -> str:
    return anchor(f"s-{life.setting.id}")


def _tables(facts: DecoderFacts) -> Iterator[Element]:
    yield tag("h2", "Every setting, with its places and their sources", id="settings")
    yield tag("p", id="settings-said", role="status")
    for group, lives in by_group(facts.lives).items():
        heads = [tag("th", one, scope="col") for one in ("firmware", "where, values", "source")]
        table = tag(
            "table",
            tag("caption", group),
            tag("thead", tag("tr", heads)),
            [_setting(facts, life) for life in lives],
        )
        yield tag("div", framed(f"Settings of {group}", table), class_="group")


def _setting(facts: DecoderFacts, life: Life) -> Element:
    """A setting with all its places; its history is a place on this page."""
    setting = life.setting
    course = facts.courses[setting.id]
    word = f" · {course.value}" if course is not Course.STEADY else ""
    name = tag(
        "tr",
        tag(
            "th",
            tag("strong", setting.title),
            *(" ", tag("code", breakable([setting.id])), word),
            tag("br") if setting.help else None,
            setting.help,
            colspan=3,
            scope="rowgroup",
        ),
    )
    runs: list[tuple[int, list[Stretch]]] = []
    known: list[Answer] = []
    for stretch in life.stretches:
        (answer,) = stretch.answers
        key = next((at for at, one in enumerate(known) if not _differ(one, answer)), len(known))
        if key == len(known):
            known.append(answer)
        if runs and runs[-1][0] == key:
            runs[-1][1].append(stretch)
        else:
            runs.append((key, [stretch]))
    rows = [
        tag(
            "tr",
            _cells(facts, run),
            data_a=facts.steps_within(run[0].firmware)[0],
            data_b=facts.steps_within(run[-1].firmware)[1],
            data_k=key,
        )
        for key, run in runs
    ]
    return tag("tbody", name, rows, id=_id(life), class_="setting")


def _differ(one: Answer, other: Answer) -> bool:
    return bool(answer_facets(one, other) - {Facet.WORDS}) or one.is_disputed != other.is_disputed


def _cells(facts: DecoderFacts, run: Sequence[Stretch]) -> Iterator[Element]:
    """One answer for firmware over which nothing but its standing changes."""
    profile = facts.profile
    held: list[Child] = []
    sources: list[Citation] = []
    for stretch in run:
        (answer,) = stretch.answers
        standing = tag("span", _standing(answer), class_="faint")
        held += [
            tag("br") if held else None,
            firmware_words(stretch.firmware.text()),
            ": ",
            standing,
        ]
        sides = (answer, *answer.failures())
        places = [(side, place) for side in sides for place in side.places()]
        found = [c for side, one in places for c in cited(profile, side, one, stretch.firmware)]
        sources += found or answer.trace.citations
    (answer,) = run[0].answers
    told: list[Child] = []
    for at, place in enumerate(answer.possible() if answer.may_exist else (None,)):
        told += [tag("br"), "or ", tag("br")] if at else []
        told += _place(answer, place)
    for failed in answer.failures():
        tried = ", ".join(map(short_where, failed.places()))
        told += [tag("br"), f"tried without effect: {tried}"]
    if answer.is_unplaced:
        told = ["its place is not known here"]
    yield tag("td", held)
    yield tag("td", told)
    yield tag("td", _cites(facts, sources))


def _place(answer: Answer, place: Place | None) -> list[Child]:
    if place is None:
        side = answer.side
        has = f"; {SIDES[side]} firmware has it" if side and side is not Side.NEITHER else ""
        return [f"does not exist{has}"]
    default = default_text(place)
    more = [
        values_text(place.coding),
        f"default {default}" if default else open_text(answer),
        marks_text(place),
        when_text(place.when),
        place.note,
    ]
    words = [one for one in more if one]
    return [tag("strong", short_where(place)), f": {'; '.join(words)}" if words else ""]


def _standing(answer: Answer) -> str:
    unreliable = ", acts otherwise than the handbook says" if answer.is_unreliable else ""
    return f"{answer.standing.value}{unreliable}"


def _cites(facts: DecoderFacts, citations: Iterable[Citation]) -> list[Child]:
    """Sources with their pages; each leads to what is said of it."""
    found: list[Child] = []
    for at, one in enumerate(dict.fromkeys(citations)):
        text = citation_text(facts.profile, one)
        if one.verdict:
            text += f" ({one.verdict.replace('-', ' ')})"
        found += ["; " if at else "", tag("a", text, href=f"#{anchor(f'source-{one.source}')}")]
    return found


def _sources(facts: DecoderFacts) -> Iterator[Element]:
    """Everything that is called on, each a place on the page."""
    profile = facts.profile
    yield tag("h2", "Sources", id="sources")
    items = [
        tag(
            "li",
            tag("strong", one.title or one.id),
            f": {_about(one)}",
            id=anchor(f"source-{one.id}"),
        )
        for one in profile.sources.values()
    ]
    items += [
        tag("li", tag("strong", title), ", a published standard", id=anchor(f"source-{id}"))
        for id, title in profile.standards.items()
        if id not in profile.sources
    ]
    yield tag("ul", items) if items else tag("p", "None is named.")


def _about(source: Source) -> str:
    kind = {"document": "document", "maker": "the maker's word", "bench": "bench test"}
    told = [
        kind.get(source.kind.value, source.kind.value),
        source.date,
        in_firmware(source.firmware.text()),
        "read as a whole" if source.extent.value == "whole" else "",
        f"about {listed(list(source.about))}" if source.about else "",
        source.where,
        source.note,
    ]
    return ", ".join(one for one in told if one)
