"""The example's records and texts, held to one another: equipment, standards, limits."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from reportgen import workflow
from reportgen.acceptance.records import Evaluation
from reportgen.project.records import Method, Project

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"


@pytest.fixture(scope="module")
def analysis() -> workflow.Analysis:
    return workflow.analyse(EXAMPLE)


@pytest.fixture(scope="module")
def project(analysis: workflow.Analysis) -> Project:
    return analysis.project


# What a setting of a method, by its unit or words, has to be read on: `measures` of the equipment register.
NEEDS = {
    "N": "force", "mm/min": "displacement", "kPa": "pressure", "atm": "pressure", "°C": "temperature", "s": "time",
    "turn": "turns",
}  # fmt: skip


def _wanted(method: Method) -> Iterator[tuple[str, str]]:
    units = [(one.name, one.unit or "") for one in method.parameters] + [("unit", method.unit or "")]
    for name, unit in units:
        if unit in NEEDS:
            yield name, NEEDS[unit]
    for step in method.preconditioning:
        if step.startswith("Wet soak"):
            yield from ((step, "temperature"), (step, "time"))
        if step.startswith("Tracking"):
            yield step, "temperature"
    for word, measured in (("roller", "mass"), ("axial force and torque", "axial force and torque")):
        if word in method.fixture.description:
            yield word, measured


def test_what_a_method_sets_or_reads_is_read_on_equipment_that_it_lists(project: Project) -> None:
    measures = {one.id: one.measures for one in project.equipment}
    used = {protocol.method for protocol in project.protocols}
    missing = [
        (method.id, name, measured)
        for method in project.methods
        if method.id in used
        for name, measured in _wanted(method)
        if measured not in {measures[id] for id in method.equipment}
    ]
    assert missing == []


def test_results_name_equipment_for_all_that_their_method_lists(analysis: workflow.Analysis, project: Project) -> None:
    """Load cells apart, of which a method lists one for each range."""
    table = analysis.reading.measurements.table
    for protocol in project.protocols:
        rows = table[table["file"].str.contains(f"/{protocol.id}/") & (table["equipment"] != "")]
        named = {id for cell in rows["equipment"].unique() for id in cell.split(";")}
        listed = set(project.method(protocol.method).equipment)
        assert {id for id in listed - named if not id.startswith("LC-")} == set() or rows.empty, protocol.id
        assert named <= listed, protocol.id


def test_a_chamber_or_model_that_a_text_names_by_its_number_is_registered(project: Project) -> None:
    known = {one.id for one in project.equipment}
    for file in [*EXAMPLE.glob("*.csv"), *EXAMPLE.glob("protocols/*.yaml"), *EXAMPLE.glob("methods/*.yaml")]:
        named = set(
            re.findall(r"\b(?:TF|LC|PT|DT|VM|SM|PC|TQ|LK|WB|SW|RT|PG|RM|TD|EC)-\d{1,2}\b", file.read_text("utf-8"))
        )
        assert named <= known, file.name


def test_aging_lies_between_assembly_and_test(analysis: workflow.Analysis, project: Project) -> None:
    table = analysis.reading.measurements.table
    for lot in (one for one in project.lots if one.condition == "aged"):
        begun, ended = map(date.fromisoformat, re.findall(r"\d{4}-\d\d-\d\d", lot.ageing))
        tested = table[(table["lot"] == lot.lot) & (table["condition"] == lot.condition) & ~table["missing"]][
            "tested_on"
        ]
        assert (ended - begun).days == lot.ageing_days
        assert str(lot.built_on) < str(begun) < str(ended) < min(map(str, tested)), lot.lot


def test_a_standard_is_supported_by_results_that_exist(project: Project) -> None:
    tested = {protocol.id for protocol in project.protocols if protocol.results}
    for use in project.requirements_map.standards:
        assert set(use.supporting) <= tested, use.standard


def test_tolerance_intervals_are_listed_where_they_were_used(analysis: workflow.Analysis, project: Project) -> None:
    """ISO 16269-6 has the normal and the distribution-free interval of one sample, not that of the random model."""
    supporting = {use.standard: set(use.supporting) for use in project.requirements_map.standards}
    by_protocol: dict[str, list[Evaluation]] = {}
    for result in analysis.results:
        for one in result.evaluations:
            by_protocol.setdefault(one.protocol, []).append(one)
    measured = {
        protocol: evaluations
        for protocol, evaluations in by_protocol.items()
        if all(one.unit and one.n for one in evaluations)
    }
    assert supporting["ASTM E29"] == set(measured)
    assert supporting["ISO 16269-6"] == {
        protocol
        for protocol, evaluations in measured.items()
        if not any("random model" in one.interval_method for one in evaluations)
    }


def test_the_readme_counts_what_is_filed(analysis: workflow.Analysis, project: Project) -> None:
    told = " ".join((EXAMPLE / "README.md").read_text("utf-8").split())
    planned = sum(group.n for protocol in project.protocols for group in protocol.sampling.groups if protocol.results)
    table = analysis.reading.measurements.table
    tested = table[~table["missing"]].drop_duplicates(["file", "specimen", "lot", "condition"])
    protocols = table["file"].str.split("/").str[1].loc[tested.index]
    specimens = len(set(zip(protocols, tested["specimen"], tested["lot"], tested["condition"], strict=True)))
    assert f"{planned} specimens are filed, {specimens} of them tested so far" in told
    assert (len(project.design_inputs), len(project.protocols), len(project.methods)) == (17, 14, 15)  # in words there


@pytest.mark.parametrize(("design_input", "told", "expected"), [
    ("DI-001", ("1.75 N", "factor of 2 is 3.50 N", "0.10 N higher"), 1.75 * 2 + 0.10),
    ("DI-004", ("12.6 N", "times 1.5 is 18.9 N", "rounded up to 19.0 N"), math.ceil(12.6 * 1.5)),
    ("DI-005", ("2.7 N", "times 2 is 5.4 N", "next half newton"), math.ceil(2.7 * 2 * 2) / 2),
    ("DI-006", ("2.18 mm", "less 0.13 mm"), 2.18 - 0.13),
    ("DI-008", ("30 s", "less 2 s"), 30 - 2),
    ("DI-009", ("9.45 mm", "0.45 mm, 4.762 %", "down to 4.76 %"), math.floor(10000 * 0.45 / 9.45) / 100),
    ("DI-010", ("4.0 mm", "0.8 mm", "3.2 mm, 5.52 % of a 58 mm stent"), math.floor(1000 * (4.0 - 0.8) / 58) / 10),
    ("DI-016", ("3 turns", "factor of 2"), 3 * 2),
])  # fmt: skip
def test_a_limit_is_what_its_basis_works_out_to(
    project: Project, design_input: str, told: tuple[str, ...], expected: float
) -> None:
    (record,) = (one for one in project.design_inputs if one.id == design_input)
    assert [piece for piece in told if piece not in record.limit_basis] == []
    limit = record.lower_limit if record.lower_limit is not None else record.upper_limit
    assert limit is not None
    assert float(limit) == pytest.approx(expected, rel=1e-12)
