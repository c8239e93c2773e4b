"""What a trial says: its answer, its verdict and its advice, on runs worked out by hand."""

from dataclasses import replace

import pytest

from cvlib.engine.trial.days import DayBasis
from cvlib.engine.trial.planning import blocks_of, looks_for, usual_margin
from cvlib.engine.trial.reporting import Outcome, TrialReport, report_of
from cvlib.engine.trial.verdict import (
    UNRELIABLE,
    WORKS,
    advice,
    counted_locos,
    judged,
    limit_of,
    no_value_mends,
)
from cvlib.errors import InputError
from cvlib.model.profile import Verdict
from cvlib.model.trial import BenchTrial, Run, TrialCondition, TrialQuestion
from cvlib.render.views.trial import answer_lines, evidence_words, missed_words

NEAR = [0.0, 1.0, -1.0, 0.5, -0.5, 1.0, -1.0, 0.0, 0.5, -0.5, 0.0, 0.0]
"""Twelve stops around a place, with a mean of 0."""
WILD = [30.0, -28.0, 12.0, -14.0, 25.0, -25.0, 18.0, -17.0, 22.0, -23.0, 9.0, -9.0]


def made(
    question: TrialQuestion,
    stops: dict[str, list[float | None]],
    *,
    values: dict[str, int] | None = None,
    wishes: dict[str, float] | None = None,
    margin: float = 2.0,
    looks: tuple[int, ...] = (12,),
) -> BenchTrial:
    """A trial whose runs alternate between the conditions."""
    conditions = tuple(
        TrialCondition(name, (values or {}).get(name), (wishes or {}).get(name, 82.0))
        for name in stops
    )
    runs = tuple(
        Run(name, held[at])
        for at in range(max(map(len, stops.values())))
        for name, held in stops.items()
        if at < len(held)
    )
    about = ("x.y", question, conditions, margin, "cm", 1.0, looks, tuple(stops) * looks[-1])
    return BenchTrial(*about, date="2026-11-01", firmware="1", runs=runs)


def around(place: float, wobble: list[float] = NEAR) -> list[float | None]:
    """Stops around a place."""
    return [place + one for one in wobble]


def acts(at: tuple[float, float], wobble: list[float] = NEAR, margin: float = 6.0) -> TrialReport:
    """A trial of the values 60 and 120, which the handbook says stop at 60 and 120 cm."""
    stops = {"value 60": around(at[0], wobble), "value 120": around(at[1], wobble)}
    values, wishes = {"value 60": 60, "value 120": 120}, {"value 60": 60.0, "value 120": 120.0}
    question = TrialQuestion.ACTS
    return report_of(made(question, stops, values=values, wishes=wishes, margin=margin))


def test_near_and_missed_stops_are_counted() -> None:
    """A missed stop is a run that was not near enough, and has no figure."""
    stops = around(82.0)
    stops[3] = None
    report = report_of(made(TrialQuestion.STOPS, {"as it is set": stops}))
    assert (report.near, report.missed, report.runs) == (11, 1, 12)
    assert report.answer.outcome is Outcome.NONE
    (one,) = report.conditions
    assert len(one.stops) == 11
    assert one.next_stop is not None
    assert 79 < one.next_stop.low < 82 < one.next_stop.high < 85


@pytest.mark.parametrize(
    ("fast", "outcome"),
    [(82.0, Outcome.SAME), (90.0, Outcome.DIFFERENT), (84.0, Outcome.OPEN)],
)
def test_entry_speed_matters_or_does_not(fast: float, outcome: Outcome) -> None:
    """Yes, no, or not enough runs, by the margin of 2 cm."""
    report = report_of(made(TrialQuestion.SPEED, {"slow": around(82.0), "fast": around(fast)}))
    assert report.answer.outcome is outcome


def test_no_answer_before_the_first_look() -> None:
    """Between looks the answer is that of the last one, and before the first there is none."""
    stops = {"slow": around(82.0), "fast": around(95.0)}
    trial = made(TrialQuestion.SPEED, stops, looks=(6, 12, 18))
    early = report_of(replace(trial, runs=trial.runs[:11])).answer
    assert (early.outcome, early.more) == (Outcome.EARLY, 1)
    assert report_of(replace(trial, runs=trial.runs[:18])).answer.look == 6
    assert report_of(trial).answer.look == 12


def test_a_scatter_beyond_a_tape_is_said_to_be_so() -> None:
    """With a scatter of 20 cm no 64 runs a side show 2 cm."""
    stops = {"slow": around(82.0, WILD), "fast": around(84.0, WILD)}
    assert report_of(made(TrialQuestion.SPEED, stops)).answer.outcome is Outcome.HOPELESS


def test_drift_does_not_pass_for_a_condition() -> None:
    """A loco that wanders by a centimetre a pair of runs stops alike at both speeds."""
    slow: list[float | None] = [82.0 + at + one for at, one in enumerate(NEAR)]
    fast: list[float | None] = [82.5 + at + one for at, one in enumerate(NEAR)]
    answer = report_of(made(TrialQuestion.SPEED, {"slow": slow, "fast": fast})).answer
    assert answer.outcome is Outcome.SAME
    assert answer.drift is not None
    assert 10 < answer.drift.low < answer.drift.high < 13


@pytest.mark.parametrize(
    ("at", "wobble", "verdict"),
    [
        ((60.0, 120.0), NEAR, Verdict.WORKS),
        ((60.0, 62.0), NEAR, Verdict.NO_EFFECT),
        ((60.0, 120.0), WILD, Verdict.UNRELIABLE),
        ((80.0, 150.0), NEAR, Verdict.UNRELIABLE),
        ((60.0, 126.0), NEAR, None),
    ],
)
def test_the_verdict_follows_the_stated_rule(
    at: tuple[float, float], wobble: list[float], verdict: Verdict | None
) -> None:
    """No effect, works, unreliable, or nothing where two of three stops were near."""
    assert judged(acts(at, wobble)).verdict is verdict


def test_no_verdict_without_two_values() -> None:
    """Stops at one value show nothing of the setting."""
    report = report_of(made(TrialQuestion.STOPS, {"as it is set": around(82.0)}))
    held = judged(report)
    assert held.verdict is None
    assert held.obstacle is not None
    assert held.obstacle.word == "one-value"


@pytest.mark.parametrize(
    ("runs", "works", "unreliable"),
    [(7, 8, -1), (8, 8, 3), (11, 11, 3), (12, 11, 6), (20, 17, 12), (40, 34, 24)],
)
def test_the_limits_between_the_rows_are_the_stricter_ones(
    runs: int, works: int, unreliable: int
) -> None:
    """8 of 8, 11 of 12, 17 of 20; 3 of 8, 6 of 12, 12 of 20."""
    assert limit_of(WORKS, runs, from_above=True) == works
    assert limit_of(UNRELIABLE, runs, from_above=False) == unreliable


def test_a_value_between_tested_ones_is_advised() -> None:
    """70 stops at 72, 90 at 92: for 82 set 80. Beyond them three runs have to show it."""
    stops = {"value 70": around(72.0), "value 90": around(92.0)}
    values = {"value 70": 70, "value 90": 90}
    (one,) = advice(report_of(made(TrialQuestion.BETTER, stops, values=values)))
    assert (one.value, one.is_tested) == (80, True)
    wishes = dict.fromkeys(values, 100.0)
    trial = made(TrialQuestion.BETTER, stops, values=values, wishes=wishes)
    (one,) = advice(report_of(trial))
    assert (one.value, one.is_tested) == (98, False)


def test_scatter_that_no_value_mends_is_said_to_be_so() -> None:
    """Stops up to 30 cm to either side of a margin of 6 cm; not those within one."""
    wild, fine = acts((60.0, 120.0), WILD), acts((60.0, 120.0))
    assert all(no_value_mends(wild, one) for one in wild.conditions)
    assert not any(no_value_mends(fine, one) for one in fine.conditions)


def update(days: int, *, old: float = 90.0, new: float = 82.0, control: bool = False) -> BenchTrial:
    """An update over so many days a side, three runs a day; each day has an offset of its own."""
    runs: list[Run] = []
    for day in range(2 * days):
        off = (0.0, 3.0, -2.0, 1.0, -1.0, 2.5)[day]
        names = ["old" if day < days else "new", *(["control"] if control else [])]
        for name in names:
            place = {"old": old, "new": new, "control": 70.0}[name]
            runs += [Run(name, place + off + one, f"2026-06-0{day + 1}") for one in (-1.0, 0, 1.0)]
    conditions = (TrialCondition("old", None, 82.0), TrialCondition("new", None, 82.0))
    if control:
        conditions = (*conditions, TrialCondition("control"))
    about = ("x.y", TrialQuestion.UPDATE, conditions, 2.0, "cm", 1.0, (3,), ("old", "new"))
    return BenchTrial(*about, date="2026-06-01", firmware="1", to="2", runs=tuple(runs))


def test_days_are_the_units_of_an_update() -> None:
    """By hand: day means 90, 93, 88 and 83, 81, 84.5; pooled variance 4.7083; Student, 4 df."""
    answer = report_of(update(3)).answer
    assert answer.days is not None
    assert answer.days.basis is DayBasis.DAYS
    assert answer.days.difference.value == pytest.approx(-7.5)
    assert answer.days.difference.error == pytest.approx((4.708333 * 2 / 3) ** 0.5, rel=1e-5)
    assert answer.days.difference.freedom == 4
    assert answer.outcome is Outcome.DIFFERENT


def test_a_control_takes_the_days_off() -> None:
    """What wanders in both locos is no part of the difference, and its runs are not counted."""
    report = report_of(update(3, control=True))
    assert report.runs == 18
    assert report.answer.days is not None
    assert report.answer.days.has_control
    assert report.answer.difference == pytest.approx(-8.0)
    assert report.answer.days.difference.error == pytest.approx(0.0, abs=1e-9)


def test_one_day_each_never_says_that_a_firmware_is_better() -> None:
    """However far apart the two days are; what days differ by is assumed, or from other days."""
    answer = report_of(update(1, new=20.0)).answer
    assert answer.outcome is Outcome.OPEN
    assert answer.days is not None
    assert answer.days.basis is DayBasis.ASSUMED
    others = report_of(update(1), [update(3)]).answer.days
    assert others is not None
    assert others.basis is DayBasis.OTHER_DAYS
    assert others.difference.error > answer.days.difference.error


def test_locos_are_counted_and_from_five_their_means_have_an_interval() -> None:
    """Two of three work; five give an interval of the means beside the mark."""
    reports = [acts((60.0, 120.0)), acts((60.0, 120.0), WILD), acts((60.0, 120.0))]
    few = counted_locos(list(zip("abc", reports, strict=True)))
    assert (few.locos[Verdict.WORKS], few.judged) == (2, 3)
    twice = counted_locos(list(zip("aba", reports, strict=True)))
    assert (twice.locos[Verdict.WORKS], twice.judged) == (1, 2)
    assert few.offset is None
    five = counted_locos([(str(at), acts((60.0 + at, 120.0 + at))) for at in range(5)])
    assert counted_locos([("a", acts((60.0, 120.0))) for _ in range(5)]).offset is None
    assert five.offset is not None
    assert five.middle == pytest.approx(2.0, abs=0.01)
    assert 2.0 in five.offset


def test_every_block_holds_every_condition_once() -> None:
    """The order is drawn by the seed: the same again by the same, another by another."""
    order = blocks_of(("slow", "middle", "fast"), 12, 5)
    blocks = [order[at : at + 3] for at in range(0, 36, 3)]
    assert all(sorted(block) == ["fast", "middle", "slow"] for block in blocks)
    assert len({tuple(block) for block in blocks}) > 2
    assert order == blocks_of(("slow", "middle", "fast"), 12, 5)
    assert order != blocks_of(("slow", "middle", "fast"), 12, 6)


def test_looks_follow_from_what_is_known() -> None:
    """Three looks where nobody knows the scatter, else one; at least four runs of each."""
    assert looks_for(2, 0, None, 2.0) == (6, 12, 18)
    assert looks_for(2, 0, 2.0, 2.0) == (17,)
    assert looks_for(1, 0, None, 2.0) == (12,)
    assert looks_for(3, 12, None, 2.0) == (4,)
    for sides, total, limit in ((4, 12, None), (2, 13, None), (2, 0, 20.0)):
        with pytest.raises(InputError):
            looks_for(sides, total, limit, 2.0)


def test_near_enough_is_a_tenth_but_two_centimetres_at_least() -> None:
    """The margin where nobody says one."""
    assert usual_margin(82.0, "cm") == pytest.approx(8.2)
    assert usual_margin(10.0, "cm") == 2.0


def test_which_is_nearer_is_told_only_where_the_figures_can() -> None:
    """Of means 4 and 20 beside the mark surely the first; of 5 short and 5 beyond neither."""
    for low, high, nearer in ((86.0, 102.0, "a"), (62.0, 80.0, "b"), (77.0, 87.2, "")):
        trial = made(TrialQuestion.BETTER, {"a": around(low), "b": around(high)})
        report = report_of(trial)
        assert report.answer.outcome is Outcome.DIFFERENT
        assert report.answer.nearer == nearer
        words = " ".join(answer_lines(report))
        assert ("cannot tell which is nearer" in words) is not nearer


def test_the_nearer_one_is_seldom_the_wrong_one() -> None:
    """Means that lie as far short of the mark as beyond it: at most 5 % are told apart."""
    from random import Random

    drawn = Random(4)
    told = 0
    for _ in range(300):
        stops = {
            "a": [drawn.gauss(78.0, 2.0) for _ in range(12)],
            "b": [drawn.gauss(86.0, 2.0) for _ in range(12)],
        }
        told += bool(report_of(made(TrialQuestion.BETTER, stops)).answer.nearer)
    assert told <= 24  # 5 % of 300 and what chance adds, 99 % (binomial)


def test_a_setting_that_acts_the_other_way_is_no_agreement() -> None:
    """60 stops where 120 should, and the other way round."""
    report = acts((120.0, 60.0))
    words = " ".join(answer_lines(report))
    assert "the handbook promises 60 cm farther: it acts the other way round" in words
    assert judged(report).verdict is Verdict.UNRELIABLE
    agrees = acts((60.0, 120.0))
    assert "other way round" not in " ".join(answer_lines(agrees))


def test_a_value_that_was_tested_lies_not_outside() -> None:
    """A line that ends a little short of the wish still advises the value at its end."""
    report = acts((60.0, 119.8))
    assert all(one.is_tested for one in advice(report))


def test_where_all_of_one_value_missed_no_look_is_waited_for() -> None:
    """Twelve of each are made; the obstacle is the lack of figures."""
    values, wishes = {"a": 60, "b": 120}, {"a": 60.0, "b": 120.0}
    stops: dict[str, list[float | None]] = {"a": around(60.0), "b": [None] * 12}
    report = report_of(made(TrialQuestion.ACTS, stops, values=values, wishes=wishes))
    obstacle = judged(report).obstacle
    assert obstacle is not None
    assert obstacle.word == "no-figure"


def test_more_runs_lead_to_a_look_or_to_a_new_trial() -> None:
    """Six made of looks at 6, 12, 18; and with the last look done."""
    stops = {"a": around(82.0, WILD)[:6], "b": around(86.0, WILD)[:6]}
    report = report_of(made(TrialQuestion.SPEED, stops, margin=30.0, looks=(6, 12, 18)))
    assert report.answer.outcome is Outcome.OPEN
    assert 6 + report.answer.more in (12, 18)
    report = report_of(made(TrialQuestion.SPEED, {"a": around(82.0), "b": around(83.5)}))
    assert report.answer.outcome is Outcome.OPEN
    assert report.answer.more == 0
    assert "plan a new trial" in evidence_words(report)


def test_an_update_is_not_answered_before_its_look() -> None:
    """Two days of three on either side."""
    assert report_of(update(2, new=20.0)).answer.outcome is Outcome.OPEN
    assert report_of(update(3, new=20.0)).answer.outcome is Outcome.DIFFERENT


@pytest.mark.parametrize(("runs", "words"), [(12, "1 in 4"), (18, "1 in 6"), (59, "1 in 20")])
def test_what_missed_stops_leave_possible_is_never_too_small(runs: int, words: str) -> None:
    """By the bound 1 - 0.05^(1/n), one-sided, exact (Clopper and Pearson 1934)."""
    report = report_of(made(TrialQuestion.STOPS, {"as it is set": [82.0] * runs}))
    assert f"could still be {words}." in missed_words(report)
    share = 1 - 0.05 ** (1 / runs)
    assert share <= 1 / int(words.rpartition(" ")[2])
