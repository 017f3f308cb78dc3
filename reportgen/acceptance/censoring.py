"""Bounds from samples in which some specimens ended without failing: neither dropped nor taken as failures."""

from __future__ import annotations

from dataclasses import replace

from reportgen.acceptance.approaches import Claim, interval_of
from reportgen.acceptance.groups import Group
from reportgen.acceptance.wording import counted
from reportgen.project.records import Approach
from reportgen.stats import censored_fit
from reportgen.stats.censored import Distribution
from reportgen.stats.records import Interval

_FITTED: dict[Approach, Distribution] = {
    Approach.NORMAL: "normal",
    Approach.LOGNORMAL: "lognormal",
    Approach.WEIBULL: "weibull",
}


def censored_bound(group: Group, *, approach: Approach, claim: Claim) -> Interval | str:
    """The bound that censored values allow, or the sentence that says why there is none.

    With the distribution-free approach the stopping value stands for the specimen where that can only make the bound
    safer (stopped above, lower limit; stopped below, upper limit). With a fitted distribution, values stopped above are
    held against a lower limit by maximum likelihood with a likelihood-ratio bound, which is approximate.
    """
    censored = group.values.column("censored").astype(bool)
    kinds, n_censored = {*group.values.column("censored")[censored].tolist()}, int(censored.sum())
    safe = {"lower": {"above"}, "upper": {"below"}, "both": set()}[claim.side]
    if not kinds <= safe:
        return (
            f"{counted(n_censored, 'specimen')} ended without a value on the side of the limit, so no bound can be"
            " computed from this sample."
        )
    values = group.numbers()
    try:
        if approach is Approach.DISTRIBUTION_FREE:
            interval = interval_of(approach, (values,), between_lots=False, claim=claim)
            entered = f"{counted(n_censored, 'specimen')} enter with the value at which the test stopped"
            note = f"; {entered}, which is safe here"
            return replace(interval, method=interval.method + note)
        if approach not in _FITTED or claim.side != "lower":
            return (
                f"{counted(n_censored, 'specimen')} ended without a value; the declared approach"
                f" ({approach.value.replace('_', ' ')}) has no bound for such values on this side."
            )
        fit = censored_fit(values, censored, distribution=_FITTED[approach])
        bound = fit.lower_bound(1.0 - claim.reliability, confidence=claim.confidence)
    except ValueError as refusal:
        return f"No bound can be computed from these values: {refusal}."
    return Interval(
        lower=float(bound),
        upper=None,
        k=None,
        n=values.size,
        mean=float(values.mean()),
        sd=float(values.std(ddof=1)),
        confidence=claim.confidence,
        coverage=claim.reliability,
        side="lower",
        method=(
            f"{_FITTED[approach]} fit by maximum likelihood with {counted(n_censored, 'specimen')} stopped before"
            " failing; likelihood-ratio lower bound (approximate)"
        ),
    )
