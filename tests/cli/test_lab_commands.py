"""`reduce` and `sheet` as a lab meets them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import openpyxl
import pytest

from tests.cli.test_project_commands import EXAMPLE, run
from tests.good_project import good_files, write_files, write_good_project


@pytest.fixture(scope="module")
def reduced(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("reduce") / "out"
    done = run("reduce", str(EXAMPLE), "VP-101", "-o", str(out))
    assert done.returncode == 0, done.stderr
    return out


def test_reduce_writes_a_value_and_a_figure_for_each_trace_and_an_overlay_per_group(reduced: Path) -> None:
    with (reduced / "VP-101" / "values.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 60
    assert len(list((reduced / "VP-101").glob("trace_*.png"))) == 60
    assert {path.name for path in (reduced / "VP-101").glob("overlay_*.png")} == {
        "overlay_DI-001_aged.png",
        "overlay_DI-001_fresh.png",
    }


def test_reduced_values_are_those_that_are_judged(reduced: Path) -> None:
    with (reduced / "VP-101" / "values.csv").open(newline="", encoding="utf-8") as file:
        forces = [float(row["force_n"]) for row in csv.DictReader(file)]
    (found,) = [
        entry
        for entry in json.loads(run("status", str(EXAMPLE), "--json").stdout)["design_inputs"]
        if entry["id"] == "DI-001"
    ]
    assert min(forces) == pytest.approx(min(e["minimum"] for e in found["evaluations"]), abs=5e-4)
    assert max(forces) == pytest.approx(max(e["maximum"] for e in found["evaluations"]), abs=5e-4)


def test_first_drop_is_not_the_later_higher_peak(reduced: Path) -> None:
    with (reduced / "VP-101" / "values.csv").open(newline="", encoding="utf-8") as file:
        later = [row for row in csv.DictReader(file) if row["later_higher_peak"] == "yes"]
    assert later
    assert all(float(row["force_n"]) < float(row["maximum_force_n"]) for row in later)


def test_reduce_json_and_no_folder(tmp_path: Path) -> None:
    done = run("reduce", str(EXAMPLE), "--json")
    assert len(json.loads(done.stdout)["traces"]) == 60
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("protocol", "told"), [("VP-1O1", "'VP-101'"), ("VP-104", "names no force-displacement")])
def test_reduce_of_a_protocol_without_traces_is_told(protocol: str, told: str) -> None:
    done = run("reduce", str(EXAMPLE), protocol)
    assert done.returncode == 2
    assert told in done.stderr


def test_reduce_never_replaces_a_folder_of_another_origin(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep")
    assert run("reduce", str(EXAMPLE), "-o", str(tmp_path)).returncode == 2
    assert (tmp_path / "mine.txt").read_text() == "keep"


def test_sheet_filled_in_reads_back_and_status_counts_while_testing_runs(tmp_path: Path) -> None:
    files = good_files()
    del files["results/vp_01.csv"]
    files["protocols/vp_01.yaml"] = files["protocols/vp_01.yaml"].replace("results/vp_01.csv", "results/vp_01.xlsx")
    project = write_files(tmp_path / "project", files)
    sheet = project / "results" / "vp_01.xlsx"
    # the sheet is issued before there is a result file: the project without it
    issued = write_files(
        tmp_path / "issued",
        {
            **files,
            "protocols/vp_01.yaml": files["protocols/vp_01.yaml"].replace(
                "results:\n  - file: results/vp_01.xlsx\n", ""
            ),
        },
    )
    done = run("sheet", str(issued), "VP-01", "-o", str(sheet), "--seed", "7", "--date", "2026-03-01")
    assert done.returncode == 0, done.stderr
    book = openpyxl.load_workbook(sheet)
    (data,) = [
        page for page in book if any(str(cell.value).startswith("bond_strength") for row in page for cell in row)
    ]
    (head,) = [row for row in data if any(cell.value == "Specimen" for cell in row)]
    column = {str(cell.value).split(" ")[0]: cell.column for cell in head if cell.value}
    for number in range(8):
        row = head[0].row + 1 + number
        data.cell(row, column["bond_strength"]).value = 18.0 + number / 10
        data.cell(row, column["release_force"]).value = 8.0 + number / 10
    book.save(sheet)
    done = run("status", str(project), "--json")
    assert done.returncode == 0, done.stderr
    (found,) = [e for e in json.loads(done.stdout)["design_inputs"] if e["id"] == "DI-001"]
    assert found["verdict"] == "not demonstrated"
    assert sum(evaluation["n"] for evaluation in found["evaluations"]) == 8
    assert sum(evaluation["n_planned"] for evaluation in found["evaluations"]) == 20


def test_sheet_never_replaces_a_workbook(tmp_path: Path) -> None:
    project = write_good_project(tmp_path / "project")
    out = tmp_path / "sheet.xlsx"
    assert run("sheet", str(project), "VP-01", "-o", str(out), "--date", "2026-03-01").returncode == 0
    before = out.read_bytes()
    assert run("sheet", str(project), "VP-01", "-o", str(out), "--date", "2026-03-02").returncode == 2
    assert out.read_bytes() == before
    again = tmp_path / "again.xlsx"
    run("sheet", str(project), "VP-01", "-o", str(again), "--date", "2026-03-01")
    assert again.read_bytes() == before
