"""What to plot, as data: traces, demonstrated reliabilities."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from reportgen.acceptance.records import Evaluation, SpecimenValue
from reportgen.compose.bound import files_of
from reportgen.compose.chart_lines import limit_lines, names_of, notes_on
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import (
    Figure,
    TraceChart,
    TraceCurve,
)
from reportgen.compose.wording import listed
from reportgen.lab.records import ReducedTrace

MOST_CURVES = 5
MOST_POINTS_PER_CURVE = 600


def sources_of(evaluations: Sequence[Evaluation]) -> str:
    """The files that hold the readings, as the line below a figure or a table names them."""
    return listed(dict.fromkeys(file for one in evaluations for file in files_of(one)))


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
    limits = limit_lines(dossier, evaluations[0]) if evaluations[0].unit == "N" else ()
    chart = TraceChart(curves=tuple(curve_of(ranked[at]) for at in chosen), window_mm=window_of(reduced), limits=limits)
    marked = sum(curve.drop is not None for curve in chart.curves)
    later = sum(one.reduction.later_higher_peak for one in reduced)
    with_lines = f", with {names_of(limits)}" if limits else ""
    shown = listed([ranked[at].trace.specimen for at in chosen])
    return Figure(
        anchor=anchor, key=key, chart=chart,
        caption=f"Force over displacement of {len(chosen)} of {len(reduced)} specimens{with_lines}",
        alt=f"Force over displacement of specimens {shown}; the first drop is marked on {marked} of {len(chosen)} "
        f"curves. In {later} of all {len(reduced)} records a higher force follows later.",
        note=" ".join(
            [
                f"From the lowest to the highest value: {shown}.",
                *_without_drop(chart.curves),
                *notes_on(evaluations, limits, None),
            ]
        ),
        source=listed(ranked[at].trace.place.file for at in chosen),
    )  # fmt: skip


def _without_drop(curves: Sequence[TraceCurve]) -> tuple[str, ...]:
    names = [curve.label for curve in curves if curve.drop is None]
    return (f"Without a drop in the window, so without its mark: {listed(names)}.",) if names else ()


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
