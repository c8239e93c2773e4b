"""What a profile says of a setting at one firmware, read point by point.

A second reading of the design's words, beside the resolver and without a look at it: sets of
integers, no ranges, no caches, nothing imported from the package. It is slow and meant to be read
next to the paragraphs "What a document says" (section 4) and rules 1 to 5 (section 5).

A case is a plain table::

    {"top": 12,                              # firmware are the numbers 0 to 12
     "sources": [{"id", "kind": "document" | "maker" | "bench", "firmware": {2, 3, 4},
                  "extent"?: "whole" | "cited", "about"?: [...], "reissues"?: id,
                  "replaces"?: id, "without"?: [...]}],
     "decoder_sources": [citation],          # [decoder] sources
     "settings": [{"id", "sources"?: [citation], "common"?: {"sources": [citation]},
                   "places": [place]}],
     "standard": [setting],                  # of the standard that the case follows; may be empty
     "follows": {"sources"?: [citation], "firmware"?: {..}, "without"?: [...]}}

A citation is ``{"source", "page"?, "verdict"?: "works" | "no-effect" | "unreliable"}``. A place is
``{"cvs": [50], "page"?: "16/0", "bits"?: "0-3", "kind", "scale"?, "unit"?, "range"?, "default"?,
"marks"?: [...], "note"?, "when"?: [{"setting", "is" | "not": [...]}], "firmware"?: {..},
"sources"?: [citation], "requirement"?}`` or ``{"absent": True, "firmware"?, "sources"}``.

An answer (``answer``) is a table of canonical values, to be compared with ``==`` key by key:

``standing``         documented, bench, between, beyond, before, disputed, faulty, assumed, or None
``candidates``       sorted tuple of canonical places (``key``) and of ``ABSENT``
``not_known``        sorted tuple of (canonical place, facet, values), facets default, marks, words
``place_not_known``  True: the setting is there, and every place thought of is taken by another
``side``             older, newer, both, neither had it, where ABSENT is the only candidate
``tried``            places that a test at v found without effect
``struck``, ``lost`` places struck out by a bench test, lost by a guess to documents at v
``unreliable``       True beside a bench answer that acts otherwise than the handbook says
``by_standard``      True: documented by the standard alone
``handbook``         (standing, candidates) without any test, where a test had a say; else None
``pages``            sorted tuple of (canonical place or ABSENT, chain of "document:page")
``leans``            numbers of the CHOICES that this answer may rest on; not to be compared
"""

from __future__ import annotations

from typing import Any

Case = dict[str, Any]
Place = dict[str, Any]
Know = dict[str, Any]

ABSENT = "absent"

CHOICES: dict[int, tuple[str, str, str]] = {
    # number: (the sentence, what is read here, the other reading)
    1: (
        "(a) the places citing it that hold at v; (b) ... a place with `absent = true` cites it",
        "an absent place is no place of (a): a real place of the same document that holds wins",
        "an absent place that holds at v stands in (a) too: the document disputes itself, or the "
        "narrower one wins",
    ),
    2: (
        "absent, where ... a place with `absent = true` cites it",
        "an absent place speaks only inside its firmware; outside, (c) and (d) come next",
        "absent in the whole range of the document, also outside the absent place's own firmware "
        "(there 'their narrowing excludes v' says absent as well)",
    ),
    3: (
        "what the document it reissues says ... at the end of that one's range nearest to v",
        "in a gap of that one's range two ends are nearest (versions have no distance): what it "
        "says at both joins",
        "the lower end; or the nearer one by number",
    ),
    4: (
        "A place that cites nobody is `assumed` where it holds",
        "a place cited by bench tests alone cites somebody: it holds nowhere for the handbook, and "
        "only its tests speak for it",
        "it is assumed wherever its firmware (or everything) holds",
    ),
    5: (
        "the nearest that names a document or maker's word counts (a bench reference alone does "
        "not hide it)",
        "bench references count from every level up to the one that counts; farther ones not",
        "only those on the place; or those of all levels",
    ),
    6: (
        "Only a standard or an uncited place: standing `assumed`",
        "outside K an uncited place that holds at v goes before the guesses of rules 3 and 4; "
        "inside K it counts only where nothing but silence speaks",
        "where K is not empty, rules 3 and 4 come first",
    ),
    7: (
        "no document's silence denies it; no document of the decoder names it: `assumed`",
        "a setting of a followed standard that no source is named for counts as uncited: a whole "
        "handbook's silence does not deny it (assumed), `without` or an absent place does",
        "silence of a whole handbook denies what comes from a standard (all but areas)",
    ),
    8: (
        "`documented` by the standard where it is mandatory there and no document speaks",
        "the silence of a whole handbook is speaking: then only assumed",
        "documented in spite of silence; only a document that names it speaks",
    ),
    9: (
        "`documented` by the standard where it is mandatory there and no document speaks",
        "a mandatory setting that `follows ... sources` cites is cited: outside K rules 3 and 4",
        "documented by the standard at every firmware where no document speaks",
    ),
    10: (
        "v newer than all of K: the answer at its newest end, standing `beyond`",
        "an end that is disputed gives `disputed` with the same candidates",
        "standing `beyond` with several candidates",
    ),
    11: (
        "the answer at its newest end (rules 3, 4)",
        "where only silence speaks at the end and an uncited place holds there (but not at v), "
        "that place is the end's answer",
        "the end's answer is absent",
    ),
    12: (
        "Only no effect: `faulty`, unless rule 2 or 3 leaves a candidate on another CV",
        "a guess by rule 4 or 5 on another CV does not count: `faulty`",
        "any candidate on another CV makes it disputed",
    ),
    13: (
        "a candidate on another CV",
        "another page or CV number; other bits of the CV that failed are not another CV; `absent` "
        "is none either, but stays among what is left where another CV is",
        "any other place (bits, coding), or absent, is a candidate that is left",
    ),
    14: (
        "Two places acting, or acting and no effect on one place: `disputed`",
        "the candidates are the acting places alone, whatever the handbook says; two acting "
        "places whose conditions exclude each other are two places too",
        "the handbook's candidates join; exclusive conditions make no dispute",
    ),
    15: (
        "strikes out that same page, CVs and bits for every other setting",
        "any common bit strikes (a word of two CVs by one of them, a byte by a bit)",
        "only the very same page, CVs and bits",
    ),
    16: (
        "strikes out ... for every other setting at v",
        "two settings proved by tests on one place strike each other: both `place not known here`",
        "a bench answer is never struck",
    ),
    17: (
        "A place whose deciding setting is absent at v is absent",
        "not so for a place that a test at v found acting; for ends b and a it counts at the end, "
        "for the answer at v again at v",
        "it counts for bench answers too; or only at v",
    ),
    18: (
        "A place whose deciding setting is absent at v is absent",
        "of several candidates in dispute that one turns into `absent`; of places whose conditions "
        "exclude each other it goes and the others keep their standing; nothing but absent left: "
        "absent with the standing the rule gives",
        "the candidate goes without a trace; or all becomes disputed",
    ),
    19: (
        "A guess (before, between, beyond) loses a CV that documents at v give to another setting",
        "what is `disputed` by rule 3 or 4 loses nothing (the bracket does not name it)",
        "each candidate of a dispute between guesses may be lost",
    ),
    20: (
        "loses a CV that documents at v give to another setting",
        "given: any place that documents at v name for it, documented or disputed, whatever its "
        "deciding setting; the standard gives none; common bits count, with the exceptions that "
        "striking has (byte of fields, conditions that exclude each other)",
        "only documented ones; the whole CV whatever bits",
    ),
    21: (
        "loses a CV",
        "as when struck: `disputed` among what is left, `place not known here` where nothing is",
        "absent; or it keeps its standing with what is left",
    ),
    22: (
        "whether older firmware, newer, or both had it (an enclosing range counts on both sides)",
        "had it: documents there name a place, or an uncited place holds there; guesses and tests "
        "do not count; a place whose own firmware holds at v counts for both sides",
        "tests count; only the ranges that places have count, not what a reissue carries further",
    ),
    23: (
        "only where whole handbooks without `about` name the place and another such is silent",
        "one whole handbook among those that name it is enough; a handbook is whole by its own "
        "(or taken over) extent even where it names or is silent through a reissue",
        "all that name it must be whole handbooks",
    ),
    24: (
        "errata have put aside what they replace, directly or not",
        "along `replaces` alone, by an erratum that says something of s at v; a reissue of what is "
        "put aside still speaks, and (c) hears the reissued document as it was, without errata",
        "reissues of what is replaced are put aside, or (c) hears it corrected",
    ),
    25: (
        "other differing facets are given as not known",
        "a default that one place states and the other does not is a difference",
        "a default not stated agrees with every default",
    ),
    26: (
        "(no rule fits: K is empty and no uncited place holds at v)",
        "absent, without a standing",
        "no answer; or absent, assumed",
    ),
    27: (
        "`firmware` of a `follows` entry",
        "narrows each place it takes over, as `firmware` on a place does (so (b) says absent for "
        "what its sources cite)",
        "outside it the setting is not there at all, and nothing is said",
    ),
    28: (
        "Only a standard or an uncited place: standing `assumed`",
        "several different uncited places that hold at v: all candidates, `assumed`",
        "`disputed`",
    ),
    29: (
        "The handbook's answer stays visible beside the bench's",
        "shown wherever a test of the setting stands at v or the setting is struck, computed as if "
        "there were no test of any setting",
        "only beside the standing `bench`",
    ),
    30: (
        "Areas have no standing and are never denied",
        "an area is the answer where its firmware holds, whatever documents say; never struck",
        "",
    ),
    31: (
        "b and a ... if one is disputed, all its candidates join",
        "an end in dispute makes the answer disputed, also where both ends dispute the same",
        "two ends with the same candidates are 'the same answer': between",
    ),
    32: (
        "its `without` names s; `about`, settings or leading parts of ids",
        "`without` takes leading parts as `about` does; a leading part ends before a dot",
        "`without` takes whole ids only",
    ),
    33: (
        "`sources` may stand ... on `[decoder]`",
        "a sheet with `about` that [decoder] names is named for the settings it is about",
        "for all settings of the decoder",
    ),
    34: (
        "a bench reference alone does not hide it",
        "it does on a place narrowed to nothing but firmware of its own tests: no document further "
        "out is meant to say what only they have seen",
        "such a place has the documents further out as well",
    ),
}


def answer(case: Case, setting: str, v: int) -> dict[str, Any]:
    """What the case says of the setting at firmware v; the module says how it is written."""
    return Reading(case).answer(setting, v)


# ---------------------------------------------------------------- places


def key(place: Place) -> tuple[Any, ...]:
    """The canonical place: page, CVs, bits, coding, range, condition."""
    return (
        place.get("page", ""),
        tuple(place["cvs"]),
        place.get("bits", ""),
        (place["kind"], place.get("scale", 1), place.get("unit", "")),
        tuple(place.get("range", ())),
        condition(place),
    )


def condition(place: Place) -> tuple[Any, ...]:
    """The condition of a place: (setting, is or not, values), sorted."""
    return tuple(
        sorted(
            (test["setting"], word, tuple(sorted(test[word])))
            for test in place.get("when", ())
            for word in ("is", "not")
            if word in test
        )
    )


def facet(place: Place, name: str) -> Any:
    """A facet that does not make another place: default, marks or words."""
    if name == "marks":
        return tuple(sorted(place.get("marks", ())))
    return place.get("default") if name == "default" else place.get("note", "")


def bits(place: Place) -> set[tuple[str, int, int]]:
    """Every (page, CV, bit) of a place."""
    span = place.get("bits", "") or "0-7"
    low, _, high = span.partition("-")
    numbers = range(int(low), int(high or low) + 1)
    return {(place.get("page", ""), cv, bit) for cv in place["cvs"] for bit in numbers}


def exclude(one: Place, other: Place) -> bool:
    """Whether the conditions of two places can never hold together."""
    for setting, word, values in condition(one):
        for setting_2, word_2, values_2 in condition(other):
            if setting != setting_2:
                continue
            if word == word_2 == "is" and not set(values) & set(values_2):
                return True
            if (word, word_2) == ("is", "not") and set(values) <= set(values_2):
                return True
            if (word, word_2) == ("not", "is") and set(values_2) <= set(values):
                return True
    return False


def collide(one: Place, other: Place) -> bool:
    """Whether two settings cannot both live at these places."""
    if not bits(one) & bits(other) or exclude(one, other):
        return False
    byte_and_bit = {one["kind"] == "fields", other["kind"] == "fields"} == {True, False}
    part = other if one["kind"] == "fields" else one
    return not (byte_and_bit and part.get("bits"))


def named(names: list[str], setting: str) -> bool:
    """Whether ids or leading parts of ids cover the setting."""
    return any(setting == name or setting.startswith(name + ".") for name in names)


class Reading:
    """One case, read."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.all = set(range(case["top"] + 1))
        self.sources = {source["id"]: source for source in case["sources"]}
        self.places = self._places()
        self.leans: set[int] = set()

    # ------------------------------------------------------------ who cites whom

    def _places(self) -> dict[str, list[Place]]:
        """The places of each setting, each with the documents and tests that count for it."""
        made: dict[str, list[Place]] = {}
        follows = self.case.get("follows") or {}
        for setting in self.case.get("standard", ()):
            if named(follows.get("without", []), setting["id"]):
                continue
            made[setting["id"]] = [
                self._cited(
                    {**place, "firmware": self._both(place, follows), "standard": True},
                    [follows.get("sources", [])],
                )
                for place in setting["places"]
            ]
        for setting in self.case["settings"]:
            levels = [
                setting.get("common", {}).get("sources", []),
                setting.get("sources", []),
                self._of_decoder(setting["id"]),
            ]
            made[setting["id"]] = [
                self._cited({**place, "standard": False}, [place.get("sources", []), *levels])
                for place in setting["places"]
            ]
        return made

    def _of_decoder(self, setting: str) -> list[dict[str, Any]]:
        """[decoder] sources: a sheet on some settings is not named for the others."""
        kept = []
        for one in self.case.get("decoder_sources", []):
            about = self._extent(one["source"])[1]
            if about is None or named(about, setting):
                kept.append(one)
        return kept

    @staticmethod
    def _both(place: Place, follows: dict[str, Any]) -> set[int] | None:
        """A standard's own places say nothing of the decoder's firmware: the entry does."""
        return follows.get("firmware")

    def _cited(self, place: Place, levels: list[list[dict[str, Any]]]) -> Place:
        docs: dict[str, str] = {}
        tests: list[tuple[str, str]] = []
        if self._is_of_tests(place):
            levels = levels[:1]
        for level in levels:
            for one in level:
                if self.sources[one["source"]]["kind"] == "bench":
                    if "verdict" in one:
                        tests.append((one["source"], one["verdict"]))
                else:
                    docs[one["source"]] = one.get("page", "")
            if docs:
                break
        return {**place, "docs": docs, "tests": tests}

    def _is_of_tests(self, place: Place) -> bool:
        """Whether a place is narrowed to firmware that its own sources, all tests, were made on."""
        own = [self.sources[one["source"]] for one in place.get("sources", [])]
        if place.get("firmware") is None or not own or place.get("absent"):
            return False
        if any(source["kind"] != "bench" for source in own):
            return False
        return not place["firmware"] - set().union(*(source["firmware"] for source in own))

    @staticmethod
    def _within(place: Place, v: int) -> bool:
        """Whether the place's own firmware leaves v."""
        return place.get("firmware") is None or v in place["firmware"]

    def _holds(self, place: Place, v: int) -> bool:
        """Whether the place holds at v: where what it cites speaks, narrowed by its firmware."""
        if not self._within(place, v):
            return False
        if place["docs"]:
            return any(v in self.sources[doc]["firmware"] for doc in place["docs"])
        return not place["tests"]

    def _uncited(self, setting: str, v: int) -> list[Place]:
        """Places that cite nobody and hold at v."""
        free = [p for p in self.places[setting] if not p.get("absent") and not p["docs"]]
        if any(p["tests"] and self._within(p, v) for p in free):
            self.leans.add(4)
        return [p for p in free if self._holds(p, v)]

    # ------------------------------------------------------------ what a document says

    def _extent(self, doc: str) -> tuple[str, list[str] | None]:
        """Extent and about: its own, else those of what it reissues."""
        source = self.sources[doc]
        other = source.get("reissues")
        extent, about = self._extent(other) if other else ("cited", None)
        return source.get("extent", extent), source.get("about", about)

    def _says(self, doc: str, setting: str, v: int) -> list[dict[str, Any]]:
        """What a document says of a setting at v, v in its range; nothing: an empty list."""
        source = self.sources[doc]
        citing = [p for p in self.places[setting] if doc in p["docs"]]
        real = [p for p in citing if not p.get("absent")]
        gone = [p for p in citing if p.get("absent")]
        holding = [p for p in real if self._within(p, v)]
        if holding and gone:
            self.leans.add(1)
        if gone and not real and not any(self._within(p, v) for p in gone):
            self.leans.add(2)
        if holding:  # (a)
            return [
                {"what": p, "how": "cited", "chain": (f"{doc}:{p['docs'][doc]}",)} for p in holding
            ]
        denied = any(self._within(p, v) for p in gone)
        if real or denied or named(source.get("without", []), setting):  # (b)
            return [{"what": ABSENT, "how": "said", "chain": (f"{doc}:",)}]
        if other := source.get("reissues"):  # (c)
            heard = [
                {**one, "chain": (doc, *one["chain"])}
                for w in self._nearest(set(self.sources[other]["firmware"]), v)
                for one in self._says(other, setting, w)
            ]
            if heard:
                return heard
        extent, about = self._extent(doc)
        if extent == "whole" and (about is None or named(about, setting)):  # (d)
            return [{"what": ABSENT, "how": "silence", "chain": (f"{doc}:",)}]
        return []

    def _nearest(self, firmware: set[int], v: int) -> list[int]:
        if v in firmware:
            return [v]
        below = [w for w in firmware if w < v]
        above = [w for w in firmware if w > v]
        if below and above:
            self.leans.add(3)
        return [*([max(below)] if below else []), *([min(above)] if above else [])]

    def _documents(self, setting: str, v: int) -> dict[str, list[dict[str, Any]]]:
        """What each document or maker's word at v says of the setting, before errata."""
        speaking = {}
        for doc, source in self.sources.items():
            if source["kind"] != "bench" and v in source["firmware"]:
                said = self._says(doc, setting, v)
                if said:
                    speaking[doc] = said
        return speaking

    def _coverage(self, setting: str) -> set[int]:
        """K."""
        return {w for w in self.all if self._documents(setting, w)}

    # ------------------------------------------------------------ rule 2

    def _rule_2(self, setting: str, v: int) -> Know:
        speaking = self._documents(setting, v)
        aside: set[str] = set()
        for doc in speaking:
            replaced = self.sources[doc].get("replaces")
            while replaced:
                aside.add(replaced)
                replaced = self.sources[replaced].get("replaces")
        if any(self._reissues_any(doc, aside) for doc in speaking):
            self.leans.add(24)
        left = {doc: said for doc, said in speaking.items() if doc not in aside}
        said = [(doc, one) for doc, statements in left.items() for one in statements]
        places = [one["what"] for _, one in said if one["what"] is not ABSENT]
        denied = any(one["how"] == "said" for _, one in said)
        why = [(self._name(one["what"]), one["chain"]) for _, one in said]
        if not places:
            free = self._uncited(setting, v)
            if free and not denied:
                self.leans |= {7} if free[0]["standard"] else set()
                self.leans |= {8} if self._mandatory(free) else set()
                return self._assumed(free)
            return self._know("documented", [], True, why)
        naming = {doc for doc, one in said if one["what"] is not ABSENT and self._handbook_of(doc)}
        silent = {doc for doc, one in said if one["how"] == "silence" and self._handbook_of(doc)}
        if (
            naming
            and silent
            and any(one["what"] is not ABSENT and doc not in naming for doc, one in said)
        ):
            self.leans.add(23)
        absent = denied or bool(naming and silent - naming)
        if not absent:
            why = [one for one in why if one[0] != ABSENT]
        return self._weighed("documented", places, absent, why)

    def _reissues_any(self, doc: str, aside: set[str]) -> bool:
        other = self.sources[doc].get("reissues")
        return bool(other) and (other in aside or self._reissues_any(other, aside))

    def _handbook_of(self, doc: str) -> bool:
        """Whether a source is a whole handbook without `about`."""
        return self._extent(doc) == ("whole", None)

    @staticmethod
    def _name(what: Any) -> Any:
        return ABSENT if what is ABSENT else key(what)

    @staticmethod
    def _know(standing: str | None, places: list[Place], absent: bool, why: list[Any]) -> Know:
        return {
            "standing": standing,
            "base": standing,  # the standing it has where candidates come to agree
            "places": places,
            "absent": absent,
            "why": why,
            "by_standard": False,
            "rule": 2,
        }

    def _weighed(self, base: str, places: list[Place], absent: bool, why: list[Any]) -> Know:
        """The standing the rule gives, or `disputed` where candidates differ."""
        know = self._know(base, places, absent, why)
        if (absent and places) or not self._agree(places):
            know["standing"] = "disputed"
        return know

    @staticmethod
    def _agree(places: list[Place]) -> bool:
        """One place, places of one key, or places whose conditions exclude each other."""
        return all(
            key(one) == key(other) or exclude(one, other) for one in places for other in places
        )

    @staticmethod
    def _mandatory(places: list[Place]) -> bool:
        return all(p["standard"] and p.get("requirement") == "mandatory" for p in places)

    def _assumed(self, places: list[Place]) -> Know:
        if len({key(p) for p in places}) > 1:
            self.leans.add(28)
        return {**self._know("assumed", places, False, []), "rule": 5}

    # ------------------------------------------------------------ rules 2 to 5

    def _rules(self, setting: str, v: int) -> Know:
        places = self.places[setting]
        if places[0].get("kind") == "area":
            self.leans.add(30)
            held = [p for p in places if self._within(p, v)]
            return {**self._know(None, held, not held, []), "rule": 5}
        if places[0]["standard"] and not self._within(places[0], v):
            self.leans.add(27)
        coverage = self._coverage(setting)
        if v in coverage:
            return self._rule_2(setting, v)
        free = self._uncited(setting, v)
        if free:
            if coverage:
                self.leans.add(6)
            know = self._assumed(free)
            if self._mandatory(free):
                know |= {"standing": "documented", "base": "documented", "by_standard": True}
            return know
        older = [w for w in coverage if w < v]
        newer = [w for w in coverage if w > v]
        if any(p["standard"] and p.get("requirement") == "mandatory" for p in places):
            self.leans.add(9)
        if older and newer:
            return self._rule_3(setting, max(older), min(newer))
        if older or newer:
            return self._rule_4(
                setting, *(("beyond", max(older)) if older else ("before", min(newer)))
            )
        self.leans.add(26)
        return {**self._know(None, [], True, []), "rule": 5}

    def _end(self, setting: str, w: int) -> Know:
        """The answer just inside an end of K: by documents alone."""
        know = self._decided(self._rule_2(setting, w), w, tests=False)
        if know["rule"] == 5:
            self.leans.add(11)
        return know

    def _rule_3(self, setting: str, low: int, high: int) -> Know:
        b, a = self._end(setting, low), self._end(setting, high)
        places, why = b["places"] + a["places"], sorted(set(b["why"] + a["why"]), key=repr)
        know = {**self._know("between", places, b["absent"] or a["absent"], why), "rule": 3}
        disputed = "disputed" in (b["standing"], a["standing"])
        if 5 in (b["rule"], a["rule"]) and not know["absent"]:
            know |= {"standing": "assumed", "base": "assumed"}
        if self._candidates(b) != self._candidates(a) or disputed:
            know["standing"] = "disputed"
        if disputed and self._candidates(b) == self._candidates(a):
            self.leans.add(31)
        return know

    def _rule_4(self, setting: str, word: str, end: int) -> Know:
        know = {**self._end(setting, end), "base": word, "rule": 4}
        if know["standing"] == "disputed":
            self.leans.add(10)
        else:
            know["standing"] = word
        return know

    @staticmethod
    def _candidates(know: Know) -> tuple[Any, ...]:
        found = {key(p) for p in know["places"]} | ({ABSENT} if know["absent"] else set())
        return tuple(sorted(found, key=repr))

    # ------------------------------------------------------------ deciding settings, guesses

    def _gone(self, place: Place, v: int, tests: bool) -> bool:
        """Whether a deciding setting of the place is absent at v."""
        deciding = sorted({test["setting"] for test in place.get("when", ())})
        return any(self._candidates(self._full(one, v, tests)) == (ABSENT,) for one in deciding)

    def _decided(self, know: Know, v: int, tests: bool) -> Know:
        kept = [p for p in know["places"] if not self._gone(p, v, tests)]
        if len(kept) == len(know["places"]):
            return know
        if len(know["places"]) > 1:
            self.leans.add(18)
        lost = {key(p) for p in know["places"]} - {key(p) for p in kept}
        why = [one for one in know["why"] if one[0] not in lost]
        know = {**know, "places": kept, "why": why}
        if not kept or know["standing"] == "disputed":
            know["absent"] = True
        if not kept:
            know["standing"] = know["base"]
        return know

    def _guess_loses(self, know: Know, setting: str, v: int) -> Know:
        leans = set(self.leans)
        given = [
            p
            for other in sorted(self.places)
            if other != setting and self.places[other][0].get("kind") != "area"
            for p in self._given(other, v)
        ]
        taken = [p for p in know["places"] if any(collide(p, q) for q in given)]
        if not taken:
            self.leans = leans
            return know
        if know["standing"] not in ("before", "between", "beyond"):
            if know["rule"] in (3, 4):
                self.leans.add(19)
            return know
        self.leans |= {20, 21}
        return self._without(know, taken, "lost")

    def _given(self, setting: str, v: int) -> list[Place]:
        """The places that documents at v give a setting."""
        if not self._documents(setting, v):
            return []
        know = self._rule_2(setting, v)
        return know["places"] if know["rule"] == 2 else []

    def _there(self, setting: str, v: int) -> list[Place]:
        """The places that documents at v give a setting, or nobody denies it."""
        if self._documents(setting, v):
            return self._rule_2(setting, v)["places"]
        return self._uncited(setting, v)

    @staticmethod
    def _without(know: Know, taken: list[Place], word: str) -> Know:
        """Disputed among what is left."""
        out = {key(p) for p in taken}
        left = [p for p in know["places"] if key(p) not in out]
        return {
            **know,
            "standing": "disputed",
            "places": left,
            word: tuple(sorted(out, key=repr)),
            "why": [one for one in know["why"] if one[0] not in out],
            "by_standard": False,
        }

    # ------------------------------------------------------------ rule 1

    def _tests(self, setting: str, v: int) -> tuple[list[Place], list[Place], set[Any]]:
        """Places that tests at v found acting and without effect, and the keys unreliable."""
        acting, failed, unreliable = [], [], set()
        for place in self.places[setting]:
            for bench, verdict in place["tests"]:
                if v not in self.sources[bench]["firmware"] or place.get("absent"):
                    continue
                (failed if verdict == "no-effect" else acting).append(place)
                if verdict == "unreliable":
                    unreliable.add(key(place))
        return acting, failed, unreliable

    def _proved(self, setting: str, v: int) -> Place | None:
        """The one place that tests at v prove, without dispute."""
        acting, failed, _ = self._tests(setting, v)
        keys = {key(p) for p in acting}
        if len(keys) != 1 or keys & {key(p) for p in failed}:
            return None
        return acting[0]

    def _rule_1(self, know: Know, setting: str, v: int) -> Know:
        acting, failed, unreliable = self._tests(setting, v)
        if not acting and not failed:
            return know
        know = {**know, "tried": tuple(sorted({key(p) for p in failed}, key=repr))}
        if acting:
            proved = self._proved(setting, v)
            if proved is None:
                self.leans.add(14)
                return {
                    **know,
                    "standing": "disputed",
                    "places": acting,
                    "absent": False,
                    "why": [],
                    "by_standard": False,
                }
            if proved.get("when"):
                self.leans.add(17)
            return {
                **know,
                "standing": "bench",
                "places": acting,
                "absent": False,
                "why": [],
                "unreliable": key(proved) in unreliable,
                "by_standard": False,
            }
        spots = {(page, cv) for p in failed for page, cv, _ in bits(p)}
        left = [p for p in know["places"] if not {(g, c) for g, c, _ in bits(p)} & spots]
        unlike = {key(p) for p in know["places"]} - {key(p) for p in failed}
        if (unlike and not left) or know["absent"]:
            self.leans.add(13)
        if left and know["rule"] in (2, 3):
            out = {key(p) for p in know["places"]} - {key(p) for p in left}
            why = [one for one in know["why"] if one[0] not in out]
            return {**know, "standing": "disputed", "places": left, "why": why}
        if left:
            self.leans.add(12)
        return {
            **know,
            "standing": "faulty",
            "places": failed,
            "absent": False,
            "why": [],
            "by_standard": False,
        }

    def _struck(self, know: Know, setting: str, v: int) -> Know:
        if self.places[setting][0].get("kind") == "area":
            return know
        proved = [self._proved(other, v) for other in self.places if other != setting]
        taken = [p for p in know["places"] if any(q and collide(p, q) for q in proved)]
        if not taken:
            return know
        if any(q and collide(p, q) and bits(p) != bits(q) for p in taken for q in proved):
            self.leans.add(15)
        if know["standing"] == "bench":
            self.leans.add(16)
        return {**self._without(know, taken, "struck"), "unreliable": False}

    # ------------------------------------------------------------ all together

    def _full(self, setting: str, v: int, tests: bool) -> Know:
        """The answer with what tests say, or as if there were none."""
        know = self._decided(self._rules(setting, v), v, tests)
        know = self._guess_loses(know, setting, v)
        if not tests:
            return know
        return self._struck(self._rule_1(know, setting, v), setting, v)

    def _side(self, setting: str, v: int) -> str:
        """Who else had it: older, newer, both, neither."""
        leans = set(self.leans)
        had = {w for w in self.all if self._there(setting, w)}
        real = [p for p in self.places[setting] if not p.get("absent")]
        around = any(self._holds(p, v) for p in real) or bool(self._there(setting, v))
        older = around or any(w < v for w in had)
        newer = around or any(w > v for w in had)
        carried = any(not any(self._holds(p, w) for p in real) for w in had)
        self.leans = leans | ({22} if around or carried or any(p["tests"] for p in real) else set())
        words = {(True, True): "both", (True, False): "older", (False, True): "newer"}
        return words.get((older, newer), "neither")

    def answer(self, setting: str, v: int) -> dict[str, Any]:
        """The answer, canonical."""
        self.leans = set()
        know = self._full(setting, v, tests=True)
        candidates = self._candidates(know)
        acting, failed, _ = self._tests(setting, v)
        handbook = None
        if acting or failed or know.get("struck"):
            plain = self._full(setting, v, tests=False)
            handbook = (plain["standing"], self._candidates(plain))
            self.leans |= {29} if know["standing"] != "bench" else set()
        return {
            "standing": know["standing"],
            "candidates": candidates,
            "not_known": self._not_known(know["places"]),
            "place_not_known": not candidates,
            "side": self._side(setting, v) if candidates == (ABSENT,) else None,
            "tried": know.get("tried", ()),
            "struck": know.get("struck", ()),
            "lost": know.get("lost", ()),
            "unreliable": know.get("unreliable", False),
            "by_standard": know["by_standard"],
            "handbook": handbook,
            "pages": tuple(sorted(set(know["why"]), key=repr)),
            "leans": tuple(sorted(self.leans)),
        }

    def _not_known(self, places: list[Place]) -> tuple[Any, ...]:
        found = set()
        for one in places:
            alike = [p for p in places if key(p) == key(one)]
            for name in ("default", "marks", "words"):
                values = {facet(p, name) for p in alike}
                if len(values) > 1:
                    found.add((key(one), name, tuple(sorted(values, key=repr))))
                    if None in values:
                        self.leans.add(25)
        return tuple(sorted(found, key=repr))
