"""Charts as PNG files in one style: fixed margins, the same bytes for the same chart, readable in a grey print.

Nothing here reads a clock, a configuration file or a screen. Texts are never taken for mathematical notation. The
type is DejaVu Sans, which comes with matplotlib, so that every machine draws the same.
"""

from __future__ import annotations

import io
import warnings
from typing import Any, cast

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure as Canvas

from reportgen.compose.records import Chart, CurveChart, ProbabilityChart, ReliabilityChart, TraceChart, ValuesChart
from reportgen.render.chart_bars import draw_reliability
from reportgen.render.chart_curves import draw_curve
from reportgen.render.chart_kinds import draw_probability, draw_traces, draw_values
from reportgen.render.chart_style import DOTS_PER_INCH, STYLE, Frame

_MM_PER_INCH = 25.4


def chart_png(chart: Chart, *, width_mm: float, height_mm: float) -> bytes:
    """The chart at its printed size, at more than 200 dots per inch."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        cast("dict[str, Any]", matplotlib.rcParams).update(STYLE)
        # A script without glyphs in this type is drawn as boxes; that is no reason to stop.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        canvas = Canvas(figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH), dpi=DOTS_PER_INCH)
        FigureCanvasAgg(canvas)
        frame = Frame(canvas, width_mm=width_mm, height_mm=height_mm)
        match chart:
            case ValuesChart():
                draw_values(frame, chart)
            case ProbabilityChart():
                draw_probability(frame, chart)
            case TraceChart():
                draw_traces(frame, chart)
            case ReliabilityChart():
                draw_reliability(frame, chart)
            case CurveChart():
                draw_curve(frame, chart)
        buffer = io.BytesIO()
        canvas.savefig(
            buffer, format="png", dpi=DOTS_PER_INCH, metadata={"Software": None}, pil_kwargs={"compress_level": 4}
        )
        return buffer.getvalue()
