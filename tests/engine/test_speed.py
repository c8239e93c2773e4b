"""Speed match: what a timing tells, plans, refusals, tables that never fall, and trims."""

from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cvlib.engine.compare.motion import Curve, Drawn, Form, straight_line, three_point
from cvlib.engine.speed.fit import MeasuredLoco, measure
from cvlib.engine.speed.speed_match import Abilities, SpeedMatch, match_speeds
from cvlib.engine.speed.timings import USUAL_STEPS, Timing, plan_runs
from cvlib.errors import InputError
from files.test_timings import rows

LINE = three_point(6, 0, 200)
TABLE = Abilities(has_table=True, has_points=True, has_trims=True)


@pytest.mark.parametrize("case", rows("precision.csv", ","), ids=lambda case: case["seconds"])
def test_what_a_timing_tells(case: dict[str, str]) -> None:
    """2 % from 15 s once or 7.5 s four times on, and what would do otherwise."""
    timing = Timing("A", 5, True, 1.8, (float(case["seconds"]),) * int(case["times"]))
    assert 200 * timing.error == pytest.approx(float(case["percent"]), abs=0.006)
    assert timing.is_precise is (case["enough"] == "yes")
    assert timing.laps_wanted == int(case["laps"])
    assert timing.repeats_wanted == int(case["repeats"])


@pytest.mark.parametrize("seed", range(20))
def test_a_plan_is_in_random_order_between_its_references(seed: int) -> None:
    """Each loco by itself: the reference first, in the middle and last; all else once each way."""
    runs = plan_runs(["A", "B"], seed=seed)
    assert [run.number for run in runs] == list(range(1, 37))
    assert runs == plan_runs(["A", "B"], seed=seed) != plan_runs(["A", "B"], seed=seed + 1)
    for name in "AB":
        own = [run for run in runs if run.loco == name]
        marks = [run.is_reference for run in own]
        assert marks == [*[True] * 2, *[False] * 6, *[True] * 2, *[False] * 6, *[True] * 2]
        others = sorted((run.step, run.is_forward) for run in own if not run.is_reference)
        assert others == [(s, way) for s in USUAL_STEPS if s != 10 for way in (False, True)]


@pytest.mark.parametrize(
    "steps", [(), (2, 4, 7, 10, 14), (1, 2, 3, 4, 5, 6, 7, 8, 9), (0, 4, 7, 10, 14, 28)]
)
def test_a_plan_has_six_to_eight_steps(steps: tuple[int, ...]) -> None:
    """Fewer carry no table, more are not timed with care."""
    with pytest.raises(InputError, match="6 to 8 speed steps"):
        plan_runs(["A"], steps)


def test_a_plan_is_closer_at_the_bottom() -> None:
    """There a loco changes most."""
    with pytest.raises(InputError, match="closer at the bottom"):
        plan_runs(["A"], (2, 12, 20, 24, 26, 28))


def exact(
    name: str, curve: Curve, top: float, dead: float, back: float = 1.0, seed: int = 1
) -> list[Timing]:
    """Timings without any scatter of a loco whose speed is straight beyond its dead zone."""
    made = []
    for run in plan_runs([name], seed=seed):
        drive = float(curve[run.step - 1])
        speed = top * max(drive - dead, 0) / (255 - dead) * (1 if run.is_forward else back)
        seconds = (100.0,) if speed else ()
        made.append(Timing(name, run.step, run.is_forward, 100 * speed or 1.8, seconds))
    return made


def result(
    timings: list[Timing], able: Abilities = TABLE, top: float | None = None
) -> tuple[tuple[MeasuredLoco, ...], SpeedMatch]:
    """The match of locos A and B that run by one straight curve."""
    drawn = Drawn(Form.LINE, LINE, LINE)
    locos, scatter = measure(timings, [("A", drawn), ("B", drawn)])
    now = {"A": (LINE, LINE), "B": (LINE, LINE)}
    return locos, match_speeds(locos, now, {"A": able, "B": able}, scatter, top)


def test_straight_locos_are_matched_to_half_an_entry() -> None:
    """By hand: B needs half of what drive A has above the dead zone of 20, at each step."""
    _, match = result(exact("A", LINE, 0.3, 20) + exact("B", LINE, 0.6, 20))
    mine, theirs = match.values
    assert mine.table is not None
    assert theirs.table is not None
    for step in range(mine.first_step, 29):
        drive = float(LINE[step - 1])
        assert mine.table[step - 1] == round(drive)
        assert theirs.table[step - 1] == pytest.approx(20 + (drive - 20) / 2, abs=0.5001)
    assert (mine.forward_trim, mine.reverse_trim) == (128, 128)
    assert match.wish[27] == pytest.approx(0.3 * (200 - 20) / 235)


def test_a_trim_takes_up_what_is_the_same_at_all_steps() -> None:
    """Without a dead zone reverse at 0.8 needs forward 0.8 of the drive: 102 of 128."""
    timings = exact("A", LINE, 0.4, 0, 0.8) + exact("B", LINE, 0.4, 0)
    _, match = result(timings)
    mine, theirs = match.values
    assert (mine.forward_trim, mine.reverse_trim) == (102, 128)
    assert (theirs.forward_trim, theirs.reverse_trim) == (128, 128)
    worst = max(abs(held.off or 0) for held in mine.forecast if held.step > 8)
    assert worst < 0.02


def test_what_one_trim_cannot_mend_is_told() -> None:
    """With a dead zone the ratio of both ways changes over the steps; the rest stays visible."""
    timings = exact("A", LINE, 0.4, 30, 0.8) + exact("B", LINE, 0.4, 30)
    _, match = result(timings)
    off = {(h.step, h.is_forward): h.off for h in match.values[0].forecast if h.off is not None}
    low = match.values[0].first_step
    assert (off[low, True] > 0.03) != (off[low, False] > 0.03)
    assert abs(off[28, True]) > 0.01


def test_without_trims_both_ways_share_what_is_left() -> None:
    """One way as much too fast as the other is too slow."""
    able = Abilities(has_table=True, has_points=True, has_trims=False)
    _, match = result(exact("A", LINE, 0.4, 0, 0.9) + exact("B", LINE, 0.4, 0), able)
    ahead, back = (h.off for h in match.values[0].forecast if h.step == 28)
    assert match.values[0].forward_trim is None
    assert ahead == pytest.approx(0.054, abs=0.005)
    assert back == pytest.approx(-0.051, abs=0.005)


def test_a_loco_without_a_table_gets_three_points() -> None:
    """CVs 2, 6 and 5 hold a straight curve as it is."""
    able = Abilities(has_table=False, has_points=True, has_trims=True)
    _, match = result(exact("A", LINE, 0.3, 20) + exact("B", LINE, 0.6, 20), able)
    points = match.values[1].points
    assert points is not None
    assert match.values[1].table is None
    assert points[2] == 110
    assert max(abs(h.off or 0) for h in match.values[1].forecast if h.step > 8) < 0.02


def test_entries_below_what_was_timed_have_no_figure() -> None:
    """A stands at step 2: nothing is foreseen there, and the entries go down in a line."""
    _, match = result(exact("A", LINE, 0.3, 30) + exact("B", LINE, 0.3, 30))
    held = match.values[0]
    assert held.table is not None
    assert held.first_step == 7
    assert all(h.off is None for h in held.forecast if h.step < held.first_step)
    assert all(h.off is not None for h in held.forecast if h.step >= held.first_step)
    assert list(held.table) == sorted(held.table)
    assert held.table[0] >= 1


def test_a_top_speed_is_a_line_through_nothing() -> None:
    """Every step its share: step 14 half of step 28."""
    _, match = result(exact("A", LINE, 0.3, 10) + exact("B", LINE, 0.6, 10), top=0.2)
    assert match.wish[27] == pytest.approx(0.2)
    assert match.wish[13] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("top", "words"),
    [(0.3, "ran 23.3 cm/s at most"), (5.0, "500.0 cm/s are wished"), (0.001, "no faster than")],
)
def test_an_impossible_wish_is_refused(top: float, words: str) -> None:
    """Nothing is foreseen that no timing bears out."""
    with pytest.raises(InputError) as caught:
        result(exact("A", LINE, 0.3, 10) + exact("B", LINE, 0.6, 10), top=top)
    assert words in str(caught.value)


def changed(timings: list[Timing], at: int, factor: float) -> list[Timing]:
    """The timings with one speed multiplied."""
    one = timings[at]
    held = Timing(one.loco, one.step, one.is_forward, one.distance * factor, one.seconds)
    return [*timings[:at], held, *timings[at + 1 :]]


@pytest.mark.parametrize(
    ("factor", "is_refused"), [(1.0, False), (1.055, False), (1.065, True), (0.93, True)]
)
def test_a_reference_step_that_changed_is_refused(factor: float, is_refused: bool) -> None:
    """One way by 6 % is both ways by 3 %."""
    timings = changed(exact("A", LINE, 0.3, 10), 17, factor) + exact("B", LINE, 0.3, 10)
    if not is_refused:
        assert result(timings)
        return
    with pytest.raises(InputError, match="the reference step 10 changed by 3"):
        result(timings)


def test_all_that_is_wrong_is_told_at_once() -> None:
    """A short timing of one loco, a reference that is missing of the other."""
    short = Timing("A", 5, True, 1.8, (9.0,))
    with pytest.raises(InputError) as caught:
        result([*exact("A", LINE, 0.3, 10), short, *exact("B", LINE, 0.3, 10)[:-3]])
    told = str(caught.value)
    assert "one of 9.0 s tells" in told
    assert "A: a reference step is timed first" in told
    assert "B: a reference step is timed first" in told


@pytest.mark.parametrize(
    ("step", "factor", "words"),
    [(14, 0.3, "is slower at step 14 than at 10"), (20, 0.0, "stands at step 20 and moves at")],
)
def test_speeds_that_fall_are_refused(step: int, factor: float, words: str) -> None:
    """A slip of the pen is asked for, not fitted."""
    timings = exact("A", LINE, 0.3, 10)
    at = next(n for n, one in enumerate(timings) if one.step == step and one.is_forward)
    timings = changed(timings, at, factor)
    if not factor:
        timings[at] = Timing("A", step, True, 1.8, ())
    with pytest.raises(InputError) as caught:
        result(timings + exact("B", LINE, 0.3, 10))
    assert words in str(caught.value)


def test_a_loco_that_cannot_be_set_is_refused() -> None:
    """It is named."""
    able = Abilities(has_table=False, has_points=False, has_trims=True)
    with pytest.raises(InputError, match="A: neither a speed table nor CVs 2, 5 and 6"):
        result(exact("A", LINE, 0.3, 10) + exact("B", LINE, 0.3, 10), able)


def test_locos_whose_speeds_never_meet_are_refused() -> None:
    """One at its fastest is slower than the other at its slowest."""
    fast = Drawn(Form.LINE, straight_line(), straight_line())
    high = tuple(Fraction(200) + level / 5 for level in straight_line())
    far = Drawn(Form.LINE, high, high)
    timings = exact("A", straight_line(), 0.05, 10) + exact("B", high, 0.8, 10)
    locos, scatter = measure(timings, [("A", fast), ("B", far)])
    now = {"A": (fast.forward, fast.reverse), "B": (far.forward, far.reverse)}
    with pytest.raises(InputError, match=r"the slowest loco reaches 5\.0 cm/s"):
        match_speeds(locos, now, {"A": TABLE, "B": TABLE}, scatter)


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.floats(0, 0.06), st.booleans(), st.booleans())
def test_tables_never_fall(seed: int, scatter: float, has_trims: bool, has_table: bool) -> None:
    """Whatever the timings scatter: 28 entries from 0 to 255, none below the one before."""
    random = Random(seed)
    timings: list[Timing] = []
    for name in "AB":
        own = exact(name, LINE, random.uniform(0.1, 1), random.uniform(0, 60), seed=seed)
        timings += [
            Timing(o.loco, o.step, o.is_forward, o.distance * random.gauss(1, scatter), o.seconds)
            if o.step != 10
            else o
            for o in own
        ]
    try:
        _, match = result(timings, Abilities(has_table, True, has_trims, 2))
    except InputError:
        return
    for held in match.values:
        if held.table is not None:
            assert len(held.table) == 28
            assert list(held.table) == sorted(held.table)
            assert 2 <= held.table[0] <= held.table[-1] <= 255
        assert (held.table is None) is not has_table
        assert all(
            trim is None or 1 <= trim <= 128 for trim in (held.forward_trim, held.reverse_trim)
        )
        speeds = [h.speed for h in held.forecast if h.is_forward and h.off is not None]
        assert speeds == sorted(s for s in speeds if s is not None)


def test_nothing_is_said_of_steps_that_are_not_foreseen() -> None:
    """Without trims forward and reverse of A need other drives: B's are all known, A's not all."""
    able = Abilities(has_table=True, has_points=True, has_trims=False)
    _, match = result(exact("A", LINE, 0.4, 20, 0.5) + exact("B", LINE, 0.4, 20), able)
    known = [one for held in match.values for one in held.forecast if one.step >= match.known_from]
    assert all(one.off is not None for one in known)
    assert match.apart > 0.5
    assert {check.step for held in match.values for check in held.checks} >= {13, 23}


def test_locos_whose_two_ways_have_no_drive_in_common_are_refused() -> None:
    """Full forward is as fast as reverse at a tenth of it."""
    able = Abilities(has_table=True, has_points=True, has_trims=False)
    crawls = exact("A", LINE, 1.0, 0, 0.02) + exact("B", LINE, 0.02, 0)
    with pytest.raises(InputError) as caught:
        result(crawls, able)
    assert caught.value.faults[0].advice
