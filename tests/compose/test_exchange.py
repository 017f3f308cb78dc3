"""What an export holds: every record and link of a project, with values as on file."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from reportgen import workflow
from reportgen.compose.exchange_tables import export_tables
from reportgen.compose.records import TraceBranch, TraceExport
from reportgen.project.faults import file_fields
from reportgen.project.import_mapping import REGISTERS
from reportgen.trace.graph import draw
from reportgen.workflow_exchange import export_of
from tests.good_project import good_files, write_files

DATE = "2026-05-04"


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    files = good_files()
    files["user_needs.csv"] += 'UN-4,"=not a formula, but a need"\n'
    return write_files(tmp_path_factory.mktemp("exchange") / "project", files)


@pytest.fixture(scope="module")
def export(project: Path) -> TraceExport:
    return export_of(project, date=DATE)


def tables(export: TraceExport) -> dict[str, list[dict[str, str]]]:
    return {name: list(csv.DictReader(io.StringIO(text))) for name, text in export_tables(export)}


def test_each_end_of_each_link_is_a_record(export: TraceExport) -> None:
    known = {(register.kind, record.id) for register in export.registers for record in register.records}
    assert {end for link in export.links for end in (link.source, link.target)} <= known
    assert {kind for kind, _ in known} == {
        "user need", "risk", "design input", "protocol", "method", "equipment", "lot", "evaluation", "clause",
        "section",
    }  # fmt: skip


def test_the_links_are_those_of_the_graph(project: Path, export: TraceExport) -> None:
    analysis = workflow.analyse(project)
    graph = draw(analysis.project, analysis.reading, analysis.results)
    drawn = {
        (one.source.kind.value, one.source.id, one.target.kind.value, one.target.id, one.why) for one in graph.links
    }
    with_specimens = export_of(project, date=DATE, specimens=True)
    assert {(*link.source, *link.target, link.why) for link in with_specimens.links} == drawn
    assert {(*link.source, *link.target, link.why) for link in export.links} == {
        one for one in drawn if "specimen" not in (one[0], one[2])
    }
    specimens = next(register for register in with_specimens.registers if register.kind == "specimen")
    assert ("L-0101/fresh/PF01", "L-0101", "fresh", "PF01") in {record.values for record in specimens.records}


def test_limits_keep_their_decimals_and_computed_numbers_all_their_digits(project: Path, export: TraceExport) -> None:
    found = tables(export)
    assert [row["lower_limit"] for row in found["design_inputs.csv"]] == ["10", "3", ""]
    evaluation = next(
        one
        for result in workflow.analyse(project).results
        for one in result.evaluations
        if one.key == found["evaluations.csv"][0]["id"]
    )
    row = found["evaluations.csv"][0]
    assert (float(row["mean"]), float(row["lower_bound"])) == (evaluation.mean, evaluation.lower_bound)
    assert row["verdict"] == "met"


def test_the_outline_shows_under_each_design_input_only_its_own_evaluations(export: TraceExport) -> None:
    def shown(branch: TraceBranch, depth: int = 0) -> list[str]:
        return [f"{depth}{branch.record[1]}", *(line for below in branch.below for line in shown(below, depth + 1))]

    assert [line for branch in export.outline for line in shown(branch)] == [
        "0UN-1", "1DI-001", "2VP-01", "3VP-01/DI-001/fresh-L-0101", "3VP-01/DI-001/aged-L-0101",
        "0UN-2", "1DI-002", "2VP-01", "3VP-01/DI-002/fresh-L-0101", "3VP-01/DI-002/aged-L-0101",
        "0UN-3", "1DI-003", "2VP-02", "3VP-02/DI-003/fresh-L-0101", "3VP-02/DI-003/aged-L-0101",
        "0UN-4",
    ]  # fmt: skip


def test_every_column_of_every_table_is_explained(export: TraceExport) -> None:
    found = tables(export)
    told = {(row["file"], row["column"]) for row in found["columns.csv"]}
    there = {
        (name, column)
        for name, text in export_tables(export)
        for column in next(csv.reader(io.StringIO(text)))
        if name != "columns.csv"
    }
    assert told == there
    assert all(row["holds"] for row in found["columns.csv"])


def test_a_text_that_looks_like_a_formula_is_guarded_in_tables_only(export: TraceExport) -> None:
    assert tables(export)["user_needs.csv"][3]["statement"] == "'=not a formula, but a need"
    needs = next(register for register in export.registers if register.kind == "user need")
    assert needs.records[3].values[1] == "=not a formula, but a need"


def test_design_inputs_name_their_risks_and_needs_as_the_register_does(export: TraceExport) -> None:
    rows = tables(export)["design_inputs.csv"]
    assert [(row["risk"], row["user_need"]) for row in rows] == [("R-1", "UN-1"), ("R-2", "UN-2"), ("R-3", "UN-3")]


@pytest.mark.parametrize("register", sorted(REGISTERS))
def test_every_column_that_an_import_may_fill_is_exported(export: TraceExport, register: str) -> None:
    found = next(one for one in export.registers if one.name == register)
    told = {field.name for field in found.fields} | {column for column, _ in found.listed_links}
    assert set(file_fields(REGISTERS[register])) <= told
