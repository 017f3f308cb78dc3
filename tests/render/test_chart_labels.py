"""Labels of charts with data of every shape: nothing overlaps, nothing is cut, names can be told apart."""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Callable, Sequence
from itertools import combinations

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes

from reportgen.compose.chart_axes import axis_span, axis_title, side_by_side
from reportgen.compose.records import Line, ProbabilityChart, ReliabilityChart, Series, ValuesChart
from reportgen.render.chart_bars import draw_reliability
from reportgen.render.chart_kinds import draw_probability, draw_traces, draw_values
from reportgen.render.chart_style import STYLE, Frame
from reportgen.render.chart_ticks import tick_texts
from tests.render.sample_document import probability_chart, reliability_chart, trace_chart
from tests.render.test_charts import assert_apart_and_on_the_paper, frame, text_boxes

Values = tuple[float, ...]
Bound = tuple[str, Callable[[Sequence[float]], float]]
BELOW: Bound = ("lower", lambda values: min(values) - 1.5)
ABOVE: Bound = ("upper", lambda values: max(values) + 1.5)
AMONG: tuple[Bound, Bound] = (
    ("lower", lambda values: sorted(values)[len(values) // 3]),
    ("upper", lambda values: sorted(values)[-len(values) // 3]),
)


def scattered(lots: int, n: int, mean: float = 15.0, sd: float = 1.0) -> tuple[Values, ...]:
    chance = random.Random(3)
    return tuple(tuple(round(chance.gauss(mean, sd), 3) for _ in range(n)) for _ in range(lots))


def lots_chart(
    lots: Sequence[Values],
    *,
    limits: Sequence[tuple[str, float]] = (("lower", 10.0),),
    bounds: Sequence[Bound] = (BELOW,),
    per_bound: int = 1,
    name: str = "LT-26{:02d} aged",
    unit: str = "N",
    aside: Values = (),
    note: str = "",
) -> ValuesChart:
    """As composed: a bound for so many lots, a limit common to all, readings set aside in the first lot."""

    def line(side: str, kind: str, value: float, columns: tuple[int, int] | None) -> Line:
        text = f"{value:.4f}\u00a0{unit}"
        style = "limit" if kind == "limit" else "bound"
        return Line(label=f"{side} {kind} {text}", value=value, style=style, columns=columns, short=text)  # type: ignore[arg-type]

    drawn = [line(side, "limit", value, None) for side, value in limits]
    for first in range(0, len(lots), per_bound):
        last = min(first + per_bound, len(lots)) - 1
        own = [value for lot in lots[first : last + 1] for value in lot]
        columns = None if (first, last) == (0, len(lots) - 1) else (first, last)
        drawn += [line(side, "bound", of(own), columns) for side, of in bounds]
    shown = [*(value for lot in lots for value in lot), *aside]
    shown += [one.value for one in drawn if one.style == "bound"]
    span = axis_span(shown, [value for _, value in limits])
    series = []
    for at, lot in enumerate(lots):
        more = aside if at == 0 else ()
        series.append(
            Series(
                label=name.format(at),
                values=(*lot, *more),
                positions=side_by_side((*lot, *more), columns=len(lots), span=span),
                hollow=(False,) * len(lot) + (True,) * len(more),
                count=f"n = {len(lot)}",
            )
        )
    return ValuesChart(
        axis=axis_title("bond strength", unit), series=tuple(series), lines=tuple(drawn), span=span, note=note
    )


NEAR = (("lower", 12.3), ("upper", 17.6))
CHARTS: dict[str, ValuesChart] = {
    "one lot": lots_chart(scattered(1, 10), limits=(("lower", 10.0), ("upper", 20.0)), bounds=(BELOW, ABOVE)),
    "two specimens": lots_chart(((14.0, 15.0),)),
    "twelve lots": lots_chart(scattered(12, 10)),
    "twelve lots, two sides": lots_chart(
        scattered(12, 10), limits=(("lower", 10.0), ("upper", 20.0)), bounds=(BELOW, ABOVE)
    ),
    "lots of one size each": lots_chart(
        scattered(3, 10, 9.0, 0.05),
        limits=(("lower", 8.75), ("upper", 9.25)),
        bounds=(("lower", lambda values: min(values) - 0.07), ("upper", lambda values: max(values) + 0.07)),
        unit="mm",
    ),
    "forty lots": lots_chart(scattered(40, 10), limits=(("lower", 10.0), ("upper", 20.0)), bounds=(BELOW, ABOVE)),
    "equal values": lots_chart(((15.0,) * 10,) * 3, bounds=(("lower", min),)),
    "all on the limit": lots_chart(((10.0,) * 10,) * 3, bounds=(("lower", min),)),
    "one lot on the limit": lots_chart(((10.0,) * 10,), bounds=()),
    "all zero": lots_chart(((0.0,) * 10,) * 2, limits=(("upper", 0.0),), bounds=()),
    "long names": lots_chart(scattered(6, 10), name="LT-2026-CATHETER-PILOT-{:03d}-REWORKED aged 24 months"),
    "twelve long names": lots_chart(scattered(12, 10), name="LT-2026-CATHETER-PILOT-{:03d}-REWORKED aged 24 months"),
    "bounds among the points": lots_chart(scattered(6, 60), limits=(("lower", 12.0),), bounds=AMONG),
    "bounds beside the limits": lots_chart(
        scattered(6, 30), limits=NEAR, bounds=(("lower", lambda _: 12.35), ("upper", lambda _: 17.55))
    ),
    "bounds on the limit": lots_chart(scattered(4, 30), limits=NEAR, bounds=(("lower", lambda _: 12.3),)),
    "far limits": lots_chart(scattered(6, 10), limits=(("lower", -100.0), ("upper", 100.0)), per_bound=3),
    "set aside, for information": lots_chart(
        scattered(6, 10), aside=(9.0, 12.0), note="for information: not compared with the limit"
    ),
    "a long unit": lots_chart(scattered(6, 10), unit="\u00b5mol/(L\u00b7min)"),
    "very small values": lots_chart(((3.1e-7, 3.2e-7, 4.1e-7),) * 3, limits=(("upper", 4.5e-7),), bounds=()),
    "very large values": lots_chart(((3.1e7, 3.2e7, 4.1e7),) * 3, limits=(("upper", 4.5e7),), bounds=()),
    "long numbers": lots_chart(
        ((123459.1, 123459.2, 123460.1),) * 3, limits=(("upper", 123462.0),), bounds=(), unit="cycles"
    ),
    "fine numbers": lots_chart(((12.345702, 12.345707, 12.345711),) * 3, limits=(), bounds=()),
}


def boxes_covered(axes: Axes) -> list[tuple[str, str]]:
    """Labels beside bounds that lie over a point or a line, a dot or two of the air around letters aside."""
    found = []
    for label in axes.texts:
        if label.get_gid() != "own line":
            continue
        box = label.get_window_extent()
        for line in axes.lines:
            on_paper = line.get_transform().transform(line.get_xydata())
            if line.get_marker() in {"o", "D"}:
                near = [(box.x0 - 4 < x < box.x1 + 4) and (box.y0 - 1 < y < box.y1 + 1) for x, y in on_paper]
                found += [(label.get_text(), "point")] if any(near) else []
            elif np.ptp(on_paper[:, 1]) < 1e-6:
                across = min(box.x1, on_paper[:, 0].max()) - max(box.x0, on_paper[:, 0].min())
                if across > 1 and box.y0 + 3 < on_paper[0, 1] < box.y1 - 3:
                    found.append((label.get_text(), "line"))
    return found


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_nothing_overlaps_whatever_the_values(chart: ValuesChart) -> None:
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=75)
        draw_values(sheet, chart)
        assert_apart_and_on_the_paper(sheet)
        axes = sheet.canvas.axes[0]
        assert boxes_covered(axes) == []
        names = [label.get_text() for label in axes.get_xticklabels() if label.get_text()]
        assert len(set(names)) == len(names)
        assert not any("\u2026" in text for text, _ in text_boxes(sheet))


def own_labels(chart: ValuesChart, height_mm: float = 75) -> tuple[list[str], list[str]]:
    """What stands beside bounds, and the other texts of the chart."""
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=height_mm)
        draw_values(sheet, chart)
        texts = sheet.canvas.axes[0].texts
        own = [text.get_text() for text in texts if text.get_gid() == "own line"]
        return own, [text.get_text() for text in texts if text.get_gid() != "own line"]


def test_labels_too_wide_for_their_column_are_values_and_the_dash_is_explained() -> None:
    own, others = own_labels(CHARTS["twelve lots, two sides"])
    assert len(own) == 24
    assert all(float(text) for text in own), "a number whose unit the axis names"
    assert "dashed: lower bound and upper bound" in others
    own, others = own_labels(lots_chart(scattered(6, 10), per_bound=3))
    assert [text.split(" ")[0] for text in own] == ["lower", "lower"]
    assert not any("dashed" in text for text in others)


def test_bounds_of_columns_too_narrow_for_any_label_are_explained_all_the_same() -> None:
    own, others = own_labels(CHARTS["forty lots"])
    assert own == []
    assert "dashed: lower bound and upper bound" in others


def test_labels_that_have_no_free_place_stand_in_a_strip_beyond_all_points() -> None:
    chart = CHARTS["bounds among the points"]
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=75)
        draw_values(sheet, chart)
        axes = sheet.canvas.axes[0]
        assert chart.span is not None
        low, high = (axes.transData.transform((0, value))[1] for value in chart.span)
        boxes = [text.get_window_extent() for text in axes.texts if text.get_gid() == "own line"]
        assert len(boxes) == 12
        assert all(box.y1 < low or box.y0 > high for box in boxes)
        ticks = [float(label.get_text()) for label in axes.get_yticklabels()]
        assert min(ticks) >= 11
        assert max(ticks) <= 19


def test_set_aside_values_are_explained_once_and_the_line_above_is_never_cut() -> None:
    _, others = own_labels(CHARTS["set aside, for information"])
    (told,) = [text for text in others if "set aside" in text]
    assert " ".join(told.split("\n")) == (
        "dashed: lower bound; \u25c7 set aside, not in the statistics; for information: not compared with the limit"
    )


@pytest.mark.parametrize(
    ("places", "texts"),
    [
        ((0.0, 2.5, 5.0), ["0.0", "2.5", "5.0"]),
        ((-0.02, 0.0, 0.02), ["\u22120.02", "0.00", "0.02"]),
        ((0.0, 500.0, 1000.0), ["0", "500", "1000"]),
        ((3.2e-7, 3.6e-7, 4e-7), ["3.2\u00d710\u207b\u2077", "3.6\u00d710\u207b\u2077", "4.0\u00d710\u207b\u2077"]),
        ((0.0, 2e7), ["0", "2\u00d710\u2077"]),
        ((12.345702, 12.345704), ["12.345702", "12.345704"]),
        ((-1e-17, 1.0), ["0", "1"]),
        ((), []),
    ],
)
def test_numbers_of_an_axis_are_written_out(places: Values, texts: list[str]) -> None:
    assert tick_texts(places) == texts


def logarithmic(ticks: tuple[tuple[float, str], ...]) -> ProbabilityChart:
    return dataclasses.replace(probability_chart(), ticks=ticks, limits=(), span=(12.0, 18.0))


def test_given_numbers_of_an_axis_keep_apart_and_are_written_with_powers_of_ten() -> None:
    ticks = ((12.5, "1e-08"), (12.6, "1e-07"), (14.0, "0.01"), (16.0, "100"), (17.9, "25000000"))
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=70)
        draw_probability(sheet, logarithmic(ticks))
        shown = [label.get_text() for label in sheet.canvas.axes[0].get_yticklabels()]
        assert shown == ["10\u207b\u2078", "0.01", "100", "2.5\u00d710\u2077"]
        assert_apart_and_on_the_paper(sheet)


def drawn_texts(sheet: Frame) -> list[str]:
    return [text.replace("\n", " ") for text, _ in text_boxes(sheet)]


def test_long_names_of_bars_and_curves_keep_the_end_that_tells_them_apart() -> None:
    label = "DI-003, a size with the longest of all possible names, aged 24 months at 25 degrees, LT-26{:02d}"
    bars = tuple(dataclasses.replace(reliability_chart().bars[0], label=label.format(at)) for at in range(4))
    curves = tuple(
        dataclasses.replace(curve, label=f"specimen of the longest of all possible names {at}")
        for at, curve in enumerate(trace_chart(4).curves)
    )
    with matplotlib.rc_context(STYLE):
        sheet = frame()
        draw_reliability(sheet, ReliabilityChart(bars=bars))
        named = [text for text in drawn_texts(sheet) if text.startswith("DI-003")]
        assert [text[-7:] for text in named] == [f"LT-26{at:02d}" for at in range(4)]
        assert_apart_and_on_the_paper(sheet)
        sheet = frame()
        draw_traces(sheet, dataclasses.replace(trace_chart(4), curves=curves))
        named = [text for text in drawn_texts(sheet) if text.startswith("specimen")]
        assert [text[-6:] for text in named] == [f"ames {at}" for at in range(4)]
        assert all(one != other for one, other in combinations(named, 2))
        assert_apart_and_on_the_paper(sheet)
