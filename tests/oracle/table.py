"""Cases with the answer written by hand: the table of situations, and a row for each clause.

A row is (situation, case, setting, firmware, what is expected). Expected are those keys of an
answer that the row is about; places stand as ``at(141)``. The first rows are the table at the end
of section 5 with the firmware renamed to numbers: handbook 1 speaks for 2 to 4, handbook 2 for 6
to 8, the third for 11 and 12.
"""

from __future__ import annotations

from typing import Any

from oracle.reading import ABSENT

Row = tuple[str, dict[str, Any], str, int, dict[str, Any]]

OLD, GAP, NEW, THIRD = {2, 3, 4}, 5, {6, 7, 8}, {11, 12}


def book(number: int, firmware: set[int], **more: Any) -> dict[str, Any]:
    """A document."""
    return {"id": f"handbook-{number}", "kind": "document", "firmware": firmware, **more}


def bench(name: str, v: int) -> dict[str, Any]:
    """A test."""
    return {"id": name, "kind": "bench", "firmware": {v}}


def cite(*sources: Any) -> list[dict[str, Any]]:
    """Citations: 1 is handbook 1 on page 1; ("bench", "works") a test."""
    return [
        {"source": f"handbook-{one}", "page": str(one)}
        if isinstance(one, int)
        else {"source": one[0], "verdict": one[1]}
        for one in sources
    ]


def place(cv: int, *sources: Any, **more: Any) -> dict[str, Any]:
    """A place with its citations."""
    made = {"cvs": [cv], "kind": "number", "range": [0, 255], "default": 0, **more}
    return made | ({"sources": cite(*sources)} if sources else {})


def gone(*sources: int, **more: Any) -> dict[str, Any]:
    """A place that says the setting is gone."""
    return {"absent": True, "sources": cite(*sources), **more}


def at(cv: int, **more: Any) -> tuple[Any, ...]:
    """The canonical place of ``place(cv)``."""
    condition = tuple(sorted(more.pop("when", ())))
    bits, kind, scale = more.pop("bits", ""), more.pop("kind", "number"), more.pop("scale", 1)
    span = tuple(more.pop("range", (0, 255)))
    return ("", (cv,), bits, (kind, scale, ""), span, condition)


def case(sources: list[Any], settings: dict[str, list[Any]], **more: Any) -> dict[str, Any]:
    """A case of firmware 0 to 12."""
    listed = [{"id": name, "places": places} for name, places in settings.items()]
    return {
        "top": 12,
        "sources": sources,
        "decoder_sources": [],
        "settings": listed,
        "standard": [],
        "follows": {},
        **more,
    }


def required(cv: int, requirement: str = "optional", **more: Any) -> dict[str, Any]:
    """A place of a standard."""
    return place(cv, requirement=requirement, **more)


S, T = "braking.distance", "driving.crawl"
BOTH = [book(1, OLD, extent="whole"), book(2, NEW, extent="whole")]
MOVED = {S: [place(141, 1), place(144, 2)]}

third = case([*BOTH, book(3, THIRD)], {S: [place(144, 2, 3)], T: [place(147, 2)]})
again = case(
    [*BOTH, book(3, THIRD, extent="whole", reissues="handbook-2")],
    {S: [place(144, 2)], T: [place(147, 1), place(151, 2)]},
)
apart = case(
    [book(1, {4}, extent="whole"), book(2, {4}, extent="whole")],
    {S: [place(141, 1), place(144, 2)]},
)
silent = case([book(1, {4}, extent="whole"), book(2, {4}, extent="whole")], {S: [place(144, 1)]})
sheet = case(
    [book(1, {4}, extent="whole"), book(2, {4}, extent="whole", about=["lights"])],
    {S: [place(144, 1)]},
)
failed = case([*BOTH, bench("b", GAP)], {S: [place(141, 1), place(144, 2, ("b", "no-effect"))]})
proved = case(
    [*BOTH, bench("b", GAP)],
    {T: [place(145, 1), place(147, 2, ("b", "works"))], S: [place(147, 1), place(151, 2)]},
)
defaults = case(BOTH, {S: [place(144, 1, default=10), place(144, 2, default=200)]})
standard = case(BOTH, MOVED, standard=[{"id": "speed.kick", "places": [required(65)]}])
code = case(
    [book(1, {4}, extent="whole")], {S: [place(144)], T: [place(147)]}, decoder_sources=cite(1)
)

SITUATIONS: list[Row] = [
    (
        "a third handbook is cited by one place: that setting is documented",
        *(third, S, 12),
        {"standing": "documented", "candidates": (at(144),)},
    ),
    (
        "a third handbook is cited by one place: all others stay beyond",
        *(third, T, 12),
        {"standing": "beyond", "candidates": (at(147),)},
    ),
    (
        "it is whole and reissues issue 2: documented, and both issues are named",
        *(again, S, 12),
        {
            "standing": "documented",
            "candidates": (at(144),),
            "pages": ((at(144), ("handbook-3", "handbook-2:2")),),
        },
    ),
    (
        "it is whole and reissues issue 2: all are documented",
        *(again, T, 12),
        {"standing": "documented", "candidates": (at(151),)},
    ),
    (
        "two whole handbooks speak, one 141, the other 144",
        *(apart, S, 4),
        {
            "standing": "disputed",
            "candidates": (at(141), at(144)),
            "pages": ((at(141), ("handbook-1:1",)), (at(144), ("handbook-2:2",))),
        },
    ),
    (
        "one has it at CV 144, the other is silent",
        *(silent, S, 4),
        {"standing": "disputed", "candidates": (ABSENT, at(144))},
    ),
    (
        "one has it at CV 144, a silent sheet is about something else",
        *(sheet, S, 4),
        {"standing": "documented", "candidates": (at(144),)},
    ),
    (
        "older 141, newer 144, a test in the gap found no effect at 144",
        *(failed, S, GAP),
        {
            "standing": "disputed",
            "candidates": (at(141),),
            "tried": (at(144),),
            "handbook": ("disputed", (at(141), at(144))),
        },
    ),
    (
        "the gap's test proved CV 147 to be crawl speed: bench",
        *(proved, T, GAP),
        {
            "standing": "bench",
            "candidates": (at(147),),
            "handbook": ("disputed", (at(145), at(147))),
        },
    ),
    (
        "another setting is at 147 below and at 151 above: 151 is left",
        *(proved, S, GAP),
        {"standing": "disputed", "candidates": (at(151),), "struck": (at(147),)},
    ),
    (
        "same place below and above, default 10 below and 200 above",
        *(defaults, S, GAP),
        {
            "standing": "between",
            "candidates": (at(144),),
            "not_known": ((at(144), "default", (10, 200)),),
        },
    ),
    (
        "a followed standard has CV 65, no document names it",
        *(standard, "speed.kick", 3),
        {"standing": "assumed", "candidates": (at(65),), "by_standard": False},
    ),
    (
        "the whole table is read from the code: a place without sources of its own",
        *(code, S, 4),
        {"standing": "documented", "candidates": (at(144),)},
    ),
]

narrowed = case([book(1, {1, 2, 3, 4, 5, 6})], {S: [place(141, 1, firmware={4, 5, 6, 7})]})
gapped = case(
    [book(1, {2, 3}, extent="whole"), book(2, {7, 8}, extent="whole")], {S: [place(141, 1)]}
)
chain = case(
    [book(1, OLD), book(2, {6}, reissues="handbook-1"), book(3, {9}, reissues="handbook-2")],
    {S: [place(141, 1, firmware={4, 5})], T: [place(147, 2)]},
)
lacking = case(
    [book(1, OLD, extent="whole"), book(2, NEW, reissues="handbook-1", without=["braking"])],
    {S: [place(141, 1)], T: [place(147, 1)]},
)
errata = case(
    [book(1, {4, 5}), book(2, {4}, replaces="handbook-1"), book(3, {4}, replaces="handbook-2")],
    {S: [place(141, 1), place(144, 3)], T: [place(147, 1)]},
)
denied = case(
    [book(1, {2, 3, 4, 5, 6}), book(2, {4}, replaces="handbook-1")], {S: [place(141, 1), gone(2)]}
)
pair = case(
    [book(1, OLD)],
    {
        "output.type": [place(49, 1)],
        S: [
            place(141, 1, when=[{"setting": "output.type", "is": [1]}]),
            place(144, 1, when=[{"setting": "output.type", "not": [1]}]),
        ],
    },
)
unset = case(
    [book(1, OLD), book(2, NEW)],
    {
        "output.type": [place(49, 1), gone(2)],
        S: [place(141, 1, 2, when=[{"setting": "output.type", "is": [1]}])],
    },
)
WHEN = ("output.type", "is", (1,))
NOT = ("output.type", "not", (1,))


def bench_case(*verdicts: tuple[int, str], v: int = GAP) -> dict[str, Any]:
    """Handbooks with 141 and 144, and a test for each verdict on one of those CVs."""
    names = [f"b{number}" for number in range(len(verdicts))]
    on = {141: [], 144: []}
    for name, (cv, verdict) in zip(names, verdicts, strict=True):
        on[cv].append((name, verdict))
    return case(
        [*BOTH, *(bench(name, v) for name in names)],
        {S: [place(141, 1, *on[141]), place(144, 2, *on[144])]},
    )


byte = case(
    [book(1, OLD), bench("b", 3)],
    {
        S: [place(29, 1, kind="fields")],
        T: [place(29, 1, ("b", "works"), bits="0-3", range=[0, 15])],
        "lights.dim": [place(29, 1, bits="2", range=[0, 1])],
    },
)
taken = case([book(1, OLD), book(2, NEW)], {S: [place(141, 1)], T: [place(141, 2)]})
mandatory = [{"id": "address.short", "places": [required(1, "mandatory")]}]
stretch = [{"id": "maker.area", "places": [{"cvs": [50], "kind": "area", "use": "manufacturer"}]}]
ends = case(
    [book(1, {2}), book(3, {2}), book(2, NEW)], {S: [place(141, 1), place(142, 3), place(141, 2)]}
)
about = case([book(1, {2}), book(2, {4}, extent="whole", about=["lights"])], {S: [place(141, 1)]})
overlap = case(
    [book(1, {2, 3, 4}), book(2, {4, 5}, reissues="handbook-1")],
    {S: [place(141, 1, firmware={2, 3}), place(144, 1, firmware={4})]},
)
between = case(
    [book(1, {1}), book(2, {3}), book(3, {7}), book(4, {9})],
    {S: [place(141, 1, 4), place(144, 2, 3)]},
)
only = case([book(1, {4}), book(2, {4}, replaces="handbook-1")], {S: [place(141, 1), gone(2)]})

CLAUSES: list[Row] = [
    ("a sheet about something else is not silent", about, S, 4, {"standing": "beyond"}),
    ("a reissue hears the other at v itself", overlap, S, 4, {"candidates": (at(144),)}),
    ("the nearest ends of K, not the farthest", between, S, 5, {"candidates": (at(144),)}),
    ("an enclosing range counts on both sides", only, S, 4, {"side": "both"}),
    ("narrowing: inside", narrowed, S, 5, {"standing": "documented", "candidates": (at(141),)}),
    (
        *("narrowing excludes v: absent, newer had it", narrowed, S, 2),
        {"standing": "documented", "candidates": (ABSENT,), "side": "newer"},
    ),
    ("firmware never widens", narrowed, S, 7, {"standing": "beyond", "candidates": (at(141),)}),
    (
        *("silence of a whole document: absent, older had it", gapped, S, 8),
        {"standing": "documented", "candidates": (ABSENT,), "side": "older"},
    ),
    (
        *("below a place, above absent: disputed", gapped, S, 5),
        {"standing": "disputed", "candidates": (ABSENT, at(141))},
    ),
    (
        "newer than K, absent at its end",
        gapped,
        S,
        11,
        {"standing": "beyond", "candidates": (ABSENT,)},
    ),
    ("older than all of K", gapped, S, 0, {"standing": "before", "candidates": (at(141),)}),
    (
        *("a reissue of a reissue reads the nearest end", chain, S, 9),
        {
            "standing": "documented",
            "candidates": (at(141),),
            "pages": ((at(141), ("handbook-3", "handbook-2", "handbook-1:1")),),
        },
    ),
    ("a reissue of what is narrowed away", chain, S, 2, {"candidates": (ABSENT,), "side": "newer"}),
    ("a setting new in the first reissue", chain, T, 9, {"standing": "documented"}),
    ("no document says a thing: before", chain, T, 3, {"standing": "before"}),
    (
        *("`without` of a reissue", lacking, S, 7),
        {"standing": "documented", "candidates": (ABSENT,), "side": "older"},
    ),
    ("a reissue takes over what it does not leave out", lacking, T, 7, {"standing": "documented"}),
    (
        *("an erratum of a silent erratum puts the handbook aside", errata, S, 4),
        {"standing": "documented", "candidates": (at(144),)},
    ),
    ("errata speak only in their range", errata, S, 5, {"candidates": (at(141),)}),
    ("a silent erratum puts nothing aside", errata, T, 4, {"standing": "documented"}),
    (
        *("denied inside its own range: both sides had it", denied, S, 4),
        {"standing": "documented", "candidates": (ABSENT,), "side": "both"},
    ),
    (
        *("conditions that exclude each other make no dispute", pair, S, 3),
        {"standing": "documented", "candidates": (at(141, when=[WHEN]), at(144, when=[NOT]))},
    ),
    (
        *("the deciding setting is absent", unset, S, 7),
        {"standing": "documented", "candidates": (ABSENT,), "side": "both"},
    ),
    (
        *("the deciding setting is absent above: candidates of both ends", unset, S, GAP),
        {"standing": "disputed", "candidates": (ABSENT, at(141, when=[WHEN]))},
    ),
    (
        *(
            "bench: one acts though the other failed",
            bench_case((141, "works"), (144, "no-effect")),
            S,
            5,
        ),
        {"standing": "bench", "candidates": (at(141),), "tried": (at(144),), "unreliable": False},
    ),
    (
        *("unreliable counts as acting and is said", bench_case((144, "unreliable")), S, 5),
        {"standing": "bench", "candidates": (at(144),), "unreliable": True},
    ),
    (
        *("two places act", bench_case((141, "works"), (144, "unreliable")), S, 5),
        {"standing": "disputed", "candidates": (at(141), at(144))},
    ),
    (
        *("one place acts and fails", bench_case((141, "works"), (141, "no-effect")), S, 5),
        {"standing": "disputed", "candidates": (at(141),), "tried": (at(141),)},
    ),
    (
        *("nothing has an effect", bench_case((141, "no-effect"), (144, "no-effect")), S, 5),
        {"standing": "faulty", "tried": (at(141), at(144))},
    ),
    (
        *("the documented place has no effect", bench_case((141, "no-effect"), v=3), S, 3),
        {"standing": "faulty", "candidates": (at(141),), "handbook": ("documented", (at(141),))},
    ),
    (
        *(
            "not the documented place, another failed",
            bench_case((144, "no-effect"), v=3),
            S,
            3,
        ),
        {"standing": "disputed", "candidates": (at(141),), "tried": (at(144),)},
    ),
    (
        *("a bench answer is no edge", bench_case((144, "works"), v=11), S, 12),
        {"standing": "beyond", "candidates": (at(144),), "handbook": None},
    ),
    (
        *("a byte of fields keeps its bits", byte, S, 3),
        {"standing": "documented", "struck": ()},
    ),
    (
        *("another bit of the proved field is struck, nothing is left", byte, "lights.dim", 3),
        {"standing": "disputed", "candidates": (), "place_not_known": True},
    ),
    (
        *("a guess loses the CV that a document gives away", taken, S, 7),
        {"standing": "disputed", "candidates": (), "place_not_known": True, "lost": (at(141),)},
    ),
    ("two guesses take nothing from each other", taken, S, GAP, {"standing": "beyond"}),
    (
        *("an end in dispute: its candidates join", ends, S, GAP),
        {"standing": "disputed", "candidates": (at(141), at(142))},
    ),
    (
        *(
            "mandatory in the standard, no document speaks",
            case([], {S: [place(50)]}, standard=mandatory),
        ),
        *("address.short", 3),
        {"standing": "documented", "candidates": (at(1),), "by_standard": True},
    ),
    (
        *("an uncited place is assumed everywhere", case(BOTH, {S: [place(50)]}), S, 3),
        {"standing": "assumed", "candidates": (at(50),)},
    ),
    (
        *("an area has no standing", case(BOTH, MOVED, standard=stretch), "maker.area", 3),
        {"standing": None, "candidates": (at(50, kind="area", range=()),)},
    ),
    (
        "a test on the place does not hide the sources of the decoder",
        case(
            [book(1, {4}), bench("b", 9)],
            {S: [place(141, ("b", "no-effect"))]},
            decoder_sources=cite(1),
        ),
        *(S, 4),
        {"standing": "documented", "candidates": (at(141),)},
    ),
    (
        "the sources of the decoder do not reach what comes from a standard",
        case(
            BOTH, MOVED, standard=[{"id": "x.y", "places": [required(65)]}], decoder_sources=cite(1)
        ),
        *("x.y", 3),
        {"standing": "assumed"},
    ),
    (
        "the sources of a `follows` entry do",
        case(
            BOTH,
            MOVED,
            standard=[{"id": "x.y", "places": [required(65)]}],
            follows={"sources": cite(1)},
        ),
        *("x.y", 3),
        {"standing": "documented", "by_standard": False},
    ),
]

ROWS = [*SITUATIONS, *CLAUSES]
