"""How many decimals an evaluation prints, and words that fit their number."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from reportgen.quantities import scale_between
from reportgen.rounding import towards
from reportgen.stats.records import Interval


def decimals_of(text: str) -> int:
    """Digits after the decimal sign of a number as filed; 0 for anything that is no plain number."""
    cleaned = text.strip().replace(",", ".")
    try:
        exponent = Decimal(cleaned).as_tuple().exponent
    except ArithmeticError:
        return 0
    return max(0, -exponent) if isinstance(exponent, int) else 0


def decimals_of_limit(limit: float) -> int:
    """Decimals of a limit: those of the shortest decimal that names it, trailing zeros not counted."""
    exponent = Decimal(repr(float(limit))).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def decimals_after_conversion(decimals: int, *, from_unit: str, to_unit: str) -> int:
    """Decimals that show, in the new unit, about the resolution that `decimals` show in the filed one."""
    if from_unit == to_unit or not from_unit or not to_unit:
        return decimals
    step = Fraction(1, 10**decimals) * scale_between(from_unit, to_unit)
    return decimals_of_step(float(step))


def decimals_of_step(step: float) -> int:
    """The fewest decimals, up to nine, that tell two readings one step apart from each other."""
    return next((shown for shown in range(9) if step * 10**shown > 1 - 1e-9), 9)


def which_value(interval: Interval) -> str:
    """Which readings a distribution-free bound is: ', the smallest of 33 values, with 96.9 % confidence'; else ''."""
    order = int(dict(interval.parameters).get("order", 0))
    if not order or interval.achieved_confidence is None:
        return ""
    place = "" if order == 1 else f"{_ordinal(order)} "
    ends = [
        f"{place}{end}"
        for end, value in (("smallest", interval.lower), ("largest", interval.upper))
        if value is not None
    ]
    confidence = towards(100 * interval.achieved_confidence, 1, "down")
    return f", the {' and the '.join(ends)} of {interval.n} values, with {confidence} % confidence"


def _ordinal(number: int) -> str:
    """'2nd', '11th', '23rd'."""
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def counted(count: int, singular: str, plural: str | None = None) -> str:
    """'1 specimen', '2 specimens'."""
    return f"{count} {singular if count == 1 else (plural or singular + 's')}"


def listed(names: Sequence[str], *, most: int = 6) -> str:
    """'A', 'A and B', 'A, B and C'; a long list is cut with the number left out."""
    if len(names) > most:
        return ", ".join(names[:most]) + f" and {len(names) - most} more"
    if len(names) <= 1:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"


def new_sample(n: int, *, provided: str) -> str:
    """How many specimens would do, said so that nobody tops up a sample whose results are known.

    A sample that is enlarged because of what it showed is a plan in two stages, without the confidence of one.
    """
    return (
        f"a new sample of {counted(n, 'specimen')}, tested under a new protocol approved beforehand, would "
        f"demonstrate it {provided}; specimens must not be added to this sample: its results are known, and the "
        "confidence claimed would no longer hold"
    )
