"""One build of the example: the terminal, the workbook, the page and the Word files say the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from docx import Document

from reportgen import workflow

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[workflow.Analysis, Path]:
    target = tmp_path_factory.mktemp("package") / "out"
    return workflow.build(ROOT / "example_project", target, date="2026-11-25").analysis, target


def test_workbook_verdicts_equal_status_json(built: tuple[workflow.Analysis, Path]) -> None:
    analysis, out = built
    book = openpyxl.load_workbook(out / "traceability.xlsx", data_only=True)
    rows = list(book["Results by design input"].iter_rows(min_row=6, values_only=True))
    told = {row[0]: row[8] for row in rows}
    data: Any = analysis.status_data
    assert told == {entry["id"]: entry["verdict"] for entry in data["design_inputs"]}


def test_workbook_numbers_equal_status_json(built: tuple[workflow.Analysis, Path]) -> None:
    analysis, out = built
    sheet = openpyxl.load_workbook(out / "traceability.xlsx", data_only=True)["Calculations"]
    heads = [cell.value for cell in sheet[9]]
    rows = {row[0]: dict(zip(heads, row, strict=True)) for row in sheet.iter_rows(min_row=10, values_only=True)}
    evaluations = [evaluation for result in analysis.results for evaluation in result.evaluations]
    assert set(rows) == {evaluation.key for evaluation in evaluations}
    for evaluation in evaluations:
        row = rows[evaluation.key]
        for heading, number in (
            ("Mean", evaluation.mean),
            ("Lower bound", evaluation.lower_bound),
            ("Upper bound", evaluation.upper_bound),
        ):
            assert row[heading] == number
        assert row["Verdict of the program"] == evaluation.verdict.value


def test_every_verdict_stands_in_the_word_section_and_on_the_page(built: tuple[workflow.Analysis, Path]) -> None:
    analysis, out = built
    page = (out / "status.html").read_text(encoding="utf-8")
    section = Document(str(out / "bench_testing_section.docx")).element.xml
    for result in analysis.results:
        assert f'data-id="{result.design_input}" data-verdict="{result.verdict.value}"' in page
        assert f'w:tag w:val="{result.design_input}/verdict"' in section


def test_three_numbers_lead_back_to_file_and_row(built: tuple[workflow.Analysis, Path]) -> None:
    # the workbook names file and row of every value: the raw file holds that value in that row
    _, out = built
    book = openpyxl.load_workbook(out / "traceability.xlsx", data_only=True)
    for name in ("Data VP-104", "Data VP-105", "Data VP-106"):
        heads, row = list(book[name].iter_rows(min_row=7, max_row=8, values_only=True))
        told = dict(zip(heads, row, strict=True))
        file, number, specimen = (
            ROOT / "example_project" / str(told["File"]),
            int(str(told["Row"])),
            str(told["Specimen"]),
        )
        if file.suffix == ".xlsx":
            filed = [
                str(cell)
                for sheet in openpyxl.load_workbook(file)
                for cell in next(sheet.iter_rows(min_row=number, max_row=number, values_only=True))
            ]
        else:
            filed = file.read_bytes().decode("latin-1").splitlines()[number - 1].replace(";", ",").split(",")
        assert any(specimen in cell for cell in filed), (name, specimen, filed)


def test_manifest_names_every_input_and_output(built: tuple[workflow.Analysis, Path]) -> None:
    analysis, out = built
    manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    assert {entry["path"] for entry in manifest["outputs"]} == {
        str(path.relative_to(out)) for path in out.rglob("*") if path.is_file() and path.name != "manifest.json"
    }
    inputs = {entry["path"] for entry in manifest["inputs"]}
    assert inputs >= {source.path for source in analysis.project.sources}
    assert inputs >= {source.path for source in analysis.reading.sources}
