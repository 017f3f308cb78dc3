"""Tables about what else was handed over with the results: settings of the runs, photographs, printed statistics."""

from __future__ import annotations

from reportgen.compose.article_tables import cell, filled
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, Table
from reportgen.compose.sentences import joined
from reportgen.compose.wording import listed, plain_words
from reportgen.project.records import Protocol

_PRINTED = (("mean", "Mean"), ("sd", "SD"), ("minimum", "Min"), ("maximum", "Max"))


def settings_table(protocol: Protocol) -> Table | None:
    """What the laboratory recorded for all rows of a result file; the method's own settings stand beside it."""
    rows = tuple(
        (cell(one.file), cell(name), cell(value)) for one in protocol.results for name, value in one.settings.items()
    )
    if not rows:
        return None
    columns = (
        Column(title="Result file", width=2.4),
        Column(title="What was recorded", width=1.6),
        Column(title="Value", width=1.6),
    )
    return Table(anchor="tbl-settings", caption="Settings recorded with the results", columns=columns, rows=rows)


def cycles_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """How often the specimens were used in or before the test, beside the most that the labeling allows."""
    if not protocol.cycles:
        return None
    worst = {one.use: one for one in dossier.project.settings.device.worst_use}
    rows = [
        (
            cell(plain_words(one.use.replace("-", " "))),
            cell(str(one.n)),
            cell(str(worst[one.use].cycles) if one.use in worst else ""),
            cell(worst[one.use].source if one.use in worst else ""),
            cell(one.justification),
        )
        for one in protocol.cycles
    ]
    columns, kept = filled(
        (
            Column(title="Use", width=1.4),
            Column(title="In this test, at least", width=0.9, align="right"),
            Column(title="Most allowed", width=0.9, align="right"),
            Column(title="Allowed by", width=2.2),
            Column(title="Justification", width=2.2),
        ),
        rows,
    )
    return Table(
        anchor="tbl-cycles",
        caption="Uses of each specimen, and the most allowed",
        columns=columns,
        rows=kept,
    )


def photographs_table(protocol: Protocol) -> Table | None:
    """Photographs of the set-up and of specimens, by where they are filed: the documents do not hold them."""
    if not protocol.photographs:
        return None
    rows = [
        (
            cell("; ".join(filter(None, ("set-up" if one.setup else "", listed(one.specimens))))),
            cell(one.shows),
            cell(one.file),
        )
        for one in protocol.photographs
    ]
    columns, kept = filled(
        (
            Column(title="Photograph of", width=1.2),
            Column(title="What it shows", width=2.4),
            Column(title="Filed as", width=2.0),
        ),
        rows,
    )
    return Table(anchor="tbl-photographs", caption="Photographs on file", columns=columns, rows=kept)


def reported_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """Statistics of these specimens that another document prints, as printed there."""
    if not protocol.reported:
        return None
    rows = []
    for one in protocol.reported:
        unit = one.unit or dossier.project.design_input(one.design_input).unit or ""
        rows.append(
            (
                cell(one.source),
                cell(", ".join(filter(None, (one.design_input, one.model, one.lot, one.condition)))),
                cell("" if one.n is None else str(one.n)),
                *(cell(getattr(one, name) or "") for name, _ in _PRINTED),
                cell(unit),
            )
        )
    columns, kept = filled(
        (
            Column(title="Printed in", width=2.0),
            Column(title="Of", width=1.6),
            Column(title="n", width=0.5, align="right"),
            *(Column(title=title, width=0.8, align="right") for _, title in _PRINTED),
            Column(title="Unit", width=0.8),
        ),
        rows,
    )
    differs = any("reported-statistic" in one.rule and protocol.id in one.records for one in dossier.audit.findings)
    note = "Each number was computed again from the raw data; "
    note += "those that differ are among the findings." if differs else "none differs."
    return Table(
        anchor="tbl-reported", caption="Statistics of these specimens printed in other documents", columns=columns,
        rows=kept, notes=(joined(note),),
    )  # fmt: skip
