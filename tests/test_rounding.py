"""The only rounding for print, held to published rounding examples and to its promise about verdicts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen import rounding as numbers


@pytest.mark.parametrize(
    ("value", "decimals", "printed"),
    [
        # ISO 80000-1, annex B, rule A (a value midway goes to the even neighbour): 12.25 -> 12.2, 12.35 -> 12.4 at a
        # rounding range of 0.1; 1225 and 1235 the same at 10. Cited from memory: check against the licensed copy.
        (12.223, 1, "12.2"),
        (12.251, 1, "12.3"),
        (12.275, 1, "12.3"),
        (12.25, 1, "12.2"),
        (12.35, 1, "12.4"),
    ],
)
def test_nearest_iso_80000_1_annex_b_examples(value: float, decimals: int, printed: str) -> None:
    assert numbers.nearest(value, decimals) == printed


def test_nearest_rounds_the_decimal_that_was_written_and_not_its_binary_neighbour() -> None:
    # 2.675 is stored as 2.67499999999999982236431605997495353221893310546875
    assert numbers.nearest(2.675, 2) == "2.68"
    assert numbers.nearest(1.005, 2) == "1.00"  # midway, to even


def test_a_difference_that_is_midway_is_rounded_as_midway_whatever_binary_arithmetic_leaves() -> None:
    # ASTM E29 (cited from memory): from midway to the even digit; 6.6 - 0.1825 is stored as 6.4174999999999995
    assert repr(6.6 - 0.1825) != "6.4175"
    assert numbers.nearest(6.6 - 0.1825, 3) == numbers.nearest(6.4175, 3) == "6.418"
    assert numbers.nearest(6.41749999, 3) == "6.417"  # not midway


def test_zero_never_carries_a_sign_and_negatives_carry_a_real_minus() -> None:
    assert numbers.nearest(-0.0004, 2) == "0.00"
    assert numbers.nearest(-1.25, 1) == "−1.2"
    assert numbers.parsed("−1.2") == -Fraction(12, 10)


def test_a_bound_goes_to_the_side_that_claims_less() -> None:
    assert numbers.bound(14.8779, 3, side="lower", limit=10.0) == "14.877"
    assert numbers.bound(14.8771, 3, side="upper", limit=20.0) == "14.878"
    assert numbers.bound(12.3, 2, side="lower", limit=None) == "12.30"


def test_noise_of_a_subtraction_does_not_cost_a_unit_of_the_last_place() -> None:
    assert 12.3 - 10 != 2.3
    assert numbers.towards(12.3 - 10.0, 1, "down") == "2.3"
    assert numbers.towards(0.3 - 0.1, 1, "down") == "0.2"  # stored as 0.19999999999999998


def test_a_bound_that_just_misses_prints_below_its_limit_with_as_many_decimals_as_it_takes() -> None:
    assert numbers.bound(9.99999999999, 2, side="lower", limit=10.0) == "9.99999999999"
    assert numbers.reading(9.9996, 2, lower=10.0) == "9.9996"
    assert numbers.reading(10.0004, 2, upper=10.0) == "10.0004"


@given(
    value=st.floats(-1e6, 1e6).map(lambda x: x + 0.0),
    limit=st.decimals(-10_000, 10_000, places=2).map(float),
    decimals=st.integers(0, 5),
    side=st.sampled_from(["lower", "upper"]),
)
def test_print_and_verdict_never_disagree(value: float, limit: float, decimals: int, side: str) -> None:
    text = numbers.bound(value, decimals, side=side, limit=limit)  # type: ignore[arg-type]
    shown, exact_limit = float(numbers.parsed(text)), limit
    if side == "lower":
        assert (shown >= exact_limit) == (value >= limit)
    else:
        assert (shown <= exact_limit) == (value <= limit)


@pytest.mark.parametrize(
    ("fraction", "required", "printed"),
    [
        (0.99996128, 0.95, "99.9961 %"),
        (0.99731, 0.99, "99.73 %"),
        (0.95, 0.95, "95.0 %"),
        (0.949999, 0.95, "94.9 %"),
        (0.995553, 0.99555, "99.555 %"),
        (0.62, 0.9, "62.0 %"),
        (1.0, 0.99, "> 99.9999 %"),
        (0.0, 0.9, "0 %"),
    ],
)
def test_demonstrated_reliability_is_rounded_down_to_two_digits_of_what_is_missing(
    fraction: float, required: float, printed: str
) -> None:
    assert numbers.demonstrated(fraction, required=required) == printed


@pytest.mark.parametrize(
    ("value", "alpha", "printed"),
    [
        (0.97412, None, "0.974"),
        (0.0004, 0.05, "< 0.001"),
        (0.0, None, "< 0.001"),
        (0.9994, None, "0.999"),
        (0.9996, None, "> 0.999"),
        (1.0, 0.05, "> 0.999"),
        (0.04996, 0.05, "0.04996"),
        (0.05004, 0.05, "0.050"),
    ],
)
def test_p_values(value: float, alpha: float | None, printed: str) -> None:
    assert numbers.p_value(value, alpha=alpha) == printed


def test_limits_percentages_and_plain_numbers_lose_nothing() -> None:
    assert numbers.limit(10.0, 1) == "10.0"
    assert numbers.limit(0.125, 1) == "0.125"
    assert numbers.percent(0.999) == "99.9 %"
    assert numbers.percent(0.95) == "95 %"
    assert numbers.plain(100.0) == "100"
    assert numbers.plain(1e-7) == "0.0000001"
    assert numbers.significant(0.00012345) == "0.0001234"
    assert numbers.factor(2.9110) == "2.911"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        numbers.nearest(value, 2)
