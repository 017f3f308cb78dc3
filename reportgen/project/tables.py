"""Registers: CSV or XLSX to rows of texts that know their file, sheet, row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from reportgen.problems import Place, Problem, near_name
from reportgen.project.texts import decode

LONGEST_CELL = 20_000
_DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a register: the cells that hold something, by column name."""

    number: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A register as it stands in its file. `headings` are the known columns it has; `sheet` is None for text files."""

    file: str
    sheet: str | None
    heading_row: int
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    misspelt: tuple[str, ...] = ()

    def place(self, row: int, column: str | None = None) -> Place:
        return Place(self.file, row=row, column=column, sheet=self.sheet)


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells before headings are known: each line with its number, and its cells as texts."""

    sheet: str | None
    lines: tuple[tuple[int, Sequence[str]], ...]


def read_csv(data: bytes, *, file: str, columns: Sequence[str]) -> tuple[Table | None, list[Problem]]:
    """A register in CSV. The heading decides the delimiter: comma, semicolon or tab."""
    text = decode(data, file=file)
    if isinstance(text, Problem):
        return None, [text]
    grid = csv_lines(text, file=file, delimiter=_delimiter(text, columns))
    if isinstance(grid, Problem):
        return None, [grid]
    return table_of(grid, file=file, columns=columns)


def _delimiter(text: str, columns: Sequence[str]) -> str:
    heading = next((line for line in text.splitlines() if line.strip()), "")

    def known(delimiter: str) -> int:
        return sum(column_name(cell.strip().strip('"')) in columns for cell in heading.split(delimiter))

    return max(_DELIMITERS, key=known)


def csv_lines(text: str, *, file: str, delimiter: str) -> Grid | Problem:
    """The lines of a CSV file, each with the number of its first line, or what is wrong with its quotation marks."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines: list[tuple[int, Sequence[str]]] = []
    while True:
        start = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return Grid(None, tuple(lines))
        except csv.Error as error:
            return _quoting(error, file=file, row=start)
        lines.append((start, cells))


def _quoting(error: csv.Error, *, file: str, row: int) -> Problem:
    if "field larger" in str(error):
        return Problem(
            place=Place(file, row=row),
            found="a cell that goes on for more than 100,000 characters",
            expected=f"cells of at most {LONGEST_CELL:,} characters",
            mend="look for a quotation mark in this row that is never closed, or shorten the cell",
        )
    return Problem(
        place=Place(file, row=row),
        found="quotation marks that do not match",
        expected='a cell in quotation marks that ends with one; a quotation mark inside it doubled ("")',
        mend="close or double the quotation mark in this row",
    )


def column_name(heading: str) -> str:
    """A heading as the name of a column: 'Lower limit' is lower_limit."""
    return "_".join(heading.strip().lower().replace("-", " ").replace("_", " ").split())


def table_of(grid: Grid, *, file: str, columns: Sequence[str]) -> tuple[Table | None, list[Problem]]:
    """The register in a grid: its first line with content is the heading. All problems of its form are reported."""
    lines = [(number, cells) for number, cells in grid.lines if any(cell.strip() for cell in cells)]
    if not lines:
        nothing = Problem(
            place=Place(file, sheet=grid.sheet),
            found="no heading row",
            expected="a heading row with " + _listed(columns),
            mend="write the heading row; rows may follow later",
        )
        return None, [nothing]
    heading_row, heading_cells = lines[0]
    names = [column_name(cell) for cell in heading_cells]
    if not any(name in columns for name in names):
        return None, [_no_heading(heading_cells, place=Place(file, row=heading_row, sheet=grid.sheet), columns=columns)]
    problems = _headings(heading_cells, row=heading_row, file=file, sheet=grid.sheet, columns=columns)
    if any(name and names.count(name) > 1 for name in names):
        return None, problems  # nobody can tell which of the two columns holds
    rows = []
    homeless: list[Problem] = []
    for number, cells in lines[1:]:
        place = Place(file, row=number, sheet=grid.sheet)
        problems.extend(_too_long(cells, names, place=place))
        homeless.extend(_without_heading(cells, names, place=place))
        kept = {
            name: cell.strip() for name, cell in zip(names, cells, strict=False) if name in columns and cell.strip()
        }
        rows.append(Row(number, kept))
    known = tuple(name for name in names if name in columns)
    problems.extend(_first_of(homeless))
    near = (near_name(name, [column for column in columns if column not in names]) for name in names if name)
    misspelt = tuple(
        column for name, column in zip(filter(None, names), near, strict=True) if column and name not in columns
    )
    return Table(file, grid.sheet, heading_row, known, tuple(rows), misspelt), problems


def _headings(cells: Sequence[str], *, row: int, file: str, sheet: str | None, columns: Sequence[str]) -> list[Problem]:
    names = [column_name(cell) for cell in cells]
    problems = []
    for position, name in enumerate(names):
        place = Place(file, row=row, column=cells[position].strip()[:80], sheet=sheet)
        if name and name in names[:position]:
            problems.append(
                Problem(
                    place=place,
                    found=f"column {name!r} twice",
                    expected="each column once",
                    mend="delete or rename one of them",
                )
            )
        elif name and name not in columns:
            problems.append(_unknown_column(cells[position].strip(), name, place=place, columns=columns, names=names))
    return problems


def _no_heading(cells: Sequence[str], *, place: Place, columns: Sequence[str]) -> Problem:
    first = next(cell.strip() for cell in cells if cell.strip())
    return Problem(
        place=place,
        found=f"{first[:60]!r} and no heading that is known",
        expected="a heading row with " + _listed(columns),
        mend="write the heading row above the first row",
    )


def _unknown_column(heading: str, name: str, *, place: Place, columns: Sequence[str], names: Sequence[str]) -> Problem:
    open_columns = [column for column in columns if column not in names]
    near = near_name(name, open_columns)
    return Problem(
        place=place,
        found=f"column {heading[:80]!r}",
        expected="columns named " + _listed(columns),
        mend=f"write {near!r} if that is what was meant"
        if near
        else "delete the column, or keep it in a file of its own",
    )


def _without_heading(cells: Sequence[str], names: Sequence[str], *, place: Place) -> Iterable[Problem]:
    """The first cell of a row that holds something and stands under no heading."""
    for position, cell in enumerate(cells):
        if cell.strip() and not (position < len(names) and names[position]):
            yield Problem(
                place=place,
                found=f"{cell.strip()[:60]!r} in cell {position + 1}, which has no heading",
                expected="a heading above every cell that holds something",
                mend="put quotation marks around a cell that contains the separator, or give the column a heading",
            )
            return


def _first_of(problems: Sequence[Problem]) -> Iterable[Problem]:
    """One problem for all rows that have it: the heading is at fault, or the same slip was made again and again."""
    if problems:
        more = len(problems) - 1
        also = f", and so in {more} more row{'s' if more > 1 else ''}" if more else ""
        yield replace(problems[0], found=problems[0].found + also)


def _too_long(cells: Sequence[str], names: Sequence[str], *, place: Place) -> Iterable[Problem]:
    for name, cell in zip(names, cells, strict=False):
        if len(cell) > LONGEST_CELL:
            yield Problem(
                place=Place(place.file, row=place.row, column=name or None, sheet=place.sheet),
                found=f"a cell of {len(cell):,} characters",
                expected=f"at most {LONGEST_CELL:,} characters",
                mend="shorten the cell, or look for a quotation mark that is never closed",
            )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names)


def several_formats(register: str, files: Sequence[str]) -> Problem:
    """The same register kept twice: nobody could tell which one holds."""
    return Problem(
        place=Place(files[0]),
        found=" and ".join(files),
        expected=f"one file for {register}",
        mend="keep the one that holds, and move the others out of the project folder",
    )


def missing_register(register: str, *, names: Sequence[str], columns: Sequence[str]) -> Problem:
    """A register that has no file."""
    near = near_name(f"{register}.csv", [name for name in names if name.lower().endswith((".csv", ".xlsx"))])
    return Problem(
        place=Place(f"{register}.csv"),
        found=f"no file {register}.csv or {register}.xlsx",
        expected="one of them, with the columns " + _listed(columns),
        mend=f"rename {near!r} if it is this register"
        if near
        else "add it; only the heading row is needed to begin with",
    )
