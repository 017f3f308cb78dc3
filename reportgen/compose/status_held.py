"""The texts of the status page with blanks at which no line ends: between a number and its unit, whatever the unit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from typing import Any

from reportgen.compose.records import StatusPage
from reportgen.compose.unbroken import NO_BREAK, held

# names and words by which the page or a reader finds something, and what only a screen reader reads out
_AS_THEY_ARE = frozenset(
    ("file_name", "date", "severity", "rule", "records", "place", "verdict", "verdict_before", "verdict_now", "status",
     "version", "language", "totals", "finding_totals", "alt")
)  # fmt: skip
_IN_WORDS = ("percentage point", "standard deviation")


def held_page(page: StatusPage, *, units: Iterable[str]) -> StatusPage:
    """`units` are those that the project declares, which need not be symbols that are known."""
    words = sorted({unit for unit in units if unit} | set(_IN_WORDS), key=lambda word: (-len(word), word))
    behind_numbers = re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, words))})s?(?![\w/·]))")
    held_here = _Holder(behind_numbers)
    return replace(page, **{name: held_here.of(value) for name, value in _texts(page)})


class _Holder:
    def __init__(self, behind_numbers: re.Pattern[str]) -> None:
        self._behind_numbers = behind_numbers

    def of(self, value: Any) -> Any:
        """The same text, or the same record or tuple of such, with its blanks held."""
        if isinstance(value, str):
            return self._behind_numbers.sub(NO_BREAK, held(value)) if " " in value else value
        if isinstance(value, tuple):
            return tuple(self.of(one) for one in value)
        if is_dataclass(value) and not isinstance(value, type):
            return replace(value, **{name: self.of(one) for name, one in _texts(value)})
        return value


def _texts(record: Any) -> Iterable[tuple[str, Any]]:
    return ((field.name, getattr(record, field.name)) for field in fields(record) if field.name not in _AS_THEY_ARE)
