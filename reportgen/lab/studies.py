"""Small tables beside a project - pilot data, gauge studies, compared methods - read by the names of their columns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from reportgen.lab.grid import SHEET_SUFFIXES, Grid, decoded, read_file, split_text
from reportgen.lab.workbook import read_sheets
from reportgen.problems import Place, Problem, UnreadableInput, did_you_mean
from reportgen.project.records import SourceFile

_DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class Study:
    """A table with one row of headings on top; blank rows are left out. Every cell knows its place."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    places: tuple[Place, ...]
    source: SourceFile

    def texts(self, column: str) -> tuple[str, ...]:
        """A column as texts. Raises: UnreadableInput when there is no such column or a cell is blank."""
        index = self._index(column)
        blank = [self._at(at, column) for at, row in enumerate(self.rows) if not row[index]]
        if blank:
            raise UnreadableInput(
                Problem(
                    place=place,
                    found="a blank cell",
                    expected=f"a value in column {column!r}",
                    mend="fill the cell, or take the row out of the table",
                )
                for place in blank
            )
        return tuple(row[index] for row in self.rows)

    def numbers(self, column: str) -> tuple[float, ...]:
        """A column as numbers; a comma is a decimal sign where the file is not cut at commas.

        Raises: UnreadableInput with every cell that is no number.
        """
        found: list[float] = []
        problems: list[Problem] = []
        for at, text in enumerate(self.texts(column)):
            number = _number(text)
            if number is None:
                problems.append(
                    Problem(
                        place=self._at(at, column),
                        found=repr(text),
                        expected="a number such as 12.4",
                        mend="write the number alone, with a decimal point and without unit",
                    )
                )
            else:
                found.append(number)
        if problems:
            raise UnreadableInput(problems)
        return tuple(found)

    def has(self, column: str) -> bool:
        return column in self.headings

    def _index(self, column: str) -> int:
        if column in self.headings:
            return self.headings.index(column)
        raise UnreadableInput(
            [
                Problem(
                    place=Place(self.source.path),
                    found=f"no column {column!r}",
                    expected="a column of that heading in the first row",
                    mend=did_you_mean(column, self.headings),
                )
            ]
        )

    def _at(self, position: int, column: str) -> Place:
        place = self.places[position]
        return Place(place.file, row=place.row, column=column, sheet=place.sheet)


def read_study(path: Path, *, sheet: str | None = None) -> Study:
    """The table in a CSV, TSV or XLSX file. Raises: UnreadableInput with what is wrong with the file."""
    source = read_file(str(path.parent), path.name, named_at=Place(str(path)))
    if isinstance(source, Problem):
        raise UnreadableInput([source])
    if source.suffix in SHEET_SUFFIXES:
        grids, problems = read_sheets(source, sheet)
        if problems:
            raise UnreadableInput(problems)
        grid = grids[0]
    else:
        text = decoded(source, None)
        if isinstance(text, Problem):
            raise UnreadableInput([text])
        split = split_text(source, text[0], _delimiter(text[0]))
        if isinstance(split, Problem):
            raise UnreadableInput([split])
        grid = split
    return _study(grid, source.source)


def _study(grid: Grid, source: SourceFile) -> Study:
    filled = [at for at, row in enumerate(grid.rows) if any(cell.strip() for cell in row)]
    if len(filled) < 2:
        raise UnreadableInput(
            [
                Problem(
                    place=Place(source.path),
                    found="no row below the headings" if filled else "an empty file",
                    expected="a row of headings and a row for each measurement below it",
                    mend="put the headings into the first row and one measurement into each row below",
                )
            ]
        )
    headings = tuple(cell.strip() for cell in grid.rows[filled[0]])
    doubled = sorted({name for name in headings if name and headings.count(name) > 1})
    if doubled:
        raise UnreadableInput(
            [
                Problem(
                    place=grid.place(filled[0], doubled[0]),
                    found=f"the heading {doubled[0]!r} twice",
                    expected="each heading once",
                    mend="rename one of the columns",
                )
            ]
        )
    width = len(headings)
    rows = tuple(tuple(cell.strip() for cell in (*grid.rows[at], *[""] * width)[:width]) for at in filled[1:])
    return Study(headings, rows, tuple(grid.place(at) for at in filled[1:]), source)


def _delimiter(text: str) -> str:
    """The sign that cuts the first line into most cells."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(_DELIMITERS, key=first.count)


def _number(text: str) -> float | None:
    """Plain and exponential decimals only: Python also reads 'nan', '1_000' and 'infinity', which no lab means."""
    cleaned = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    if not any(sign.isdigit() for sign in cleaned) or "_" in cleaned:
        return None
    try:
        number = float(cleaned)
    except ValueError:
        return None
    return number if math.isfinite(number) else None
