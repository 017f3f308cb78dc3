"""The example's documents, held to its own files: what was taken from records, values in other units, short words."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reportgen import citation_text, workflow
from reportgen.compose import charts, failure_facts, method_facts, raw_data, result_tables, test_facts, trace_tables
from reportgen.compose.checklist import PROTOCOL_ELEMENTS, REPORT_ELEMENTS, SUMMARY_ELEMENTS
from reportgen.compose.claim_source import own_claim
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.package import compose_documents
from reportgen.compose.records import (
    Bullets,
    Callout,
    Cover,
    DataTable,
    Document,
    Figure,
    Heading,
    Paragraph,
    ProbabilityChart,
    Table,
    TraceChart,
    ValuesChart,
)
from reportgen.compose.workbook import compose_workbook
from reportgen.project.templates import read_templates
from reportgen.render.sheet_sizes import column_widths, print_scale
from reportgen.render.word_widths import printed_width
from reportgen.rounding import parsed
from tests.compose.hand_made import FACTS
from tests.compose.test_documents import anchors

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
# NIST SP 811 (2008), appendix B: the pound-force per square inch in pascals; SI brochure: the standard atmosphere
PSI_PA, ATM_PA = 6894.757293168361, 101325.0


@pytest.fixture(scope="module")
def dossier() -> Dossier:
    analysis = workflow.analyse(EXAMPLE)
    return dossier_of(analysis.project, analysis.reading, analysis.results, analysis.audit, facts=FACTS)


@pytest.fixture(scope="module")
def documents(dossier: Dossier) -> tuple[Document, ...]:
    """The section and the reports; the form for a declaration has no results of its own."""
    *found, form = compose_documents(dossier, read_templates(EXAMPLE))
    assert form.file_name == "declaration_form.docx"
    return tuple(found)


def test_every_entry_of_the_map_of_bench_guidance_has_its_place_in_each_document(
    dossier: Dossier, documents: tuple[Document, ...]
) -> None:
    (entries,) = (one.entries for one in dossier.project.maps if one.id == "fda-bench-2019")
    elements = (*SUMMARY_ELEMENTS, *PROTOCOL_ELEMENTS, *REPORT_ELEMENTS)
    assert {entry.clause for entry in entries} == {clause for one in elements for clause in one.clauses}
    section, *reports = documents
    assert len(reports) == len(dossier.project.protocols) == 14
    for element in SUMMARY_ELEMENTS:
        for protocol in dossier.project.protocols:
            assert element.anchor.format(protocol=protocol.id) in anchors(section), (element.id, protocol.id)
    for element in (*PROTOCOL_ELEMENTS, *REPORT_ELEMENTS):
        for report in reports:
            assert element.anchor in anchors(report), (element.id, report.file_name)


def test_every_table_and_figure_of_results_names_files_whose_fingerprints_the_document_lists(
    documents: tuple[Document, ...],
) -> None:
    seen = 0
    for document in documents:
        blocks = [block for block in document.blocks if isinstance(block, Table | DataTable | Figure)]
        (listed,) = (block for block in blocks if block.anchor == "tbl-sources")
        assert isinstance(listed, DataTable)
        fingerprints = {path: sha256 for path, _, sha256 in listed.rows}
        assert all(len(sha256) == 64 for sha256 in fingerprints.values())
        for block in blocks:
            of_results = block.anchor.startswith(("tbl-results", "tbl-steps", "tbl-modes")) or isinstance(block, Figure)
            if not of_results or block.anchor == "fig-reliability":
                continue
            files = re.split(r", | and ", block.source)
            assert files, block.anchor
            for file in files:
                assert file in fingerprints, (document.file_name, block.anchor, file)
            seen += 1
    assert seen > 120


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
    assert values == columns(raw)["Value from the record [N]"]
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


def test_the_factor_of_a_conversion_is_told_beside_the_values_it_made(dossier: Dossier) -> None:
    told = {id: raw_data.raw_data_table(dossier, dossier.project.protocol(id)) for id in ("VP-103", "VP-104", "VP-105")}
    sources = {id: table.source for id, table in told.items() if table is not None}
    assert "1 psi = 0.06804596391 atm" in sources["VP-103"]
    assert "1 lbf = 4.4482216152605 N exactly" in sources["VP-104"]
    assert "converted" not in sources["VP-105"]
    plan = raw_data.conversion_sentence(dossier, dossier.project.protocol("VP-104"))
    assert plan.endswith("converted once, unrounded: 1 lbf = 4.4482216152605 N exactly.")
    assert raw_data.conversion_sentence(dossier, dossier.project.protocol("VP-105")) == ""


def test_two_readings_of_one_specimen_are_told_apart_by_their_note(dossier: Dossier) -> None:
    table = raw_data.raw_data_table(dossier, dossier.project.protocol("VP-106"))
    assert table is not None
    found = columns(table)
    assert set(found["Note"]) == {"0°", "90°"}
    readings = list(zip(found["Specimen"], found["Note"], strict=True))
    assert len(readings) == len(set(readings)) == 120


def test_no_cell_of_the_raw_data_is_blank_and_untested_specimens_say_so(dossier: Dossier) -> None:
    for protocol in dossier.project.protocols:
        table = raw_data.raw_data_table(dossier, protocol)
        assert table is None or all(text for row in table.rows for text in row), protocol.id
    untested = raw_data.raw_data_table(dossier, dossier.project.protocol("VP-113"))
    assert untested is not None
    values = columns(untested)["Value as filed [turn]"]
    assert values.count(raw_data.NO_RESULT_YET) == 18
    assert [one.align for one in untested.columns if one.title == "Value as filed"] == ["right"]


def test_numbers_of_a_sheet_keep_the_decimals_of_their_column(dossier: Dossier) -> None:
    for id, title in (("VP-105", "Value as filed [N]"), ("VP-109", "Value as filed [%]")):
        table = raw_data.raw_data_table(dossier, dossier.project.protocol(id))
        assert table is not None
        assert {len(text.partition(".")[2]) for text in columns(table)[title]} == {2}, id


def test_a_value_that_was_set_aside_reads_as_in_the_raw_data(dossier: Dossier) -> None:
    protocol = dossier.project.protocol("VP-105")
    aside, raw = result_tables.set_aside_table(dossier, protocol), raw_data.raw_data_table(dossier, protocol)
    assert aside is not None
    assert raw is not None
    titles = [column.title for column in aside.columns]
    told = ["".join(run.text for run in row[titles.index("Value as filed")].runs) for row in aside.rows]
    filed = columns(raw)
    expected = [
        f"{value} N" for value, out in zip(filed["Value as filed [N]"], filed["Set aside"], strict=True) if out == "yes"
    ]
    assert told == expected == ["4.10 N"]


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


def test_each_calibration_period_has_a_line_of_its_own_in_every_column(documents: tuple[Document, ...]) -> None:
    with (EXAMPLE / "calibrations.csv").open(encoding="utf-8", newline="") as file:
        earlier = {row["equipment"]: row for row in csv.DictReader(file)}
    report = next(one for one in documents if one.file_name.endswith("VP-101.docx"))
    table = next(block for block in report.blocks if isinstance(block, Table) and block.anchor == "tbl-equipment")
    titles = [column.title for column in table.columns]
    rows = {"".join(run.text for run in row[0].runs): row for row in table.rows}
    (shown,) = (equipment for equipment in earlier if equipment in rows)
    lines = {
        title: "".join(run.text for run in rows[shown][titles.index(title)].runs).split("\n")
        for title in ("Calibrated on", "Due", "Certificate")
    }
    assert {len(one) for one in lines.values()} == {2}
    first = [one[0] for one in lines.values()]
    assert first == [earlier[shown][name] for name in ("calibrated_on", "calibration_due", "certificate")]


def text_of(document: Document) -> str:
    """All prose of a document, a line for each paragraph or item."""
    lines = []
    for block in document.blocks:
        runs = block.items if isinstance(block, Bullets) else (block.runs,) if isinstance(block, Paragraph) else ()
        lines += ["".join(run.text for run in line) for line in runs]
    return "\n".join(lines).replace("\u00a0", " ").replace("\u2011", "-")


def test_a_running_test_tells_per_lot_what_is_tested_and_is_never_told_as_finished(
    dossier: Dossier, documents: tuple[Document, ...]
) -> None:
    protocol = dossier.project.protocol("VP-113")
    with (EXAMPLE / "results/VP-113/torque.csv").open(encoding="utf-8-sig") as file:
        filed = Counter(row["lot"] for row in csv.DictReader(file) if row["torque_turns [turn]"])
    planned = {group.lot: group.n for group in protocol.sampling.groups}
    assert 0 < sum(filed.values()) < sum(planned.values())
    told = test_facts.articles(dossier, protocol)
    assert ", to be tested fresh. Tested so far: " in told
    for lot, n in planned.items():
        assert (f"{filed[lot]} of {n} specimens of {lot}" in told) is (filed[lot] > 0)
        assert (f"No result yet of {lot}." in told) is (filed[lot] == 0)
    report = text_of(next(one for one in documents if one.file_name == "reports/VP-113.docx"))
    assert "Testing is still running: the results so far are from 2026-09-28 to 2026-09-29" in report
    assert "Testing took place" not in report
    assert "The results are interim" in report
    assert "The specimens go through these steps" in report
    assert "12 are tested so far; testing is still running" in report
    assert "No deviation from the protocol is recorded so far." in report


def test_specimens_of_evidence_that_does_not_count_are_not_said_to_conform(dossier: Dossier) -> None:
    seen = set()
    for protocol in dossier.project.protocols:
        evaluations = dossier.evaluations_of(protocol.id)
        counts = not any(one.standing for one in evaluations)
        told = failure_facts.exceptions_or_none(dossier, protocol)
        exceptions = failure_facts.exceptions(dossier, protocol)
        assert ("counts and conforms" in told) is (counts and not exceptions), protocol.id
        assert ("does not count" in told) is (not counts and not exceptions), protocol.id
        seen.add(counts)
    assert seen == {True, False}


def test_equipment_of_a_test_still_to_come_is_not_told_as_used(documents: tuple[Document, ...]) -> None:
    captions = {
        one.file_name: block.caption
        for one in documents
        for block in one.blocks
        if isinstance(block, Table) and block.anchor == "tbl-equipment"
    }
    assert captions.pop("reports/VP-114.docx") == "Equipment of the method and its calibration"
    assert set(captions.values()) == {"Equipment used and its calibration"}


def test_a_report_without_a_date_is_told_as_not_issued(dossier: Dossier, documents: tuple[Document, ...]) -> None:
    for protocol in dossier.project.protocols:
        told = method_facts.location(dossier, protocol)
        assert ("is not issued yet" in told) is (protocol.report.on is None), protocol.id
        assert (f"issued on {protocol.report.on}" in told) is (protocol.report.on is not None), protocol.id
        cover = next(
            block
            for one in documents
            if one.file_name == f"reports/{protocol.id}.docx"
            for block in one.blocks
            if isinstance(block, Cover)
        )
        assert dict(cover.facts)["Date of the report"] == (str(protocol.report.on or "not issued yet"))
    assert "testing is still running" in method_facts.location(dossier, dossier.project.protocol("VP-113"))
    assert "testing has not begun" in method_facts.location(dossier, dossier.project.protocol("VP-114"))


def test_no_remedy_invites_topping_up_a_sample_or_leaving_the_rest_of_it_out(dossier: Dossier) -> None:
    remedies = {one.key: one.would_change_it for one in dossier.evaluations()}
    running = next(told for key, told in remedies.items() if key.startswith("VP-113/"))
    assert running.startswith("test the remaining 18 specimens as planned")
    assert "would not demonstrate the claim" in running
    (short,) = [told for told in remedies.values() if "new sample" in told]
    assert "specimens must not be added to this sample: its results are known" in short
    assert not any(re.search(r"\d more\)", told) for told in remedies.values())


def test_the_reason_for_the_sizes_is_told_only_where_not_all_models_are_tested(dossier: Dossier) -> None:
    device = dossier.project.settings.device
    shared = " ".join(device.worst_case_rationale.split())
    seen = set()
    for protocol in dossier.project.protocols:
        all_tested = {lot.model for lot in dossier.lots_of(protocol)} == {model.id for model in device.models}
        seen.add(all_tested)
        own = protocol.sampling.worst_case_rationale
        told = test_facts.size_rationale(dossier, protocol)
        assert told == (" ".join(own.split()) if own else "" if all_tested else shared), protocol.id
        assert test_facts.worst_case(dossier, protocol).startswith("All four models") is all_tested, protocol.id
    assert seen == {True, False}
    own = {"worst_case_rationale": "the tips of all models are one part"}
    protocol = dossier.project.protocol("VP-105")
    changed = protocol.model_copy(update={"sampling": protocol.sampling.model_copy(update=own)})
    assert test_facts.size_rationale(dossier, changed) == "The tips of all models are one part."


def test_the_plan_says_what_is_put_together(dossier: Dossier) -> None:
    for protocol in dossier.project.protocols:
        plan = protocol.analysis_plan
        told = " ".join("".join(run.text for run in item) for item in method_facts.plan_items(plan))
        assert ("All lots are evaluated together" in told) is (plan.lots == "pooled" and not plan.evaluate_by)
        if plan.lots == "pooled" and plan.evaluate_by:
            assert f"All lots of a {' and '.join(plan.evaluate_by)} are evaluated together as one sample." in told


def test_a_claim_that_is_the_design_inputs_own_is_printed_with_its_reason_and_what_the_risk_would_ask(
    dossier: Dossier, documents: tuple[Document, ...]
) -> None:
    design_input = dossier.project.design_input("DI-017")
    told = own_claim(dossier.project, design_input)
    assert told.startswith(f"DI-017 states its own claim: {design_input.assurance_reason.rstrip('.')}.")
    assert "Its risk would ask for 95 % confidence, 99 % reliability (risk RK-02, severity 'critical', by " in told
    report = next(one for one in documents if one.file_name == "reports/VP-114.docx")
    table = next(block for block in report.blocks if isinstance(block, Table) and block.anchor == "tbl-criteria")
    (note,) = ("".join(run.text for run in note).replace("\u00a0", " ") for note in table.notes)
    assert note == told
    assert own_claim(dossier.project, dossier.project.design_input("DI-016")) == ""


def test_no_key_of_our_own_maps_is_printed_for_readers(dossier: Dossier) -> None:
    keys = {
        entry.clause
        for one in dossier.project.maps
        for entry in one.entries
        if entry.clause != citation_text.clause_number(entry.clause, cited_as=entry.cited_as, own_keys=one.own_keys)
        # a single word may stand in any sentence
        and any(sign in entry.clause for sign in "-.:")
    } - {"simulated-use"}  # which topics say as well
    keys |= {one.id for one in dossier.project.maps if "-" in one.id}
    assert {"system-torque", "I.10.2-6", "fda-stents-2010"} <= keys
    seen = 0
    any_key = re.compile(rf"(?<![\w/.-])(?:{'|'.join(map(re.escape, sorted(keys)))})(?![\w-]|\.yaml)")
    for document in compose_documents(dossier, read_templates(EXAMPLE)):
        for text in shown_to_readers(document):
            found = any_key.search(text.replace("\u2011", "-"))
            assert found is None, (document.file_name, found, text)
            seen += 1
    assert seen > 5000


BRITISH = re.compile(
    r"\b(?:\w*(?:sterilis|recognis|characteris[ae]|normalis|generalis|summaris|standardis|organis|embolis)\w*|ageing|grey"
    r"|colour\w*|favour\w*|neighbour\w*|behaviour|labell(?:ed|ing)|modelling|travelled|centred?|millimetres?|fibres?"
    r"|analysed?|judgements?|offence|licence|programmes?|per cent|artefacts?|catalogue|moulded)\b",
    re.IGNORECASE,
)


def test_documents_are_spelled_in_one_way(documents: tuple[Document, ...]) -> None:
    seen = 0
    for document in documents:
        assert document.language == "en-US"
        for text in shown_to_readers(document):
            found = BRITISH.search(text)
            assert found is None, (document.file_name, found, text)
            seen += 1
    assert seen > 5000


def shown_to_readers(document: Document) -> Iterator[str]:
    """Every paragraph, item, caption and cell, except what to type into files (remedies) and names of files."""
    for block in document.blocks:
        if isinstance(block, Paragraph):
            yield "".join(run.text for run in block.runs)
        elif isinstance(block, Bullets):
            yield from ("".join(run.text for run in item) for item in block.items)
        elif isinstance(block, Heading):
            yield block.text
        elif isinstance(block, Cover | Callout):
            yield str(block)
        elif isinstance(block, Table | DataTable):
            yield block.caption
            if block.anchor == "tbl-sources":
                continue
            for row in block.rows:
                for column, found in zip(block.columns, row, strict=True):
                    if column.title not in ("Remedy", "Place"):
                        yield found if isinstance(found, str) else "".join(run.text for run in found.runs)


def test_captions_fit_a_line_of_the_lists_and_end_without_a_full_stop(documents: tuple[Document, ...]) -> None:
    # the type of the lists, and the room before their page numbers, in twentieths of a point
    size, room = 210, 9072 - 567
    for document in documents:
        captioned = [one for one in document.blocks if isinstance(one, Table | DataTable | Figure) and one.caption]
        assert captioned
        for block in captioned:
            kind = "Figure" if isinstance(block, Figure) else "Table"
            assert printed_width(f"{kind} 88. {block.caption}", size) <= room, (document.file_name, block.caption)
            assert block.caption[-1] not in ".;:,", (document.file_name, block.caption)


def test_figures_name_in_their_caption_only_what_they_draw(documents: tuple[Document, ...]) -> None:
    found = 0
    for document in documents:
        for block in document.blocks:
            if isinstance(block, Figure) and isinstance(block.chart, ValuesChart):
                shown = {line.style for line in block.chart.lines if not line.beyond(block.chart.span)}
                named = re.sub("acceptance limit", "acceptance", block.caption)
                assert {style for style in ("limit", "acceptance", "bound") if style in named} == shown
                for line in block.chart.lines:
                    assert (f"{line.label}, {line.beyond(block.chart.span)}" in block.alt) == bool(
                        line.beyond(block.chart.span)
                    )
                found += 1
    assert found == 13


def test_figures_of_guarded_decisions_show_the_limit_moved_inwards(documents: tuple[Document, ...]) -> None:
    lines = {
        (document.file_name, line.label.replace("\u00a0", " "), type(block.chart))
        for document in documents
        for block in document.blocks
        if isinstance(block, Figure) and isinstance(block.chart, ValuesChart | ProbabilityChart)
        for line in (block.chart.lines if isinstance(block.chart, ValuesChart) else block.chart.limits)
        if line.style == "acceptance"
    }
    # by hand: 19.0 N + 0.25 N, and 28.0 s - 0.7 s, which differences from the means of lots cannot be compared with
    assert lines == {
        ("reports/VP-104.docx", "acceptance limit 19.25 N", ValuesChart),
        ("reports/VP-104.docx", "acceptance limit 19.25 N", ProbabilityChart),
        ("reports/VP-108.docx", "acceptance limit 27.3 s", ValuesChart),
    }


def test_traces_mark_the_first_drop_on_each_curve_and_name_those_without_one(dossier: Dossier) -> None:
    evaluations = dossier.evaluations_of("VP-101")
    figure = charts.trace_figure(dossier, evaluations, anchor="a", key="k")
    assert figure is not None
    assert isinstance(figure.chart, TraceChart)
    values = {one.specimen: one.value for evaluation in evaluations for one in evaluation.values}
    curves = figure.chart.curves
    assert len(curves) == charts.MOST_CURVES
    for curve in curves:
        assert curve.drop is not None
        # the force at the mark is the value that the report gives, and the mark stands on the curve
        assert curve.drop[1] == values[curve.label]
        nearest = min(
            zip(curve.displacement_mm, curve.force_n, strict=True), key=lambda point: abs(point[0] - curve.drop[0])
        )
        assert nearest[1] == pytest.approx(curve.drop[1], abs=0.15)
    assert [line.style for line in figure.chart.limits] == ["limit"]
    assert figure.caption == "Force over displacement of 5 of 60 specimens, with limit"
    assert "Without a drop" not in figure.note
    first = curves[0].label
    reduced = tuple(
        replace(one, reduction=replace(one.reduction, dropped=one.trace.specimen != first))
        for one in dossier.reading.reduced
    )
    changed = replace(dossier, reading=replace(dossier.reading, reduced=reduced))
    figure = charts.trace_figure(changed, evaluations, anchor="a", key="k")
    assert figure is not None
    assert f"Without a drop in the window, so without its mark: {first}." in figure.note
    assert "the first drop is marked on 4 of 5 curves" in figure.alt


def test_the_sheet_of_calculations_prints_in_type_of_six_points_or_more(dossier: Dossier) -> None:
    (sheet,) = (one for one in compose_workbook(dossier).sheets if one.title == "Calculations")
    # the sheets are set in 10 points
    assert print_scale(sheet.page_breaks, column_widths(sheet), repeated=sheet.repeated_columns) >= 60
    assert [column.title for column in sheet.tables[0].columns[: sheet.repeated_columns]] == ["Evaluation", "Unit"]


def test_a_protocol_without_results_has_no_lone_heading_on_its_data_sheet(dossier: Dossier) -> None:
    (sheet,) = (one for one in compose_workbook(dossier).sheets if one.title == "Data VP-114")
    assert sheet.tables == ()
    assert sheet.notes == ("No result is on file yet.",)


def test_a_margin_to_a_limit_in_percent_is_told_in_percentage_points(dossier: Dossier) -> None:
    found = [one for one in dossier.evaluations_of("VP-109") if one.margin is not None]
    assert len(found) == 2
    for evaluation in found:
        assert dossier.bound[f"{evaluation.key}/margin"].unit == "percentage points"
        assert "percentage points" in evaluation.reason


def test_a_criterion_under_results_is_bound_and_no_caption_repeats_it(
    dossier: Dossier, documents: tuple[Document, ...]
) -> None:
    told = {}
    for report in documents:
        for block in report.blocks:
            if isinstance(block, Table) and block.caption.startswith("Results for ") and block.notes:
                told[block.caption.split(",")[0].removeprefix("Results for ")] = block.notes[0]
    assert set(told) == {one.id for one in dossier.project.design_inputs} - {"DI-017"}
    for design_input in dossier.project.design_inputs:
        runs = told.get(design_input.id, ())
        bound = {run.key.rpartition("/")[2]: run.text for run in runs if run.key}
        wanted = {"lower_limit": design_input.lower_limit, "upper_limit": design_input.upper_limit}
        for name, limit in wanted.items() if runs else ():
            assert (name in bound) is (limit is not None), design_input.id
            assert limit is None or float(parsed(bound[name])) == limit
    sentence = "".join(run.text for run in told["DI-004"]).replace("\u00a0", " ")
    assert sentence == (
        "Criterion: at least 19.0 N with 95 % confidence, 99 % reliability; the bound must clear the limit by the "
        "guard band of 0.25 N."
    )
    captions = [block.caption for report in documents for block in report.blocks if isinstance(block, Table | Figure)]
    assert not any("at least" in caption or "at most" in caption for caption in captions)


def test_a_characteristic_is_told_by_the_name_that_the_register_gives_it(documents: tuple[Document, ...]) -> None:
    report = next(one for one in documents if one.file_name.endswith("VP-112.docx"))
    captions = [block.caption.replace("\u00a0", " ") for block in report.blocks if isinstance(block, Table | Figure)]
    headings = [block.text.replace("\u00a0", " ") for block in report.blocks if isinstance(block, Heading)]
    assert "DI-014: particles of 10 µm and larger" in headings
    assert "Results for DI-015, particles of 25 µm and larger" in captions
    assert any(one.startswith("Particles of 10 µm and larger by lot") for one in captions)
    # the key stands for a characteristic without a name
    other = next(one for one in documents if one.file_name.endswith("VP-103.docx"))
    assert "DI-003: burst pressure" in [block.text for block in other.blocks if isinstance(block, Heading)]


def test_verdicts_that_rest_on_a_reservation_are_named_where_the_verdicts_are_counted(dossier: Dossier) -> None:
    told = test_facts.reservations(dossier)
    assert "DI-005 (VP-105, fresh) rests on leaving out what was set aside" in told
    unlike = [lot for lot in dossier.project.lots if not lot.production_equivalent]
    assert [lot.lot for lot in unlike] == ["LT-2604"]
    assert "DI-003 (VP-103) and DI-006 (VP-106) rest in part on lot LT-2604" in told


def test_the_clauses_of_one_design_input_are_not_told_of_all(dossier: Dossier) -> None:
    told = {one: method_facts.performed(dossier, dossier.project.protocol(one)) for one in ("VP-101", "VP-109")}
    assert "DI-010 is also linked to Regulation (EU) 2017/745 (Annex I, 23.4" in told["VP-109"]
    assert "DI-010 and" not in told["VP-109"]
    assert "The design input addressed here is also linked to" in told["VP-101"]


def test_lots_that_were_not_aged_are_not_said_to_be(dossier: Dossier) -> None:
    told = test_facts.articles(dossier, dossier.project.protocol("VP-103"))
    assert "tested fresh; LT-2601, LT-2602 and LT-2603 also tested aged." in told
    assert "tested fresh and aged." in test_facts.articles(dossier, dossier.project.protocol("VP-101"))


def test_accelerated_aging_tells_what_age_it_stands_for(documents: tuple[Document, ...]) -> None:
    # 92 d at 55 °C, Q10 = 2, stored at 25 °C: the relation of ASTM F1980, 92 times 2 to the power of 3
    (lots,) = (block for block in documents[0].blocks if isinstance(block, Table) and block.anchor == "tbl-lots")
    notes = "".join(run.text for note in lots.notes for run in note).replace("\u00a0", " ")
    assert f"Q10 = 2, standing for {92 * 2**3} d. Accelerated" in notes


def test_a_running_test_is_interim_in_the_summary(documents: tuple[Document, ...]) -> None:
    (summary,) = (block for block in documents[0].blocks if isinstance(block, Table) and block.anchor == "tbl-summary")
    rows = ["|".join("".join(run.text for run in cell.runs) for cell in row) for row in summary.rows]
    interim = [row.replace("\u00a0", " ") for row in rows if "interim" in row]
    assert [row.split("|")[0].split(" ")[0] for row in interim] == ["VP-113"]
    assert "|12 of 30|" in interim[0]


def test_values_taken_from_records_are_not_said_to_be_filed(documents: tuple[Document, ...]) -> None:
    for document in documents[1:]:
        raw = [block for block in document.blocks if isinstance(block, DataTable) and block.anchor == "tbl-raw"]
        for table in raw:
            titles = [column.title for column in table.columns]
            from_records = document.file_name in {"reports/VP-101.docx", "reports/VP-102.docx"}
            is_of_records = any(block for block in document.blocks if getattr(block, "anchor", "") == "tbl-records")
            assert ("Value from the record" in titles) is is_of_records
            assert ("Value as filed" in titles) is not is_of_records
            assert from_records or not is_of_records
