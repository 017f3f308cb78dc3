"""Published approximations of tolerance factors: to cross-check the exact ones in a spreadsheet, never to judge by."""

from __future__ import annotations

import math

from scipy.special import chdtri, ndtri

from reportgen.stats.arguments import settle_count, settle_fraction


def natrella_one_sided_factor(n: int, *, confidence: float, coverage: float) -> float | None:
    """Natrella's closed approximation of the one-sided normal factor; None where it has no real answer (small n).

    Raises: ValueError naming the argument, its value and the permitted range.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.6.3. Checked: 1.8752 for n = 43 and 5.2808 for
        n = 6 (exact: 1.8740 and 4.4111), confidence 0.99, coverage 0.90.
    """
    count = settle_count("n", n, minimum=2)
    z_confidence = float(ndtri(settle_fraction("confidence", confidence)))
    z_coverage = float(ndtri(settle_fraction("coverage", coverage)))
    a = 1.0 - z_confidence**2 / (2.0 * (count - 1))
    b = z_coverage**2 - z_confidence**2 / count
    inside = z_coverage**2 - a * b
    if a <= 0.0 or inside < 0.0:
        return None
    return (z_coverage + math.sqrt(inside)) / a


def howe_two_sided_factor(n: int, *, confidence: float, coverage: float) -> float:
    """Howe's approximation of the two-sided normal factor.

    Raises: ValueError naming the argument, its value and the permitted range.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.6.3. Checked: 2.217 for n = 43, confidence
        0.99, coverage 0.90 (exact: 2.2228), and 48 values of R (tests/reference/normal_two_sided_k.csv, k_howe).
    """
    count = settle_count("n", n, minimum=2)
    z = float(ndtri((1.0 + settle_fraction("coverage", coverage)) / 2.0))
    # chdtri takes the upper tail: the point that chi-square exceeds with probability `confidence`
    quantile = float(chdtri(count - 1, settle_fraction("confidence", confidence)))
    return z * math.sqrt((count - 1) * (1.0 + 1.0 / count) / quantile)
