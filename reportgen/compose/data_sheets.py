"""One sheet per protocol with every value that was judged, in blocks that the live formulas can point at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reportgen.compose.calculation_layout import CalculationRows
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Formatted, Formula, Sheet, SheetColumn, SheetTable, SheetValue
from reportgen.compose.specimen_rows import Judging, Row, specimen_rows
from reportgen.project.records import Project, Protocol

FIRST_ROW = 7

# name, column; a column that would be blank from top to bottom is left out
_COLUMNS = (
    ("key", SheetColumn(title="Evaluation", width=30, wrap=True)),
    ("specimen", SheetColumn(title="Specimen", width=14, number_format="@")),
    ("lot", SheetColumn(title="Lot", width=12, number_format="@")),
    ("model", SheetColumn(title="Model", width=13, number_format="@")),
    ("condition", SheetColumn(title="Condition", width=11)),
    ("value", SheetColumn(title="Value", width=10)),
    ("outcome", SheetColumn(title="Outcome", width=10)),
    ("unit", SheetColumn(title="Unit", width=8)),
    ("censored", SheetColumn(title="True value is", width=10)),
    ("counts", SheetColumn(title="Counts", width=22, wrap=True)),
    ("used", SheetColumn(title="Value used", width=10)),
    ("logarithm", SheetColumn(title="ln(value)", width=10, number_format="0.0000")),
    ("rounded", SheetColumn(title="Rounded", width=10)),
    ("term", SheetColumn(title="Part of A2", width=10, number_format="0.0000")),
    ("conforms", SheetColumn(title="Conforms", width=11)),
    ("failure_mode", SheetColumn(title="Failure mode", width=16, wrap=True)),
    ("file", SheetColumn(title="File", width=32, wrap=True)),
    ("sheet", SheetColumn(title="Sheet of the file", width=14)),
    ("row", SheetColumn(title="Row", width=8, number_format="0")),
)
# these stand on every sheet that has rows, filled or not: they are where a reader changes things
_ALWAYS = frozenset({"value", "outcome", "counts", "conforms"})
_LIVE = frozenset({"used", "logarithm", "rounded", "term", "conforms"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Where the specimens of one evaluation stand on their sheet; `letters` gives the letter of each of its columns."""

    sheet: str
    first: int
    last: int
    letters: Mapping[str, str]

    @property
    def first_cell(self) -> str:
        return f"{quoted(self.sheet)}!$A${self.first}"

    def cells(self, column: str) -> str:
        """The block's range in one column, as formulas of other sheets write it. Raises: KeyError for no such column"""
        return f"{quoted(self.sheet)}!{self.own_cells(column)}"

    def own_cells(self, column: str) -> str:
        """The same as formulas of the sheet itself write it."""
        letter = self.letters[column]
        return f"${letter}${self.first}:${letter}${self.last}"


def quoted(sheet: str) -> str:
    """A sheet's name as formulas write it."""
    return "'" + sheet.replace("'", "''") + "'"


def sheet_names(protocols: Sequence[Protocol]) -> dict[str, str]:
    """A sheet name for each protocol id: without the signs that sheets refuse, at most 31 long, each once."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for protocol in protocols:
        plain = "".join("_" if sign in "[]:*?/\\'" or not sign.isprintable() else sign for sign in protocol.id)
        name, number = f"Data {plain}"[:31], 1
        while name.lower() in taken:
            number += 1
            ending = f" ({number})"
            name = f"Data {plain}"[: 31 - len(ending)] + ending
        names[protocol.id] = name
        taken.add(name.lower())
    return names


def data_sheets(dossier: Dossier, judgings: Sequence[Judging]) -> tuple[tuple[Sheet, ...], dict[str, Block]]:
    """The sheets in the order of the protocols, and the block of each evaluation that has specimens, by its key."""
    names = sheet_names(dossier.project.protocols)
    own: dict[str, list[Judging]] = {}
    for judging in judgings:
        own.setdefault(judging.evaluation.protocol, []).append(judging)
    sheets: list[Sheet] = []
    blocks: dict[str, Block] = {}
    for protocol in dossier.project.protocols:
        sheet, found = _protocol_sheet(protocol, names[protocol.id], own.get(protocol.id, ()))
        sheets.append(sheet)
        blocks |= found
    return tuple(sheets), blocks


def judgings_of(project: Project, where: CalculationRows) -> tuple[Judging, ...]:
    """How each evaluation is judged, in the order of the register."""
    plans = {protocol.id: protocol.analysis_plan for protocol in project.protocols}
    return tuple(
        Judging(
            evaluation=one,
            plan=plans[one.protocol],
            cells={name: where.cell(one.key, name) for name in ("n", "lower_limit", "upper_limit", "decimals")},
        )
        for one in where.evaluations
    )


def _protocol_sheet(protocol: Protocol, name: str, judgings: Sequence[Judging]) -> tuple[Sheet, dict[str, Block]]:
    parts = [(judging.evaluation.key, specimen_rows(judging)) for judging in judgings]
    used = [
        (name, column) for name, column in _COLUMNS if any(_is_filled(name, row) for _, part in parts for row in part)
    ]
    letters = {name: chr(65 + at) for at, (name, _) in enumerate(used)}
    blocks: dict[str, Block] = {}
    rows: list[tuple[SheetValue, ...]] = []
    for key, part in parts:
        if not part:
            continue
        first = FIRST_ROW + 1 + len(rows)
        blocks[key] = Block(sheet=name, first=first, last=first + len(part) - 1, letters=letters)
        rows += [_cells(row, blocks[key], number) for number, row in enumerate(part, start=first)]
    table = SheetTable(
        name="Values",
        first_row=FIRST_ROW,
        columns=tuple(column for _, column in used),
        rows=tuple(rows),
    )
    return _sheet(protocol, name, table), blocks


def _is_filled(name: str, row: Row) -> bool:
    return (name in _ALWAYS and name in row) or row.get(name) not in {None, ""}


def _cells(row: Row, block: Block, number: int) -> tuple[SheetValue, ...]:
    cells = {name: f"{letter}{number}" for name, letter in block.letters.items()}
    cells |= {f"each_{name}": block.own_cells(name) for name in block.letters}
    return tuple(_placed(row.get(name), cells) if name in _LIVE else row.get(name) for name in block.letters)


def _placed(value: SheetValue, cells: Mapping[str, str]) -> SheetValue:
    """The formula with the cells of its row in place of the names of columns."""
    if isinstance(value, Formatted) and isinstance(value.value, Formula):
        return replace(value, value=replace(value.value, text=value.value.text.format_map(cells)))
    return replace(value, text=value.text.format_map(cells)) if isinstance(value, Formula) else value


def _sheet(protocol: Protocol, name: str, table: SheetTable) -> Sheet:
    return Sheet(
        title=name,
        heading=f"{protocol.id}: {protocol.title}",
        notes=(
            "Every specimen, one row each, with the file and row it comes from. Values are in the unit of the design"
            " input.",
            "Change a 'Value', an 'Outcome' (pass, fail), 'True value is' (at least, at most) or 'Counts' (yes, no) and"
            " see what becomes",
            "of the columns in italics, of the sheet 'Calculations' and of the verdict. Filter freely, but do not sort:"
            " each evaluation is one block of rows.",
        )
        if table.rows
        else ("No result is on file yet.",),
        tables=(table,) if table.rows else (),
    )
