"""Each clause of a map in use is met, open, set aside with a reason, or not addressed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from reportgen.acceptance.records import Standing, Verdict
from reportgen.project.records import ClauseEvidence, ClauseRef, MapEntry, NotApplicable
from reportgen.trace.coverage import coverage_of
from reportgen.trace.evidence import gather
from reportgen.trace.records import ClauseCoverage, CoverageStatus
from reportgen.trace.supplied import WORDS
from tests.trace.sound_project import Sound, sound

MAPS = Path(__file__).parents[2] / "requirements_maps"


def _covered(base: Sound, clause: str = "3") -> ClauseCoverage:
    (entry,) = (
        entry for entry in coverage_of(gather(base.project, base.reading(), base.results())) if entry.clause == clause
    )
    return entry


def _with_entry(*words: str) -> Sound:
    entry = MapEntry(
        clause="3", topic="Kink", evidence="a test report", kind="report", answered_by=words, provenance="invented"
    )
    base = sound()
    return base.with_("maps/corrie-bench/entries", (*base.project.maps[0].entries, entry))


REF = ClauseRef(map="corrie-bench", clause="3")


def test_a_tested_and_passed_clause_is_met() -> None:
    entry = _covered(sound(), "1")
    assert entry.status is CoverageStatus.MET
    assert entry.evidence == ("DI-001", "VP-01", "DI-002", "TM-01")
    assert entry.sentence == "DI-001 by VP-01: met. DI-002 by VP-01: met. Method TM-01, used in VP-01."


@pytest.mark.parametrize("verdict", [Verdict.NOT_MET, Verdict.NOT_DEMONSTRATED], ids=str)
def test_a_verdict_that_does_not_show_conformity_leaves_evidence_missing(verdict: Verdict) -> None:
    entry = _covered(sound().with_evaluation("VP-01/DI-002/aged-L-0102", verdict=verdict), "1")
    assert entry.status is CoverageStatus.EVIDENCE_MISSING
    assert entry.sentence == f"DI-002 by VP-01: {verdict}."


def test_a_clause_that_nothing_answers_is_not_addressed() -> None:
    entry = _covered(_with_entry())
    assert entry.status is CoverageStatus.NOT_ADDRESSED
    assert "expected: a test report" in entry.sentence


@pytest.mark.parametrize(
    ("reason", "status"),
    [("There is no lumen.", CoverageStatus.NOT_APPLICABLE), ("", CoverageStatus.NOT_ADDRESSED)],
    ids=["with a reason", "without a reason"],
)
def test_not_applicable_needs_a_reason(reason: str, status: CoverageStatus) -> None:
    base = _with_entry().with_("requirements_map/not_applicable", (NotApplicable(clause=REF, reason=reason),))
    assert _covered(base).status is status


def test_people_may_set_aside_what_only_the_documents_would_answer() -> None:
    marked = (NotApplicable(clause=REF, reason="There is no lumen."),)
    base = _with_entry("verdict").with_("requirements_map/not_applicable", marked)
    assert _covered(base).status is CoverageStatus.NOT_APPLICABLE


def test_another_document_answers() -> None:
    document = ClauseEvidence(clause=REF, document="Report BIO-4", location="section 9")
    base = _with_entry().with_("requirements_map/evidence_elsewhere", (document,))
    assert _covered(base).status is CoverageStatus.MET
    assert _covered(base).sentence == "Answered elsewhere: Report BIO-4, section 9."


def test_what_another_document_is_about_is_told_with_it() -> None:
    document = ClauseEvidence(clause=REF, document="Report BIO-4", location="section 9", note="Sizes 4F and 6F.")
    base = _with_entry().with_("requirements_map/evidence_elsewhere", (document,))
    assert _covered(base).sentence == "Answered elsewhere: Report BIO-4, section 9. Sizes 4F and 6F."


def test_a_test_that_nobody_answers_keeps_open_that_tests_left_out_have_reasons() -> None:
    """FDA stent guidance, 2010: a recommended test that was not run keeps its heading and a reason."""
    base = _with_entry("map.not_applicable")
    assert _covered(base).status is CoverageStatus.MET
    untold = MapEntry(clause="4", topic="Flexibility", evidence="a test report", kind="test", provenance="invented")
    base = base.with_("maps/corrie-bench/entries", (*base.project.maps[0].entries, untold))
    assert _covered(base).status is CoverageStatus.EVIDENCE_MISSING
    assert _covered(base).sentence.endswith("with reasons (missing for 'Flexibility').")
    reason = NotApplicable(clause=ClauseRef(map="corrie-bench", clause="4"), reason="Rigid; risk analysis, line 3.")
    assert _covered(base.with_("requirements_map/not_applicable", (reason,))).status is CoverageStatus.MET


def test_a_word_is_answered_by_what_the_documents_print() -> None:
    entry = _covered(_with_entry("protocol.objective", "sampling.justification"))
    assert entry.status is CoverageStatus.MET
    assert entry.sentence == "In the documents: the objective of each test; why the number is enough."


def test_a_word_tells_whose_record_lacks_it() -> None:
    base = _with_entry("sampling.justification").with_("protocols/VP-02/sampling/justification", "")
    entry = _covered(base)
    assert entry.status is CoverageStatus.EVIDENCE_MISSING
    assert entry.sentence == "Still open: why the number is enough (missing for VP-02)."


def test_a_word_that_some_records_lack_tells_the_tests_still_to_come_too() -> None:
    base = _with_entry("report.on").without_rows(protocol="VP-02").with_("protocols/VP-01/report/on", None)
    assert _covered(base).sentence == (
        "Still open: the date of each report (missing for VP-01). Not yet for VP-02, without results so far."
    )


# what to take out of the sound project so that a word is no longer answered; the others are printed in any case
LACKING = {
    "design_input.limit_basis": ("design_inputs/DI-001/limit_basis", "", "DI-001"),
    "design_input.limit_method": ("design_inputs/DI-001/limit_method", None, "DI-001"),
    "document.history": ("settings/document/history", (), "document.history"),
    "lot.production_equivalent": ("lots/L-0101+fresh/production_equivalent", False, "lot L-0101"),
    "lot.justification": ("lots/L-0101+fresh/production_equivalent", False, "lot L-0101"),
    "method.clauses": ("methods/TM-01/clauses", (), "TM-01"),
    "method.equipment": ("methods/TM-01/equipment", (), "TM-01"),
    "method.parameters": ("methods/TM-01/parameters", (), "TM-01"),
    "method.validation": ("methods/TM-01/validation", None, "TM-01"),
    "protocol.discussion": ("protocols/VP-01/discussion", "", "VP-01"),
    "protocol.verifies": ("protocols/VP-01/verifies", (), "VP-01"),
    "report.approvals": ("settings/document/approvals", (), "document.approvals"),
    "report.location": ("protocols/VP-01/report/location", "", "VP-01"),
    "report.on": ("protocols/VP-01/report/on", None, "VP-01"),
    "risk.links": ("design_inputs/DI-001/risk", (), "DI-001"),
    "sampling.groups": ("protocols/VP-01/sampling/groups", (), "VP-01"),
    "sampling.selection": ("protocols/VP-01/sampling/selection", "", "VP-01"),
}
# words the sound project does not answer: it names no laboratory, no use of a standard and no report history
NOT_IN_THE_SOUND_PROJECT = {"laboratory", "standards.use", "report.history"}


@pytest.mark.parametrize("word", list(WORDS))
def test_the_sound_project_answers_a_word_or_is_known_not_to(word: str) -> None:
    base = sound()
    lacking = list(WORDS[word].lacking(gather(base.project, base.reading(), base.results())))
    assert bool(lacking) is (word in NOT_IN_THE_SOUND_PROJECT), lacking


@pytest.mark.parametrize(("word", "change"), LACKING.items(), ids=list(LACKING))
def test_a_word_notices_what_is_taken_out(word: str, change: tuple[str, object, str]) -> None:
    path, value, lacking = change
    base = sound().with_(path, value)
    assert list(WORDS[word].lacking(gather(base.project, base.reading(), base.results()))) == [lacking]


def test_verdicts_that_all_have_to_be_met_name_those_that_are_not() -> None:
    lacking = WORDS["design_input.met"].lacking
    base = sound().without_rows(protocol="VP-02")
    open_ones = list(lacking(gather(base.project, base.reading(), base.results())))
    assert open_ones == [
        id for protocol in base.project.protocols if protocol.id == "VP-02" for id in protocol.verifies
    ]
    assert open_ones


ABOUT_RESULTS = [word for word, told in WORDS.items() if told.of_results]


@pytest.mark.parametrize("word", ABOUT_RESULTS)
def test_a_test_still_to_come_is_told_but_no_fault_of_the_others(word: str) -> None:
    base = _with_entry(word).without_rows(protocol="VP-02")
    entry = _covered(base)
    assert entry.status is CoverageStatus.MET_SO_FAR
    assert entry.sentence.endswith(" Not yet for VP-02, without results so far.")
    assert "Not yet" not in _covered(_with_entry(word)).sentence


@pytest.mark.parametrize("word", ABOUT_RESULTS)
def test_words_about_results_wait_for_the_first_results(word: str) -> None:
    base = sound()
    base = replace(base, table=base.table[:0])
    lacking = list(WORDS[word].lacking(gather(base.project, base.reading(), base.results())))
    assert lacking == ["any protocol with results"]


def test_shipped_maps_use_known_words_only() -> None:
    files = sorted(MAPS.glob("*.yaml"))
    assert files
    for file in files:
        for entry in YAML(typ="safe").load(file.read_text(encoding="utf-8"))["entries"]:
            assert set(entry.get("answered_by", ())) <= set(WORDS), (file.name, entry["clause"])


def test_limits_on_another_method_than_the_tests_leave_like_with_like_open() -> None:
    base = _with_entry("design_input.limit_method")
    assert _covered(base).status is CoverageStatus.MET
    aside = Standing(rule="limit-set-on-another-method", sentence="s", would_change_it="w")
    entry = _covered(base.with_evaluation("VP-01/DI-002/aged-L-0102", standing=(aside,)))
    assert entry.status is CoverageStatus.EVIDENCE_MISSING
    assert "missing for DI-002" in entry.sentence
