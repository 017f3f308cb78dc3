"""Which specimens are judged together: the declared partition, one value per specimen, nothing silently dropped."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain

import numpy as np

from reportgen.acceptance.columns import Columns
from reportgen.acceptance.records import SetAside, n_wholly_set_aside
from reportgen.acceptance.specimen_values import SpecimenValues
from reportgen.problems import Place
from reportgen.project.records import DesignInput, Lot, PlannedGroup, Protocol


@dataclass(frozen=True, kw_only=True)
class Group:
    """Specimens judged together. `values` holds one entry per valid specimen with a result.

    `missing` are specimens listed without a result; `accounted` of them are named by a deviation. `readings` counts
    the rows that were folded into one value because they belong to one specimen. `filed_decimals` are those of the
    finest filed value; `equipment` holds each set of ids filed with a value, joined by ';', '' where none was. Without
    slots, so that the lots are named once.
    """

    label: str
    n_planned: int
    values: SpecimenValues
    set_aside: tuple[SetAside, ...]
    missing: tuple[str, ...]
    accounted: int
    readings_folded: int
    filed_decimals: int
    filed_units: tuple[str, ...]
    equipment: tuple[str, ...] = ()

    @cached_property
    def lots(self) -> tuple[str, ...]:
        return tuple(sorted(set(self.values.column("lot").tolist())))

    @property
    def n_set_aside(self) -> int:
        return n_wholly_set_aside(self.values, self.set_aside)

    def only(self, lot: str) -> Group:
        """The part that is one lot, under a label of its own; the planned count stays with the whole."""
        return replace(
            self,
            label=f"{self.label}-{lot}" if self.label else lot,
            values=self.values_of(lot),
            set_aside=tuple(entry for entry in self.set_aside if entry.lot == lot),
        )

    def values_of(self, lot: str) -> SpecimenValues:
        if self.lots == (lot,):
            return self.values
        return self.values.where(self.values.column("lot") == lot)

    def numbers(self) -> np.ndarray:
        """The exact values as an array, in the design input's unit."""
        return self.values.numbers()

    def numbers_by_lot(self) -> tuple[np.ndarray, ...]:
        return tuple(self.values_of(lot).numbers() for lot in self.lots)

    def measured(self, name: str, *, by_lot: bool = False) -> tuple[str, ...]:
        """A text of each specimen that has a value, in the order of `numbers`, or of `numbers_by_lot` one by one."""
        parts = [self.values_of(lot) for lot in self.lots] if by_lot else [self.values]
        texts = (part.column(name)[~np.isnan(part.column("value"))].tolist() for part in parts)
        return tuple(chain.from_iterable(texts))


def groups_of(
    rows: np.ndarray,
    columns: Columns,
    *,
    protocol: Protocol,
    design_input: DesignInput,
    lots: Mapping[tuple[str, str], Lot],
) -> tuple[Group, ...]:
    """The groups in which a protocol judges a design input, in the order of its plan; unplanned ones after them.

    Args:
        rows: those of this protocol and design input, in the order of filing.
        lots: the lot register by (lot, condition).
    """
    dimensions = (*protocol.analysis_plan.evaluate_by, *(("lot",) if _is_by_lot(protocol) else ()))
    planned: dict[tuple[str, ...], list[PlannedGroup]] = {}
    for plan in protocol.sampling.groups:
        planned.setdefault(_planned_key(plan, dimensions, lots), []).append(plan)
    measured = dict(columns.parted(rows, dimensions))
    excused = {specimen for deviation in protocol.deviations for specimen in deviation.specimens}
    nothing = rows[:0]
    return tuple(
        _group(
            "-".join(part for part in key if part),
            measured.get(key, nothing),
            columns,
            sum(plan.n for plan in planned.get(key, [])),
            design_input,
            excused,
        )
        for key in dict.fromkeys((*planned, *sorted(measured)))
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
    label: str, rows: np.ndarray, columns: Columns, n_planned: int, design_input: DesignInput, excused: set[str]
) -> Group:
    plain = columns.is_plain(rows)
    tested = rows if plain else rows[~columns["excluded"][rows] & ~columns["missing"][rows]]
    kept = tested if plain else _one_each(tested, columns, design_input)
    missing = () if plain else _missing(rows, tested, columns)
    return Group(
        label=label,
        n_planned=n_planned,
        values=SpecimenValues(columns, kept),
        set_aside=() if plain else tuple(_set_aside(at, columns) for at in rows[columns["excluded"][rows]].tolist()),
        missing=missing,
        accounted=sum(specimen in excused for specimen in missing),
        readings_folded=len(tested) - len(kept),
        filed_decimals=int(columns["filed_decimals"][tested].max(initial=0)),
        filed_units=tuple(sorted(set(columns["filed_unit"][tested].tolist()))),
        equipment=tuple(sorted(set(columns["equipment"][tested].tolist()))),
    )


def _one_each(tested: np.ndarray, columns: Columns, design_input: DesignInput) -> np.ndarray:
    """One specimen, one value: of several readings the one nearest to failing stands for the device."""
    by_device: dict[int, list[int]] = {}
    for at, device in zip(tested.tolist(), columns["device"][tested].tolist(), strict=True):
        by_device.setdefault(device, []).append(at)
    if len(by_device) == len(tested):
        return tested
    return np.array(
        [max(own, key=lambda at: _badness(at, columns, design_input)) for own in by_device.values()], dtype=np.intp
    )


def _badness(at: int, columns: Columns, design_input: DesignInput) -> float:
    value, conforming = float(columns["value"][at]), float(columns["conforming"][at])
    if not math.isnan(conforming):
        return -conforming
    below = -math.inf if design_input.lower_limit is None else design_input.lower_limit - value
    above = -math.inf if design_input.upper_limit is None else value - design_input.upper_limit
    return max(below, above)


def _missing(rows: np.ndarray, tested: np.ndarray, columns: Columns) -> tuple[str, ...]:
    """Devices listed without a result, each once, of which no other row has one."""
    devices = columns["device"]
    open_rows = rows[columns["missing"][rows] & ~columns["excluded"][rows]]
    open_rows = open_rows[~np.isin(devices[open_rows], devices[tested])]
    names = dict(zip(devices[open_rows].tolist(), columns["specimen"][open_rows].tolist(), strict=True))
    return tuple(names.values())


def _set_aside(at: int, columns: Columns) -> SetAside:
    names = ("specimen", "lot", "model", "condition", "censored", "cause", "failure_mode")
    told = {name: str(columns[name][at]) for name in names}
    value, conforming = (math.nan if columns["missing"][at] else float(columns[n][at]) for n in ("value", "conforming"))
    return SetAside(
        **told,
        filed_value=f"{columns['filed_value'][at]} {columns['filed_unit'][at]}".strip(),
        place=Place(columns["file"][at], row=int(columns["row"][at]), sheet=columns["sheet"][at] or None),
        value=None if math.isnan(value) else value,
        conforming=None if math.isnan(conforming) else bool(conforming),
    )
