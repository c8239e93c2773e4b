"""Sessions: one question at a time, each answer can be taken back, the bench changes the plan."""

import pytest

from cvlib.engine.bench.behaviour import BenchTest
from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.identify import Unsure, Verdict
from cvlib.engine.bench.layouts import Tried
from cvlib.engine.bench.learnt import learnt_from
from cvlib.engine.bench.next_read import Aim, Suggestion
from cvlib.engine.bench.saved_for import saved_for
from cvlib.engine.bench.session import (
    FactTold,
    IdentifySession,
    ProbeSession,
    Session,
    Skipped,
)
from cvlib.engine.bench.situation import Fact, Hint, Situation, detected, hints_for, open_facts
from cvlib.engine.bench.weigh import Read
from cvlib.engine.carry.write_sheet import Track
from cvlib.engine.known.resolve import Resolver
from cvlib.files.store import open_store
from cvlib.model.cv import Slot
from cvlib.model.loco import State
from cvlib.model.profile import Verdict as Seen
from engine.bench_worlds import reads, shipped_index
from engine.test_layouts import AT, HELD

READY = Situation(Track.PROGRAMMING, True, None, True, False, state=State.RESET)
STORE = open_store()
WREN = Resolver(STORE.profile("ferrow/wren-2"))


def wren(*entries: object, situation: Situation = READY) -> ProbeSession:
    """A probe of the Wren 2 at 1.3, between its two cards."""
    return ProbeSession(WREN, WREN.profile.version("1.3"), situation, entries)


def told(session: Session, *answers: int) -> list[Slot]:
    """The CVs asked for, answered one after the other."""
    asked = []
    for answer in answers:
        question = session.question()
        assert isinstance(question, Suggestion), question
        asked.append(question.slot)
        session.add(Read(question.slot, answer))
    return asked


def test_facts_come_first_and_only_those_that_matter() -> None:
    """The track, then the load or the answers on the main, then other decoders, then a reset."""
    assert open_facts(Situation()) == (Fact.TRACK, Fact.ALONE)
    on_track = Situation(Track.PROGRAMMING)
    assert open_facts(on_track, ask_reset=True) == (Fact.LOAD, Fact.ALONE, Fact.RESET)
    on_main = Situation(Track.MAIN, is_alone=True)
    assert open_facts(on_main, ask_reset=True) == (Fact.BIDIRECTIONAL, Fact.RESET)
    shared = Situation(Track.PROGRAMMING, True, is_alone=False)
    assert open_facts(shared) == (Fact.CHOSEN,)
    assert open_facts(shared.told(Fact.CHOSEN, True)) == ()
    silent = Situation(Track.PROGRAMMING, False, None, True)
    assert open_facts(silent, ask_reset=True) == ()


@pytest.mark.parametrize(
    ("situation", "kind", "can_read", "hints"),
    [
        (Situation(Track.PROGRAMMING, True), "motor", True, ()),
        (
            Situation(Track.PROGRAMMING, False),
            "motor",
            False,
            (Hint.CONNECT_MOTOR, Hint.ONLY_TESTS),
        ),
        (
            Situation(Track.PROGRAMMING, False),
            "function",
            False,
            (Hint.CONNECT_LAMP, Hint.ONLY_TESTS),
        ),
        (Situation(Track.PROGRAMMING, False), "", False, (Hint.CONNECT_LOAD, Hint.ONLY_TESTS)),
        (
            Situation(Track.MAIN, None, False),
            "motor",
            False,
            (Hint.TO_PROGRAMMING_TRACK, Hint.ONLY_TESTS),
        ),
        (Situation(Track.MAIN, False, True), "motor", True, ()),
        (Situation(is_alone=False), "motor", True, (Hint.UNPLUG_OTHER, Hint.USE_LOCK)),
        (
            Situation(is_alone=False, is_chosen=False),
            "motor",
            False,
            (Hint.UNPLUG_OTHER, Hint.USE_LOCK),
        ),
        (Situation(is_alone=False, is_chosen=True), "motor", True, ()),
    ],
)
def test_the_bench_decides_whether_anything_can_be_read(
    situation: Situation, kind: str, can_read: bool, hints: tuple[Hint, ...]
) -> None:
    """No motor, no lamp, no way back on the main, a second decoder (NMRA S-9.2.3 section D and
    S-9.2.2 CVs 15-16, July 2012; the rest is common practice, no source).
    """
    assert situation.can_read is can_read
    assert hints_for(situation, kind) == hints


def test_a_decoder_without_a_lock_can_only_be_unplugged() -> None:
    """Where CVs 15 and 16 do not exist they are not proposed."""
    assert hints_for(Situation(is_alone=False), "motor", has_lock=False) == (Hint.UNPLUG_OTHER,)


@pytest.mark.parametrize(
    ("made", "hints"),
    [
        ("8=none 7=none", ()),
        ("8=none 7=none 1=none", (Hint.NOTHING_ANSWERS, Hint.CONNECT_MOTOR)),
        ("8=none 7=none 1=3", ()),
        ("8=13 8=13", ()),
        ("8=13 8=14", (Hint.ANSWERS_DIFFER,)),
    ],
)
def test_the_reads_give_away_what_nobody_told(made: str, hints: tuple[Hint, ...]) -> None:
    """Three silent CVs, or one CV with two answers."""
    assert detected(reads(made), "motor") == hints


def test_answers_of_two_decoders_at_once_raise_suspicion() -> None:
    """No single decoder type gives the product answers of two."""
    entries = reads("8=13 261@0/255=42 249=61 64=21 250=90 7=39")
    session = IdentifySession(shipped_index(), READY, entries)
    assert Hint.TWO_SUSPECTED in session.hints()


def test_each_answer_can_be_taken_back() -> None:
    """After undo the session is as it was before the answer: same question, same result."""
    session = IdentifySession(shipped_index(), READY)
    questions = [session.question()]
    for answer in (2, 55, 9):
        question = session.question()
        assert isinstance(question, Suggestion)
        session.add(Read(question.slot, answer))
        questions.append(session.question())
    for before in reversed(questions[:-1]):
        assert session.undo() is not None
        assert session.question() == before
    assert session.undo() is None
    assert session.reads == ()


def test_what_is_skipped_is_not_asked_for_again() -> None:
    """The next best read comes instead."""
    session = IdentifySession(shipped_index(), READY)
    first = session.question()
    assert isinstance(first, Suggestion)
    session.add(Skipped(first.slot))
    second = session.question()
    assert isinstance(second, Suggestion)
    assert second.slot != first.slot
    assert first.slot in session.skipped


def test_a_decoder_that_answers_nothing_is_not_asked_for_ever() -> None:
    """After some silent CVs the questions end, and the hints say what to look at."""
    session = IdentifySession(shipped_index(), READY)
    for _ in range(8):
        question = session.question()
        if question is None:
            break
        assert isinstance(question, Suggestion)
        session.add(Read(question.slot, NO_ANSWER))
    assert session.question() is None
    assert Hint.NOTHING_ANSWERS in session.hints()


def test_silence_settles_nothing_and_asks_for_a_cv_that_must_answer() -> None:
    """One CV without answer, or the control as well: no bundle is settled, and what the outcome
    names next is the control, then nothing.
    """
    (slot,) = told(wren(), NO_ANSWER)
    one = wren(Read(slot, NO_ANSWER)).probed()
    assert not any(standing.side is not None for standing in one.standings)
    assert one.next_read == Suggestion(Slot(8), 0.0, Aim.CONTROL)
    both = wren(Read(slot, NO_ANSWER), Read(Slot(8), NO_ANSWER)).probed()
    assert not any(standing.side is not None for standing in both.standings)
    assert both.next_read is None
    assert both.tests


def test_nothing_is_decided_while_two_decoders_may_answer() -> None:
    """What comes back belongs to neither, until one is unplugged or locked out."""
    lark = reads("8=13 7=2 109=9 110=201 261@0/255=42")
    shared = IdentifySession(shipped_index(), Situation(is_alone=False), lark)
    assert shared.found().verdict is Verdict.SEVERAL
    assert shared.found().unsure is Unsure.SHARED
    apart = Situation(is_alone=False, is_chosen=True)
    assert IdentifySession(shipped_index(), apart, lark).found().verdict is Verdict.ONE


def test_where_nothing_answers_every_sort_of_load_is_named() -> None:
    """The one decoder that is silent on purpose is a function decoder, the usual cause a motor."""
    silent = Situation(Track.PROGRAMMING, False)
    session = IdentifySession(shipped_index(), silent, reads("8=none 7=none"))
    assert Hint.CONNECT_LOAD in session.hints()


@pytest.mark.parametrize("profile", ["ferrow/wren-2", "ferrow/ember", "ilex-works/heron"])
def test_where_the_profile_is_known_its_version_is_enough(profile: str) -> None:
    """Nothing has to make sure of the decoder type then, and no other one has a share."""
    version = {"ferrow/wren-2": 13}.get(profile, 37)
    session = IdentifySession(shipped_index(), READY, [Read(Slot(7), version)], profile)
    found = session.found()
    assert (found.verdict, found.stranger, found.unsure) == (Verdict.ONE, 0.0, None)
    assert sum(held.chance for held in found.candidates) > 0.999


def test_a_cv_on_a_page_given_without_it_is_pointed_out() -> None:
    """CVs 257 to 512 lie on pages (RCN-225, 2025-07-27); such a read speaks against nothing.

    It speaks for the one decoder that has had such a CV without a page.
    """
    session = IdentifySession(shipped_index(), READY, reads("8=13 257=4"))
    assert Hint.PAGE_NOT_TOLD in session.hints()
    without = IdentifySession(shipped_index(), READY, reads("8=13"))
    after, before = (
        [held.profile for held in one.found().fitting if held.profile != "open/rp2040-motor"]
        for one in (session, without)
    )
    assert after == before


def test_without_a_motor_only_tests_are_asked_for() -> None:
    """A probe then asks for behaviour, one setting at a time."""
    session = wren(situation=Situation(Track.PROGRAMMING, False, None, True))
    question = session.question()
    assert question is not None
    assert not isinstance(question, (Suggestion, Fact))
    session.add(Tried(question.setting, 1))
    following = session.question()
    assert following != question


def test_a_silent_start_is_checked_with_a_cv_that_must_answer() -> None:
    """After a first CV without answer CV 8 is read; if that is silent too, reading ends."""
    session = wren()
    told(session, NO_ANSWER)
    control = session.question()
    assert isinstance(control, Suggestion)
    assert (control.slot, control.aim) == (Slot(8), Aim.CONTROL)
    session.add(Read(Slot(8), NO_ANSWER))
    assert not isinstance(session.question(), Suggestion)
    assert Hint.NOTHING_ANSWERS in session.hints()
    session.undo()
    session.add(Read(Slot(8), 13))
    assert isinstance(session.question(), Suggestion)
    assert Hint.NOTHING_ANSWERS not in session.hints()


def test_facts_told_count_like_facts_given() -> None:
    """A reset that is told makes the reads those after a reset; taken back, it no longer does."""
    session = wren(situation=Situation(Track.PROGRAMMING, True, None, True))
    assert session.question() is Fact.RESET
    session.add(FactTold(Fact.RESET, True))
    assert session.terms.after_reset
    session.undo()
    assert not session.terms.after_reset


def test_what_was_read_is_told_apart_from_what_is_inferred() -> None:
    """CV 144 = 80 shows where the braking distance lives; the mode came along, nobody looked."""
    session = ProbeSession(HELD, AT, Situation(is_reset=True), reads("144=80"))
    learnt = learnt_from(HELD, session.probed(), "2026-03-14")
    assert learnt.observations == ()
    (one,) = learnt.readouts
    assert (one.setting, one.where, one.unread) == ("braking.distance", "CV 144", ())
    assert one.seen == "CV 144 read as 80"
    assert learnt.inferred == ("braking.mode",)
    assert set(learnt.still_open) == {"lamp.level", "smoke.level", "sound.level"}
    assert learnt.source == "bench-2026-03"
    assert learnt.summary == "read after a factory reset: CV 144 = 80"


def test_a_setting_that_is_not_there_is_observed_where_it_would_be() -> None:
    """CV 70 holds the smoke of older firmware: the sound has no effect there."""
    session = ProbeSession(
        HELD, AT, Situation(is_reset=True), [*reads("70=2"), Tried("sound.level", 0)]
    )
    learnt = learnt_from(HELD, session.probed(), "2026-03-14")
    seen = {one.setting: one.verdict for one in learnt.observations}
    assert seen == {"sound.level": Seen.NO_EFFECT}
    assert [one.setting for one in learnt.readouts] == ["smoke.level"]


@pytest.mark.parametrize(
    ("values", "releases", "version"),
    [
        ("7=2 109=4 110=118 113=1 123=10 48=5 146=1", ("2.4.118",), "2.4.118"),
        (
            "7=4 109=2 110=60 261@0/255=42 113=1 114=20 115=5 123=10 121=15 141=0 146=1 58=8",
            ("2.0.12", "2.1.57", "2.4.118"),
            "4.2.60",
        ),
    ],
)
def test_a_list_is_told_by_its_settings_even_after_an_update(
    values: str, releases: tuple[str, ...], version: str
) -> None:
    """Settings of 2.4.118 beside the version CVs of 4.2.60: saved for the older firmware."""
    found, named = saved_for(shipped_index(), reads(values), "ferrow/lark-8")
    assert found.fitting[0].releases == releases
    assert named == version


def test_beside_a_second_decoder_nothing_is_asked_until_it_is_out_of_the_way() -> None:
    """A read would show both, and a test would change both (common practice, no source)."""
    on_track = Situation(Track.PROGRAMMING, True, is_reset=False, state=State.RESET)
    for session in (IdentifySession(shipped_index(), on_track), wren(situation=on_track)):
        assert session.question() is Fact.ALONE
        session.add(FactTold(Fact.ALONE, False))
        assert session.question() is Fact.CHOSEN
        session.add(FactTold(Fact.CHOSEN, False))
        assert session.question() is None
        assert Hint.UNPLUG_OTHER in session.hints()
        session.undo()
        session.add(FactTold(Fact.CHOSEN, True))
        assert isinstance(session.question(), Suggestion)
        assert session.hints() == ()


def test_on_the_main_reads_need_bidirectional_communication() -> None:
    """With it reads are asked for; without it only tests of the decoder are left."""
    on_main = Situation(Track.MAIN, is_alone=True, is_reset=False, state=State.RESET)
    session = wren(situation=on_main)
    assert session.question() is Fact.BIDIRECTIONAL
    session.add(FactTold(Fact.BIDIRECTIONAL, True))
    assert isinstance(session.question(), Suggestion)
    session.undo()
    session.add(FactTold(Fact.BIDIRECTIONAL, False))
    assert isinstance(session.question(), BenchTest)
    assert Hint.TO_PROGRAMMING_TRACK in session.hints()


def test_a_function_decoder_is_asked_about_its_lamp() -> None:
    """It acknowledges with what hangs on its outputs; without a lamp nothing is read."""
    glim = Resolver(STORE.profile("ilex-works/glim-6"))
    on_track = Situation(Track.PROGRAMMING, is_alone=True, is_reset=False, state=State.RESET)
    session = ProbeSession(glim, glim.profile.version("1.3"), on_track)
    assert session.question() is Fact.LOAD
    session.add(FactTold(Fact.LOAD, False))
    assert not isinstance(session.question(), Suggestion)
    assert Hint.CONNECT_LAMP in session.hints()


def test_left_over_values_speak_for_no_firmware() -> None:
    """An answer that may be older than the firmware tells that there is a CV, and not what it does:
    what is known of the update is weighed in the search too.
    """
    factory = reads("141=20 142=0 144=60 147=0")
    ready = Situation(Track.PROGRAMMING, True, None, True, False)

    def older(state: State) -> float:
        situation = ready.told(Fact.LEFTOVER, state)
        session = IdentifySession(shipped_index(), situation, factory, "ferrow/lark-8")
        return sum(held.chance for held in session.found().candidates if "2.4" in held.stretch)

    assert older(State.NOT_RESET) > 10 * older(State.RESET)
