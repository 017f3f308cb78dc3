"""Values by lot: lines over their own lots, far limits beside the scale, lots to come, points that do not touch."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from reportgen.acceptance.records import Evaluation, SpecimenValue, Standing
from reportgen.compose import chart_axes
from reportgen.compose.records import Figure, ValuesChart
from reportgen.compose.status_plot import interval_glyphs
from reportgen.compose.value_charts import values_figure
from tests.compose.hand_made import dossier, evaluation, values_of
from tests.good_project import BOND_FRESH_N


def drawn(folder: Path, *evaluations: Evaluation) -> tuple[Figure, ValuesChart]:
    figure = values_figure(dossier(folder, *evaluations), evaluations, anchor="a", key="k")
    assert figure is not None
    assert isinstance(figure.chart, ValuesChart)
    return figure, figure.chart


def of_lot(lot: str, condition: str = "fresh", numbers: tuple[float, ...] = BOND_FRESH_N) -> tuple[SpecimenValue, ...]:
    return tuple(replace(one, lot=lot, condition=condition) for one in values_of(numbers))


def aged(**changed: object) -> Evaluation:
    """Two aged lots, of which the protocol plans the first."""
    values = (*of_lot("L-0101", "aged"), *of_lot("L-0102", "aged"))
    told = {"key": "VP-01/DI-001/aged", "group": "aged", "conditions": ("aged",), "lots": ("L-0101", "L-0102")}
    return evaluation(**told, values=values, lower_bound=13.5, **changed)


def test_limits_span_all_lots_and_bounds_those_they_were_computed_from(tmp_path: Path) -> None:
    figure, chart = drawn(tmp_path, aged(), evaluation())
    assert [one.label for one in chart.series] == ["L-0101 aged", "L-0102 aged", "L-0101 fresh"]
    assert [(line.label, line.style, line.columns) for line in chart.lines] == [
        ("lower limit 10\u00a0N", "limit", None),
        ("lower bound 13.500\u00a0N", "bound", (0, 1)),
        ("lower bound 14.877\u00a0N", "bound", (2, 2)),
    ]
    assert figure.caption == "Bond strength by lot, with limit and bounds (DI-001)"
    assert "lower bound 13.500\u00a0N for aged; lower bound 14.877\u00a0N for fresh" in figure.alt


def test_a_bound_of_all_there_is_spans_all(tmp_path: Path) -> None:
    values = (*of_lot("L-0101", "fresh"), *of_lot("L-0101", "aged"))
    _, chart = drawn(tmp_path, evaluation(group="", conditions=("aged", "fresh"), values=values))
    assert len(chart.series) == 2
    assert [line.columns for line in chart.lines] == [None, None]


def test_a_lot_without_results_has_an_empty_column_that_its_bound_leaves_out(tmp_path: Path) -> None:
    half = evaluation(group="", conditions=("fresh", "aged"), values=of_lot("L-0101")[:4], n=4, n_missing=16)
    figure, chart = drawn(tmp_path, half)
    assert [(one.label, len(one.values), one.count) for one in chart.series] == [
        ("L-0101 fresh", 4, "n = 4 of 10"),
        ("L-0101 aged", 0, "no result yet"),
    ]
    assert [line.columns for line in chart.lines] == [None, (0, 0)]
    assert "L-0101 aged, no result yet" in figure.alt


def test_a_lot_that_will_have_no_result_is_not_waited_for(tmp_path: Path) -> None:
    _, chart = drawn(tmp_path, evaluation())
    assert [one.count for one in chart.series] == ["n = 10", "no result"]


def test_a_guarded_decision_shows_the_limit_that_the_bound_must_clear(tmp_path: Path) -> None:
    figure, chart = drawn(tmp_path, evaluation(guard=0.25, statistic_decimals=3))
    assert [(line.label, line.value) for line in chart.lines if line.style == "acceptance"] == [
        ("acceptance limit 10.25\u00a0N", 10.25)
    ]
    assert "limit, acceptance limit and bound" in figure.caption
    assert "the limit moved inward by the guard band" in figure.note
    upper = evaluation(lower_limit=None, lower_bound=None, upper_limit=22.0, upper_bound=21.2, side="upper", guard=0.7)
    _, chart = drawn(tmp_path / "upper", upper)
    assert [line.label for line in chart.lines if line.style == "acceptance"] == ["acceptance limit 21.3\u00a0N"]


def test_results_that_do_not_count_are_shown_for_information(tmp_path: Path) -> None:
    reason = Standing(rule="r", sentence="the limit was set with method TM-09", would_change_it="test with TM-09")
    figure, chart = drawn(tmp_path, evaluation(standing=(reason,)))
    assert figure.caption == "Bond strength by lot, with limit and bound, for information (DI-001)"
    assert chart.note == "for information: does not count"
    assert chart.lines[0].label.endswith(", for information")
    assert figure.note.endswith(
        "how these results stand to the limit decides nothing: the limit was set with method TM-09."
    )


def test_a_far_limit_is_named_off_the_scale_and_not_in_the_caption(tmp_path: Path) -> None:
    figure, chart = drawn(tmp_path, evaluation(lower_limit=0.5))
    assert chart.span == (14.8775, max(BOND_FRESH_N))
    assert [line.beyond(chart.span) for line in chart.lines] == ["below", ""]
    assert figure.caption == "Bond strength by lot, with bound (DI-001)"
    assert "Off the scale: lower limit 0.5\u00a0N, below." in figure.alt
    assert figure.note == "Off the scale, shown by an arrow: lower limit."


def test_no_values_no_figure(tmp_path: Path) -> None:
    empty = evaluation(values=(), n=0)
    assert values_figure(dossier(tmp_path, empty), [empty], anchor="a", key="k") is None


@pytest.mark.parametrize(
    ("shown", "wished", "span"),
    [
        ((10.0, 14.0), (9.0,), (9.0, 14.0)),
        # the values would fill 4 of 12, which is enough, or of 13, which is not
        ((10.0, 14.0), (2.0,), (2.0, 14.0)),
        ((10.0, 14.0), (1.0,), (10.0, 14.0)),
        # a near limit is shown though a far one is not
        ((10.0, 14.0), (100.0, 9.0), (9.0, 14.0)),
        ((10.0, 14.0), (11.0,), (10.0, 14.0)),
        # values that are all the same have no extent to lose
        ((10.0, 10.0), (3.0,), (3.0, 10.0)),
    ],
)
def test_an_axis_shows_limits_that_leave_room_for_the_values(
    shown: tuple[float, ...], wished: tuple[float, ...], span: tuple[float, float]
) -> None:
    assert chart_axes.axis_span(shown, wished) == span


def test_axis_titles_say_a_unit_once() -> None:
    assert chart_axes.axis_title("deflation time", "s") == "Deflation time [s]"
    assert chart_axes.axis_title("torque turns", "turns") == "Torque turns"
    assert chart_axes.axis_title("particles 10 µm", "particles") == "Particles 10 µm"
    assert chart_axes.axis_title("leak rate", "") == "Leak rate"


@pytest.mark.parametrize(
    ("low", "high", "labels"),
    [
        (5.0, 13.4, (5, 6, 7, 8, 9, 10, 12)),
        (0.8, 35.0, (1, 2, 5, 10, 20)),
        (0.1, 2e4, (0.1, 1, 10, 100, 1_000, 10_000)),
        (1e-9, 1e12, (1e-9, 1e-6, 1e-3, 1, 1e3, 1e6, 1e9, 1e12)),
        (18.2, 19.9, (18.5, 19.0, 19.5)),
        (100.2, 104.9, (101, 102, 103, 104)),
    ],
)
def test_an_axis_that_is_not_even_is_labeled_with_round_values(
    low: float, high: float, labels: tuple[float, ...]
) -> None:
    assert chart_axes.round_values(low, high) == pytest.approx(labels)


@pytest.mark.parametrize("columns", [1, 3, 9])
@pytest.mark.parametrize("values", [BOND_FRESH_N, (5.0,) * 6, (5.0, 5.1, 5.1, 5.2, 5.2, 9.0)])
def test_points_stand_apart_the_same_on_every_run(values: tuple[float, ...], columns: int) -> None:
    span = (4.0, 20.0)
    positions = chart_axes.side_by_side(values, columns=columns, span=span)
    assert positions == chart_axes.side_by_side(values, columns=columns, span=span)
    assert max(map(abs, positions)) <= chart_axes.SPREAD < 0.5
    across, along = chart_axes.PLOT_WIDTH_MM / columns, chart_axes.PLOT_HEIGHT_MM / 16
    apart = [
        ((p - q) * across, (v - w) * along) for (p, v), (q, w) in combinations(zip(positions, values, strict=True), 2)
    ]
    # six equal values do not fit beside each other in the narrowest column: there they may touch, but not coincide
    least = chart_axes.POINT_MM if columns < 9 or len(set(values)) > 1 else 0.7
    assert all((x * x + y * y) ** 0.5 >= least - 1e-3 for x, y in apart)


def test_many_points_are_spread_evenly() -> None:
    positions = chart_axes.offsets(64)
    assert positions[:3] == (0.0, -chart_axes.SPREAD / 2, chart_axes.SPREAD / 2)
    assert len(set(positions)) == 64
    assert len(set(chart_axes.side_by_side((1.0,) * 1000, columns=3, span=(0.0, 2.0)))) == 1000


def test_the_drawing_of_the_status_page_shows_the_limit_that_a_guarded_bound_must_clear(tmp_path: Path) -> None:
    plain, guarded = evaluation(), evaluation(key="VP-01/DI-001/g", group="g", guard=2.0)
    glyphs = interval_glyphs(dossier(tmp_path, plain, guarded), [plain, guarded])
    first, second = glyphs
    assert first is not None
    assert second is not None
    assert (first.lower_acceptance, first.upper_acceptance, second.upper_acceptance) == (None, None, None)
    assert second.lower_limit is not None
    assert second.lower_bound is not None
    assert second.lower_acceptance is not None
    # by hand: 10 N and 2 N, of the way from 10 N to 14.8775 N
    share = (second.lower_acceptance - second.lower_limit) / (second.lower_bound - second.lower_limit)
    assert share == pytest.approx(2 / 4.8775)
    assert second.alt.endswith("acceptance limit 12\u00a0N")
