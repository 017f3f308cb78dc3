"""What is plotted: quantiles that match printed ones, bars that say what they are, peaks that survive thinning."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from reportgen.acceptance.records import Evaluation, Standing, Verdict
from reportgen.compose import charts, probability, reliability
from reportgen.compose.records import ProbabilityChart, ReliabilityChart
from tests.compose.hand_made import dossier, evaluation, values_of
from tests.good_project import BOND_FRESH_N

OTHER_METHOD = Standing(
    rule="limit-set-on-another-method",
    sentence="the limit was set with method TM-09",
    would_change_it="test with method TM-09",
)


def test_probability_plot_has_the_fitted_line_and_a_band_around_it(tmp_path: Path) -> None:
    one = evaluation()
    figure = probability.probability_figure(dossier(tmp_path, one), one, anchor="a")
    assert figure is not None
    chart = figure.chart
    assert isinstance(chart, ProbabilityChart)
    assert chart.ordered == tuple(sorted(BOND_FRESH_N))
    slope = (chart.line[1][1] - chart.line[0][1]) / (chart.line[1][0] - chart.line[0][0])
    mean = sum(BOND_FRESH_N) / 10
    sd = (sum((value - mean) ** 2 for value in BOND_FRESH_N) / 9) ** 0.5
    assert slope == pytest.approx(sd)
    assert all(low < high for low, high in zip(chart.band_lower, chart.band_upper, strict=True))


@pytest.mark.parametrize(
    "changed",
    [
        {"values": values_of((5.0, 5.0, 5.0))},
        {"values": values_of((5.0, 6.0))},
        {"values": (replace(values_of((5.0,))[0], censored="above"), *values_of((6.0, 7.0, 8.0)))},
        # no distribution is assumed, so none can be seen to fit
        {"approach": "distribution_free", "approach_used": "distribution_free"},
        {"approach_used": "weibull", "values": values_of((0.0, 2.0, 3.0))},
        {"approach_used": "box_cox", "values": values_of((1.0, 2.0, 3.0, 4.0))},
        {"approach_used": "lognormal", "values": values_of((-1.0, 2.0, 3.0))},
    ],
)
def test_no_probability_plot_where_it_would_mislead(tmp_path: Path, changed: dict[str, object]) -> None:
    one = evaluation(**changed)
    assert probability.probability_figure(dossier(tmp_path, one), one, anchor="a") is None


@pytest.mark.parametrize(
    ("changed", "caption", "axis", "heights"),
    [
        ({"approach_used": "lognormal"}, "Lognormal probability plot of", "Bond strength [N]", math.log),
        # the check rejected what was declared, and the plot shows that
        (
            {"approach": "lognormal", "approach_used": "distribution_free"},
            "Lognormal probability plot of",
            "Bond strength [N]",
            math.log,
        ),
        # rejected and without a fallback: nothing was used, and the plot shows why
        (
            {"approach": "lognormal", "approach_used": ""},
            "Lognormal probability plot of",
            "Bond strength [N]",
            math.log,
        ),
        ({"approach_used": "weibull"}, "Weibull probability plot of", "Bond strength [N]", math.log),
        (
            {"approach": "normal", "approach_used": "distribution_free"},
            "Normal probability plot of",
            "Bond strength [N]",
            float,
        ),
    ],
)  # fmt: skip
def test_a_probability_plot_is_on_the_scale_of_what_was_assumed(
    tmp_path: Path, changed: dict[str, object], caption: str, axis: str, heights: Callable[[float], float]
) -> None:
    one = evaluation(**changed)
    figure = probability.probability_figure(dossier(tmp_path, one), one, anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ProbabilityChart)
    assert figure.caption.startswith(caption)
    assert figure.chart.axis == axis
    assert figure.chart.ordered == pytest.approx(sorted(heights(value) for value in BOND_FRESH_N))
    assert figure.chart.limits[0].value == pytest.approx(heights(10.0))
    # an axis of logarithms is labeled with the values that stand there
    assert ("logarithmic scale" in figure.chart.note) == bool(figure.chart.ticks) == (heights is math.log)
    assert [height for height, _ in figure.chart.ticks] == pytest.approx(
        [heights(float(label)) for _, label in figure.chart.ticks]
    )


def test_a_box_cox_plot_shows_the_values_as_transformed(tmp_path: Path) -> None:
    one = evaluation(approach_used="box_cox")
    figure = probability.probability_figure(dossier(tmp_path, one), one, anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ProbabilityChart)
    # scipy estimates the power by maximum likelihood as well; dividing by the geometric mean leaves it as it is
    centre = math.exp(math.fsum(map(math.log, BOND_FRESH_N)) / 10)
    transformed, power = stats.boxcox(np.array(BOND_FRESH_N) / centre)
    assert figure.chart.note == f"points: exact median ranks; values on the transformed scale, power {power:.3g}"
    assert figure.chart.ordered == pytest.approx(sorted(transformed), abs=1e-6)
    assert len(figure.chart.ticks) >= 4
    labels = np.array([float(label) for _, label in figure.chart.ticks])
    assert [height for height, _ in figure.chart.ticks] == pytest.approx(
        stats.boxcox(labels / centre, lmbda=power), abs=1e-6
    )


def of_two_lots(first: tuple[float, ...], second: tuple[float, ...]) -> Evaluation:
    """Judged by the model of lots."""
    values = values_of((*first, *second))
    lots = ["L-0101"] * len(first) + ["L-0102"] * len(second)
    told = tuple(replace(one, lot=lot) for one, lot in zip(values, lots, strict=True))
    return evaluation(approach_used="between_lot", values=told, n=len(told), lots=("L-0101", "L-0102"))


def test_a_plot_under_the_model_of_lots_shows_what_the_check_looks_at(tmp_path: Path) -> None:
    one = of_two_lots((14.0, 15.0, 16.5, 17.0), (24.0, 25.0, 26.5))
    figure = probability.probability_figure(dossier(tmp_path, one), one, anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ProbabilityChart)
    # by hand: the mean of 14, 15, 16.5 and 17 is 15.625, that of 24, 25 and 26.5 is 75.5 / 3
    assert figure.chart.ordered == pytest.approx(
        sorted([-1.625, -0.625, 0.875, 1.375, 24 - 75.5 / 3, 25 - 75.5 / 3, 26.5 - 75.5 / 3])
    )
    assert figure.chart.axis == "Bond strength less lot mean [N]"
    assert figure.chart.note == "points: exact median ranks; each value less the mean of its lot"
    assert figure.chart.limits == ()
    assert figure.caption == "Normal probability plot of bond strength within lots, fresh (DI-001)"
    assert figure.alt == (
        "Ordered values of bond strength, each less the mean of its lot, against normal quantiles, n = 7: "
        "all points lie inside the band."
    )


@pytest.mark.parametrize("second", [(24.1,), (24.1, 24.1, 24.1)])
def test_lots_of_equal_values_have_nothing_to_plot_within_them(tmp_path: Path, second: tuple[float, ...]) -> None:
    one = of_two_lots((14.3, 14.3, 14.3), second)
    assert not probability.can_be_plotted(one)
    assert probability.probability_figure(dossier(tmp_path, one), one, anchor="a") is None


def test_reliability_bars_say_which_fall_short(tmp_path: Path) -> None:
    short = evaluation(
        key="VP-01/DI-002", design_input="DI-002", group="", achieved_reliability=0.9, verdict=Verdict.NOT_DEMONSTRATED
    )
    figure = reliability.reliability_figure(dossier(tmp_path, evaluation(), short), anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ReliabilityChart)
    assert [(bar.label, bar.text, bar.emphasis) for bar in figure.chart.bars] == [
        ("DI-001, fresh", "99.9961 %", "met"),
        ("DI-002, fresh", "90.0 %", "not demonstrated"),
    ]
    assert figure.alt == "2 bars. Short of the required reliability: DI-002, fresh."


def test_a_far_limit_is_told_beside_a_probability_plot_and_does_not_squash_it(tmp_path: Path) -> None:
    one = evaluation(lower_limit=None, lower_bound=None, upper_limit=90.0, upper_bound=21.2, side="upper", guard=0.5)
    figure = probability.probability_figure(dossier(tmp_path, one), one, anchor="a")
    assert figure is not None
    chart = figure.chart
    assert isinstance(chart, ProbabilityChart)
    assert chart.span == (min(chart.band_lower), max(21.2, *chart.band_upper))
    assert [(line.value, line.style, line.beyond(chart.span)) for line in chart.limits] == [
        (90.0, "limit", "above"),
        (89.5, "acceptance", "above"),
        (21.2, "bound", ""),
    ]
    assert "Lines: upper bound 21.200\u00a0N. Off the scale: upper limit 90\u00a0N, above; acceptance" in figure.alt
    assert figure.note.startswith(
        "Off the scale, shown by arrows: upper limit and acceptance limit. Acceptance limit: the"
    )


def test_bars_tell_what_is_not_counted_and_what_is_not_tested(tmp_path: Path) -> None:
    aside = evaluation(
        key="VP-01/DI-002", design_input="DI-002", standing=(OTHER_METHOD,), verdict=Verdict.NOT_DEMONSTRATED
    )
    later = evaluation(
        key="VP-01/DI-003", design_input="DI-003", verdict=Verdict.NOT_TESTED, n=0, values=(), achieved_reliability=None
    )
    figure = reliability.reliability_figure(dossier(tmp_path, evaluation(), aside, later), anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ReliabilityChart)
    assert [(bar.counts, bar.emphasis, bar.value > 0) for bar in figure.chart.bars] == [
        (True, "met", True),
        (False, "not demonstrated", True),
        (True, "not tested", False),
    ]
    assert figure.chart.bars[2].text == "not tested"
    assert "For information, does not count: DI-002, fresh. Not tested: DI-003, fresh." in figure.alt
    assert reliability.reliability_figure(dossier(tmp_path / "later", later), anchor="a") is None


def test_more_bars_than_a_page_holds_are_the_worst_in_their_order(tmp_path: Path) -> None:
    many = [
        evaluation(key=f"VP-01/DI-001/{at:03d}", group=f"g{at:03d}", achieved_reliability=0.96 + 0.03 * (at % 7) / 7)
        for at in range(70)
    ]
    figure = reliability.reliability_figure(dossier(tmp_path, *many), anchor="a")
    assert figure is not None
    assert isinstance(figure.chart, ReliabilityChart)
    values = [bar.value for bar in figure.chart.bars]
    # by hand: the four lowest of seven steps are 40 of 70; four of the next ten fill the page
    assert len(values) == reliability.MOST_BARS == 44
    assert sorted({round(7 * (value - 0.96) / 0.03) for value in values}) == [0, 1, 2, 3, 4]
    labels = [bar.label for bar in figure.chart.bars]
    assert labels == sorted(labels)
    assert "Of 70 evaluations the 44 that reach least" in figure.note


def test_thinning_keeps_ends_and_every_peak() -> None:
    forces = [0.0] * 10_000
    forces[4321], forces[7777] = 9.5, -3.0
    kept = charts._thinned(forces)
    assert len(kept) <= charts.MOST_POINTS_PER_CURVE + 2
    assert {0, 4321, 7777, 9_999} <= set(kept)
