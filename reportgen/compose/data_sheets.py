"""One sheet per protocol with every value that was judged, in blocks that the live formulas can point at."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reportgen.acceptance.records import Evaluation, SetAside, SpecimenValue
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Formatted, Formula, Sheet, SheetColumn, SheetTable, SheetValue
from reportgen.problems import Place
from reportgen.project.records import Protocol

FIRST_ROW = 5

# name, column; a column that would be blank from top to bottom is left out
_COLUMNS = (
    ("key", SheetColumn(title="Evaluation", width=26)),
    ("design_input", SheetColumn(title="Design input", width=13)),
    ("specimen", SheetColumn(title="Specimen", width=14, number_format="@")),
    ("lot", SheetColumn(title="Lot", width=12, number_format="@")),
    ("model", SheetColumn(title="Model", width=13, number_format="@")),
    ("condition", SheetColumn(title="Condition", width=11)),
    ("value", SheetColumn(title="Value", width=12)),
    ("unit", SheetColumn(title="Unit", width=8)),
    ("outcome", SheetColumn(title="Outcome", width=12)),
    ("logarithm", SheetColumn(title="ln(value)", width=11, number_format="0.0000")),
    ("censored", SheetColumn(title="True value is", width=11)),
    ("failure_mode", SheetColumn(title="Failure mode", width=16)),
    ("counts", SheetColumn(title="Counts", width=30, wrap=True)),
    ("file", SheetColumn(title="File", width=38)),
    ("sheet", SheetColumn(title="Sheet of the file", width=14)),
    ("row", SheetColumn(title="Row", width=8, number_format="0")),
)
_Row = dict[str, SheetValue]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Where one evaluation stands on its sheet: counting values in rows `first` to `last`, those set aside elsewhere.

    `letters` gives the letter of each column that the sheet has; `aside` is the (first, last) row, or None.
    """

    sheet: str
    first: int
    last: int
    aside: tuple[int, int] | None
    letters: Mapping[str, str]

    def cells(self, column: str) -> str:
        """The block's range in one column, as formulas of other sheets write it. Raises: KeyError for no such column"""
        return self._range(column, self.first, self.last)

    def aside_cells(self, column: str) -> str | None:
        """The range of what was set aside, or None where nothing was."""
        return None if self.aside is None else self._range(column, *self.aside)

    def has(self, column: str) -> bool:
        return column in self.letters

    def _range(self, column: str, first: int, last: int) -> str:
        letter = self.letters[column]
        return f"{quoted(self.sheet)}!${letter}${first}:${letter}${last}"


def quoted(sheet: str) -> str:
    """A sheet's name as formulas write it."""
    return "'" + sheet.replace("'", "''") + "'"


def sheet_names(protocols: Sequence[Protocol]) -> dict[str, str]:
    """A sheet name for each protocol id: without the signs that sheets refuse, at most 31 long, each once."""
    names: dict[str, str] = {}
    for protocol in protocols:
        plain = "".join("_" if sign in "[]:*?/\\'" or not sign.isprintable() else sign for sign in protocol.id)
        name, number = f"Data {plain}"[:31], 1
        while name.lower() in {taken.lower() for taken in names.values()}:
            number += 1
            name = f"{name[:26]} ({number})"
        names[protocol.id] = name
    return names


def data_sheets(dossier: Dossier) -> tuple[tuple[Sheet, ...], dict[str, Block]]:
    """The sheets in the order of the protocols, and the block of each evaluation that has values, by its key."""
    names = sheet_names(dossier.project.protocols)
    sheets: list[Sheet] = []
    blocks: dict[str, Block] = {}
    for protocol in dossier.project.protocols:
        sheet, own = _protocol_sheet(protocol, names[protocol.id], dossier.evaluations_of(protocol.id))
        sheets.append(sheet)
        blocks |= own
    return tuple(sheets), blocks


def number_format(decimals: int) -> str:
    """A spreadsheet format with so many decimals."""
    return "0" if decimals <= 0 else "0." + "0" * decimals


def _protocol_sheet(protocol: Protocol, name: str, evaluations: Sequence[Evaluation]) -> tuple[Sheet, dict[str, Block]]:
    counting = [[_counting(evaluation, value) for value in evaluation.values] for evaluation in evaluations]
    aside = [[_set_aside(evaluation, entry) for entry in evaluation.set_aside] for evaluation in evaluations]
    rows = [row for block in (*counting, *aside) for row in block]
    used = [(name, column) for name, column in _COLUMNS if any(row.get(name) not in {None, ""} for row in rows)]
    letters = {name: chr(65 + at) for at, (name, _) in enumerate(used)}
    blocks: dict[str, Block] = {}
    top, aside_top = FIRST_ROW + 1, FIRST_ROW + 1 + sum(map(len, counting))
    for evaluation, values, left_out in zip(evaluations, counting, aside, strict=True):
        last, aside_last = top + len(values) - 1, aside_top + len(left_out) - 1
        if values:
            span = (aside_top, aside_last) if left_out else None
            blocks[evaluation.key] = Block(sheet=name, first=top, last=last, aside=span, letters=letters)
        top, aside_top = last + 1, aside_last + 1
    for row_number, row in enumerate(rows, start=FIRST_ROW + 1):
        if "logarithm" in row:
            row["logarithm"] = Formula(text=f"LN({letters['value']}{row_number})", cached=_float(row["logarithm"]))
    table = SheetTable(
        name="Values",
        first_row=FIRST_ROW,
        columns=tuple(column for _, column in used) or (_COLUMNS[0][1],),
        rows=tuple(tuple(row.get(name) for name, _ in used) for row in rows),
    )
    return _sheet(protocol, name, table), blocks


def _float(value: SheetValue) -> float:
    if not isinstance(value, float):
        raise ValueError(f"a logarithm is a number, not {value!r}")
    return value


def _counting(evaluation: Evaluation, value: SpecimenValue) -> _Row:
    row: _Row = {
        "key": evaluation.key,
        "design_input": evaluation.design_input,
        "specimen": value.specimen,
        "lot": value.lot,
        "model": value.model,
        "condition": value.condition,
        "censored": {"above": "at least", "below": "at most"}.get(value.censored, ""),
        "failure_mode": value.failure_mode,
        "counts": "yes",
        **_origin(value.place),
    }
    if value.value is not None:
        row["value"] = Formatted(value=value.value, number_format=number_format(evaluation.data_decimals))
        row["unit"] = evaluation.unit
        if evaluation.approach_used == "lognormal" and value.value > 0:
            # the mean and the spread of these logarithms are what the bound is built from
            row["logarithm"] = math.log(value.value)
    elif value.conforming is not None:
        row["outcome"] = "pass" if value.conforming else "fail"
    return row


def _set_aside(evaluation: Evaluation, entry: SetAside) -> _Row:
    filed = f" (filed: {entry.filed_value})" if entry.filed_value else ""
    return {
        "key": evaluation.key,
        "design_input": evaluation.design_input,
        "specimen": entry.specimen,
        "lot": entry.lot,
        "condition": entry.condition,
        "failure_mode": entry.failure_mode,
        "counts": f"no: {entry.cause or 'no cause recorded'}{filed}",
        **_origin(entry.place),
    }


def _origin(place: Place) -> _Row:
    return {"file": place.file, "sheet": place.sheet or "", "row": place.row}


def _sheet(protocol: Protocol, name: str, table: SheetTable) -> Sheet:
    return Sheet(
        title=name,
        heading=f"{protocol.id}: {protocol.title}",
        notes=(
            "Every value that was judged, one row per specimen, with the file and row it comes from. Values are in the"
            " unit of the design input.",
            "The sheet 'Calculations' computes from the column 'Value' or 'Outcome' of the rows that count: change a"
            " value here and see what becomes of the verdict."
            if table.rows
            else "No result is on file yet.",
        ),
        tables=(table,),
    )
