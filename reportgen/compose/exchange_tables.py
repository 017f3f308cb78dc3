"""The whole trace as CSV files: one for each kind of record, one for the links, one that says what columns hold."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from reportgen.compose.records import TraceExport, TraceRegister
from reportgen.formula_guard import guarded

LINK_COLUMNS = (
    ("source_kind", "what stands nearer to the need"),
    ("source", "its id"),
    ("why", "what ties the two"),
    ("target_kind", "what stands nearer to the evidence"),
    ("target", "its id"),
)


def export_tables(export: TraceExport) -> Iterator[tuple[str, str]]:
    """(file name, text) of each file: commas, LF; a text that looks like a formula has an apostrophe before it."""
    ends = _ends(export)
    for register in export.registers:
        columns = [field.name for field in register.fields] + [column for column, _ in register.listed_links]
        rows = (
            (
                *record.values,
                *(";".join(ends.get((register.kind, record.id, kind), ())) for _, kind in register.listed_links),
            )
            for record in register.records
        )
        yield f"{register.name}.csv", _csv(columns, rows)
    links = ((link.source[0], link.source[1], link.why, link.target[0], link.target[1]) for link in export.links)
    yield "links.csv", _csv([name for name, _ in LINK_COLUMNS], links)
    yield "columns.csv", _csv(["file", "column", "holds"], _columns(export.registers))


def _ends(export: TraceExport) -> dict[tuple[str, str, str], list[str]]:
    """The sources of the links to a record, by its kind and id and by the kind of the source."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for link in export.links:
        found.setdefault((*link.target, link.source[0]), []).append(link.source[1])
    return found


def _columns(registers: Sequence[TraceRegister]) -> Iterator[tuple[str, str, str]]:
    for register in registers:
        for field in register.fields:
            yield f"{register.name}.csv", field.name, field.about
        for column, kind in register.listed_links:
            yield f"{register.name}.csv", column, f"ids of each {kind} it answers, separated by semicolons"
    for name, about in LINK_COLUMNS:
        yield "links.csv", name, about


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return text.getvalue()
