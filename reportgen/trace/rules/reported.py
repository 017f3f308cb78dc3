"""Statistics that somebody else printed: the raw data behind them are here, and give the same numbers."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator

from reportgen.project.records import Protocol, ReportedSummary
from reportgen.quantities import convert, same_kind
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import listed

PRINTED = ("mean", "sd", "minimum", "maximum")


def _summaries(evidence: Evidence) -> Iterator[tuple[Protocol, ReportedSummary, list[float | None]]]:
    """Each reported summary with the values that it is about; attributes and blanks are None."""
    for protocol in evidence.project.protocols:
        for summary in protocol.reported:
            chosen = [
                value.value
                for evaluation in evidence.evaluations_of.get(protocol.id, ())
                if evaluation.design_input == summary.design_input
                for value in evaluation.values
                if summary.lot in ("", value.lot)
                and summary.condition in ("", value.condition)
                and summary.model in ("", value.model)
            ]
            yield protocol, summary, chosen


def _group(summary: ReportedSummary) -> str:
    words = [word for word in (summary.lot, summary.condition, summary.model) if word]
    return f"{summary.design_input} ({', '.join(words)})" if words else summary.design_input


@rule("summary-without-raw-data", severity=Severity.BLOCKER)
def without_raw_data(evidence: Evidence) -> Iterator[Hole]:
    """Mean, spread or extremes from elsewhere for which no single value is on file.

    Why: nobody can check such a summary, nor see what was left out of it; all data points are expected.
    Source: FDA bench performance guidance, 2019 (all data points, not only summaries); ISO/IEC 17025:2017, 7.5.
    """
    for protocol, summary, values in _summaries(evidence):
        if not values:
            yield Hole(
                records=(protocol.id, summary.design_input),
                place=summary.at("source"),
                message=f"{protocol.id} has statistics of {_group(summary)} from {summary.source}, but no single "
                "value behind them.",
                remedy="Get the raw values from whoever made the summary and name their file under `results`, or "
                "remove the summary: it shows nothing by itself.",
            )


@rule("reported-statistic-differs", severity=Severity.BLOCKER)
def differs(evidence: Evidence) -> Iterator[Hole]:
    """A statistic that another report prints and that its own raw data do not give, to the last printed digit.

    Why: two numbers for one thing in one submission; one of them was made from other data.
    Source: ISO/IEC 17025:2017, 7.5 and 7.11 (records, transfer of data); common practice, no source.
    """
    for protocol, summary, values in _summaries(evidence):
        differences = list(_differences(evidence, summary, values)) if values else []
        if differences:
            yield Hole(
                records=(protocol.id, summary.design_input),
                place=summary.at("source"),
                message=f"Statistics of {_group(summary)} in {summary.source} are not those of the values of "
                f"{protocol.id}: {listed(differences)}.",
                remedy="Find out which values the other report counted (specimens set aside, a reading for each "
                "device, units), and correct the report or the group named here.",
            )


def _differences(evidence: Evidence, summary: ReportedSummary, values: list[float | None]) -> Iterator[str]:
    own = evidence.design_inputs[summary.design_input].unit or ""
    unit = summary.unit or own
    if summary.n is not None and summary.n != len(values):
        yield f"n = {summary.n} against {len(values)}"
    if unit != own and not (own and same_kind(unit, own)):
        yield f"unit {unit!r} against {own!r}"
        return
    measured = [value for value in values if value is not None]
    numbers = [value if unit == own else convert(value, from_unit=own, to_unit=unit) for value in measured]
    for name, computed in _computed(numbers).items():
        printed = getattr(summary, name)
        if printed is not None and not _same(printed, computed):
            yield f"{name} {printed} against {computed:.6g} {unit}".rstrip()


def _computed(numbers: list[float]) -> dict[str, float]:
    if not numbers:
        return {}
    found = {"mean": statistics.fmean(numbers), "minimum": min(numbers), "maximum": max(numbers)}
    return found | ({"sd": statistics.stdev(numbers)} if len(numbers) > 1 else {})


def _same(printed: str, computed: float) -> bool:
    """Whether a printed number is the computed one to within half a unit of its last digit."""
    decimals = len(printed.partition(".")[2])
    return math.isclose(float(printed), computed, rel_tol=1e-12, abs_tol=0.5 * 10.0**-decimals * (1 + 1e-9))
