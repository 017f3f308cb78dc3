"""Writes tolerance_factors_20_digits.csv: corners of the range, by mpmath, sharing no code with it.

Run by hand (about half an hour): python tests/reference/tolerance_factors_20_digits.py. Start values are rough
(one-sided: the library's noncentral t; two-sided: Howe's approximation); each factor is refined until the confidence
integral at 22 digits is met within 1e-18.
"""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import mpmath as mp
from scipy import special

mp.mp.dps = 22
SIZES = (2, 10, 10_000)
CONFIDENCES = ("0.5", "0.95", "0.9999")
COVERAGES = ("0.5", "0.999", "0.99999")


def quantile(p):
    return mp.sqrt(2) * mp.erfinv(2 * p - 1)


def survival_of_sd(df, ratio):
    """P(s > ratio sigma) for a standard deviation with df degrees of freedom."""
    shape, x = mp.mpf(df) / 2, df * ratio**2 / 2
    if x > shape + 25 * mp.sqrt(shape) + 100:  # below 1e-40
        return mp.mpf(0)
    return 1 - mp.gammainc(shape, 0, x, regularized=True)


def one_sided_confidence(n, k, coverage):
    z, root_n = quantile(coverage), mp.sqrt(n)
    # beyond low the needed sd is negative, so any sd will do
    low = max(-z * root_n, mp.mpf(-12))
    points = [low, *(mp.mpf(x) for x in range(-11, 13) if x > low)]
    body = mp.quad(lambda u: mp.npdf(u) * survival_of_sd(n - 1, (z + u / root_n) / k), points)
    return body + mp.ncdf(low)


def two_sided_confidence(n, k, coverage):
    root_n = mp.sqrt(n)

    def needed(x):
        start = max(quantile((1 + coverage) / 2), x + quantile(coverage))
        return mp.findroot(lambda r: mp.log(mp.ncdf(x - r) + mp.ncdf(-x - r)) - mp.log(1 - coverage), start)

    return 2 * mp.quad(
        lambda u: mp.npdf(u) * survival_of_sd(n - 1, needed(u / root_n) / k), [mp.mpf(x) for x in range(13)]
    )


def refine(confidence_at, k, confidence):
    other = k * (1 + mp.mpf(10) ** -6)
    at_k, at_other = confidence_at(k) - confidence, confidence_at(other) - confidence
    for _ in range(12):
        k, other, at_other = k - at_k * (other - k) / (at_other - at_k), k, at_k
        at_k = confidence_at(k) - confidence
        if abs(at_k) < mp.mpf(10) ** -18:
            return k
    raise ArithmeticError(f"not settled: {k}, {at_k}")


def main():
    rows = []
    for n, confidence, coverage in itertools.product(SIZES, CONFIDENCES, COVERAGES):
        # mpf of the float: the question is the one that double precision can ask
        c, p = float(confidence), float(coverage)
        howe = -special.ndtri((1 - p) / 2) * ((n - 1) * (1 + 1 / n) / special.chdtri(n - 1, c)) ** 0.5
        start = special.nctdtrit(n - 1.0, n**0.5 * special.ndtri(p), c) / n**0.5
        if not (c == p == 0.5):  # the factor is 0 there
            k = refine(lambda k, n=n, p=p: one_sided_confidence(n, k, mp.mpf(p)), mp.mpf(float(start)), mp.mpf(c))
            rows.append(("one_sided", n, confidence, coverage, mp.nstr(k, 17)))
        k = refine(lambda k, n=n, p=p: two_sided_confidence(n, k, mp.mpf(p)), mp.mpf(float(howe)), mp.mpf(c))
        rows.append(("two_sided", n, confidence, coverage, mp.nstr(k, 17)))
    with Path(__file__).with_suffix(".csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("kind", "n", "confidence", "coverage", "k"))
        writer.writerows(rows)


if __name__ == "__main__":
    main()
