"""Small invented cases by seed: every clause of the rules is met, circles never.

``case(seed)`` is the same table for the same seed, whatever ran before.
"""

from __future__ import annotations

from random import Random
from typing import Any

IDS = ("output.type", "output.glow", "braking.distance", "driving.crawl")
DECIDING = IDS[0]
STANDARD_IDS = ("driving.crawl", "braking.hold", "lights.dim")
CVS = (50, 51, 52, 53)


def case(seed: int) -> dict[str, Any]:
    """A case: 1 to 4 settings of its own, 0 to 5 documents, 0 to 3 tests, 8 to 14 firmware."""
    return Maker(Random(seed)).case()


class Maker:
    """Makes one case from one stream of chance."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.top = random.randint(7, 13)

    def chance(self, part: float) -> bool:
        return self.random.random() < part

    def run(self, longest: int = 6) -> set[int]:
        """Neighbouring firmware."""
        low = self.random.randint(0, self.top)
        return set(range(low, min(self.top, low + self.random.randint(0, longest)) + 1))

    def case(self) -> dict[str, Any]:
        count = self.random.choice((1, 2, 3, 3, 4, 4))
        ids = list(IDS[:count]) if self.chance(0.7) else self.random.sample(IDS, count)
        follows = self.chance(0.45)
        standard = list(STANDARD_IDS[: self.random.randint(1, 3)]) if follows else []
        self.known = sorted({*ids, *standard})
        self.docs = [
            self.document(at) for at in range(self.random.choice((0, 1, 2, 2, 3, 3, 4, 5)))
        ]
        tested = self.random.sample(range(self.top + 1), 2)
        self.tests = [
            {"id": f"bench-{at + 1}", "kind": "bench", "firmware": {self.random.choice(tested)}}
            for at in range(self.random.choice((0, 0, 1, 2, 2, 3)))
        ]
        made: dict[str, Any] = {
            "top": self.top,
            "sources": [*self.docs, *self.tests],
            "decoder_sources": self.cites(0.12),
            "settings": [self.setting(one) for one in ids],
            "standard": [self.standard(one) for one in standard],
            "follows": {},
        }
        if follows:
            made["follows"] = self.follows(ids, standard)
        self.bench(made["settings"])
        return made

    # ------------------------------------------------------------ sources

    def document(self, at: int) -> dict[str, Any]:
        firmware = self.run()
        if self.chance(0.2):
            firmware |= self.run(3)
        made: dict[str, Any] = {
            "id": f"handbook-{at + 1}",
            "kind": "maker" if self.chance(0.1) else "document",
            "firmware": firmware,
        }
        if self.chance(0.5):
            made["extent"] = "whole"
            if self.chance(0.25):
                made["about"] = self.names()
        elif self.chance(0.3):
            made["extent"] = "cited"
        earlier = [f"handbook-{one + 1}" for one in range(at)]
        if earlier and self.chance(0.35):
            made["reissues"] = self.random.choice(earlier[-2:])
            if self.chance(0.5):
                made.pop("extent", None)
                made.pop("about", None)
            if self.chance(0.3):
                made["without"] = self.names()
        if earlier and self.chance(0.25):
            made["replaces"] = self.random.choice(earlier)
        return made

    def names(self) -> list[str]:
        """A setting, or the leading part of some."""
        one = self.random.choice(self.known)
        return [one.partition(".")[0] if self.chance(0.3) else one]

    def cites(self, part: float, most: int = 2) -> list[dict[str, Any]]:
        """Citations of documents, or none."""
        if not self.docs or not self.chance(part):
            return []
        count = min(len(self.docs), self.random.randint(1, most))
        return [
            {"source": doc["id"], "page": str(self.random.randint(1, 60))}
            for doc in self.random.sample(self.docs, count)
        ]

    # ------------------------------------------------------------ settings

    def setting(self, name: str) -> dict[str, Any]:
        free = self.chance(0.15)
        made: dict[str, Any] = {"id": name, "places": []}
        if not free and (sources := self.cites(0.25)):
            made["sources"] = sources
        if not free and (sources := self.cites(0.1)):
            made["common"] = {"sources": sources}
        spots = [self.spot(name) for _ in range(2)]
        for _ in range(1 if free else self.random.choice((1, 1, 2, 2, 3))):
            place = self.varied(self.random.choice(spots))
            if not free and (sources := self.cites(0.85)):
                place["sources"] = sources
            if self.chance(0.25 if place.get("sources") else 0.5):
                place["firmware"] = self.run()
            made["places"].append(place)
        if self.chance(0.15) and (sources := self.cites(1, 1)):
            gone: dict[str, Any] = {"absent": True, "sources": sources}
            if self.chance(0.15):
                gone["firmware"] = self.run()
            made["places"].append(gone)
        if name != DECIDING and self.chance(0.12) and len(made["places"]) > 1:
            self.apart(made["places"])
        return made

    def apart(self, places: list[dict[str, Any]]) -> None:
        """Conditions that exclude each other, for the places of one setting."""
        for at, place in enumerate(one for one in places if not one.get("absent")):
            place["when"] = [{"setting": DECIDING, "is": [at + 1]}]
        self.deciding()

    def deciding(self) -> None:
        """A condition asks for a setting that there must be: the case adds it where it lacks."""
        if DECIDING not in self.known:
            self.known.append(DECIDING)

    def spot(self, name: str) -> dict[str, Any]:
        """Where and how: number of one or two CVs, field, byte of fields, paged."""
        sort = self.random.choice(
            ("byte", "byte", "byte", "bits", "bits", "fields", "word", "paged")
        )
        cv = self.random.choice(CVS)
        if name == DECIDING:
            sort = self.random.choice(("byte", "bits"))
        if sort == "fields":
            return {"cvs": [cv], "kind": "fields"}
        made: dict[str, Any] = {"cvs": [cv], "kind": "number", "range": [0, 255]}
        if sort == "bits":
            made |= self.random.choice(
                ({"bits": "0-3", "range": [0, 15]}, {"bits": "4-7", "range": [0, 15]})
            )
        elif sort == "word":
            made |= {"cvs": [cv, cv + 1], "range": [0, 1000]}
        elif sort == "paged":
            made |= {"cvs": [257], "page": self.random.choice(("16/0", "16/1"))}
        if name != DECIDING and DECIDING in self.known and self.chance(0.25):
            word = "not" if self.chance(0.3) else "is"
            made["when"] = [{"setting": DECIDING, word: [self.random.choice((1, 2))]}]
        return made

    def varied(self, spot: dict[str, Any]) -> dict[str, Any]:
        """The spot again, now and then with another coding, range, default or mark."""
        place = {**spot, "default": self.random.choice((1, 1, 1, 2))}
        if place["kind"] == "number" and self.chance(0.12):
            place["scale"] = 2
        if place["kind"] == "number" and self.chance(0.1):
            place["range"] = [0, 10]
        if self.chance(0.1):
            place["marks"] = [self.random.choice(("read-only", "volatile"))]
        if self.chance(0.04):
            del place["default"]
        return place

    # ------------------------------------------------------------ standard, tests

    def standard(self, name: str) -> dict[str, Any]:
        if self.chance(0.2):
            place: dict[str, Any] = {
                "cvs": [self.random.choice(CVS)],
                "kind": "area",
                "use": "manufacturer",
            }
        else:
            place = {
                "cvs": [self.random.choice((*CVS, 65))],
                "kind": "number",
                "range": [0, 255],
                "default": 1,
                "requirement": "mandatory" if self.chance(0.4) else "optional",
            }
        return {"id": name, "places": [place]}

    def follows(self, ids: list[str], standard: list[str]) -> dict[str, Any]:
        made: dict[str, Any] = {}
        if sources := self.cites(0.3):
            made["sources"] = sources
        if self.chance(0.2):
            made["firmware"] = self.run()
        if len(standard) > 1 and self.chance(0.2):
            made["without"] = [
                self.random.choice([one for one in standard if one not in ids] or standard)
            ]
        return made

    def bench(self, settings: list[dict[str, Any]]) -> None:
        """Each test saw one to three places act, or not; and the deciding setting is added."""
        if DECIDING in self.known and all(one["id"] != DECIDING for one in settings):
            settings.insert(0, self.setting(DECIDING))
        real = [p for one in settings for p in one["places"] if not p.get("absent")]
        for test in self.tests:
            for place in self.random.sample(real, min(len(real), self.random.randint(1, 3))):
                verdict = self.random.choice(
                    ("works", "works", "no-effect", "no-effect", "unreliable")
                )
                place.setdefault("sources", []).append({"source": test["id"], "verdict": verdict})
