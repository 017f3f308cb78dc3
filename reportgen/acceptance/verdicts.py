"""The four verdicts: which one it is, the reason in one sentence, and what would change it."""

from __future__ import annotations

from typing import Literal

from reportgen.acceptance.records import DesignInputResult, Evaluation, Outcome, Verdict, changed
from reportgen.acceptance.wording import counted, decimals_of_limit, listed, new_sample
from reportgen.project.records import DesignInput
from reportgen.quantities import difference_unit
from reportgen.rounding import bound as bound_text
from reportgen.rounding import demonstrated, nearest, parsed, percent, towards
from reportgen.rounding import limit as limit_text
from reportgen.stats import attribute_sample_size

# From best to worst: a design input is no better than its worst evaluation.
_ORDER = (Verdict.MET, Verdict.NOT_TESTED, Verdict.NOT_DEMONSTRATED, Verdict.NOT_MET)

_CAUSE = (
    "needs a deviation with a cause that has nothing to do with the results, such as specimens lost before the test"
)
_FALLS_SHORT = "; leaving them out would not demonstrate the claim either, as the values so far do not show it"


def of_design_input(design_input: DesignInput, evaluations: tuple[Evaluation, ...]) -> DesignInputResult:
    """The verdict over all evaluations: the worst; partly tested counts as not demonstrated."""
    if not evaluations:
        return DesignInputResult(
            design_input=design_input.id,
            verdict=Verdict.NOT_TESTED,
            reason="No protocol verifies this design input.",
            would_change_it="write a protocol that verifies it",
            evaluations=(),
        )
    worst = max(evaluations, key=_badness)
    verdicts = {evaluation.verdict for evaluation in evaluations}
    if len(evaluations) > 1 and verdicts == {Verdict.NOT_TESTED}:
        return _wholly_untested(design_input, evaluations)
    named = _named(worst, evaluations)
    if worst.verdict is Verdict.NOT_TESTED and verdicts != {Verdict.NOT_TESTED}:
        return DesignInputResult(
            design_input=design_input.id,
            verdict=Verdict.NOT_DEMONSTRATED,
            reason=f"Tested in part only. {named}{worst.reason}",
            would_change_it=worst.would_change_it,
            evaluations=evaluations,
        )
    return DesignInputResult(
        design_input=design_input.id,
        verdict=worst.verdict,
        reason=f"{named}{worst.reason}",
        would_change_it=worst.would_change_it,
        evaluations=evaluations,
    )


def _wholly_untested(design_input: DesignInput, evaluations: tuple[Evaluation, ...]) -> DesignInputResult:
    planned = sum(evaluation.n_planned for evaluation in evaluations)
    protocols = listed(sorted({evaluation.protocol for evaluation in evaluations}))
    reason = f"None of the {counted(planned, 'planned specimen')} of {protocols} has given a valid result"
    set_aside = sum(evaluation.n_set_aside for evaluation in evaluations)
    return DesignInputResult(
        design_input=design_input.id,
        verdict=Verdict.NOT_TESTED,
        reason=f"{reason}; {counted(set_aside, 'was', 'were')} set aside." if set_aside else f"{reason} yet.",
        would_change_it=f"test the {counted(planned, 'planned specimen')} of {protocols}",
        evaluations=evaluations,
    )


def _badness(evaluation: Evaluation) -> tuple[int, float]:
    """Worst verdict first; among equals the one with the least to spare, in standard deviations."""
    spare = evaluation.margin_sd if evaluation.margin_sd is not None else float("inf")
    return _ORDER.index(evaluation.verdict), -spare


def _named(evaluation: Evaluation, evaluations: tuple[Evaluation, ...]) -> str:
    """Which of several evaluations a reason speaks of; nothing where there is only one."""
    if len(evaluations) == 1:
        return ""
    told = (evaluation.verdict, evaluation.reason, evaluation.would_change_it)
    same = [one for one in evaluations if (one.verdict, one.reason, one.would_change_it) == told]
    protocols = [
        f"{protocol} ({' and '.join(groups) if len(groups) < 3 else '; '.join(groups)})" if groups else protocol
        for protocol in dict.fromkeys(one.protocol for one in same)
        for groups in [[one.group_words for one in same if one.protocol == protocol and one.group]]
    ]
    return f"{'; '.join(protocols)}: "


def decide_attribute(evaluation: Evaluation, *, allowed: int, failing: tuple[str, ...], outstanding: int) -> Evaluation:
    """Verdict on counted failures. A failure that cannot count against this design input cannot fail it either."""
    early = _before_the_numbers(evaluation)
    if early is not None:
        return early
    if len(failing) > allowed:
        reason = (
            f"{counted(len(failing), 'specimen')} of {evaluation.n} failed ({listed(failing)});"
            f" the plan allows {allowed or 'none'}."
        )
        return _as(
            evaluation, Verdict.NOT_MET, reason, "find and remove the cause, then verify the changed design anew"
        )
    shown, wanted = evaluation.achieved_reliability, evaluation.reliability
    waiting = _while_outstanding(
        evaluation, outstanding, holds_so_far=None if shown is None or wanted is None else shown >= wanted
    )
    if waiting is not None:
        return waiting
    confidence, required, bound = evaluation.confidence, evaluation.reliability, evaluation.achieved_reliability
    if confidence is None or required is None or bound is None:
        raise ValueError(f"evaluation {evaluation.key!r} has no claim where one is needed")
    result = (
        f"{evaluation.n - len(failing)} of {evaluation.n} conform: with {percent(confidence)} confidence at least"
        f" {demonstrated(bound, required=required)} of {evaluation.population} conforms"
    )
    if bound >= required:
        return _as(evaluation, Verdict.MET, f"{result}; {percent(required)} is required.", "")
    needed = attribute_sample_size(confidence=confidence, reliability=required, failures=len(failing))
    return _as(
        evaluation,
        Verdict.NOT_DEMONSTRATED,
        f"{result}, which is less than the {percent(required)} required.",
        new_sample(needed, provided=_with_failures(len(failing))),
    )


def _with_failures(count: int) -> str:
    return f"with no more than {counted(count, 'failure')}" if count else "if none of them fails"


def decide_variable(
    evaluation: Evaluation,
    *,
    outside: tuple[str, ...],
    unclear: tuple[str, ...],
    every: bool,
    outstanding: int,
    clears: bool | None,
    obstacle: str,
    remedy: str,
) -> Evaluation:
    """Verdict on measured values.

    Args:
        outside: specimens whose value is outside a limit. unclear: specimens whose censored value leaves that open.
        every: whether each single specimen must conform. clears: whether the bound clears the limits; None when there
        is no bound, and `obstacle` then says why and `remedy` what would help.
    """
    early = _before_the_numbers(evaluation)
    if early is not None:
        return early
    if outside and (every or not clears):
        is_ = "is" if len(outside) == 1 else "are"
        reason = f"{counted(len(outside), 'specimen')} of {evaluation.n} {is_} outside the limit ({listed(outside)})."
        return _as(
            evaluation, Verdict.NOT_MET, reason, "find and remove the cause, then verify the changed design anew"
        )
    waiting = _while_outstanding(evaluation, outstanding, holds_so_far=clears)
    if waiting is not None:
        return waiting
    if unclear:
        reason = (
            f"{counted(len(unclear), 'specimen')} of {evaluation.n} ended without a value on the side of the limit"
            f" ({listed(unclear)}), so conformance of each specimen is open."
        )
        return _as(evaluation, Verdict.NOT_DEMONSTRATED, reason, "test with a range that reaches beyond the limit")
    if clears is None:
        return _as(evaluation, Verdict.NOT_DEMONSTRATED, obstacle, remedy)
    sentence = _bound_sentence(evaluation)
    if clears:
        return _as(evaluation, Verdict.MET, f"{sentence}, {_clearance(evaluation)}.", "")
    return _as(evaluation, Verdict.NOT_DEMONSTRATED, f"{sentence}, {_shortfall(evaluation)}.", remedy)


def _before_the_numbers(evaluation: Evaluation) -> Evaluation | None:
    """What ends the matter whatever the numbers say: evidence that does not count, or a claim that is not stated."""
    if evaluation.standing:
        sentences = "; ".join(reason.sentence for reason in evaluation.standing)
        remedies = "; ".join(reason.would_change_it for reason in evaluation.standing)
        return _as(evaluation, Verdict.NOT_DEMONSTRATED, f"The evidence does not count: {sentences}.", remedies)
    if evaluation.confidence is None:
        return _as(
            evaluation,
            Verdict.NOT_DEMONSTRATED,
            f"No claim to hold the results against: {evaluation.assurance_source}.",
            "link the design input to a risk whose severity has a level, or let it state its own claim with a reason",
        )
    return None


def _while_outstanding(evaluation: Evaluation, outstanding: int, *, holds_so_far: bool | None) -> Evaluation | None:
    """A test that is still running proves nothing yet, however good it looks: stopping early would choose the n.

    Args: holds_so_far: whether the claim would hold on the values there are; None where they give no bound.
    """
    if not outstanding:
        return None
    no_way_out = _FALLS_SHORT if holds_so_far is False else ""
    reason = (
        f"{evaluation.n} of {evaluation.n_planned} planned specimens have a valid result and"
        f" {counted(outstanding, 'is', 'are')} outstanding; the plan is judged when it is complete."
    )
    return _as(
        evaluation,
        Verdict.NOT_DEMONSTRATED,
        reason,
        f"test the remaining {counted(outstanding, 'specimen')} as planned; leaving any out {_CAUSE}{no_way_out}",
    )


def _as(evaluation: Evaluation, verdict: Verdict, reason: str, would_change_it: str) -> Evaluation:
    return changed(evaluation, verdict=verdict, reason=reason, would_change_it=would_change_it)


def _bound_sentence(evaluation: Evaluation) -> str:
    """'With 95 % confidence at least 99 % of production lies at or above 7.21 N'."""
    unit = f" {evaluation.unit}" if evaluation.unit else ""
    lower, upper = evaluation.lower_bound, evaluation.upper_bound
    confidence, reliability = evaluation.confidence or 0.0, evaluation.reliability or 0.0
    claim = f"With {percent(confidence)} confidence at least {percent(reliability)} of {evaluation.population} lies"
    if lower is not None and upper is not None:
        return f"{claim} between {_bound(evaluation, 'lower')} and {_bound(evaluation, 'upper')}{unit}"
    if lower is not None:
        return f"{claim} at or above {_bound(evaluation, 'lower')}{unit}"
    return f"{claim} at or below {_bound(evaluation, 'upper')}{unit}"


def _bound(evaluation: Evaluation, side: Literal["lower", "upper"]) -> str:
    value, limit = (
        (evaluation.lower_bound, evaluation.lower_limit)
        if side == "lower"
        else (evaluation.upper_bound, evaluation.upper_limit)
    )
    return bound_text(value or 0.0, evaluation.bound_decimals, side=side, limit=limit)


def _clearance(evaluation: Evaluation) -> str:
    if _has_two_limits(evaluation):
        cleared = f"which clears the {_limits(evaluation)}".removesuffix(",")
        return f"{cleared}; the nearer limit is cleared by {_margin(evaluation)}"
    return f"which clears the {_limits(evaluation)} by {_margin(evaluation)}"


def _shortfall(evaluation: Evaluation) -> str:
    shown_now = ""
    if evaluation.achieved_reliability is not None:
        shown_now = (
            f"; {demonstrated(evaluation.achieved_reliability, required=evaluation.reliability)} is demonstrated"
        )
    if _has_two_limits(evaluation):
        missed = f"which does not stay within the {_limits(evaluation)}"
        return f"{missed.removesuffix(',')}; the limit missed most is missed by {_margin(evaluation)}{shown_now}"
    return f"which misses the {_limits(evaluation)} by {_margin(evaluation)}{shown_now}"


def _has_two_limits(evaluation: Evaluation) -> bool:
    return evaluation.lower_limit is not None and evaluation.upper_limit is not None


def _limits(evaluation: Evaluation) -> str:
    unit = f" {evaluation.unit}" if evaluation.unit else ""
    lower, upper, digits = evaluation.lower_limit, evaluation.upper_limit, evaluation.limit_decimals
    guard = ""
    if evaluation.guard:
        # as it was stated, unless that takes more decimals than anything else here
        decimals = min(decimals_of_limit(evaluation.guard), evaluation.statistic_decimals)
        apart = f" {difference_unit(evaluation.unit)}" if evaluation.unit else ""
        guard = f", moved inward by the guard band of {nearest(evaluation.guard, decimals)}{apart},"
    if lower is not None and upper is not None:
        return f"limits {limit_text(lower, digits)} to {limit_text(upper, digits)}{unit}{guard}"
    if lower is not None:
        return f"lower limit {limit_text(lower, digits)}{unit}{guard}"
    return f"upper limit {limit_text(upper or 0.0, digits)}{unit}{guard}"


def _margin(evaluation: Evaluation) -> str:
    """The distance from bound to limit, rounded to the side that claims less; never printed as zero unless it is."""
    if evaluation.margin is None:
        return "an unknown margin"
    unit = f" {difference_unit(evaluation.unit)}" if evaluation.unit else ""
    digits = evaluation.bound_decimals
    if evaluation.margin >= 0:
        text = bound_text(evaluation.margin, digits, side="lower", limit=0.0)
        while digits < 12 and evaluation.margin > 0 and parsed(text) == 0:
            digits += 1
            text = towards(evaluation.margin, digits, "down")
    else:
        text = towards(-evaluation.margin, digits, "up")
    if evaluation.margin_sd is None:
        return f"{text}{unit}"
    in_sd = towards(abs(evaluation.margin_sd), 2, "down" if evaluation.margin_sd >= 0 else "up")
    return f"{text}{unit} ({in_sd} standard deviations)"


def passed(evaluation: Evaluation, step: str) -> bool:
    """Whether a step of this name passed; a check that was not run has not."""
    return any(entry.name == step and entry.outcome is Outcome.PASSED for entry in evaluation.steps)
