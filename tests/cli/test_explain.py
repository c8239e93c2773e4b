"""`cvlib explain`: values a bit at a time, CVs, pages, settings and finding codes."""

import csv
import re
from typing import Any

import pytest

from cli.json_output import fails, json_of
from cli.run_cvlib import ROOT, STORE, program, run
from cvlib.engine.lint.finding import LintRule
from cvlib.engine.lint.rules import RULES
from cvlib.findings.catalogue import CATALOGUE

PLOVER = ("--profile", "ferrow/plover", "--definitions", str(STORE))

Capture = pytest.CaptureFixture[str]
_PAGES = ROOT / "tests" / "standards" / "data" / "index-pages-rcn-225.csv"
PAGES = list(csv.DictReader(_PAGES.read_text(encoding="utf-8").splitlines()))


def explained(capsys: Capture, *words: str) -> Any:
    """The explanation of some things, which is given without complaint."""
    code, data = json_of(capsys, "explain", *words)
    assert code == 0
    return data


def only(capsys: Capture, *words: str) -> Any:
    """The only thing explained."""
    (thing,) = explained(capsys, *words)["things"]
    return thing


def by_setting(thing: Any) -> dict[str, list[str]]:
    """The values in words of each setting of a value."""
    found: dict[str, list[str]] = {}
    for one in thing["meanings"]:
        found.setdefault(one["setting"], []).append(one["value"])
    return found


def text_of(capsys: Capture, *words: str) -> str:
    """The text that is printed, on one line."""
    assert run(["explain", *words]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_a_value_is_explained_by_both_standards_with_no_profile(capsys: Capture) -> None:
    """Where they say the same it is said once. Source: NMRA S-9.2.2 (2012-07), CV 29."""
    data = explained(capsys, "29=38")
    assert [scope["profile"] for scope in data["scopes"]] == [
        "standard/nmra-s-9.2.2",
        "standard/rcn-225",
    ]
    (thing,) = data["things"]
    assert [(one["bits"], one["value"], one["by"]) for one in thing["meanings"]] == [
        ([0], "off", []),
        ([1], "28/128 steps", []),
        ([2], "on", []),
        ([3], "off", []),
        ([4], "off", []),
        ([5], "on", []),
        ([6], "", []),
        ([7], "off", []),
    ]
    assert thing["meanings"][6]["use"] == "reserved"


def test_where_the_standards_differ_both_are_told(capsys: Capture) -> None:
    """CV 28 = 3 is one thing by NMRA S-9.2.2 (2012-07), another by RCN-225 (2025-07-27)."""
    thing = only(capsys, "28=3")
    on = {(one["setting"], *one["by"]) for one in thing["meanings"] if one["value"] == "on"}
    assert on == {
        ("bidirectional.unsolicited", "S-9.2.2"),
        ("bidirectional.broadcast-asymmetric", "S-9.2.2"),
        ("bidirectional.channel-1-address", "RCN-225"),
        ("bidirectional.channel-2", "RCN-225"),
    }


def test_every_bit_is_explained_once_by_each(capsys: Capture) -> None:
    """For each standard the bits of the meanings are the eight bits, each once."""
    for cv in (1, 12, 17, 19, 20, 22, 27, 28, 29, 35, 65, 96, 105, 300, 900, 1024):
        thing = only(capsys, f"{cv}=255")
        for name in ("S-9.2.2", "RCN-225"):
            bits = [
                bit
                for one in thing["meanings"]
                if not one["by"] or name in one["by"]
                for bit in one["bits"]
            ]
            assert sorted(bits) == list(range(8)), (cv, name)


def test_values_together_come_to_something(capsys: Capture) -> None:
    """A long consist address by RCN-225 (2025-07-27), CVs 19-20; the NMRA has CV 19 alone."""
    sums = explained(capsys, "19=162", "20=12")["sums"]
    assert [(one["value"], one["by"]) for one in sums] == [
        ("34 reversed", ["S-9.2.2"]),
        ("1234 reversed", ["RCN-225"]),
    ]


def test_cv_31_and_32_name_the_page(capsys: Capture) -> None:
    """Source: RCN-225 (2025-07-27), CVs 31-32."""
    sums = explained(capsys, "31=0", "32=255")["sums"]
    assert {one["title"] for one in sums} == {"Index page 0/255"}
    assert "Bidirectional communication page of RCN-217" in {one["value"] for one in sums}


def test_half_an_address_asks_for_the_other_half(capsys: Capture) -> None:
    """A value that needs a second CV says which."""
    (said,) = only(capsys, "17=195")["meanings"]
    assert (said["value"], said["needs"]) == ("", ["CV 18"])
    assert "needs CV 18 too" in text_of(capsys, "17=195")


def test_what_is_wrong_with_a_value_is_said(capsys: Capture) -> None:
    """Out of range, no such choice, and bits that mean nothing."""
    base = (*PLOVER, "--firmware", "3.1")
    assert only(capsys, "153=200", *base)["meanings"][0]["fault"] == "out-of-range"
    assert only(capsys, "152=7", *base)["meanings"][0]["fault"] == "undefined-choice"
    assert only(capsys, "157=9", *base)["meanings"][0]["stray"] == [3]
    text = text_of(capsys, "153=200", "152=7", "157=9", *base)
    assert "200, not allowed here; allowed are 1 to 100" in text
    assert "7, not allowed here; allowed are 0 = steady, 1 = blinking" in text
    assert "bit 3 means nothing" in text
    assert "reserved, but set" in text_of(capsys, "29=64")


def test_what_is_not_allowed_is_told_without_a_unit(capsys: Capture) -> None:
    """Where 3 to 12 V are allowed, 1 is no tenth of a volt."""
    base = ("--profile", "ferrow/lark-8", "--firmware", "4.2.60")
    text = text_of(capsys, "57=1", *base)
    assert "1, not allowed here; allowed are 3 to 12 V" in text
    assert "0.1 V" not in text


def test_8_in_cv_8_is_the_reset(capsys: Capture) -> None:
    """With what it loses. Source: RCN-226 (2014-09-12), section 2.1."""
    assert only(capsys, "8=8")["resets"] is True
    assert only(capsys, "520=8", "--profile", "standard/rcn-225-accessory")["resets"] is True
    assert [only(capsys, word)["resets"] for word in ("8=9", "7=8", "520=8")] == [False] * 3
    text = text_of(capsys, "8=8")
    for words in ("command", "Caution", "factory address", "outputs", "handbook"):
        assert words in text
    assert "Caution" not in text_of(capsys, "8=13")


@pytest.mark.parametrize("row", PAGES, ids=lambda row: "{cv31_first}/{cv32_first}".format(**row))
def test_a_paged_cv_is_answered_by_its_page(row: dict[str, str], capsys: Capture) -> None:
    """At either end of a span. Source: RCN-225 (2025-07-27), table of the index pages."""
    content = row["content"].replace("manufacturer", "free for the manufacturer")
    ends = {tuple(row[f"{cv}_{end}"] for cv in ("cv31", "cv32")) for end in ("first", "last")}
    for high, low in ends:
        base = ("--profile", "standard/rcn-225")
        thing = only(capsys, f"257@{high}/{low}", *base)
        assert [use["use"].casefold() for use in thing["uses"]] == [content.casefold()]
        assert thing["pages"] == []
    assert content.casefold() in text_of(capsys, f"300@{high}/{low}", *base).casefold()


def test_a_paged_cv_without_its_page_lists_the_pages(capsys: Capture) -> None:
    """All that are not reserved. Source: RCN-225 (2025-07-27), table of the index pages."""
    thing = only(capsys, "257", "--profile", "standard/rcn-225")
    listed = [row for row in PAGES if "reserved" not in row["content"]]
    assert [one["use"].casefold() for one in thing["pages"]] == [
        row["content"].replace("manufacturer", "free for the manufacturer").casefold()
        for row in listed
    ]
    assert "0/40-43" in {one["pages"] for one in thing["pages"]}
    assert only(capsys, "256")["pages"] == only(capsys, "513")["pages"] == []


def test_a_decoder_that_knows_the_cv_lists_no_further_pages(capsys: Capture) -> None:
    """Its own settings on that number say the page."""
    thing = only(capsys, "257", "--profile", "ferrow/lark-8")
    assert thing["pages"] == []
    assert "16/2" in {one["page"] for one in thing["settings"]}


def test_cvs_31_and_32_put_a_value_on_its_page(capsys: Capture) -> None:
    """Typed together they are what the decoder would do; one of the two alone decides nothing."""
    base = ("--profile", "ferrow/lark-8", "--firmware", "4.2.60")
    paged = explained(capsys, "31=16", "32=2", "257=5", *base)["things"][-1]
    assert paged == only(capsys, "257@16/2=5", *base)
    assert by_setting(paged) == {"smoke.level-stand": ["5 %"]}
    alone = explained(capsys, "31=16", "257=5", *base)["things"][-1]
    assert alone["page"] == ""
    assert "257@16/2" in text_of(capsys, "257=5", *base)


def test_a_condition_without_the_deciding_value_is_told(capsys: Capture) -> None:
    """CV 156 means something while the lamps blink; with CV 152 given that is decided."""
    base = (*PLOVER, "--firmware", "3.1")
    (said,) = only(capsys, "156=5", *base)["meanings"]
    assert (said["basis"], said["value"]) == ("undecided", "0.5 s")
    assert said["when"] == [{"setting": "lights.mode", "is": ["blinking"]}]
    things = explained(capsys, "156=5", "152=1", *base)["things"]
    assert by_setting(things[1]) == {"lights.period": ["0.5 s"]}
    things = explained(capsys, "156=5", "152=0", *base)["things"]
    assert [one["basis"] for one in things[1]["meanings"]] == ["none"]


def test_without_firmware_each_stretch_that_differs_is_told(capsys: Capture) -> None:
    """One CV, two settings, and between them nobody knows."""
    thing = only(capsys, "141=40", *PLOVER)
    told = {(one["setting"], one["value"], *one["by"]) for one in thing["meanings"]}
    assert told == {
        ("braking.distance", "80 cm", "<2.0"),
        ("braking.distance", "80 cm", ">=2.0, <3.0"),
        ("motor.boost", "40", ">=2.0, <3.0"),
        ("motor.boost", "40", ">=3.0"),
    }
    disputed = [one for one in thing["meanings"] if one["basis"] == "disputed"]
    assert [one["rivals"] for one in disputed] == [["CV 144"], ["nowhere"]]


def test_what_is_the_same_at_every_firmware_is_told_once(capsys: Capture) -> None:
    """No firmware stands beside it then."""
    (said,) = only(capsys, "153=90", *PLOVER)["meanings"]
    assert (said["value"], said["by"]) == ("90", [])


def test_a_failed_bench_test_leaves_the_other_place_possible(capsys: Capture) -> None:
    """At 2.9.201 CV 144 was found without effect, so CV 141 is still possible."""
    base = ("--profile", "ferrow/lark-8", "--firmware", "2.9.201")
    told = {one["setting"]: one for one in only(capsys, "141=40", *base)["meanings"]}
    assert told["braking.stopping-distance"]["failed"] == "CV 144"
    told = {one["setting"]: one for one in only(capsys, "144=40", *base)["meanings"]}
    assert told["braking.stopping-distance"]["standing"] == "faulty"


def test_a_bare_cv_tells_what_lives_there(capsys: Capture) -> None:
    """Bits, their settings and the number on the wire. Source: NMRA S-9.2.3 (2012-07)."""
    thing = only(capsys, "29")
    assert (thing["kind"], thing["cv"], thing["wire"]) == ("cv", 29, 28)
    assert [one["bits"] for one in thing["settings"]] == ["0", "1", "2", "3", "4", "5", "6", "7"]
    assert only(capsys, "CV", "29") == only(capsys, "cv29") == thing


def test_a_bare_cv_across_all_firmware(capsys: Capture) -> None:
    """With a profile each setting that ever lived there has its firmware."""
    thing = only(capsys, "141", *PLOVER)
    told = [(one["id"], one["by"], one["rivals"]) for one in thing["settings"]]
    assert told == [
        ("braking.distance", ["<2.0"], []),
        ("braking.distance", [">=2.0, <3.0"], ["CV 144"]),
        ("motor.boost", [">=2.0, <3.0"], ["nowhere"]),
        ("motor.boost", [">=3.0"], []),
    ]


def test_a_page_tells_its_use_and_its_settings(capsys: Capture) -> None:
    """By the standards, or by the profile that uses it."""
    thing = only(capsys, "16/2", "--profile", "ferrow/lark-8")
    assert [use["use"] for use in thing["uses"]] == ["Smoke unit"]
    assert "smoke.level-stand" in {one["id"] for one in thing["settings"]}
    assert {use["by"][0] for use in only(capsys, "0/255")["uses"]} == {"S-9.2.2", "RCN-225"}


def test_a_setting_by_id_or_by_words(capsys: Capture) -> None:
    """Its places with standing and sources; words of a title are one question."""
    by_id = only(capsys, "braking.distance", *PLOVER)
    assert only(capsys, "stopping", "distance", *PLOVER) == by_id
    told = [(one["by"], one["standing"], one["cvs"]) for one in by_id["answers"]]
    assert told == [
        (["<1.0"], "before", [141]),
        ([">=1.0, <2.0"], "documented", [141]),
        ([">=2.0, <3.0"], "disputed", []),
        ([">=3.0, <4.0", ">=5.0, <=5.2"], "documented", [144]),
        ([">=4.0, <5.0"], "between", [144]),
        ([">5.2"], "beyond", [144]),
    ]


def test_without_profile_a_setting_is_one_of_the_standards(capsys: Capture) -> None:
    """One that only one standard has says so."""
    (told,) = only(capsys, "speed.kick-start")["answers"]
    assert (told["cvs"], told["by"]) == ([65], ["S-9.2.2"])


def test_words_that_fit_many_settings_list_them(capsys: Capture) -> None:
    """So that one of them can be asked for."""
    thing = only(capsys, "function", "assignment", "--profile", "standard/rcn-225")
    assert thing["kind"] == "settings"
    assert len(thing["settings"]) > 10
    assert "cvlib explain function-map" in text_of(
        capsys, "function", "assignment", "--profile", "standard/rcn-225"
    )


@pytest.mark.parametrize("code", [row.code for row in CATALOGUE])
def test_each_finding_code_prints_its_page(code: str, capsys: Capture) -> None:
    """The page in docs/findings, every sentence of it, and as data with the catalogue's row."""
    page = (ROOT / "docs" / "findings" / f"{code}.md").read_text(encoding="utf-8")
    thing = only(capsys, code)
    assert (thing["kind"], thing["code"], thing["page"]) == ("code", code, page)
    assert thing["sentence"] in page
    text = text_of(capsys, code)
    shown = re.sub(r"^```.*$|[`*]", "", page, flags=re.MULTILINE)
    assert [word for word in shown.split() if word.isalpha() and word not in text] == []


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_each_code_of_lint_prints_its_page(rule: LintRule, capsys: Capture) -> None:
    """The page in docs/lint, and as data with the row of the rule; no code means two things."""
    page = (ROOT / "docs" / "lint" / f"{rule.code}.md").read_text(encoding="utf-8")
    thing = only(capsys, rule.code)
    assert (thing["kind"], thing["family"], thing["page"]) == ("code", "lint", page)
    assert (thing["severity"], thing["sentence"]) == (rule.severity.value, rule.sentence)
    assert text_of(capsys, rule.code).startswith(rule.code)
    assert rule.code not in {row.code for row in CATALOGUE}


def test_markdown_gives_a_page_back(capsys: Capture) -> None:
    """Headings, lists and examples survive."""
    run(["explain", "older-only", "--format", "markdown"])
    text = capsys.readouterr().out
    assert text.startswith("# older-only\n")
    assert "\n## What to do\n" in text
    assert "```\nformat = 2\n" in text


def test_several_things_at_once(capsys: Capture) -> None:
    """Values come first, then the others as they were asked."""
    things = explained(capsys, "rule", "29", "0/40", "29=6")["things"]
    assert [thing["kind"] for thing in things] == ["value", "code", "cv", "page"]


def test_the_second_number_of_a_cv_stands_for_the_first(capsys: Capture) -> None:
    """An accessory decoder's CV 513 is CV 1. Source: RCN-225 (2025-07-27), accessory CVs."""
    base = ("--profile", "standard/rcn-225-accessory")
    assert [one["setting"] for one in only(capsys, "513=3", *base)["meanings"]] == ["address.low"]
    code, lines = fails(capsys, "explain", "513=3", "1=4", *base)
    assert code == 2
    assert "CV 513 is a second number of CV 1" in lines[0]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "nothing to explain"),
        (["29=256"], "CV 29 cannot hold 256."),
        (["29="], "CV 29 has no value."),
        (["0=1"], "CV 0 does not exist."),
        (["1025"], "CV 1025 does not exist."),
        (["16/256"], "is not an index page"),
        (["speed.kick-strat"], 'Did you mean "speed.kick-start"?'),
        (["older-onyl"], 'Did you mean "older-only"?'),
        (["claimed-twise"], 'Did you mean "claimed-twice"?'),
        (["braking.mode"], "settings of a decoder need its --profile."),
        (["29=1", "29=2"], "29"),
        (["29=1", "--firmware", "2.0"], "--profile"),
        (["29=1", "--profile", "ferrow/larc-8"], 'Did you mean "ferrow/lark-8"?'),
        (["29=1", "--profile", "ferrow/lark-8", "--firmware", "new"], "not a firmware version"),
    ],
)
def test_what_cannot_be_explained_is_one_line(words: list[str], told: str, capsys: Capture) -> None:
    """Each wrong word gives exit code 2 and one line."""
    code, lines = fails(capsys, "explain", *words)
    assert (code, len(lines)) == (2, 1)
    assert told in lines[0]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["141=40", "--firmware", "3.0"], "disputed: it may not exist at all"),
        (["141=40", "--firmware", "3.0"], "disputed: it may live at CV 144 instead"),
        (["141", "--firmware", "9"], "beyond"),
        (["141", "--firmware", "1.0"], "before"),
    ],
)
def test_what_is_not_sure_is_said_beside_it(
    words: list[str], told: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A firmware that no document covers never looks like one that a document covers."""
    monkeypatch.setenv("COLUMNS", "200")
    run(["explain", *words, "--profile", "ferrow/lark-8"])
    assert told in capsys.readouterr().out


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_too_wide(width: int) -> None:
    """Whatever is explained fits the terminal."""
    done = program(
        *("explain", "29=38", "28=3", "3=10", "23=133", "141=40", "29", "16/2", "recoded"),
        *("stopping", "distance", "--profile", "ferrow/lark-8"),
        COLUMNS=str(width),
    )
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= width
