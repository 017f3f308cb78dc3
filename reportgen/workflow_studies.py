"""The jobs beside a project, in order: read a small table, compute, and hand the answer on as plain data."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from reportgen.acceptance.single_interval import SingleInterval, interval_from_summary, interval_from_values
from reportgen.lab.studies import read_study
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.stats.records import Side

APPROACHES = ("normal", "lognormal", "weibull", "box_cox", "distribution_free", "between_lot")


def interval_of_file(
    path: Path,
    *,
    column: str,
    group: str | None,
    sheet: str | None,
    approach: str,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> dict[str, object]:
    """The interval of one column. Raises: UnreadableInput for the file, its cells, or a sample that gives none."""
    study = read_study(path, sheet=sheet)
    values = study.numbers(column)
    names = study.texts(group) if group else ("",) * len(values)
    groups = tuple(
        tuple(value for value, name in zip(values, names, strict=True) if name == wanted)
        for wanted in dict.fromkeys(names)
    )
    with_place = Place(str(path), column=column)
    try:
        found = interval_from_values(
            groups,
            approach=approach,
            confidence=confidence,
            coverage=coverage,
            side=side,
            lower=lower,
            upper=upper,
        )
    except ValueError as refusal:
        raise _refused(with_place, refusal) from None
    return _data(found, approach, lower, upper)


def interval_of_summary(
    n: int,
    mean: float,
    sd: float,
    *,
    confidence: float,
    coverage: float,
    side: Side,
    lower: float | None,
    upper: float | None,
) -> dict[str, object]:
    """The normal interval from n, mean and sd. Raises: UnreadableInput naming what cannot be used."""
    try:
        found = interval_from_summary(
            n, mean, sd, confidence=confidence, coverage=coverage, side=side, lower=lower, upper=upper
        )
    except ValueError as refusal:
        raise _refused(Place("arguments"), refusal) from None
    return _data(found, "normal", lower, upper)


def _refused(place: Place, refusal: ValueError) -> UnreadableInput:
    return UnreadableInput(
        [
            Problem(
                place=place,
                found=str(refusal),
                expected="values and a claim from which this approach can compute a bound",
                mend="correct the value named here, give more values, or use another approach",
            )
        ]
    )


def _data(found: SingleInterval, approach: str, lower: float | None, upper: float | None) -> dict[str, object]:
    interval = asdict(found.interval)
    interval["parameters"] = dict(found.interval.parameters)
    return interval | {
        "approach": approach,
        "lower_limit": lower,
        "upper_limit": upper,
        "achieved_reliability": found.reliability_shown,
        "clears": found.clears,
    }
