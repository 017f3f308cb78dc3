"""The status page as data: where every design input stands, what is missing, and who or what could close it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.cautions import CAUTIONS
from reportgen.compose.dossier import VERDICT_ORDER, Dossier
from reportgen.compose.records import (
    IntervalGlyph,
    Runs,
    StatusEvaluation,
    StatusFinding,
    StatusPage,
    StatusRow,
)
from reportgen.compose.sentences import claim, criterion, group_name
from reportgen.compose.wording import counted, listed
from reportgen.trace.records import CoverageStatus, Finding

FILE_NAME = "status.html"
# Room left and right of the outermost mark of a small interval drawing, as a share of the span.
_ROOM = 0.08


def compose_status(dossier: Dossier, *, earlier: Sequence[tuple[str, str]] = ()) -> StatusPage:
    """Args: earlier: (design input, verdict) of an earlier package, for the history of verdicts; empty without one."""
    project, document = dossier.project, dossier.project.settings.document
    device = project.settings.device
    blockers = dossier.blockers()
    return StatusPage(
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
        history=_history(dossier.results, dict(earlier)),
        cautions=CAUTIONS,
        version=dossier.facts.version,
        language=document.language,
    )


def _totals(results: Sequence[DesignInputResult]) -> tuple[tuple[str, int], ...]:
    count = Counter(result.verdict for result in results)
    return tuple((verdict.value, count[verdict]) for verdict in reversed(VERDICT_ORDER))


def _row(dossier: Dossier, result: DesignInputResult) -> StatusRow:
    record = dossier.project.design_input(result.design_input)
    evaluations = result.evaluations
    first = evaluations[0] if evaluations else None
    return StatusRow(
        design_input=record.id,
        statement=record.statement,
        criterion=_text(criterion(dossier, first)) if first else _criterion_on_file(dossier, record.id),
        claim=_text(claim(dossier, first)) if first else "",
        verdict=result.verdict.value,
        reason=result.reason,
        missing=_missing(result),
        evaluations=tuple(_evaluation(dossier, evaluation) for evaluation in evaluations),
    )


def _criterion_on_file(dossier: Dossier, design_input: str) -> str:
    record = dossier.project.design_input(design_input)
    unit = record.unit or ""
    parts = [
        f"{word} {limit:g} {unit}".strip()
        for word, limit in (("at least", record.lower_limit), ("at most", record.upper_limit))
        if limit is not None
    ]
    return listed(parts) or "every specimen conforms"


def _missing(result: DesignInputResult) -> str:
    """What stands between this design input and 'met': the remedy, with the protocols that still wait for specimens."""
    if result.verdict is Verdict.MET:
        return ""
    waiting = [
        f"{evaluation.protocol}{f' ({evaluation.group})' if evaluation.group else ''}: "
        f"{counted(evaluation.n_missing, 'specimen')} left"
        for evaluation in result.evaluations
        if evaluation.n_missing
    ]
    parts = [part for part in (result.would_change_it, "; ".join(waiting)) if part]
    return ". ".join(part[0].upper() + part[1:] for part in parts)


def _evaluation(dossier: Dossier, evaluation: Evaluation) -> StatusEvaluation:
    return StatusEvaluation(
        name=group_name(evaluation),
        protocol=evaluation.protocol,
        tested=f"{evaluation.n} of {evaluation.n_planned}",
        summary=_summary(dossier, evaluation),
        verdict=evaluation.verdict.value,
        margin=_margin(dossier, evaluation),
        glyph=_glyph(dossier, evaluation),
    )


def _summary(dossier: Dossier, evaluation: Evaluation) -> str:
    if evaluation.n == 0:
        return "no result yet"
    if evaluation.failures is not None:
        return f"{counted(evaluation.failures, 'failure')} in {evaluation.n}"
    shown = [
        f"{word} {_text(dossier.quantity(evaluation, name))}"
        for name, word in (("mean", "mean"), ("sd", "sd"), ("lower_bound", "at least"), ("upper_bound", "at most"))
        if dossier.has(evaluation, name)
    ]
    return ", ".join(shown)


def _margin(dossier: Dossier, evaluation: Evaluation) -> str:
    if dossier.has(evaluation, "shortfall"):
        return f"short by {_text(dossier.quantity(evaluation, 'shortfall'))}"
    if dossier.has(evaluation, "margin"):
        return _text(dossier.quantity(evaluation, "margin"))
    if evaluation.failures is not None and dossier.has(evaluation, "achieved_reliability"):
        return f"{_text((dossier.number(evaluation, 'achieved_reliability'),))} shown"
    return ""


def _glyph(dossier: Dossier, evaluation: Evaluation) -> IntervalGlyph | None:
    """The drawing's marks on a scale from 0 to 1 that holds them all, limits included."""
    low, high, mean = evaluation.minimum, evaluation.maximum, evaluation.mean
    if low is None or high is None or mean is None:
        return None
    optional = (evaluation.lower_limit, evaluation.upper_limit, evaluation.lower_bound, evaluation.upper_bound)
    marks = [mark for mark in (low, high, mean, *optional) if mark is not None]
    span = (max(marks) - min(marks)) or 1.0
    start, length = min(marks) - _ROOM * span, span * (1 + 2 * _ROOM)

    def scaled(mark: float) -> float:
        return (mark - start) / length

    def scaled_or_none(mark: float | None) -> float | None:
        return None if mark is None else scaled(mark)

    return IntervalGlyph(
        lower_limit=scaled_or_none(evaluation.lower_limit),
        upper_limit=scaled_or_none(evaluation.upper_limit),
        lower_bound=scaled_or_none(evaluation.lower_bound),
        upper_bound=scaled_or_none(evaluation.upper_bound),
        minimum=scaled(low),
        maximum=scaled(high),
        mean=scaled(mean),
        alt=_alt(dossier, evaluation),
    )


def _alt(dossier: Dossier, evaluation: Evaluation) -> str:
    words = (
        ("lower_limit", "lower limit"),
        ("upper_limit", "upper limit"),
        ("lower_bound", "lower tolerance bound"),
        ("upper_bound", "upper tolerance bound"),
        ("minimum", "smallest value"),
        ("maximum", "largest value"),
        ("mean", "mean"),
    )
    return ", ".join(
        f"{word} {_text(dossier.quantity(evaluation, name))}" for name, word in words if dossier.has(evaluation, name)
    )


def _finding(finding: Finding) -> StatusFinding:
    waiver = finding.waiver
    return StatusFinding(
        severity=finding.severity.value,
        rule=finding.rule,
        records=", ".join(finding.records),
        place="" if finding.place is None else str(finding.place),
        message=finding.message,
        remedy=finding.remedy,
        waived="" if waiver is None else f"waived by {waiver.by} on {waiver.on}: {waiver.reason}",
    )


def _coverage(dossier: Dossier) -> tuple[tuple[str, str, int], ...]:
    titles = {clause_map.id: f"{clause_map.number}, {clause_map.edition}" for clause_map in dossier.project.maps}
    count = Counter((entry.map, entry.status) for entry in dossier.audit.coverage)
    return tuple(
        (titles.get(name, name), status.value, count[name, status])
        for name in dict.fromkeys(entry.map for entry in dossier.audit.coverage)
        for status in CoverageStatus
    )


def _history(results: Sequence[DesignInputResult], earlier: dict[str, str]) -> tuple[tuple[str, str, str], ...]:
    """(design input, verdict then, verdict now) for each one that an earlier package knew otherwise or not at all."""
    if not earlier:
        return ()
    return tuple(
        (result.design_input, earlier.get(result.design_input, "not in the earlier package"), result.verdict.value)
        for result in results
        if earlier.get(result.design_input) != result.verdict.value
    )


def _text(runs: Runs) -> str:
    return "".join(run.text for run in runs)
