"""What was most likely meant by a value that cannot be read: a remedy that can be copied."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal, InvalidOperation

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMERIC_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?:[T ].*)?", re.ASCII)
_WORDED_DATE = re.compile(r"(?:(\d{1,2})\.?[ -]?([A-Za-z]{3,9})|([A-Za-z]{3,9})\.? (\d{1,2})),?[ -](\d{4})", re.ASCII)
_LEADING_NUMBER = re.compile(r"([-+]?\d+(?:\.\d+)?)\s*([^\d\s.,].*)", re.ASCII)


def mend_date(given: str) -> str:
    """How to write the date that `given` shows; both readings where day and month cannot be told apart."""
    found = sorted({day.isoformat() for day in _possible_days(given.strip())})
    if len(found) == 1:
        return f"write {found[0]}"
    if found:
        return f"write {' or '.join(found)}, whichever day is meant"
    return "write year-month-day with digits, such as 2026-03-31"


def _possible_days(given: str) -> list[date]:
    if re.fullmatch(r"\d{8}", given, re.ASCII):
        return _days((int(given[:4]), int(given[4:6]), int(given[6:])))
    numeric = _NUMERIC_DATE.fullmatch(given)
    if numeric:
        first, sign, second, third = numeric[1], numeric[2], numeric[3], numeric[4]
        if len(first) == 4:
            return _days((int(first), int(second), int(third)))
        if len(third) != 4:
            return []
        orders = [(int(third), int(second), int(first))]
        if sign != ".":  # dots stand between day, month and year wherever they are used; slashes go either way
            orders.append((int(third), int(first), int(second)))
        return _days(*orders)
    worded = _WORDED_DATE.fullmatch(given)
    if worded:
        name = (worded[2] or worded[3])[:3].lower()
        if name in _MONTHS:
            return _days((int(worded[5]), _MONTHS.index(name) + 1, int(worded[1] or worded[4])))
    return []


def _days(*candidates: tuple[int, int, int]) -> list[date]:
    days = []
    for year, month, day in candidates:
        try:
            days.append(date(year, month, day))
        except ValueError:
            continue
    return days


def mend_number(given: str) -> str:
    """How to write the number that `given` shows."""
    text = given.strip().replace("\u2212", "-").replace("\u2013", "-").replace("\u00a0", " ").replace("\u202f", " ")
    if text.endswith("%"):
        fraction = as_fraction(text)
        if fraction is not None:
            return f"a fraction: write {fraction}"
    with_unit = _LEADING_NUMBER.fullmatch(text)
    if with_unit:
        return f"write {with_unit[1]} here, and {with_unit[2].strip()[:20]!r} where the unit stands"
    text = text.replace(" ", "").replace("'", "")
    if re.fullmatch(r"[-+]?\d{1,3},\d{3}", text, re.ASCII):
        return f"write {text.replace(',', '.')} or {text.replace(',', '')}, whichever is meant"
    if re.fullmatch(r"[-+]?\d+,\d+", text, re.ASCII):
        return f"write {text.replace(',', '.')}"
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?", text, re.ASCII):
        return f"write {text.replace(',', '')}"
    if re.fullmatch(r"[-+]?\d{1,3}(\.\d{3})+,\d+", text, re.ASCII):
        return f"write {text.replace('.', '').replace(',', '.')}"
    if re.fullmatch(r"[-+]?\d+(\.\d+)?", text, re.ASCII):
        return f"write {text}"
    return "write a number with a decimal point, such as 12.5"


def as_fraction(given: str) -> str | None:
    """A percentage between 1 and 100 as the fraction it stands for, with the digits it was given with."""
    try:
        percent = Decimal(given.strip().removesuffix("%").strip())
    except InvalidOperation:
        return None
    if not percent.is_finite() or not 1 < percent < 100:
        return None
    return f"{(percent / 100).normalize():f}"
