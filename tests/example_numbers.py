"""Numbers of the example as a reader would work them out from the tables, for the tests of its texts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import fmean

from scipy import stats

from reportgen import workflow
from reportgen.acceptance.records import Evaluation


class Found:
    """Numbers of the example by short names, as a reader would work them out from the tables of results."""

    def __init__(self, analysis: workflow.Analysis) -> None:
        self.analysis = analysis
        self.evaluations: dict[str, Evaluation] = {
            evaluation.key: evaluation for result in analysis.results for evaluation in result.evaluations
        }
        table = analysis.reading.measurements.table
        self.operators = {
            (str(file).split("/")[1], str(specimen)): str(operator)
            for file, specimen, operator in zip(table["file"], table["specimen"], table["operator"], strict=True)
        }

    def of(self, key: str) -> Evaluation:
        return self.evaluations[key]

    def starting(self, start: str) -> list[Evaluation]:
        return [evaluation for key, evaluation in self.evaluations.items() if key.startswith(start)]

    def mean(self, key: str) -> float:
        return known(self.of(key).mean)

    def lots(self, key: str) -> dict[str, float]:
        """Means by lot, of one evaluation or of all whose key starts so."""
        values: dict[str, list[float]] = {}
        for evaluation in self.starting(key):
            for one in evaluation.values:
                values.setdefault(one.lot, []).append(known(one.value))
        return {lot: fmean(of_lot) for lot, of_lot in values.items()}

    def by_operator(self, key: str) -> list[list[float]]:
        values: dict[str, list[float]] = {}
        for one in self.of(key).values:
            values.setdefault(self.operators[self.of(key).protocol, one.specimen], []).append(known(one.value))
        return list(values.values())

    def values(self, key: str, *, mode: str = "", specimens: tuple[str, ...] = ()) -> list[float]:
        return [
            known(one.value)
            for evaluation in self.starting(key)
            for one in evaluation.values
            if (not mode or one.failure_mode == mode) and (not specimens or one.specimen in specimens)
        ]

    def figure(self, key: str, name: str) -> float:
        return next(one.value for step in self.of(key).steps for one in step.figures if one.name == name)


def known(value: float | None) -> float:
    assert value is not None
    return value


def spread(values: Mapping[str, float]) -> float:
    return max(values.values()) - min(values.values())


def k_one_sided(n: int, confidence: float, reliability: float) -> float:
    """Noncentral t, ISO 16269-6:2014, by scipy."""
    return float(stats.nct.ppf(confidence, n - 1, stats.norm.ppf(reliability) * math.sqrt(n)) / math.sqrt(n))
