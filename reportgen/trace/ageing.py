"""How old an aged lot stands for: the Q10 relation of accelerated aging."""

from __future__ import annotations

from dataclasses import dataclass

from reportgen.project.records import Lot

# A shelf life in months is held against days by the year of 365 days that accelerated-ageing plans use.
DAYS_PER_MONTH = 365.0 / 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ageing:
    """`factor` is 1 for real time; `equivalent_days` is chamber time times factor."""

    chamber_days: float
    factor: float
    equivalent_days: float
    is_real_time: bool


def ageing_factor(*, q10: float, ageing_temperature_c: float, storage_temperature_c: float) -> float:
    """Q10 to the power (ageing temperature - storage temperature) / 10.

    Source: the relation of ASTM F1980; both temperatures in °C, q10 above 1 (chosen and justified by the manufacturer).
    Checked: the pairs of tests/reference (Q10 of 1.8, 2 and 2.5; 50 to 60 °C) to the last printed digit.
    """
    if q10 <= 1:
        raise ValueError(f"q10 must be above 1, got {q10!r}")
    return float(q10 ** ((ageing_temperature_c - storage_temperature_c) / 10.0))


def ageing_of(lot: Lot) -> Ageing | None:
    """What the lot's row says about its ageing; None when it does not say enough to tell an equivalent age."""
    if lot.ageing_days is None:
        return None
    hot, stored = lot.ageing_temperature_c, lot.storage_temperature_c
    if (hot is None and lot.q10 is None) or (hot is not None and hot == stored):
        return Ageing(chamber_days=lot.ageing_days, factor=1.0, equivalent_days=lot.ageing_days, is_real_time=True)
    if hot is None or stored is None or lot.q10 is None:
        return None
    factor = ageing_factor(q10=lot.q10, ageing_temperature_c=hot, storage_temperature_c=stored)
    return Ageing(
        chamber_days=lot.ageing_days,
        factor=factor,
        equivalent_days=lot.ageing_days * factor,
        is_real_time=False,
    )


def is_aged(lot: Lot) -> bool:
    """Whether the row speaks of an aged condition at all."""
    return bool(lot.ageing) or lot.ageing_days is not None
