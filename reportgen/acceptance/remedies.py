"""What would turn 'not demonstrated' into 'met', in numbers where the present sample allows one."""

from __future__ import annotations

import math

import numpy as np

from reportgen.acceptance.approaches import Claim
from reportgen.acceptance.records import Evaluation
from reportgen.acceptance.specimen_values import SpecimenValues
from reportgen.acceptance.wording import new_sample
from reportgen.project.records import Approach
from reportgen.rounding import percent
from reportgen.stats import order_statistic_sample_size
from reportgen.stats.sample_size import variable_sample_size


def what_would_suffice(evaluation: Evaluation, claim: Claim | None) -> str:
    """One sentence for the present mean and spread; '' where nothing is missing or nothing can be said."""
    if claim is None or evaluation.sd is None or evaluation.mean is None:
        return "test at least two specimens" if evaluation.n < 2 else ""
    if evaluation.approach_used == "distribution_free":
        needed = order_statistic_sample_size(confidence=claim.confidence, coverage=claim.reliability, side=claim.side)
        if evaluation.n < needed:
            return new_sample(needed, provided="if all of them are within the limits")
        return "a larger new sample under a new protocol, so that a less extreme order statistic can serve as the bound"
    if evaluation.approach_used not in {"normal", "lognormal"}:
        return "a smaller spread, a mean farther from the limit, or a larger new sample under a new protocol"
    distance = _standardised_distance(evaluation, claim)
    if distance is None:
        return ""
    sufficient = variable_sample_size(
        k_observed=distance, confidence=claim.confidence, coverage=claim.reliability, side=claim.side
    )
    if sufficient is None:
        return (
            f"no sample size would do with the present mean and spread: the mean is {distance:.2f} standard deviations"
            f" from the limit, too near for {percent(claim.reliability)}; change the design or the process"
        )
    return new_sample(sufficient, provided="if its mean and spread are no worse than these")


def _standardised_distance(evaluation: Evaluation, claim: Claim) -> float | None:
    """Distance of the mean from the nearer limit in standard deviations, on the scale of the approach."""
    values = SpecimenValues.of(evaluation.values).numbers()
    lower, upper = claim.lower, claim.upper
    if evaluation.approach_used == "lognormal":
        values = np.log(values)
        lower = math.log(lower) if lower is not None and lower > 0 else None
        upper = math.log(upper) if upper is not None and upper > 0 else None
    mean, sd = float(values.mean()), float(values.std(ddof=1))
    if sd == 0.0:
        return None
    distances = [] if lower is None else [(mean - lower) / sd]
    if upper is not None:
        distances.append((upper - mean) / sd)
    return min(distances, default=None)


def too_few(approach: Approach, count: int, claim: Claim) -> str:
    """Why a distribution-free claim cannot hold with so few values; '' where it could, and for other approaches."""
    if approach is not Approach.DISTRIBUTION_FREE:
        return ""
    needed = order_statistic_sample_size(confidence=claim.confidence, coverage=claim.reliability, side=claim.side)
    if count >= needed:
        return ""
    return (
        f"A distribution-free bound for {percent(claim.confidence)} confidence and {percent(claim.reliability)} "
        f"reliability needs at least {needed} values, and there {'is' if count == 1 else 'are'} {count}."
    )
