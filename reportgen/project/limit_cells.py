"""Limits as people write them into one cell, '>= 5 N' or '3.0 to 3.4 mm', taken apart without a guess."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

_NUMBER = r"[-+\u2212]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][-+]?\d{1,3})?"
_UNIT = r"(?P<unit>[^\d\s<>=≤≥±+\-][^<>=≤≥±]*)?"
_LOWER = r"(?:>=|=>|≥|at least|min\.?|minimum|not less than)"
_UPPER = r"(?:<=|=<|≤|at most|max\.?|maximum|not more than)"
_FIRST_UNIT = r"(?P<first>[^\d\s<>=≤≥±+\-.,;–—…]\S*)?"
_TO = r"(?:to|–|—|\.\.\.?|…|\s-\s)"
_BEYOND = r"(?:<|>|less than|more than|above|below|under|over)"
_FORMS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(pattern, re.IGNORECASE))
    for name, pattern in (
        ("lower", rf"{_LOWER}\s*(?P<a>{_NUMBER})\s*{_UNIT}"),
        ("upper", rf"{_UPPER}\s*(?P<a>{_NUMBER})\s*{_UNIT}"),
        ("both", rf"(?P<a>{_NUMBER})\s*{_FIRST_UNIT}\s*{_TO}\s*(?P<b>{_NUMBER})\s*{_UNIT}"),
        (
            "both",
            rf"{_LOWER}\s*(?P<a>{_NUMBER})\s*{_FIRST_UNIT}\s*(?:,|;|and)?\s*{_UPPER}\s*(?P<b>{_NUMBER})\s*{_UNIT}",
        ),
        ("around", rf"(?P<a>{_NUMBER})\s*{_FIRST_UNIT}\s*(?:±|\+/-|\+-)\s*(?P<b>{_NUMBER})\s*{_UNIT}"),
        ("strict", rf"{_BEYOND}\s*(?P<a>{_NUMBER})\s*{_UNIT}"),
        ("bare", rf"(?P<a>{_NUMBER})\s*{_UNIT}"),
    )
)
FORMS = "'>= 5 N', '<= 3 mm', '3.0 to 3.4 mm' or '3.2 ± 0.2 mm'"


@dataclass(frozen=True, slots=True)
class LimitCell:
    """The limits as written, with their decimals; '' where the cell tells none."""

    lower: str = ""
    upper: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class NoLimit:
    """Why a cell cannot be taken for limits, and how to mend it."""

    found: str
    mend: str


def read_limit_cell(text: str, *, decimal: str) -> LimitCell | NoLimit:
    """The limits of a cell. A limit belongs to what conforms, so '>' and '<' alone are not taken."""
    cleaned = " ".join(text.replace("\u00a0", " ").replace("\u202f", " ").split())
    if not cleaned:
        return LimitCell()
    matches = ((name, pattern.fullmatch(cleaned)) for name, pattern in _FORMS)
    name, match = next(((name, match) for name, match in matches if match is not None), ("", None))
    if match is None:
        return NoLimit(repr(text), f"write it as {FORMS}, or translate this word under 'values: limits:'")
    groups = match.groupdict()
    numbers = [_plain(groups[key], decimal) for key in ("a", "b") if groups.get(key)]
    plain = [number for number in numbers if number is not None]
    if len(plain) < len(numbers):
        other = "," if decimal == "." else "."
        return NoLimit(
            f"{text!r}, with {other!r} in a number",
            f"declare 'decimal: \"{other}\"' if that is what it means, else correct it",
        )
    unit, first = (groups.get("unit") or "").strip(), (groups.get("first") or "").strip()
    if first and first != unit:
        return NoLimit(f"{text!r}, with two units", "write both limits in one unit, named once")
    return _limits(name, plain, unit, text)


def _plain(number: str, decimal: str) -> str | None:
    """The number with a decimal point; None where the other sign stands in it, which may part thousands."""
    if ("," if decimal == "." else ".") in number:
        return None
    return number.replace("\u2212", "-").replace(",", ".").removeprefix("+")


def _limits(form: str, numbers: list[str], unit: str, text: str) -> LimitCell | NoLimit:
    if form == "lower":
        return LimitCell(lower=numbers[0], unit=unit)
    if form == "upper":
        return LimitCell(upper=numbers[0], unit=unit)
    if form == "both":
        return LimitCell(lower=numbers[0], upper=numbers[1], unit=unit)
    if form == "around":
        middle, reach = Decimal(numbers[0]), Decimal(numbers[1])
        return LimitCell(lower=f"{middle - reach:f}", upper=f"{middle + reach:f}", unit=unit)
    if form == "strict":
        return NoLimit(
            f"{text!r}, a limit that does not conform itself",
            "write the value that just conforms with >= or <=: results at a limit count as conforming here",
        )
    return NoLimit(f"{text!r}, without a word on which side the limit is", f"write it as {FORMS}")
