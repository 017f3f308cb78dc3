"""Many samples at once: each gets, to the last bit, what it gets alone."""

from __future__ import annotations

import numpy as np
import pytest

from reportgen.stats import (
    anderson_darling,
    anderson_darlings,
    maximum_normed_residual,
    maximum_normed_residuals,
    shapiro_wilk,
    shapiro_wilks,
    von_neumann_ratio,
    von_neumann_ratios,
)
from reportgen.stats.rows import in_rows


def samples() -> list[np.ndarray]:
    """Sizes in disorder, some of them often enough for more than one matrix."""
    rng = np.random.default_rng(20)
    sizes = [10, 4, 30, 10, 3000, 7, 30, 11, 12, *[200] * 400, 5]
    return [rng.normal(50, 3, size) for size in sizes]


@pytest.mark.parametrize(
    ("many", "one"),
    [
        (anderson_darlings, anderson_darling),
        (shapiro_wilks, shapiro_wilk),
        (von_neumann_ratios, von_neumann_ratio),
        (
            lambda values: maximum_normed_residuals(values, alpha=0.05),
            lambda values: maximum_normed_residual(values, alpha=0.05),
        ),
    ],
)
def test_each_sample_gets_what_it_gets_alone(many, one):
    given = samples()
    assert many(given) == tuple(one(values) for values in given)
    assert many([]) == ()


@pytest.mark.parametrize("many", [anderson_darlings, shapiro_wilks, von_neumann_ratios])
def test_one_sample_that_cannot_be_checked_is_refused(many):
    with pytest.raises(ValueError, match=r"all 5 are 2\.0"):
        many([np.arange(5.0), np.full(5, 2.0)])


def test_rows_come_back_in_the_order_given():
    given = samples()
    assert in_rows(given, lambda rows: rows[:, 0]) == [(values[0], values.size) for values in given]
