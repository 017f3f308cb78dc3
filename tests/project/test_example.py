"""The example that ships: rich enough to show the whole job, said to be invented, and made by its own generator."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from reportgen.project.read import read_project
from reportgen.project.records import Approach, DecisionRule, Kind, LotRule, Project, RoundingMethod

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
RESULTS = EXAMPLE / "results"


@pytest.fixture(scope="module")
def project() -> Project:
    return read_project(EXAMPLE)


def test_device_and_maker_are_said_to_be_invented(project: Project) -> None:
    assert "invented" in project.settings.device.name
    assert "invented" in project.settings.device.manufacturer
    assert "Nothing here was measured" in (EXAMPLE / "README.md").read_text(encoding="utf-8")


def test_it_holds_every_kind_of_design_input(project: Project) -> None:
    inputs = project.design_inputs
    assert len(inputs) >= 12
    sides = {(record.lower_limit is not None, record.upper_limit is not None) for record in inputs}
    assert sides == {(True, False), (False, True), (True, True), (False, False)}
    assert {record.kind for record in inputs} == set(Kind)


def test_its_plans_differ_as_plans_do(project: Project) -> None:
    plans = [protocol.analysis_plan for protocol in project.protocols]
    assert {plan.lots for plan in plans} == set(LotRule)
    assert {plan.decision_rule for plan in plans} == set(DecisionRule)
    assert {plan.rounding for plan in plans} == set(RoundingMethod)
    approaches = {plan.approach for plan in plans}
    assert approaches >= {Approach.NORMAL, Approach.LOGNORMAL, Approach.DISTRIBUTION_FREE, Approach.ATTRIBUTE}
    assert any(plan.fallback is not None for plan in plans)


def test_methods_lots_and_specimens_are_many_enough(project: Project) -> None:
    assert len(project.methods) >= 4
    assert sum(method.reduction is not None for method in project.methods) == 1
    fresh = {lot.lot for lot in project.lots if lot.condition == "fresh"}
    aged = {lot.lot for lot in project.lots if lot.condition == "aged"}
    assert len(fresh & aged) == 3
    assert sum(group.n for protocol in project.protocols for group in protocol.sampling.groups) >= 300


def test_days_are_in_the_order_of_an_honest_program(project: Project) -> None:
    """Limit, plan and approval come before the lots are built: nothing was chosen by looking at results."""
    built = min(lot.built_on for lot in project.lots)
    for protocol in project.protocols:
        assert protocol.analysis_plan.declared_on <= protocol.approved_on < built, protocol.id
    for record in project.design_inputs:
        assert record.limit_set_on is not None
        assert record.limit_set_on < built, record.id


def test_a_text_result_file_is_what_the_generator_writes(tmp_path: Path) -> None:
    written = _generated(tmp_path)
    texts = [path for path in written if path.suffix == ".csv"]
    assert len(texts) > 60
    assert [str(path) for path in texts if (tmp_path / path).read_bytes() != (EXAMPLE / path).read_bytes()] == []


def test_a_workbook_holds_what_the_generator_writes(tmp_path: Path) -> None:
    """Cell by cell: the bytes of the container depend on the version of the library that wrote it."""
    books = [path for path in _generated(tmp_path) if path.suffix == ".xlsx"]
    assert len(books) >= 3
    for path in books:
        assert _cells(tmp_path / path) == _cells(EXAMPLE / path), path


def test_the_whole_example_stays_small() -> None:
    """It travels with every checkout: 4 MB at most."""
    assert sum(path.stat().st_size for path in EXAMPLE.rglob("*") if path.is_file() and not _is_cache(path)) < 4_000_000


def _generated(folder: Path) -> list[Path]:
    subprocess.run([sys.executable, "-B", str(EXAMPLE / "generate.py"), str(folder)], check=True)
    written = sorted(path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    kept = sorted(path.relative_to(EXAMPLE) for path in RESULTS.rglob("*") if path.is_file())
    assert written == kept
    return written


def _cells(path: Path) -> list[list[tuple[object, ...]]]:
    book = openpyxl.load_workbook(path)
    return [list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets]


def _is_cache(path: Path) -> bool:
    return any(part == "__pycache__" or part.startswith(".") for part in path.relative_to(EXAMPLE).parts)
