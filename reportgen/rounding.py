"""The only rounding for print: one stated rule, so that two documents never print one number in two ways.

Every number is rounded on the shortest decimal that names the stored one (what the lab wrote, not the binary
neighbour of it), after its 15th significant digit and what follows, where binary arithmetic leaves its noise, are
rounded away: 6.6 - 0.1825 is stored as 6.4174999999999995, and is midway. Readings and statistics go half to even.
Bounds, demonstrated reliabilities and margins go towards the side that claims less, so that a bound which misses its
limit never prints as if it met it; where a printed figure would still stand on the other side of its limit than the
exact one, decimals are added until it does not.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from functools import lru_cache
from typing import Literal

Direction = Literal["down", "up"]

_RELIABILITIES = (
    "Demonstrated reliabilities and attained confidences are rounded down, to one decimal of a percent or to two "
    "digits of what they lack to 100 %, whichever is finer; above 99.9999 % they are printed as > 99.9999 %. "
    "Where a printed figure would fall on the other side of its limit than the exact one, decimals are added."
)
_RULE = (
    "Numbers are rounded for print only; every comparison uses the unrounded values{unless}. Single readings and "
    "extremes are printed with the decimals of the finest filed value, converted ones with as many as its last digit "
    "is worth; means and standard deviations carry {extra} more than the finer of limit and data, the data counted no "
    "finer than the equipment resolves. All of these are rounded to the nearest digit, and from midway to the even "
    "one. Tolerance bounds and margins carry the same number of decimals and are rounded toward the side that claims "
    "less: a lower bound down, an upper bound up; a distribution-free bound is itself a reading, so that it and its "
    "margin carry no more decimals than limit and data, and a margin in standard deviations has two decimals, rounded "
    "likewise. {reliabilities} Tolerance factors and the statistics of checks are printed with three decimals, "
    "p-values with three, or as < 0.001 or > 0.999."
)

MINUS = "−"
MOST_DECIMALS = 15
_DIRECTIONS = {"down": ROUND_FLOOR, "up": ROUND_CEILING}
# A difference such as 12.3 - 10 is stored as 2.3000000000000007: ten significant digits swallow that noise before a
# directed rounding would turn it into a whole unit of the last place.
_NOISE_FREE = Context(prec=10, rounding=ROUND_HALF_EVEN)
# Rounding to nearest needs less: whether a number is midway is told by the digits that binary arithmetic keeps.
_KEPT_DIGITS = Context(prec=14, rounding=ROUND_HALF_EVEN)


_UNLESS = " unless the analysis plan declares a rounding method"


def rule_sentence(extra_decimals: int, *, always_unrounded: bool = False) -> str:
    """The rule as every document states it.

    always_unrounded: whether no plan that the document speaks of compares rounded values.
    """
    words = {0: "no decimal", 1: "one decimal", 2: "two decimals", 3: "three decimals"}
    extra = words.get(extra_decimals, f"{extra_decimals} decimals")
    unless = "" if always_unrounded else _UNLESS
    return _RULE.format(extra=extra, reliabilities=_RELIABILITIES, unless=unless)


def rule_for_counts() -> str:
    """As much of the rule as a test needs that counts what conforms."""
    return f"Numbers are rounded for print only; every comparison uses the unrounded values. {_RELIABILITIES}"


def plain(value: float) -> str:
    """The shortest decimal that names the number, without exponent or trailing zeros: 95.0 -> '95'."""
    return _signed(f"{_exact(value).normalize():f}")


def nearest(value: float, decimals: int) -> str:
    """Half to even at so many decimals."""
    return _text(_KEPT_DIGITS.create_decimal(_exact(value)), decimals, ROUND_HALF_EVEN)


def towards(value: float, decimals: int, direction: Direction) -> str:
    """Down or up at so many decimals."""
    return _text(_NOISE_FREE.create_decimal(_exact(value)), decimals, _DIRECTIONS[direction])


def reading(value: float, decimals: int, *, lower: float | None = None, upper: float | None = None) -> str:
    """A single value or an extreme: to nearest, yet on its own side of the limits."""
    return _on_its_side(value, decimals, lower, upper, lambda places: nearest(value, places))


def bound(value: float, decimals: int, *, side: Literal["lower", "upper"], limit: float | None) -> str:
    """A tolerance bound, rounded to the side that claims less, and on its own side of the limit."""
    direction: Direction = "down" if side == "lower" else "up"
    lower, upper = (limit, None) if side == "lower" else (None, limit)
    return _on_its_side(value, decimals, lower, upper, lambda places: towards(value, places, direction))


def limit(value: float, decimals: int) -> str:
    """A limit as it was set: never fewer decimals than it needs, padded to `decimals`."""
    exponent = _exact(value).normalize().as_tuple().exponent
    needed = max(0, -exponent) if isinstance(exponent, int) else 0
    return nearest(value, max(decimals, needed))


def factor(value: float) -> str:
    """A tolerance factor: three decimals."""
    return nearest(value, 3)


def p_value(value: float, *, alpha: float | None = None) -> str:
    """Three decimals, '< 0.001' or '> 0.999'; more where the print would be on the other side of the level."""
    if value < 0.001:
        return "< 0.001"
    if value >= 0.9995:
        # it would print as 1.000, and no sample is certain to agree
        return "> 0.999"
    return _on_its_side(value, 3, alpha, None, lambda places: nearest(value, places))


@lru_cache(maxsize=256)  # a plan states few of them, and says them over and over
def percent(fraction: float) -> str:
    """A stated probability, all of its digits: 0.95 -> '95 %'."""
    return f"{_signed(f'{(_exact(fraction) * 100).normalize():f}')} %"


def demonstrated(fraction: float, *, required: float | None) -> str:
    """A demonstrated probability in per cent, rounded down: one decimal, or two digits of what is missing to 100 %."""
    if fraction >= 1 - 1e-6:
        return "> 99.9999 %"
    if fraction <= 0:
        return "0 %"
    missing_percent = 100 * (1 - fraction)
    decimals = max(1, 1 - math.floor(math.log10(missing_percent)))
    per_cent = float(_exact(fraction) * 100)
    required_percent = None if required is None else float(_exact(required) * 100)
    text = _on_its_side(per_cent, decimals, required_percent, None, lambda places: towards(per_cent, places, "down"))
    return f"{text} %"


def significant(value: float, digits: int = 4) -> str:
    """So many significant digits, for a statistic that has no unit of its own."""
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return nearest(value, min(decimals, MOST_DECIMALS))


def parsed(text: str) -> Decimal:
    """The number that a printed text shows (its minus sign is a real one). Raises: ValueError naming the text."""
    try:
        return Decimal(text.replace(MINUS, "-"))
    except ArithmeticError:
        raise ValueError(f"{text!r} is no printed number") from None


def _exact(value: float) -> Decimal:
    if not math.isfinite(value):
        raise ValueError(f"only a finite number can be printed, not {value!r}")
    return Decimal(repr(float(value)))


def _text(value: Decimal, decimals: int, rounding: str) -> str:
    rounded = value.quantize(Decimal(1).scaleb(-decimals), rounding=rounding, context=Context(prec=60))
    return _signed(f"{abs(rounded) if rounded == 0 else rounded:f}")


def _signed(text: str) -> str:
    return text.replace("-", MINUS)


def _on_its_side(
    value: float, decimals: int, lower: float | None, upper: float | None, printed: Callable[[int], str]
) -> str:
    for places in range(decimals, MOST_DECIMALS):
        text = printed(places)
        shown = parsed(text)
        agrees_below = lower is None or (shown >= _exact(lower)) == (value >= lower)
        agrees_above = upper is None or (shown <= _exact(upper)) == (value <= upper)
        if agrees_below and agrees_above:
            return text
    return _signed(f"{_exact(value):f}")
