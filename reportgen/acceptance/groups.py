"""Which specimens are judged together: the declared partition, one value per specimen, nothing silently dropped."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from reportgen.acceptance.records import SetAside, SpecimenValue, n_wholly_set_aside
from reportgen.acceptance.wording import decimals_of
from reportgen.problems import Place
from reportgen.project.records import DesignInput, Lot, PlannedGroup, Protocol


class Reading(NamedTuple):
    """A row of the table of measurements, as far as judging needs it."""

    specimen: str
    lot: str
    model: str
    condition: str
    filed_value: str
    filed_unit: str
    value: float
    conforming: float
    censored: str
    missing: bool
    excluded: bool
    cause: str
    failure_mode: str
    file: str
    sheet: str
    row: int


def readings_of(table: pd.DataFrame) -> list[Reading]:
    """All rows of the table, taken out column by column: row by row would cost many times more."""
    columns = [table[name].tolist() for name in Reading._fields]
    return [Reading._make(cells) for cells in zip(*columns, strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Specimens judged together. `values` holds one entry per valid specimen with a result.

    `missing` are specimens listed without a result; `accounted` of them are named by a deviation. `readings` counts
    the rows that were folded into one value because they belong to one specimen. `filed_decimals` are those of the
    finest filed value.
    """

    label: str
    n_planned: int
    values: tuple[SpecimenValue, ...]
    set_aside: tuple[SetAside, ...]
    missing: tuple[str, ...]
    accounted: int
    readings_folded: int
    filed_decimals: int
    filed_units: tuple[str, ...]

    @property
    def lots(self) -> tuple[str, ...]:
        return tuple(sorted({value.lot for value in self.values}))

    @property
    def n_set_aside(self) -> int:
        return n_wholly_set_aside(self.values, self.set_aside)

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
    readings: Iterable[Reading],
    *,
    protocol: Protocol,
    design_input: DesignInput,
    lots: Mapping[tuple[str, str], Lot],
) -> tuple[Group, ...]:
    """The groups in which a protocol judges a design input, in the order of their labels.

    Args:
        readings: those of this protocol and design input, in the order of filing.
        lots: the lot register by (lot, condition).
    """
    dimensions = (*protocol.analysis_plan.evaluate_by, *(("lot",) if _is_by_lot(protocol) else ()))
    planned: dict[tuple[str, ...], list[PlannedGroup]] = {}
    for plan in protocol.sampling.groups:
        planned.setdefault(_planned_key(plan, dimensions, lots), []).append(plan)
    measured: dict[tuple[str, ...], list[Reading]] = {}
    for reading in readings:
        measured.setdefault(tuple(getattr(reading, name) for name in dimensions), []).append(reading)
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


def _group(
    label: str, readings: Sequence[Reading], n_planned: int, design_input: DesignInput, excused: set[str]
) -> Group:
    set_aside = tuple(_set_aside(reading) for reading in readings if reading.excluded)
    tested = [reading for reading in readings if not reading.excluded and not reading.missing]
    by_device: dict[tuple[str, str, str], list[Reading]] = {}
    for reading in tested:
        by_device.setdefault(_device(reading), []).append(reading)
    values = tuple(_worst(own, design_input) for own in by_device.values())
    missing = {
        _device(reading): reading.specimen
        for reading in readings
        if reading.missing and not reading.excluded and _device(reading) not in by_device
    }
    return Group(
        label=label,
        n_planned=n_planned,
        values=values,
        set_aside=set_aside,
        missing=tuple(missing.values()),
        accounted=sum(specimen in excused for specimen in missing.values()),
        readings_folded=len(tested) - len(values),
        filed_decimals=max((decimals_of(reading.filed_value) for reading in tested), default=0),
        filed_units=tuple(sorted({reading.filed_unit for reading in tested})),
    )


def _device(reading: Reading) -> tuple[str, str, str]:
    """What tells one device from another: labs number each lot from 1, so a number alone does not."""
    return reading.lot, reading.condition, reading.specimen


def _worst(readings: Sequence[Reading], design_input: DesignInput) -> SpecimenValue:
    """One specimen, one value: of several readings the one nearest to failing stands for the device."""
    chosen = readings[0]
    if len(readings) > 1:
        chosen = max(readings, key=lambda reading: _badness(reading, design_input))
    return SpecimenValue(
        specimen=chosen.specimen,
        lot=chosen.lot,
        model=chosen.model,
        condition=chosen.condition,
        value=None if math.isnan(chosen.value) else chosen.value,
        conforming=None if math.isnan(chosen.conforming) else bool(chosen.conforming),
        censored=chosen.censored,
        failure_mode=chosen.failure_mode,
        place=_place(chosen),
    )


def _badness(reading: Reading, design_input: DesignInput) -> float:
    if not math.isnan(reading.conforming):
        return -reading.conforming
    below = -math.inf if design_input.lower_limit is None else design_input.lower_limit - reading.value
    above = -math.inf if design_input.upper_limit is None else reading.value - design_input.upper_limit
    return max(below, above)


def _set_aside(reading: Reading) -> SetAside:
    return SetAside(
        specimen=reading.specimen,
        lot=reading.lot,
        condition=reading.condition,
        filed_value=f"{reading.filed_value} {reading.filed_unit}".strip(),
        cause=reading.cause,
        failure_mode=reading.failure_mode,
        place=_place(reading),
        model=reading.model,
        value=None if reading.missing or math.isnan(reading.value) else reading.value,
        conforming=None if reading.missing or math.isnan(reading.conforming) else bool(reading.conforming),
        censored=reading.censored,
    )


def _place(reading: Reading) -> Place:
    return Place(reading.file, row=int(reading.row), sheet=reading.sheet or None)
