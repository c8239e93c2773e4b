"""A decoder that no profile describes is never named, whatever it has in common with others."""

import random
from collections.abc import Callable, Mapping

import pytest

from cvlib.engine.bench.expect import AS_IT_STANDS, NO_ANSWER, members
from cvlib.engine.bench.identify import Identified, Unsure, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex, merged
from cvlib.engine.bench.next_read import Aim, next_reads
from cvlib.engine.bench.weigh import Read
from cvlib.model.cv import Slot
from engine.bench_worlds import made_index, reads, shipped_index
from tools.bench.simulated import Simulated

Sort = Callable[[IdentityIndex, random.Random], dict[Slot, int]]

MOST_READS = 40
USUAL = {1: (3,), 29: (6, 2, 0), 2: (0, 3, 5), 3: (2, 4, 6), 4: (2, 4), 17: (192,), 18: (0, 3)}
"""Values that many decoders hold (common practice, no source)."""
OFTEN = (0, 0, 1, 2, 3, 5, 10, 255)


def read_out(index: IdentityIndex, held: Mapping[Slot, int]) -> Identified:
    """What comes of making every read that is asked for, without errors."""
    made: list[Read] = []
    while True:
        found = identify(index, made)
        told = next_reads(index, found, AS_IT_STANDS, most=1)
        if found.verdict is Verdict.ONE or not told or len(made) >= MOST_READS:
            return found
        made.append(Read(told[0].slot, held.get(told[0].slot, NO_ANSWER)))


def makers(index: IdentityIndex) -> list[int]:
    """The manufacturer IDs of a store, as CV 8 answers them."""
    rows = (first for _, first, _ in index.spans())
    return [members(index.expect(row, Slot(8)).certain or 1)[0] for row in rows]


def any_value(dice: random.Random) -> int:
    """A value as decoders hold it: often a small one."""
    return dice.choice((*OFTEN, dice.randrange(30), dice.randrange(256)))


def with_random_registers(index: IdentityIndex, dice: random.Random) -> dict[Slot, int]:
    """A decoder of a maker of the store, with a version as one of them, and anything else."""
    found = {Slot(cv): dice.choice(values) for cv, values in USUAL.items()}
    found[Slot(8)] = dice.choice(makers(index))
    row = dice.randrange(len(index))
    version = index.expect(row, Slot(7)).certain
    found[Slot(7)] = dice.choice(members(version)[:256]) if version else any_value(dice)
    used = [slot for slot in index.slots if slot not in found]
    for slot in dice.sample(used, len(used) // 2):
        found[slot] = any_value(dice)
    return found


def is_as_described(index: IdentityIndex, held: Mapping[Slot, int]) -> bool:
    """Whether every answer by which a release of the store says who it is happens to be given."""
    for row in range(len(index)):
        own = {slot: index.expect(row, slot).certain for slot in index.identity_slots(row)}
        is_own = all(certain >> held.get(slot, NO_ANSWER) & 1 for slot, certain in own.items())
        if is_own and index.is_release(row) and index.product_slots(row):
            return True
    return False


def taken(index: IdentityIndex, row: int, slot: Slot, value: int) -> bool:
    """Whether any firmware of a row's decoder type gives this product answer."""
    (number,) = index.numbers([row])
    _, first, end = next(span for span in index.spans() if span[0] == number)
    return any(index.expect(one, slot).certain >> value & 1 for one in range(first, end))


def half_alike(index: IdentityIndex, dice: random.Random) -> dict[Slot, int]:
    """A decoder of the same maker that is in half of its CVs like one of the store, fresh from the
    box, and answers for another product.
    """
    rows = [row for row in range(len(index)) if index.is_release(row)]
    row = dice.choice(rows)
    model = Simulated(index, row, dice, after_reset=True)
    found: dict[Slot, int] = {}
    for slot in index.slots:
        own = model.true_answer(slot)
        answer = own if slot == Slot(8) or dice.random() < 0.5 else any_value(dice)
        if slot in index.product_slots(row):
            free = [value for value in range(256) if not taken(index, row, slot, value)]
            answer = dice.choice(free)
        if answer != NO_ANSWER and (own != NO_ANSWER or dice.random() < 0.2):
            found[slot] = answer
    return found


@pytest.mark.slow
@pytest.mark.parametrize("made", [False, True], ids=["shipped", "made"])
@pytest.mark.parametrize("sort", [with_random_registers, half_alike])
def test_an_undescribed_decoder_is_never_named(sort: Sort, made: bool) -> None:
    """Fifty of each sort in each store, every read that is asked for made without errors."""
    index = made_index(40) if made else shipped_index()
    dice = random.Random(f"{sort.__name__}{made}")
    made_up = (sort(index, dice) for _ in range(50))
    found = [read_out(index, held) for held in made_up if not is_as_described(index, held)]
    assert len(found) > 45
    assert not [one.fitting[0] for one in found if one.verdict is Verdict.ONE]


@pytest.mark.slow
@pytest.mark.parametrize("gone", range(shipped_index().count))
def test_a_decoder_whose_profile_is_missing_is_never_named(gone: int) -> None:
    """As it stands, with values that its owner changed; all that is asked for is read."""
    index, dice = shipped_index(), random.Random(gone)
    without = merged(index.part(at) for at in range(index.count) if at != gone)
    _, first, end = next(span for span in index.spans() if span[0] == gone)
    rows = [row for row in range(first, end) if index.is_release(row)]
    for row in dice.sample(rows, min(4, len(rows))):
        model = Simulated(index, row, dice)
        held = {slot: model.true_answer(slot) for slot in index.slots}
        found = read_out(without, held)
        assert found.verdict is not Verdict.ONE, found.fitting[0]


def test_silence_and_usual_values_name_nothing() -> None:
    """Version, a value that most decoders hold and no answer leave others possible, and say why."""
    index = shipped_index()
    found = identify(index, reads("7=37 1=3 29=6 28=none 47=none 61=none 200=none"))
    assert found.verdict is not Verdict.ONE
    told = identify(index, reads("8=13 7=37 1=3 29=6 28=none 47=none 61=none 200=none"))
    assert told.verdict is not Verdict.ONE
    assert told.stranger > 0.01


def test_what_is_missing_for_a_name_is_said_and_asked_for() -> None:
    """First the maker, then the product answer; with both the decoder is named."""
    index = shipped_index()
    steps = (
        ("7=37 46=0 249=50", Unsure.MAKER, "8"),
        ("8=13 7=37 46=0 250=none", Unsure.PRODUCT, "249"),
    )
    for typed, unsure, slot in steps:
        found = identify(index, reads(typed))
        if len(found.fitting) == 1:
            assert found.unsure is unsure
            told = next_reads(index, found, AS_IT_STANDS)
            assert (told[0].slot.typed, told[0].aim) == (slot, Aim.PRODUCT)


@pytest.mark.parametrize("seed", range(6))
def test_no_answers_however_strange_end_in_an_internal_error(seed: int) -> None:
    """The same CV twice with one or with different values, any maker, any version."""
    dice = random.Random(seed)
    index = shipped_index() if seed % 2 else made_index(40)
    used = list(index.slots)
    for _ in range(20):
        slots = [Slot(8), Slot(8), *dice.choices([Slot(7), Slot(8), *used], k=dice.randint(0, 9))]
        given = [Read(slot, dice.choice((97, 238, NO_ANSWER, any_value(dice)))) for slot in slots]
        found = identify(index, given)
        next_reads(index, found, AS_IT_STANDS)
