"""Judging conforming / not conforming: the exact binomial bound on the proportion conforming."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reportgen.acceptance.both_analyses import with_both_analyses
from reportgen.acceptance.cases import Case, n_outstanding, specimens_step, untested
from reportgen.acceptance.limits import Mask, outside, unclear
from reportgen.acceptance.records import Evaluation, Figure, Outcome, Step, population
from reportgen.acceptance.verdicts import decide_attribute
from reportgen.acceptance.wording import counted, listed
from reportgen.rounding import demonstrated, percent
from reportgen.stats import attribute_reliability


def judge_attribute(case: Case) -> list[Evaluation]:
    """The evaluation of one group by counting failures; a variable value counts as failing outside its limits."""
    blank = untested(case)
    if not case.group.values:
        return [replace(blank, steps=(specimens_step(case.group),) if case.group.set_aside else ())]
    return [with_both_analyses(case, _judge(case), _judge)]


def _judge(case: Case) -> Evaluation:
    blank = untested(case)
    failed = ~conforming(case)
    failing = tuple(case.group.values.column("specimen")[failed].tolist())
    n, failures = len(case.group.values), len(failing)
    bound = None if case.assurance is None else attribute_reliability(n, failures, confidence=case.assurance.confidence)
    numbers = case.group.numbers().tolist()
    evaluation = replace(
        blank,
        approach_used="attribute",
        failures=failures,
        failing=tuple(np.flatnonzero(failed).tolist()),
        minimum=min(numbers, default=None),
        maximum=max(numbers, default=None),
        achieved_reliability=bound,
        interval_method="exact binomial lower bound (Clopper-Pearson) on the proportion conforming",
        steps=(specimens_step(case.group), _count_step(failing, n), *_bound_steps(case, n, failures, bound)),
    )
    return decide_attribute(
        evaluation,
        allowed=case.protocol.analysis_plan.allowed_failures,
        failing=failing,
        outstanding=n_outstanding(case.group),
    )


def conforming(case: Case) -> Mask:
    """Which specimens conform; a censored value conforms only where the censoring cannot hide a failure."""
    counted_out = np.isnan(case.group.values.column("value"))
    judged = case.group.values.column("conforming") == 1.0
    return np.asarray(np.where(counted_out, judged, ~outside(case) & ~unclear(case)))


def _count_step(failing: tuple[str, ...], n: int) -> Step:
    if not failing:
        sentence = f"All {n} specimens conform." if n > 1 else "The one specimen conforms."
    else:
        sentence = f"{counted(len(failing), 'specimen')} of {n} failed ({listed(failing)})."
    return Step(
        name="conformance",
        sentence=sentence,
        outcome=Outcome.FAILED if failing else Outcome.PASSED,
        figures=(Figure(name="failures", value=len(failing)),),
    )


def _bound_steps(case: Case, n: int, failures: int, bound: float | None) -> tuple[Step, ...]:
    if bound is None or case.assurance is None:
        return ()
    shown = demonstrated(bound, required=case.assurance.reliability)
    sentence = (
        f"With {percent(case.assurance.confidence)} confidence at least {shown} of {population(case.group.lots)}"
        f" conforms (exact binomial bound, n = {n}, {counted(failures, 'failure')});"
        f" {percent(case.assurance.reliability)} is required."
    )
    return (
        Step(
            name="interval",
            sentence=sentence,
            outcome=Outcome.PASSED if bound >= case.assurance.reliability else Outcome.FAILED,
            figures=(Figure(name="achieved_reliability", value=bound),),
        ),
    )
