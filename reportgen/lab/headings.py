"""The words of a heading row: which of our columns, or which characteristic, a heading of the lab's file names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from reportgen.project.records import DesignInput
from reportgen.quantities import is_known

# our column -> what labs commonly write for it (common practice, no source); the plain name comes first
COLUMN_NAMES: dict[str, tuple[str, ...]] = {
    "specimen": (
        "specimen", "specimen id", "specimen no", "specimen number", "sample", "sample id", "sample no",
        "sample number", "serial", "serial no", "serial number", "sn", "s n", "device", "device id", "unit id",
        "test piece", "id",
    ),
    "lot": ("lot", "lot no", "lot number", "lot id", "batch", "batch no", "batch number", "batch id"),
    "condition": ("condition", "conditioning"),
    "model": ("model", "catalogue number", "catalog number", "part number"),
    "tested_on": ("tested on", "test date", "date tested", "date of test", "date"),
    "operator": ("operator", "tested by", "tester", "technician", "performed by"),
    "equipment": ("equipment", "equipment id", "equipment ids", "instrument", "instruments"),
    "method_revision": ("method revision", "method rev", "test method revision"),
    "failure_mode": ("failure mode", "mode of failure", "failure"),
    "excluded": ("excluded", "exclude", "invalid"),
    "cause": ("cause", "cause of exclusion", "reason for exclusion", "exclusion cause"),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks"),
    "trace": ("trace", "trace file", "curve file"),
    "characteristic": ("characteristic", "parameter", "measurand", "property"),
    "value": ("value", "result", "reading", "measured value"),
    "unit": ("unit", "units"),
}  # fmt: skip

LONG_COLUMNS = ("characteristic", "value", "unit")
_COLUMN_OF = {name: column for column, names in COLUMN_NAMES.items() for name in names}
_BRACKETS = re.compile(r"^(?P<stem>.*?)\s*[\[(](?P<inside>[^\[\]()]*(?:\([^()]*\))?[^\[\]()]*)[\])]\s*$", re.DOTALL)
_TAIL = re.compile(r"^(?P<stem>.+?)(?:\s*,\s*|\s+/\s*|\s+in\s+)(?P<inside>\S+)\s*$", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading taken apart: `name` normalised, `stem` normalised without its unit, `unit` as filed or None."""

    text: str
    name: str
    stem: str
    unit: str | None


@lru_cache(maxsize=8192)
def plain(text: str) -> str:
    """Lower case, every run of other signs one space: how names are compared."""
    return re.sub(r"[\W_]+", " ", text.casefold()).strip()


@lru_cache(maxsize=8192)
def heading(text: str) -> Heading:
    """Takes `Peak load (lbf)`, `Max Force [N]`, `Force / N` and `Force, N` apart; the last two only for known units."""
    bracketed = _BRACKETS.match(text)
    if bracketed is not None:
        return Heading(text, plain(text), plain(bracketed["stem"]), bracketed["inside"].strip())
    tail = _TAIL.match(text)
    if tail is not None and is_unit(tail["inside"]):
        return Heading(text, plain(text), plain(tail["stem"]), tail["inside"].strip())
    return Heading(text, plain(text), plain(text), None)


@lru_cache(maxsize=8192)
def is_unit(text: str) -> bool:
    return is_known(text)


class Vocabulary:
    """What the headings of one protocol's result files can name: our columns and the characteristics it verifies."""

    def __init__(self, design_inputs: Iterable[DesignInput]) -> None:
        self.design_inputs = {record.id: record for record in design_inputs}
        self._characteristics: dict[str, str] = {}
        self._known: dict[str, bool] = {}
        for record in self.design_inputs.values():
            self._characteristics.setdefault(plain(record.characteristic), record.id)
            self._characteristics.setdefault(plain(record.id), record.id)

    @property
    def characteristics(self) -> tuple[str, ...]:
        return tuple(record.characteristic for record in self.design_inputs.values())

    def design_input(self, name: str) -> str | None:
        """The design input whose characteristic (or id) a text names, with or without a unit behind it."""
        parts = heading(name)
        return self._characteristics.get(parts.name) or self._characteristics.get(parts.stem)

    def column(self, name: str) -> str | None:
        """Our column that a heading names; a bracket behind it (`Date (dd.mm.yyyy)`) is no part of the name."""
        parts = heading(name)
        return _COLUMN_OF.get(parts.name) or _COLUMN_OF.get(parts.stem)

    def recognised(self, cells: Iterable[str]) -> int:
        """How many of the cells are headings known here: what the search for the heading row counts."""
        return sum(1 for cell in cells if cell and self._is_known(cell))

    def _is_known(self, cell: str) -> bool:
        known = self._known.get(cell)
        if known is None:
            known = (self.design_input(cell) or self.column(cell)) is not None
            if len(self._known) < 10_000:
                self._known[cell] = known
        return known
