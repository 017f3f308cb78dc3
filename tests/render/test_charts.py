"""Charts: size and bytes, what is drawn, and labels that do not touch."""

from __future__ import annotations

import dataclasses
import io
import os
import subprocess
import sys
from itertools import combinations, pairwise
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from PIL import Image

from reportgen.compose.records import (
    Chart,
    CurveChart,
    Line,
    ReliabilityChart,
    Series,
    TraceChart,
    TraceCurve,
    ValuesChart,
)
from reportgen.render.chart_bars import draw_reliability
from reportgen.render.chart_curves import draw_curve
from reportgen.render.chart_kinds import decimated, draw_traces, draw_values
from reportgen.render.chart_style import DOTS_PER_INCH, STYLE, Frame, fold, spread
from reportgen.render.charts import chart_png
from tests.render.sample_document import probability_chart, reliability_chart, trace_chart, values_chart

REPOSITORY = Path(__file__).resolve().parents[2]
CHARTS: tuple[Chart, ...] = (values_chart(), probability_chart(), trace_chart(), trace_chart(12), reliability_chart())


def pixels(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float)


def frame(width_mm: float = 160, height_mm: float = 85) -> Frame:
    canvas = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), dpi=DOTS_PER_INCH)
    FigureCanvasAgg(canvas)
    return Frame(canvas, width_mm=width_mm, height_mm=height_mm)


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: type(chart).__name__)
def test_a_chart_is_a_picture_of_its_printed_size_with_nothing_cut_off(chart: Chart) -> None:
    png = chart_png(chart, width_mm=160, height_mm=85)
    picture = Image.open(io.BytesIO(png))
    assert picture.size == (round(160 / 25.4 * DOTS_PER_INCH), round(85 / 25.4 * DOTS_PER_INCH)) or (
        abs(picture.width / DOTS_PER_INCH * 25.4 - 160) < 0.2
    )
    assert "Software" not in picture.info
    dots = pixels(png)
    for edge in (dots[:4], dots[-4:], dots[:, :4], dots[:, -4:]):
        assert edge.min() == 255, "something is drawn over the edge of the paper"


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: type(chart).__name__)
def test_the_same_chart_gives_the_same_bytes_whatever_the_settings_of_the_machine(chart: Chart) -> None:
    first = chart_png(chart, width_mm=120, height_mm=70)
    with matplotlib.rc_context({"axes.facecolor": "black", "font.size": 30, "lines.linewidth": 9}):
        assert chart_png(chart, width_mm=120, height_mm=70) == first


def test_the_same_bytes_under_another_hash_seed_and_time_zone(tmp_path: Path) -> None:
    (tmp_path / "matplotlibrc").write_text("figure.facecolor: red\nfont.size: 4\n", encoding="utf-8")
    script = (
        "import hashlib; from reportgen.render.charts import chart_png; from tests.render.test_charts import CHARTS; "
        "print([hashlib.sha256(chart_png(c, width_mm=100, height_mm=60)).hexdigest() for c in CHARTS])"
    )
    digests = set()
    for more in ({"PYTHONHASHSEED": "0"}, {"PYTHONHASHSEED": "99", "TZ": "Asia/Tokyo", "MATPLOTLIBRC": str(tmp_path)}):
        ran = subprocess.run(
            [sys.executable, "-c", script],
            cwd=REPOSITORY,
            env={**os.environ, **more},
            capture_output=True,
            text=True,
            check=True,
        )
        digests.add(ran.stdout)
    assert len(digests) == 1


def test_every_value_limit_and_bound_is_drawn_at_its_height() -> None:
    sheet, chart = frame(), values_chart(3)
    draw_values(sheet, chart)
    axes = sheet.canvas.axes[0]
    drawn = np.concatenate([line.get_xydata() for line in axes.lines if line.get_marker() in ("o", "D")])
    asked = {
        (round(i + x, 9), round(y, 9))
        for i, one in enumerate(chart.series)
        for x, y in zip(one.positions, one.values, strict=True)
    }
    assert {(round(float(x), 9), round(float(y), 9)) for x, y in drawn} == asked
    level = [line.get_ydata()[0] for line in axes.lines if list(line.get_xdata()) == [0, 1]]
    assert level == [line.value for line in chart.lines]
    assert axes.get_ylim()[0] < min(line.value for line in chart.lines)


def test_values_that_were_set_aside_differ_in_shape_not_only_in_shade() -> None:
    sheet = frame()
    draw_values(sheet, values_chart(2))
    shapes = {line.get_marker() for line in sheet.canvas.axes[0].lines} - {"None"}
    assert shapes == {"o", "D"}
    assert any("set aside" in text.get_text() for text in sheet.canvas.axes[0].texts)


def test_limits_bounds_and_means_differ_in_dash() -> None:
    sheet = frame()
    draw_values(sheet, values_chart(2))
    level = [line for line in sheet.canvas.axes[0].lines if list(line.get_xdata()) == [0, 1]]
    assert len({str(line._unscaled_dash_pattern) for line in level}) == 3


def label_boxes(sheet: Frame) -> list[tuple[float, float]]:
    renderer = sheet.canvas.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = [text.get_window_extent(renderer) for text in sheet.canvas.axes[0].texts if text.get_position()[0] > 1]
    return sorted((box.y0, box.y1) for box in boxes)


@pytest.mark.parametrize("gap", [0.0, 0.001, 0.05, 1.0])
def test_labels_of_close_lines_do_not_overlap(gap: float) -> None:
    lines = tuple(
        Line(label=f"line {i}: a rather long label, {10 + i * gap:.3f} N", value=10 + i * gap, style="bound")
        for i in range(5)
    )
    with matplotlib.rc_context(STYLE):
        sheet = frame()
        draw_values(sheet, dataclasses.replace(values_chart(2), lines=lines))
        boxes = label_boxes(sheet)
    assert len(boxes) == 5
    assert all(upper[0] >= lower[1] - 1 for lower, upper in pairwise(boxes)), boxes


@given(st.lists(st.floats(-50, 150), min_size=1, max_size=12), st.lists(st.floats(0.5, 9), min_size=12, max_size=12))
def test_spread_keeps_labels_apart_in_order_and_inside(wanted: list[float], heights: list[float]) -> None:
    sizes = heights[: len(wanted)]
    centres = spread(wanted, sizes, low=0.0, high=110.0)
    scale = min(1.0, 110.0 / sum(sizes))
    order = sorted(range(len(wanted)), key=lambda index: (wanted[index], index))
    for below, above in pairwise(order):
        assert centres[above] - centres[below] >= (sizes[below] + sizes[above]) / 2 * scale - 1e-6
    assert all(
        c - s * scale / 2 >= -1e-6 and c + s * scale / 2 <= 110 + 1e-6 for c, s in zip(centres, sizes, strict=True)
    )


def test_a_label_that_has_room_stays_where_it_is_wanted() -> None:
    assert spread([10.0, 50.0], [4.0, 4.0], low=0, high=100) == [10.0, 50.0]


@pytest.mark.parametrize("text", ["$x_1$ \\frac", "a" * 500, "\x00\x07\ud800", "", "\u4e2d\u6587 label", "שלום"])
def test_any_label_is_drawn(text: str) -> None:
    chart = values_chart(2)
    named = tuple(dataclasses.replace(series, label=text) for series in chart.series)
    drawn = dataclasses.replace(chart, axis=text, series=named, lines=(Line(label=text, value=10, style="limit"),))
    assert pixels(chart_png(drawn, width_mm=160, height_mm=85)).min() < 200


@pytest.mark.parametrize(
    "chart",
    [
        ValuesChart(axis="x", series=(), lines=()),
        TraceChart(curves=(), window_mm=None, limits=()),
        ReliabilityChart(bars=()),
        dataclasses.replace(values_chart(1), lines=()),
        values_chart(40),
    ],
    ids=["no series", "no curves", "no bars", "no lines", "forty lots"],
)
def test_extreme_charts_are_drawn(chart: Chart) -> None:
    assert chart_png(chart, width_mm=160, height_mm=85).startswith(b"\x89PNG")


def test_many_curves_are_marked_and_counted() -> None:
    sheet = frame()
    draw_traces(sheet, trace_chart(12))
    axes = sheet.canvas.axes[0]
    drops = next(line for line in axes.lines if line.get_marker() == "v")
    assert len(drops.get_xdata()) == 12
    assert any("12 curves" in text.get_text() for text in axes.texts)


def test_decimation_keeps_the_ends_and_each_extreme() -> None:
    x = np.linspace(0, 100, 50_000)
    y = np.sin(x * 7) + 0.01 * x
    y[31_415] = 9.0
    y[27_182] = -9.0
    curve = TraceCurve(label="", displacement_mm=tuple(x), force_n=tuple(y), drop=None, later_peak=None)
    kept_x, kept_y = decimated(curve)
    assert len(kept_x) < 3_000
    assert (kept_x[0], kept_x[-1], kept_y.max(), kept_y.min()) == (x[0], x[-1], 9.0, -9.0)
    assert np.all(np.diff(kept_x) > 0)


def test_reliability_bars_stand_on_a_scale_of_nines() -> None:
    sheet = frame()
    draw_reliability(sheet, reliability_chart())
    axes = sheet.canvas.axes[0]
    widths = [bar.get_width() for bar in axes.patches]
    # -log10(1 - R) by hand: 0.9992 gives 3.0969, 0.95 gives 1.3010, 0.8 gives 0.6990; 1 ends at five nines; what is
    # not tested is an outline up to the 0.99 required
    assert widths == pytest.approx([3.0969, 1.3010, 0.6990, 2.0, 5.0], abs=5e-5)
    hatches = [bar.get_hatch() for bar in axes.patches]
    assert hatches[:3] == [None, "////", "xxxx"]


def test_names_of_lots_stay_whole_in_narrow_columns() -> None:
    series = tuple(Series(label=f"LT-26{at:02d} aged", values=(1.0,), positions=(0.0,)) for at in range(10))
    drawn = frame(height_mm=75)
    wide = (Line(label="lower limit of a long name 1.00 N", value=1.0, style="limit"),)
    draw_values(drawn, ValuesChart(axis="x [N]", series=series, lines=wide))
    labels = drawn.canvas.axes[0].get_xticklabels()
    assert [label.get_text() for label in labels] == [f"LT-26{at:02d}\naged" for at in range(10)]
    assert all(5.5 < label.get_fontsize() < 7.5 for label in labels), labels[0].get_fontsize()


def text_boxes(sheet: Frame) -> list[tuple[str, Bbox]]:
    """Every text of the picture as it is drawn, names of axes and columns among them."""
    renderer = sheet.canvas.canvas.get_renderer()  # type: ignore[attr-defined]
    sheet.canvas.draw(renderer)
    hidden = {
        label
        for axes in sheet.canvas.axes
        for axis in (axes.xaxis, axes.yaxis)
        for place, label in zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=True)
        if not min(axis.get_view_interval()) <= place <= max(axis.get_view_interval())
    }
    texts = [one for one in sheet.canvas.findobj(Text) if isinstance(one, Text) and one.get_visible()]
    return [(one.get_text(), one.get_window_extent(renderer)) for one in texts if one.get_text() and one not in hidden]


def assert_apart_and_on_the_paper(sheet: Frame) -> None:
    boxes = text_boxes(sheet)
    assert len(boxes) > 5
    for (name, one), (other_name, other) in combinations(boxes, 2):
        across = min(one.x1, other.x1) - max(one.x0, other.x0)
        along = min(one.y1, other.y1) - max(one.y0, other.y0)
        # a dot is 0.1 mm; boxes of text hold a little air above and below
        assert across <= 1 or along <= 4, (name, other_name)
    paper = sheet.canvas.bbox
    for name, box in boxes:
        assert (max(paper.x0, box.x0), max(paper.y0, box.y0)) == (box.x0, box.y0), name
        assert (min(paper.x1, box.x1), min(paper.y1, box.y1)) == (box.x1, box.y1), name


def grouped_chart(groups: int, *, lots: int, gap: float = 1.0, unit: str = "N") -> ValuesChart:
    """Groups of lots, each with a bound of its own, over a limit common to all."""
    series = tuple(
        Series(
            label=f"LT-26{at:02d} {'aged' if at % 2 else 'fresh'}",
            values=tuple(14.0 + 0.4 * n for n in range(5)),
            positions=(0.0,) * 5,
            count="n = 5",
        )
        for at in range(groups * lots)
    )
    bounds = tuple(
        Line(
            label=f"lower bound {12 + gap * (at % 2):.4f}\u00a0{unit}",
            value=12 + gap * (at % 2),
            style="bound",
            columns=(at * lots, at * lots + lots - 1),
            short=f"{12 + gap * (at % 2):.4f}\u00a0{unit}",
        )
        for at in range(groups)
    )
    limit = Line(label=f"lower limit 11.0\u00a0{unit}", value=11.0, style="limit")
    return ValuesChart(axis="Bond strength [N]", series=series, lines=(limit, *bounds), span=(11.0, 16.0))


@pytest.mark.parametrize(("groups", "lots"), [(1, 3), (2, 3), (3, 1), (6, 1), (9, 1), (5, 2), (12, 1)])
@pytest.mark.parametrize("gap", [0.0, 0.3, 1.0])
def test_bounds_stay_within_their_lots_and_are_labelled_there_without_touching(
    groups: int, lots: int, gap: float
) -> None:
    with matplotlib.rc_context(STYLE):
        sheet, chart = frame(height_mm=75), grouped_chart(groups, lots=lots, gap=gap)
        draw_values(sheet, chart)
        axes = sheet.canvas.axes[0]
        for line in chart.lines[1:]:
            assert line.columns is not None
            ends = [
                list(one.get_xdata())
                for one in axes.lines
                if len(one.get_xdata()) == 2 and one.get_ydata()[0] == line.value == one.get_ydata()[1]
            ]
            assert any(line.columns[0] - 0.5 < a and b < line.columns[1] + 0.5 for a, b in ends), ends
        labels = [text for text in axes.texts if text.get_gid() == "own line"]
        assert len(labels) == groups
        renderer = sheet.canvas.canvas.get_renderer()  # type: ignore[attr-defined]
        for label, line in zip(labels, chart.lines[1:], strict=True):
            box = label.get_window_extent(renderer).transformed(axes.transData.inverted())
            assert line.columns is not None
            assert line.columns[0] - 0.5 <= box.x0 <= box.x1 <= line.columns[1] + 0.5
        assert_apart_and_on_the_paper(sheet)


def test_a_limit_off_the_scale_leaves_the_axis_alone_and_stands_at_its_edge() -> None:
    chart = dataclasses.replace(
        grouped_chart(2, lots=2),
        lines=(
            Line(label="upper limit 28.0 s", value=28.0, style="limit"),
            Line(label="acceptance limit 27.3 s", value=27.3, style="acceptance"),
        ),
    )
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=75)
        draw_values(sheet, chart)
        axes = sheet.canvas.axes[0]
        assert axes.get_ylim()[1] < 17
        found = {text.replace("\n", " "): box for text, box in text_boxes(sheet)}
        nearer, farther = (
            found[f"{name}, off the scale"] for name in ("acceptance limit 27.3 s", "upper limit 28.0 s")
        )
        assert nearer.y1 <= farther.y0 + 1
        # each has an arrow of its own beside it, and no leader to a line that is not there
        heads = [one for one in axes.lines if one.get_marker() == "^"]
        assert len(heads) == 2
        for head, box in zip(heads, (nearer, farther), strict=True):
            ((x, y),) = axes.transAxes.transform(head.get_xydata())
            assert box.y0 < y < box.y1
            assert 0 < box.x0 - x < 3 / 25.4 * DOTS_PER_INCH
        outside = [one for one in axes.lines if one.get_transform() == axes.transAxes]
        assert {one.get_gid() for one in outside} == {"arrow"}
        assert_apart_and_on_the_paper(sheet)


@pytest.mark.parametrize("lots", [1, 3, 6, 9, 11])
def test_names_and_numbers_of_lots_stand_under_their_columns_without_touching(lots: int) -> None:
    chart = grouped_chart(1, lots=lots)
    empty = dataclasses.replace(chart.series[-1], values=(), positions=(), count="no result yet")
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=75)
        draw_values(sheet, dataclasses.replace(chart, series=(*chart.series[:-1], empty), lines=()))
        shown = [label.get_text().split("\n") for label in sheet.canvas.axes[0].get_xticklabels()]
        assert [" ".join(lines) for lines in shown[:-1]] == [
            f"{one.label} n\u00a0=\u00a05" for one in chart.series[:-1]
        ]
        assert " ".join(shown[-1]).endswith("no result yet")
        assert_apart_and_on_the_paper(sheet)


@pytest.mark.parametrize("lots", [12, 40, 90])
def test_upright_names_of_many_lots_do_not_touch(lots: int) -> None:
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=75)
        draw_values(sheet, dataclasses.replace(grouped_chart(lots, lots=1), lines=()))
        labels = [label for label in sheet.canvas.axes[0].get_xticklabels() if label.get_text()]
        assert len(labels) >= min(lots, 40) * 0.9
        assert_apart_and_on_the_paper(sheet)


def test_many_bars_with_long_names_do_not_touch() -> None:
    bars = tuple(
        dataclasses.replace(reliability_chart().bars[at % 5], label=f"DI-{at:03d}, LM-09-058 of the long series, aged")
        for at in range(44)
    )
    with matplotlib.rc_context(STYLE):
        sheet = frame(height_mm=210)
        draw_reliability(sheet, ReliabilityChart(bars=bars))
        assert_apart_and_on_the_paper(sheet)


@pytest.mark.parametrize("width_mm", [90, 120, 160])
def test_texts_of_bars_do_not_touch_and_each_kind_is_in_the_legend(width_mm: float) -> None:
    chart = reliability_chart()
    aside = dataclasses.replace(chart.bars[1], counts=False, text="99.999 %")
    kinds = [
        "required reliability",
        "met",
        "not demonstrated",
        "not met",
        "for information, does not count",
        "not tested",
    ]
    with matplotlib.rc_context(STYLE):
        sheet = frame(width_mm=width_mm, height_mm=85)
        draw_reliability(sheet, ReliabilityChart(bars=(*chart.bars, aside)))
        texts = [text for text, _ in text_boxes(sheet)]
        assert [text for text in texts if text in kinds] == kinds
        looks = {
            (bar.get_hatch(), str(bar.get_linestyle()), bar.get_facecolor()) for bar in sheet.canvas.axes[0].patches
        }
        assert len(looks) == 5
        assert len({look[:2] for look in looks}) == 5, "kinds must differ without colour"
        if width_mm >= 120:
            assert_apart_and_on_the_paper(sheet)


@pytest.mark.parametrize("curves", [1, 3, 6])
def test_the_legend_of_traces_stands_outside_the_plot(curves: int) -> None:
    with matplotlib.rc_context(STYLE):
        sheet = frame()
        draw_traces(sheet, trace_chart(curves))
        boxes = dict(text_boxes(sheet))
        plot = sheet.canvas.axes[0].get_window_extent()
        assert all(boxes[f"specimen S-{at:03d}"].y0 > plot.y1 for at in range(curves))
        assert_apart_and_on_the_paper(sheet)


def curve_with_marks(places: tuple[float, ...]) -> tuple[Frame, list[Bbox]]:
    """A curve with its marks, and the boxes of their labels in data units."""
    curve = tuple((0.8 + 0.002 * at, (at / 100) ** 3) for at in range(101))
    marks = tuple(zip(places, ("required", "expected"), strict=False))
    sheet = frame()
    draw_curve(sheet, CurveChart(x_axis="True reliability", y_axis="Chance", points=curve, marks=marks))
    axes, renderer = sheet.canvas.axes[0], sheet.canvas.canvas.get_renderer()  # type: ignore[attr-defined]
    to_data = axes.transData.inverted()
    return sheet, [text.get_window_extent(renderer).transformed(to_data) for text in axes.texts]


@pytest.mark.parametrize("places", [(0.95, 0.985), (0.95, 0.952), (0.81, 0.812), (0.99, 0.995), (0.9,)])
def test_labels_of_the_marks_of_a_curve_do_not_touch(places: tuple[float, ...]) -> None:
    with matplotlib.rc_context(STYLE):
        sheet, boxes = curve_with_marks(places)
        assert len(boxes) == len(places)
        assert_apart_and_on_the_paper(sheet)


@pytest.mark.parametrize("places", [(0.95, 0.952), (0.952, 0.95), (0.85, 0.9)])
def test_labels_of_marks_close_together_stand_on_their_far_sides(places: tuple[float, ...]) -> None:
    with matplotlib.rc_context(STYLE):
        _, boxes = curve_with_marks(places)
        # a dot is 0.00016; a label begins at its own mark
        assert not any(box.x0 + 3e-4 < place < box.x1 - 3e-4 for box in boxes for place in places)


def test_fold_never_gives_more_lines_or_longer_ones() -> None:
    assert fold("one two three four five six", 15, lines=2) == "one two\nthree …" or len(fold("a b", 15, lines=2)) <= 3
    for line in fold("x" * 300, 30, lines=3).split("\n"):
        assert len(line) <= 20
