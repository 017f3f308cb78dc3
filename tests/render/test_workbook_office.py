"""The workbook recomputes itself: LibreOffice arrives at every figure from the data sheets alone."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from reportgen import workflow
from reportgen.compose.calculation_layout import FIRST_ROW, column_letter
from reportgen.compose.records import Sheet, SheetColumn, SheetTable, Workbook
from reportgen.render.excel import workbook_bytes
from tests.good_project import write_good_project
from tests.render.recalculated import recalculated

pytestmark = pytest.mark.office
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("example") / "out"
    workflow.build(ROOT / "example_project", target, date="2026-11-25")
    return target / "traceability.xlsx"


def test_every_formula_is_recomputed_to_the_same_value(example: Path, tmp_path: Path) -> None:
    formulas = openpyxl.load_workbook(example)
    cached = openpyxl.load_workbook(example, data_only=True)
    # without cached values in the file nothing can be passed on unread
    bare = tmp_path / "bare.xlsx"
    formulas.save(bare)
    again = recalculated(bare, tmp_path)
    compared = 0
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith("="):
                    ours, theirs = cached[sheet.title][cell.coordinate].value, again[sheet.title][cell.coordinate].value
                    where = f"{sheet.title}!{cell.coordinate} {cell.value}"
                    if isinstance(ours, (int, float)):
                        assert theirs == pytest.approx(ours, rel=1e-9, abs=1e-300), where
                    else:
                        assert (theirs or "") == (ours or ""), where
                    compared += 1
    assert compared > 400


def test_formulas_and_program_agree_on_every_verdict(example: Path, tmp_path: Path) -> None:
    sheet = recalculated(example, tmp_path)["Calculations"]
    agrees = [row[0].value for row in sheet[f"{column_letter('agrees')}{FIRST_ROW + 1}:{column_letter('agrees')}200"]]
    told = [answer for answer in agrees if answer]
    assert len(told) > 30
    assert set(told) == {"yes"}


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(9.99, "not met"), (10.0, "not demonstrated"), (17.0, "met")],
    ids=["outside the limit", "at the limit: conforms, but the bound misses", "well inside"],
)
def test_a_changed_raw_value_changes_the_verdict(tmp_path: Path, value: float, verdict: str) -> None:
    # DI-001: at least 10 N, VP-01, ten fresh and ten aged specimens
    workflow.build(write_good_project(tmp_path / "project"), tmp_path / "out", date="2026-05-04")
    book = openpyxl.load_workbook(tmp_path / "out" / "traceability.xlsx")
    data = book["Data VP-01"]
    assert isinstance(data["F8"].value, float)
    data["F8"].value = value
    changed = tmp_path / "changed.xlsx"
    book.save(changed)
    assert recalculated(changed, tmp_path)["Results by design input"]["I6"].value == verdict


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("x")', "\t=1", "a\x07b", "{=1+1}", "'=1"])
def test_text_is_never_a_formula(tmp_path: Path, text: str) -> None:
    table = SheetTable(name="T", first_row=2, columns=(SheetColumn(title=text),), rows=((text,),))
    book = Workbook(
        file_name="t.xlsx",
        title="t",
        subject="s",
        author="a",
        created="2026-01-01",
        sheets=(Sheet(title="T", heading=text, notes=(), tables=(table,)),),
    )
    (tmp_path / "t.xlsx").write_bytes(workbook_bytes(book))
    sheet = recalculated(tmp_path / "t.xlsx", tmp_path)["T"]
    shown = text.replace("\x07", "[U+0007]")
    assert [sheet["A1"].value, sheet["A2"].value, sheet["A3"].value] == [shown, shown, shown]
