"""What was taken from each force-displacement record: the value, the corrections before it, and what is remarkable."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

from reportgen.compose.article_tables import cell
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Column, DataTable, Table
from reportgen.compose.wording import begun
from reportgen.lab.records import ReducedTrace
from reportgen.project.records import Protocol
from reportgen.rounding import nearest

_DISPLACEMENT_DECIMALS = 2
_OFFSET_EXTRA = 1  # decimals of the offset more than of the value: it is a mean of many readings


def of_protocol(dossier: Dossier, protocol: Protocol) -> tuple[ReducedTrace, ...]:
    return tuple(one for one in dossier.reading.reduced if one.trace.protocol == protocol.id)


def records_table(dossier: Dossier, protocol: Protocol) -> DataTable | None:
    """Each record with the force as recorded, what was taken away, and the value that is left."""
    reduced = of_protocol(dossier, protocol)
    if not reduced:
        return None
    has_slack = any(one.slack_mm for one in reduced)
    has_smoothing = any(one.smoothing_effect_n for one in reduced)
    columns = [
        Column(title="Specimen", width=1.2),
        Column(title="Recorded at the drop", unit="N", width=1.2, align="right"),
        Column(title="Offset taken away", unit="N", width=1.1, align="right"),
        *((Column(title="Effect of smoothing", unit="N", width=1.1, align="right"),) if has_smoothing else ()),
        Column(title="Value", unit="N", width=0.8, align="right"),
        Column(title="Displacement at the drop", unit="mm", width=1.1, align="right"),
        *((Column(title="Slack taken away", unit="mm", width=1.1, align="right"),) if has_slack else ()),
        Column(title="Largest force", unit="N", width=1.0, align="right"),
        Column(title="Displacement at the largest", unit="mm", width=1.1, align="right"),
        Column(title="Pull rate", unit="mm/min", width=1.0, align="right"),
        Column(title="Record", width=1.6),
    ]
    rows = tuple(_record(one, has_slack=has_slack, has_smoothing=has_smoothing) for one in reduced)
    folders = sorted({str(PurePosixPath(one.trace.place.file).parent) for one in reduced})
    return DataTable(
        anchor="tbl-records", caption="From record to value: each record with what was taken away",
        columns=tuple(columns), rows=rows, key=f"{protocol.id}/records", landscape=True, source=", ".join(folders),
    )  # fmt: skip


def _record(one: ReducedTrace, *, has_slack: bool, has_smoothing: bool) -> tuple[str, ...]:
    found, decimals = one.reduction, one.force_decimals
    recorded = found.force_n + one.baseline_n - one.smoothing_effect_n
    rate = one.pull_rate_mm_per_min
    return (
        one.trace.specimen,
        nearest(recorded, decimals),
        nearest(one.baseline_n, decimals + _OFFSET_EXTRA),
        *((nearest(one.smoothing_effect_n, decimals + _OFFSET_EXTRA),) if has_smoothing else ()),
        nearest(found.force_n, decimals),
        nearest(found.displacement_mm, _DISPLACEMENT_DECIMALS),
        *((nearest(one.slack_mm, _DISPLACEMENT_DECIMALS),) if has_slack else ()),
        nearest(found.maximum_force_n, decimals),
        nearest(found.maximum_displacement_mm, _DISPLACEMENT_DECIMALS),
        "–" if rate is None else nearest(rate, 1),
        PurePosixPath(one.trace.place.file).name,
    )


def remarks_table(dossier: Dossier, protocol: Protocol) -> Table | None:
    """What is remarkable in the records, one row for each remark."""
    remarked = [(one, remark) for one in of_protocol(dossier, protocol) for remark in one.remarks]
    if not remarked:
        return None
    rows = tuple(
        (cell(one.trace.specimen), cell(remark.kind.value.replace("-", " ")), cell(_sentence(remark.message)))
        for one, remark in remarked
    )
    columns = (
        Column(title="Specimen", width=1.0),
        Column(title="Remark", width=1.6),
        Column(title="What was seen", width=4.0),
    )
    caption = "Remarks on the force-displacement records"
    return Table(anchor="tbl-remarks", caption=caption, columns=columns, rows=rows, key=f"{protocol.id}/remarks")


def _sentence(message: str) -> str:
    settled = " ".join(message.split())
    return settled[:1].upper() + settled[1:]


def remarks_lead(reduced: Sequence[ReducedTrace]) -> str:
    """How many records carry a remark."""
    count = sum(bool(one.remarks) for one in reduced)
    if not count:
        return f"None of the {len(reduced)} records shows anything that would put its value in doubt."
    return begun(f"{count} of the {len(reduced)} records {'carries a remark' if count == 1 else 'carry remarks'}.")
