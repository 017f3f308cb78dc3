"""The audit as a whole: order, settings and waivers, reasons that acceptance gave."""

from __future__ import annotations

from datetime import date
from typing import Any

from reportgen.acceptance.records import Standing
from reportgen.project.records import RuleSetting
from reportgen.trace.audit import audit
from reportgen.trace.records import Finding, Severity, Waiver
from tests.trace.sound_project import Sound, sound


def _setting(rule: str, **values: Any) -> RuleSetting:
    return RuleSetting(rule=rule, reason="agreed in review 12", by="K. Invented", on=date(2026, 4, 2), **values)


TOLD = Waiver(reason="agreed in review 12", by="K. Invented", on="2026-04-02")


def _two_holes(*settings: RuleSetting) -> Sound:
    base = sound().with_("protocols/VP-01/discussion", "").with_("protocols/VP-02/discussion", "")
    return base.with_("settings/rules", settings)


def _by_record(base: Sound) -> dict[str, Finding]:
    return {finding.records[0]: finding for finding in base.findings()}


def test_a_waived_finding_stays_and_says_who_waived_it() -> None:
    found = _by_record(_two_holes(_setting("report-without-discussion", waived=True)))
    assert {id: finding.waiver for id, finding in found.items()} == {"VP-01": TOLD, "VP-02": TOLD}
    assert all(finding.severity is Severity.MINOR and finding.changed is None for finding in found.values())


def test_a_waiver_for_named_records_leaves_the_others() -> None:
    found = _by_record(_two_holes(_setting("report-without-discussion", waived=True, records=("VP-02",))))
    assert found["VP-01"].waiver is None
    assert found["VP-02"].waiver == TOLD


def test_a_switched_severity_says_who_switched_it() -> None:
    found = _by_record(_two_holes(_setting("report-without-discussion", severity="blocker", records=("VP-01",))))
    assert (found["VP-01"].severity, found["VP-01"].changed) == (Severity.BLOCKER, TOLD)
    assert (found["VP-02"].severity, found["VP-02"].changed) == (Severity.MINOR, None)


def test_an_unknown_rule_in_a_setting_is_a_finding_and_changes_nothing() -> None:
    findings = _two_holes(_setting("report-without-discusion", waived=True)).findings()
    (unknown,) = (finding for finding in findings if finding.rule == "rule-setting-unknown")
    assert unknown.remedy.startswith("Write 'report-without-discussion'")
    others = [finding for finding in findings if finding is not unknown]
    assert len(others) == 2
    assert all(f.severity is Severity.MINOR and f.waiver is None and f.changed is None for f in others)


def test_findings_come_worst_first_then_by_rule_and_records() -> None:
    base = _two_holes().with_("protocols/VP-02/sampling/justification", "").with_("protocols/VP-02/approved_by", "")
    told = [(finding.severity.value, finding.rule, finding.records[0]) for finding in base.findings()]
    assert told == [
        ("blocker", "sample-size-without-justification", "VP-02"),
        ("minor", "protocol-without-approver", "VP-02"),
        ("minor", "report-without-discussion", "VP-01"),
        ("minor", "report-without-discussion", "VP-02"),
    ]


def test_a_reason_of_acceptance_without_a_rule_of_its_own_is_not_lost() -> None:
    reason = Standing(rule="evidence-under-water", sentence="the file got wet", would_change_it="dry it")
    (finding,) = sound().with_evaluation("VP-02/DI-003/aged-L-0101", standing=(reason,)).findings()
    assert (finding.rule, finding.severity) == ("evidence-under-water", Severity.BLOCKER)
    assert finding.message == "Results of DI-003 in VP-02, group aged-L-0101, do not count: the file got wet."
    assert finding.remedy == "Dry it."


def test_the_same_project_gives_the_same_audit() -> None:
    base = _two_holes()
    first, second = (audit(base.project, base.reading(), base.results()) for _ in range(2))
    assert first == second
