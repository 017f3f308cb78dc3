"""What to plot, as data: values by lot, traces, demonstrated reliabilities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from reportgen.acceptance.records import Evaluation, SpecimenValue
from reportgen.compose.bound import files_of
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import (
    Bar,
    Figure,
    Line,
    ReliabilityChart,
    Series,
    TraceChart,
    TraceCurve,
    ValuesChart,
)
from reportgen.compose.sentences import group_name
from reportgen.compose.wording import counted, listed, plain_words
from reportgen.lab.records import ReducedTrace

MOST_BOUND_LINES = 3
MOST_CURVES = 5
MOST_POINTS_PER_CURVE = 600
# the widest offset of a point from the middle of its lot's column
SPREAD = 0.32


def offsets(count: int) -> tuple[float, ...]:
    """Positions that keep neighbours apart, the same on every run: the base-2 radical inverse of 1, 2, 3..."""
    found = []
    for number in range(1, count + 1):
        share, digit = 0.0, 0.5
        while number:
            share += digit * (number & 1)
            number >>= 1
            digit /= 2
        found.append(round((2 * share - 1) * SPREAD, 6))
    return tuple(found)


def values_figure(dossier: Dossier, evaluations: Sequence[Evaluation], *, anchor: str, key: str) -> Figure | None:
    """Every value by lot with limits and bounds, for the evaluations of one design input under one protocol."""
    with_values = [evaluation for evaluation in evaluations if any(one.value is not None for one in evaluation.values)]
    if not with_values:
        return None
    first = with_values[0]
    design_input = dossier.project.design_input(first.design_input)
    series = _series(dossier, with_values)
    name = plain_words(design_input.characteristic)
    chart = ValuesChart(axis=f"{name} [{first.unit}]", series=series, lines=_lines(dossier, with_values))
    shown = sum(len(one.values) - sum(one.hollow) for one in series)
    aside = sum(sum(one.hollow) for one in series)
    set_aside = f"; {counted(aside, 'value')} set aside drawn hollow" if aside else ""
    alt = (
        f"Individual values of {name} for {listed([one.label for one in series])}: {counted(shown, 'value')}, with "
        f"{listed([line.label for line in chart.lines])}."
    )
    return Figure(
        anchor=anchor, key=key, chart=chart, alt=alt,
        caption=f"Individual values of {name} by lot, with limits and tolerance bounds ({design_input.id}{set_aside})",
        height_mm=75.0, source=sources_of(with_values),
    )  # fmt: skip


def _series(dossier: Dossier, evaluations: Sequence[Evaluation]) -> tuple[Series, ...]:
    readings: dict[tuple[str, str, str], list[tuple[float, bool]]] = {}
    for evaluation in evaluations:
        for one in evaluation.values:
            if one.value is not None:
                readings.setdefault(_column(one.model, one.lot, one.condition), []).append((one.value, False))
    first = evaluations[0]
    rows = (
        dossier.measurements_of(first.protocol).of(design_input=first.design_input).where(excluded=True, missing=False)
    )
    for (model, lot, condition, text), _ in rows.rows("model", "lot", "condition", "value"):
        value = float(text)
        if math.isfinite(value):
            readings.setdefault(_column(model, lot, condition), []).append((value, True))
    conditions = {column[2] for column in readings}
    return tuple(
        Series(
            label=f"{lot} {condition}" if len(conditions) > 1 and condition else lot,
            values=tuple(value for value, _ in points),
            positions=offsets(len(points)),
            hollow=tuple(hollow for _, hollow in points),
        )
        for (_, lot, condition), points in readings.items()
    )


def _column(model: str, lot: str, condition: str) -> tuple[str, str, str]:
    return (model, lot, condition)


def _lines(dossier: Dossier, evaluations: Sequence[Evaluation]) -> tuple[Line, ...]:
    found: list[Line] = []
    first = evaluations[0]
    for side in ("lower", "upper"):
        limit = getattr(first, f"{side}_limit")
        if limit is not None:
            found.append(
                Line(
                    label=f"{side} limit {shown_quantity(dossier, first, f'{side}_limit')}", value=limit, style="limit"
                )
            )
        bounded = [evaluation for evaluation in evaluations if getattr(evaluation, f"{side}_bound") is not None]
        if len(bounded) > MOST_BOUND_LINES:
            sign = 1 if side == "lower" else -1
            bounded = [min(bounded, key=lambda one: sign * getattr(one, f"{side}_bound"))]
            which = "lowest lower bound" if side == "lower" else "highest upper bound"
        else:
            which = f"{side} bound"
        for one in bounded:
            group = f", {group_name(one)}" if len(evaluations) > 1 else ""
            label = f"{which}{group} {shown_quantity(dossier, one, f'{side}_bound')}"
            found.append(Line(label=label, value=getattr(one, f"{side}_bound"), style="bound"))
    return tuple(found)


def sources_of(evaluations: Sequence[Evaluation]) -> str:
    """The files that hold the readings, as the line below a figure or a table names them."""
    return listed(sorted({file for one in evaluations for file in files_of(one)}))


def shown_quantity(dossier: Dossier, evaluation: Evaluation, name: str) -> str:
    """A bound value with its unit, as a label of a chart prints it."""
    return "".join(run.text for run in dossier.quantity(evaluation, name))


def trace_figure(dossier: Dossier, evaluations: Sequence[Evaluation], *, anchor: str, key: str) -> Figure | None:
    """A few force-displacement records from the lowest to the highest value, with the first drop marked."""
    if not evaluations:
        return None
    protocol = dossier.project.protocol(evaluations[0].protocol)
    used: dict[str, SpecimenValue] = {one.specimen: one for evaluation in evaluations for one in evaluation.values}
    reduced = [
        one for one in dossier.reading.reduced if one.trace.protocol == protocol.id and one.trace.specimen in used
    ]
    if protocol.traces is None or protocol.traces.design_input != evaluations[0].design_input or not reduced:
        return None
    ranked = sorted(reduced, key=lambda one: (one.reduction.force_n, one.trace.specimen))
    last = len(ranked) - 1
    chosen = sorted({round(last * share / (MOST_CURVES - 1)) for share in range(MOST_CURVES)})
    chart = TraceChart(
        curves=tuple(curve_of(ranked[at]) for at in chosen),
        window_mm=window_of(reduced),
        limits=tuple(line for line in _lines(dossier, evaluations) if line.style == "limit")
        if evaluations[0].unit == "N"
        else (),
    )
    shown = listed([ranked[at].trace.specimen for at in chosen])
    later = sum(one.reduction.later_higher_peak for one in reduced)
    return Figure(
        anchor=anchor, key=key, chart=chart,
        caption=f"Force over displacement, specimens {shown}, from the lowest to the highest of {len(reduced)} values",
        alt=f"{counted(len(chosen), 'record')} of {len(reduced)}, the first drop marked on each; in {later} of "
        f"{len(reduced)} records a higher force follows later.",
        source=listed(ranked[at].trace.place.file for at in chosen),
    )  # fmt: skip


def curve_of(reduced: ReducedTrace) -> TraceCurve:
    """A record as a curve, thinned without losing a peak, with its first drop and a later, higher peak."""
    trace, reduction = reduced.trace, reduced.reduction
    kept = _thinned([float(force) for force in trace.force_n])
    later = (
        (reduction.later_displacement_mm, reduction.later_force_n)
        if reduction.later_higher_peak
        and reduction.later_displacement_mm is not None
        and reduction.later_force_n is not None
        else None
    )
    return TraceCurve(
        label=trace.specimen,
        displacement_mm=tuple(float(trace.displacement_mm[at]) for at in kept),
        force_n=tuple(float(trace.force_n[at]) for at in kept),
        drop=(reduction.displacement_mm, reduction.force_n) if reduction.dropped else None,
        later_peak=later,
    )


def window_of(reduced: Sequence[ReducedTrace]) -> tuple[float, float] | None:
    """The search window as far as the records reach; None where it leaves nothing out."""
    window = reduced[0].reduction.window_mm
    reaches = max(float(one.trace.displacement_mm[-1]) for one in reduced)
    bounded = math.isfinite(window[0]) and (window[0] > 0 or window[1] < reaches)
    return (max(window[0], 0.0), min(window[1], reaches)) if bounded else None


def _thinned(forces: Sequence[float]) -> tuple[int, ...]:
    """Positions to draw: of each stretch the lowest and the highest point, so that no peak is lost."""
    stretches = MOST_POINTS_PER_CURVE // 2
    if len(forces) <= MOST_POINTS_PER_CURVE:
        return tuple(range(len(forces)))
    edges = [round(len(forces) * at / stretches) for at in range(stretches + 1)]
    kept = {0, len(forces) - 1}
    for start, end in pairwise(edges):
        inside = range(start, end)
        kept |= {min(inside, key=forces.__getitem__), max(inside, key=forces.__getitem__)}
    return tuple(sorted(kept))


def reliability_figure(dossier: Dossier, *, anchor: str) -> Figure | None:
    """Demonstrated against claimed reliability, one bar per evaluation."""
    bars = tuple(
        Bar(
            label=f"{one.design_input}, {group_name(one)}",
            value=one.achieved_reliability,
            target=one.reliability,
            emphasis=one.verdict.value,
            text=dossier.number(one, "achieved_reliability").text,
        )
        for one in dossier.evaluations()
        if one.achieved_reliability is not None and one.reliability is not None
    )
    if not bars:
        return None
    short = [bar.label for bar in bars if bar.value < bar.target]
    said = f"; short of the claim: {'; '.join(short)}" if short else "; every bar reaches its claim"
    return Figure(
        anchor=anchor, key="section/achieved_reliability", chart=ReliabilityChart(bars=bars),
        caption="Demonstrated reliability against the reliability claimed, at the confidence claimed for each",
        alt=f"{counted(len(bars), 'bar')}{said}.",
        height_mm=min(210.0, 25.0 + 7.5 * len(bars)),
        source="the files named below the table of results of each test",
    )  # fmt: skip
