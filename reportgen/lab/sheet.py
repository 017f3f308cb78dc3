"""The data-collection workbook of a protocol: one row for each planned specimen, in an order that a seed fixes.

Filled in, it is a result file in the plain layout: the reader needs nothing declared. The headings are the reader's
own column names, the first row is the heading row, and what is left blank is not tested yet.
"""

from __future__ import annotations

import datetime
import hashlib
import io
from dataclasses import dataclass

import xlsxwriter

from reportgen.lab.sheet_notes import write_instructions, write_lists
from reportgen.lab.sheet_style import Style
from reportgen.project.records import DesignInput, Kind, Project, Protocol

DATA = "Data"
_MESSAGES = {
    "tested_on": ("Date of test", "Year-month-day, such as 2026-03-31."),
    "operator": ("Operator", "Who ran the test. Fill in the names on the sheet Lists to choose from them."),
    "equipment": ("Equipment", "Ids of the equipment used, separated by semicolons."),
    "failure_mode": ("How the specimen ended", "A code from the sheet Instructions."),
    "excluded": ("Set aside?", "'yes' only with a cause. A value outside its limit is no cause."),
}
_WIDTHS = {"specimen": 22, "note": 34, "cause": 28, "equipment": 20, "operator": 18, "test_order": 9, "excluded": 12}


@dataclass(frozen=True, slots=True)
class PlannedSpecimen:
    specimen: str
    lot: str
    condition: str
    model: str


def planned_specimens(project: Project, protocol: Protocol, *, seed: int) -> tuple[PlannedSpecimen, ...]:
    """The specimens of the sampling plan in test order: sorted by the SHA-256 of the seed and the specimen's id.

    A hash instead of a random generator, so that the same seed gives the same order in every version of Python.
    """
    models = {(lot.lot, lot.condition): lot.model for lot in project.lots}
    conditions: dict[str, set[str]] = {}
    for group in protocol.sampling.groups:
        conditions.setdefault(group.lot, set()).add(group.condition)
    counts: dict[str, int] = {}
    planned = []
    for group in protocol.sampling.groups:
        stem = group.lot if len(conditions[group.lot]) == 1 else f"{group.lot}-{group.condition}"
        for _ in range(group.n):
            counts[stem] = counts.get(stem, 0) + 1
            model = models.get((group.lot, group.condition), "")
            planned.append(PlannedSpecimen(f"{stem}-{counts[stem]:03d}", group.lot, group.condition, model))
    return tuple(sorted(planned, key=lambda item: hashlib.sha256(f"{seed}/{item.specimen}".encode()).digest()))


def collection_workbook(project: Project, protocol_id: str, *, seed: int, date: str) -> bytes:
    """The workbook as bytes: the same for the same project, seed and date (ISO, the day it is issued).

    Raises: ValueError for an unknown protocol or a date that is none.
    """
    known = {protocol.id: protocol for protocol in project.protocols}
    if protocol_id not in known:
        raise ValueError(f"protocol_id must be one of {', '.join(sorted(known)) or 'none'}; got {protocol_id!r}")
    protocol = known[protocol_id]
    issued = datetime.date.fromisoformat(date)
    specimens = planned_specimens(project, protocol, seed=seed)
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties(
        {
            "title": f"{protocol.id} data collection",
            "subject": protocol.title,
            "author": "",
            "created": datetime.datetime.combine(issued, datetime.time()),
        }
    )
    style = Style(book)
    data = book.add_worksheet(DATA)
    notes, lists = book.add_worksheet("Instructions"), book.add_worksheet("Lists")
    ranges = write_lists(lists, style, project, protocol)
    _write_data(data, style, project, protocol, specimens, ranges, seed=seed, date=date)
    write_instructions(notes, style, project, protocol, n_specimens=len(specimens), seed=seed, date=date)
    data.activate()
    book.close()
    return buffer.getvalue()


# ------------------------------------------------------------------------------------------------- the data sheet


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of the data sheet: `name` is the reader's, `role` says how its cells look and what they accept."""

    name: str
    heading: str
    role: str


def _columns(project: Project, protocol: Protocol) -> tuple[_Column, ...]:
    from_traces = protocol.traces.design_input if protocol.traces is not None else None
    measured = [project.design_input(id) for id in protocol.verifies if id != from_traces]
    return (
        _Column("test_order", "Test order", "order"),
        _Column("specimen", "Specimen", "text"),
        *(_Column(name, name.capitalize(), "fixed") for name in ("lot", "condition", "model")),
        _Column("tested_on", "Tested on", "date"),
        _Column("operator", "Operator", "list"),
        _Column("equipment", "Equipment", "list"),
        _Column("method_revision", "Method revision", "text"),
        *(_Column(record.id, _value_heading(record), _value_role(record)) for record in measured),
        _Column("failure_mode", "Failure mode", "list"),
        _Column("excluded", "Excluded", "list"),
        _Column("cause", "Cause", "text"),
        _Column("note", "Note", "text"),
    )


def _value_heading(record: DesignInput) -> str:
    return f"{record.characteristic} [{record.unit}]" if record.unit else record.characteristic


def _value_role(record: DesignInput) -> str:
    return "pass" if record.kind is Kind.ATTRIBUTE else "number"


def _write_data(
    sheet: xlsxwriter.worksheet.Worksheet,
    style: Style,
    project: Project,
    protocol: Protocol,
    specimens: tuple[PlannedSpecimen, ...],
    ranges: dict[str, str],
    *,
    seed: int,
    date: str,
) -> None:
    columns = _columns(project, protocol)
    last = len(specimens)
    for j, column in enumerate(columns):
        shown = style.value_heading if column.role in ("number", "pass") else style.heading
        sheet.write_string(0, j, column.heading, shown)
        sheet.set_column(j, j, _WIDTHS.get(column.name, max(14, len(column.heading) + 4)))
        _accept(sheet, column, j, last, ranges)
    for i, item in enumerate(specimens, start=1):
        filled = {
            "specimen": item.specimen,
            "lot": item.lot,
            "condition": item.condition,
            "model": item.model,
            "method_revision": protocol.method_revision,
        }
        for j, column in enumerate(columns):
            cell_format = style.cell(column.role, banded=i % 2 == 0)
            if column.name == "test_order":
                sheet.write_number(i, j, i, cell_format)
            elif column.name in filled:
                sheet.write_string(i, j, filled[column.name], cell_format)
            else:
                sheet.write_blank(i, j, None, cell_format)
    _set_up_page(sheet, style, protocol, columns, last, seed=seed, date=date)


def _accept(sheet: xlsxwriter.worksheet.Worksheet, column: _Column, j: int, last: int, ranges: dict[str, str]) -> None:
    """What the cells of a column accept. Only where any other entry would be unreadable is it refused outright."""
    rule: dict[str, object] | None = None
    if column.role == "pass":
        rule = {"validate": "list", "source": ["pass", "fail"], "error_message": "Write pass or fail."}
    elif column.role == "number":
        rule = {
            "validate": "decimal",
            "criteria": "between",
            "minimum": -1e15,
            "maximum": 1e15,
            "error_type": "warning",
            "error_message": "This is no number. Text such as '>20' needs a meaning in the protocol.",
        }
    elif column.role == "date":
        rule = {
            "validate": "date",
            "criteria": ">=",
            "value": datetime.date(2000, 1, 1),
            "error_message": "Write a date, such as 2026-03-31.",
        }
    elif column.name in ranges:
        rule = {"validate": "list", "source": ranges[column.name], "error_type": "warning"}
        rule["error_message"] = "This is not on the list. Keep it only if you are sure."
    if rule is None:
        return
    title, message = _MESSAGES.get(column.name, (column.heading[:32], "Leave blank until it is measured."))
    sheet.data_validation(1, j, max(last, 1), j, rule | {"input_title": title, "input_message": message})


def _set_up_page(
    sheet: xlsxwriter.worksheet.Worksheet,
    style: Style,
    protocol: Protocol,
    columns: tuple[_Column, ...],
    last: int,
    *,
    seed: int,
    date: str,
) -> None:
    names = [column.name for column in columns]
    excluded, cause = names.index("excluded"), names.index("cause")
    letter = xlsxwriter.utility.xl_col_to_name(excluded)
    beside = xlsxwriter.utility.xl_col_to_name(cause)
    lacking = f'=AND(${letter}2="yes",TRIM(${beside}2)="")'
    sheet.conditional_format(
        1, cause, max(last, 1), cause, {"type": "formula", "criteria": lacking, "format": style.alarm}
    )
    sheet.set_default_row(19)
    sheet.set_row(0, 34)
    sheet.freeze_panes(1, 2)
    sheet.autofilter(0, 0, max(last, 1), len(columns) - 1)
    sheet.protect("", {"sort": True, "autofilter": True, "format_columns": True, "format_rows": True})
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_margins(left=0.4, right=0.4, top=0.8, bottom=0.7)
    safe = f"{protocol.id} rev {protocol.revision}".replace("&", "&&")
    sheet.set_header(f"&L&8{safe}&C&8Data collection&R&8issued {date}, order by seed {seed}")
    sheet.set_footer("&L&8Tested by / date&C&8Checked by / date&R&8Page &P of &N")
