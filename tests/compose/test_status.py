"""The status page as data: counts, drawings on one scale, what is open and for whom, and what changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from reportgen.acceptance.records import DesignInputResult, SetAside, Standing, Verdict
from reportgen.compose import status
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.records import EarlierStatus, SpecimenCounts, StatusPage
from reportgen.compose.status import compose_status
from reportgen.compose.summary import status_lines
from reportgen.problems import Place
from reportgen.render.page_markup import SIGNS
from reportgen.trace.records import Audit, ClauseCoverage, CoverageStatus, Finding, Severity, Waiver
from reportgen.workflow import analyse
from tests.compose.hand_made import FACTS, dossier, evaluation, values_of
from tests.good_project import BOND_AGED_N, good_files, write_files


def aside(specimen: str, lot: str = "L-0101") -> SetAside:
    return SetAside(
        specimen=specimen,
        lot=lot,
        condition="fresh",
        filed_value="2.0 N",
        cause="grip slipped",
        failure_mode="",
        place=Place("results/vp_01.csv", row=40),
    )


def finding(severity: Severity, *records: str, waived: bool = False) -> Finding:
    waiver = Waiver(reason="why", by="who", on="2026-04-01") if waived else None
    return Finding(
        rule="a-rule", severity=severity, records=records, place=None, message="m", remedy="r", waiver=waiver
    )


def read(folder: Path) -> Dossier:
    found = analyse(folder)
    return dossier_of(found.project, found.reading, found.results, found.audit, facts=FACTS)


def plain(text: str) -> str:
    """As it is read: blanks at which no line ends are blanks."""
    return text.replace("\u00a0", " ")


def page_without(folder: Path, *specimens: str, protocol: str = "") -> StatusPage:
    """The page of the good project whose named specimens have no result."""
    files = good_files()
    kept = [line for line in files["results/vp_01.csv"].splitlines() if line.split(",")[0] not in specimens]
    files["results/vp_01.csv"] = "\n".join(kept) + "\n"
    files["protocols/vp_01.yaml"] += protocol
    return compose_status(read(write_files(folder, files)))


def test_a_specimen_set_aside_shows_beside_planned_tested_and_valid(tmp_path: Path) -> None:
    one = evaluation(n=9, n_planned=10, values=values_of((1.0,) * 9), set_aside=(aside("PF10"), aside("PF10")))
    (row, *_) = compose_status(dossier(tmp_path, one)).rows
    assert row.counts == SpecimenCounts(planned=10, tested=10, valid=9, set_aside=1, left=0)
    assert row.evaluations[0].counts == row.counts
    assert row.evaluations[0].tested == "10 of 10"


def test_a_bound_is_named_and_never_sounds_like_a_limit(tmp_path: Path) -> None:
    one = evaluation(lower_limit=10.0, upper_limit=25.0, upper_bound=21.2)
    told = compose_status(dossier(tmp_path, one)).rows[0].evaluations[0].summary
    assert plain(told) == (
        "mean 18.046 N, standard deviation 1.088 N, lower tolerance bound 14.877 N, upper tolerance bound 21.200 N"
    )


def test_all_drawings_of_a_design_input_share_one_scale(tmp_path: Path) -> None:
    fresh = evaluation()
    aged = evaluation(key="VP-01/DI-001/aged", group="aged", values=values_of(BOND_AGED_N), minimum=5.0, maximum=40.0)
    first, second = (one.glyph for one in compose_status(dossier(tmp_path, fresh, aged)).rows[0].evaluations)
    assert first is not None
    assert second is not None
    assert first.lower_limit == second.lower_limit
    assert first.mean == second.mean
    assert 0 < second.minimum < first.minimum < first.maximum < second.maximum < 1
    # from 5 N (with its room) up to 40 N: the limit of 10 N stands a seventh of the way
    assert (first.lower_limit or 0) - second.minimum == pytest.approx((10 - 5) / (40 - 5) / 1.16)
    assert first.lower_limit_label == "10"


def test_a_count_of_failures_is_drawn_as_share_against_the_required_reliability(tmp_path: Path) -> None:
    one = evaluation(
        kind="attribute", approach_used="attribute", n=60, failures=3, reliability=0.95, achieved_reliability=0.88,
        mean=None, sd=None, minimum=None, maximum=None, lower_bound=None, lower_limit=None, margin=None,
        margin_sd=None, k=None, verdict=Verdict.NOT_DEMONSTRATED,
    )  # fmt: skip
    told = compose_status(dossier(tmp_path, one)).rows[0].evaluations[0]
    assert told.glyph is not None
    assert told.glyph.lower_bound is not None
    assert told.glyph.lower_bound < told.glyph.mean == pytest.approx(told.glyph.lower_limit)
    assert told.glyph.alt == "required reliability 95 %, demonstrated reliability 88 %, 57 of 60 conform".replace(
        "88 %", "88.0 %"
    )
    assert plain(told.margin) == "88.0 % demonstrated, 95 % required"
    assert told.summary == "3 failures in 60"


def test_the_row_draws_the_evaluation_that_decides(tmp_path: Path) -> None:
    files = good_files()
    # an aged value far from the others: the aged bound fails, and the fresh one stands first on file
    files["results/vp_01.csv"] = files["results/vp_01.csv"].replace(f",{BOND_AGED_N[0]},", ",30.12,")
    (row, *_) = compose_status(read(write_files(tmp_path, files))).rows
    decides = row.evaluations[row.deciding]
    assert {one.verdict for one in row.evaluations} == {"met", "not demonstrated"}
    assert decides.verdict == row.verdict == "not demonstrated"


def test_specimens_left_are_told_by_lot_and_condition_with_their_laboratory(tmp_path: Path) -> None:
    told = page_without(tmp_path, "PA01", "PA02", protocol="laboratory: {name: Bench North (invented)}\n")
    (entry,) = told.waiting
    assert (entry.protocol, entry.lot, entry.condition) == ("VP-01", "L-0101", "aged")
    assert entry.design_inputs == ("DI-001", "DI-002")
    assert entry.counts == SpecimenCounts(planned=10, tested=8, valid=8, set_aside=0, left=2)
    assert entry.laboratory == "Bench North (invented)"
    assert told.rows[0].missing.startswith("Test the remaining 2 specimens")
    assert told.rows[0].missing.endswith(". VP-01: 2 specimens are left in aged, L-0101.")


def waiting_of(*groups: tuple[str, str, int], remedy: str = "test them") -> str:
    """What is missing for a design input of which these groups wait: protocol, group, specimens left."""
    evaluations = tuple(
        evaluation(key=f"{protocol}/DI-001/{at}", protocol=protocol, group=group, n_missing=left)
        for at, (protocol, group, left) in enumerate(groups)
    )
    result = DesignInputResult(
        design_input="DI-001", verdict=Verdict.NOT_TESTED, reason="r", evaluations=evaluations, would_change_it=remedy
    )
    return status._missing(result)


def test_each_protocol_that_waits_for_specimens_is_named_once() -> None:
    four = [("VP-01", name, 30) for name in ("A", "B", "C", "D")]
    assert waiting_of(*four, remedy="test the 120 planned specimens of VP-01") == (
        "Test the 120 planned specimens of VP-01. 30 specimens are left in each of A, B, C and D."
    )
    assert waiting_of(*four[:2], ("VP-01", "C", 1), ("VP-02", "fresh", 2)) == (
        "Test them. VP-01: 30 specimens are left in each of A and B; 1 specimen is left in C; "
        "VP-02: 2 specimens are left in fresh."
    )
    assert waiting_of(("VP-01", "A, aged", 2), ("VP-01", "B, aged", 2), remedy="test as VP-011 says") == (
        "Test as VP-011 says. VP-01: 2 specimens are left in each of A, aged; B, aged."
    )
    assert waiting_of(("VP-01", "", 3), remedy="test the 3 specimens of VP-01") == "Test the 3 specimens of VP-01."


def test_verdicts_are_counted_in_one_order_everywhere(tmp_path: Path) -> None:
    totals = compose_status(dossier(tmp_path, evaluation())).totals
    assert [name for name, _ in totals] == [verdict.value for verdict in Verdict] == list(SIGNS)


@pytest.mark.parametrize(
    ("unit", "number"), [("N", "14.877"), ("turns", "14.877"), ("mg per device", "14.877"), ("%", "14.877")]
)
def test_no_line_ends_between_a_number_and_its_unit_whatever_the_unit(tmp_path: Path, unit: str, number: str) -> None:
    found = finding(Severity.NOTE, "DI-001")
    told = Finding(
        rule=found.rule, severity=found.severity, records=found.records, place=None,
        message=f"It misses {number} {unit} by 0.2 standard deviations, on VP 3.", remedy="r", waiver=None,
    )  # fmt: skip
    page = compose_status(dossier(tmp_path, evaluation(unit=unit), findings=(told,)))
    assert page.rows[0].evaluations[0].summary.endswith(f"lower tolerance bound {number}\u00a0{unit}")
    assert page.findings[0].message == f"It misses {number}\u00a0{unit} by 0.2\u00a0standard deviations, on VP 3."
    # names by which things are found, and what is only read out, stay as they are
    assert page.rows[0].evaluations[0].glyph is not None
    assert "\u00a0" not in page.rows[0].evaluations[0].glyph.alt


def test_nothing_is_left_where_all_is_tested(tmp_path: Path) -> None:
    assert page_without(tmp_path).waiting == ()


def test_clauses_that_nobody_addressed_come_before_those_whose_evidence_is_missing(tmp_path: Path) -> None:
    found = dossier(tmp_path, evaluation())
    coverage = tuple(
        ClauseCoverage(map="corrie-bench", clause=clause, topic="t", status=status, evidence=(), sentence="s")
        for clause, status in zip("12345", CoverageStatus, strict=True)
    )
    told = compose_status(dossier_of(found.project, found.reading, found.results, Audit(coverage, ()), facts=FACTS))
    assert [(gap.clause, gap.status) for gap in told.gaps] == [("5", "not addressed"), ("3", "evidence missing")]
    assert {gap.standard for gap in told.gaps} == {"WI-0007 (rev\u00a02)"}


def test_two_maps_of_one_edition_are_told_apart_by_their_ids(tmp_path: Path) -> None:
    files = good_files()
    second = files["requirements_maps/corrie_bench.yaml"].replace("id: corrie-bench", "id: corrie-more")
    files["requirements_maps/corrie_more.yaml"] = second
    files["requirements_map.yaml"] = files["requirements_map.yaml"].replace(
        "maps: [corrie-bench]", "maps: [corrie-bench, corrie-more]"
    )
    told = compose_status(read(write_files(tmp_path, files)))
    assert [name for name, state, _ in told.coverage if state == "met"] == [
        "WI-0007 (rev\u00a02) (corrie-bench)",
        "WI-0007 (rev\u00a02) (corrie-more)",
    ]


def test_findings_are_counted_by_severity_and_waived_ones_apart(tmp_path: Path) -> None:
    findings = (
        finding(Severity.BLOCKER, "DI-001"),
        finding(Severity.NOTE, "DI-001"),
        finding(Severity.NOTE, "DI-002"),
        finding(Severity.NOTE, "DI-003", waived=True),
    )
    told = compose_status(dossier(tmp_path, evaluation(), findings=findings))
    assert told.finding_totals == (("blocker", 1), ("majors", 0), ("minors", 0), ("notes", 2), ("waived", 1))


def test_without_an_earlier_package_there_is_no_history(tmp_path: Path) -> None:
    told = compose_status(dossier(tmp_path, evaluation()))
    assert told.since is None
    assert told.history == ()


def test_history_tells_verdicts_valid_specimens_and_findings_that_changed(tmp_path: Path) -> None:
    findings = (finding(Severity.NOTE, "DI-002"), finding(Severity.MAJOR, "DI-003"))
    earlier = EarlierStatus(
        name="revision A of 2026-01-02",
        verdicts=(("DI-001", "not demonstrated"), ("DI-002", "not tested"), ("DI-099", "met")),
        valid=(("DI-001", 4), ("DI-002", 0), ("DI-099", 30)),
        findings=("a-rule [DI-002]", "a-rule [DI-001]"),
    )
    since = compose_status(dossier(tmp_path, evaluation(), findings=findings), earlier=earlier).since
    assert since is not None
    told = {
        one.design_input: (one.verdict_before, one.verdict_now, one.valid_before, one.valid_now)
        for one in since.changes
    }
    assert told == {
        "DI-001": ("not demonstrated", "met", "4", "10"),
        "DI-003": ("", "not tested", "", "0"),
        "DI-099": ("met", "", "30", ""),
    }
    assert since.unchanged == 1
    assert since.findings_gone == ("a-rule [DI-001]",)
    assert since.findings_new == ("a-rule [DI-003]",)


def test_more_specimens_under_the_same_verdict_are_a_change(tmp_path: Path) -> None:
    earlier = EarlierStatus(name="x", verdicts=(("DI-001", "met"),), valid=(("DI-001", 8),))
    since = compose_status(dossier(tmp_path, evaluation()), earlier=earlier).since
    assert since is not None
    assert [one.design_input for one in since.changes] == ["DI-001", "DI-002", "DI-003"]


def test_a_status_line_shows_a_margin_only_where_it_counts() -> None:
    standing = Standing(rule="limit-set-on-another-method", sentence="Another method.", would_change_it="bridge it")
    counted, not_counted = evaluation(margin=4.877), evaluation(margin=0.5, standing=(standing,))
    percent = evaluation(margin=0.903, unit="%")
    told = [
        status_lines(
            [
                DesignInputResult(
                    design_input="DI-001",
                    verdict=Verdict.MET,
                    reason="r",
                    would_change_it="",
                    evaluations=evaluations,
                )
            ]
        )[0].margin
        for evaluations in ((counted,), (counted, not_counted), (not_counted,), (percent,))
    ]
    assert told == ["+4.877 N", "+4.877 N", "-", "+0.903 % points"]


def test_the_page_of_the_example_names_standards_and_remedies_as_documents_do() -> None:
    analysis = analyse(Path(__file__).resolve().parents[2] / "example_project")
    page = compose_status(
        dossier_of(analysis.project, analysis.reading, analysis.results, analysis.audit, facts=FACTS), earlier=None
    )
    standards = {gap.standard for gap in page.gaps} | {title for title, _, _ in page.coverage}
    assert {"ASTM\u00a0F2394-07(2022)", "ISO\u00a010555-4:2023", "Regulation (EU) 2017/745"} <= standards
    assert not any("`" in text for finding in page.findings for text in (finding.message, finding.remedy))
    (running,) = (row for row in page.rows if row.design_input == "DI-016")
    assert running.evaluations[0].margin.endswith("turns so far, 12 of 30")
    assert "VP-113: 18" not in running.missing
