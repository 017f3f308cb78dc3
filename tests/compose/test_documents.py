"""The documents of a package: every element has its place, open things are said, drafts say why, faults are told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import Standing, Verdict
from reportgen.compose.checklist import PROTOCOL_ELEMENTS, REPORT_ELEMENTS, SUMMARY_ELEMENTS
from reportgen.compose.dossier import dossier_of
from reportgen.compose.finish import runs_in
from reportgen.compose.package import compose_documents
from reportgen.compose.records import Cover, DataTable, Document, Figure, Heading, Table
from reportgen.compose.reliability import reliability_lead
from reportgen.lab.read import read_lab
from reportgen.problems import Place, UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.templates import TemplateText, read_templates
from reportgen.trace.audit import audit
from reportgen.trace.records import Finding, Severity, Waiver
from tests.compose.hand_made import FACTS, dossier, evaluation, values_of
from tests.compose.plain_text import as_text
from tests.good_project import write_good_project


def documents(folder: Path, *evaluations: object, findings: tuple[Finding, ...] = ()) -> tuple[Document, ...]:
    given = evaluations or (evaluation(),)
    found = dossier(folder, *given, findings=findings)  # type: ignore[arg-type]
    return compose_documents(found, read_templates(folder))


def anchors(document: Document) -> set[str]:
    return {anchor for block in document.blocks if (anchor := getattr(block, "anchor", ""))}


def blocker(*records: str, rule: str = "calibration-not-valid-on-test-date", **more: object) -> Finding:
    return Finding(
        rule=rule, severity=Severity.BLOCKER, records=records, place=Place("equipment.csv", row=2),
        message=f"{records[0]} is at fault.", remedy="mend it", **more,  # type: ignore[arg-type]
    )  # fmt: skip


def test_every_element_of_a_test_summary_has_its_place_in_the_section(tmp_path: Path) -> None:
    section = documents(tmp_path)[0]
    wanted = {
        element.anchor.format(protocol=protocol) for element in SUMMARY_ELEMENTS for protocol in ("VP-01", "VP-02")
    }
    assert len(wanted) == 2 * 8 + 1
    assert wanted <= anchors(section)


def test_every_element_of_protocol_and_complete_report_has_its_place_in_each_report(tmp_path: Path) -> None:
    _, *reports = documents(tmp_path)
    wanted = {element.anchor for element in (*PROTOCOL_ELEMENTS, *REPORT_ELEMENTS)}
    assert [report.file_name for report in reports] == ["reports/VP-01.docx", "reports/VP-02.docx"]
    for report in reports:
        assert wanted <= anchors(report)


def test_no_document_has_leftover_syntax_an_empty_heading_or_a_wall_of_not_applicable(tmp_path: Path) -> None:
    for document in documents(tmp_path):
        text = as_text(document)
        for leftover in ("{{", "}}", "{%", "\ue000", "\ue001", "None", "N/A", "n/a", " .", "..", "()", "nan"):
            assert leftover not in text.replace("...", ""), leftover
        for block, following in zip(document.blocks, document.blocks[1:], strict=False):
            if isinstance(block, Heading) and isinstance(following, Heading):
                assert following.level > block.level


def test_every_key_and_reference_of_a_document_stands_for_something(tmp_path: Path) -> None:
    for document in documents(tmp_path):
        listed = {value.key: value.text for value in document.bound}
        runs = [run for block in document.blocks for run in runs_in(block) if run.key]
        used = {run.key: run.text.replace("\u00a0", " ") for run in runs}
        assert used.items() <= listed.items()
        references = {run.refer_to for block in document.blocks for run in runs_in(block) if run.refer_to}
        assert references
        assert references <= anchors(document)


def test_every_table_and_figure_of_results_names_its_files(tmp_path: Path) -> None:
    report = documents(tmp_path)[1]
    blocks = {block.anchor: block for block in report.blocks if isinstance(block, Table | DataTable | Figure)}
    assert isinstance(blocks["tbl-results-DI-001"], Table)
    assert blocks["tbl-results-DI-001"].source == "results/vp_01.csv"
    raw, sources = blocks["tbl-raw"], blocks["tbl-sources"]
    assert isinstance(raw, DataTable)
    assert isinstance(sources, DataTable)
    assert raw.rows[0][-1] == "F1:2"
    assert raw.source == (
        "F1 = results/vp_01.csv; in every row: lot L-0101, model CR-5F-100, mode bond, operator M. Invented and "
        "equipment EQ-01"
    )
    assert len(raw.rows) == 40
    assert {row[0] for row in sources.rows} >= {"results/vp_01.csv", "protocols/vp_01.yaml", "methods/tm_01.yaml"}
    assert "results/vp_02.csv" not in {row[0] for row in sources.rows}


def test_a_clean_package_is_no_draft(tmp_path: Path) -> None:
    for document in documents(tmp_path):
        assert not document.draft
        assert document.header_note == ""
        cover = document.blocks[0]
        assert isinstance(cover, Cover)
        assert cover.draft_reasons == ()


def test_a_blocker_makes_drafts_and_each_document_says_why(tmp_path: Path) -> None:
    section, pull, leak = documents(tmp_path, findings=(blocker("EQ-02", "VP-02"),))
    for document in (section, pull, leak):
        assert document.draft
        assert document.header_note == "Draft - not for submission"
    reasons = []
    for document in (section, pull, leak):
        cover = document.blocks[0]
        assert isinstance(cover, Cover)
        reasons.append((*cover.draft_reasons, cover.draft_more))
    own = "calibration-not-valid-on-test-date (EQ-02, VP-02): EQ-02 is at fault."
    assert reasons == [
        (own, ""),
        ("1 blocker of the package stands in the appendix of the bench-testing section.",),
        (own, ""),
    ]


def test_a_first_page_holds_a_handful_of_reasons_and_says_how_many_more_there_are(tmp_path: Path) -> None:
    many = tuple(blocker(f"EQ-{number:02d}", "VP-02") for number in range(11))
    section, _, leak = documents(tmp_path, findings=many)
    for document in (section, leak):
        cover = document.blocks[0]
        assert isinstance(cover, Cover)
        assert len(cover.draft_reasons) == 8
        assert cover.draft_more == "3 more blockers stand in the appendix of findings."


def test_a_waived_blocker_makes_no_draft_and_is_printed_with_name_and_reason(tmp_path: Path) -> None:
    waiver = Waiver(reason="checked after the test", by="K. Invented", on="2026-04-01")
    section = documents(tmp_path, findings=(blocker("EQ-02", "VP-02", waiver=waiver),))[0]
    assert not section.draft
    text = as_text(section)
    assert "checked after the test | K. Invented, 2026-04-01" in text
    assert "blocker (waived)" in text


@pytest.mark.parametrize("verdict", [Verdict.NOT_MET, Verdict.NOT_DEMONSTRATED, Verdict.NOT_TESTED])
def test_what_is_not_met_is_said_in_plain_words_with_what_would_change_it(tmp_path: Path, verdict: Verdict) -> None:
    open_one = evaluation(verdict=verdict, reason="It fell short", would_change_it="test thirty devices")
    section, report, _ = documents(tmp_path, open_one)
    for document in (section, report):
        text = as_text(document)
        assert f"[{verdict.value}]" in text
        assert "What would change it: test thirty devices." in text or "[test thirty devices.]" in text
        lead = {
            Verdict.NOT_MET: "do not support",
            Verdict.NOT_DEMONSTRATED: "do not yet support",
            Verdict.NOT_TESTED: "Here nothing has been tested yet that could support",
        }[verdict]
        assert f"{lead} the claim of the submission" in text


def test_a_group_without_a_demonstrated_reliability_is_named_and_not_its_whole_design_input() -> None:
    bare = evaluation(key="VP-01/DI-001/aged", group="aged", conditions=("aged",), achieved_reliability=None)
    told = "".join(run.text for run in reliability_lead((evaluation(), bare)))
    assert "DI-001 (aged) has no bar: no reliability is shown." in told
    alone = "".join(run.text for run in reliability_lead((evaluation(design_input="DI-002"), bare)))
    assert "DI-001 has no bar" in alone


def test_what_is_not_counted_and_what_is_not_tested_is_told_beside_the_bars() -> None:
    standing = Standing(rule="r", sentence="the limit was set with TM-09", would_change_it="test with TM-09")
    aside = [evaluation(design_input="DI-002", group=group, standing=(standing,)) for group in ("aged", "fresh")]
    later = evaluation(design_input="DI-003", achieved_reliability=None, verdict=Verdict.NOT_TESTED, n=0)
    told = "".join(run.text for run in reliability_lead((evaluation(), *aside, later)))
    assert "every one that counts reaches it" in told
    assert "DI-002 is shown for information only: the evidence does not count." in told
    assert "DI-003 is not tested: an outline tells how far the bar must reach." in told
    assert "no bar" not in told


def test_devices_that_share_a_number_are_told_apart_by_lot_and_condition(tmp_path: Path) -> None:
    aged = [replace(one, condition="aged") for one in values_of((9.5,))]
    values = (*values_of((9.0,)), *aged)
    open_one = evaluation(values=values, failing=(0,), n=2, n_planned=2, verdict=Verdict.NOT_MET, reason="One is below")
    text = as_text(documents(tmp_path, open_one)[1])
    assert "One specimen does not conform: PF01 of L-0101, fresh." in text
    assert "counts and conforms" not in text


def test_a_measured_value_outside_its_limit_is_told_among_the_failures_of_both_documents(tmp_path: Path) -> None:
    folder = write_good_project(tmp_path)
    results = folder / "results/vp_01.csv"
    assert results.read_text("utf-8").count("18.21") == 1
    results.write_text(results.read_text("utf-8").replace("18.21", "9.99"), encoding="utf-8")
    project = read_project(folder)
    reading = read_lab(project)
    judged = evaluate(project, reading.measurements)
    found = dossier_of(project, reading, judged, audit(project, reading, judged), facts=FACTS)
    assert any(one.verdict is Verdict.NOT_MET for one in judged)
    section, report, _ = compose_documents(found, read_templates(folder))
    for document in (section, report):
        assert "One specimen does not conform: PF01." in as_text(document), document.file_name
    assert "counts and conforms" not in as_text(report)


def test_hostile_project_text_stands_literally_in_the_documents(tmp_path: Path) -> None:
    hostile = "{{ 7*7 }} | <b>x</b> *y* \x07 \u202e"
    found = dossier(tmp_path, evaluation())
    device = found.project.settings.device.model_copy(update={"name": hostile, "description": hostile})
    settings = found.project.settings.model_copy(update={"device": device})
    inputs = tuple(one.model_copy(update={"statement": hostile}) for one in found.project.design_inputs)
    project = found.project.model_copy(update={"settings": settings, "design_inputs": inputs})
    for document in compose_documents(replace(found, project=project), read_templates(tmp_path)):
        text = as_text(document)
        assert "{{ 7*7 }} | <b>x</b> *y* ␇ " in text
        assert "\x07" not in text
        assert "49" not in text.split("SHA-256")[0].split("cover")[1][:400]


def test_a_template_of_the_project_replaces_the_shipped_one(tmp_path: Path) -> None:
    folder = tmp_path / "templates"
    folder.mkdir()
    (folder / "bench_testing_section.md.j2").write_text(
        "# Own {{ device.name }}\n\n{{ value('VP-01/DI-001/fresh/mean') }}\n"
    )
    section, report, _ = documents(tmp_path)
    assert as_text(section).endswith("# Own Corrie 5F sampling catheter (invented) {}\n[18.046]\n")
    assert "Objective and requirements" in as_text(report)


@pytest.mark.parametrize(
    ("source", "row", "found", "mend"),
    [
        (
            "a\n{{ value('VP-01/DI-001/fresh/maen') }}",
            2,
            "unknown bound value 'VP-01/DI-001/fresh/maen'",
            "fresh/mean'",
        ),
        ("a\n\n{{ table('sumary') }}", 3, "unknown table 'sumary'", "'summary'"),
        ("{{ figure('x') }}", 1, "unknown figure 'x'", "'reliability'"),
        ("a\nb {{ ref('tbl-sumary') }}\n\n{{ table('summary') }}", 2, "a reference to 'tbl-sumary'", "'tbl-summary'"),
        ("a\n{{ device.nmae }}", 2, "unknown value 'nmae'", "'name'"),
        ("{{ table('results', 'VP-01') }}", 1, "table 'results' called with 'VP-01' as protocol", "a protocol"),
        ("{{ table('summary', device) }}", 1, "table 'summary' called with 1 argument", "README"),
        ("{{ counted('two', 'test') }}", 1, "counted called with 'two' as count", "a whole number"),
        ("{{ sentence() }}", 1, "sentence called with 0 arguments", "README"),
        ("{{ bullets(protocols) }}", 1, "a Protocol as an item of a list", "map(attribute='id')"),
        ("{{ contents('chapters', 'x') }}", 1, "contents of 'chapters'", "'headings'"),
        ("{{ table('sizes') }}\n\n{{ table('sizes') }}", None, "the anchor 'tbl-sizes' twice", "once"),
        ("{{ devise }}", 1, "unknown value 'devise'", "'device'"),
    ],
)
def test_a_fault_in_a_template_of_the_project_tells_file_line_value_and_neighbour(
    tmp_path: Path, source: str, row: int | None, found: str, mend: str
) -> None:
    prepared = {template.name: template for template in read_templates(tmp_path)}
    name = "bench_testing_section.md.j2"
    prepared[name] = TemplateText(name, source, Place(f"templates/{name}"))
    with pytest.raises(UnreadableInput) as told:
        compose_documents(dossier(tmp_path, evaluation()), tuple(prepared.values()))
    (problem,) = told.value.problems
    assert problem.place == Place(f"templates/{name}", row=row)
    assert problem.found == found
    assert mend in problem.mend


def test_faults_of_several_templates_are_told_together(tmp_path: Path) -> None:
    prepared = {template.name: template for template in read_templates(tmp_path)}
    for name in ("bench_testing_section.md.j2", "test_report.md.j2"):
        prepared[name] = TemplateText(name, "{{ table('nothing') }}", Place(f"templates/{name}"))
    with pytest.raises(UnreadableInput) as told:
        compose_documents(dossier(tmp_path, evaluation()), tuple(prepared.values()))
    assert [problem.place.file for problem in told.value.problems] == [
        "templates/bench_testing_section.md.j2",
        "templates/test_report.md.j2",
    ]


def test_the_same_inputs_give_the_same_documents(tmp_path: Path) -> None:
    assert documents(tmp_path) == documents(tmp_path)
