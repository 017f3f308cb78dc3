"""Numbers inside the sentences of an evaluation: the same decimals throughout, and never a print that flatters."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from reportgen.quantities import scale_between


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
    shown = 0
    while step < 1 and shown < 9:
        step *= 10
        shown += 1
    return shown


def shown(value: float, decimals: int) -> str:
    """`value` with so many decimals, halves to even on the decimal that names the float."""
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    return f"{rounded + 0:f}" if rounded == 0 else f"{rounded:f}"


def shown_lower(value: float, decimals: int) -> str:
    """A lower bound for print: rounded down, so that the print claims no more than was computed."""
    return f"{Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_FLOOR):f}"


def shown_upper(value: float, decimals: int) -> str:
    """An upper bound for print: rounded up, for the same reason."""
    return f"{Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_CEILING):f}"


def percent(fraction: float, *, decimals: int = 3) -> str:
    """A probability as per cent without trailing zeros: 0.95 -> '95 %'. Rounded down: a claim is never rounded up."""
    value = Decimal(repr(float(fraction))) * 100
    rounded = value.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_FLOOR)
    text = f"{rounded:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + " %"


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
