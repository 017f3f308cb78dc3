"""The guarded root search."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats.roots import root_between, root_from, root_of_nearly_straight, roots_of_nearly_straight


@given(st.floats(-50.0, 50.0), st.floats(-60.0, 60.0), st.sampled_from([1.0, -1.0]))
def test_root_of_a_monotone_function_is_found_from_any_side(root, start, direction):
    def function(x):
        return direction * (math.atan(x - root) + 0.1 * (x - root))

    assert root_from(function, start, step=0.25) == pytest.approx(root, rel=1e-13, abs=1e-13)


def test_root_at_the_start_or_an_end_is_returned():
    assert root_from(lambda x: x - 2.0, 2.0, step=1.0) == 2.0
    assert root_between(lambda x: x - 2.0, 2.0, 3.0) == 2.0
    assert root_between(lambda x: x - 3.0, 2.0, 3.0) == 3.0


def test_ends_may_come_in_either_order():
    assert root_between(math.sin, 4.0, 2.0) == pytest.approx(math.pi, rel=1e-15)


def test_steep_and_flat_functions_reach_rounding_error():
    assert root_between(lambda x: math.exp(60 * x) - 2.0, -1.0, 2.0) == pytest.approx(math.log(2) / 60, rel=1e-14)
    assert root_between(lambda x: (x - 1.0) ** 3, -3.0, 4.0) == pytest.approx(1.0, rel=1e-5)


def test_no_change_of_sign_is_an_error_and_not_a_number():
    with pytest.raises(ArithmeticError, match=r"^no change of sign between 1.0 \(1.0\) and 2.0 \(4.0\)$"):
        root_between(lambda x: x * x, 1.0, 2.0)
    with pytest.raises(ArithmeticError, match=r"^no root was met walking from 0.0: stopped at "):
        root_from(lambda x: 1.0 + math.exp(min(x, 700.0)), 0.0, step=1.0)


def test_secants_reach_rounding_error_or_say_that_they_do_not():
    assert root_of_nearly_straight(lambda x: x + 0.01 * x * x - 1.0, 0.9, step=0.01) == pytest.approx(
        (math.sqrt(1.04) - 1) / 0.02, rel=1e-15
    )
    assert root_of_nearly_straight(lambda x: x - 0.91, 0.9, step=0.01) == pytest.approx(0.91, rel=1e-15)
    assert root_of_nearly_straight(lambda _: 1.0, 0.0, step=0.01) is None
    assert root_of_nearly_straight(lambda x: x - 50.0, 0.0, step=0.01) is None
    assert root_of_nearly_straight(lambda _: math.nan, 0.0, step=0.01) is None


def test_secants_of_many_equations_settle_each_by_itself():
    bend = np.array([0.01, 0.0, 0.0, 0.0, np.nan])
    shift = np.array([1.0, 0.91, 50.0, 1.0, 1.0])
    slope = np.array([1.0, 1.0, 1.0, 0.0, 1.0])
    asked = []

    def left_side(x, at):
        asked.append(at.size)
        return slope[at] * x + bend[at] * x * x - shift[at]

    roots = roots_of_nearly_straight(left_side, np.array([0.9, 0.9, 0.0, 0.0, 0.0]), step=0.01)
    assert roots[:2] == pytest.approx([(math.sqrt(1.04) - 1) / 0.02, 0.91], rel=1e-15)
    assert np.isnan(roots[2:]).all()
    assert asked[:2] == [5, 5]
    assert max(asked[2:], default=0) <= 2
    assert roots_of_nearly_straight(left_side, np.array([]), step=0.01).size == 0
