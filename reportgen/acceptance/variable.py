"""Judging measured values: the plan's steps in order, each recorded, ending in a bound held against the limits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from reportgen.acceptance.approaches import BETWEEN_LOT, Claim, Samples, interval_of, reliability_shown
from reportgen.acceptance.assumptions import distribution_step, lots_step, outlier_step, run_order_step
from reportgen.acceptance.both_analyses import with_both_analyses
from reportgen.acceptance.cases import Case, n_outstanding, specimens_step, untested, untested_fields
from reportgen.acceptance.censoring import censored_bound
from reportgen.acceptance.foreseen import Foreseen, foresee
from reportgen.acceptance.groups import Group
from reportgen.acceptance.limits import outside, unclear
from reportgen.acceptance.records import Evaluation, Figure, Outcome, Step
from reportgen.acceptance.remedies import too_few, what_would_suffice
from reportgen.acceptance.verdicts import decide_variable
from reportgen.acceptance.wording import counted, listed, which_value
from reportgen.project.records import Approach, LotRule, RoundingMethod
from reportgen.stats.records import Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bound:
    """Where the plan's steps ended: an interval, or the obstacle that stood in its way."""

    steps: tuple[Step, ...]
    approach_used: str
    interval: Interval | None = None
    achieved: float | None = None
    obstacle: str = ""
    remedy: str = ""


def foresee_checks(cases: Iterable[Case]) -> Foreseen:
    """The checks that judging these cases will ask for, as far as that is plain beforehand."""
    measured = [case for case in cases if case.group.values and not case.is_censored]
    looked_at = [
        np.log(case.pooled)
        if case.protocol.analysis_plan.approach is Approach.LOGNORMAL and case.pooled.min() > 0
        else case.pooled
        for case in measured
    ]
    alphas = [case.protocol.analysis_plan.outlier_alpha for case in measured]
    claims = [(case.pooled, case.claim(case.guard() or 0.0)) for case in measured if _is_plainly_normal(case)]
    return foresee(
        [case.in_order for case in measured],
        looked_at,
        alphas,
        [case.group.numbers() for case in measured],
        [(values, claim) for values, claim in claims if claim is not None],
    )


def _is_plainly_normal(case: Case) -> bool:
    plan = case.protocol.analysis_plan
    return plan.approach is Approach.NORMAL and plan.lots is not LotRule.BETWEEN_LOT


def judge_variable(case: Case, foreseen: Foreseen) -> list[Evaluation]:
    """The evaluations of one group: one, or one per lot where the plan pools only compatible lots and they are not."""
    if not case.group.values:
        blank = untested(case)
        return [replace(blank, steps=(specimens_step(case.group),) if case.group.set_aside else ())]
    if case.protocol.analysis_plan.lots is LotRule.POOL_IF_COMPATIBLE and len(case.group.lots) > 1:
        step = lots_step(case.group.numbers_by_lot(), case.group.lots, case.protocol.analysis_plan)
        if step.outcome is not Outcome.PASSED:
            told = replace(
                step, sentence=f"{step.sentence} The plan pools only compatible lots, so each lot is judged on its own."
            )
            return [
                _judge_both(replace(case, group=_own_plan(case, lot), is_only_group=False), foreseen, lots_told=told)
                for lot in case.group.lots
            ]
    return [_judge_both(case, foreseen, lots_told=None)]


def _judge_both(case: Case, foreseen: Foreseen, *, lots_told: Step | None) -> Evaluation:
    judged = _judge(case, foreseen, lots_told=lots_told)
    return with_both_analyses(case, judged, lambda whole: _judge(whole, foreseen, lots_told=lots_told))


def _own_plan(case: Case, lot: str) -> Group:
    """The part of the group that is one lot, with the planned count of that lot."""
    conditions = set(case.group.values.column("condition").tolist())
    planned = sum(plan.n for plan in case.protocol.sampling.groups if plan.lot == lot and plan.condition in conditions)
    return replace(case.group.only(lot), n_planned=planned)


def _judge(case: Case, foreseen: Foreseen, *, lots_told: Step | None) -> Evaluation:
    group, plan, guard = case.group, case.protocol.analysis_plan, case.guard()
    numbers = group.numbers()
    failing, hidden = outside(case), unclear(case)
    out, open_ = _named(failing, group), _named(hidden, group)
    bound = _bound(case, foreseen, guard=guard, lots_told=lots_told)
    claim = case.claim(guard or 0.0)
    clears: bool | None = None
    found: dict[str, Any] = {}
    moments = foreseen.moments(numbers)
    if bound.interval is not None and claim is not None:
        # the model of lots has a spread of its own, which its factor multiplies and its margin is told in
        spread = bound.interval.sd if bound.approach_used == BETWEEN_LOT else moments.sd
        found = _of_interval(bound.interval, claim, spread)
        clears = claim.is_cleared_by(_as_compared(case, bound.interval))
    evaluation = Evaluation(
        **{
            **untested_fields(case),
            "approach_used": bound.approach_used,
            "mean": moments.mean,
            "sd": moments.sd,
            "minimum": float(numbers.min()),
            "maximum": float(numbers.max()),
            "achieved_reliability": bound.achieved,
            "steps": (specimens_step(group), _conformance_step(case, out, open_), *bound.steps),
            "failing": tuple(np.flatnonzero(failing).tolist()) if out else (),
            "unclear": tuple(np.flatnonzero(hidden).tolist()) if open_ else (),
            **found,
        }
    )
    return decide_variable(
        evaluation,
        outside=out,
        unclear=open_,
        every=plan.every_specimen_conforms,
        outstanding=n_outstanding(group),
        clears=clears,
        obstacle=bound.obstacle,
        remedy="" if clears else bound.remedy or what_would_suffice(evaluation, claim),
    )


def _named(chosen: np.ndarray, group: Group) -> tuple[str, ...]:
    return tuple(group.values.column("specimen")[chosen].tolist()) if chosen.any() else ()


def _bound(case: Case, foreseen: Foreseen, *, guard: float | None, lots_told: Step | None) -> _Bound:
    """Lots, distribution, outliers, then the interval; stops where a step ends the matter."""
    plan, group = case.protocol.analysis_plan, case.group
    samples = case.samples
    steps: list[Step] = [lots_told or lots_step(samples, group.lots, plan)]
    between = plan.lots is LotRule.BETWEEN_LOT
    if case.transfer_factor != 1.0:
        steps.append(_transfer_step(case))
    claim = case.claim(guard or 0.0)
    if claim is None:
        return _Bound(steps=tuple(steps), approach_used="", obstacle=case.assurance_source)
    if guard is None:
        return _Bound(
            steps=tuple(steps),
            approach_used="",
            obstacle=(
                "The plan declares a guarded decision, but the method's validation states no expanded uncertainty, so"
                " the guard band is unknown."
            ),
            remedy="state the method's expanded measurement uncertainty in its validation",
        )
    if case.is_censored:
        return _censored(case, claim, tuple(steps))
    chosen, distribution = _choose(case, samples, foreseen, between=between)
    steps += distribution
    steps.append(outlier_step(case.pooled, group, plan, approach=chosen, foreseen=foreseen))
    steps.append(run_order_step(case.in_order, plan, foreseen=foreseen))
    if chosen is None:
        return _Bound(
            steps=tuple(steps),
            approach_used="",
            obstacle=f"{distribution[-1].sentence} The plan declares no fallback that holds, so there is no bound.",
            remedy="declare, before testing anew, an approach or a fallback that this kind of data can meet",
        )
    return _interval(case, claim, chosen, foreseen, between=between, steps=tuple(steps))


def _choose(case: Case, samples: Samples, foreseen: Foreseen, *, between: bool) -> tuple[Approach | None, list[Step]]:
    """The declared approach, or its declared fallback when the check rejects it; never anything else."""
    plan = case.protocol.analysis_plan
    first = distribution_step(plan.approach, samples, plan, within_lots=between, foreseen=foreseen)
    if first.outcome is not Outcome.FAILED:
        return plan.approach, [first]
    if plan.fallback is None or plan.fallback is Approach.ATTRIBUTE or between:
        return None, [first]
    second = distribution_step(plan.fallback, samples, plan, within_lots=False, foreseen=foreseen)
    told = Step(
        name="fallback",
        sentence=f"The declared fallback is used ({plan.fallback.value.replace('_', '-')}). {second.sentence}",
        outcome=second.outcome,
        figures=tuple(replace(figure, name=f"fallback_{figure.name}") for figure in second.figures),
    )
    return (None if second.outcome is Outcome.FAILED else plan.fallback), [first, told]


def _interval(
    case: Case, claim: Claim, approach: Approach, foreseen: Foreseen, *, between: bool, steps: tuple[Step, ...]
) -> _Bound:
    samples, moments = case.samples, foreseen.moments(case.pooled)
    used = BETWEEN_LOT if between else approach.value
    try:
        interval = interval_of(approach, samples, between_lots=between, claim=claim, moments=moments)
        plain = approach is Approach.NORMAL and not between
        achieved = foreseen.reliabilities.get((moments, claim)) if plain else None
        if achieved is None:
            achieved = reliability_shown(approach, samples, between_lots=between, claim=claim, moments=moments)
    except ValueError as refusal:
        short = "" if between else too_few(approach, sum(map(len, samples)), claim)
        # else the statistic says itself which data it cannot hold: that is an answer, told in its own words
        return _Bound(
            steps=steps,
            approach_used=used,
            achieved=None,
            obstacle=short or f"No bound can be computed from these values: {refusal}.",
            remedy="" if short else "test more specimens, or choose for a new test an approach that holds such data",
        )
    return _Bound(
        steps=(*steps, _interval_step(case, interval, claim)), approach_used=used, interval=interval, achieved=achieved
    )


def _censored(case: Case, claim: Claim, steps: tuple[Step, ...]) -> _Bound:
    approach = case.protocol.analysis_plan.approach
    outcome = censored_bound(case.group, approach=approach, claim=claim)
    if isinstance(outcome, str):
        return _Bound(
            steps=steps,
            approach_used="",
            obstacle=outcome,
            remedy="test with a range in which every specimen ends, or declare an approach that holds such values",
        )
    return _Bound(
        steps=(*steps, _interval_step(case, outcome, claim)),
        approach_used=f"{approach.value}, censored",
        interval=outcome,
        achieved=None,
    )


def _interval_step(case: Case, interval: Interval, claim: Claim) -> Step:
    figures = [
        Figure(name=name, value=value)
        for name, value in (("k", interval.k), ("lower_bound", interval.lower), ("upper_bound", interval.upper))
        if value is not None
    ]
    if case.protocol.analysis_plan.lots is LotRule.BETWEEN_LOT:
        # not the standard deviation of all values together, which ignores that they come in lots
        figures.append(Figure(name="sd_between_and_within_lots", value=interval.sd, unit=case.unit))
    clears = claim.is_cleared_by(_as_compared(case, interval))
    limits = "limit" if claim.lower is None or claim.upper is None else "limits"
    if interval.lower is not None and interval.upper is not None:
        bound, how = (
            "tolerance interval",
            f"lies within the {limits}" if clears else f"does not lie within the {limits}",
        )
    else:
        bound, how = "tolerance bound", f"clears the {limits}" if clears else f"misses the {limits}"
    if case.guard():
        how += ", moved inward by the guard band"
    told = f"It {how}."
    if case.standing():
        told = f"For information only, as the evidence does not count against this design input: it {how}."
    sentence = f"The {bound} was computed as declared: {interval.method}{which_value(interval)}. {told}"
    outcome = Outcome.PASSED if clears else Outcome.FAILED
    return Step(name="interval", sentence=sentence, outcome=outcome, figures=tuple(figures))


def _transfer_step(case: Case) -> Step:
    return Step(
        name="limit transfer",
        sentence=(
            f"The limit was set with method {case.design_input.limit_method}; the linked bridging study carries it over"
            f" to method {case.method.id} with the factor {case.transfer_factor:g}."
        ),
        outcome=Outcome.PASSED,
        figures=(Figure(name="transfer_factor", value=case.transfer_factor),),
    )


def _conformance_step(case: Case, outside: tuple[str, ...], unclear: tuple[str, ...]) -> Step:
    n = len(case.group.values)
    limit = "limit" if None in case.limits else "limits"
    if outside:
        sentence = f"{counted(len(outside), 'specimen')} of {n} outside the {limit}: {listed(outside)}."
    elif unclear:
        sentence = f"{counted(len(unclear), 'specimen')} of {n} ended before a limit was reached: {listed(unclear)}."
    else:
        sentence = f"All {n} specimens are within the {limit}." if n > 1 else f"The one specimen is within the {limit}."
    return Step(
        name="conformance",
        sentence=sentence,
        outcome=Outcome.FAILED if outside or unclear else Outcome.PASSED,
        figures=(Figure(name="outside", value=len(outside)),),
    )


def _of_interval(interval: Interval, claim: Claim, sd: float | None) -> dict[str, Any]:
    """The fields of an evaluation that its interval fills. sd: the one that the margin is told in."""
    margins = [
        margin
        for margin in (
            None if claim.lower is None or interval.lower is None else interval.lower - claim.lower,
            None if claim.upper is None or interval.upper is None else claim.upper - interval.upper,
        )
        if margin is not None
    ]
    margin = min(margins, default=None)
    return {
        "k": interval.k,
        "lower_bound": interval.lower,
        "upper_bound": interval.upper,
        "achieved_confidence": interval.achieved_confidence,
        "margin": margin,
        "margin_sd": margin / sd if margin is not None and sd else None,
        "interval_method": interval.method,
    }


def _as_compared(case: Case, interval: Interval) -> Interval:
    """The interval as the declared rounding compares it: as computed, or rounded to the limit's last place."""
    if case.protocol.analysis_plan.rounding is RoundingMethod.ABSOLUTE:
        return interval
    return replace(
        interval,
        lower=None if interval.lower is None else case.rounded(interval.lower),
        upper=None if interval.upper is None else case.rounded(interval.upper),
    )
