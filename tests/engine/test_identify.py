"""Which decoder answers like this: the truth is always among the candidates, and never silently."""

import random
import tomllib
from collections.abc import Iterator
from functools import cache

import pytest

from cvlib.engine.bench.evidence import Ground, evidence
from cvlib.engine.bench.expect import NO_ANSWER, members
from cvlib.engine.bench.identify import Candidate, Fit, Identified, Verdict, identify
from cvlib.engine.bench.index import IdentityIndex, merged
from cvlib.engine.bench.next_read import next_reads
from cvlib.engine.bench.weigh import Read
from cvlib.files.data import definitions_folder
from cvlib.model.cv import Slot
from engine.bench_worlds import made_index, reads, shipped_index
from tools.bench.simulated import Simulated, in_numeric_order, session
from tools.bench.small_stores import small_stores

MADE = 40
LARK = "8=13 7=2 109=9 110=201"


def names(found: Identified) -> list[str]:
    """The profiles that fit."""
    return list(dict.fromkeys(held.profile for held in found.fitting))


def release_rows(index: IdentityIndex) -> list[int]:
    """The rows of releases that are known to exist."""
    return [row for row in range(len(index)) if index.is_release(row)]


@pytest.mark.parametrize("after_reset", [False, True])
def test_without_errors_the_truth_is_always_among_the_candidates(after_reset: bool) -> None:
    """Sixty simulated decoders, each read until one fits or no read tells any more."""
    index, dice = made_index(MADE), random.Random(21 + after_reset)
    wrong = 0
    for row in dice.choices(release_rows(index), k=60):
        decoder = Simulated(index, row, dice, after_reset=after_reset)
        found = session(index, decoder, 40)
        assert any(row in held.rows for held in found.candidates), index.row(row)
        wrong += found.verdict is Verdict.ONE and row not in found.fitting[0].rows
    assert not wrong


def test_with_one_percent_misread_the_truth_is_nearly_always_there() -> None:
    """At least 99 of a hundred; a single misread answer does not throw the truth out."""
    index, dice = made_index(MADE), random.Random(5)
    missed = 0
    for row in dice.choices(release_rows(index), k=150):
        decoder = Simulated(index, row, dice, misread=0.01)
        found = session(index, decoder, 40)
        missed += not any(row in held.rows for held in found.candidates)
    assert missed <= 1


def test_half_the_reads_of_numeric_order_are_enough() -> None:
    """On the same decoders, reading what tells most needs at most half as many reads."""
    index, dice = made_index(MADE), random.Random(8)
    ours, numeric = [], []
    for row in dice.choices(release_rows(index), k=25):
        decoder = Simulated(index, row, dice)
        found = session(index, decoder, 40)
        needed = in_numeric_order(index, decoder)
        if found.verdict is Verdict.ONE and needed is not None:
            ours.append(len(found.reads))
            numeric.append(needed)
    assert len(ours) > 15
    assert sum(ours) <= sum(numeric) / 2


def test_whole_sessions_are_hardly_longer_than_the_best_possible() -> None:
    """Stores of a few decoders and seven CVs, every order of reading tried: within 10 %."""
    found = small_stores(5)
    assert found.cases == 5
    assert found.more <= 0.1


def own_answers(index: IdentityIndex, row: int) -> list[Read]:
    """What identity fixes of a row: every certain answer, and the CVs that never answer."""
    found = []
    for slot in index.slots:
        held = index.expect(row, slot)
        if held.presence.name == "NEVER":
            found.append(Read(slot, NO_ANSWER))
        elif held.certain:
            found.append(Read(slot, members(held.certain)[0]))
    return found


def shipped_rows() -> Iterator[tuple[str, int, int]]:
    """One row for each release of the shipped store: profile, its number, row."""
    index = shipped_index()
    for number, first, end in index.spans():
        for row in range(first, end):
            if index.is_release(row):
                yield index.listed(number).id, number, row


def generations_alike(index: IdentityIndex, number: int, answers: list[Read]) -> set[int]:
    """The generations of a profile of which some release gives just these answers."""
    return {
        index.generation(row)
        for _, held, row in shipped_rows()
        if held == number and own_answers(index, row) == answers
    }


@cache
def shared_identities() -> frozenset[str]:
    """The profiles in which somebody noted that nothing tells the decoder from another."""
    root = definitions_folder()
    return frozenset(
        path.relative_to(root).with_suffix("").as_posix()
        for path in root.glob("*/*.toml")
        if any(
            one["code"] == "shared-identity"
            for one in tomllib.loads(path.read_text(encoding="utf-8")).get("accepted", ())
        )
    )


@pytest.mark.parametrize(
    ("id", "number", "row"),
    [
        pytest.param(id, number, row, id=f"{id} {'-'.join(shipped_index().row(row).releases)}")
        for id, number, row in shipped_rows()
    ],
)
def test_a_profile_is_found_by_its_own_identity_answers_and_only_that_one(
    id: str, number: int, row: int
) -> None:
    """Maker, version, product answers and the CVs that never answer give that profile alone.

    Generations of it that answer alike all fit; where none other does, one is named. The one
    decoder that cannot be read at all is like any that cannot answer where it stands. Where the
    profile says that others share its identity, it is among several, and none is named.
    """
    index = shipped_index()
    given = own_answers(index, row)
    found = identify(index, given)
    if id in shared_identities():
        assert id in names(found)
        assert found.verdict is Verdict.SEVERAL or names(found) == [id]
        return
    assert names(found) == [id]
    if id == "open/tiny402-function":
        assert found.verdict is Verdict.SILENT
        return
    alike = generations_alike(index, number, given)
    fitting = {index.generation(held.rows[0]) for held in found.fitting if held.releases}
    assert fitting == alike
    assert (found.verdict is Verdict.ONE) is (len(alike) == 1)


@pytest.mark.parametrize("typed", ["8=13 7=48", "8=13 7=31", "8=13 7=13", "8=13 7=2", "8=13 7=21"])
def test_maker_and_version_alone_decide_nothing_where_two_profiles_have_them(typed: str) -> None:
    """Several decoder types list such a release, and each of them stays possible."""
    found = identify(shipped_index(), reads(typed))
    assert found.verdict is Verdict.SEVERAL
    assert len({held.profile for held in found.fitting if held.releases}) > 1


def test_a_listed_release_goes_before_firmware_that_nobody_listed() -> None:
    """49 is 3.1 of one accessory decoder, and another answers no version that tells anything;
    as firmware of others it is listed nowhere.
    """
    found = identify(shipped_index(), reads("8=13 7=49"))
    assert names(found) == ["open/universal-accessory", "open/accessory-core-typed"]
    assert found.verdict is Verdict.SEVERAL


@pytest.mark.parametrize("gone", range(shipped_index().count))
def test_a_profile_that_is_removed_is_not_taken_for_another_silently(gone: int) -> None:
    """Its answers name no other decoder: none fits, or several do, or nothing was answered."""
    index = shipped_index()
    without = merged(index.part(at) for at in range(index.count) if at != gone)
    for _, number, row in shipped_rows():
        if number == gone:
            found = identify(without, own_answers(index, row))
            assert found.verdict is not Verdict.ONE, found.fitting[0]


def test_one_misread_answer_leaves_the_truth_in_sight() -> None:
    """42 read as 43 on the page of product answers: nothing fits, and the reason stands there."""
    index = shipped_index()
    given = reads(f"{LARK} 261@0/255=43")
    found = identify(index, given)
    assert found.verdict is Verdict.NONE
    best = found.candidates[0]
    assert (best.profile, best.releases, best.fit) == ("ferrow/lark-8", ("2.9.201",), Fit.MISREAD)
    (against,) = [one for one in evidence(index, best.rows[0], given) if one.bits < 0]
    assert (str(against.slot), members(against.expected)) == ("CV 261 on page 0/255", [42])


def test_reading_again_settles_a_misread_answer() -> None:
    """The CV in doubt is asked for again; two right answers beat one wrong one."""
    index = shipped_index()
    given = reads(f"{LARK} 261@0/255=43")
    (again, *_) = next_reads(index, identify(index, given))
    assert (again.slot.typed, again.aim.value) == ("261@0/255", "confirm")
    found = identify(index, [*given, *reads("261@0/255=42 261@0/255=42")])
    assert found.verdict is Verdict.ONE
    assert found.fitting[0].releases == ("2.9.201",)


def test_a_single_contradiction_is_never_hidden_by_many_agreements() -> None:
    """A decoder of another maker is not in the store, whatever else it answers like."""
    found = identify(shipped_index(), reads("8=14 7=6 110=3 111=0"))
    assert found.verdict is Verdict.NONE
    assert found.stranger > 0.5


def test_no_answer_at_all_decides_nothing() -> None:
    """Only a decoder that keeps silent on purpose fits, and one that cannot answer is as likely."""
    found = identify(shipped_index(), reads("7=none 8=none"))
    assert found.verdict is Verdict.SILENT
    assert names(found) == ["open/tiny402-function"]
    assert found.mute > 0.1
    answered = identify(shipped_index(), reads("7=none 8=none 1=3"))
    assert answered.mute == 0
    assert names(answered) == ["open/tiny402-function"]
    assert answered.verdict is not Verdict.ONE


def test_nothing_read_is_no_answer() -> None:
    """Without reads every decoder is possible, in a store of one as well."""
    index = shipped_index()
    assert identify(index, []).verdict is Verdict.SEVERAL
    assert identify(merged([index.part(0)]), []).verdict is Verdict.SEVERAL


def test_the_firmware_of_one_profile_can_be_asked_for() -> None:
    """Then no other decoder is looked at."""
    found = identify(shipped_index(), reads("7=13 113=none"), profile="ilex-works/glim-6")
    assert {held.profile for held in found.candidates} == {"ilex-works/glim-6"}


def test_a_version_that_no_release_has_fits_only_unlisted_firmware() -> None:
    """2.200.7 lies between two releases: the gap fits, and neither release does."""
    found = identify(shipped_index(), reads("8=13 7=2 109=7 110=5 261@0/255=42"))
    assert {held.profile for held in found.fitting} == {"ferrow/lark-8"}
    assert all(not held.releases for held in found.fitting)


def test_the_reasons_name_what_is_expected() -> None:
    """Identity, a factory value, a value beside the range, a CV that nothing uses."""
    index = shipped_index()
    given = reads("8=13 7=2 109=4 110=118 261@0/255=42 49=70 52=9 149=6")
    found = identify(index, given)
    grounds = {
        str(one.slot): one.ground for one in evidence(index, found.candidates[0].rows[0], given)
    }
    assert grounds["CV 8"] is Ground.IDENTITY
    assert grounds["CV 49"] is Ground.FACTORY_VALUE
    assert grounds["CV 52"] is Ground.BESIDE_RANGE
    assert grounds["CV 149"] is Ground.NOT_USED


def test_chances_add_up() -> None:
    """Candidates, a decoder of no profile and one that cannot answer share the whole."""
    found = identify(shipped_index(), reads("8=13 7=43"))
    listed = sum(held.chance for held in found.candidates)
    assert 0.95 < listed + found.stranger + found.mute <= 1.0001
    chances = [held.chance for held in found.candidates]
    assert chances == sorted(chances, reverse=True)


def test_candidates_are_what_fits_first() -> None:
    """A candidate that needs a misread answer never counts as fitting."""
    found = identify(shipped_index(), reads("8=13 7=12 64=21"))
    (only,) = found.fitting
    assert isinstance(only, Candidate)
    assert (only.profile, only.releases) == ("ferrow/wren-2", ("1.2",))
    assert all(held.misread for held in found.candidates if held.fit is Fit.MISREAD)


def test_a_cv_of_no_decoder_tells_little() -> None:
    """A read of a CV that nobody uses leaves every decoder possible."""
    found = identify(shipped_index(), [Read(Slot(1000), 0)])
    assert found.verdict is Verdict.SEVERAL
    assert found.count == shipped_index().count
