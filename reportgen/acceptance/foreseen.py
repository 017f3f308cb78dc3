"""The checks of all samples of a project, worked out together before each is judged: that takes a tenth of the time.

They are found again by the values they were made of, so that a sample nobody foresaw (a lot judged on its own, the
analysis with specimens that were set aside) is worked out by itself and never gets the answer of another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar

import numpy as np

from reportgen.acceptance.approaches import Claim, Moments, moments_of
from reportgen.stats import (
    anderson_darling,
    anderson_darlings,
    maximum_normed_residual,
    maximum_normed_residuals,
    one_sided_reliabilities,
    shapiro_wilk,
    shapiro_wilks,
    von_neumann_ratio,
    von_neumann_ratios,
)
from reportgen.stats.records import Check, OutlierCheck
from reportgen.stats.rows import in_rows

_Answer = TypeVar("_Answer", Check, OutlierCheck)
_TELLS_NOTHING = 2  # a lot of so many has one difference, whose size says nothing of order
_LEAST_N = 4  # what all of the checks can hold


@dataclass(frozen=True)
class InOrder:
    """Values lot after lot, each in the order tested; `sizes` tells how many each lot has.

    Without slots, so that what is asked twice is found once.
    """

    values: np.ndarray
    sizes: tuple[int, ...]

    @property
    def free(self) -> int:
        """How many deviations from the means of the lots are free."""
        return int(self.values.size) - len(self.sizes)

    @cached_property
    def can_be_checked(self) -> bool:
        """Whether there are enough values, and some that differ within their lot."""
        if self.values.size < _LEAST_N or self.free < _LEAST_N - 1 or max(self.sizes) <= _TELLS_NOTHING:
            return False
        steps = self.values[1:] != self.values[:-1]
        steps[np.cumsum(self.sizes[:-1], dtype=int) - 1] = False
        return bool(steps.any())

    @cached_property
    def key(self) -> tuple[bytes, tuple[int, ...]]:
        return self.values.tobytes(), self.sizes


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Answers by the bytes of the values, for outliers by their level too."""

    orders: Mapping[tuple[bytes, tuple[int, ...]], Check] = field(default_factory=dict)
    andersons: Mapping[bytes, Check] = field(default_factory=dict)
    shapiros: Mapping[bytes, Check] = field(default_factory=dict)
    outliers: Mapping[tuple[bytes, float], OutlierCheck] = field(default_factory=dict)
    summaries: Mapping[bytes, Moments] = field(default_factory=dict)
    reliabilities: Mapping[tuple[Moments, Claim], float] = field(default_factory=dict)

    def moments(self, values: np.ndarray) -> Moments:
        return self.summaries.get(values.tobytes()) or moments_of(values)

    def von_neumann_ratio(self, ordered: InOrder) -> Check:
        return self.orders.get(ordered.key) or von_neumann_ratio(ordered.values, sizes=ordered.sizes)

    def anderson_darling(self, values: np.ndarray) -> Check:
        return self.andersons.get(values.tobytes()) or anderson_darling(values)

    def shapiro_wilk(self, values: np.ndarray) -> Check:
        return self.shapiros.get(values.tobytes()) or shapiro_wilk(values)

    def maximum_normed_residual(self, values: np.ndarray, *, alpha: float) -> OutlierCheck:
        found = self.outliers.get((values.tobytes(), alpha))
        return found or maximum_normed_residual(values, alpha=alpha)


def foresee(
    orders: Iterable[InOrder],
    samples: Iterable[np.ndarray],
    outlier_alphas: Iterable[float],
    summarised: Iterable[np.ndarray],
    claimed: Iterable[tuple[np.ndarray, Claim]],
) -> Foreseen:
    """Args:
    orders: in the order tested. samples: as looked at for normality and outliers, each with its level. summarised:
        whatever else needs mean and standard deviation. claimed: samples that are taken as normal, each with the
        claim that is held against it; those of two limits are left for later.
    """
    ordered = [one for one in orders if one.can_be_checked]
    checked = von_neumann_ratios([one.values for one in ordered], sizes=[one.sizes for one in ordered])
    looked_at = [
        (values, alpha) for values, alpha in zip(samples, outlier_alphas, strict=True) if _can_be_checked(values)
    ]
    values = [sample for sample, _ in looked_at]
    outliers: dict[tuple[bytes, float], OutlierCheck] = {}
    for alpha in sorted({alpha for _, alpha in looked_at}):
        own = [sample for sample, level in looked_at if level == alpha]
        found = maximum_normed_residuals(own, alpha=alpha)
        outliers.update(((sample.tobytes(), alpha), check) for sample, check in zip(own, found, strict=True))
    summaries = _summaries({one.tobytes(): one for one in (*values, *summarised) if one.size > 1})
    return Foreseen(
        orders={one.key: check for one, check in zip(ordered, checked, strict=True)},
        andersons=_by_values(values, anderson_darlings),
        shapiros=_by_values([sample for sample in values if sample.size <= 5000], shapiro_wilks),
        outliers=outliers,
        summaries=summaries,
        reliabilities=_reliabilities((summaries.get(sample.tobytes()), claim) for sample, claim in claimed),
    )


def _reliabilities(claimed: Iterable[tuple[Moments | None, Claim]]) -> dict[tuple[Moments, Claim], float]:
    known = {
        (moments, claim): (
            moments.mean - claim.lower if claim.lower is not None else (claim.upper or 0.0) - moments.mean
        )
        / (moments.sd or 1.0)
        for moments, claim in claimed
        if moments is not None and moments.have_spread and claim.side != "both"
    }
    sizes = [moments.n for moments, _ in known]
    found = one_sided_reliabilities(sizes, [*known.values()], confidence=[claim.confidence for _, claim in known])
    return dict(zip(known, found.tolist(), strict=True))


def _summaries(samples: Mapping[bytes, np.ndarray]) -> dict[bytes, Moments]:
    means = in_rows(list(samples.values()), lambda rows: rows.mean(axis=1))
    sds = in_rows(list(samples.values()), lambda rows: rows.std(axis=1, ddof=1))
    return {key: Moments(n=n, mean=mean, sd=sd) for key, (mean, n), (sd, _) in zip(samples, means, sds, strict=True)}


def _by_values(
    samples: Sequence[np.ndarray], check: Callable[[Sequence[np.ndarray]], tuple[_Answer, ...]]
) -> dict[bytes, _Answer]:
    return {sample.tobytes(): answer for sample, answer in zip(samples, check(samples), strict=True)}


def _can_be_checked(values: np.ndarray) -> bool:
    return values.size >= _LEAST_N and not (values == values[0]).all()
