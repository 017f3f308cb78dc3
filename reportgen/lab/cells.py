"""Cell texts to numbers: which texts are numbers, and what they are worth in the design input's unit and in SI.

Whole columns at a time. A number is taken to the nearest double of the decimal that was written, and converted to
another unit in rational arithmetic, once per distinct text.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reportgen.quantities import convert, to_si, unit

_NUMBER = r"^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$"
_MINUS_SIGNS = "−–"
_ISO_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:[ T]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?")
_DATE_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?: \d{1,2}:\d{2}(?::\d{2})?)?")

YES = frozenset({"yes", "y", "true", "x", "1"})
NO = frozenset({"no", "n", "false", "0", ""})
PASS = frozenset({"pass", "passed", "conforming", "conforms", "ok"})
FAIL = frozenset({"fail", "failed", "nonconforming", "non-conforming", "not ok", "nok"})


def decimal_texts(texts: pa.Array, comma: np.ndarray) -> pa.Array:
    """The texts with a decimal point: a comma is one only in the rows where `comma` says so."""
    for sign in _MINUS_SIGNS:
        texts = pc.replace_substring_regex(texts, f"^{sign}", "-")
    if not comma.any():
        return texts
    # in a file with decimal commas a point is no decimal sign: it is made unreadable rather than misread
    swapped = pc.replace_substring(pc.replace_substring(texts, ".", "?"), ",", ".")
    return pc.if_else(pa.array(comma), swapped, texts)


def numbers(texts: pa.Array) -> np.ndarray:
    """The nearest double of every text that is a plain decimal number; NaN for all other texts."""
    plain = pc.if_else(
        pc.match_substring_regex(texts, _NUMBER), pc.utf8_ltrim(texts, "+"), pa.scalar(None, pa.string())
    )
    values = np.array(pc.cast(plain, pa.float64()).to_numpy(zero_copy_only=False), dtype=float)
    # 1e999 is a decimal number, but none that a double can hold
    values[np.isinf(values)] = np.nan
    return values


def needs_conversion(from_unit: str, to_unit: str) -> bool:
    """Whether a number in one unit differs from the same in the other, or in SI."""
    source = unit(from_unit)
    return source != unit(to_unit) or source.factor != 1 or source.offset != 0


def converted(texts: pa.Array, values: np.ndarray, *, from_unit: str, to_unit: str) -> tuple[np.ndarray, np.ndarray]:
    """Values in `to_unit` and in SI. `values` are the numbers of `texts`, NaN where a text is no number.

    Where the factor is one the parsed doubles are passed on untouched; else every distinct text is converted once.
    """
    source, target = unit(from_unit), unit(to_unit)
    si_is_same = source.factor == 1 and source.offset == 0
    if source == target and si_is_same:
        return values, values
    known = ~np.isnan(values)
    codes, distinct = pd.factorize(pd.array(texts.filter(pa.array(known)).to_pylist(), dtype=object))
    in_target, in_si = values.copy(), values.copy()
    if source != target:
        each = [convert(text, from_unit=from_unit, to_unit=to_unit) for text in distinct]
        in_target[known] = np.asarray(each, dtype=float)[codes]
    if not si_is_same:
        in_si[known] = np.asarray([to_si(text, from_unit) for text in distinct], dtype=float)[codes]
    return in_target, in_si


def iso_dates(texts: Sequence[str]) -> tuple[dict[str, str], dict[str, str], str | None]:
    """Distinct date texts of one file to ISO dates: (text -> ISO date, text -> what is wrong, what was guessed).

    ISO dates are taken as they are. 31/03/2026 is taken when some date of the file shows which part is the day;
    with points (31.03.2026) the day comes first.
    """
    known: dict[str, str] = {"": ""}
    wrong: dict[str, str] = {}
    parts: dict[str, tuple[int, int, int, str]] = {}
    for text in texts:
        iso, other = _ISO_DATE.fullmatch(text), _DATE_PARTS.fullmatch(text)
        if iso is not None:
            _take_date(known, wrong, text, int(iso[1]), int(iso[2]), int(iso[3]))
        elif other is not None:
            parts[text] = (int(other[1]), int(other[3]), int(other[4]), other[2])
        elif text:
            wrong[text] = "no date"
    by_point = {text for text, part in parts.items() if part[3] == "."}
    day_first = any(part[0] > 12 for text, part in parts.items() if text not in by_point)
    month_first = any(part[1] > 12 for text, part in parts.items() if text not in by_point)
    for text, (first, second, year, _) in parts.items():
        if text in by_point or (day_first and not month_first):
            _take_date(known, wrong, text, year, second, first)
        elif month_first and not day_first:
            _take_date(known, wrong, text, year, first, second)
        else:
            wrong[text] = "a date whose day and month cannot be told apart"
    order = "month/day/year" if month_first and len(by_point) < len(parts) else "day, month, year"
    return known, wrong, f"dates such as {next(iter(parts))!r} read as {order}" if parts and not wrong else None


def _take_date(known: dict[str, str], wrong: dict[str, str], text: str, year: int, month: int, day: int) -> None:
    try:
        known[text] = datetime.date(year, month, day).isoformat()
    except ValueError:
        wrong[text] = "a date that no calendar has"
