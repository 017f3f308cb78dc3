"""What the bench wrote: measurements as one long table, and force-displacement records."""

from __future__ import annotations

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
    "filed_value": "the cell as filed, text",
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


@dataclass(frozen=True, slots=True)
class Measurements:
    """The long table. It is never changed in place: every selection is a new object.

    `table` has exactly the columns of COLUMNS. `guesses` tells what was assumed while reading.
    """

    table: pd.DataFrame
    guesses: tuple[Guess, ...] = ()

    def __len__(self) -> int:
        return len(self.table)

    def of(self, **equal: str) -> Measurements:
        """The rows whose columns equal the given texts."""
        chosen = np.ones(len(self.table), dtype=bool)
        for column, wanted in equal.items():
            chosen &= (self.table[column] == wanted).to_numpy()
        return Measurements(self.table[chosen], self.guesses)

    def distinct(self, *columns: str) -> Iterator[tuple[tuple[str, ...], int, Place]]:
        """Each combination that occurs in these columns, with the number of rows and the place of the first one."""
        if self.table.empty:
            return
        grouped = self.table.groupby(list(columns), sort=True, dropna=False)
        first = grouped[["file", "sheet", "row"]].first()
        sizes = grouped.size()
        for key, count, (file, sheet, row) in zip(
            sizes.index, sizes.to_numpy(), first.itertuples(index=False, name=None), strict=True
        ):
            parts = key if isinstance(key, tuple) else (key,)
            place = Place(str(file), row=int(row), sheet=str(sheet) or None)
            yield tuple(str(part) for part in parts), int(count), place

    def place_of(self, position: int) -> Place:
        """The place of the row at this position of the table."""
        row = self.table.iloc[position]
        return Place(str(row["file"]), row=int(row["row"]), sheet=str(row["sheet"]) or None)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One force-displacement record, in N and mm as the reduction wants them; `time_s` is None when not filed."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRemark:
    kind: Quality
    number: float
    unit: str
    message: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class ReducedTrace:
    """A trace with what the method's rule made of it."""

    trace: Trace
    reduction: Reduction
    baseline_n: float
    slack_mm: float
    smoothing_effect_n: float
    stiffness_n_per_mm: float | None
    work_to_drop_mj: float
    pull_rate_mm_per_min: float | None
    remarks: tuple[TraceRemark, ...] = field(default=())


@dataclass(frozen=True, slots=True, kw_only=True)
class LabReading:
    """All that was read from the bench: measurements (values of reduced traces among them), traces, fingerprints."""

    measurements: Measurements
    reduced: tuple[ReducedTrace, ...]
    sources: tuple[SourceFile, ...]
