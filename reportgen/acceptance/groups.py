"""Which specimens are judged together: the declared partition, one value per specimen, nothing silently dropped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from reportgen.acceptance.records import SetAside, SpecimenValue
from reportgen.problems import Place
from reportgen.project.records import DesignInput, Lot, PlannedGroup, Protocol

Rows = Sequence[Mapping[str, object]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Specimens judged together. `values` holds one entry per valid specimen with a result.

    `missing` are specimens listed without a result; `accounted` of them are named by a deviation. `readings` counts
    the rows that were folded into one value because they belong to one specimen.
    """

    label: str
    n_planned: int
    values: tuple[SpecimenValue, ...]
    set_aside: tuple[SetAside, ...]
    missing: tuple[str, ...]
    accounted: int
    readings_folded: int
    filed_values: tuple[str, ...]
    filed_units: tuple[str, ...]

    @property
    def lots(self) -> tuple[str, ...]:
        return tuple(sorted({value.lot for value in self.values}))

    def by_lot(self) -> Iterator[Group]:
        """The same group cut into its lots, each under a label of its own; planned counts stay with the whole."""
        for lot in self.lots:
            yield self.only(lot)

    def only(self, lot: str) -> Group:
        return replace(
            self,
            label=f"{self.label}-{lot}" if self.label else lot,
            values=tuple(value for value in self.values if value.lot == lot),
            set_aside=tuple(entry for entry in self.set_aside if entry.lot == lot),
        )

    def numbers(self) -> np.ndarray:
        """The exact values as an array, in the design input's unit."""
        return np.array([value.value for value in self.values if value.value is not None], dtype=float)

    def numbers_by_lot(self) -> tuple[np.ndarray, ...]:
        return tuple(self.only(lot).numbers() for lot in self.lots)


def groups_of(
    rows: pd.DataFrame, *, protocol: Protocol, design_input: DesignInput, lots: Mapping[tuple[str, str], Lot]
) -> tuple[Group, ...]:
    """The groups in which a protocol judges a design input, in the order of their labels.

    Args:
        rows: rows of the table of measurements for this protocol and design input (columns of lab.records.COLUMNS).
        lots: the lot register by (lot, condition).
    """
    dimensions = (*protocol.analysis_plan.evaluate_by, *(("lot",) if _is_by_lot(protocol) else ()))
    planned: dict[tuple[str, ...], list[PlannedGroup]] = {}
    for plan in protocol.sampling.groups:
        planned.setdefault(_planned_key(plan, dimensions, lots), []).append(plan)
    measured: dict[tuple[str, ...], list[Mapping[str, object]]] = {}
    records: list[Mapping[str, object]] = [
        {str(name): cell for name, cell in row.items()} for row in rows.to_dict("records")
    ]
    for row in records:
        measured.setdefault(tuple(str(row[name]) for name in dimensions), []).append(row)
    excused = {specimen for deviation in protocol.deviations for specimen in deviation.specimens}
    keys = sorted({*planned, *measured})
    return tuple(
        _group(
            "-".join(part for part in key if part),
            measured.get(key, []),
            sum(plan.n for plan in planned.get(key, [])),
            design_input,
            excused,
        )
        for key in keys
    )


def _is_by_lot(protocol: Protocol) -> bool:
    return protocol.analysis_plan.lots.value == "each_lot"


def _planned_key(
    plan: PlannedGroup, dimensions: tuple[str, ...], lots: Mapping[tuple[str, str], Lot]
) -> tuple[str, ...]:
    lot = lots.get((plan.lot, plan.condition))
    known = {"lot": plan.lot, "condition": plan.condition, "model": lot.model if lot else ""}
    return tuple(known[name] for name in dimensions)


def _group(label: str, rows: Rows, n_planned: int, design_input: DesignInput, excused: set[str]) -> Group:
    set_aside = tuple(_set_aside(row) for row in rows if row["excluded"])
    tested = [row for row in rows if not row["excluded"] and not row["missing"]]
    by_specimen: dict[tuple[str, str, str], list[Mapping[str, object]]] = {}
    for row in tested:
        by_specimen.setdefault(_device(row), []).append(row)
    values = tuple(_worst(readings, design_input) for readings in by_specimen.values())
    missing = tuple(
        str(row["specimen"])
        for row in rows
        if row["missing"] and not row["excluded"] and _device(row) not in by_specimen
    )
    return Group(
        label=label,
        n_planned=n_planned,
        values=values,
        set_aside=set_aside,
        missing=missing,
        accounted=sum(specimen in excused for specimen in missing),
        readings_folded=len(tested) - len(values),
        filed_values=tuple(str(row["filed_value"]) for row in tested),
        filed_units=tuple(sorted({str(row["filed_unit"]) for row in tested})),
    )


def _device(row: Mapping[str, object]) -> tuple[str, str, str]:
    """What tells one device from another: labs number each lot from 1, so a number alone does not."""
    return str(row["lot"]), str(row["condition"]), str(row["specimen"])


def _worst(readings: Rows, design_input: DesignInput) -> SpecimenValue:
    """One specimen, one value: of several readings the one nearest to failing stands for the device."""
    chosen = max(readings, key=lambda row: _badness(row, design_input)) if len(readings) > 1 else readings[0]
    value = float(str(chosen["value"]))
    conforming = float(str(chosen["conforming"]))
    return SpecimenValue(
        specimen=str(chosen["specimen"]),
        lot=str(chosen["lot"]),
        model=str(chosen["model"]),
        condition=str(chosen["condition"]),
        value=None if np.isnan(value) else value,
        conforming=None if np.isnan(conforming) else bool(conforming),
        censored=str(chosen["censored"]),
        failure_mode=str(chosen["failure_mode"]),
        place=_place(chosen),
    )


def _badness(row: Mapping[str, object], design_input: DesignInput) -> float:
    conforming = float(str(row["conforming"]))
    if not np.isnan(conforming):
        return -conforming
    value = float(str(row["value"]))
    below = -np.inf if design_input.lower_limit is None else design_input.lower_limit - value
    above = -np.inf if design_input.upper_limit is None else value - design_input.upper_limit
    return float(max(below, above))


def _set_aside(row: Mapping[str, object]) -> SetAside:
    return SetAside(
        specimen=str(row["specimen"]),
        lot=str(row["lot"]),
        condition=str(row["condition"]),
        filed_value=f"{row['filed_value']} {row['filed_unit']}".strip(),
        cause=str(row["cause"]),
        failure_mode=str(row["failure_mode"]),
        place=_place(row),
    )


def _place(row: Mapping[str, object]) -> Place:
    return Place(str(row["file"]), row=int(str(row["row"])), sheet=str(row["sheet"]) or None)
