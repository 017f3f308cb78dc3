"""Accepted units, their exact conversion, and the unit as filed.

A small table instead of a unit library: the units of bench testing are few, each factor below is exact by
definition, and conversion is done once in rational arithmetic, so that a value never picks up a rounding that the
lab did not write. (A general unit library costs more start-up time than the rest of the program.)
Sources: SI brochure (9th edition) for SI units and prefixes; NIST Special Publication 811 (2008), appendix B, for the
inch, the avoirdupois pound, standard gravity, the atmosphere and the conventional millimetre of mercury.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache

from reportgen.problems import near_name

_INCH_M = Fraction(254, 10_000)
_POUND_KG = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)
_LBF_N = _POUND_KG * _GRAVITY
_MMHG_PA = Fraction(133_322_387_415, 1_000_000_000)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: value in SI = (value + offset) * factor, both exact. `kind` names what is measured."""

    symbol: str
    kind: str
    si_symbol: str
    factor: Fraction
    offset: Fraction = Fraction(0)


class UnknownUnit(ValueError):
    """The text is no unit this program knows; `near` is what it may have meant."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.near = near_name(text, sorted(_BY_SPELLING))
        hint = f"; did you mean {self.near!r}?" if self.near else ""
        super().__init__(f"unknown unit {text!r}{hint}")


def _table() -> tuple[tuple[Unit, tuple[str, ...]], ...]:
    def unit(symbol: str, kind: str, si: str, factor: Fraction | int, *spellings: str) -> tuple[Unit, tuple[str, ...]]:
        return Unit(symbol, kind, si, Fraction(factor)), spellings

    f, length, p = "force", "length", "pressure"
    return (
        unit("N", f, "N", 1, "newton", "newtons"),
        unit("mN", f, "N", Fraction(1, 1000)),
        unit("cN", f, "N", Fraction(1, 100)),
        unit("kN", f, "N", 1000),
        unit("lbf", f, "N", _LBF_N, "lb-f", "lbs-f", "pound-force", "lbsf"),
        unit("ozf", f, "N", _LBF_N / 16, "oz-f", "ounce-force"),
        unit("kgf", f, "N", _GRAVITY, "kilogram-force", "kp"),
        unit("gf", f, "N", _GRAVITY / 1000, "gram-force"),
        unit("m", length, "m", 1, "metre", "meter"),
        unit("cm", length, "m", Fraction(1, 100)),
        unit("mm", length, "m", Fraction(1, 1000), "millimetre", "millimeter"),
        unit("µm", length, "m", Fraction(1, 1_000_000), "um", "μm", "micron", "microns"),
        unit("in", length, "m", _INCH_M, "inch", "inches", '"'),
        unit("Fr", length, "m", Fraction(1, 3000), "French"),
        unit("Pa", p, "Pa", 1),
        unit("kPa", p, "Pa", 1000),
        unit("MPa", p, "Pa", 1_000_000, "N/mm²", "N/mm2"),
        unit("GPa", p, "Pa", 1_000_000_000),
        unit("bar", p, "Pa", 100_000),
        unit("mbar", p, "Pa", 100, "hPa"),
        unit("atm", p, "Pa", 101_325),
        unit("psi", p, "Pa", _LBF_N / _INCH_M**2, "lbf/in²", "lbf/in2", "psig"),
        unit("ksi", p, "Pa", 1000 * _LBF_N / _INCH_M**2),
        unit("mmHg", p, "Pa", _MMHG_PA, "mm Hg"),
        unit("N·m", "torque", "N·m", 1, "N.m", "Nm", "N*m", "N m"),
        unit("N·cm", "torque", "N·m", Fraction(1, 100), "N.cm", "Ncm", "N*cm", "N cm"),
        unit("N·mm", "torque", "N·m", Fraction(1, 1000), "N.mm", "Nmm", "N*mm", "N mm"),
        unit("mN·m", "torque", "N·m", Fraction(1, 1000), "mN.m", "mNm", "mN*m", "mN m"),
        unit("lbf·in", "torque", "N·m", _LBF_N * _INCH_M, "lbf.in", "in-lbf", "lbf-in", "in·lbf"),
        unit("ozf·in", "torque", "N·m", _LBF_N / 16 * _INCH_M, "ozf.in", "in-ozf", "ozf-in", "in·ozf"),
        unit("J", "energy", "J", 1),
        unit("mJ", "energy", "J", Fraction(1, 1000)),
        unit("N/m", "force per length", "N/m", 1),
        unit("N/mm", "force per length", "N/m", 1000),
        unit("N/15 mm", "force per length", "N/m", Fraction(1000, 15), "N/15mm"),
        unit("N/25.4 mm", "force per length", "N/m", Fraction(10_000, 254), "N/25.4mm", "N/25,4 mm"),
        unit("lbf/in", "force per length", "N/m", _LBF_N / _INCH_M),
        unit("s", "time", "s", 1, "sec", "seconds", "second"),
        unit("ms", "time", "s", Fraction(1, 1000)),
        unit("min", "time", "s", 60, "minutes", "minute"),
        unit("h", "time", "s", 3600, "hours", "hour", "hr"),
        unit("d", "time", "s", 86_400, "days", "day"),
        unit("m/s", "speed", "m/s", 1),
        unit("mm/s", "speed", "m/s", Fraction(1, 1000)),
        unit("mm/min", "speed", "m/s", Fraction(1, 60_000)),
        unit("in/min", "speed", "m/s", _INCH_M / 60, "ipm"),
        unit("Pa/s", "pressure rate", "Pa/s", 1),
        unit("kPa/s", "pressure rate", "Pa/s", 1000),
        unit("bar/s", "pressure rate", "Pa/s", 100_000),
        unit("atm/s", "pressure rate", "Pa/s", 101_325),
        unit("psi/s", "pressure rate", "Pa/s", _LBF_N / _INCH_M**2),
        unit("turn/min", "rotational speed", "°/s", 6, "turns/min", "rpm", "rev/min"),
        unit("kg", "mass", "kg", 1),
        unit("g", "mass", "kg", Fraction(1, 1000)),
        unit("mg", "mass", "kg", Fraction(1, 1_000_000)),
        unit("µg", "mass", "kg", Fraction(1, 1_000_000_000), "ug", "μg"),
        unit("lb", "mass", "kg", _POUND_KG, "lbm"),
        unit("m³", "volume", "m³", 1, "m3"),
        unit("L", "volume", "m³", Fraction(1, 1000), "l", "litre", "liter"),
        unit("mL", "volume", "m³", Fraction(1, 1_000_000), "ml", "cc"),
        unit("µL", "volume", "m³", Fraction(1, 1_000_000_000), "ul", "uL", "μL"),
        unit("mg/L", "concentration", "kg/m³", Fraction(1, 1000), "mg/l"),
        unit("µg/L", "concentration", "kg/m³", Fraction(1, 1_000_000), "ug/L", "μg/L", "ug/l", "µg/l"),
        unit("mL/min", "flow", "m³/s", Fraction(1, 60_000_000), "ml/min"),
        unit("mL/s", "flow", "m³/s", Fraction(1, 1_000_000), "ml/s"),
        unit("mm²", "area", "m²", Fraction(1, 1_000_000), "mm2"),
        unit("rad", "angle", "rad", 1),
        # not exact in any number system with a finite expansion; never converted in practice, kept as its own kind
        unit("°", "angle in degrees", "°", 1, "deg", "degree", "degrees"),
        unit("turn", "angle in degrees", "°", 360, "turns", "rev", "revolutions", "rotations"),
        unit("%", "ratio", "1", Fraction(1, 100), "percent"),
        unit("1", "ratio", "1", 1, "-", "ratio"),
        unit("count", "count", "count", 1, "counts", "particles", "cycles", "cycle", "pcs", "each"),
        unit("Hz", "frequency", "Hz", 1),
        (Unit("K", "temperature", "K", Fraction(1)), ("kelvin",)),
        (Unit("°C", "temperature", "K", Fraction(1), Fraction(27_315, 100)), ("degC", "C", "celsius", "ºC")),
        (Unit("°F", "temperature", "K", Fraction(5, 9), Fraction(45_967, 100)), ("degF", "F", "fahrenheit")),
    )


_UNITS = _table()
_BY_SPELLING: dict[str, Unit] = {spelling: unit for unit, others in _UNITS for spelling in (unit.symbol, *others)}
_BY_LOWER: dict[str, list[Unit]] = {}
for _spelling, _unit in _BY_SPELLING.items():
    _BY_LOWER.setdefault(_spelling.lower(), []).append(_unit)


@lru_cache(maxsize=1024)
def unit(text: str) -> Unit:
    """The unit that `text` spells. Upper and lower case matter where they change the meaning (mN, MN) and only there.

    Raises: UnknownUnit with the text and, where one is close, the unit it may have meant.
    """
    cleaned = " ".join(text.split())
    if cleaned in _BY_SPELLING:
        return _BY_SPELLING[cleaned]
    candidates = {candidate.symbol: candidate for candidate in _BY_LOWER.get(cleaned.lower(), [])}
    # a spelling in another case is taken only for word-like spellings: "NEWTON", "Inch", "PSI", but never "mn" for MN
    if len(candidates) == 1 and len(cleaned) >= 3:
        return next(iter(candidates.values()))
    raise UnknownUnit(text)


@lru_cache(maxsize=8192)
def is_known(text: str) -> bool:
    """Whether `text` spells a unit. Cheaper than asking `unit` and hearing what was meant instead."""
    cleaned = " ".join(text.split())
    symbols = {candidate.symbol for candidate in _BY_LOWER.get(cleaned.lower(), [])}
    return cleaned in _BY_SPELLING or (len(symbols) == 1 and len(cleaned) >= 3)


def known_units() -> tuple[Unit, ...]:
    """All units, in the order of the table."""
    return tuple(entry for entry, _ in _UNITS)


def same_kind(first: str, second: str) -> bool:
    """Whether two units measure the same kind of thing. Raises: UnknownUnit."""
    return unit(first).kind == unit(second).kind


def convert(value: float | str, *, from_unit: str, to_unit: str) -> float:
    """`value` expressed in another unit of the same kind, rounded once.

    A text is read as the decimal number it shows; a float as the shortest decimal that names it, which is what the
    lab wrote. The same unit gives the same number back, bit for bit.
    Raises: UnknownUnit; ValueError when the kinds differ, naming both.
    """
    source, target = unit(from_unit), unit(to_unit)
    if source.kind != target.kind:
        raise ValueError(f"{from_unit!r} measures {source.kind}, {to_unit!r} measures {target.kind}: no conversion")
    if source == target:
        return float(value)
    exact = Fraction(value if isinstance(value, str) else repr(float(value)))
    return float((exact + source.offset) * source.factor / target.factor - target.offset)


def scale_between(from_unit: str, to_unit: str) -> Fraction:
    """The exact factor between two units of one kind that share their zero. Raises: as `convert`; ValueError else."""
    source, target = unit(from_unit), unit(to_unit)
    if source.kind != target.kind:
        raise ValueError(f"{from_unit!r} measures {source.kind}, {to_unit!r} measures {target.kind}: no conversion")
    if source.offset != target.offset:
        raise ValueError(f"{from_unit!r} and {to_unit!r} differ in their zero: convert values, not scales")
    return source.factor / target.factor


def conversion_text(from_unit: str, to_unit: str) -> str:
    """The factor that values are converted with, as a sentence part tells it: '1 lbf = 4.4482216152605 N exactly'.

    Where its decimals do not end, ten digits and the exact ratio. '' where the zeros differ: no factor converts those.
    Raises: as `convert`.
    """
    source, target = unit(from_unit), unit(to_unit)
    if same_kind(from_unit, to_unit) and source.offset != target.offset:
        return ""
    factor = scale_between(from_unit, to_unit)
    if _ends(factor.denominator):
        with localcontext(prec=60):
            told = Decimal(factor.numerator) / Decimal(factor.denominator)
        return f"1 {source.symbol} = {told.normalize():f} {target.symbol} exactly"
    with localcontext(prec=10):
        told = Decimal(factor.numerator) / Decimal(factor.denominator)
    ratio = f"{factor.numerator}/{factor.denominator}"
    return f"1 {source.symbol} = {told:f} {target.symbol} to ten digits, exactly {ratio}"


def difference_unit(of: str) -> str:
    """The unit of a difference between two values of a unit: percentages lie percentage points apart."""
    return "percentage points" if of == "%" else of


def _ends(denominator: int) -> bool:
    for prime in (2, 5):
        while denominator % prime == 0:
            denominator //= prime
    return denominator == 1


def to_si(value: float | str, from_unit: str) -> float:
    """`value` in the SI unit of its kind, rounded once. Raises: UnknownUnit."""
    source = unit(from_unit)
    exact = Fraction(value if isinstance(value, str) else repr(float(value)))
    return float((exact + source.offset) * source.factor)
