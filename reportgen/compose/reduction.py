"""What `reduce` hands out: the values of a protocol's traces as a table, a chart for each, an overlay per group."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.compose.charts import curve_of, window_of
from reportgen.compose.records import Line, TraceChart
from reportgen.lab.records import ReducedTrace

_COLUMNS = (
    "specimen",
    "force_n",
    "displacement_mm",
    "dropped",
    "later_higher_peak",
    "later_force_n",
    "later_displacement_mm",
    "maximum_force_n",
    "maximum_displacement_mm",
    "baseline_n",
    "slack_mm",
    "smoothing_effect_n",
    "stiffness_n_per_mm",
    "work_to_drop_mj",
    "pull_rate_mm_per_min",
    "remarks",
    "trace",
    "sha256",
)


def reduction_table(reduced: Sequence[ReducedTrace]) -> str:
    """CSV with one row per trace, unrounded; `dropped` no means that the force is a lower bound of the true one."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for one in reduced:
        found = one.reduction
        writer.writerow(
            (
                _as_text(one.trace.specimen),
                _number(found.force_n),
                _number(found.displacement_mm),
                "yes" if found.dropped else "no",
                "yes" if found.later_higher_peak else "no",
                _number(found.later_force_n),
                _number(found.later_displacement_mm),
                _number(found.maximum_force_n),
                _number(found.maximum_displacement_mm),
                _number(one.baseline_n),
                _number(one.slack_mm),
                _number(one.smoothing_effect_n),
                _number(one.stiffness_n_per_mm),
                _number(one.work_to_drop_mj),
                _number(one.pull_rate_mm_per_min),
                "; ".join(remark.kind.value for remark in one.remarks),
                one.trace.place.file,
                one.trace.sha256,
            )
        )
    return buffer.getvalue()


def reduction_data(reduced: Sequence[ReducedTrace]) -> list[dict[str, object]]:
    """The same for `--json`; what does not apply is null."""
    return [
        {
            "protocol": one.trace.protocol,
            "specimen": one.trace.specimen,
            "force_n": one.reduction.force_n,
            "displacement_mm": one.reduction.displacement_mm,
            "dropped": one.reduction.dropped,
            "later_higher_peak": one.reduction.later_higher_peak,
            "later_force_n": one.reduction.later_force_n,
            "maximum_force_n": one.reduction.maximum_force_n,
            "stiffness_n_per_mm": one.stiffness_n_per_mm,
            "work_to_drop_mj": one.work_to_drop_mj,
            "pull_rate_mm_per_min": one.pull_rate_mm_per_min,
            "remarks": [{"kind": remark.kind.value, "message": remark.message} for remark in one.remarks],
            "trace": one.trace.place.file,
        }
        for one in reduced
    ]


def trace_charts(
    reduced: Sequence[ReducedTrace], results: Sequence[DesignInputResult], protocol: str
) -> Iterator[tuple[str, TraceChart]]:
    """(file name without ending, chart) for each trace, then an overlay for each group that was evaluated."""
    evaluations = [e for result in results for e in result.evaluations if e.protocol == protocol and e.unit == "N"]
    limits = _limits(evaluations)
    for one in reduced:
        name = f"trace_{_file_name(one.trace.specimen)}"
        yield name, TraceChart(curves=(curve_of(one),), window_mm=window_of([one]), limits=limits)
    by_specimen = {one.trace.specimen: one for one in reduced}
    for evaluation in evaluations:
        members = [by_specimen[value.specimen] for value in evaluation.values if value.specimen in by_specimen]
        if members:
            name = f"overlay_{_file_name('_'.join((evaluation.design_input, evaluation.group or 'all')))}"
            chart = TraceChart(
                curves=tuple(curve_of(one) for one in members), window_mm=window_of(members), limits=limits
            )
            yield name, chart


def _limits(evaluations: Sequence[Evaluation]) -> tuple[Line, ...]:
    found = {("lower limit", e.lower_limit) for e in evaluations} | {
        ("upper limit", e.upper_limit) for e in evaluations
    }
    return tuple(
        Line(label=f"{label} {value:g} N", value=value, style="limit")
        for label, value in sorted(found, key=str)
        if value is not None
    )


def _number(value: float | None) -> str:
    return "" if value is None or not math.isfinite(value) else repr(float(value))


def _as_text(text: str) -> str:
    """An id that a spreadsheet would take for a formula gets a leading apostrophe."""
    return f"'{text}" if text[:1] in {"=", "+", "-", "@"} else text


def _file_name(text: str) -> str:
    return "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "_" for sign in text)
