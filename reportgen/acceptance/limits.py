"""The specimens of a group against the limits, by the declared rounding method."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reportgen.acceptance.cases import Case

Mask = NDArray[np.bool_]


def outside(case: Case) -> Mask:
    """Which specimens are certainly outside a limit. A value at the limit conforms.

    A censored value tells one side only: 'above' means at least the value, so it fails an upper limit when it is
    itself beyond it, and says nothing against a lower one.
    """
    values = case.group.values
    below, above = _beyond(case)
    if (below | above).any():
        censored = values.column("censored")
        below, above = below & (censored != "above"), above & (censored != "below")
    failing = np.isnan(values.column("value")) & (values.column("conforming") == 0.0)
    return np.asarray(below | above | failing)


def unclear(case: Case) -> Mask:
    """Of which specimens censoring leaves open on which side of a limit they are."""
    censored = case.group.values.column("censored")
    if not any(censored.tolist()):
        return np.zeros(len(censored), dtype=bool)
    (below, above), (lower, upper) = _beyond(case), case.limits
    open_above = (censored == "above") & (below | (upper is not None))
    open_below = (censored == "below") & (above | (lower is not None))
    known = ~np.isnan(case.group.values.column("value"))
    return np.asarray((open_above | open_below) & known & ~outside(case))


def _beyond(case: Case) -> tuple[Mask, Mask]:
    """Which values, as the declared rounding compares them, are below the lower and above the upper limit."""
    values, (lower, upper) = case.as_compared(case.group.values.column("value")), case.limits
    none = np.zeros(values.shape, dtype=bool)
    return none if lower is None else values < lower, none if upper is None else values > upper
