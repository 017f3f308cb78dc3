"""What the functions of this package answer with: frozen, named, echoing what they were computed from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Side = Literal["lower", "upper", "both"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A statistical tolerance interval, in the unit of the values it was computed from.

    `lower` or `upper` is None on an open side; `k` is None where the method has no factor. `method` says in words
    how it was computed and whether that is exact. `achieved_confidence` is given by the distribution-free method,
    whose confidence moves in steps. `parameters` holds what else the method estimated, as (name, value) pairs.
    """

    lower: float | None
    upper: float | None
    k: float | None
    n: int
    mean: float
    sd: float
    confidence: float
    coverage: float
    side: Side
    method: str
    achieved_confidence: float | None = None
    parameters: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A test of an assumption: `p_value` is None where the source gives none; `df` is empty where there is none."""

    name: str
    statistic: float
    p_value: float | None
    df: tuple[float, ...] = ()
    n: int
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlierCheck:
    """The most extreme value held against its critical value; `index` is its position in the data as given."""

    name: str
    statistic: float
    critical_value: float
    p_value: float
    index: int
    alpha: float
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PairComparison:
    """Two groups of a Games-Howell comparison, by position: `difference` is mean(first) - mean(second)."""

    first: int
    second: int
    difference: float
    statistic: float
    df: float
    p_value: float
    lower: float
    upper: float
    confidence: float
