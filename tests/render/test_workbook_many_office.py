"""A design input with several hundred evaluations: formulas stay within what worksheets allow, and still recompute.

The bounds, 8,192 characters in a formula and 255 arguments of a function, are common practice, no source.
"""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest

from reportgen.acceptance.records import Evaluation
from reportgen.compose.calculation_layout import FIRST_ROW, column_letter
from tests.render.bench_case import BenchCase, workbook_of
from tests.render.recalculated import all_recalculated

pytestmark = pytest.mark.office
LOTS, EACH = 300, 8
PULLS = ("18.21", "16.94", "19.08", "17.63", "18.77", "17.34", "17.98", "19.86")
CASE = BenchCase(values=PULLS * LOTS, lots=tuple(f"L-{at:04d}" for at in range(1001, 1001 + LOTS) for _ in range(EACH)))
MOST_CHARACTERS, MOST_ARGUMENTS = 8192, 255


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, tuple[Evaluation, ...]]:
    return workbook_of(CASE, tmp_path_factory.mktemp("many"))


def test_no_formula_grows_with_the_number_of_evaluations(written: tuple[bytes, tuple[Evaluation, ...]]) -> None:
    content, evaluations = written
    assert len(evaluations) == LOTS
    formulas = [
        cell.value
        for sheet in openpyxl.load_workbook(io.BytesIO(content))
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(formulas) > 20 * LOTS
    assert max(map(len, formulas)) <= MOST_CHARACTERS
    # no function has more arguments than its whole formula has commas
    assert max(formula.count(",") for formula in formulas) < MOST_ARGUMENTS


def test_one_value_of_the_last_of_many_evaluations_turns_the_verdict(
    written: tuple[bytes, tuple[Evaluation, ...]], tmp_path: Path
) -> None:
    content, evaluations = written
    as_written, changed = tmp_path / "as_written.xlsx", tmp_path / "changed.xlsx"
    book = openpyxl.load_workbook(io.BytesIO(content))
    book.save(as_written)  # without cached values
    data = book[CASE.sheet]
    (value,) = [cell.column for cell in data[7] if cell.value == "Value"]
    (own,) = [cell.column for cell in data[7] if cell.value == "Evaluation"]
    last = max(row for row in range(8, data.max_row + 1) if data.cell(row, own).value == evaluations[-1].key)
    data.cell(last, value).value = 9.99
    book.save(changed)
    told = []
    for again in all_recalculated([as_written, changed], tmp_path):
        rows = again["Calculations"].iter_rows(min_row=FIRST_ROW + 1, values_only=True)
        at, named = (
            openpyxl.utils.column_index_from_string(column_letter(name)) - 1 for name in ("verdict", "design_input")
        )
        own_rows = [row[at] for row in rows if row[named] == CASE.design_input]
        (verdict,) = [
            row[8]
            for row in again["Results by design input"].iter_rows(values_only=True)
            if row[0] == CASE.design_input
        ]
        told.append((len(own_rows), own_rows.count("met"), own_rows.count("not met"), verdict))
    assert told == [(LOTS, LOTS, 0, "met"), (LOTS, LOTS - 1, 1, "not met")]
