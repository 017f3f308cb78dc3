"""The protocol's plan: sample size, lots, and an approach that was declared."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from reportgen.acceptance.records import Outcome
from reportgen.project.records import Approach, DesignInput, LotRule, Protocol, Purpose
from reportgen.stats import attribute_sample_size, order_statistic_sample_size
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import ONCE_EXPLAINED, Hole, rule
from reportgen.trace.wording import claim_text, counted, group_text, listed

_THREE_LOT_TESTS = re.compile(r"coating|particul", re.IGNORECASE)


@lru_cache(maxsize=4096)
def _least_n(approach: str, confidence: float, reliability: float, side: str, allowed: int) -> int:
    """The smallest n with which perfect data could show the claim."""
    if approach == Approach.ATTRIBUTE:
        return int(attribute_sample_size(confidence=confidence, reliability=reliability, failures=allowed))
    if approach == Approach.DISTRIBUTION_FREE:
        both = side == "both"
        return int(
            order_statistic_sample_size(confidence=confidence, coverage=reliability, side="both" if both else "lower")
        )
    return 2


def _side(record: DesignInput) -> str:
    return "both" if record.lower_limit is not None and record.upper_limit is not None else "one"


def _planned_by_group(evidence: Evidence, protocol: Protocol) -> dict[tuple[str, ...], int]:
    """Planned n of each group that the plan judges by itself."""
    plan, found = protocol.analysis_plan, dict[tuple[str, ...], int]()
    for group in protocol.sampling.groups:
        lot = evidence.lots.get((group.lot, group.condition))
        words = {"condition": group.condition, "model": lot.model if lot else ""}
        key = tuple(words[name] for name in plan.evaluate_by)
        if plan.lots is LotRule.EACH_LOT:
            key = (*key, group.lot)
        found[key] = found.get(key, 0) + group.n
    return found


@rule("sample-size-below-claim", severity=Severity.BLOCKER)
def too_few(evidence: Evidence) -> Iterator[Hole]:
    """A group so small that not even perfect results could show the claim.

    Why: the test cannot succeed; a reviewer computes the least n from confidence and reliability in their head.
    Source: exact binomial zero- or few-failure plan and order statistics (ISO 16269-6:2014; NIST/SEMATECH e-Handbook
    7.2.6.4); FDA stent guidance, 2010, III.B (statistically justified n). For fitted distributions two values.
    """
    for protocol, record in evidence.verifying():
        level = evidence.claims[record.id][0]
        if level is None:
            continue
        plan = protocol.analysis_plan
        needed = _least_n(plan.approach, level.confidence, level.reliability, _side(record), plan.allowed_failures)
        for key, n in _planned_by_group(evidence, protocol).items():
            if n < needed:
                group = f" in group {' '.join(part for part in key if part)}" if any(key) else ""
                yield Hole(
                    records=(protocol.id, record.id),
                    place=protocol.at("sampling"),
                    message=f"{protocol.id} plans {counted(n, 'specimen')}{group} for {record.id}; "
                    f"{claim_text(level.confidence, level.reliability)} need at least {needed} with the declared "
                    f"approach ({plan.approach.value}), even when every specimen conforms.",
                    remedy=f"Plan at least {needed} specimens in this group, or let more lots be judged together by "
                    "a plan that is declared before testing.",
                )


@rule("sample-size-without-justification", severity=Severity.BLOCKER)
def no_justification(evidence: Evidence) -> Iterator[Hole]:
    """A sampling plan that does not say why its number of specimens is enough.

    Why: a sample-size rationale is asked for in the summary and in the protocol, and is the commonest question.
    Source: FDA stent guidance, 2010, III.B; ISO 13485:2016, 7.3.6; ASTM F3172.
    """
    for protocol in evidence.project.protocols:
        if not protocol.sampling.justification:
            n = sum(group.n for group in protocol.sampling.groups)
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("sampling"),
                message=f"{protocol.id} plans {counted(n, 'specimen')} and gives no justification of that number.",
                remedy="Write in sampling.justification how the number follows from confidence, reliability and "
                "expected spread (`reportgen plan` computes it).",
            )


@rule("specimen-selection-not-stated", severity=Severity.MINOR)
def no_selection(evidence: Evidence) -> Iterator[Hole]:
    """A sampling plan that does not say how specimens were taken from their lots.

    Why: a tolerance bound speaks of the lot only when specimens were not picked.
    Source: FDA bench performance guidance, 2019 (sample size and selection); ISO/IEC 17025:2017, 7.3.
    """
    for protocol in evidence.project.protocols:
        if not protocol.sampling.selection:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("sampling"),
                message=f"{protocol.id} does not say how its specimens were selected from the lots.",
                remedy="Write it in sampling.selection, such as: every fifth device in the order of making.",
            )


@rule("single-lot", severity=Severity.MINOR)
def single_lot(evidence: Evidence) -> Iterator[Hole]:
    """A verification protocol that samples one lot only and does not say why one is enough.

    Why: several manufacturing lots are expected, because one lot says nothing about the spread between lots.
    Source: FDA bench performance guidance, 2019, as summarized publicly (second-hand); common practice.
    """
    for protocol in evidence.project.protocols:
        lots = {group.lot for group in protocol.sampling.groups}
        said = protocol.analysis_plan.lots_justification
        if protocol.purpose is Purpose.VERIFICATION and len(lots) == 1 and not said and not _needs_three(protocol):
            yield Hole(
                records=(protocol.id, *lots),
                place=protocol.at("sampling"),
                message=f"{protocol.id} samples the one lot {listed(sorted(lots))} and does not say why one is enough.",
                remedy="Plan more lots, or give the reason in analysis_plan.lots_justification.",
            )


def _needs_three(protocol: Protocol) -> bool:
    return bool(_THREE_LOT_TESTS.search(f"{protocol.title} {protocol.objective}"))


@rule("fewer-than-three-lots", severity=Severity.MAJOR)
def fewer_than_three(evidence: Evidence) -> Iterator[Hole]:
    """A coating or particulate test on fewer than three lots, without a reason.

    Why: for these two tests the guidance names the number of lots.
    Source: FDA stent guidance, 2010, IV (coating integrity; particulate evaluation). Recognized by the words of the
    protocol's title and objective.
    """
    for protocol in evidence.project.protocols:
        lots = {group.lot for group in protocol.sampling.groups}
        if _needs_three(protocol) and len(lots) < 3 and not protocol.analysis_plan.lots_justification:
            yield Hole(
                records=(protocol.id, *sorted(lots)),
                place=protocol.at("sampling"),
                message=f"{protocol.id} ({protocol.title}) samples {counted(len(lots), 'lot')}; the guidance asks "
                "for three or more lots in coating and particulate tests.",
                remedy="Plan three lots, or give the reason in analysis_plan.lots_justification.",
            )


@rule("lots-pooled-without-reason", severity=Severity.MAJOR)
def pooled_without_reason(evidence: Evidence) -> Iterator[Hole]:
    """Lots that are pooled outright, with neither a check that they agree nor a written reason.

    Why: unlike lots in one heap give a bound that belongs to none of them, and n is counted too high.
    Source: FDA stent guidance, 2010, III.B; CMH-17 volume 1, chapter 8 (batches are compared before pooling).
    """
    for protocol in evidence.project.protocols:
        plan = protocol.analysis_plan
        lots = {group.lot for group in protocol.sampling.groups}
        if plan.lots is LotRule.POOLED and len(lots) > 1 and not plan.lots_justification:
            yield Hole(
                records=(protocol.id, *sorted(lots)),
                place=protocol.at("analysis_plan"),
                message=f"{protocol.id} pools lots {listed(sorted(lots))} without comparing them and without a reason.",
                remedy="Declare `lots: pool_if_compatible` or `between_lot` before testing, or justify pooling in "
                "analysis_plan.lots_justification.",
            )


@rule("pooled-lots-differ", severity=Severity.MAJOR)
def pooled_lots_differ(evidence: Evidence) -> Iterator[Hole]:
    """Lots judged as one group although the check of their means and spreads rejects that they agree.

    Why: the bound then hides a lot that is worse than the rest.
    Source: k-sample Anderson-Darling and Brown-Forsythe checks as in CMH-17 volume 1, chapter 8.
    """
    for protocol, record, evaluation in evidence.evaluations():
        failed = [step for step in evaluation.steps if step.name == "lots" and step.outcome is Outcome.FAILED]
        pooled = protocol.analysis_plan.lots is LotRule.POOLED and len(evaluation.lots) > 1
        if failed and pooled:
            yield Hole(
                records=(protocol.id, record.id, *evaluation.lots),
                place=protocol.at("analysis_plan"),
                message=f"{group_text(evaluation.key)}: lots {listed(evaluation.lots)} are pooled but differ. "
                f"{failed[0].sentence}",
                remedy="Explain the difference between the lots in the discussion and show each lot's own bound, or "
                f"test again under a plan that judges each lot. {ONCE_EXPLAINED}",
            )


@rule("fallback-not-declared", severity=Severity.BLOCKER)
def fallback_undeclared(evidence: Evidence) -> Iterator[Hole]:
    """An evaluation by another approach than the plan or its declared fallback.

    Why: an approach chosen after a look at the results is chosen to pass.
    Source: FDA bench performance guidance, 2019 (data analysis plan); common practice.
    """
    for protocol, record, evaluation in evidence.evaluations():
        plan = protocol.analysis_plan
        used = evaluation.approach_used.split(",")[0]
        declared = {plan.approach.value, plan.fallback.value if plan.fallback else "", ""}
        if plan.lots is LotRule.BETWEEN_LOT:
            declared.add(LotRule.BETWEEN_LOT.value)
        if used not in declared:
            yield Hole(
                records=(protocol.id, record.id),
                place=protocol.at("analysis_plan.approach"),
                message=f"{group_text(evaluation.key)} was evaluated by {used}; the plan of {plan.declared_on} "
                f"declares {plan.approach.value}, and {plan.fallback.value if plan.fallback else 'nothing'} as "
                "fallback.",
                remedy="Evaluate as declared. For a new test, declare the fallback before the first result.",
            )
