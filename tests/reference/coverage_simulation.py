"""How often each bound holds what it claims, by simulation with fixed seeds; writes coverage_simulation.md.

Run by hand (some ten minutes): python tests/reference/coverage_simulation.py. The slow tests run the same cases with
fewer samples and hold them to the table written here.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import special

from reportgen.stats import (
    achieved_reliability,
    attribute_reliability,
    between_lot_interval,
    box_cox_interval,
    censored_fit,
    common_sd_intervals,
    lognormal_interval,
    normal_interval,
    order_statistic_confidence,
    order_statistic_interval,
    weibull_interval,
)

TABLE = Path(__file__).with_suffix(".md")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """`holds(random)` draws one sample and says whether the bound kept its word; `kind` says what may be expected."""

    name: str
    nominal: float
    kind: str  # exact, conservative or approximate
    in_table: int
    in_tests: int
    holds: Callable[[np.random.Generator], bool]


def simulated(case: Case, samples: int) -> float:
    random = np.random.default_rng(zlib.crc32(case.name.encode()))
    return sum(case.holds(random) for _ in range(samples)) / samples


def standard_error(share: float, samples: int) -> float:
    # a share of 1 has been seen so far, not proved: count one more that failed
    share = min(share, samples / (samples + 1))
    return float(np.sqrt(share * (1 - share) / samples))


def keeps(interval, share_below: Callable[[float], float], coverage: float) -> bool:
    below = 0.0 if interval.lower is None else share_below(interval.lower)
    up_to = 1.0 if interval.upper is None else share_below(interval.upper)
    return bool(up_to - below >= coverage)


def one_sample(name, method, draw, share_below, *, n, confidence, coverage, side, kind, in_table, in_tests):
    def holds(random):
        interval = method(draw(random, n), confidence=confidence, coverage=coverage, side=side)
        return keeps(interval, share_below, coverage)

    level = f"{100 * confidence:g}/{100 * coverage:g}"
    return Case(
        name=f"{name}, n = {n}, {side}, {level}",
        nominal=confidence,
        kind=kind,
        in_table=in_table,
        in_tests=in_tests,
        holds=holds,
    )


def normal_draw(random, n):
    return 50 + 4 * random.standard_normal(n)


def normal_share(x):
    return float(special.ndtr((x - 50) / 4))


def lognormal_draw(random, n):
    return np.exp(2 + 0.5 * random.standard_normal(n))


def lognormal_share(x):
    return float(special.ndtr((np.log(x) - 2) / 0.5)) if x > 0 else 0.0


def weibull_draw(random, n):
    return 30 * random.weibull(3.0, n)


def weibull_share(x):
    return float(-np.expm1(-((x / 30) ** 3)))


def exponential_draw(random, n):
    return random.exponential(10.0, n)


def exponential_share(x):
    return float(-np.expm1(-x / 10))


def between_lots(sizes, share_between, *, side, confidence=0.95, coverage=0.9):
    def holds(random):
        lots = [
            np.sqrt(share_between) * random.standard_normal()
            + np.sqrt(1 - share_between) * random.standard_normal(size)
            for size in sizes
        ]
        interval = between_lot_interval(lots, confidence=confidence, coverage=coverage, side=side)
        return keeps(interval, lambda x: float(special.ndtr(x)), coverage)

    level = f"{100 * confidence:g}/{100 * coverage:g}"
    lots = f"{len(sizes)} lots of {sizes[0]}" if len(set(sizes)) == 1 else f"lots of {', '.join(map(str, sizes))}"
    return Case(
        name=f"between lots, {lots}, {100 * share_between:g} % of the variance between, {side}, {level}",
        nominal=confidence,
        kind="conservative",
        in_table=1500,
        in_tests=120,
        holds=holds,
    )


def censored(distribution, draw, share_below, stop, *, n=20, confidence=0.95, p=0.1):
    def holds(random):
        while True:
            values = draw(random, n)
            is_stopped = values > stop
            if np.sum(~is_stopped) >= 2:  # with fewer the fit refuses, and makes no claim
                break
        fit = censored_fit(np.minimum(values, stop), is_stopped, distribution=distribution)
        return share_below(fit.lower_bound(p, confidence=confidence)) <= p

    return Case(
        name=f"likelihood ratio, {distribution}, n = {n}, {100 * (1 - share_below(stop)):.0f} % suspended, "
        f"lower, {100 * confidence:g}/{100 * (1 - p):g}",
        nominal=confidence,
        kind="approximate",
        in_table=2000,
        in_tests=200,
        holds=holds,
    )


def common_sd(random):
    lots = [mean + random.standard_normal(4) for mean in (10.0, 12.0, 30.0)]
    interval = common_sd_intervals(lots, confidence=0.95, coverage=0.9, side="both")[0]
    return keeps(interval, lambda x: float(special.ndtr(x - 10.0)), 0.9)


def reliability_claim(random):
    values = normal_draw(random, 12)
    reliability = achieved_reliability(
        12, float(np.mean(values)), float(np.std(values, ddof=1)), confidence=0.9, lower=42.0
    )
    return reliability <= 1 - normal_share(42.0)


def attribute_claim(random):
    return attribute_reliability(40, int(random.binomial(40, 0.06)), confidence=0.9) <= 0.94


def claim(name, kind, nominal, holds):
    return Case(name=name, nominal=nominal, kind=kind, in_table=4000, in_tests=400, holds=holds)


def cases() -> tuple[Case, ...]:
    exact = {"kind": "exact", "in_table": 10_000, "in_tests": 2000}
    slower = exact | {"in_table": 4000, "in_tests": 400}
    safe = slower | {"kind": "conservative"}
    rough = slower | {"kind": "approximate"}
    nine = {"confidence": 0.95, "coverage": 0.9}
    order_59 = order_statistic_confidence(60, coverage=0.95, side="lower")
    order_100 = order_statistic_confidence(100, coverage=0.9, order=2, side="both")
    return (
        one_sample("normal", normal_interval, normal_draw, normal_share, n=5, side="lower", **nine, **exact),
        one_sample(
            "normal",
            normal_interval,
            normal_draw,
            normal_share,
            n=30,
            side="upper",
            confidence=0.9,
            coverage=0.99,
            **exact,
        ),
        one_sample("normal", normal_interval, normal_draw, normal_share, n=10, side="both", **nine, **exact),
        claim("normal with a common sd, first of 3 lots of 4, both, 95/90", "exact", 0.95, common_sd),
        claim("achieved reliability, n = 12, lower limit, 90 % confidence", "exact", 0.9, reliability_claim),
        one_sample(
            "lognormal", lognormal_interval, lognormal_draw, lognormal_share, n=12, side="lower", **nine, **exact
        ),
        one_sample("Weibull", weibull_interval, weibull_draw, weibull_share, n=20, side="lower", **nine, **slower),
        one_sample("Weibull", weibull_interval, weibull_draw, weibull_share, n=5, side="upper", **nine, **slower),
        one_sample("Weibull", weibull_interval, weibull_draw, weibull_share, n=10, side="both", **nine, **safe),
        one_sample(
            "Box-Cox, normal values", box_cox_interval, normal_draw, normal_share, n=15, side="lower", **nine, **rough
        ),
        one_sample(
            "Box-Cox, normal values", box_cox_interval, normal_draw, normal_share, n=60, side="lower", **nine, **rough
        ),
        one_sample(
            "Box-Cox, lognormal values",
            box_cox_interval,
            lognormal_draw,
            lognormal_share,
            n=30,
            side="lower",
            **nine,
            **rough,
        ),
        one_sample(
            f"order statistics (achieved {order_59:.4f}), exponential values",
            order_statistic_interval,
            exponential_draw,
            exponential_share,
            n=60,
            side="lower",
            confidence=0.95,
            coverage=0.95,
            **(exact | {"kind": "conservative"}),
        ),
        one_sample(
            f"order statistics (achieved {order_100:.4f}), exponential values",
            order_statistic_interval,
            exponential_draw,
            exponential_share,
            n=100,
            side="both",
            **nine,
            **(exact | {"kind": "conservative"}),
        ),
        claim(
            "binomial lower bound, n = 40, true reliability 0.94, 90 % confidence", "conservative", 0.9, attribute_claim
        ),
        between_lots((6, 6, 6), 0.0, side="lower"),
        between_lots((6, 6, 6), 0.3, side="lower"),
        between_lots((6, 6, 6), 0.8, side="lower"),
        between_lots((10, 10, 10, 10, 10), 0.1, side="lower"),
        between_lots((3, 5, 12), 0.0, side="lower"),
        between_lots((3, 5, 12), 0.3, side="lower"),
        between_lots((2, 2, 2, 20), 0.1, side="lower"),
        between_lots((2, 3, 4, 6, 15), 0.5, side="upper"),
        between_lots((4,) * 10, 0.2, side="lower"),
        between_lots((6, 6, 6), 0.3, side="both"),
        censored("normal", normal_draw, normal_share, 51.0),
        censored("lognormal", lognormal_draw, lognormal_share, 8.0),
        censored("weibull", weibull_draw, weibull_share, 28.0),
        censored("weibull", weibull_draw, weibull_share, 1000.0),
        censored("weibull", weibull_draw, weibull_share, 28.0, n=60),
    )


HEADER = """# Nominal and simulated confidence

How often a bound or interval held the share it claims (or a reliability claim was true), in samples drawn with fixed
seeds by `coverage_simulation.py`. "exact": the nominal confidence, up to simulation error. "conservative": at least it.
"approximate": the formula promises it only for large samples; the table says what it is.

| case | nominal | simulated | standard error | samples | kind |
|---|---|---|---|---|---|
"""


def main() -> None:
    lines = []
    for case in cases():
        share = simulated(case, case.in_table)
        error = standard_error(share, case.in_table)
        lines.append(
            f"| {case.name} | {case.nominal:g} | {share:.4f} | {error:.4f} | {case.in_table} | {case.kind} |\n"
        )
        print(lines[-1], end="", flush=True)
    TABLE.write_text(HEADER + "".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
