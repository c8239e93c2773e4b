"""A disputed firmware is settled by the reads that a probe asks for, whatever layout is true."""

import random
from collections.abc import Iterable

import pytest

from cvlib.engine.bench.behaviour import BenchTest
from cvlib.engine.bench.expect import AFTER_RESET, AS_IT_STANDS, Expectation, Terms, column
from cvlib.engine.bench.layouts import Disputed, Tried, disputed_at
from cvlib.engine.bench.probe import Probed, probe
from cvlib.engine.bench.tree import Node
from cvlib.engine.bench.weigh import Read
from cvlib.engine.carry.write_sheet import Caution
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.cv import Slot
from engine.bench_worlds import reads
from engine.test_layouts import AT, HELD
from make import resolver

STORE = open_store()
FIRMWARES = [
    ("ferrow/lark-8", "3.0.8"),
    ("ferrow/lark-8", "2.9.201"),
    ("ilex-works/heron", "39"),
    ("ilex-works/heron", "50"),
    ("ferrow/wren-2", "1.3"),
]


class Layout:
    """A decoder with a side drawn for each bundle; its values are drawn once and then stay."""

    def __init__(
        self, disputed: Disputed, dice: random.Random, terms: Terms, *, mixed: bool
    ) -> None:
        count = len(disputed.bundles)
        one = dice.randrange(2)
        self.sides = [dice.randrange(2) if mixed else one for _ in range(count)]
        for at, bundle in enumerate(disputed.bundles):
            for test in bundle.known:
                self.sides[at] = self.sides[at] if test.side is None else test.side
        self.disputed, self.dice, self.terms = disputed, dice, terms
        self.held: dict[Slot, int] = {}

    def answer(self, slot: Slot) -> int:
        """What the decoder answers."""
        if slot not in self.held:
            chances = column(self._expected(slot), self.terms)
            (self.held[slot],) = self.dice.choices(range(257), chances)
        return self.held[slot]

    def _expected(self, slot: Slot) -> Expectation:
        pairs = zip(self.disputed.bundles, self.sides, strict=True)
        return next(
            bundle.expected[side][slot] for bundle, side in pairs if slot in bundle.expected[side]
        )


def probed_to_the_end(held: Resolver, layout: Layout, terms: Terms) -> Probed:
    """The outcome of making every read that is asked for."""
    made: list[Read] = []
    while True:
        found = probe(held, layout.disputed.version, made, terms, with_plans=False)
        if found.next_read is None or len(made) > 40:
            return found
        slot = found.next_read.slot
        assert slot not in {read.slot for read in made}
        made.append(Read(slot, layout.answer(slot)))


@pytest.mark.parametrize(("id", "version"), FIRMWARES)
@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize("terms", [AS_IT_STANDS, AFTER_RESET])
def test_what_is_settled_is_true(id: str, version: str, mixed: bool, terms: Terms) -> None:
    """All older, all newer, or some of each: no bundle is settled on the wrong side."""
    held = Resolver(STORE.profile(id))
    disputed = disputed_at(held, held.profile.version(version))
    dice = random.Random(f"{id}{version}{mixed}")
    for _ in range(3):
        layout = Layout(disputed, dice, terms, mixed=mixed)
        found = probed_to_the_end(held, layout, terms)
        for standing, side in zip(found.standings, layout.sides, strict=True):
            readable = standing.side is not None
            assert not readable or standing.side == side


def test_after_a_reset_readable_bundles_are_settled_in_few_reads() -> None:
    """Heron 39: seven bundles; hardly more than one read for each is needed.

    Only what the decoder itself records, without a factory value, may stay open.
    """
    held = Resolver(STORE.profile("ilex-works/heron"))
    disputed = disputed_at(held, held.profile.version("39"))
    for seed in range(4):
        layout = Layout(disputed, random.Random(seed), AFTER_RESET, mixed=seed > 1)
        found = probed_to_the_end(held, layout, AFTER_RESET)
        left = [held.bundle for held in found.standings if held.side is None]
        assert all(disputed.bundles[at].settings[0].startswith("record.") for at in left)
        assert len(found.reads) <= 1.5 * len(disputed.bundles)


def walk(node: Node | None, layout: Layout, made: list[Read]) -> None:
    """Follow a tree by the answers of a decoder."""
    while node is not None:
        answer = layout.answer(node.slot)
        made.append(Read(node.slot, answer))
        taken = [branch for branch in node.branches if branch.answers >> answer & 1]
        node = taken[0].then if taken else None


@pytest.mark.parametrize(("id", "version"), FIRMWARES)
def test_the_trees_lead_where_the_answers_lead(id: str, version: str) -> None:
    """Both trees start with a read that tells, and never ask for a CV twice on one path."""
    held = Resolver(STORE.profile(id))
    found = probe(held, held.profile.version(version))
    assert [plan.terms for plan in found.plans] == [AS_IT_STANDS, AFTER_RESET]
    for plan in found.plans:
        layout = Layout(found.disputed, random.Random(1), plan.terms, mixed=False)
        made: list[Read] = []
        walk(plan.tree.root, layout, made)
        assert made
        assert len({read.slot for read in made}) == len(made)
        answering = [*reads("8=13"), *made]
        after = probe(held, held.profile.version(version), answering, plan.terms)
        assert any(standing.side is not None for standing in after.standings)


def test_a_bundle_that_no_read_tells_apart_gets_a_test() -> None:
    """The half-speed function of the Lark 8 stays at its CV: only its behaviour tells."""
    held = Resolver(STORE.profile("ferrow/lark-8"))
    found = probe(held, held.profile.version("3.0.8"))
    names = [found.disputed.bundles[at].settings for at in found.plans[0].unreadable]
    assert ("shunting.half-speed-function",) in names
    assert "shunting.half-speed-function" in [test.setting for test in found.tests]


def test_a_decoder_that_cannot_be_read_gets_tests_alone() -> None:
    """Without reads the plan is a test for each bundle that has one."""
    found = probe(HELD, AT, can_read=False)
    assert found.next_read is None
    assert found.plans == ()
    assert {test.bundle for test in found.tests} == {0, 2}


def trials_of(*names: str) -> list[BenchTest]:
    """The tests of some settings."""
    return [test for test in probe(HELD, AT, can_read=False).tests if test.setting in names]


def test_a_test_says_what_to_write_where_and_what_it_would_mean() -> None:
    """The braking distance lives at CV 141 or at CV 144; both are tried, one after the other."""
    (test,) = trials_of("braking.distance")
    assert [trial.where for trial in test.trials] == ["CV 141", "CV 144"]
    assert all(0 < trial.writes[0][2] <= 200 for trial in test.trials)
    assert [trial.side for trial in test.trials] == [0, 1]
    assert test.absent == ()
    assert not test.is_same_place
    assert Caution.MOVES in test.cautions


def test_a_setting_that_one_side_lacks_is_tried_where_it_may_be() -> None:
    """The delay is there in newer firmware or not at all; nothing happening is an answer too."""
    held = Resolver(STORE.profile("ferrow/wren-2"))
    tests = probe(held, held.profile.version("1.3"), can_read=False).tests
    (test,) = (test for test in tests if test.setting == "stopping.delay")
    assert [trial.side for trial in test.trials] == [1]
    assert test.absent == (0,)
    assert test.answers == 2


def test_a_smoke_unit_is_not_tried() -> None:
    """Nor is anything written into its CV to try the sound that may live there instead."""
    assert trials_of("smoke.level", "sound.level") == []


def shipped_tests() -> Iterable[BenchTest]:
    """Every test for the disputed firmware of the shipped store."""
    for id, version in FIRMWARES:
        held = Resolver(STORE.profile(id))
        yield from probe(held, held.profile.version(version), can_read=False).tests


def test_every_test_writes_legal_values_that_are_not_the_factory_ones() -> None:
    """Each trial is decoded without fault by its own place, and differs from the default."""
    tests = list(shipped_tests())
    assert len(tests) > 40
    for id, version in FIRMWARES:
        held = Resolver(STORE.profile(id))
        found = probe(held, held.profile.version(version), can_read=False)
        for test in found.tests:
            for trial in test.trials:
                place = found.disputed.bundles[test.bundle].sides[trial.side].places[test.setting]
                assert place is not None
                values = {slot: value for slot, _, value in trial.writes}
                parts = place.parts(values)
                assert parts is not None
                is_legal = place.coding.decode(parts).fault is None
                assert is_legal == bool(trial.meaning), test.setting
                assert is_legal or test.is_same_place, test.setting
                assert parts != place.default or test.is_same_place, test.setting


def test_a_test_result_settles_what_reads_left_open() -> None:
    """What was tried and worked by the newer place is newer."""
    made = reads("144=80 141=2")
    result = Tried("lamp.level", 1)
    found = probe(HELD, AT, made, AFTER_RESET, (result,))
    assert found.standings[2].chances[1] > 0.98
    assert "lamp.level" not in [test.setting for test in found.tests]


def test_nothing_disputed_is_settled() -> None:
    """Covered firmware needs no probe."""
    found = probe(HELD, HELD.profile.version("1.5"))
    assert found.is_settled
    assert found.tests == found.plans == ()


def test_a_cv_that_cannot_be_read_is_avoided() -> None:
    """The plan goes round it."""
    first = probe(HELD, AT).next_read
    assert first is not None
    other = probe(HELD, AT, avoid=[first.slot]).next_read
    assert other is not None
    assert other.slot != first.slot


def test_no_answer_is_an_answer_of_a_decoder_that_answers() -> None:
    """CV 144 without answer speaks for the older side, where it is not used."""
    found = probe(HELD, AT, reads("8=13 144=none"), AFTER_RESET)
    assert found.standings[0].side == 0


def test_silence_alone_settles_nothing() -> None:
    """While nothing was answered every side is as likely as before, whatever was read."""
    fresh = probe(HELD, AT)
    silent = probe(HELD, AT, reads("144=none 141=none 8=none"))
    assert [one.chances for one in silent.standings] == [one.chances for one in fresh.standings]
    assert not silent.is_settled


def walked(node: Node | None) -> Iterable[list[Slot]]:
    """The CVs read on each way through a tree."""
    if node is not None:
        for branch in node.branches:
            for rest in list(walked(branch.then)) or [[]]:
                yield [node.slot, *rest]


def test_a_cv_that_tells_the_same_as_another_is_further_evidence() -> None:
    """Two lamps moved to per cent together, CV 60 and CV 61 with the same factory values: a value
    that both codings allow leads to the other lamp, in the tree as in the session.
    """
    lamps = resolver(
        {
            "sources": {"h1": "==1", "h2": "==3"},
            "settings": {
                name: [
                    {"at": cv, "in": "==1", "range": [0, 15], "default": 12},
                    {"at": cv, "in": "==3", "range": [0, 100], "default": 80},
                ]
                for name, cv in (("lamp.front", "60"), ("lamp.rear", "61"))
            },
        }
    )
    version = lamps.profile.version("2")
    ways = list(walked(probe(lamps, version).plans[0].tree.root))
    assert [Slot(60), Slot(61)] in [way[:2] for way in ways]
    after = probe(lamps, version, reads("60=5"))
    assert after.next_read is not None
    assert after.next_read.slot == Slot(61)
