"""What laboratories hand over beside values, and what a reader must not read past. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from reportgen.acceptance.records import Evaluation
from reportgen.compose import article_tables, audit_tables, filed_tables, section, test_facts
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import Table
from reportgen.compose.sentences import text_of
from reportgen.compose.steps_table import steps_table
from reportgen.problems import Place
from reportgen.project.records import Calibration, Deviation, Photograph, ReportedSummary
from reportgen.trace.records import Finding, Severity, Waiver
from tests.compose.hand_made import dossier, evaluation


def shown(table: Table | None) -> list[list[str]]:
    assert table is not None
    return [[text_of(cell.runs) for cell in row] for row in table.rows]


def with_protocol(found: Dossier, **changed: object) -> Dossier:
    """The dossier with its first protocol changed."""
    first, *others = found.project.protocols
    protocols = (first.model_copy(update=changed), *others)
    return replace(found, project=found.project.model_copy(update={"protocols": protocols}))


def test_settings_and_photographs_are_printed_where_there_are_any(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    protocol = found.project.protocols[0]
    assert filed_tables.settings_table(protocol) is None
    assert filed_tables.photographs_table(protocol) is None
    recorded = protocol.results[0].model_copy(update={"settings": {"medium": "saline", "temperature": "36.6 °C"}})
    picture = Photograph(place=Place("vp.yaml"), file="log 3", shows="Grip closed", setup=True)
    broken = Photograph(place=Place("vp.yaml"), file="log 4", specimens=("A-1", "A-2"))
    full = protocol.model_copy(update={"results": (recorded,), "photographs": (picture, broken)})
    assert shown(filed_tables.settings_table(full)) == [
        ["results/vp_01.csv", "medium", "saline"],
        ["results/vp_01.csv", "temperature", "36.6 °C"],
    ]
    assert shown(filed_tables.photographs_table(full)) == [
        ["set-up", "Grip closed", "log 3"],
        ["A-1 and A-2", "–", "log 4"],
    ]


def test_statistics_of_another_document_are_printed_as_it_prints_them(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    protocol = found.project.protocols[0]
    assert filed_tables.reported_table(found, protocol) is None
    summary = ReportedSummary(
        place=Place("vp.yaml"),
        source="report X",
        design_input="DI-001",
        condition="fresh",
        n=10,
        mean="18.0",
        sd="1.10",
    )
    told = filed_tables.reported_table(found, protocol.model_copy(update={"reported": (summary,)}))
    assert shown(told) == [["report X", "DI-001, fresh", "10", "18.0", "1.10", "N"]]
    assert told is not None
    assert [column.title for column in told.columns] == ["Printed in", "Of", "n", "Mean", "SD", "Unit"]


def test_equipment_that_aged_the_lots_stands_apart_and_as_found_results_are_told(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    protocol = found.project.protocols[0]
    plain = shown(article_tables.equipment_table(found, protocol))
    assert not any(row[-1] == "aging of the lots" for row in plain)
    used = plain[0][0]
    chamber = found.project.equipment[0].model_copy(update={"id": "CH-9", "description": "Chamber"})
    lots = tuple(lot.model_copy(update={"ageing": "in CH-9, not CH-90"}) for lot in found.project.lots)
    near = chamber.model_copy(update={"id": "CH-99"})
    later = Calibration(
        place=Place("calibrations.csv"),
        equipment=used,
        calibrated_on=date(2026, 1, 1),
        calibration_due=date(2027, 1, 1),
        as_found="largest error 0.1 N",
    )
    changed = replace(
        found,
        project=found.project.model_copy(
            update={"equipment": (*found.project.equipment, chamber, near), "lots": lots, "calibrations": (later,)}
        ),
    )
    table = article_tables.equipment_table(changed, protocol)
    assert [row[0] for row in shown(table) if row[-1] == "aging of the lots"] == ["CH-9"]
    assert table is not None
    assert [text_of(note) for note in table.notes] == [f"{used}, calibrated on 2026-01-01: largest error 0.1 N."]


def test_a_finding_that_was_waived_says_by_whom_when_and_why(tmp_path: Path) -> None:
    waiver = Waiver(reason="The file grows until December", by="H. Drummore", on=date(2026, 10, 9))
    finding = Finding(
        rule="r", severity=Severity.NOTE, records=("VP-01",), place=None, message="M.", remedy="R.", waiver=waiver
    )
    found = dossier(tmp_path, evaluation(), findings=(finding,))
    row = shown(audit_tables.findings_table(found, found.audit.findings, anchor="a", key="k"))[0]
    assert row[0] == "note (waived)"
    assert row[1].endswith("M. Waived by H. Drummore on 2026-10-09: The file grows until December.")


def test_a_conclusion_names_the_specimens_that_a_deviation_concerns(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    deviation = Deviation(
        place=Place("vp.yaml"), id="DEV-1", description="Short soak", specimens=("PF02", "PF03", "elsewhere")
    )
    told = " ".join(text_of(one) for one in test_facts.conclusion(found, found.project.protocols[0]))
    assert "Deviation" not in told
    changed = with_protocol(found, deviations=(deviation,))
    told = " ".join(text_of(one) for one in test_facts.conclusion(changed, changed.project.protocols[0]))
    assert "Deviation DEV-1 concerns PF02 and PF03; its effect is told with the deviation." in told


def test_groups_are_named_where_one_design_input_was_judged_in_two_ways() -> None:
    """The reader must see which group fell back on which approach."""

    def one(group: str, method: str, design_input: str = "DI-001") -> Evaluation:
        key = f"VP-01/{design_input}/{group}"
        return evaluation(key=key, group=group, conditions=(group,), interval_method=method, design_input=design_input)

    told = [
        text_of(runs)
        for runs in section.approaches_used((
            one("fresh", "normal, exact"),
            one("aged", "order statistics"),
            one("fresh", "normal, exact", "DI-002"),
            one("aged", "normal, exact", "DI-002"),
        ))
    ]  # fmt: skip
    assert told == ["Normal, exact: DI-001 fresh and DI-002 (VP-01).", "Order statistics: DI-001 aged (VP-01)."]


def test_checks_say_of_what_they_were_computed(tmp_path: Path) -> None:
    """Two checks are named after Anderson and Darling: one compares samples, one asks for a distribution."""
    from reportgen.acceptance.records import Figure, Outcome, Step

    def step(name: str, *figures: str) -> Step:
        told = tuple(Figure(name=figure, value=0.51234) for figure in figures)
        return Step(name=name, sentence=".", outcome=Outcome.PASSED, figures=told)

    steps = (
        step("lots", "lots_anderson_darling", "lots_anderson_darling_p"),
        step("distribution", "distribution_anderson_darling", "distribution_anderson_darling_p"),
        step("outliers", "outlier_statistic", "outlier_critical_value"),
        step("run order", "run_order_von_neumann", "run_order_von_neumann_p"),
    )
    for approach, scale in (
        ("normal", ""),
        ("lognormal", ", of the logarithms"),
        ("box_cox", ", of the transformed values"),
    ):
        judged = evaluation(approach=approach, approach_used=approach, steps=steps)
        found = dossier(tmp_path / approach, judged)
        rows = shown(steps_table(found, judged, anchor="a"))
        assert [row[1] for row in rows] == [
            "Anderson-Darling, k samples",
            f"Anderson-Darling{scale}",
            f"maximum normed residual{scale}",
            f"its critical value{scale}",
            "von Neumann ratio",
        ]
        assert {row[2] for row in rows} == {"0.512"}
