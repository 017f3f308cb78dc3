"""Is a measurement good enough? Components of a gauge study held against the company's declared limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from reportgen.acceptance.records import Study, StudyValue
from reportgen.stats import cohen_kappa, crossed_gauge, fleiss_kappa, nested_gauge, resolution_check
from reportgen.stats.gauge import GaugeStudy

Design = Literal["crossed", "nested"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLimits:
    """What the company declares before the study; None is not judged. There is no default."""

    tolerance: float | None
    most_percent_study: float | None
    most_percent_tolerance: float | None
    fewest_categories: int | None
    coverage_factor: float


def gauge_study(
    values: Sequence[float],
    parts: Sequence[str],
    operators: Sequence[str],
    *,
    design: Design,
    confidence: float,
    limits: GaugeLimits,
    unit: str,
    report: str,
) -> Study:
    """Components with intervals, shares, categories, and the verdict. Raises: ValueError in the statistic's words."""
    estimate = crossed_gauge if design == "crossed" else nested_gauge
    found = estimate(np.array(values), part=list(parts), operator=list(operators), confidence=confidence)
    share_of_tolerance = None if limits.tolerance is None else found.percent_tolerance(limits.tolerance)
    uncertainty = found.expanded_uncertainty(coverage_factor=limits.coverage_factor)
    findings, holds = _judged(found, share_of_tolerance, limits)
    resolution = resolution_check(np.array(values))
    if resolution.is_too_coarse:
        findings.append(
            f"The readings are coarse for their spread: {resolution.n_distinct} different values in {found.n}."
        )
    return Study(
        kind="gauge",
        title=f"Gauge study, {design}",
        unit=unit,
        sections=(
            ("Variance components", _components(found, unit)),
            ("Shares", _shares(found, share_of_tolerance, uncertainty, unit)),
        ),
        findings=tuple(findings),
        holds=holds,
        snippet=_snippet(design, report, found, share_of_tolerance, uncertainty, unit),
        groups=tuple(
            (name, tuple(value for value, who in zip(values, operators, strict=True) if who == name))
            for name in dict.fromkeys(operators)
        ),
        confidence=confidence,
        number=report,
    )


def attribute_agreement(
    items: Sequence[str], raters: Sequence[str], ratings: Sequence[str], *, confidence: float, least_kappa: float | None
) -> Study:
    """Agreement of raters on the same items: Cohen's kappa for two, Fleiss' kappa for more.

    Raises: ValueError when a rater has not rated an item exactly once, or in the statistic's words.
    """
    by_item: dict[str, dict[str, str]] = {}
    for item, rater, rating in zip(items, raters, ratings, strict=True):
        if rater in by_item.setdefault(item, {}):
            raise ValueError(f"rater {rater!r} rated item {item!r} twice; one rating each is wanted")
        by_item[item][rater] = rating
    names = list(dict.fromkeys(raters))
    for item, given in by_item.items():
        missing = [name for name in names if name not in given]
        if missing:
            raise ValueError(f"rater {missing[0]!r} did not rate item {item!r}; every rater has to rate every item")
    table = [[given[name] for name in names] for given in by_item.values()]
    if len(names) == 2:
        found = cohen_kappa([row[0] for row in table], [row[1] for row in table], confidence=confidence)
    else:
        found = fleiss_kappa(table, confidence=confidence)
    holds = None if least_kappa is None else found.kappa >= least_kappa
    said = "" if holds is None else f"; at least {least_kappa:g} is declared: {'met' if holds else 'not met'}"
    return Study(
        kind="agreement",
        title="Agreement of raters",
        unit="",
        sections=(
            (
                "Agreement",
                (
                    StudyValue(name="kappa", label=found.name, value=found.kappa, lower=found.lower, upper=found.upper),
                    StudyValue(name="observed", label="share of agreement", value=found.p_observed),
                    StudyValue(name="by_chance", label="share expected by chance", value=found.p_expected),
                    StudyValue(name="items", label="items", value=float(found.n_items)),
                ),
            ),
        ),
        findings=(f"{found.name} is {found.kappa:.3f}{said}.",),
        holds=holds,
        snippet="",
        groups=(),
        confidence=confidence,
    )


def _components(found: GaugeStudy, unit: str) -> tuple[StudyValue, ...]:
    return tuple(
        StudyValue(
            name=f"sd_{source.replace(' ', '_')}",
            label=f"standard deviation, {source}",
            value=component.sd,
            lower=max(component.lower, 0.0) ** 0.5,
            upper=max(component.upper, 0.0) ** 0.5,
            unit=unit,
        )
        for source, component in found.components
    )


def _shares(
    found: GaugeStudy, share_of_tolerance: float | None, uncertainty: float, unit: str
) -> tuple[StudyValue, ...]:
    categories = found.distinct_categories
    return (
        StudyValue(
            name="percent_study", label="gauge, share of study variation", value=found.percent_study_variation, unit="%"
        ),
        StudyValue(
            name="percent_contribution", label="gauge, share of variance", value=found.percent_contribution, unit="%"
        ),
        StudyValue(name="percent_tolerance", label="gauge, share of tolerance", value=share_of_tolerance, unit="%"),
        StudyValue(
            name="categories", label="distinct categories", value=None if categories is None else float(categories)
        ),
        StudyValue(name="expanded_uncertainty", label="expanded uncertainty", value=uncertainty, unit=unit),
    )


def _judged(found: GaugeStudy, share_of_tolerance: float | None, limits: GaugeLimits) -> tuple[list[str], bool | None]:
    told: list[str] = []
    outcomes: list[bool] = []

    def judge(label: str, value: float | None, limit: float | None, *, at_most: bool, unit: str = "") -> None:
        if limit is None:
            return
        if value is None:
            told.append(f"{label} cannot be judged: the study does not give it.")
            outcomes.append(False)
            return
        good = value <= limit if at_most else value >= limit
        bound = "at most" if at_most else "at least"
        declared = f"{bound} {limit:g}{unit} is declared: {'met' if good else 'not met'}"
        told.append(f"{label} is {value:.3g}{unit}; {declared}.")
        outcomes.append(good)

    judge("The gauge's share of the study variation", found.percent_study_variation, limits.most_percent_study,
          at_most=True, unit=" %")  # fmt: skip
    judge("The gauge's share of the tolerance", share_of_tolerance, limits.most_percent_tolerance, at_most=True,
          unit=" %")  # fmt: skip
    judge("The number of distinct categories", found.distinct_categories, limits.fewest_categories, at_most=False)
    if not outcomes:
        told.append("No limit was declared, so nothing is judged.")
    return told, all(outcomes) if outcomes else None


def _snippet(
    design: Design, report: str, found: GaugeStudy, share_of_tolerance: float | None, uncertainty: float, unit: str
) -> str:
    """YAML for a method's `validation`."""
    lines = [
        "validation:",
        f"  report: {report or 'name the report here'}",
        f"  kind: gauge study, {design}",
        "  figures:",
        f"    share of study variation: {found.percent_study_variation / 100:.4g}",
    ]
    if share_of_tolerance is not None:
        lines.append(f"    share of tolerance: {share_of_tolerance / 100:.4g}")
    if unit:
        lines.append(f"  expanded_uncertainty: {uncertainty:.4g} {unit}")
    return "\n".join(lines) + "\n"
