"""Checks worked out together are found by the values they were made of, and only by those."""

from __future__ import annotations

import numpy as np
import pytest

from reportgen.acceptance.approaches import Claim, moments_of, reliability_shown
from reportgen.acceptance.foreseen import Foreseen, InOrder, foresee
from reportgen.project.records import Approach
from reportgen.stats import anderson_darling, maximum_normed_residual, shapiro_wilk, von_neumann_ratio

RNG = np.random.default_rng(7)
ORDERED, LOOKED_AT, OTHER = RNG.normal(size=20), RNG.normal(10, 1, 20), RNG.normal(10, 1, 20)


def claim(*, lower: float | None = None, upper: float | None = None) -> Claim:
    return Claim(confidence=0.95, reliability=0.99, lower=lower, upper=upper)


def test_what_was_foreseen_and_what_was_not_get_the_answers_of_their_own_values() -> None:
    foreseen = foresee([InOrder(ORDERED, (20,))], [LOOKED_AT], [0.05], [LOOKED_AT], [])
    assert len(foreseen.orders) == len(foreseen.andersons) == len(foreseen.outliers) == 1
    for values in (ORDERED, LOOKED_AT, OTHER):
        in_order = InOrder(values, (values.size,))
        assert foreseen.von_neumann_ratio(in_order) == von_neumann_ratio(values)
        assert foreseen.anderson_darling(values) == anderson_darling(values)
        assert foreseen.shapiro_wilk(values) == shapiro_wilk(values)
        assert foreseen.moments(values) == moments_of(values)
        for alpha in (0.05, 0.01):
            assert foreseen.maximum_normed_residual(values, alpha=alpha) == maximum_normed_residual(values, alpha=alpha)


def test_samples_that_no_check_holds_are_left_for_their_turn() -> None:
    alike, short = np.full(9, 3.0), np.array([1.0, 2.0])
    foreseen = foresee(
        [InOrder(alike, (9,)), InOrder(short, (2,)), InOrder(ORDERED[:8], (2,) * 4)],
        [alike, short],
        [0.05, 0.05],
        [alike, short, np.array([1.0])],
        [(alike, claim(lower=1.0)), (OTHER, claim(lower=1.0)), (short, claim(lower=0.0, upper=9.0))],
    )
    # no spread, no moments worked out beforehand, two limits
    assert foreseen.reliabilities == {}
    assert foreseen.orders == foreseen.andersons == foreseen.shapiros == foreseen.outliers == {}
    assert foreseen.moments(alike).sd == 0.0
    assert foreseen.moments(short) == moments_of(short)
    assert Foreseen().moments(np.array([1.0])).sd is None


def test_reliabilities_foreseen_are_those_found_one_by_one() -> None:
    claims = [claim(lower=6.0), claim(upper=12.0), claim(lower=11.0), claim(lower=-1e6), claim(upper=-1e6)]
    foreseen = foresee([], [], [], [LOOKED_AT], [(LOOKED_AT, one) for one in claims])
    moments = foreseen.moments(LOOKED_AT)
    assert len(foreseen.reliabilities) == len(claims)
    for one in claims:
        shown = reliability_shown(Approach.NORMAL, (LOOKED_AT,), between_lots=False, claim=one)
        assert foreseen.reliabilities[moments, one] == pytest.approx(shown, rel=1e-13, abs=1e-300)
