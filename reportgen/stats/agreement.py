"""Do people who judge the same items agree beyond chance? Kappa for visual and other attribute checks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from reportgen.stats.arguments import settle_fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Kappa: 1 is full agreement, 0 what chance alone gives; with the shares of agreement seen and expected by chance.

    `p_value` is one-sided, against no agreement beyond chance. The interval is None where no formula is established.
    """

    name: str
    kappa: float
    p_observed: float
    p_expected: float
    standard_error: float | None
    lower: float | None
    upper: float | None
    p_value: float
    confidence: float
    categories: tuple[object, ...]
    n_items: int
    n_raters: int


def cohen_kappa(first: Sequence[object], second: Sequence[object], *, confidence: float = 0.95) -> Agreement:
    """Agreement of two raters, or of one rater with the reference, on the same items.

    Args:
        first, second: n labels each, n >= 2, item by item; two or more different labels in all.
        confidence: of the interval; kappa does not depend on it.
    Returns: the interval is normal with the large-sample standard error, cut at 1: for 30 items or more.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Cohen 1960; Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323-327. Checked: statsmodels.
    """
    settle_fraction("confidence", confidence)
    if len(first) != len(second) or len(first) < 2:
        raise ValueError(
            f"first and second must judge the same items, 2 or more; got {len(first)} and {len(second)} labels"
        )
    categories = _categories([*first, *second])
    n = len(first)
    table = np.zeros((len(categories), len(categories)))
    np.add.at(table, ([categories[label] for label in first], [categories[label] for label in second]), 1 / n)
    rows, columns = table.sum(axis=1), table.sum(axis=0)
    observed, expected = float(np.trace(table)), float(rows @ columns)
    kappa = (observed - expected) / (1 - expected)
    # Row i and column j enter by column_i + row_j: the share of i among the other's labels, and of j among one's own.
    margins = columns[:, None] + rows[None, :]
    on = float(np.diag(table) @ (1 - np.diag(margins) * (1 - kappa)) ** 2)
    off = (1 - kappa) ** 2 * float(np.sum((table * margins**2)[~np.eye(len(categories), dtype=bool)]))
    variance = max(on + off - (kappa - expected * (1 - kappa)) ** 2, 0.0) / (n * (1 - expected) ** 2)
    error = math.sqrt(variance)
    by_chance = float(np.sum(rows * columns * (rows + columns)))
    null_error = math.sqrt(max(expected + expected**2 - by_chance, 0.0) / n) / (1 - expected)
    reach = float(ndtri((1 + confidence) / 2)) * error
    return Agreement(
        name="Cohen's kappa",
        kappa=kappa,
        p_observed=observed,
        p_expected=expected,
        standard_error=error,
        lower=kappa - reach,
        upper=min(kappa + reach, 1.0),
        # A rater with a single label leaves no room for agreement beyond chance; rounding leaves a trace of error.
        p_value=float(ndtr(-kappa / null_error)) if null_error > 1e-7 else 1.0,
        confidence=confidence,
        categories=tuple(categories),
        n_items=n,
        n_raters=2,
    )


def fleiss_kappa(ratings: Sequence[Sequence[object]], *, confidence: float = 0.95) -> Agreement:
    """Agreement of several raters, the same number on every item.

    Args:
        ratings: for each of 2 or more items the labels of its 2 or more raters, in any order.
        confidence: kept with the result; no interval is given, because none is established for small studies.
    Returns: `p_value` by the standard error under no agreement.
    Raises: ValueError naming the argument, its value and the permitted range.
    Source: Fleiss, Psychological Bulletin 76 (1971) 378-382; standard error: Fleiss, Nee and Landis, same journal, 86
    (1979) 974-977. Checked: Fleiss' layout of 10 items and 14 raters, statsmodels.
    """
    settle_fraction("confidence", confidence)
    sizes = {len(item) for item in ratings}
    if len(ratings) < 2 or len(sizes) != 1 or min(sizes) < 2:
        raise ValueError(
            "ratings must hold 2 items or more, each with the same number of labels, 2 or more; got "
            f"{len(ratings)} items with {sorted(sizes)!r} labels"
        )
    categories = _categories([label for item in ratings for label in item])
    n, raters = len(ratings), sizes.pop()
    counts = np.zeros((n, len(categories)))
    for position, item in enumerate(ratings):
        np.add.at(counts[position], [categories[label] for label in item], 1)
    shares = counts.sum(axis=0) / (n * raters)
    observed = float(np.mean((np.sum(counts**2, axis=1) - raters) / (raters * (raters - 1))))
    expected = float(shares @ shares)
    kappa = (observed - expected) / (1 - expected)
    spread = 1 - expected
    skewed = float(np.sum(shares * (1 - shares) * (1 - 2 * shares)))
    null_error = math.sqrt(2 * (spread**2 - skewed) / (n * raters * (raters - 1))) / spread
    return Agreement(
        name="Fleiss' kappa",
        kappa=kappa,
        p_observed=observed,
        p_expected=expected,
        standard_error=None,
        lower=None,
        upper=None,
        p_value=float(ndtr(-kappa / null_error)),
        confidence=confidence,
        categories=tuple(categories),
        n_items=n,
        n_raters=raters,
    )


def _categories(labels: Sequence[object]) -> dict[object, int]:
    order: dict[object, int] = {}
    for label in labels:
        order.setdefault(label, len(order))
    if len(order) < 2:
        raise ValueError(
            f"every label is {labels[0]!r}: agreement beyond chance can only be told where two different labels occur"
        )
    return order
