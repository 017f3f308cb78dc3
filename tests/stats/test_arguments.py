"""What each settling function lets through, and the words in which it refuses the rest."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from reportgen.stats.arguments import (
    settle_count,
    settle_counts,
    settle_fraction,
    settle_fractions,
    settle_groups,
    settle_number,
    settle_positive,
    settle_sample,
    settle_side,
)


def test_sample_becomes_a_float_copy():
    given = np.array([3, 1, 2])
    settled = settle_sample(given)
    settled[0] = 99.0
    assert settled.dtype == np.float64
    assert given[0] == 3


@pytest.mark.parametrize(
    ("values", "message"),
    [
        pytest.param([1.0], r"^values must hold at least 2 numbers; got 1$", id="too-few"),
        pytest.param([], r"^values must hold at least 2 numbers; got 0$", id="empty"),
        pytest.param(3.0, r"^values must be one-dimensional, .* got shape \(\)$", id="scalar"),
        pytest.param([[1.0, 2.0], [3.0, 4.0]], r"one-dimensional, .* got shape \(2, 2\)$", id="table"),
        pytest.param([[1.0, 2.0], [3.0]], r"^values must be numbers in a regular array", id="ragged"),
        pytest.param([1.0, float("nan")], r"^values must be finite; got nan$", id="nan"),
        pytest.param([1.0, float("-inf")], r"^values must be finite; got -inf$", id="infinite"),
        pytest.param([1.0, "12,4"], r"^values must be numbers; got '12,4'$", id="text"),
        pytest.param([True, False], r"^values must be numbers; got True$", id="booleans"),
        pytest.param([1.0, None], r"^values must be numbers; got None$", id="missing"),
        pytest.param([1.0, 1j], r"^values must be numbers; got 1j$", id="complex"),
        pytest.param([10**30], r"^values must be numbers; got 10{30}$", id="beyond-float-integers"),
    ],
)
def test_sample_refuses(values, message):
    with pytest.raises(ValueError, match=message):
        settle_sample(values)


def test_sample_of_the_minimum_size_passes():
    assert_array_equal(settle_sample([1, 2, 3], minimum=3), [1.0, 2.0, 3.0])


def test_groups_name_the_lot_at_fault():
    with pytest.raises(ValueError, match=r"^groups\[1\] must hold at least 2 numbers; got 1$"):
        settle_groups([[1.0, 2.0], [3.0]], minimum=2)
    with pytest.raises(ValueError, match=r"^groups must hold at least 2 lots; got 1$"):
        settle_groups([[1.0, 2.0]])


def test_groups_of_unequal_size_pass():
    first, second = settle_groups([[1, 2, 3], [4]])
    assert_array_equal(first, [1.0, 2.0, 3.0])
    assert_array_equal(second, [4.0])


@pytest.mark.parametrize("value", [0.0, 1.0, -0.1, 1.5])
def test_fraction_refuses_what_is_not_strictly_inside(value):
    with pytest.raises(ValueError, match=r"^confidence must be a fraction strictly between 0 and 1; got "):
        settle_fraction("confidence", value)
    with pytest.raises(ValueError, match=r"^confidence must be a fraction strictly between 0 and 1; got "):
        settle_fractions("confidence", [0.5, value])


def test_fraction_recognises_a_percentage():
    with pytest.raises(ValueError, match=r"got 95 \(a percentage\? write 0.95\)$"):
        settle_fraction("confidence", 95)
    with pytest.raises(ValueError, match=r"got 99.9 \(a percentage\? write 0.999\)$"):
        settle_fractions("coverage", [0.9, 99.9])


@pytest.mark.parametrize("value", [100.0, 1.0])
def test_no_percentage_is_suggested_where_it_would_be_no_fraction_or_no_percentage(value):
    with pytest.raises(ValueError, match=r"got (100.0|1.0)$"):
        settle_fraction("confidence", value)


def test_fractions_keep_their_shape():
    assert_array_equal(settle_fractions("coverage", [[0.5], [0.9]]), [[0.5], [0.9]])


@pytest.mark.parametrize("value", [1, 2.5, -3])
def test_count_refuses(value):
    with pytest.raises(ValueError, match=rf"^n must be a whole number of at least 2; got {value}$"):
        settle_count("n", value, minimum=2)


def test_count_refuses_above_its_maximum_and_names_the_span():
    assert settle_count("failures", 5, minimum=0, maximum=5) == 5
    with pytest.raises(ValueError, match=r"^failures must be a whole number from 0 to 5; got 6$"):
        settle_count("failures", 6, minimum=0, maximum=5)


def test_count_gives_an_int_for_a_whole_float():
    settled = settle_count("n", 12.0, minimum=2)
    assert settled == 12
    assert isinstance(settled, int)


@pytest.mark.parametrize("value", [1, 2.5])
def test_counts_refuse(value):
    with pytest.raises(ValueError, match=rf"^n must be a whole number of at least 2; got {float(value)}$"):
        settle_counts("n", [2, 10, value], minimum=2)


def test_counts_let_the_minimum_pass():
    assert_array_equal(settle_counts("n", [2, 10], minimum=2), [2.0, 10.0])


def test_side_refuses_what_it_does_not_know():
    assert settle_side("both") == "both"
    with pytest.raises(ValueError, match=r"^side must be one of 'lower', 'upper', 'both'; got 'two_sided'$"):
        settle_side("two_sided")
    with pytest.raises(ValueError, match=r"^side must be one of 'lower', 'upper'; got 'both'$"):
        settle_side("both", allowed=("lower", "upper"))


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_positive_refuses(value):
    with pytest.raises(ValueError, match=rf"^sd must be above 0; got {value}$"):
        settle_positive("sd", value)


def test_number_refuses_an_array():
    with pytest.raises(ValueError, match=r"^mean must be a single number; got an array of shape \(2,\)$"):
        settle_number("mean", [1.0, 2.0])


def test_number_lets_zero_dimensional_numbers_pass():
    assert settle_number("mean", np.float32(0.5)) == 0.5
