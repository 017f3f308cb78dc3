"""The audit: every rule over the evidence, with the project's own settings of severity and its waivers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from dataclasses import replace

from reportgen.acceptance.records import DesignInputResult
from reportgen.both_cores import beside
from reportgen.lab.records import LabReading
from reportgen.problems import did_you_mean
from reportgen.project.records import Project, RuleSetting
from reportgen.trace.coverage import coverage_of
from reportgen.trace.evidence import Evidence, gather
from reportgen.trace.records import Audit, EarlierPackage, Finding, Severity, Waiver
from reportgen.trace.rule import RULES, Hole, Rule, rule

# importing a family registers its rules
from reportgen.trace.rules import (  # noqa: F401
    articles,
    bench,
    bench_settings,
    bridging,
    claims,
    clauses,
    conduct,
    criteria,
    data,
    editions,
    equipment,
    exclusions,
    failures,
    labelling,
    methods,
    needs,
    photographs,
    plans,
    reported,
    reporting,
    revisions,
    scales,
    shelf_life,
    specimens,
    standards,
    standing,
    statements,
    unfinished,
    worst_use,
)
from reportgen.trace.rules.standing import standing_hole

# below this many design inputs a copy of the process costs more than it saves
_WORTH_A_COPY = 200
_ORDER = {severity: position for position, severity in enumerate(Severity)}


def audit(
    project: Project,
    reading: LabReading,
    results: tuple[DesignInputResult, ...],
    *,
    earlier: EarlierPackage | None = None,
) -> Audit:
    """The coverage of the maps in use, and all findings: worst severity first, then by rule and records.

    Project settings are applied last: a rule switched to another severity says who did so and why, and a waived
    finding stays in the list with its waiver. With an earlier package, what changed since without a revision is found
    too.
    """
    evidence = gather(project, reading, results, earlier=earlier)
    rules = list(RULES.values())
    # every second rule to a copy of this process, where there is much to look at
    beyond = rules[1::2] if len(project.design_inputs) >= _WORTH_A_COPY else []
    with beside(lambda: _found(beyond, evidence)) if beyond else nullcontext(list) as found_beside:
        found = _found([rule for rule in rules if rule not in beyond], evidence)
        found += _unregistered_standing(evidence)
        coverage = coverage_of(evidence)
        found += found_beside()
    settled = _apply_settings(found, project.settings.rules)
    return Audit(coverage=coverage, findings=_sorted(settled))


def _found(rules: Sequence[Rule], evidence: Evidence) -> list[Finding]:
    return [_finding(rule, hole) for rule in rules for hole in rule.check(evidence)]


def registered_rules() -> tuple[Rule, ...]:
    """Every rule of the audit, by name."""
    return tuple(RULES[name] for name in sorted(RULES))


def _finding(rule: Rule, hole: Hole) -> Finding:
    return Finding(
        rule=rule.name,
        severity=rule.severity,
        records=hole.records,
        place=hole.place,
        message=hole.message,
        remedy=hole.remedy,
    )


def _unregistered_standing(evidence: Evidence) -> Iterator[Finding]:
    """Reasons that acceptance gave under a name for which there is no rule here: results that do not count block."""
    for protocol, record, evaluation in evidence.evaluations():
        for reason in evaluation.standing:
            if reason.rule not in RULES:
                hole = standing_hole(protocol, record, [evaluation.key], reason)
                yield Finding(
                    rule=reason.rule,
                    severity=Severity.BLOCKER,
                    records=hole.records,
                    place=hole.place,
                    message=hole.message,
                    remedy=hole.remedy,
                )


def _apply_settings(findings: list[Finding], settings: tuple[RuleSetting, ...]) -> list[Finding]:
    by_rule: dict[str, list[RuleSetting]] = {}
    for setting in settings:
        by_rule.setdefault(setting.rule, []).append(setting)
    settled = []
    for finding in findings:
        for setting in by_rule.get(finding.rule, ()):
            finding = _with_setting(finding, setting)
        settled.append(finding)
    return settled


def _with_setting(finding: Finding, setting: RuleSetting) -> Finding:
    """The finding as the setting makes it; a setting that names records applies to findings about any of them."""
    if setting.records and not set(setting.records) & set(finding.records):
        return finding
    told = Waiver(reason=setting.reason, by=setting.by, on=setting.on.isoformat())
    if setting.severity is not None and setting.severity != finding.severity:
        finding = replace(finding, severity=Severity(setting.severity), changed=told)
    return replace(finding, waiver=told) if setting.waived else finding


def _sorted(findings: list[Finding]) -> tuple[Finding, ...]:
    def key(finding: Finding) -> tuple[int, str, tuple[str, ...], str, str]:
        return _ORDER[finding.severity], finding.rule, finding.records, str(finding.place), finding.message

    return tuple(sorted(findings, key=key))


@rule("rule-setting-unknown", severity=Severity.MAJOR)
def setting_unknown(evidence: Evidence) -> Iterator[Hole]:
    """A setting in project.yaml for a rule that does not exist.

    Why: whoever wrote it believes that something was waived or weighed, and it was not.
    Source: of the tool itself; no outside source.
    """
    reasons = {reason.rule for _, _, evaluation in evidence.evaluations() for reason in evaluation.standing}
    for setting in evidence.project.settings.rules:
        if setting.rule not in RULES and setting.rule not in reasons:
            yield Hole(
                records=(setting.rule,),
                place=setting.at("rule"),
                message=f"project.yaml sets rule {setting.rule!r}, which does not exist.",
                remedy=_sentence(did_you_mean(setting.rule, sorted(RULES))),
            )


@rule("rule-setting-without-effect", severity=Severity.NOTE)
def setting_idle(evidence: Evidence) -> Iterator[Hole]:
    """A setting in project.yaml that neither waives a rule nor gives it a severity.

    Why: it reads as if something had been decided.
    Source: of the tool itself; no outside source.
    """
    for setting in evidence.project.settings.rules:
        if setting.severity is None and not setting.waived:
            yield Hole(
                records=(setting.rule,),
                place=setting.at("rule"),
                message=f"The setting of rule {setting.rule} neither waives it nor gives it a severity.",
                remedy="Add `waived: true` or `severity`, or remove the setting.",
            )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
