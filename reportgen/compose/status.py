"""The status page as data: where every design input stands, what is missing, and who or what could close it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.cautions import CAUTIONS
from reportgen.compose.dossier import Dossier
from reportgen.compose.outcomes import is_interim
from reportgen.compose.records import (
    EarlierStatus,
    IntervalGlyph,
    Runs,
    StatusEvaluation,
    StatusFinding,
    StatusPage,
    StatusRow,
)
from reportgen.compose.sentences import claim, criterion, group_name, quantity_text, stated_criterion
from reportgen.compose.specimen_counts import specimen_counts
from reportgen.compose.status_held import held_page
from reportgen.compose.status_history import since
from reportgen.compose.status_open import gaps, map_titles, waiting
from reportgen.compose.status_plot import interval_glyphs
from reportgen.compose.wording import counted, ended, listed
from reportgen.trace.records import CoverageStatus, Finding, Severity

FILE_NAME = "status.html"


def compose_status(dossier: Dossier, *, earlier: EarlierStatus | None = None) -> StatusPage:
    """The page; where an `earlier` package is given, with what changed since."""
    project, document = dossier.project, dossier.project.settings.document
    device = project.settings.device
    blockers = dossier.blockers()
    history = None if earlier is None else since(dossier, earlier)
    page = StatusPage(
        file_name=FILE_NAME,
        title=f"{device.name}: where bench testing stands",
        subtitle=f"{device.manufacturer} · {document.number} revision {document.revision}",
        date=dossier.facts.date,
        draft=bool(blockers),
        draft_reasons=tuple(f"{finding.rule}: {finding.message}" for finding in blockers),
        totals=_totals(dossier.results),
        rows=tuple(_row(dossier, result) for result in dossier.results),
        findings=tuple(_finding(finding) for finding in dossier.audit.findings),
        coverage=_coverage(dossier),
        history=()
        if history is None
        else tuple((one.design_input, one.verdict_before, one.verdict_now) for one in history.changes),
        cautions=CAUTIONS,
        version=dossier.facts.version,
        language=document.language,
        finding_totals=_finding_totals(dossier.audit.findings),
        waiting=waiting(dossier),
        gaps=gaps(dossier),
        since=history,
    )
    return held_page(page, units={one.unit for result in dossier.results for one in result.evaluations})


def _totals(results: Sequence[DesignInputResult]) -> tuple[tuple[str, int], ...]:
    count = Counter(result.verdict for result in results)
    return tuple((verdict.value, count[verdict]) for verdict in Verdict)


def _finding_totals(findings: Sequence[Finding]) -> tuple[tuple[str, int], ...]:
    """How many count by severity, and how many are waived: (word in its number, count)."""
    count = Counter(finding.severity for finding in findings if finding.waiver is None)
    waived = sum(finding.waiver is not None for finding in findings)
    words = (
        (severity.value if count[severity] == 1 else f"{severity.value}s", count[severity]) for severity in Severity
    )
    return (*words, ("waived", waived))


def _row(dossier: Dossier, result: DesignInputResult) -> StatusRow:
    record = dossier.project.design_input(result.design_input)
    evaluations = result.evaluations
    first = evaluations[0] if evaluations else None
    glyphs = interval_glyphs(dossier, evaluations)
    return StatusRow(
        design_input=record.id,
        statement=record.statement,
        criterion=_text(criterion(dossier, first)) if first else stated_criterion(record),
        claim=_text(claim(dossier, first)) if first else "",
        verdict=result.verdict.value,
        reason=result.reason,
        missing=_missing(result),
        evaluations=tuple(_evaluation(dossier, one, glyph) for one, glyph in zip(evaluations, glyphs, strict=True)),
        counts=specimen_counts(evaluations),
        deciding=_deciding(result),
    )


def _deciding(result: DesignInputResult) -> int:
    """The place of the evaluation whose reason the design input repeats as its own; the first where none is."""
    for at, evaluation in enumerate(result.evaluations):
        if evaluation.verdict is result.verdict and result.reason.endswith(evaluation.reason):
            return at
    return 0


def _missing(result: DesignInputResult) -> str:
    """What stands between this design input and 'met': the remedy, with the protocols that still wait for specimens."""
    if result.verdict is Verdict.MET:
        return ""
    parts = [ended(part) for part in (result.would_change_it, _left(result)) if part]
    return " ".join(part[0].upper() + part[1:] for part in parts)


def _left(result: DesignInputResult) -> str:
    """Where specimens are left, each protocol named once: 'VP-114: 30 specimens are left in each of A, B and C'."""
    waiting = [evaluation for evaluation in result.evaluations if evaluation.n_missing]
    if not any(evaluation.group for evaluation in waiting):
        return ""  # of a test without groups the remedy has said it already
    names: dict[str, dict[int, list[str]]] = {}
    for evaluation in waiting:
        groups = names.setdefault(evaluation.protocol, {})
        groups.setdefault(evaluation.n_missing, []).append(group_name(evaluation))
    told = [
        (protocol, "; ".join(_left_in(count, of) for count, of in groups.items())) for protocol, groups in names.items()
    ]
    if len(told) == 1 and re.search(rf"\b{re.escape(told[0][0])}\b", result.would_change_it):
        return told[0][1]
    return "; ".join(f"{protocol}: {text}" for protocol, text in told)


def _left_in(count: int, groups: Sequence[str]) -> str:
    verb = "is" if count == 1 else "are"
    where = "; ".join(groups) if any("," in group for group in groups) else listed(groups)
    return f"{counted(count, 'specimen')} {verb} left in {'each of ' if len(groups) > 1 else ''}{where}"


def _evaluation(dossier: Dossier, evaluation: Evaluation, glyph: IntervalGlyph | None) -> StatusEvaluation:
    counts = specimen_counts((evaluation,))
    return StatusEvaluation(
        name=group_name(evaluation),
        protocol=evaluation.protocol,
        tested=f"{counts.tested} of {counts.planned}",
        summary=_summary(dossier, evaluation),
        verdict=evaluation.verdict.value,
        margin=_margin(dossier, evaluation),
        glyph=glyph,
        counts=counts,
    )


def _summary(dossier: Dossier, evaluation: Evaluation) -> str:
    if evaluation.n == 0:
        return "no result yet"
    if evaluation.failures is not None:
        return f"{counted(evaluation.failures, 'failure')} in {evaluation.n}"
    words = (
        ("mean", "mean"),
        ("sd", "standard deviation"),
        ("lower_bound", "lower tolerance bound"),
        ("upper_bound", "upper tolerance bound"),
    )
    return ", ".join(
        f"{word} {quantity_text(dossier, evaluation, name)}" for name, word in words if dossier.has(evaluation, name)
    )


def _margin(dossier: Dossier, evaluation: Evaluation) -> str:
    aside = ", for information only" if evaluation.standing else ""
    if dossier.has(evaluation, "shortfall"):
        so_far = f" so far, {evaluation.n} of {evaluation.n_planned}" if is_interim(evaluation) else ""
        return f"short by {quantity_text(dossier, evaluation, 'shortfall')}{so_far}{aside}"
    if dossier.has(evaluation, "margin"):
        return f"margin {quantity_text(dossier, evaluation, 'margin')}{aside}"
    if evaluation.failures is not None and dossier.has(evaluation, "achieved_reliability"):
        how = f"shown{aside}" if aside else "demonstrated"
        shown = f"{dossier.number(evaluation, 'achieved_reliability').text} {how}"
        if not dossier.has(evaluation, "reliability"):
            return shown
        return f"{shown}, {dossier.number(evaluation, 'reliability').text} required"
    return ""


def _finding(finding: Finding) -> StatusFinding:
    waiver = finding.waiver
    return StatusFinding(
        severity=finding.severity.value,
        rule=finding.rule,
        records=", ".join(finding.records),
        place="" if finding.place is None else str(finding.place),
        # without the marks that set names apart in a terminal, as in the documents
        message=finding.message.replace("`", "'"),
        remedy=finding.remedy.replace("`", "'"),
        waived="" if waiver is None else f"waived by {waiver.by} on {waiver.on}: {waiver.reason}",
    )


def _coverage(dossier: Dossier) -> tuple[tuple[str, str, int], ...]:
    titles = map_titles(dossier)
    count = Counter((entry.map, entry.status) for entry in dossier.audit.coverage)
    return tuple(
        (titles.get(name, name), status.value, count[name, status])
        for name in dict.fromkeys(entry.map for entry in dossier.audit.coverage)
        for status in CoverageStatus
    )


def _text(runs: Runs) -> str:
    return "".join(run.text for run in runs)
