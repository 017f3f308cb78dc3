"""XLSX registers: the values a person sees in the sheet, as texts.

A fast reader takes the values. It cannot tell a formula without a stored value, an error or a merged cell from an
empty one, and it reserves memory for the whole rectangle that a sheet spans; so the sheet's XML is looked over first.
"""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.tables import Grid, Table, column_name, table_of
from reportgen.shown_numbers import BROKEN, SheetPart, sheet_parts, show_zeros
from reportgen.workbook_guard import (
    MOST_CELLS,
    column_number,
    farthest_cell,
)

_AT = rb"""\br=["']([A-Z]{1,3})(\d{1,7})["']"""
_ERROR = re.compile(
    rb"""<(?:\w+:)?c\b(?=[^>]*?\bt=["']e["'])[^>]*?""" + _AT + rb"""[^>]*>.*?<(?:\w+:)?v>([^<]*)<""", re.DOTALL
)
_ERROR_TYPE = re.compile(rb"""\bt=["']e["']""")
_BARE_FORMULA = re.compile(
    rb"<(?:\w+:)?c\b[^>]*?" + _AT + rb"[^>]*>\s*<(?:\w+:)?f\b[^>]*?(?:/>|>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>\s*|<(?:\w+:)?v\s*>\s*</(?:\w+:)?v>\s*)?</(?:\w+:)?c>"
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet as a person sees it: its cells as texts, and what tells cells without a value from empty ones."""

    grid: Grid
    xml: bytes
    merged: tuple[tuple[tuple[int, int], tuple[int, int]], ...]

    def faults(self, headings: Sequence[str], *, heading_row: int, place: Place) -> list[Problem]:
        """Cells below these headings that hold no value of their own. Only columns with a heading are looked at."""
        merged = _merged(self.merged, headings, heading_row=heading_row, place=place)
        return [*_without_value(self.xml, headings, place=place), *merged]


def read_xlsx(data: bytes, *, file: str, register: str, columns: Sequence[str]) -> tuple[Table | None, list[Problem]]:
    """A register in a workbook: the sheet named like the register, else the first sheet that is not hidden."""
    sheet = read_sheet(data, file=file, name=register)
    if isinstance(sheet, Problem):
        return None, [sheet]
    table, problems = table_of(sheet.grid, file=file, columns=columns)
    if table is not None:
        headings = [column_name(heading) for heading in sheet.grid.lines[table.heading_row - 1][1]]
        place = Place(file, sheet=table.sheet)
        problems.extend(sheet.faults(headings, heading_row=table.heading_row, place=place))
    return table, problems


def read_sheet(data: bytes, *, file: str, name: str, only: bool = False) -> Sheet | Problem:
    """The sheet of this name; unless it is the `only` one that will do, else the first sheet that is not hidden."""
    sheet = _chosen_sheet(data, file=file, register=column_name(name), only=name if only else None)
    if isinstance(sheet, Problem):
        return sheet
    place = Place(file, sheet=sheet.name)
    far = _far_cell(sheet.xml, place=place)
    if far is not None:
        return far
    values = _values(data, sheet=sheet.name, place=place)
    if isinstance(values, Problem):
        return values
    cells, merged = values
    show_zeros(cells, sheet)
    grid = Grid(sheet.name, tuple((number, line) for number, line in enumerate(cells, start=1)))
    return Sheet(grid, sheet.xml, tuple(merged))


def _chosen_sheet(data: bytes, *, file: str, register: str, only: str | None) -> SheetPart | Problem:
    if not data:
        return Problem(place=Place(file), found="an empty file", expected="a workbook", mend="save the workbook again")
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return Problem(
            place=Place(file),
            found="an old .xls workbook, or one locked with a password",
            expected="an .xlsx workbook without a password",
            mend="save it as .xlsx without a password",
        )
    try:
        sheets = sheet_parts(data)
    except (*BROKEN, ValueError, OverflowError):
        return _no_workbook(file)
    if sheets is None:
        return Problem(
            place=Place(file),
            found="a workbook that unpacks to more than 256 MB",
            expected="a register of ordinary size",
            mend="copy the table alone into a new workbook",
        )
    named = [sheet for sheet in sheets if column_name(sheet.name) == register]
    if only is not None and not named:
        names = [sheet.name for sheet in sheets]
        return Problem(
            place=Place(file),
            found=f"no sheet {only!r}",
            expected="one of the sheets " + ", ".join(repr(name) for name in names),
            mend=did_you_mean(only, names),
        )
    shown = [sheet for sheet in sheets if not sheet.hidden]
    chosen = named or shown or sheets
    return chosen[0] if chosen else _no_workbook(file)


def _no_workbook(file: str) -> Problem:
    return Problem(
        place=Place(file),
        found="a file that is no readable .xlsx workbook, whatever its ending",
        expected="an .xlsx workbook",
        mend="open it in a spreadsheet program and save it as .xlsx, or save the table as CSV",
    )


def _far_cell(xml: bytes, *, place: Place) -> Problem | None:
    try:
        at = farthest_cell(xml)
    except ValueError:
        return _no_workbook(place.file)
    if not at:
        return None
    return Problem(
        place=place,
        found=f"cells in use as far away as {at if at[0].isalpha() else f'row {at}'}",
        expected=f"a table of at most {MOST_CELLS:,} cells",
        mend="delete the rows and columns beyond the table, or copy the table into a new workbook",
    )


def _values(
    data: bytes, *, sheet: str, place: Place
) -> tuple[list[list[str]], list[tuple[tuple[int, int], tuple[int, int]]]] | Problem:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        found = CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_name(sheet)
        cells = [[_text(cell) for cell in line] for line in found.to_python(skip_empty_area=False)]
        return cells, list(found.merged_cell_ranges or [])
    except (CalamineError, OSError, ValueError):
        return _no_workbook(place.file)


def _text(cell: object) -> str:
    """A cell's value as a person would have written it in a text file."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float | int):
        # 15 digits are what a spreadsheet keeps of a number and shows; the sixteenth is its arithmetic
        return str(int(cell)) if cell == int(cell) and abs(cell) < 1e15 else f"{cell:.15g}"
    if isinstance(cell, datetime.datetime):
        return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(" ")
    return str(cell)


def _without_value(xml: bytes, headings: Sequence[str], *, place: Place) -> list[Problem]:
    problems = []
    for letters, digits in _BARE_FORMULA.findall(xml):
        problems.append(
            Problem(
                place=_cell_place(letters, int(digits), headings, place),
                found="a formula without a stored value",
                expected="a value",
                mend="open and save it in a spreadsheet program, or type the value in place of the formula",
            )
        )
    for letters, digits, error in _ERROR.findall(xml) if _ERROR_TYPE.search(xml) else ():
        problems.append(
            Problem(
                place=_cell_place(letters, int(digits), headings, place),
                found=f"the error {error.decode('utf-8', 'replace')}",
                expected="a value",
                mend="mend the formula, or type the value in its place",
            )
        )
    return problems


def _cell_place(letters: bytes, row: int, headings: Sequence[str], place: Place) -> Place:
    position = column_number(letters) - 1
    name = headings[position] if position < len(headings) else ""
    return Place(place.file, row=row, column=name or letters.decode(), sheet=place.sheet)


def _merged(
    ranges: Sequence[tuple[tuple[int, int], tuple[int, int]]],
    headings: Sequence[str],
    *,
    heading_row: int,
    place: Place,
) -> list[Problem]:
    problems = []
    for (top, left), (bottom, right) in ranges:
        named = [heading for heading in headings[left : right + 1] if heading.strip()]
        if bottom + 1 < heading_row or not named:
            continue
        problems.append(
            Problem(
                place=Place(place.file, row=top + 1, column=named[0], sheet=place.sheet),
                found=f"merged cells over {bottom - top + 1} rows and {right - left + 1} columns",
                expected="one cell for each value",
                mend="unmerge them and fill in each cell",
            )
        )
    return problems
