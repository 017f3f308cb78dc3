"""Individual values, a column for each lot, with the lines that belong to all lots or to a group of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from reportgen.acceptance.records import Evaluation
from reportgen.compose.chart_axes import axis_span, axis_title, side_by_side, with_unit
from reportgen.compose.chart_lines import (
    FOR_INFORMATION,
    NOT_COUNTED,
    SIDES,
    bound_line,
    drawn,
    limit_lines,
    names_of,
    notes_on,
    off_the_scale,
)
from reportgen.compose.charts import sources_of
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Figure, Line, Series, ValuesChart
from reportgen.compose.sentences import group_name
from reportgen.compose.wording import counted, name_of
from reportgen.project.records import Protocol

NO_RESULT_YET = "no result yet"


@dataclass(slots=True)
class _Column:
    """One lot in one condition: readings that count and readings set aside, `group` the evaluation it belongs to."""

    model: str
    lot: str
    condition: str
    group: int
    values: list[float] = field(default_factory=list)
    aside: list[float] = field(default_factory=list)


def values_figure(dossier: Dossier, evaluations: Sequence[Evaluation], *, anchor: str, key: str) -> Figure | None:
    """Every value by lot with limits and bounds, for the evaluations of one design input under one protocol."""
    if not any(one.value is not None for evaluation in evaluations for one in evaluation.values):
        return None
    first = evaluations[0]
    design_input = dossier.project.design_input(first.design_input)
    name = name_of(design_input)
    columns = _columns(dossier, evaluations)
    limits, bounds = limit_lines(dossier, first), _bounds(dossier, evaluations, columns)
    readings = [value for column in columns for value in (*column.values, *column.aside)]
    span = axis_span([*readings, *(line.value for line in bounds)], [line.value for line in limits])
    series = _series(dossier, evaluations, columns, span)
    lines = (*limits, *bounds)
    information = f", {FOR_INFORMATION}" if first.standing else ""
    chart = ValuesChart(
        axis=axis_title(name, first.unit),
        series=series,
        lines=lines,
        span=span,
        note=NOT_COUNTED if first.standing else "",
    )
    with_lines = f", with {names_of(drawn(lines, span))}" if drawn(lines, span) else ""
    return Figure(
        anchor=anchor, key=key, chart=chart, alt=_alt(name, chart, evaluations, columns),
        caption=f"{name[:1].upper()}{name[1:]} by lot{with_lines}{information} ({design_input.id})",
        height_mm=75.0, source=sources_of(evaluations), note=" ".join(notes_on(evaluations, lines, span)),
    )  # fmt: skip


def _columns(dossier: Dossier, evaluations: Sequence[Evaluation]) -> list[_Column]:
    """In the order of the evaluations, so that the lots of a group stand together; planned ones without result too."""
    found: dict[tuple[str, str, str], _Column] = {}
    for group, evaluation in enumerate(evaluations):
        for one in evaluation.values:
            if one.value is not None:
                key = (one.model, one.lot, one.condition)
                found.setdefault(key, _Column(*key, group)).values.append(one.value)
    first = evaluations[0]
    measured = dossier.measurements_of(first.protocol).of(design_input=first.design_input)
    set_aside = measured.where(excluded=True, missing=False)
    for (model, lot, condition, text), _ in set_aside.rows("model", "lot", "condition", "value"):
        if math.isfinite(float(text)):
            group = _group_of(evaluations, model, condition)
            found.setdefault((model, lot, condition), _Column(model, lot, condition, group)).aside.append(float(text))
    there = {(lot, condition) for _, lot, condition in found}
    models = {(lot.lot, lot.condition): lot.model for lot in dossier.project.lots}
    for planned in dossier.project.protocol(first.protocol).sampling.groups:
        where = (planned.lot, planned.condition)
        if where not in there:
            model = models.get(where, "")
            found[(model, *where)] = _Column(model, *where, _group_of(evaluations, model, planned.condition))
    return sorted(found.values(), key=lambda column: (column.group, not column.values))


def _group_of(evaluations: Sequence[Evaluation], model: str, condition: str) -> int:
    """The last evaluation of such articles; behind all of them where there is none."""
    fitting = [at for at, one in enumerate(evaluations) if model in one.models and condition in one.conditions]
    return fitting[-1] if fitting else len(evaluations)


def _bounds(dossier: Dossier, evaluations: Sequence[Evaluation], columns: Sequence[_Column]) -> tuple[Line, ...]:
    """The bounds of each evaluation over the columns that it was computed from, of a single one over all."""
    found = []
    for group, evaluation in enumerate(evaluations):
        own = [at for at, column in enumerate(columns) if column.group == group and column.values]
        whole = len(own) == len(columns)
        for side in SIDES:
            span = None if whole or not own else (own[0], own[-1])
            line = bound_line(dossier, evaluation, side, columns=span)
            if line is not None and own:
                found.append(line)
    return tuple(found)


def _series(
    dossier: Dossier, evaluations: Sequence[Evaluation], columns: Sequence[_Column], span: tuple[float, float]
) -> tuple[Series, ...]:
    several = len({column.condition for column in columns}) > 1
    protocol = dossier.project.protocol(evaluations[0].protocol)
    outstanding = any(one.n_missing for one in evaluations)
    found = []
    for column in columns:
        values = (*column.values, *column.aside)
        found.append(
            Series(
                label=f"{column.lot} {column.condition}" if several and column.condition else column.lot,
                values=values,
                positions=side_by_side(values, columns=len(columns), span=span),
                hollow=(False,) * len(column.values) + (True,) * len(column.aside),
                count=_count(column, _planned(protocol, column), outstanding=outstanding),
            )
        )
    return tuple(found)


def _planned(protocol: Protocol, column: _Column) -> int:
    return sum(
        group.n for group in protocol.sampling.groups if (group.lot, group.condition) == (column.lot, column.condition)
    )


def _count(column: _Column, planned: int, *, outstanding: bool) -> str:
    if not column.values and not column.aside:
        return NO_RESULT_YET if outstanding else "no result"
    short = len(column.values) + len(column.aside) < planned
    return f"n = {len(column.values)}{f' of {planned}' if short else ''}"


def _alt(name: str, chart: ValuesChart, evaluations: Sequence[Evaluation], columns: Sequence[_Column]) -> str:
    """What is drawn, where, and what lies off the scale, for people who do not see the figure."""
    readings = [value for column in columns for value in column.values]
    aside = sum(len(column.aside) for column in columns)
    lots = "; ".join(f"{one.label}, {one.count}" for one in chart.series)
    lines = [
        line.label
        if line.columns is None
        else f"{line.label} for {group_name(evaluations[columns[line.columns[0]].group])}"
        for line in drawn(chart.lines, chart.span)
    ]
    unit = evaluations[0].unit
    extent = f"from {with_unit(f'{min(readings):g}', '')} to {with_unit(f'{max(readings):g}', unit)}"
    told = [
        f"Individual values of {name} by lot ({lots}): {counted(len(readings), 'value')} {extent}"
        f"{f', and {aside} set aside' if aside else ''}.",
        f"Lines: {'; '.join(lines)}." if lines else "",
        off_the_scale(chart.lines, chart.span),
    ]
    return " ".join(filter(None, told))
