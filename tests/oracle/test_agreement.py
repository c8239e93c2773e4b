"""The resolver and the second reading of the design agree on generated profiles."""

from typing import Any

import pytest

from cvlib.engine.known.resolve import Resolver
from cvlib.files.load import load_profile
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area, Number
from cvlib.model.cv import bits_text
from cvlib.model.profile import Place, Profile
from oracle.as_toml import PROFILE, STANDARD, profile, standard
from oracle.cases import case
from oracle.reading import ABSENT, Reading

SEEDS = 150
"""Cases of the daily run."""
MANY = 27_000
"""Cases of the long run: about a million answers."""


NO_RULE = 26
"""The choice for settings that only bench tests at other firmware know: the design is silent, the
program says "disputed", the second reading "absent"."""


class Shelf:
    """The one standard that a case may follow."""

    def __init__(self, text: str) -> None:
        self.held = load_profile(text, STANDARD, self) if text else None

    def ids(self) -> tuple[str, ...]:
        """The standard, where there is one."""
        return (STANDARD,) if self.held else ()

    def profile(self, id: str) -> Profile:
        """The standard."""
        assert self.held is not None
        return self.held

    def blocks(self, folder: str) -> None:
        """No blocks."""


def loaded(made: dict[str, Any]) -> Resolver:
    """The case as the program reads it."""
    shelf = Shelf(standard(made))
    return Resolver(load_profile(profile(made), PROFILE, shelf))


def key(place: Place | None) -> Any:
    """A place of the program as the second reading writes it."""
    if place is None:
        return ABSENT
    coding = place.coding
    first = place.fields[0]
    page = first.slot.page
    bits = "" if first.mask == 0xFF else bits_text(first.mask)
    written = (coding.low, coding.high) if isinstance(coding, Number) else ()
    kind = (coding.kind, getattr(coding, "scale", 1), getattr(coding, "unit", ""))
    condition = sorted(
        (
            one.setting,
            str(one.test),
            tuple(sorted(one.values)),
        )
        for one in place.when
    )
    return (
        *("" if page is None else str(page), tuple(f.slot.cv for f in place.fields), bits),
        *((kind[0], int(kind[1]), kind[2]), written, tuple(condition)),
    )


def described(answer: Answer) -> dict[str, Any]:
    """What the program answers, in the form of the second reading."""
    places = answer.candidates or ((None,) if answer.is_absent else answer.places())
    if answer.standing is Standing.FAULTY:
        places = answer.tried
    handbook = None
    if answer.beside is not None and answer.trace.rule == 1:
        beside = answer.beside
        held = beside.candidates or ((None,) if beside.is_absent else beside.places())
        handbook = (beside.standing.value, tuple(sorted(map(key, held), key=repr)))
    return {
        "standing": answer.standing.value,
        "candidates": tuple(sorted({key(place) for place in places}, key=repr)),
        "place_not_known": answer.is_unplaced,
        "side": answer.side.value if answer.side and answer.is_absent else None,
        "tried": tuple(sorted(map(key, answer.tried), key=repr)),
        "unreliable": answer.is_unreliable,
        "handbook": handbook,
        "open": {facet.value for facet in answer.open},
    }


def expected(found: dict[str, Any]) -> dict[str, Any]:
    """What the second reading answers, as far as the program says it too."""
    told = {
        name: found[name]
        for name in ("standing", "candidates", "place_not_known", "side", "tried", "unreliable")
    }
    is_sure = found["standing"] not in ("disputed", "bench", "faulty")
    open_facets = {facet for _, facet, _ in found["not_known"]} if is_sure else None
    return {**told, "handbook": found["handbook"], "open": open_facets}


def disagreement(seed: int) -> list[str]:
    """Where the two readings of one case differ; choices that are told elsewhere are left out."""
    made = case(seed)
    resolver = loaded(made)
    reading = Reading(made)
    found = []
    for name, setting in resolver.profile.settings.items():
        if all(isinstance(place.coding, Area) for place in setting.places):
            continue
        for v in range(made["top"] + 1):
            wanted = reading.answer(name, v)
            if wanted["standing"] is None or NO_RULE in wanted["leans"]:
                continue
            one, other = described(resolver.answer(setting, (v,))), expected(wanted)
            if other["open"] is None or one["standing"] == "disputed":
                other["open"] = one["open"]
            # Several places that only a standard or nobody speaks for are a dispute here.
            if wanted["standing"] == "assumed" and one["standing"] == "disputed":
                other["standing"] = "disputed" if len(wanted["candidates"]) > 1 else "assumed"
            if other["handbook"] and other["handbook"][0] == "assumed" and one["handbook"]:
                held = other["handbook"][1]
                other["handbook"] = (one["handbook"][0] if len(held) > 1 else "assumed", held)
            if wanted["standing"] == "disputed":
                other["side"] = one["side"]  # nothing but "absent" is left of a dispute
            if one != other:
                differing = {k: (one[k], other[k]) for k in one if one[k] != other[k]}
                found.append(f"seed {seed}, {name} at {v}: {differing}, {wanted['leans']}")
    return found


@pytest.mark.parametrize("first", range(0, SEEDS, 10))
def test_both_readings_agree(first: int) -> None:
    """Standing, places, sides, what was tried and what is not known are the same in both."""
    found = [line for seed in range(first, first + 10) for line in disagreement(seed)]
    assert not found, "\n".join(found[:5])


@pytest.mark.long
def test_both_readings_agree_on_a_million_answers() -> None:
    """The same of very many cases."""
    found = [line for seed in range(SEEDS, MANY) for line in disagreement(seed)]
    assert not found, "\n".join(found[:5])
