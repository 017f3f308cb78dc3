"""Units against the definitions in NIST Special Publication 811, and conversion against rational arithmetic."""

from __future__ import annotations

import math
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from reportgen.quantities import (
    UnknownUnit,
    conversion_text,
    convert,
    difference_unit,
    known_units,
    same_kind,
    scale_between,
    to_si,
    unit,
)

# NIST SP 811 (2008), appendices B.7.1, B.8 and B.9; `provenance` in the file says which figures were typed from memory
with (Path(__file__).parent / "reference" / "published" / "units_and_rounding.toml").open("rb") as _file:
    SP811 = {check["quantity"]: check for check in tomllib.load(_file)["check"]}


@pytest.mark.parametrize(
    ("quantity", "symbol"),
    [
        ("lbf in N, exact", "lbf"),
        ("lb in kg, exact", "lb"),
        ("inch in m, exact", "in"),
        ("kgf in N, exact", "kgf"),
        ("atm in Pa, exact", "atm"),
    ],
)
def test_exact_factor_nist_sp811(quantity, symbol):
    assert unit(symbol).factor == Fraction(SP811[quantity]["printed"])


@pytest.mark.parametrize(
    ("quantity", "symbol"),
    [
        ("psi in Pa, SP 811 seven digits", "psi"),
        ("lbf in N, SP 811 seven digits", "lbf"),
        ("ozf in N, SP 811 seven digits", "ozf"),
        ("mmHg in Pa, SP 811 seven digits", "mmHg"),
    ],
)
def test_seven_digit_factor_nist_sp811(quantity, symbol):
    printed = SP811[quantity]["printed"]
    half_unit = Fraction(1, 2) * Fraction(1, 10 ** len(printed.partition(".")[2]))
    assert abs(unit(symbol).factor - Fraction(printed)) <= half_unit


def test_zero_fahrenheit_nist_sp811():
    printed = SP811["0 degF in degC"]["printed"]
    assert convert("0", from_unit="°F", to_unit="°C") == pytest.approx(float(printed), abs=0.5e-5)


@pytest.mark.parametrize(
    ("symbol", "value"),
    [
        ("lbf", constants.lbf), ("in", constants.inch), ("psi", constants.psi), ("ksi", 1000 * constants.psi),
        ("atm", constants.atm), ("mg/L", 1e-6 / constants.liter), ("µg/L", 1e-9 / constants.liter),
        ("bar", constants.bar), ("kgf", constants.kgf), ("lb", constants.lb), ("min", constants.minute),
        ("h", constants.hour), ("d", constants.day), ("L", constants.liter),
    ],
)  # fmt: skip
def test_factor_scipy_constants(symbol, value):
    # scipy.constants computes in doubles: one unit in the last place is allowed
    assert float(unit(symbol).factor) == pytest.approx(value, rel=3e-16)


def test_millimetre_of_mercury_is_the_conventional_one():
    # NIST SP 811, B.8: conventional millimetre of mercury 133.3224 Pa; the torr (101325/760 Pa) differs by 1.4e-7
    assert unit("mmHg").factor == Fraction("133.322387415")
    assert abs(unit("mmHg").factor / Fraction(101_325, 760) - 1) < Fraction(2, 10_000_000)


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        ("1", "lbf", "N", 4.4482216152605),
        ("10", "in/min", "mm/min", 254.0),
        ("1", "psi", "kPa", 6.894757293168361),
        ("7", "Fr", "mm", 7 / 3),
        ("1", "lbf·in", "N·m", 0.1129848290276167),
        ("3", "N/25.4 mm", "N/m", 118.11023622047244),
        ("12.1", "N", "N", 12.1),
        ("37", "°C", "°F", 98.6),
        ("-40", "°F", "°C", -40.0),
        ("120", "mmHg", "kPa", 15.9986864898),
        ("0.1", "mm", "in", 1 / 254),
    ],
)
def test_convert(value, source, target, expected):
    assert convert(value, from_unit=source, to_unit=target) == expected


@given(
    st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=6),
    st.sampled_from(["N", "lbf", "kN", "ozf", "gf", "mN"]),
    st.sampled_from(["N", "lbf", "kN", "ozf", "gf", "mN"]),
)
def test_convert_is_the_nearest_double_to_the_exact_value(value, source, target):
    exact = Fraction(value) * unit(source).factor / unit(target).factor
    assert convert(str(value), from_unit=source, to_unit=target) == float(exact)


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from([u.symbol for u in known_units()]))
def test_the_same_unit_gives_the_same_bits(value, symbol):
    result = convert(value, from_unit=symbol, to_unit=symbol)
    assert math.copysign(1, result) == math.copysign(1, value)
    assert result == value


@pytest.mark.parametrize("symbol", [u.symbol for u in known_units()])
def test_every_unit_converts_to_itself_and_to_si(symbol):
    entry = unit(symbol)
    assert to_si("2", symbol) == float((2 + entry.offset) * entry.factor)
    assert scale_between(symbol, symbol) == 1
    assert same_kind(symbol, symbol)


def test_symbols_are_unambiguous():
    symbols = [entry.symbol for entry in known_units()]
    assert len(symbols) == len(set(symbols))
    assert len(symbols) > 50


@pytest.mark.parametrize(
    ("spelling", "symbol"), [("NEWTON", "N"), ("Inch", "in"), ("PSI", "psi"), ("um", "µm"), ("N.m", "N·m")]
)
def test_spellings(spelling, symbol):
    assert unit(spelling).symbol == symbol


@pytest.mark.parametrize("text", ["MN", "mn", "lbs", "", "newtn", "N N", "K N"])
def test_what_is_no_unit_or_could_be_another_is_refused(text):
    with pytest.raises(UnknownUnit):
        unit(text)


def test_kinds_do_not_mix():
    with pytest.raises(ValueError, match="'N' measures force, 'mm' measures length"):
        convert("1", from_unit="N", to_unit="mm")
    with pytest.raises(ValueError, match="differ in their zero"):
        scale_between("°C", "K")


def test_unknown_unit_names_the_near_one():
    with pytest.raises(UnknownUnit, match="did you mean 'newton'"):
        unit("newtn")


@pytest.mark.parametrize(
    ("filed", "wanted", "told"),
    [
        # NIST SP 811 (2008), appendix B: exact factors in bold; typed from memory, as are the atmosphere and the inch
        ("lbf", "N", "1 lbf = 4.4482216152605 N exactly"),
        ("in", "mm", "1 in = 25.4 mm exactly"),
        ("bar", "kPa", "1 bar = 100 kPa exactly"),
        # 6894.757293168361 Pa over 101325 Pa; the ratio is 4.4482216152605 / (0.0254^2 x 101325) in lowest terms
        ("psi", "atm", "1 psi = 0.06804596391 atm to ten digits, exactly 1270920461503/18677382000000"),
        ("°F", "°C", ""),
    ],
)
def test_conversion_text_states_the_exact_factor(filed: str, wanted: str, told: str) -> None:
    assert conversion_text(filed, wanted) == told


def test_conversion_text_refuses_units_of_two_kinds() -> None:
    with pytest.raises(ValueError, match="no conversion"):
        conversion_text("N", "mm")


def test_percentages_lie_percentage_points_apart() -> None:
    # common practice, no source: a difference of 1 % of recoil could be read as a hundredth of it
    assert difference_unit("%") == "percentage points"
    assert difference_unit("mm") == "mm"
