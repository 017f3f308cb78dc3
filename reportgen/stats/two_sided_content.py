"""How surely mean -/+ k sd of a sample holds a stated share of a normal population: the exact two-sided probability.

With x the distance of the sample mean from the true mean in true standard deviations, the interval holds the share
exactly when k s >= r(x), where Phi(x + r) - Phi(x - r) is that share. Averaging over x ~ N(0, 1/n) gives, for a
standard deviation with `df` degrees of freedom,

    P(too little) = 2 Int_0^inf phi(u) P(chi2_df < df r(u / sqrt(n))^2 / k^2) du

(Wald and Wolfowitz, Ann. Math. Stat. 17 (1946) 208-215; Odeh, Commun. Stat. Simul. Comput. 7 (1978) 183-201; also the
basis of ISO 16269-6:2014, Annex F). The integrand is smooth, so Gauss-Legendre nodes on 0..8.5 reach rounding error;
the part beyond 8.5 weighs 2e-17. Shares are carried as the part *outside*, which keeps its digits near full coverage.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from reportgen.stats.arguments import FloatArray

_UPPER_END = 8.5
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
_BISECTIONS = 60
_NEWTON_STEPS = 50
_SETTLED = 2e-8  # in log k; Newton squares it, so what is left after such a step is below 1e-15
_SETTLED_CUBIC = 5e-6  # Halley cubes it
_SQRT_2_PI = float(np.sqrt(2.0 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True)
class Nodes:
    """One row per factor: the weight of each node, and the half-width r needed there."""

    weight: FloatArray
    width: FloatArray


def half_width(offset: FloatArray, outside: FloatArray) -> FloatArray:
    """The r at which an interval of half-width r, `offset` away from the mean, leaves the share `outside` out.

    Halley's method on the logarithm of the share outside, which is concave in r, from a start just below the root.
    Both arguments broadcast; offset >= 0, 0 < outside < 1.
    """
    offset, outside = np.broadcast_arrays(offset, outside)
    width = np.maximum(-special.ndtri(outside / 2.0), offset - special.ndtri(outside))
    target = np.log(outside)
    for _ in range(_NEWTON_STEPS):
        near, far = width - offset, width + offset
        at_near, at_far = np.exp(-0.5 * near * near) / _SQRT_2_PI, np.exp(-0.5 * far * far) / _SQRT_2_PI
        share = special.ndtr(-near) + special.ndtr(-far)
        slope = -(at_near + at_far) / share
        bend = (near * at_near + far * at_far) / share - slope * slope
        gap = np.log(share) - target
        step = -gap * slope / (slope * slope - 0.5 * gap * bend)
        width = width + step
        if np.all(np.abs(step) <= _SETTLED_CUBIC * (1.0 + width)):
            return np.asarray(width)
    raise ArithmeticError(f"the half-width did not settle; largest last step {float(np.max(np.abs(step)))!r}")


def shortfall(k: FloatArray, *, df: FloatArray, nodes: Nodes) -> tuple[FloatArray, FloatArray]:
    """P(the interval holds less than its share), and minus its derivative with respect to log k."""
    shape = df[:, None] / 2.0
    y = shape * (nodes.width / k[:, None]) ** 2
    total = np.sum(nodes.weight * special.gammainc(shape, y), axis=1)
    slope = np.sum(nodes.weight * np.exp(shape * np.log(y) - y - special.gammaln(shape)), axis=1)
    return np.minimum(total, 1.0), 2.0 * slope


def nodes_for(k: FloatArray, *, n: FloatArray, df: FloatArray, outside: FloatArray, is_split: bool) -> Nodes:
    """Where to evaluate the integrand; `is_split` places the range's panels around its turn from 0 to 1 (see there)."""
    edges = _panels(k, n, df, outside) if is_split else np.array([[0.0], [_UPPER_END]]) * np.ones_like(k)
    half = (np.diff(edges, axis=0) / 2.0)[:, :, None]
    u = edges[:-1, :, None] + half * (_NODES + 1.0)
    u, weight = (np.concatenate(tuple(part), axis=1) for part in (u, half * _WEIGHTS * np.exp(-0.5 * u**2)))
    return Nodes(weight=2.0 / _SQRT_2_PI * weight, width=half_width(u / np.sqrt(n)[:, None], outside[:, None]))


def _panels(k: FloatArray, n: FloatArray, df: FloatArray, outside: FloatArray) -> FloatArray:
    """Edges 0, start of the turn, end of the turn, end of the range.

    The probability turns where r(u / sqrt(n)) = k, within 9 standard deviations of the estimated sd on either side.
    With many more degrees of freedom than n - 1, or a small share, that is too sharp for one set of nodes.
    """
    spread = 9.0 / np.sqrt(2.0 * df)
    turns = [_offset_of(k * factor, n, outside) for factor in (np.maximum(1.0 - spread, 0.0), 1.0 + spread)]
    return np.stack([np.zeros_like(k), turns[0], turns[1], np.full_like(k, _UPPER_END)])


def _offset_of(width: FloatArray, n: FloatArray, outside: FloatArray) -> FloatArray:
    """The u in 0..8.5 at which half_width(u / sqrt(n)) = width, by bisection; an end where there is none."""
    low, high = np.zeros_like(width), np.full_like(width, _UPPER_END)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        offset = middle / np.sqrt(n)
        is_enough = special.ndtr(offset - width) + special.ndtr(-offset - width) <= outside
        low, high = np.where(is_enough, middle, low), np.where(is_enough, high, middle)
    return np.asarray((low + high) / 2.0)


def solve_factor(
    *, n: FloatArray, df: FloatArray, unsure: FloatArray, outside: FloatArray, is_split: bool
) -> FloatArray:
    """The k at which the shortfall equals `unsure` = 1 - confidence; all arguments one-dimensional, of one length.

    Newton for the probit of the shortfall as a function of log k: nearly a straight line for large df, and gently
    curved for df = 1, where the shortfall falls like 1/k. The start is Howe's approximation (J. Am. Stat. Assoc. 64
    (1969) 610-620, the form printed in the NIST/SEMATECH e-Handbook, section 7.2.6.3), within a few per cent.
    """
    howe = -special.ndtri(outside / 2.0) * np.sqrt(df * (1.0 + 1.0 / n) / special.chdtri(df, 1.0 - unsure))
    log_k, target = np.log(howe), special.ndtri(unsure)
    todo = np.arange(howe.size)
    nodes = nodes_for(howe, n=n, df=df, outside=outside, is_split=is_split)
    for _ in range(_NEWTON_STEPS):
        k = np.exp(log_k[todo])
        if is_split:  # the turn moves with k
            nodes = nodes_for(k, n=n[todo], df=df[todo], outside=outside[todo], is_split=True)
        now, slope = shortfall(k, df=df[todo], nodes=nodes)
        probit = special.ndtri(now)
        step = np.clip((probit - target[todo]) * np.exp(-0.5 * probit**2) / (_SQRT_2_PI * slope), -1.0, 1.0)
        log_k[todo] += step
        is_open = np.abs(step) > _SETTLED
        todo, nodes = todo[is_open], Nodes(weight=nodes.weight[is_open], width=nodes.width[is_open])
        if not todo.size:
            return np.asarray(np.exp(log_k))
    first = int(todo[0])
    raise ArithmeticError(
        f"the two-sided factor did not settle for n={n[first]:g}, df={df[first]:g}, "
        f"confidence={1.0 - unsure[first]!r}, coverage={1.0 - outside[first]!r}"
    )
