"""The Word record of a study: its numbers by section, what was found, the figure, and the lines that link it."""

from __future__ import annotations

from reportgen.acceptance.records import Study, StudyValue
from reportgen.compose.article_tables import cell, filled
from reportgen.compose.chart_axes import axis_span, side_by_side
from reportgen.compose.finish import bound_in, finished
from reportgen.compose.offered import cautions_callout
from reportgen.compose.records import (
    Block,
    BoundValue,
    BuildFacts,
    Bullets,
    Cell,
    Column,
    Cover,
    Document,
    Figure,
    Heading,
    Paragraph,
    Run,
    Series,
    Table,
    ValuesChart,
)
from reportgen.rounding import p_value, percent, significant

OUTCOMES = {True: "the declared limits are met", False: "the declared limits are not met", None: "nothing was declared"}


def compose_study(study: Study, *, source: str, sha256: str, facts: BuildFacts) -> Document:
    """The record; every number is bound under `<kind>/<section>/<name>`, as far as it was computed."""
    bound = _bound(study, source)
    blocks: list[Block] = [
        Cover(
            title=study.title,
            subtitle=f"Result: {OUTCOMES[study.holds]}",
            facts=(
                *((("Number", study.number),) if study.number else ()),
                ("Data", source),
                ("SHA-256", sha256),
                ("Date", facts.date),
                ("Computed by", f"reportgen {facts.version}"),
            ),
            draft_reasons=(),
            approvals=(("Test engineering", ""), ("Statistics", ""), ("Design assurance", "")),
            history=(),
        ),
        Heading(level=1, text="Findings", anchor="findings"),
        Bullets(items=tuple((Run(text=finding),) for finding in study.findings)),
        Heading(level=1, text="Numbers", anchor="numbers"),
        *(_table(study, title, values, bound, at) for at, (title, values) in enumerate(study.sections)),
    ]
    if study.groups:
        blocks += [Heading(level=1, text="Values", anchor="values"), _figure(study)]
    if study.snippet:
        blocks += [Heading(level=1, text="Link to the project", anchor="link")]
        blocks += [Paragraph(runs=(Run(text=study.snippet.rstrip("\n"), code=True),))]
    blocks += [Heading(level=1, text="Cautions", anchor="cautions"), cautions_callout()]
    settled = finished(blocks)
    return Document(
        file_name=f"{study.kind}_study.docx",
        number=study.number,
        revision="",
        title=study.title,
        subject=source,
        author="",
        language="en-US",
        date=facts.date,
        draft=False,
        header_note="",
        footer_note=f"reportgen {facts.version}",
        blocks=settled,
        bound=bound_in(settled, bound),
    )


def _key(study: Study, section: str, name: str) -> str:
    return f"{study.kind}/{section}/{name}".replace(" ", "_")


def _bound(study: Study, source: str) -> dict[str, BoundValue]:
    found = {}
    for section, values in study.sections:
        for entry in values:
            for name, value in ((entry.name, entry.value), (f"{entry.name}_lower", entry.lower),
                                (f"{entry.name}_upper", entry.upper)):  # fmt: skip
                if value is not None:
                    key = _key(study, section, name)
                    found[key] = BoundValue(
                        key=key,
                        text=p_value(value) if name.endswith("_p") else _printed(value, entry.unit),
                        value=value,
                        unit=entry.unit,
                        origin=f"computed from {source}",
                    )
    return found


def _printed(value: float, unit: str) -> str:
    """Counts as whole numbers, the rest with four significant digits."""
    return str(int(value)) if not unit and value == int(value) and value >= 1 else significant(value)


def _table(
    study: Study, title: str, values: tuple[StudyValue, ...], bound: dict[str, BoundValue], number: int
) -> Table:
    def shown(name: str, *, missing: str) -> Cell:
        key = _key(study, title, name)
        text = bound[key].text if key in bound else missing
        return Cell(runs=(Run(text=text, key=key if key in bound else ""),))

    with_interval = any(entry.lower is not None or entry.upper is not None for entry in values)
    columns = [Column(title="Quantity", width=3.0), Column(title="Value", align="right")]
    if with_interval:
        columns += [Column(title="Lower end", align="right"), Column(title="Upper end", align="right")]
    columns.append(Column(title="Unit", width=0.8))
    rows = []
    for entry in values:
        cells = [Cell(runs=(Run(text=entry.label),)), shown(entry.name, missing="not given")]
        if with_interval:
            cells += [shown(f"{entry.name}_lower", missing="–"), shown(f"{entry.name}_upper", missing="–")]
        rows.append((*cells, cell(entry.unit)))
    kept_columns, kept_rows = filled(tuple(columns), rows)
    interval = f", with intervals of {percent(study.confidence)} confidence" if study.confidence else ""
    return Table(
        anchor=f"tbl-section-{number}",
        caption=title + (interval if with_interval else ""),
        columns=kept_columns,
        rows=kept_rows,
        key=f"{study.kind}/table-{number}",
    )


def _figure(study: Study) -> Figure:
    every = [value for _, values in study.groups for value in values]
    span = axis_span(every, ()) if every else (0.0, 1.0)
    series = tuple(
        Series(
            label=name,
            values=values,
            positions=side_by_side(values, columns=len(study.groups), span=span),
            count=f"n = {len(values)}",
        )
        for name, values in study.groups
    )
    axis = f"Value [{study.unit}]" if study.unit else "Value"
    return Figure(
        anchor="fig-values",
        key=f"{study.kind}/values",
        caption="Individual values by group",
        chart=ValuesChart(axis=axis, series=series, lines=()),
        alt=f"Individual values of {len(series)} groups: {', '.join(name for name, _ in study.groups)}.",
    )
