"""One specimen against the limits, by the declared rounding method."""

from __future__ import annotations

from reportgen.acceptance.cases import Case
from reportgen.acceptance.records import SpecimenValue


def is_outside(value: SpecimenValue, case: Case) -> bool:
    """Whether the specimen is certainly outside a limit. A value at the limit conforms.

    A censored value tells one side only: 'above' means at least the value, so it fails an upper limit when it is
    itself beyond it, and says nothing against a lower one.
    """
    if value.value is None:
        return value.conforming is False
    compared, (lower, upper) = case.as_compared(value.value), case.limits
    below = lower is not None and compared < lower and value.censored != "above"
    above = upper is not None and compared > upper and value.censored != "below"
    return below or above


def is_unclear(value: SpecimenValue, case: Case) -> bool:
    """Whether censoring leaves open on which side of a limit the specimen is."""
    if value.value is None or not value.censored or is_outside(value, case):
        return False
    compared, (lower, upper) = case.as_compared(value.value), case.limits
    if value.censored == "above":
        return (lower is not None and compared < lower) or upper is not None
    return (upper is not None and compared > upper) or lower is not None
