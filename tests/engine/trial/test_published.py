"""The sums against certified and published values; each source stands in the table beside them.

Certified: NIST StRD (univariate, one-way ANOVA, linear regression). Published: tolerance factors,
critical values of Grubbs and Cochran. scipy's own functions besides.
"""

import csv
from math import sqrt
from pathlib import Path

import pytest
from scipy import stats

from cvlib.engine.trial import sums
from cvlib.engine.trial.comparing import ConditionFit, Series, scatter_ratio
from cvlib.engine.trial.planning import power, runs_needed, seen_with

CASES = Path(__file__).parents[2] / "cases/statistics"
SERIES = [2.1, 3.4, 2.8, 3.9, 2.2, 3.1, 4.4, 2.9, 3.3, 3.0]
OTHER = [5.9, 2.1, 7.7, 4.4, 3.2, 6.0, 9.1, 4.8, 5.0, 2.7]


def table(name: str) -> list[dict[str, str]]:
    """The rows of a table of published values."""
    with (CASES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def numbers(name: str) -> list[list[float]]:
    """The rows of figures in a data file; lines that hold anything else are passed over."""
    found: list[list[float]] = []
    for line in (CASES / "nist" / name).read_text(encoding="utf-8").splitlines():
        try:
            row = [float(word) for word in line.split()]
        except ValueError:
            continue
        if row:
            found.append(row)
    return found


@pytest.mark.parametrize("row", table("nist-univariate.csv"), ids=lambda row: row["dataset"])
def test_mean_and_scatter_are_the_certified_ones(row: dict[str, str]) -> None:
    """NIST StRD univariate: mean and standard deviation to nine digits, however ill the data."""
    values = [value for line in numbers(Path(row["data_file"]).name) for value in line]
    assert len(values) == int(row["n_certified"])
    assert sums.mean(values) == pytest.approx(float(row["mean_certified"]), rel=1e-14)
    assert sums.scatter(values) == pytest.approx(float(row["sd_certified"]), rel=1e-8)


@pytest.mark.parametrize("name", ["SiRstv", "AtmWtAg"])
def test_scatter_within_conditions_is_the_certified_one(name: str) -> None:
    """NIST StRD one-way ANOVA: the residual standard deviation, and s_r of ISO 5725 with it."""
    rows = [row for row in numbers(f"{name}.dat") if len(row) == 2]
    kinds = tuple(int(row[0]) - 1 for row in rows)
    fit = ConditionFit(
        Series(kinds, tuple(range(len(rows))), tuple(row[1] for row in rows)), drifts=False
    )
    (certified,) = [
        float(row["published"])
        for row in table("iso5725-worked.csv")
        if row["example"] == f"NIST {name}" and row["quantity"] == "residual standard deviation"
    ]
    assert fit.scatter == pytest.approx(certified, rel=1e-7)
    assert fit.freedom == pytest.approx(len(rows) - fit.kinds)
    means = [sums.mean([row[1] for row in rows if row[0] == at + 1]) for at in range(fit.kinds)]
    assert list(fit.means) == pytest.approx(means)


def test_drift_is_the_certified_slope() -> None:
    """NIST StRD Norris: slope, its standard deviation and the residual one; a drift is a slope."""
    rows = [row for row in numbers("Norris.dat") if len(row) == 2]
    held = {
        row["quantity"]: float(row["certified"])
        for row in table("nist-linear-regression.csv")
        if row["dataset"] == "Norris"
    }
    stops, numbered = zip(*rows, strict=True)
    fit = ConditionFit(Series((0,) * len(rows), numbered, stops))  # type: ignore[arg-type]
    drift = fit.drift()
    assert drift is not None
    middle = sums.mean(numbered)
    across = 2 * max(abs(number - middle) for number in numbered)
    assert drift.value / across == pytest.approx(held["B1"], rel=1e-12)
    assert drift.error / across == pytest.approx(held["sd(B1)"], rel=1e-10)
    assert fit.scatter == pytest.approx(held["residual sd"], rel=1e-10)


@pytest.mark.parametrize(
    "row", table("tolerance-factors-95-95-two-sided.csv"), ids=lambda row: f"n={row['n']}"
)
def test_tolerance_factor_is_the_exact_one(row: dict[str, str]) -> None:
    """Meeker, Hahn and Escobar table J.5b (printed to 3 places) and ISO 16269-6 table F.5."""
    if not row["n"].isdecimal():
        pytest.skip("without end")
    made = sums.tolerance_factor(int(row["n"]))
    if row["published_MHE_J5b"]:
        assert made == pytest.approx(float(row["published_MHE_J5b"]), abs=6e-4)
    if row["k_exact_computed"]:
        assert made == pytest.approx(float(row["k_exact_computed"]), rel=1e-5)


@pytest.mark.parametrize(
    "row",
    [row for row in table("grubbs-critical.csv") if row["sided"] == "two-sided"],
    ids=lambda row: f"{row['n']}-{row['level']}",
)
def test_limit_of_grubbs_is_the_published_one(row: dict[str, str]) -> None:
    """LibreTexts, critical values for Grubbs' test; two of its values are print errors."""
    made = sums.grubbs_limit(int(row["n"]), 1 - float(row["level"]))
    assert made == pytest.approx(float(row["computed"]), abs=1e-5)
    if row["published"] and "DIFFERS" not in row["comparison"]:
        assert made == pytest.approx(float(row["published"]), abs=1.1e-3)


def test_mean_interval_is_that_of_scipy() -> None:
    """Student's interval of a mean, against scipy.stats."""
    made = sums.mean_interval(SERIES, 0.0)
    held = stats.ttest_1samp(SERIES, 0).confidence_interval(0.95)
    assert tuple(made) == pytest.approx((held.low, held.high))


@pytest.mark.parametrize(("hits", "runs"), [(1, 12), (5, 12), (11, 12)])
def test_share_interval_is_the_exact_one_of_scipy(hits: int, runs: int) -> None:
    """Clopper and Pearson, against scipy.stats."""
    held = stats.binomtest(hits, runs).proportion_ci(0.95, method="exact")
    assert tuple(sums.share_interval(hits, runs)) == pytest.approx((held.low, held.high))


def test_none_of_twelve_could_still_be_one_in_five() -> None:
    """1 - 0.05 ** (1/12), by hand: 0.221."""
    assert sums.share_interval(0, 12).high == pytest.approx(1 - 0.05 ** (1 / 12))
    assert sums.share_interval(12, 12).low == pytest.approx(0.05 ** (1 / 12))


def test_true_scatter_of_six_runs_is_0_6_to_2_5_times_that_seen() -> None:
    """The chi-square interval, against scipy.stats."""
    made = sums.scatter_factors(5)
    assert (round(made.low, 1), round(made.high, 1)) == (0.6, 2.5)
    assert made.low == pytest.approx(sqrt(5 / stats.chi2.ppf(0.975, 5)))
    assert sums.scatter_limit(2.0, 5) == pytest.approx(2 * sqrt(5 / stats.chi2.ppf(0.2, 5)))


def test_difference_of_two_conditions_is_that_of_welch() -> None:
    """Without drift the interval of a difference is Welch's, against scipy.stats."""
    stops = (*SERIES, *OTHER)
    kinds = (0,) * len(SERIES) + (1,) * len(OTHER)
    fit = ConditionFit(Series(kinds, tuple(range(20)), stops), drifts=False)
    made = fit.difference(0, 1)
    held = stats.ttest_ind(OTHER, SERIES, equal_var=False)
    assert made.freedom == pytest.approx(held.df)
    span = held.confidence_interval(0.95)
    assert tuple(made.interval(0.95, 0.0)) == pytest.approx((span.low, span.high))


def test_runs_needed_are_those_of_the_power_of_the_t_test() -> None:
    """To see 2 cm four times in five: scatter 1 cm 6, 2 cm 17, 4 cm 64 a side.

    17 and 64 for effects of 1 and 0.5 scatters are the figures of the common power tables (Cohen
    1988, table 2.4.1; from memory).
    """
    assert [runs_needed(scatter, 2) for scatter in (1, 2, 4, 40)] == [6, 17, 64, 0]
    limit = stats.t.ppf(0.975, 32)
    shift = 1 / sqrt(2 / 17)
    own = stats.nct.sf(limit, 32, shift) + stats.nct.cdf(-limit, 32, shift)
    assert power(17, 2, 2) == pytest.approx(own)
    assert power(18, 1.5, seen_with(18, 1.5)) == pytest.approx(0.8)


def test_ratio_of_scatters_nears_the_f_interval_for_normal_runs() -> None:
    """Bonett's interval of many runs of a normal distribution is close to that of F."""
    quantiles = [float(stats.norm.ppf((at + 0.5) / 400)) for at in range(400)]
    made = scatter_ratio(quantiles, [one + 5 for one in quantiles], 0.0)
    assert made is not None
    wide = sqrt(stats.f.ppf(0.975, 399, 399))
    assert made.low == pytest.approx(1 / wide, rel=0.01)
    assert made.high == pytest.approx(wide, rel=0.01)


def test_ratio_of_scatters_takes_six_a_side() -> None:
    """Below six, and where the tape is too coarse, nothing is said of it."""
    assert scatter_ratio(SERIES[:5], OTHER, 0.1) is None
    assert scatter_ratio(SERIES, OTHER, 5.0) is None
    held = scatter_ratio(SERIES, OTHER, 0.1)
    assert held is not None
    other = scatter_ratio(OTHER, SERIES, 0.1)
    assert other is not None
    assert (other.low, other.high) == pytest.approx((1 / held.high, 1 / held.low))


def test_repeatability_limit_has_the_t_factor() -> None:
    """ISO 5725: 2.8 scatters for many runs (BRE Formulae page), more for ten."""
    many = [float(stats.norm.ppf((at + 0.5) / 5000)) for at in range(5000)]
    assert sums.repeatability_limit(many) == pytest.approx(2.77, abs=0.01)
    ten = sums.repeatability_limit(SERIES) / sums.scatter(SERIES)
    assert ten == pytest.approx(stats.t.ppf(0.975, 9) * sqrt(2))


def test_no_interval_is_finer_than_the_tape() -> None:
    """Half a step to either side is the least, and a step for a difference of two means."""
    same = [80.0] * 6
    assert tuple(sums.mean_interval(same, 1.0)) == (79.5, 80.5)
    assert tuple(sums.next_reading(same, 1.0)) == (79.5, 80.5)
    fit = ConditionFit(Series((0, 1) * 6, tuple(range(12)), (80.0,) * 12))
    assert tuple(fit.difference(0, 1).interval(0.95, 1.0)) == pytest.approx((-1.0, 1.0))


def test_a_reading_far_out_is_asked_about() -> None:
    """815 among stops at 81 is taken for a point left out; an even series is not."""
    assert sums.typing_error([81.0, 80.5, 81.5, 80.0, 815.0, 82.0]) == 4
    assert sums.typing_error([81.0, 80.5, 81.5, 80.0, 82.0]) is None
    assert sums.typing_error([81.0] * 8) is None
