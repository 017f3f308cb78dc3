"""One sheet per protocol with every value that was judged, in blocks that the live formulas can point at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportgen.acceptance.records import Evaluation, SetAside, SpecimenValue
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Formula, Sheet, SheetColumn, SheetTable, SheetValue
from reportgen.project.records import Protocol

FIRST_ROW = 5
VALUE, OUTCOME, LOGARITHM, CENSORED = "G", "I", "J", "K"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Where the counting values of one evaluation stand: rows `first` to `last` of a sheet."""

    sheet: str
    first: int
    last: int

    def cells(self, column: str) -> str:
        """The block's range in one column, as formulas of other sheets write it."""
        return f"{quoted(self.sheet)}!${column}${self.first}:${column}${self.last}"


def quoted(sheet: str) -> str:
    """A sheet's name as formulas write it."""
    return "'" + sheet.replace("'", "''") + "'"


def sheet_names(protocols: Sequence[Protocol]) -> dict[str, str]:
    """A sheet name for each protocol id: without the signs that sheets refuse, at most 31 long, each once."""
    names: dict[str, str] = {}
    for protocol in protocols:
        plain = "".join("_" if sign in "[]:*?/\\'" else sign for sign in protocol.id)
        name, number = f"Data {plain}"[:31], 1
        while name.lower() in {taken.lower() for taken in names.values()}:
            number += 1
            name = f"{name[:27]} ({number})"
        names[protocol.id] = name
    return names


def data_sheets(dossier: Dossier) -> tuple[tuple[Sheet, ...], dict[str, Block]]:
    """The sheets in the order of the protocols, and the block of each evaluation that has values, by its key."""
    names = sheet_names(dossier.project.protocols)
    sheets, blocks = [], {}
    for protocol in dossier.project.protocols:
        rows: list[tuple[SheetValue, ...]] = []
        for evaluation in dossier.evaluations_of(protocol.id):
            if evaluation.values:
                first = FIRST_ROW + 1 + len(rows)
                rows += [_counting(evaluation, value, first + at) for at, value in enumerate(evaluation.values)]
                blocks[evaluation.key] = Block(sheet=names[protocol.id], first=first, last=FIRST_ROW + len(rows))
        for evaluation in dossier.evaluations_of(protocol.id):
            rows += [_set_aside(evaluation, entry) for entry in evaluation.set_aside]
        sheets.append(_sheet(protocol, names[protocol.id], tuple(rows), _value_format(dossier, protocol)))
    return tuple(sheets), blocks


def _counting(evaluation: Evaluation, value: SpecimenValue, row: int) -> tuple[SheetValue, ...]:
    outcome = None if value.conforming is None else ("pass" if value.conforming else "fail")
    return (
        evaluation.key,
        evaluation.design_input,
        value.specimen,
        value.lot,
        value.model,
        value.condition,
        value.value,
        evaluation.unit,
        outcome,
        _logarithm(evaluation, value, row),
        {"above": "at least", "below": "at most"}.get(value.censored, ""),
        value.failure_mode,
        "yes",
        value.place.file,
        value.place.row,
    )


def _logarithm(evaluation: Evaluation, value: SpecimenValue, row: int) -> Formula | None:
    """ln of the value where the evaluation works on logarithms: its mean and spread are formulas over this column."""
    if evaluation.approach_used != "lognormal" or value.value is None or value.value <= 0:
        return None
    return Formula(text=f"LN({VALUE}{row})", cached=math.log(value.value))


def _set_aside(evaluation: Evaluation, entry: SetAside) -> tuple[SheetValue, ...]:
    why = f"no: {entry.cause}" if entry.cause else "no: no cause recorded"
    return (
        evaluation.key,
        evaluation.design_input,
        entry.specimen,
        entry.lot,
        "",
        entry.condition,
        None,
        "",
        entry.filed_value,
        None,
        "",
        entry.failure_mode,
        why,
        entry.place.file,
        entry.place.row,
    )


def _value_format(dossier: Dossier, protocol: Protocol) -> str:
    decimals = max((e.data_decimals for e in dossier.evaluations_of(protocol.id)), default=0)
    return number_format(decimals)


def number_format(decimals: int) -> str:
    """A spreadsheet format with so many decimals."""
    return "0" if decimals <= 0 else "0." + "0" * decimals


def _sheet(protocol: Protocol, name: str, rows: tuple[tuple[SheetValue, ...], ...], value_format: str) -> Sheet:
    columns = (
        SheetColumn(title="Evaluation", width=26),
        SheetColumn(title="Design input", width=13),
        SheetColumn(title="Specimen", width=14, number_format="@"),
        SheetColumn(title="Lot", width=12, number_format="@"),
        SheetColumn(title="Model", width=13, number_format="@"),
        SheetColumn(title="Condition", width=11),
        SheetColumn(title="Value", width=12, number_format=value_format),
        SheetColumn(title="Unit", width=8),
        SheetColumn(title="Outcome", width=12),
        SheetColumn(title="ln(value)", width=11, number_format="0.0000"),
        SheetColumn(title="True value is", width=11),
        SheetColumn(title="Failure mode", width=16),
        SheetColumn(title="Counts", width=24, wrap=True),
        SheetColumn(title="File", width=38),
        SheetColumn(title="Row", width=7),
    )
    return Sheet(
        title=name,
        heading=f"{protocol.id}: {protocol.title}",
        notes=(
            "Every value that was judged, one row per specimen, with the file and row it comes from. Values are in the"
            " unit of the design input.",
            "The sheet 'Calculations' computes from the column 'Value' or 'Outcome' of the rows that count: change a"
            " value here and see what becomes of the verdict.",
        ),
        tables=(SheetTable(name="Values", first_row=FIRST_ROW, columns=columns, rows=rows),),
    )
