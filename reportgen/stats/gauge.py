"""How much of the spread of a measurement comes from the measuring? Crossed and nested (destructive) gauge studies."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from reportgen.stats.arguments import FloatArray, settle_fraction, settle_positive
from reportgen.stats.variance_components import (
    AnovaLine,
    Component,
    MeanSquare,
    anova_line,
    combined,
    settle_labels,
)

Labels = Sequence[object]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Variances by source, 0 where an estimate is negative; nothing is pooled because of what the data show.

    Repeatability is the spread of one operator on one part; reproducibility what operators add (operator and operator
    by part); gauge is both together. In a nested study each part belongs to one operator, so there is no interaction
    (None), and repeatability includes whatever differs between the pieces that had to stand for one part.
    `components` holds (source, estimate with interval) for each of these, the parts and the total.
    """

    design: str
    variance_operator: float
    variance_part: float
    variance_interaction: float | None
    variance_repeatability: float
    variance_reproducibility: float
    variance_gauge: float
    variance_total: float
    components: tuple[tuple[str, Component], ...]
    table: tuple[AnovaLine, ...]
    grand_mean: float
    n_operators: int
    n_parts: int
    n: int
    confidence: float
    method: str

    @property
    def percent_study_variation(self) -> float:
        """Gauge standard deviation in percent of the total standard deviation."""
        return 100 * math.sqrt(self.variance_gauge / self.variance_total)

    @property
    def percent_contribution(self) -> float:
        """Gauge variance in percent of the total variance."""
        return 100 * self.variance_gauge / self.variance_total

    @property
    def distinct_categories(self) -> int | None:
        """Classes of parts the gauge can tell apart: sqrt(2) part sd / gauge sd, cut to a whole number of 1 or more.

        None where the gauge shows no variance at all. Common practice, no source.
        """
        if self.variance_gauge == 0:
            return None
        return max(int(math.sqrt(2 * self.variance_part / self.variance_gauge)), 1)

    def percent_tolerance(self, tolerance: float, *, sd_multiple: float = 6.0) -> float:
        """`sd_multiple` gauge standard deviations in percent of the tolerance (upper less lower limit, above 0)."""
        settle_positive("tolerance", tolerance)
        settle_positive("sd_multiple", sd_multiple)
        return 100 * sd_multiple * math.sqrt(self.variance_gauge) / tolerance

    def expanded_uncertainty(self, *, coverage_factor: float) -> float:
        """Coverage factor times the gauge standard deviation: what repeats and operators add, not the calibration."""
        return settle_positive("coverage_factor", coverage_factor) * math.sqrt(self.variance_gauge)


def crossed_gauge(
    values: ArrayLike, *, part: Labels, operator: Labels, confidence: float = 0.95, with_interaction: bool = True
) -> GaugeStudy:
    """Every operator measures every part equally often, at least twice: two-way random model with interaction.

    Args:
        values: shape (n,), finite. part, operator: n labels each; 2 or more parts and operators, no cell missing.
        confidence: of each interval; the estimates do not depend on it.
        with_interaction: False puts the interaction into repeatability; to be declared beforehand, never by looking.
    Returns: operator and part are tested against the interaction (against the error without interaction). Intervals by
        the modified large sample method, exact for repeatability.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies, 2005. Checked: Cano, Moguerza and
    Redchuk 2012, chapter 5; coverage by simulation.
    """
    sample, codes = settle_labels(values, part=part, operator=operator)
    cells = _balanced_cells(sample, codes["part"], codes["operator"], least=2 if with_interaction else 1)
    p, o, r = cells.shape
    centered = cells - cells.mean()
    by_part, by_operator, by_cell = centered.mean(axis=(1, 2)), centered.mean(axis=(0, 2)), centered.mean(axis=2)
    ss_interaction = r * float(np.sum((by_cell - by_part[:, None] - by_operator) ** 2))
    squares = {
        "operator": (p * r * float(by_operator @ by_operator), o - 1),
        "part": (o * r * float(by_part @ by_part), p - 1),
        "interaction": (ss_interaction, (p - 1) * (o - 1)),
        "repeatability": (float(np.sum((centered - by_cell[:, :, None]) ** 2)), p * o * (r - 1)),
    }
    against = "interaction"
    if not with_interaction:
        pooled, pooled_df = squares.pop("interaction")
        ss_error, df_error = squares["repeatability"]
        squares["repeatability"] = (ss_error + pooled, df_error + pooled_df)
        against = "repeatability"
    estimators = {
        "operator": {"operator": 1 / (p * r), against: -1 / (p * r)},
        "part": {"part": 1 / (o * r), against: -1 / (o * r)},
    }
    if with_interaction:
        estimators["interaction"] = {"interaction": 1 / r, "repeatability": -1 / r}
    tested = {"operator": against, "part": against, "interaction": "repeatability"}
    return _study("crossed", sample, squares, estimators, tested, n_operators=o, n_parts=p, confidence=confidence)


def nested_gauge(values: ArrayLike, *, part: Labels, operator: Labels, confidence: float = 0.95) -> GaugeStudy:
    """Each part is measured by one operator only, as where the test destroys it: parts within operators.

    Args:
        values: shape (n,), finite. part, operator: n labels each; 2 operators or more, one of them with 2 parts or
            more, a part measured twice or more (a part here is a batch of pieces alike enough to stand for one
            another). The same part label under two operators means two parts. Unequal numbers are allowed.
        confidence: of each interval; the estimates do not depend on it.
    Returns: operator is tested against part. Intervals by the modified large sample method, exact for repeatability,
        approximate where the numbers are unequal; so is then the test of the operator.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: expected mean squares of unbalanced nested data: Searle, Casella and McCulloch, Variance Components, 1992,
    appendix F (from memory). Checked: R 4.2.2 on balanced data; the coverage of these intervals was not simulated.
    """
    sample, codes = settle_labels(values, part=list(zip(operator, part, strict=False)), operator=operator)
    parts, operators = codes["part"], codes["operator"]
    of_part = np.zeros(parts.max() + 1, dtype=np.intp)
    of_part[parts] = operators
    sizes, operator_sizes = np.bincount(parts).astype(float), np.bincount(operators).astype(float)
    n, b, a = sample.size, sizes.size, operator_sizes.size
    if a < 2 or b == a or n == b:
        raise ValueError(
            "a nested study needs 2 operators, one of them with 2 parts, and a part measured twice; "
            f"got {n} values of {b} parts of {a} operators"
        )
    centered = sample - sample.mean()
    part_means, operator_means = np.bincount(parts, centered) / sizes, np.bincount(operators, centered) / operator_sizes
    squares = {
        "operator": (float(operator_sizes @ operator_means**2), a - 1),
        "part": (float(sizes @ (part_means - operator_means[of_part]) ** 2), b - a),
        "repeatability": (float(np.sum((centered - part_means[parts]) ** 2)), n - b),
    }
    # Coefficients of the part and operator variances in the expected mean squares; k1 = k2 in a balanced study.
    shared = float(np.sum(np.bincount(of_part, sizes**2) / operator_sizes))
    k1 = (n - shared) / (b - a)
    k2 = (shared - float(sizes @ sizes) / n) / (a - 1)
    k3 = (n - float(operator_sizes @ operator_sizes) / n) / (a - 1)
    estimators = {
        "operator": {"operator": 1 / k3, "part": -k2 / (k1 * k3), "repeatability": (k2 / k1 - 1) / k3},
        "part": {"part": 1 / k1, "repeatability": -1 / k1},
    }
    tested = {"operator": "part", "part": "repeatability"}
    return _study("nested", sample, squares, estimators, tested, n_operators=a, n_parts=b, confidence=confidence)


def _study(
    design: str,
    sample: FloatArray,
    squares: dict[str, tuple[float, int]],
    estimators: dict[str, dict[str, float]],
    tested: dict[str, str],
    *,
    n_operators: int,
    n_parts: int,
    confidence: float,
) -> GaugeStudy:
    """The study from sums of squares with degrees of freedom, each variance being a combination of mean squares."""
    settle_fraction("confidence", confidence)
    mean_squares = {source: MeanSquare(total / df, df) for source, (total, df) in squares.items()}
    table = tuple(
        anova_line(source, total, df, mean_squares.get(tested.get(source, "")))
        for source, (total, df) in squares.items()
    )
    components = _components({**estimators, "repeatability": {"repeatability": 1.0}}, mean_squares, confidence)
    if components["total"].variance == 0:
        raise ValueError(f"values: all {sample.size} are {float(sample[0])!r}; a gauge study needs values that differ")
    return GaugeStudy(
        design=design,
        variance_operator=components["operator"].variance,
        variance_part=components["part"].variance,
        variance_interaction=components["interaction"].variance if "interaction" in components else None,
        variance_repeatability=components["repeatability"].variance,
        variance_reproducibility=components["reproducibility"].variance,
        variance_gauge=components["gauge"].variance,
        variance_total=components["total"].variance,
        components=tuple(components.items()),
        table=table,
        grand_mean=float(sample.mean()),
        n_operators=n_operators,
        n_parts=n_parts,
        n=sample.size,
        confidence=confidence,
        method="analysis of variance; negative estimates set to 0, nothing pooled; modified large sample intervals",
    )


def _components(
    estimators: Mapping[str, Mapping[str, float]], mean_squares: Mapping[str, MeanSquare], confidence: float
) -> dict[str, Component]:
    """Every single variance, then their sums."""
    reproducibility = [source for source in ("operator", "interaction") if source in estimators]
    added = {source: [source] for source in estimators} | {
        "reproducibility": reproducibility,
        "gauge": [*reproducibility, "repeatability"],
        "total": [*reproducibility, "repeatability", "part"],
    }
    return {
        name: combined([estimators[source] for source in sources], mean_squares, confidence=confidence)
        for name, sources in added.items()
    }


def _balanced_cells(sample: FloatArray, part: np.ndarray, operator: np.ndarray, *, least: int) -> FloatArray:
    """Values as an array of part, operator, repeat."""
    p, o = int(part.max()) + 1, int(operator.max()) + 1
    if p < 2 or o < 2:
        raise ValueError(f"a crossed study needs 2 parts and 2 operators or more; got {p} and {o}")
    counts = np.bincount(part * o + operator, minlength=p * o)
    if counts.min() != counts.max():
        raise ValueError(
            "a crossed study needs every operator to measure every part equally often; got between "
            f"{counts.min()} and {counts.max()} measurements of a part by an operator"
        )
    if counts[0] < least:
        raise ValueError(
            f"each operator must measure each part at least {least} times, or the interaction cannot be told from "
            f"repeatability; got {counts[0]}"
        )
    order = np.lexsort((operator, part))
    return sample[order].reshape(p, o, int(counts[0]))
