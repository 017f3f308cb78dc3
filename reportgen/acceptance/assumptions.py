"""The checks that the declared plan asks for, each told with its numbers: lots, distribution, resolution, outliers."""

from __future__ import annotations

import numpy as np

from reportgen.acceptance.approaches import Sample, Samples
from reportgen.acceptance.foreseen import Foreseen, InOrder
from reportgen.acceptance.groups import Group
from reportgen.acceptance.records import Figure, Outcome, Step
from reportgen.acceptance.wording import counted, listed
from reportgen.project.records import AnalysisPlan, Approach, LotRule
from reportgen.rounding import p_value as p_text
from reportgen.rounding import percent
from reportgen.stats import (
    box_cox_interval,
    brown_forsythe,
    k_sample_anderson_darling,
    resolution_check,
    weibull_anderson_darling,
)

# Below this size the p-value formula of the Anderson-Darling check is not established (D'Agostino and Stephens 1986,
# table 4.9, n >= 8): Shapiro-Wilk decides there.
LEAST_N_ANDERSON_DARLING = 8
LEAST_N_NORMALITY = 3
_LEAST_N_RUN_ORDER, _MOST_N_RUN_ORDER = 8, 200

NAMES = {
    Approach.NORMAL: "a normal distribution",
    Approach.LOGNORMAL: "a lognormal distribution",
    Approach.WEIBULL: "a two-parameter Weibull distribution",
    Approach.BOX_COX: "a normal distribution after the Box-Cox transformation",
    Approach.DISTRIBUTION_FREE: "no particular distribution",
}

_SCALES = {Approach.LOGNORMAL: " of the logarithms", Approach.BOX_COX: " of the transformed values"}


def lots_step(samples: Samples, lots: tuple[str, ...], plan: AnalysisPlan) -> Step:
    """Whether the lots may be looked at as one population: k-sample Anderson-Darling and Brown-Forsythe."""
    if len(lots) < 2:
        told = "This group holds one lot, so there is nothing to pool."
        return Step(name="lots", sentence=told, outcome=Outcome.PASSED)
    too_small = min(sample.size for sample in samples) < 2 or max(sample.size for sample in samples) < 3
    if too_small or _all_equal(samples):
        why = "they are too small" if too_small else "all values of a lot are equal"
        return Step(name="lots", sentence=f"The lots could not be compared: {why}.", outcome=Outcome.NOT_RUN)
    location, spread = k_sample_anderson_darling(samples), brown_forsythe(samples)
    figures = (
        Figure(name="lots_anderson_darling", value=location.statistic),
        Figure(name="lots_anderson_darling_p", value=_p(location.p_value)),
        Figure(name="lots_brown_forsythe", value=spread.statistic),
        Figure(name="lots_brown_forsythe_p", value=_p(spread.p_value)),
    )
    found = (
        f"k-sample Anderson-Darling {_p_told(location.p_value)}, Brown-Forsythe {_p_told(spread.p_value)}"
        f" over {counted(len(lots), 'lot')} ({listed(lots)})"
    )
    if plan.compatibility_alpha is None:
        sentence = f"The plan declares no significance level for comparing lots: {found}."
        return Step(name="lots", sentence=sentence, outcome=Outcome.NOT_RUN, figures=figures)
    compatible = min(_p(location.p_value), _p(spread.p_value)) >= plan.compatibility_alpha
    judged = "no difference between the lots was found" if compatible else "the lots differ"
    return Step(
        name="lots",
        sentence=f"At the declared significance level of {percent(plan.compatibility_alpha)}, {judged}: {found}.",
        outcome=Outcome.PASSED if compatible else Outcome.FAILED,
        figures=figures,
    )


def distribution_step(
    approach: Approach, samples: Samples, plan: AnalysisPlan, *, within_lots: bool, foreseen: Foreseen
) -> Step:
    """Whether the values contradict the distribution that the approach assumes.

    `within_lots` looks at the residuals from the lot means, as the one-way random model does.
    """
    name = NAMES[approach]
    if approach is Approach.DISTRIBUTION_FREE:
        return Step(
            name="distribution",
            sentence="The distribution-free approach assumes no particular distribution.",
            outcome=Outcome.PASSED,
        )
    values = np.concatenate([sample - sample.mean() for sample in samples] if within_lots else list(samples))
    refused = _refusal(approach, values)
    if refused:
        return Step(
            name="distribution", sentence=f"Agreement with {name} was not checked: {refused}.", outcome=Outcome.NOT_RUN
        )
    figures = _distribution_figures(approach, values, foreseen)
    deciding = figures[0]
    check = "Anderson-Darling" if deciding.name.endswith("anderson_darling_p") else "Shapiro-Wilk"
    found = f"{check} {_p_told(deciding.value)} (n = {values.size})"
    if plan.normality_alpha is None:
        sentence = f"The plan declares no significance level for agreement with {name}; for information: {found}."
        return Step(name="distribution", sentence=sentence, outcome=Outcome.NOT_RUN, figures=figures)
    passed = deciding.value >= plan.normality_alpha
    judged = "do not contradict" if passed else "contradict"
    looked_at = "the values, each less the mean of its lot," if within_lots else "the values"
    level = percent(plan.normality_alpha)
    sentence = f"At the declared significance level of {level}, {looked_at} {judged} {name}: {found}."
    if not passed:
        sentence += _harmless_reason(values)
    return Step(
        name="distribution",
        sentence=sentence,
        outcome=Outcome.PASSED if passed else Outcome.FAILED,
        figures=figures,
    )


def outlier_step(
    values: Sample, group: Group, plan: AnalysisPlan, *, approach: Approach | None, foreseen: Foreseen
) -> Step:
    """The most extreme value against the maximum normed residual: reported, never removed.

    The check holds for normal values, so it looks at those that `approach` takes as normal: logarithms of lognormal
    values, transformed ones after Box-Cox. On the values themselves the long tail of such a sample would be called
    an outlier.
    """
    if values.size < 3 or float(np.ptp(values)) == 0.0:
        return Step(
            name="outliers",
            sentence="Outliers were not looked for: fewer than three different values.",
            outcome=Outcome.NOT_RUN,
        )
    looked_at, scale = values, ""
    if approach in _SCALES and not _refusal(approach, values):
        looked_at, scale = on_normal_scale(approach, values), _SCALES[approach]
    if plan.lots is LotRule.BETWEEN_LOT and len(group.lots) > 1:
        scale += " of all lots together"
    check = foreseen.maximum_normed_residual(looked_at, alpha=plan.outlier_alpha)
    flagged = check.statistic > check.critical_value
    figures = (
        Figure(name="outlier_statistic", value=check.statistic),
        Figure(name="outlier_critical_value", value=check.critical_value),
    )
    compared = (
        f"maximum normed residual{scale} {check.statistic:.3f} against {check.critical_value:.3f}"
        f" at the {percent(plan.outlier_alpha)} level"
    )
    if approach is Approach.DISTRIBUTION_FREE:
        compared += ", which holds for normal values: a skewed sample exceeds it more often"
    if not flagged:
        return Step(
            name="outliers", sentence=f"No outlier was flagged ({compared}).", outcome=Outcome.PASSED, figures=figures
        )
    specimen = group.measured("specimen", by_lot=True)[check.index]
    sentence = (
        f"Specimen {specimen} is flagged as an outlier ({compared}). It is kept: the plan only reports outliers, and no"
        " value is removed without a recorded cause."
    )
    return Step(name="outliers", sentence=sentence, outcome=Outcome.FAILED, figures=figures)


def in_order(values: Sample, lots: np.ndarray) -> InOrder:
    """The values lot after lot, each in the order in which it was filed; of many the first, enough for a drift."""
    first, of = values[:_MOST_N_RUN_ORDER], lots[:_MOST_N_RUN_ORDER]
    own = [first[of == lot] for lot in dict.fromkeys(of.tolist())]
    return InOrder(np.concatenate(own) if len(own) > 1 else first, tuple(one.size for one in own))


def run_order_step(ordered: InOrder, plan: AnalysisPlan, *, foreseen: Foreseen) -> Step:
    """Whether the values drift or alternate in the order in which they were filed, within lots: reported only.

    The level is that of the plan's report-only checks.
    """
    if not ordered.can_be_checked or ordered.free < _LEAST_N_RUN_ORDER - 1:
        return Step(
            name="run order",
            sentence=f"The order of testing was not looked at: it needs {_LEAST_N_RUN_ORDER} values that differ.",
            outcome=Outcome.NOT_RUN,
        )
    check = foreseen.von_neumann_ratio(ordered)
    p_value = _p(check.p_value)
    quiet = p_value >= plan.outlier_alpha
    found = f"von Neumann ratio {check.statistic:.3f}, {_p_told(p_value)}"
    level = f"at the {percent(plan.outlier_alpha)} level"
    drift = "a drift" if check.statistic < 2 else "an alternation"
    # what lies between lots, such as a day on which one of them was tested, is for the comparison of lots
    where = "In the order of filing" if len(ordered.sizes) == 1 else "In the order of filing within each lot"
    sentence = (
        f"{where} no drift or alternation was detected {level} ({found})."
        if quiet
        else f"{where} {drift} was detected {level} ({found}). This is reported and changes nothing by itself. "
        "Wear of the fixture or a change of operator are possible causes."
    )
    return Step(
        name="run order",
        sentence=sentence,
        outcome=Outcome.PASSED if quiet else Outcome.FAILED,
        figures=(
            Figure(name="run_order_von_neumann", value=check.statistic),
            Figure(name="run_order_von_neumann_p", value=p_value),
        ),
    )


def _distribution_figures(approach: Approach, values: Sample, foreseen: Foreseen) -> tuple[Figure, ...]:
    """The deciding p-value first, then what else was computed."""
    if approach is Approach.WEIBULL:
        check = weibull_anderson_darling(values)
        return (
            Figure(name="distribution_anderson_darling_p", value=_p(check.p_value)),
            Figure(name="distribution_anderson_darling", value=check.statistic),
        )
    looked_at = on_normal_scale(approach, values)
    shapiro = foreseen.shapiro_wilk(looked_at)
    second = (
        Figure(name="distribution_shapiro_wilk_p", value=_p(shapiro.p_value)),
        Figure(name="distribution_shapiro_wilk", value=shapiro.statistic),
    )
    if values.size < LEAST_N_ANDERSON_DARLING:
        return second
    anderson = foreseen.anderson_darling(looked_at)
    return (
        Figure(name="distribution_anderson_darling_p", value=_p(anderson.p_value)),
        Figure(name="distribution_anderson_darling", value=anderson.statistic),
        *second,
    )


def on_normal_scale(approach: Approach, values: Sample) -> Sample:
    """The values that the approach takes as normal."""
    if approach is Approach.LOGNORMAL:
        return np.asarray(np.log(values))
    if approach is Approach.BOX_COX:
        # any claim will do: the power is estimated from the values alone
        fitted = box_cox_interval(values, confidence=0.5, coverage=0.5, side="lower")
        power = dict(fitted.parameters)["power"]
        return np.asarray(np.log(values) if power == 0 else (values**power - 1.0) / power)
    return values


def _refusal(approach: Approach, values: Sample) -> str:
    if values.size < LEAST_N_NORMALITY:
        return f"it needs at least {LEAST_N_NORMALITY} values, and there are {values.size}"
    if float(np.ptp(values)) == 0.0:
        return "all values are equal"
    if approach in {Approach.LOGNORMAL, Approach.WEIBULL, Approach.BOX_COX} and float(values.min()) <= 0:
        return "it needs values above zero"
    return ""


def _harmless_reason(values: Sample) -> str:
    resolution = resolution_check(values)
    if not resolution.is_too_coarse:
        return ""
    return (
        f" The values are filed coarsely ({counted(resolution.n_distinct, 'distinct value')} for their spread), which"
        " by itself can make such a check reject; a finer reading would tell."
    )


def _all_equal(samples: Samples) -> bool:
    return float(np.ptp(np.concatenate(samples))) == 0.0 or any(float(np.ptp(sample)) == 0.0 for sample in samples)


def _p(p_value: float | None) -> float:
    if p_value is None:
        raise ValueError("p_value is None where the check always gives one")
    return p_value


def _p_told(p_value: float | None) -> str:
    """'p = 0.042', 'p < 0.001' or 'p > 0.999'."""
    text = p_text(_p(p_value))
    return f"p {text}" if text.startswith(("<", ">")) else f"p = {text}"
