"""The data-collection workbook: same bytes, right rows, and that it reads back with nothing declared."""

from __future__ import annotations

import datetime
import io
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest

from reportgen.lab.results import read_results
from reportgen.lab.sheet import collection_workbook, planned_specimens
from reportgen.project.records import Project, SamplingPlan
from tests.lab.conftest import protocol

PLAN = SamplingPlan(
    groups=(
        {"lot": "001", "condition": "fresh", "n": 3},
        {"lot": "002", "condition": "fresh", "n": 2},
        {"lot": "002", "condition": "aged", "n": 2},
    )
)
ALL_THREE = ("DI-1", "DI-2", "DI-3")


@pytest.fixture
def planned(make_project) -> Project:
    return make_project({}, protocol({"file": "results/filled.xlsx"}, verifies=ALL_THREE, sampling=PLAN))


def _filled(data: bytes) -> bytes:
    """Fills in all specimens but one, as a person would, and leaves the file to openpyxl."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    sheet = book["Data"]
    column = {cell.value: cell.column for cell in sheet[1]}
    for row in range(2, sheet.max_row):
        sheet.cell(row, column["Tested on"], datetime.date(2026, 3, row))
        sheet.cell(row, column["Operator"], "M. Invented")
        sheet.cell(row, column["Equipment"], "EQ-1;EQ-2")
        sheet.cell(row, column["peak_load [N]"], 12 + row / 8)
        sheet.cell(row, column["outer_diameter [mm]"], 1.85)
        sheet.cell(row, column["hub_leak"], "pass")
        sheet.cell(row, column["Failure mode"], "bond")
    sheet.cell(3, column["Excluded"], "yes")
    sheet.cell(3, column["Cause"], "cut with the knife")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _check_filled(project: Project) -> None:
    measurements = read_results(project)
    assert measurements.guesses == ()
    table = measurements.of(design_input="DI-1").table
    assert sorted(table["specimen"]) == [
        "001-001", "001-002", "001-003", "002-aged-001", "002-aged-002", "002-fresh-001", "002-fresh-002",
    ]  # fmt: skip
    assert table["value"].tolist()[:6] == [12 + row / 8 for row in range(2, 8)]
    assert table["missing"].tolist() == [False] * 6 + [True]
    assert table["tested_on"].tolist() == [f"2026-03-0{row}" for row in range(2, 8)] + [""]
    assert table["equipment"].tolist()[0] == "EQ-1;EQ-2"
    assert table["excluded"].tolist() == [False, True] + [False] * 5
    assert table["cause"].tolist()[1] == "cut with the knife"
    assert set(table["method_revision"]) == {"B"}
    assert set(table["sheet"]) == {"Data"}
    leak = measurements.of(design_input="DI-3").table
    assert leak["conforming"].tolist()[:6] == [1.0] * 6


def test_round_trip_with_nothing_declared(planned):
    data = collection_workbook(planned, "VP-1", seed=7, date="2026-03-01")
    path = Path(planned.folder) / "results" / "filled.xlsx"
    path.parent.mkdir()
    path.write_bytes(_filled(data))
    _check_filled(planned)


def test_blank_workbook_reads_as_nothing_tested(planned):
    path = Path(planned.folder) / "results" / "filled.xlsx"
    path.parent.mkdir()
    path.write_bytes(collection_workbook(planned, "VP-1", seed=7, date="2026-03-01"))
    measurements = read_results(planned)
    assert (len(measurements), bool(measurements.table["missing"].all())) == (21, True)
    assert measurements.guesses == ()


@pytest.mark.office
def test_round_trip_through_libreoffice(planned, tmp_path):
    if shutil.which("soffice") is None:
        pytest.skip("LibreOffice is not installed")
    filled = tmp_path / "in" / "filled.xlsx"
    filled.parent.mkdir()
    filled.write_bytes(_filled(collection_workbook(planned, "VP-1", seed=7, date="2026-03-01")))
    command = ["soffice", "--headless", f"-env:UserInstallation=file://{tmp_path}/profile", "--convert-to", "xlsx"]
    subprocess.run(
        [*command, "--outdir", str(tmp_path / "results"), str(filled)], check=True, capture_output=True, timeout=120
    )
    _check_filled(planned)


def test_same_bytes_twice_and_another_order_for_another_seed(planned):
    first = collection_workbook(planned, "VP-1", seed=7, date="2026-03-01")
    assert first == collection_workbook(planned, "VP-1", seed=7, date="2026-03-01")
    orders = {tuple(planned_specimens(planned, planned.protocols[0], seed=seed)) for seed in range(5)}
    assert len(orders) > 1
    assert len({tuple(sorted(item.specimen for item in order)) for order in orders}) == 1


def test_seed_is_recorded_and_the_heading_is_protected(planned):
    book = openpyxl.load_workbook(io.BytesIO(collection_workbook(planned, "VP-1", seed=20260301, date="2026-03-01")))
    texts = [str(cell.value) for row in book["Instructions"].iter_rows() for cell in row if cell.value]
    assert any("seed 20260301" in text for text in texts)
    data = book["Data"]
    assert data.protection.sheet
    assert data["A1"].protection.locked
    column = {cell.value: cell.column for cell in data[1]}
    assert not data.cell(2, column["peak_load [N]"]).protection.locked
    assert data.cell(2, column["Lot"]).protection.locked
    listed = {
        str(rule.sqref).rstrip("0123456789:").split(":")[0]: rule.type for rule in data.data_validations.dataValidation
    }
    letters = {
        openpyxl.utils.get_column_letter(column[name]) for name in ("Failure mode", "Equipment", "Operator", "hub_leak")
    }
    assert {cell.rstrip("0123456789") for cell, kind in listed.items() if kind == "list"} >= letters


def test_unknown_protocol_is_named(planned):
    with pytest.raises(ValueError, match="'VP-9'"):
        collection_workbook(planned, "VP-9", seed=1, date="2026-03-01")
