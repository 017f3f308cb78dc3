"""How many specimens were planned, tested, valid, set aside and are left: counted in one place for every answer."""

from __future__ import annotations

from collections.abc import Iterable

from reportgen.acceptance.records import Evaluation
from reportgen.compose.records import SpecimenCounts


def specimen_counts(evaluations: Iterable[Evaluation]) -> SpecimenCounts:
    """The counts over some evaluations; all 0 over none."""
    every = tuple(evaluations)
    valid, set_aside = sum(one.n for one in every), sum(one.n_set_aside for one in every)
    return SpecimenCounts(
        planned=sum(one.n_planned for one in every),
        tested=valid + set_aside,
        valid=valid,
        set_aside=set_aside,
        left=sum(one.n_missing for one in every),
    )


def counts_sentence(counts: SpecimenCounts) -> str:
    """'12 of 30 tested, 12 valid, 0 set aside'; what is left is told only where something is."""
    left = f", {counts.left} left" if counts.left else ""
    return f"{counts.tested} of {counts.planned} tested, {counts.valid} valid, {counts.set_aside} set aside{left}"


def counts_data(counts: SpecimenCounts) -> dict[str, int]:
    """The counts under the names that JSON answers use."""
    return {
        "n_planned": counts.planned,
        "n_tested": counts.tested,
        "n_valid": counts.valid,
        "n_set_aside": counts.set_aside,
        "n_missing": counts.left,
    }
