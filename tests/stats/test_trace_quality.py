"""Properties of a trace: exact values on traces drawn by hand, and invariances."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats import (
    backward_travel,
    baseline_offset,
    flat_top,
    points_near_peak,
    pull_rate,
    pull_shape,
    slack,
    step_at_peak,
    stiffness,
    toe_correction,
    work_to,
)

MM = np.arange(0.0, 5.01, 0.1)  # 51 points


def ramp_after_slack(slack_mm: float = 1.0, n_per_mm: float = 4.0) -> np.ndarray:
    return np.maximum(MM - slack_mm, 0.0) * n_per_mm


def test_baseline_is_the_median_of_the_first_span():
    force = ramp_after_slack() + 0.7
    force[3] = 25.0  # an early spike does not move the median
    baseline = baseline_offset(MM, force, span_mm=0.85)
    assert (baseline.offset_n, baseline.n_points) == (0.7, 9)
    assert baseline.noise_n == pytest.approx((25.0 - 0.7) / 3)  # one of nine off by a: sd is a / sqrt(9)


def test_baseline_of_one_point_has_no_noise_and_of_a_long_span_all_points():
    assert baseline_offset(MM, ramp_after_slack() + 2, span_mm=0.01) == baseline_offset(
        MM[:2] + 7, np.array([2.0, 9.0]), span_mm=0.05
    )
    assert baseline_offset(MM, ramp_after_slack(), span_mm=0.01).noise_n == 0.0
    assert baseline_offset(MM, ramp_after_slack(), span_mm=99.0).n_points == 51


def test_slack_is_interpolated_to_the_toe_force():
    # 4 N/mm from 1 mm on: 0.5 N are reached at 1.125 mm, between the points at 1.1 and 1.2 mm.
    assert slack(MM, ramp_after_slack(), toe_force_n=0.5) == pytest.approx(1.125)
    assert slack(MM + 30, ramp_after_slack(), toe_force_n=0.5) == pytest.approx(1.125)


def test_slack_is_zero_where_the_specimen_is_loaded_at_once():
    assert slack(MM, ramp_after_slack(0.0) + 3, toe_force_n=0.5) == 0.0
    assert slack(MM, ramp_after_slack(0.0) + 0.5, toe_force_n=0.5) == 0.0


def test_slack_refuses_a_toe_force_that_is_never_reached():
    with pytest.raises(ValueError, match=r"got 17\.0 with at most 16\.0 N"):
        slack(MM, ramp_after_slack(), toe_force_n=17.0)


def test_toe_correction_finds_the_slack_of_a_straight_pull():
    corrected = toe_correction(MM, ramp_after_slack(), index=50, lower_fraction=0.2, upper_fraction=0.8)
    assert corrected == pytest.approx(1.0)


def test_toe_correction_prolongs_the_straight_part_of_a_curved_toe():
    # 3 (x - 1)^2 up to 2 mm, then its tangent 3 + 6 (x - 2): zero force at 1.5 mm.
    force = np.where(MM < 2, 3 * np.maximum(MM - 1, 0) ** 2, 3 + 6 * (MM - 2))
    corrected = toe_correction(MM, force, index=50, lower_fraction=0.3, upper_fraction=0.9)
    assert corrected == pytest.approx(1.5)
    assert stiffness(MM, force, index=50, lower_fraction=0.3, upper_fraction=0.9) == pytest.approx(6.0)


def test_stiffness_is_the_least_squares_slope_numpy_polyfit():
    rng = np.random.default_rng(1)
    force = ramp_after_slack() + rng.normal(0, 0.05, MM.size)
    inside = (force >= 0.2 * force[50]) & (force <= 0.8 * force[50])
    expected = np.polyfit(MM[inside], force[inside], 1)[0]
    assert stiffness(MM, force, index=50, lower_fraction=0.2, upper_fraction=0.8) == pytest.approx(expected)


def test_stiffness_leaves_out_a_knock_in_the_slack_and_all_after_the_peak():
    force = ramp_after_slack()
    force[5] = 9.0  # a knock at 0.5 mm
    force[41:] = 2.0  # the specimen lets go after 4 mm
    assert stiffness(MM, force, index=40, lower_fraction=0.2, upper_fraction=0.8) == pytest.approx(4.0)


def test_stiffness_is_none_where_there_is_nothing_to_fit():
    assert stiffness([0.0, 1.0, 2.0], [0.0, 5.0, 9.0], index=2, lower_fraction=0.2, upper_fraction=0.8) is None
    still = [0.0, 1.0, 1.0, 1.0, 2.0]
    assert stiffness(still, [0.0, 3.0, 4.0, 5.0, 9.0], index=4, lower_fraction=0.2, upper_fraction=0.8) is None
    assert toe_correction(still, [0.0, 3.0, 4.0, 5.0, 9.0], index=4, lower_fraction=0.2, upper_fraction=0.8) is None
    three = stiffness(
        [0.0, 1.0, 2.0, 3.0, 4.0], [0.0, 3.0, 4.0, 5.0, 9.0], index=4, lower_fraction=0.2, upper_fraction=0.8
    )
    assert three == pytest.approx(1.0)


def test_toe_correction_is_none_where_the_force_does_not_rise():
    falling = np.array([0.0, 7.0, 6.0, 5.0, 4.0, 9.0])
    assert toe_correction(np.arange(6.0), falling, index=5, lower_fraction=0.2, upper_fraction=0.8) is None


def test_work_is_the_area_to_the_point():
    assert work_to(MM, ramp_after_slack(), index=50) == pytest.approx(4.0 * 4.0**2 / 2)  # N mm = mJ
    assert work_to(MM, ramp_after_slack(), index=30) == pytest.approx(4.0 * 2.0**2 / 2)
    assert work_to(MM, ramp_after_slack() + 1, index=0) == 0.0


def test_flat_top_of_a_clipped_record():
    result = flat_top(np.minimum(ramp_after_slack(), 12.0), tolerance_n=0.0, least_points=3)
    assert (result.maximum_force_n, result.n_points, result.first_index) == (12.0, 11, 40)
    assert result.is_saturated


def test_flat_top_of_a_peak_or_of_a_plateau_in_pieces_is_not_saturated():
    assert not flat_top(ramp_after_slack(), tolerance_n=0.1, least_points=3).is_saturated
    result = flat_top([1.0, 9.0, 9.0, 8.0, 9.0, 2.0], tolerance_n=0.0, least_points=3)
    assert (result.n_points, result.first_index, result.is_saturated) == (2, 1, False)
    assert flat_top([1.0, 9.0, 9.0, 8.9, 9.0, 2.0], tolerance_n=0.15, least_points=4).is_saturated


def test_flat_top_counts_only_near_the_capacity_where_it_is_given():
    clipped = np.minimum(ramp_after_slack(), 12.0)
    assert not flat_top(clipped, tolerance_n=0.0, least_points=3, capacity_n=50.0).is_saturated
    assert flat_top(clipped, tolerance_n=0.0, least_points=3, capacity_n=12.2).is_saturated
    assert not flat_top(clipped, tolerance_n=0.0, least_points=3, capacity_n=12.25).is_saturated


def test_points_near_peak_counts_neighbours_only():
    force = [0.0, 9.2, 9.6, 10.0, 9.1, 8.0, 9.9, 1.0]
    assert points_near_peak(force, index=3, fraction=0.10) == 4
    assert points_near_peak(force, index=3, fraction=0.05) == 2
    assert points_near_peak(force, index=3, fraction=0.30) == 6
    assert points_near_peak([1.0, 5.0, 1.0], index=1, fraction=0.1) == 1


def test_step_at_peak_is_the_larger_neighbouring_change():
    assert step_at_peak([0.0, 6.0, 10.0, 3.0, 2.0], index=2) == 7.0
    assert step_at_peak([0.0, 2.0, 10.0, 9.0], index=2) == 8.0
    assert step_at_peak([8.0, 3.0, 1.0], index=0) == 5.0
    assert step_at_peak([1.0, 3.0, 8.0], index=2) == 5.0


def test_backward_travel_is_measured_from_the_farthest_point():
    assert backward_travel([0.0, 1.0, 2.0, 2.0, 5.0]) == 0.0
    assert backward_travel([0.0, 3.0, 2.5, 2.0, 5.0, 4.9]) == 1.0


def test_pull_rate_leaves_out_start_and_stop():
    # 254 mm/min is 10 in/min (common practice, no source); the crosshead starts late and stands still at the end.
    time = np.arange(0.0, 10.01, 0.05)
    travel = np.clip(time - 0.5, 0.0, 9.0) * 254 / 60
    assert pull_rate(time, travel) == pytest.approx(254.0)
    assert pull_rate(time + 1000, travel + 3) == pytest.approx(254.0)


def test_pull_rate_of_a_short_record_uses_all_points():
    assert pull_rate([0.0, 60.0], [1.0, 26.4]) == pytest.approx(25.4)
    assert pull_rate([0.0, 5.0, 5.0, 5.0, 10.0], [0.0, 1.0, 1.0, 1.0, 2.0]) == pytest.approx(12.0)


@given(st.integers(0, 1000), st.floats(0.1, 10.0))
def test_stiffness_work_and_slack_scale_with_force(seed, factor):
    force = ramp_after_slack() + np.random.default_rng(seed).uniform(0, 0.1, MM.size)
    kwargs = {"index": 50, "lower_fraction": 0.2, "upper_fraction": 0.8}
    assert stiffness(MM, force * factor, **kwargs) == pytest.approx(stiffness(MM, force, **kwargs) * factor)
    assert toe_correction(MM, force * factor, **kwargs) == pytest.approx(toe_correction(MM, force, **kwargs))
    assert work_to(MM, force * factor, index=50) == pytest.approx(work_to(MM, force, index=50) * factor)
    expected = slack(MM, force, toe_force_n=0.5)
    assert slack(MM, force * factor, toe_force_n=0.5 * factor) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: baseline_offset(MM, MM, span_mm=0.0), "span_mm must be above 0"),
        (lambda: slack(MM, MM, toe_force_n=-1.0), "toe_force_n must be above 0"),
        (lambda: stiffness(MM, MM, index=51, lower_fraction=0.2, upper_fraction=0.8), "index .* 0 to 50; got 51"),
        (lambda: stiffness(MM, MM, index=9, lower_fraction=0.8, upper_fraction=0.8), "lower_fraction must be below"),
        (lambda: stiffness(MM, MM, index=9, lower_fraction=0.2, upper_fraction=1.0), "upper_fraction"),
        (lambda: stiffness(MM, MM, index=9, lower_fraction=0.0, upper_fraction=0.5), "lower_fraction"),
        (lambda: work_to(MM, MM, index=-1), "index .* got -1"),
        (lambda: work_to(MM, MM[:-1], index=1), "one length; got 51 and 50"),
        (lambda: flat_top(MM, tolerance_n=-0.1, least_points=3), "tolerance_n must be 0 or more"),
        (lambda: flat_top(MM, tolerance_n=0.1, least_points=1), "least_points"),
        (lambda: flat_top(MM, tolerance_n=0.1, least_points=3, capacity_n=0.0), "capacity_n must be above 0"),
        (lambda: points_near_peak(MM, index=0, fraction=0.1), r"force_n\[0\] must be above 0"),
        (lambda: points_near_peak(MM, index=3, fraction=1.0), "fraction"),
        (lambda: points_near_peak(MM, index=51, fraction=0.1), "index"),
        (lambda: step_at_peak(MM, index=51), "index"),
        (lambda: backward_travel([math.nan, 1.0]), "displacement_mm must be finite"),
        (lambda: pull_rate(MM, MM[:-1]), "one length; got 51 and 50"),
        (lambda: pull_rate(MM[::-1], MM), "time_s must go forward"),
        (lambda: pull_rate([0.0, 2.0, 1.0, 3.0], [0.0, 1.0, 2.0, 3.0]), "time_s must go forward"),
        (lambda: pull_rate([1.0, 1.0], [0.0, 1.0]), "time_s must go forward"),
    ],
)
def test_arguments_out_of_range_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_what_lies_on_a_boundary_counts():
    x = np.arange(6.0)
    assert baseline_offset(x, x, span_mm=2.0).n_points == 3
    assert baseline_offset(x, x, span_mm=1.0).noise_n == pytest.approx(math.sqrt(0.5))
    assert slack(x, x, toe_force_n=2.0) == 2.0
    assert slack(x, [0.0, 2.0, 2.0, 2.0, 3.0, 4.0], toe_force_n=2.0) == 1.0
    # From 20 to 80 % of 10 N, both included: 2, 5, 8 N.
    line = stiffness(x, [0.0, 2.0, 5.0, 8.0, 10.0, 0.0], index=4, lower_fraction=0.2, upper_fraction=0.8)
    assert line == pytest.approx(3.0)
    assert work_to(x, x, index=5) == 12.5
    assert flat_top([1.0, 3.0, 3.0], tolerance_n=0.0, least_points=2).is_saturated
    assert flat_top([0.0, 98.0, 98.0], tolerance_n=0.0, least_points=2, capacity_n=100.0).is_saturated
    assert points_near_peak([0.0, 5.0, 10.0, 5.0], index=2, fraction=0.5) == 3
    assert points_near_peak([1.0, 5.0, 10.0], index=2, fraction=0.1) == 1


def test_stiffness_of_a_pull_loaded_from_its_first_point():
    # No point lies below 20 % of the force, so the first one belongs to the rise.
    assert stiffness([0.0, 1.0, 2.0], [4.0, 6.0, 11.0], index=2, lower_fraction=0.2, upper_fraction=0.99) is None
    rise = stiffness([0.0, 1.0, 3.0, 4.0], [4.0, 6.0, 7.0, 11.0], index=3, lower_fraction=0.2, upper_fraction=0.9)
    assert rise == pytest.approx(np.polyfit([0.0, 1.0, 3.0], [4.0, 6.0, 7.0], 1)[0])


def test_step_at_peak_looks_at_the_two_neighbours_only():
    assert step_at_peak([0.0, 100.0, 6.0, 10.0, 3.0, 90.0], index=3) == 7.0


def test_points_near_peak_belong_to_the_peak_that_is_meant():
    force = [9.0, 1.0, 9.5, 9.9, 9.6, 1.0, 9.0, 9.0]
    assert [points_near_peak(force, index=i, fraction=0.1) for i in (0, 2, 3, 4, 6)] == [1, 3, 3, 3, 2]


def test_pull_rate_takes_ten_to_ninety_percent_both_included():
    # Eleven points a second apart; between 1 s and 9 s the rate is 1 mm/s, outside it is not.
    travel = [0.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 20.0]
    assert pull_rate(np.arange(11.0), travel) == pytest.approx(60.0)
    bent = [0.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 14.0, 20.0]
    assert pull_rate(np.arange(11.0), bent) == pytest.approx(60 * np.polyfit(np.arange(1.0, 10.0), bent[1:10], 1)[0])
    assert pull_rate([0.0, 0.2, 0.4], [0.0, 1.0, 4.0]) == pytest.approx(600.0)  # a record shorter than a second


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: flat_top([math.nan, 1.0], tolerance_n=0.0, least_points=2), r"^force_n must be finite"),
        (lambda: flat_top(MM, tolerance_n=math.nan, least_points=2), r"^tolerance_n must be finite"),
        (lambda: points_near_peak([math.nan, 1.0], index=1, fraction=0.1), r"^force_n must be finite"),
        (lambda: points_near_peak(MM, index=3, fraction=math.nan), r"^fraction must be"),
        (lambda: step_at_peak([math.nan, 1.0], index=1), r"^force_n must be finite"),
        (lambda: pull_rate([math.nan, 1.0], [0.0, 1.0]), r"^time_s must be finite"),
        (lambda: pull_rate([0.0, 1.0], [math.nan, 1.0]), r"^displacement_mm must be finite"),
        (lambda: pull_rate([5.0, 2.0, 1.0], [0.0, 1.0, 2.0]), r"from 5\.0 to 1\.0 s"),
        (lambda: work_to(MM, MM, index=51), r"^index must be a whole number from 0 to 50"),
        (lambda: work_to(MM, MM, index=52), r"^index must be a whole number from 0 to 50"),
    ],
)
def test_messages_begin_with_the_argument_and_give_its_range(call, message):
    with pytest.raises(ValueError, match=message):
        call()


@given(st.integers(0, 100_000), st.integers(2, 400), st.sampled_from([0.0, 0.05]))
def test_the_shape_of_a_pull_is_what_the_single_functions_and_numpy_say(seed, n, jitter):
    rng = np.random.default_rng(seed)
    displacement = np.arange(n) * 0.1 + rng.normal(0, jitter, n)
    force = np.cumsum(rng.normal(0.05, 0.3, n))
    index = int(rng.integers(0, n))
    fractions = {"lower_fraction": 0.2, "upper_fraction": 0.8}
    shape = pull_shape(displacement, force, index=index, near_fraction=0.05, **fractions)
    assert shape.stiffness_n_per_mm == stiffness(displacement, force, index=index, **fractions)
    assert shape.work_mj == work_to(displacement, force, index=index)
    assert shape.work_mj == np.trapezoid(force[: index + 1], displacement[: index + 1])
    assert shape.backward_travel_mm == backward_travel(displacement)
    assert shape.backward_travel_mm == (np.maximum.accumulate(displacement) - displacement).max()
    if force[index] <= 0:
        assert shape.points_near_peak == 0
        return
    assert shape.points_near_peak == points_near_peak(force, index=index, fraction=0.05)
    near = (force >= (1 - 0.05) * force[index]).tolist()
    run = index
    while run > 0 and near[run - 1]:
        run -= 1
    count = 0
    while run + count < n and near[run + count]:
        count += 1
    assert shape.points_near_peak == count


def test_the_straight_part_and_the_rate_are_the_least_squares_lines_of_numpy():
    rng = np.random.default_rng(4)
    time = np.cumsum(rng.uniform(0.01, 0.03, 500))
    displacement = time * 4.2 + rng.normal(0, 0.01, 500)
    force = displacement * 1.7 + rng.normal(0, 0.02, 500)
    index = 450
    chosen = np.arange(int(np.flatnonzero(force[:index] < 0.2 * force[index])[-1]) + 1, index + 1)
    chosen = chosen[force[chosen] <= 0.8 * force[index]]
    slope = np.polyfit(displacement[chosen], force[chosen], 1)[0]
    ours = stiffness(displacement, force, index=index, lower_fraction=0.2, upper_fraction=0.8)
    assert ours == pytest.approx(slope, rel=1e-12)
    span = time[-1] - time[0]
    steady = (time >= time[0] + 0.1 * span) & (time <= time[-1] - 0.1 * span)
    assert pull_rate(time, displacement) == pytest.approx(
        60 * np.polyfit(time[steady], displacement[steady], 1)[0], rel=1e-12
    )
