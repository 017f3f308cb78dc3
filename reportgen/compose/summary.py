"""The short answers: verdicts and findings as plain data for `--json`, and as lines for the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from reportgen import rounding as numbers
from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.records import SpecimenCounts
from reportgen.compose.specimen_counts import counts_data, counts_sentence, specimen_counts
from reportgen.trace.records import Finding, Severity

_EVALUATION_FIELDS = (
    "protocol",
    "group",
    "n",
    "mean",
    "sd",
    "minimum",
    "maximum",
    "approach",
    "confidence",
    "reliability",
    "k",
    "lower_bound",
    "upper_bound",
    "achieved_reliability",
    "lower_limit",
    "upper_limit",
    "unit",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusLine:
    """Where one design input stands, as short texts. `margin` is the smallest of evaluations that count, else '-'.

    `tested` tells the counts as a sentence. `to_close` is what would change the verdict, '' where it is met.
    """

    design_input: str
    verdict: str
    tested: str
    margin: str
    reason: str
    counts: SpecimenCounts
    to_close: str


def status_lines(results: Sequence[DesignInputResult]) -> tuple[StatusLine, ...]:
    """One line per design input, in the order of the register."""
    return tuple(
        StatusLine(
            design_input=result.design_input,
            verdict=result.verdict.value,
            tested=counts_sentence(counts),
            margin=_margin(result.evaluations),
            reason=result.reason,
            counts=counts,
            to_close="" if result.verdict is Verdict.MET else result.would_change_it,
        )
        for result in results
        for counts in (specimen_counts(result.evaluations),)
    )


def _margin(evaluations: Sequence[Evaluation]) -> str:
    # what does not count against the limits leaves no margin to them
    with_margin = [(e.margin, e) for e in evaluations if e.margin is not None and not e.standing]
    if not with_margin:
        return "-"
    smallest, evaluation = min(with_margin, key=lambda pair: pair[0])
    # as documents print it: rounded to the side that claims less, and never across zero
    text = numbers.bound(smallest, evaluation.bound_decimals, side="lower", limit=0.0)
    unit = "% points" if evaluation.unit == "%" else evaluation.unit
    return f"{'' if smallest < 0 else '+'}{text} {unit}".strip()


def status_data(results: Sequence[DesignInputResult]) -> dict[str, object]:
    """`status --json`: unrounded numbers; what does not apply is null."""
    return {
        "design_inputs": [
            {
                "id": result.design_input,
                "verdict": result.verdict.value,
                "reason": result.reason,
                "would_change_it": result.would_change_it,
                **counts_data(specimen_counts(result.evaluations)),
                "evaluations": [_evaluation_data(evaluation) for evaluation in result.evaluations],
            }
            for result in results
        ]
    }


def _evaluation_data(evaluation: Evaluation) -> dict[str, object]:
    data: dict[str, object] = {name: getattr(evaluation, name) for name in _EVALUATION_FIELDS}
    data["unit"] = evaluation.unit or None
    data["approach"] = evaluation.approach_used or evaluation.approach
    return data | {
        "approach_declared": evaluation.approach,
        "verdict": evaluation.verdict.value,
        "reason": evaluation.reason,
        **counts_data(specimen_counts((evaluation,))),
        "failures": evaluation.failures,
        "counts": not evaluation.standing,
        "margin": evaluation.margin,
        "margin_sd": evaluation.margin_sd,
        "lots": list(evaluation.lots),
        "conditions": list(evaluation.conditions),
    }


def findings_data(findings: Sequence[Finding]) -> dict[str, object]:
    """`check --json`: every finding, waived ones marked, and how many count by severity."""
    return {
        "findings": [
            {
                "rule": finding.rule,
                "severity": finding.severity.value,
                "records": list(finding.records),
                "place": None if finding.place is None else str(finding.place),
                "message": finding.message,
                "remedy": finding.remedy,
                "waived": None
                if finding.waiver is None
                else {"reason": finding.waiver.reason, "by": finding.waiver.by, "on": finding.waiver.on},
            }
            for finding in findings
        ],
        "counts": counts(findings),
    }


def counts(findings: Sequence[Finding]) -> dict[str, int]:
    """How many findings of each severity count, and how many are waived."""
    found = Counter(finding.severity for finding in findings if finding.waiver is None)
    waived = sum(finding.waiver is not None for finding in findings)
    return {severity.value: found[severity] for severity in Severity} | {"waived": waived}


def must_be_mended(findings: Sequence[Finding]) -> bool:
    """Whether anything stands in the way of a submission: a blocker or a major that nobody waived."""
    return any(
        finding.waiver is None and finding.severity in {Severity.BLOCKER, Severity.MAJOR} for finding in findings
    )
