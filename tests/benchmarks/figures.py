"""Drawing a figure beside the usual way with a tight layout, in one run. Prints ratios; exit 1 when one is missed.

Run: python tests/benchmarks/figures.py
Goal: at least 1.3 times faster than the pyplot interface with tight layout, for the same points at the same size.
Processor time is compared, so that other work on the machine disturbs less.
"""

from __future__ import annotations

import io
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from reportgen.compose.records import ValuesChart
from reportgen.render.chart_style import DOTS_PER_INCH
from reportgen.render.charts import chart_png
from tests.render.sample_document import values_chart

LEAST_SPEED = 1.3


def the_usual_way(chart: ValuesChart) -> bytes:
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(160 / 25.4, 85 / 25.4))
    for index, series in enumerate(chart.series):
        axes.scatter([index + position for position in series.positions], series.values)
    for line in chart.lines:
        axes.axhline(line.value, label=line.label)
    axes.set_xticks(range(len(chart.series)), [series.label for series in chart.series])
    axes.set_ylabel(chart.axis)
    axes.legend()
    figure.tight_layout()
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=DOTS_PER_INCH)
    plt.close(figure)
    return buffer.getvalue()


def seconds(draw: Callable[[], bytes], *, times: int = 15) -> float:
    draw()
    spent = []
    for _ in range(times):
        start = time.process_time()
        draw()
        spent.append(time.process_time() - start)
    return min(spent)


def main() -> int:
    chart = values_chart()
    speed = seconds(lambda: the_usual_way(chart)) / seconds(lambda: chart_png(chart, width_mm=160, height_mm=85))
    print(f"faster than pyplot with tight layout: {speed:.2f} x   (goal: at least {LEAST_SPEED:g})")
    return int(speed < LEAST_SPEED)


if __name__ == "__main__":
    sys.exit(main())
