"""Limit cells: each form that people write, and each that must not be guessed at."""

from __future__ import annotations

import pytest

from reportgen.project.limit_cells import LimitCell, NoLimit, read_limit_cell


@pytest.mark.parametrize(
    ("text", "lower", "upper", "unit"),
    [
        (">= 5 N", "5", "", "N"),
        ("≥5.00N", "5.00", "", "N"),
        ("=> 5", "5", "", ""),
        ("at least 5 N", "5", "", "N"),
        ("min. 3.60 N", "3.60", "", "N"),
        ("Minimum 14 atm", "14", "", "atm"),
        ("not less than 0.5 mm", "0.5", "", "mm"),
        ("<= 1.9 mm", "", "1.9", "mm"),
        ("≤\u00a01.9\u202fmm", "", "1.9", "mm"),
        ("max 10 %", "", "10", "%"),
        ("at most -0.5 kPa", "", "-0.5", "kPa"),
        ("3.0 to 3.4 mm", "3.0", "3.4", "mm"),
        ("3.0 mm to 3.4 mm", "3.0", "3.4", "mm"),
        ("3.0–3.4 mm", "3.0", "3.4", "mm"),
        ("3.0 - 3.4 mm", "3.0", "3.4", "mm"),
        ("-3 to +3 mm", "-3", "3", "mm"),
        ("3.0...3.4 mm", "3.0", "3.4", "mm"),
        (">= 3 N and <= 15 N", "3", "15", "N"),
        ("≥ 3, ≤ 15 N", "3", "15", "N"),
        ("3.20 ± 0.15 mm", "3.05", "3.35", "mm"),
        ("0.1 ± 0.2 mm", "-0.1", "0.3", "mm"),
        ("10 mm +/- 1 mm", "9", "11", "mm"),
        (">= 1e-3 N", "1e-3", "", "N"),
        ("\u22125 to 5 N", "-5", "5", "N"),
        ("", "", "", ""),
        ("   ", "", "", ""),
    ],
)
def test_limits_as_people_write_them(text: str, lower: str, upper: str, unit: str) -> None:
    assert read_limit_cell(text, decimal=".") == LimitCell(lower, upper, unit)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("> 5 N", "does not conform itself"),
        ("< 5 N", "does not conform itself"),
        ("more than 5 N", "does not conform itself"),
        ("5 N", "which side"),
        ("pass", "'pass'"),
        ("5 N or so", "which side"),
        (">= five N", "five"),
        (">= 5,0 N", "',' in a number"),
        ("3 N to 4 mm", "two units"),
        (">= 5 N <= 3 N >= 2", ">= 5 N"),
    ],
)
def test_what_is_not_guessed_at(text: str, found: str) -> None:
    answer = read_limit_cell(text, decimal=".")
    assert isinstance(answer, NoLimit)
    assert found in answer.found
    assert answer.mend


def test_a_decimal_comma_is_read_where_it_is_declared_and_no_other_sign_beside_it() -> None:
    assert read_limit_cell("≥ 3,60 N", decimal=",") == LimitCell("3.60", "", "N")
    assert isinstance(read_limit_cell("≥ 1.000 N", decimal=","), NoLimit)
