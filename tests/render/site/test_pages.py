"""The pages as files: strict HTML, every link leads somewhere, and any text stays text."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import html5lib
import pytest
from lxml import html

from cvlib.api import open_store, resolver_of
from cvlib.engine.known.resolve import Resolver
from cvlib.render.html import tag, written
from cvlib.render.site.decoder import decoder_page
from cvlib.render.site.facts import Course, DecoderFacts
from cvlib.render.site.fleet import page_names
from cvlib.render.site.search import folded
from make import profile

KINDS = (
    "index.html",
    "decoder/ferrow/lark-8.html",
    "decoder/standard/rcn-225.html",
    "cv/index.html",
    "cv/144.html",
    "codes/index.html",
    "codes/finding-disputed.html",
    "locos/index.html",
    "locos/05-avocet.html",
)
"""One page of each kind."""

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "a\u202eb\u2066c",
    "]]>&amp;<!--",
    "W" * 3000,
    "</style></title><h1>",
)


@pytest.mark.parametrize("name", KINDS)
def test_a_page_is_strict_html(name: str, catalogue: Path) -> None:
    """The reference parser of the WHATWG's rules, html5lib, finds no fault in it."""
    parser = html5lib.HTMLParser(strict=True)
    parser.parse((catalogue / name).read_text(encoding="utf-8"))


def test_every_link_leads_to_a_page_and_a_place_on_it(catalogue: Path) -> None:
    """Of every page of the catalogue; ``#at=`` is read by the script."""
    ids: dict[Path, set[str]] = {}
    links: list[tuple[Path, Path, str]] = []
    for path in catalogue.rglob("*.html"):
        tree = html.parse(str(path)).getroot()
        ids[path] = {str(one) for one in tree.xpath("//@id")}
        for link in tree.xpath("//a/@href | //link/@href | //script/@src"):
            target, _, place = unquote(str(link)).partition("#")
            assert ":" not in target, (path, link)
            whole = (path.parent / target).resolve() if target else path
            links.append((path, whole, place))
    assert len(links) > 10_000
    for path, target, place in links:
        assert target.is_relative_to(catalogue.resolve()), (path, target)
        assert target.is_file(), (path, target)
        if place and not place.startswith("at="):
            assert place in ids[target], (path, target, place)


def test_no_id_stands_twice_on_a_page(catalogue: Path) -> None:
    """A link to a place would be a guess else."""
    for name in KINDS:
        found = html.parse(str(catalogue / name)).getroot().xpath("//@id")
        assert len(found) == len(set(found)), name


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_text(text: str) -> None:
    """Whatever a profile says, the page has no element and no mark of direction from it."""
    held = profile(
        {
            "sources": {"h": ">=1, <=2"},
            "releases": ["1", "2"],
            "settings": {"a.b": [{"at": "3", "in": ">=1, <=2", "cites": ["h:1"]}]},
        }
    )
    settings = {id: replace(one, title=text, help=text) for id, one in held.settings.items()}
    sources = {id: replace(one, title=text, note=text) for id, one in held.sources.items()}
    names = {"maker": text, "name": text, "note": text}
    evil = replace(held, settings=settings, sources=sources, **names)
    page = decoder_page(DecoderFacts(Resolver(evil)))
    tree = html.fromstring(page)
    assert tree.xpath("//img | //script[not(@src)] | //h1[not(text())]") == []
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", page)
    shown = "".join(tree.itertext())
    assert text.translate(dict.fromkeys((0x202E, 0x2066), "\ufffd")) in shown


def test_an_attribute_is_text_too() -> None:
    """A quote in a value ends nothing."""
    made = written(tag("p", title='"><b>'))
    assert html.fragment_fromstring(made).get("title") == '"><b>'


def test_the_sentence_counts_every_setting_once() -> None:
    """A decoder's sentence adds up; figures of the Lark 8 counted by hand in its handbooks."""
    for id in open_store().ids():
        facts = DecoderFacts(resolver_of(open_store(), id))
        assert set(facts.courses) == {one.id for one in facts.settings}
    facts = DecoderFacts(resolver_of(open_store(), "ferrow/lark-8"))
    assert facts.courses["braking.stopping-distance"] is Course.MOVED
    assert facts.courses["shuttle.speed"] is Course.GONE
    assert facts.courses["motor.pwm-period"] is Course.RECODED
    assert facts.courses["momentum.acceleration"] is Course.STEADY
    assert "2.9.201" in facts.sentence()


def test_words_are_folded_as_people_type_them() -> None:
    """Umlauts, accents and signs make no other word."""
    assert folded("Bremsverzögerung") == folded("Bremsverzoegerung") == ["bremsverzoegerung"]
    assert folded("Café-Wagen (Nr. 5)") == ["cafe", "wagen", "nr", "5"]


def test_no_two_locos_share_a_page() -> None:
    """Names that differ in signs only get a number, and none is the overview."""
    assert page_names(["No. 4", "no. 4", "index", "", "…"]) == [
        *("no.-4.html", "no.-4-2.html", "index-2.html", "loco.html", "loco-2.html"),
    ]


def test_advice_of_a_loco_page_leads_somewhere(catalogue: Path) -> None:
    """Codes and what carry writes are links; options of a terminal are not offered."""
    page = html.parse(str(catalogue / "locos" / "04-marsh-harrier.html")).getroot()
    codes = {one.text_content(): one.xpath("a/@href") for one in page.xpath("//main/p/code")}
    assert codes["reused"] == ["../codes/finding-reused.html"]
    advice = [one for one in page.xpath("//p") if '"cvlib carry' in one.text_content()]
    assert advice
    assert all(one.xpath("a/@href") == ["#write"] for one in advice)
    text = page.text_content()
    assert "--all unfolds" not in text
    assert '"cvlib check' not in text
