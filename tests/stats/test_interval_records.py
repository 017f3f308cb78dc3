"""Every interval repeats the question and the sample it answers, and says in words how it was computed."""

from __future__ import annotations

import statistics

import pytest

from reportgen.stats import (
    between_lot_interval,
    box_cox_interval,
    common_sd_intervals,
    lognormal_interval,
    normal_interval,
    order_statistic_interval,
    weibull_interval,
)

VALUES = [12.1, 9.4, 15.2, 11.8, 10.9, 13.3, 14.1, 12.6, 8.8, 11.1, 12.9, 13.8, 10.2, 11.6, 12.3, 9.9, 14.6, 13.1]
LOTS = [VALUES[:6], VALUES[6:10], VALUES[10:]]
BOX_COX = "Box-Cox, normal factor on transformed values, approximate (the estimated power is taken as known)"
LOGNORMAL = "lognormal, exact normal factor on natural logarithms"
NORMAL = "normal, exact one-sided factor (noncentral t)"
ORDER = "order statistics, distribution-free, exact"
RANDOM_MODEL = "one-way random model, generalized confidence limit, approximate"
METHODS = {
    (normal_interval, "lower"): NORMAL,
    (normal_interval, "upper"): NORMAL,
    (normal_interval, "both"): "normal, exact two-sided factor",
    (lognormal_interval, "lower"): LOGNORMAL,
    (lognormal_interval, "upper"): LOGNORMAL,
    (lognormal_interval, "both"): LOGNORMAL,
    (box_cox_interval, "lower"): BOX_COX,
    (box_cox_interval, "upper"): BOX_COX,
    (box_cox_interval, "both"): BOX_COX,
    (weibull_interval, "lower"): "Weibull, exact conditional (Lawless)",
    (weibull_interval, "upper"): "Weibull, exact conditional (Lawless)",
    (weibull_interval, "both"): "Weibull, two exact conditional bounds joined, conservative",
    (order_statistic_interval, "lower"): ORDER,
    (order_statistic_interval, "upper"): ORDER,
    (order_statistic_interval, "both"): ORDER,
    (between_lot_interval, "lower"): RANDOM_MODEL,
    (between_lot_interval, "upper"): RANDOM_MODEL,
    (between_lot_interval, "both"): "one-way random model, two generalized confidence limits joined, conservative",
}


@pytest.mark.parametrize(
    ("function", "side"), [pytest.param(*key, id=f"{key[0].__name__}-{key[1]}") for key in METHODS]
)
def test_interval_repeats_its_question(function, side):
    interval = function(LOTS if function is between_lot_interval else VALUES, confidence=0.8, coverage=0.75, side=side)
    assert (interval.n, interval.confidence, interval.coverage, interval.side) == (18, 0.8, 0.75, side)
    assert interval.method == METHODS[function, side]
    assert (interval.lower is None, interval.upper is None) == (side == "upper", side == "lower")
    for bound in (interval.lower, interval.upper):
        assert bound is None or type(bound) is float
    if function is not between_lot_interval:
        assert interval.mean == pytest.approx(statistics.mean(VALUES), rel=1e-14)
        assert interval.sd == pytest.approx(statistics.stdev(VALUES), rel=1e-14)
    assert all(type(value) is float for _, value in interval.parameters)
    assert (interval.achieved_confidence is None) == (function is not order_statistic_interval)


@pytest.mark.parametrize("side", ["lower", "upper", "both"])
def test_intervals_of_lots_with_a_common_sd_repeat_their_question(side):
    intervals = common_sd_intervals(LOTS, confidence=0.8, coverage=0.75, side=side)
    assert [interval.n for interval in intervals] == [6, 4, 8]
    for interval, lot in zip(intervals, LOTS, strict=True):
        assert (interval.confidence, interval.coverage, interval.side) == (0.8, 0.75, side)
        assert interval.method == "normal with a standard deviation common to the lots, exact factor"
        assert interval.mean == pytest.approx(statistics.mean(lot), rel=1e-14)
        assert (interval.lower is None, interval.upper is None) == (side == "upper", side == "lower")


def test_one_degree_of_freedom_is_enough_for_a_common_sd():
    first, second = common_sd_intervals([[1.0, 2.0], [3.0]], confidence=0.8, coverage=0.75, side="lower")
    assert first.sd == second.sd == pytest.approx(statistics.stdev([1.0, 2.0]), rel=1e-15)
