"""The example's documents, held to its own files: what was taken from records, values in other units, short words."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from reportgen import workflow
from reportgen.compose import method_facts, raw_data, test_facts, trace_tables
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.records import DataTable
from reportgen.rounding import parsed
from tests.compose.hand_made import FACTS

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
# NIST SP 811 (2008), appendix B: the pound-force per square inch in pascals; SI brochure: the standard atmosphere
PSI_PA, ATM_PA = 6894.757293168361, 101325.0


@pytest.fixture(scope="module")
def dossier() -> Dossier:
    analysis = workflow.analyse(EXAMPLE)
    return dossier_of(analysis.project, analysis.reading, analysis.results, analysis.audit, facts=FACTS)


def columns(table: DataTable) -> dict[str, list[str]]:
    titles = [f"{one.title} [{one.unit}]" if one.unit else one.title for one in table.columns]
    return dict(zip(titles, map(list, zip(*table.rows, strict=True)), strict=False))


def test_recorded_force_less_offset_is_the_value_of_every_record(dossier: Dossier) -> None:
    protocol = dossier.project.protocol("VP-101")
    table, raw = trace_tables.records_table(dossier, protocol), raw_data.raw_data_table(dossier, protocol)
    assert table is not None
    assert raw is not None
    found = columns(table)
    values, offsets = found["Value [N]"], found["Offset taken away [N]"]
    assert len(values) == 60
    for recorded, offset, value in zip(found["Recorded at the drop [N]"], offsets, values, strict=True):
        assert abs(parsed(recorded) - parsed(offset) - parsed(value)) <= parsed("0.0011")  # of three rounded numbers
    assert values == columns(raw)["Value as filed [N]"]
    assert any(parsed(offset) != 0 for offset in offsets), "the example is to show a correction"


def test_the_force_recorded_at_the_drop_stands_in_the_record(dossier: Dossier) -> None:
    table = trace_tables.records_table(dossier, dossier.project.protocol("VP-101"))
    assert table is not None
    found = columns(table)
    for specimen, recorded, record in zip(
        found["Specimen"][::7], found["Recorded at the drop [N]"][::7], found["Record"][::7], strict=True
    ):
        with (EXAMPLE / table.source / record).open(encoding="utf-8") as file:
            rows = [row for row in csv.reader(file) if row and row[0].replace(".", "").lstrip("-").isdigit()]
        assert any(abs(float(cell) - float(parsed(recorded))) < 5e-4 for row in rows for cell in row), specimen


def test_the_report_says_what_is_done_to_a_record_before_its_value_is_looked_for(dossier: Dossier) -> None:
    told = method_facts.reduction(dossier.project.method("TM-011"))
    assert "the median force over the first 0.2 mm of travel is subtracted" in told
    assert "displacement counts from where the force reaches 0.15 N" in told


def test_values_filed_in_another_unit_stand_beside_the_value_used(dossier: Dossier) -> None:
    table = raw_data.raw_data_table(dossier, dossier.project.protocol("VP-103"))
    assert table is not None
    found = columns(table)
    filed, used = found["Value as filed [psi]"], found["Value used [atm]"]
    assert len(filed) == 105
    for pressure, shown in zip(filed, used, strict=True):
        assert float(shown) == pytest.approx(float(pressure.replace(",", ".")) * PSI_PA / ATM_PA, abs=6e-4)
    assert [one.align for one in table.columns if one.unit] == ["right", "right"]


def test_values_in_the_unit_of_their_limit_are_not_repeated(dossier: Dossier) -> None:
    table = raw_data.raw_data_table(dossier, dossier.project.protocol("VP-105"))
    assert table is not None
    assert "Value used" not in " ".join(columns(table))


def test_an_untested_protocol_counts_all_of_its_planned_specimens(dossier: Dossier) -> None:
    (told,) = test_facts.conclusion(dossier, dossier.project.protocol("VP-114"))
    text = "".join(run.text for run in told)
    assert "not tested in any group. None of the 120 planned specimens has a result yet." in text
    assert "test the 120 planned specimens." in text
    assert ", to be tested fresh." in test_facts.articles(dossier, dossier.project.protocol("VP-114"))
