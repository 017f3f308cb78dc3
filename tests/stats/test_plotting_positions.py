"""Median ranks and probability plots, held to printed ranks."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from scipy.stats import norm

from reportgen.stats.plotting_positions import median_ranks, normal_plot, weibull_plot

# Median ranks in per cent for n = 10 as printed in reliability handbooks (from memory; common practice, no source):
# they are the medians of the beta distribution, so that any table of it gives them.
PRINTED_N_10 = (6.70, 16.23, 25.86, 35.51, 45.17, 54.83, 64.49, 74.14, 83.77, 93.30)


def test_median_ranks_printed_for_n_10() -> None:
    for rank, printed in zip(median_ranks(10), PRINTED_N_10, strict=True):
        assert 100 * rank == pytest.approx(printed, abs=0.005)


def test_median_ranks_first_and_last_in_closed_form() -> None:
    # the first of n uniform values lies below x with probability 1 - (1 - x)^n
    for n in (1, 2, 7, 40):
        ranks = median_ranks(n)
        assert ranks[0] == pytest.approx(1 - 0.5 ** (1 / n), rel=1e-12)
        assert ranks[-1] == pytest.approx(0.5 ** (1 / n), rel=1e-12)


def test_the_band_of_the_smallest_value_in_closed_form() -> None:
    plot = normal_plot([1.0, 2.0, 4.0], confidence=0.90)
    low = 1 - 0.95 ** (1 / 3)
    assert plot.band_lower[0] == pytest.approx(plot.mean + plot.sd * norm.ppf(low), rel=1e-12)
    assert plot.ordered == (1.0, 2.0, 4.0)
    assert plot.quantiles[1] == pytest.approx(0.0, abs=1e-12)


def test_what_cannot_be_plotted_is_refused() -> None:
    with pytest.raises(ValueError, match="equal"):
        normal_plot([2.0, 2.0, 2.0], confidence=0.95)
    with pytest.raises(ValueError, match="confidence"):
        normal_plot([1.0, 2.0, 3.0], confidence=95)


def test_weibull_plot_of_weibull_quantiles_lies_on_its_line() -> None:
    # scipy's own quantile function at the median ranks: the points of a perfect Weibull sample
    ranks = np.array(median_ranks(12))
    plot = weibull_plot(scipy.stats.weibull_min(2.5, scale=40.0).ppf(ranks), confidence=0.95)
    assert plot.ordered == pytest.approx([math.log(40.0) + w / 2.5 for w in plot.quantiles])
    assert all(
        low < value < high for low, value, high in zip(plot.band_lower, plot.ordered, plot.band_upper, strict=True)
    )


def test_weibull_plot_fits_as_scipy_does() -> None:
    values = scipy.stats.weibull_min(1.8, scale=7.0).rvs(40, random_state=7)
    shape, _, scale = scipy.stats.weibull_min.fit(values, floc=0)
    plot = weibull_plot(values, confidence=0.90)
    assert (plot.shape, plot.scale) == (pytest.approx(shape, rel=1e-4), pytest.approx(scale, rel=1e-4))
    # the middle 90 % of the smallest of 40: of uniform values, by its closed form 1 - (1 - p)^40
    for band, tail in ((plot.band_lower, 0.05), (plot.band_upper, 0.95)):
        share = 1 - (1 - tail) ** (1 / 40)
        assert band[0] == pytest.approx(math.log(plot.scale) + math.log(-math.log1p(-share)) / plot.shape)


def test_weibull_plot_refuses_what_has_no_logarithm() -> None:
    with pytest.raises(ValueError, match="above 0"):
        weibull_plot([0.0, 1.0, 2.0], confidence=0.95)
