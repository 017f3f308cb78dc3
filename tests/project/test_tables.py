"""CSV to rows that know where they stand; compared with the csv module's plain reading and with pandas."""

from __future__ import annotations

import io

import pandas as pd
import pytest

from reportgen.project.tables import Table, column_name, read_csv
from tests.good_project import good_files

COLUMNS = ("id", "statement", "unit", "lower_limit")


def _read(text: str, columns: tuple[str, ...] = COLUMNS) -> Table:
    table, problems = read_csv(text.encode("utf-8"), file="x.csv", columns=columns)
    assert problems == []
    assert table is not None
    return table


@pytest.mark.parametrize("register", ["user_needs", "risks", "design_inputs", "equipment", "lots"])
def test_cells_are_those_that_pandas_reads(register: str) -> None:
    """Reference: pandas' C parser, everything as text."""
    text = good_files()[f"{register}.csv"]
    frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    table = _read(text, tuple(frame.columns))
    expected = [{name: cell for name, cell in row.items() if cell} for row in frame.to_dict("records")]
    assert [row.cells for row in table.rows] == expected
    assert [row.number for row in table.rows] == list(range(2, len(frame) + 2))


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_the_heading_tells_the_delimiter(delimiter: str) -> None:
    text = delimiter.join(("id", "statement")) + "\n" + delimiter.join(("A", '"with , ; and \t inside"')) + "\n"
    assert _read(text).rows[0].cells == {"id": "A", "statement": "with , ; and \t inside"}


def test_one_column_needs_no_delimiter() -> None:
    assert [row.cells for row in _read("id\nA\nB\n").rows] == [{"id": "A"}, {"id": "B"}]


def test_a_row_knows_the_line_it_begins_on() -> None:
    text = 'id,statement\nA,"two\nlines"\n\n,\nB,"said ""so"""\n'
    rows = _read(text).rows
    assert [(row.number, row.cells["statement"]) for row in rows] == [(2, "two\nlines"), (6, 'said "so"')]


def test_blank_lines_above_the_heading_do_not_matter() -> None:
    table = _read("\n,,\nID,Lower limit\nA,3\n")
    assert (table.heading_row, table.headings) == (3, ("id", "lower_limit"))
    assert table.rows[0].cells == {"id": "A", "lower_limit": "3"}


def test_short_rows_and_trailing_separators_are_fine() -> None:
    assert [row.cells for row in _read("id,statement,\nA\nB,x,\n").rows] == [{"id": "A"}, {"id": "B", "statement": "x"}]


@pytest.mark.parametrize(
    ("heading", "name"),
    [("Lower limit", "lower_limit"), (" lower_limit ", "lower_limit"), ("LOWER-LIMIT", "lower_limit"), ("", "")],
)
def test_headings_may_be_written_as_people_write(heading: str, name: str) -> None:
    assert column_name(heading) == name


def test_two_headings_of_one_column_leave_no_table() -> None:
    table, problems = read_csv(b"id,Lower limit,lower_limit\nA,1,2\n", file="x.csv", columns=COLUMNS)
    assert table is None
    assert [problem.found for problem in problems] == ["column 'lower_limit' twice"]
