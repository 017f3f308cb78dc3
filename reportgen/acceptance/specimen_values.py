"""The specimens of an evaluation as columns, and as records when somebody looks at one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np

from reportgen.problems import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenValue:
    """One specimen's part in an evaluation. `value` is in the evaluation's unit; None for attributes and blanks."""

    specimen: str
    lot: str
    model: str
    condition: str
    value: float | None
    conforming: bool | None
    censored: str
    failure_mode: str
    place: Place


class SpecimenValues(Sequence[SpecimenValue]):
    """The specimens of an evaluation, kept as columns: they become records when somebody looks at one.

    Most are counted, compared and fitted and never looked at singly; a large project has hundreds of thousands.
    """

    __slots__ = ("_columns", "_kept", "_numbers", "_records", "_rows")

    def __init__(self, columns: Mapping[str, np.ndarray], rows: np.ndarray) -> None:
        """Args: columns: by the names of VALUE_COLUMNS, whole; rows: the positions in them that are meant."""
        self._columns, self._rows = columns, rows
        self._records: tuple[SpecimenValue, ...] | None = None
        self._numbers: np.ndarray | None = None
        self._kept: dict[str, np.ndarray] = {}

    @classmethod
    def of(cls, values: Sequence[SpecimenValue]) -> SpecimenValues:
        """The same values as columns, where they are records."""
        if isinstance(values, cls):
            return values
        kept: dict[str, list[object]] = {
            name: [getattr(value, name) for value in values]
            for name in ("specimen", "lot", "model", "condition", "censored", "failure_mode")
        }
        columns = {name: np.array(texts, dtype=object) for name, texts in kept.items()}
        columns["value"] = np.array([np.nan if v.value is None else v.value for v in values], dtype=float)
        columns["conforming"] = np.array([np.nan if v.conforming is None else v.conforming for v in values], float)
        made = cls(columns, np.arange(len(values)))
        made._records = tuple(values)
        return made

    def column(self, name: str) -> np.ndarray:
        """One of VALUE_COLUMNS, specimen by specimen, not to be changed; a value or conformance that is not is NaN."""
        found = self._kept.get(name)
        if found is None:
            found = np.asarray(self._columns[name][self._rows])
            if name in _OFTEN_ASKED_FOR:
                self._kept[name] = found
        return found

    def numbers(self) -> np.ndarray:
        """The values that there are, in the evaluation's unit; not to be changed."""
        if self._numbers is None:
            values = self.column("value")
            missing = np.isnan(values)
            self._numbers = values[~missing] if missing.any() else values
            self._numbers.flags.writeable = False
        return self._numbers

    def where(self, chosen: np.ndarray) -> SpecimenValues:
        """Those for which `chosen` holds."""
        if chosen.all():
            return self
        made = SpecimenValues(self._columns, self._rows[chosen])
        if self._records is not None:
            made._records = tuple(value for value, is_meant in zip(self._records, chosen, strict=True) if is_meant)
        return made

    def single(self, position: int) -> SpecimenValue:
        """The one at this position, without making records of all."""
        if self._records is not None:
            return self._records[position]
        row = self._rows[position]
        return _specimen_value(*(self._columns[name][row : row + 1].tolist()[0] for name in VALUE_COLUMNS))

    @property
    def rows(self) -> np.ndarray:
        """The positions in the columns."""
        return self._rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, position: int) -> SpecimenValue: ...
    @overload
    def __getitem__(self, position: slice) -> tuple[SpecimenValue, ...]: ...
    def __getitem__(self, position: int | slice) -> SpecimenValue | tuple[SpecimenValue, ...]:
        return self._all()[position]

    def __iter__(self) -> Iterator[SpecimenValue]:
        return iter(self._all())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._all() == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all())

    def __repr__(self) -> str:
        return repr(self._all())

    def _all(self) -> tuple[SpecimenValue, ...]:
        if self._records is None:
            lists = [self.column(name).tolist() for name in VALUE_COLUMNS]
            self._records = tuple(_specimen_value(*cells) for cells in zip(*lists, strict=True))
        return self._records


VALUE_COLUMNS = (
    *("specimen", "lot", "model", "condition", "value", "conforming", "censored", "failure_mode"),
    *("file", "sheet", "row"),
)


_OFTEN_ASKED_FOR = frozenset(("lot", "model", "condition", "value", "conforming", "censored"))


def _specimen_value(
    specimen: str,
    lot: str,
    model: str,
    condition: str,
    value: float,
    conforming: float,
    censored: str,
    failure_mode: str,
    file: str,
    sheet: str,
    row: int,
) -> SpecimenValue:
    return SpecimenValue(
        specimen=specimen,
        lot=lot,
        model=model,
        condition=condition,
        value=None if math.isnan(value) else value,
        conforming=None if math.isnan(conforming) else bool(conforming),
        censored=censored,
        failure_mode=failure_mode,
        place=Place(file, row=row, sheet=sheet or None),
    )
