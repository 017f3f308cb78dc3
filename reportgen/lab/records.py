"""What the bench wrote: measurements as one long table, and force-displacement records."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from reportgen.problems import Place
from reportgen.project.records import SourceFile

if TYPE_CHECKING:
    from reportgen.stats import Reduction

# The columns of a table of measurements: one row per specimen and characteristic reading. Texts are "" when not filed.
COLUMNS: dict[str, str] = {
    "protocol": "id of the protocol whose result file holds the row",
    "design_input": "id of the design input that the value answers",
    "specimen": "text, leading zeros kept",
    "lot": "text",
    "model": "text, from the file or from the lot register",
    "condition": "text, from the file or from the lot register",
    "filed_value": "the cell as filed, text, with the decimals that a workbook shows; where only a trace was filed, "
    "the reduced value as finely as the record shows force",
    "filed_unit": "the unit as filed, text; '' for attributes",
    "value": "float, the filed value converted once to the design input's unit; NaN when missing or attribute",
    "value_si": "float, the same in the SI unit of its kind; NaN likewise",
    "conforming": "1.0 conforming, 0.0 failing (attribute results); NaN for variables and missing ones",
    "censored": "'' exact; 'above': the true value is at least `value`; 'below': at most",
    "missing": "bool: planned but without a result (blank, or a code the protocol declares to mean missing)",
    "excluded": "bool: set aside by the lab",
    "cause": "recorded cause of exclusion, text",
    "failure_mode": "code of the method's register, text",
    "operator": "text",
    "tested_on": "ISO date as text, '' when not filed",
    "equipment": "ids joined by ';'",
    "method_revision": "text, '' when not filed",
    "note": "text",
    "trace": "path of the force-displacement record the value was reduced from, '' when none",
    "file": "path relative to the project folder",
    "sheet": "name, '' for text files",
    "row": "int, counted from 1 as a person sees it",
    "sha256": "fingerprint of the file",
}


@dataclass(frozen=True, slots=True)
class Guess:
    """Something the reader decided because nothing was declared: said aloud in `check` and in the report."""

    place: Place
    what: str


# What rows must share to stand in one batch: columns whose few values a reader compares, never a specimen's own.
BATCH_COLUMNS = (
    "protocol",
    "design_input",
    "lot",
    "model",
    "condition",
    "operator",
    "tested_on",
    "equipment",
    "method_revision",
    "failure_mode",
    "filed_unit",
    "missing",
    "excluded",
    "file",
    "sheet",
)


_KINDS: dict[str, type] = {"missing": bool, "excluded": bool}


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Rows that agree in every column of BATCH_COLUMNS: how many, where the first stands, between which values.

    `lowest` and `highest` are in the design input's unit, None when no row has a number.
    """

    protocol: str
    design_input: str
    lot: str
    model: str
    condition: str
    operator: str
    tested_on: str
    equipment: str
    method_revision: str
    failure_mode: str
    filed_unit: str
    missing: bool
    excluded: bool
    file: str
    sheet: str
    row: int
    n: int
    lowest: float | None
    highest: float | None

    @property
    def place(self) -> Place:
        return Place(self.file, row=self.row, sheet=self.sheet or None)

    @property
    def counts(self) -> bool:
        """Whether its rows have a result that the lab did not set aside."""
        return not self.missing and not self.excluded


# joined codes of more columns than this are numbered anew, so that they stay within 64 bits
_MOST_JOINED = 2**40


@dataclass(frozen=True, slots=True)
class Measurements:
    """The long table. It is never changed in place: every selection is a new object.

    `table` has exactly the columns of COLUMNS. `guesses` tells what was assumed while reading.
    """

    table: pd.DataFrame
    guesses: tuple[Guess, ...] = ()
    _coded: dict[tuple[str, ...], np.ndarray] = field(default_factory=dict, init=False, repr=False, compare=False)
    _texts: dict[str, np.ndarray] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __len__(self) -> int:
        return len(self.table)

    def of(self, **equal: str) -> Measurements:
        """The rows whose columns equal the given texts."""
        chosen = np.ones(len(self.table), dtype=bool)
        for column, wanted in equal.items():
            chosen &= (self.table[column] == wanted).to_numpy()
        return Measurements(self.table[chosen], self.guesses)

    def batches(self) -> tuple[Batch, ...]:
        """The whole table in few records, in the order of first appearance: what rules compare without its rows."""
        if self.table.empty:
            return ()
        codes = self.codes(*BATCH_COLUMNS)
        order = np.argsort(codes, kind="stable")
        starts = np.flatnonzero(np.diff(codes[order], prepend=-1))
        values = self.table["value"].to_numpy(dtype=float)[order]
        lowest, highest = np.fmin.reduceat(values, starts), np.fmax.reduceat(values, starts)
        sizes = np.diff(starts, append=len(codes))
        first = order[starts]
        cells = [
            *(self.table[name].iloc[first].astype(_KINDS.get(name, str)).tolist() for name in BATCH_COLUMNS),
            self.table["row"].iloc[first].tolist(),
            sizes.tolist(),
            [None if math.isnan(low) else low for low in lowest.tolist()],
            [None if math.isnan(high) else high for high in highest.tolist()],
        ]
        names = (*BATCH_COLUMNS, "row", "n", "lowest", "highest")
        return tuple(Batch(**dict(zip(names, of_one, strict=True))) for of_one in zip(*cells, strict=True))

    def where(self, *, missing: bool | None = None, excluded: bool | None = None) -> Measurements:
        """The rows that are, or are not, missing or excluded; None leaves the question open."""
        chosen = np.ones(len(self.table), dtype=bool)
        if missing is not None:
            chosen &= self.table["missing"].to_numpy(dtype=bool) == missing
        if excluded is not None:
            chosen &= self.table["excluded"].to_numpy(dtype=bool) == excluded
        if chosen.all():
            return self
        return Measurements(self.table[chosen], self.guesses)

    def repeated(self, *columns: str) -> Measurements:
        """The rows whose combination of these columns occurs in more than one row."""
        if self.table.empty:
            return self
        codes = self.codes(*columns)
        return Measurements(self.table[np.bincount(codes)[codes] > 1], self.guesses)

    def spread_over(self, column: str, *, within: tuple[str, ...]) -> Measurements:
        """The rows whose combination of the columns `within` occurs with more than one value of `column`."""
        if self.table.empty:
            return self
        groups, both = self.codes(*within), self.codes(*within, column)
        first_of_both = np.unique(both, return_index=True)[1]
        values_per_group = np.bincount(groups[first_of_both], minlength=int(groups.max()) + 1)
        return Measurements(self.table[values_per_group[groups] > 1], self.guesses)

    def rows(self, *columns: str) -> Iterator[tuple[tuple[str, ...], Place]]:
        """The texts of these columns row by row, each with its place. Meant for small selections."""
        chosen = self.table[[*columns, "file", "sheet", "row"]]
        for *texts, file, sheet, row in chosen.itertuples(index=False, name=None):
            yield tuple(str(text) for text in texts), Place(str(file), row=int(row), sheet=str(sheet) or None)

    def count_distinct(self, column: str, *, by: tuple[str, ...]) -> dict[tuple[str, ...], int]:
        """How many different values of `column` occur with each combination of the columns `by`."""
        if self.table.empty:
            return {}
        groups, both = self.codes(*by), self.codes(*by, column)
        first_of_both = np.unique(both, return_index=True)[1]
        counts = np.bincount(groups[first_of_both], minlength=int(groups.max()) + 1)
        return dict(zip(self.combinations(*by), counts.tolist(), strict=True))

    def combinations(self, *columns: str) -> tuple[tuple[str, ...], ...]:
        """Each combination of these columns once, in the order of first appearance."""
        if self.table.empty:
            return ()
        first = np.unique(self.codes(*columns), return_index=True)[1]
        lists = [[str(cell) for cell in self.table[name].iloc[first].tolist()] for name in columns]
        return tuple(zip(*lists, strict=True))

    def distinct_texts(self, column: str) -> np.ndarray:
        """The different texts of a column, in the order of first appearance: what `codes` of it point into."""
        self.codes(column)
        return self._texts[column]

    def codes(self, *columns: str) -> np.ndarray:
        """One small integer per row, equal where all the columns are equal, numbered by first appearance.

        Kept once computed, as every step asks for the same few.
        """
        known = self._coded.get(columns)
        if known is None:
            known = self._one_column(*columns) if len(columns) == 1 else self._several_columns(columns)
            self._coded[columns] = known
        return known

    def _one_column(self, column: str) -> np.ndarray:
        kept = self.table[column].array
        if isinstance(kept, pd.Categorical):
            codes, found = pd.factorize(kept.codes)
            self._texts[column] = np.asarray(kept.categories, dtype=object)[found]
            return codes.astype(np.int64)
        codes, distinct = pd.factorize(self.table[column], use_na_sentinel=False)
        self._texts[column] = np.asarray(distinct, dtype=object)
        return np.asarray(codes, dtype=np.int64)

    def _several_columns(self, columns: tuple[str, ...]) -> np.ndarray:
        joined = np.zeros(len(self.table), dtype=np.int64)
        different = 1
        for column in columns:
            codes, n = self.codes(column), len(self.distinct_texts(column))
            if n > 1:
                if different * n > _MOST_JOINED:
                    joined, found = pd.factorize(joined)
                    joined, different = joined.astype(np.int64), len(found)
                joined = joined * n + codes
                different *= n
        return pd.factorize(joined)[0].astype(np.int64)

    def place_of(self, position: int) -> Place:
        """The place of the row at this position of the table."""
        row = self.table.iloc[position]
        return Place(str(row["file"]), row=int(row["row"]), sheet=str(row["sheet"]) or None)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One force-displacement record, in N and mm, with the offset of force and the slack taken away.

    A long record is kept thinned for its figure: lowest and highest force of each stretch, and every point that is
    marked. Positions in a `Reduction` count the points as recorded: take forces and displacements from it, not indices.
    `time_s` is None when not filed or not kept.
    """

    protocol: str
    specimen: str
    displacement_mm: np.ndarray
    force_n: np.ndarray
    time_s: np.ndarray | None
    place: Place
    sha256: str


class Quality(StrEnum):
    """What can be remarkable in a trace; each becomes a finding with its number."""

    NO_DROP = "no-drop-found"
    SATURATED = "force-flat-at-capacity"
    FEW_POINTS = "few-points-near-peak"
    COARSE_SAMPLING = "sampling-coarse-for-the-rate"
    RATE = "pull-rate-outside-method"
    SHORT_TRAVEL = "travel-shorter-than-method"
    NOT_MONOTONE = "displacement-goes-back"
    OFFSET = "force-offset-at-start"
    SENSITIVE = "value-sensitive-to-drop-threshold"
    FILED_DIFFERS = "filed-value-differs-from-trace"


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRemark:
    kind: Quality
    number: float
    unit: str
    message: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class ReducedTrace:
    """A trace with what the method's rule made of it. `force_decimals`: with which the value is filed, in N."""

    trace: Trace
    reduction: Reduction
    baseline_n: float
    slack_mm: float
    smoothing_effect_n: float
    stiffness_n_per_mm: float | None
    work_to_drop_mj: float
    pull_rate_mm_per_min: float | None
    remarks: tuple[TraceRemark, ...] = field(default=())
    force_decimals: int = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class LabReading:
    """All that was read from the bench: measurements (values of reduced traces among them), traces, fingerprints."""

    measurements: Measurements
    reduced: tuple[ReducedTrace, ...]
    sources: tuple[SourceFile, ...]
