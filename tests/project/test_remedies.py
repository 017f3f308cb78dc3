"""What was most likely meant: a remedy is right, or says both readings, or claims nothing."""

from __future__ import annotations

import pytest

from reportgen.project.remedies import as_fraction, mend_date, mend_number


@pytest.mark.parametrize(
    ("given", "remedy"),
    [
        ("31.03.2026", "write 2026-03-31"),
        ("3.4.2026", "write 2026-04-03"),
        ("03/31/2026", "write 2026-03-31"),
        ("31/03/2026", "write 2026-03-31"),
        ("03/04/2026", "write 2026-03-04 or 2026-04-03, whichever day is meant"),
        ("04/04/2026", "write 2026-04-04"),
        ("2026/3/31", "write 2026-03-31"),
        ("2026-3-1", "write 2026-03-01"),
        ("2026-03-31T10:00:00", "write 2026-03-31"),
        ("20260331", "write 2026-03-31"),
        ("31 March 2026", "write 2026-03-31"),
        ("Mar 31, 2026", "write 2026-03-31"),
        ("31-Mar-2026", "write 2026-03-31"),
        ("31.02.2026", "write year-month-day with digits, such as 2026-03-31"),
        ("03/04/26", "write year-month-day with digits, such as 2026-03-31"),
        ("soon", "write year-month-day with digits, such as 2026-03-31"),
    ],
)
def test_dates(given: str, remedy: str) -> None:
    assert mend_date(given) == remedy


@pytest.mark.parametrize(
    ("given", "remedy"),
    [
        ("12,5", "write 12.5"),
        ("1,234", "write 1.234 or 1234, whichever is meant"),
        ("1,234.5", "write 1234.5"),
        ("1.234,5", "write 1234.5"),
        ("1 234", "write 1234"),
        ("\u22125", "write -5"),
        ("10 N", "write 10 here, and 'N' where the unit stands"),
        ("95 %", "a fraction: write 0.95"),
        ("99.90%", "a fraction: write 0.999"),
        ("ten", "write a number with a decimal point, such as 12.5"),
        ("", "write a number with a decimal point, such as 12.5"),
    ],
)
def test_numbers(given: str, remedy: str) -> None:
    assert mend_number(given) == remedy


@pytest.mark.parametrize(
    ("given", "fraction"),
    [("95", "0.95"), ("99.9", "0.999"), ("50%", "0.5"), ("1", None), ("100", None), ("0.95", None), ("x", None)],
)
def test_percentages(given: str, fraction: str | None) -> None:
    assert as_fraction(given) == fraction
