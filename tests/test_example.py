"""The example from its files to its findings: verdicts as its README tells them, bounds as another library has them."""

from __future__ import annotations

import csv
import math
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from reportgen.acceptance.evaluate import evaluate
from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.lab.read import read_lab
from reportgen.lab.records import LabReading
from reportgen.project.read import read_project
from reportgen.project.records import Project
from reportgen.trace.audit import audit
from reportgen.trace.records import Audit, Severity

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"
RESULTS = EXAMPLE / "results"
NOT_MET_YET = {
    "DI-002": "not demonstrated",
    "DI-010": "not demonstrated",
    "DI-016": "not demonstrated",
    "DI-017": "not tested",
}

# SI brochure and NIST SP 811: the pound-force in newtons, the pound-force per square inch and the atmosphere in pascals
LBF_N, PSI_PA, ATM_PA = 4.4482216152605, 6894.757293168361, 101325.0

Row = dict[str, str]


@pytest.fixture(scope="module")
def project() -> Project:
    return read_project(EXAMPLE)


@pytest.fixture(scope="module")
def reading(project: Project) -> LabReading:
    return read_lab(project)


@pytest.fixture(scope="module")
def results(project: Project, reading: LabReading) -> tuple[DesignInputResult, ...]:
    return evaluate(project, reading.measurements)


@pytest.fixture(scope="module")
def audited(project: Project, reading: LabReading, results: tuple[DesignInputResult, ...]) -> Audit:
    return audit(project, reading, results)


def test_each_design_input_ends_as_the_readme_says(results: tuple[DesignInputResult, ...]) -> None:
    assert len(results) == 17
    found = {result.design_input: result.verdict.value for result in results}
    assert found == {id: NOT_MET_YET.get(id, "met") for id in found}


def test_what_is_not_demonstrated_has_no_specimen_outside_its_limit(results: tuple[DesignInputResult, ...]) -> None:
    """Otherwise the verdict would have to be 'not met'."""
    foreshortening = _evaluations(results)["VP-109/DI-010"]
    assert foreshortening.maximum is not None
    assert foreshortening.upper_limit is not None
    assert foreshortening.upper_bound is not None
    assert foreshortening.maximum < foreshortening.upper_limit < foreshortening.upper_bound


def test_the_declared_fallback_was_used_for_aged_tips_only(results: tuple[DesignInputResult, ...]) -> None:
    used = {key: e.approach_used for key, e in _evaluations(results).items() if e.protocol == "VP-105"}
    assert used == {"VP-105/DI-005/aged": "distribution_free", "VP-105/DI-005/fresh": "lognormal"}


def test_lots_that_differ_are_judged_each_on_its_own(results: tuple[DesignInputResult, ...]) -> None:
    assert sum(e.protocol == "VP-107" for e in _evaluations(results).values()) == 3
    assert sum(e.protocol == "VP-101" for e in _evaluations(results).values()) == 2


def test_two_readings_of_a_device_count_once(results: tuple[DesignInputResult, ...]) -> None:
    assert {e.n for e in _evaluations(results).values() if e.protocol == "VP-106"} == {10}


def test_pulls_give_the_forces_that_they_were_drawn_with(results: tuple[DesignInputResult, ...]) -> None:
    """The generator draws the first dislodgement with exactly these means and deviations; noise is 0.006 N."""
    for condition, mean, sd in (("fresh", 6.52, 0.60), ("aged", 6.21, 0.62)):
        found = _evaluations(results)[f"VP-101/DI-001/{condition}"]
        assert found.mean == pytest.approx(mean, abs=0.01)
        assert found.sd == pytest.approx(sd, abs=0.01)


@pytest.mark.parametrize(("name", "key", "confidence", "reliability"), [
    ("VP-102", lambda row: row["condition"], 0.95, 0.99),
    ("VP-103", lambda row: f"{_model(row)}-{row['condition']}", 0.95, 0.999),
    ("VP-104", lambda row: f"{row['condition']}-{row['lot']}", 0.95, 0.99),
])  # fmt: skip
def test_lower_bounds_equal_those_of_the_noncentral_t_of_scipy(
    results: tuple[DesignInputResult, ...],
    name: str,
    key: Callable[[Row], str],
    confidence: float,
    reliability: float,
) -> None:
    """k = t'(confidence; n - 1, z sqrt(n)) / sqrt(n), ISO 16269-6:2014, from the files as the csv module reads them."""
    groups: dict[str, list[float]] = {}
    for row, value in _values(name):
        groups.setdefault(key(row), []).append(value)
    ours = {e.group: e for e in _evaluations(results).values() if e.protocol == name}
    assert set(groups) == set(ours)
    for group, values in groups.items():
        n, sample = len(values), np.array(values)
        k = stats.nct.ppf(confidence, n - 1, stats.norm.ppf(reliability) * math.sqrt(n)) / math.sqrt(n)
        assert ours[group].n == n
        assert ours[group].lower_bound == pytest.approx(sample.mean() - k * sample.std(ddof=1), rel=1e-9), group


def test_findings_are_those_of_the_readme(audited: Audit) -> None:
    counted = Counter(
        (finding.severity, finding.rule)
        for finding in audited.findings
        if finding.waiver is None and finding.severity is not Severity.NOTE
    )
    assert counted == {
        (Severity.BLOCKER, "limit-set-on-another-method"): 1,
        (Severity.BLOCKER, "planned-specimens-unaccounted"): 2,
        (Severity.BLOCKER, "aged-specimens-missing"): 2,
        (Severity.MAJOR, "clause-without-evidence"): 1,
        (Severity.MAJOR, "design-input-not-demonstrated"): 2,
        (Severity.MAJOR, "label-claim-not-shown"): 1,
    }


def test_each_finding_is_explained_in_the_readme(audited: Audit) -> None:
    told = (EXAMPLE / "README.md").read_text(encoding="utf-8")
    assert audited.findings
    assert [finding.rule for finding in audited.findings if f"`{finding.rule}`" not in told] == []


def test_the_waiver_names_who_and_why(audited: Audit) -> None:
    waived = [finding for finding in audited.findings if finding.waiver is not None]
    assert [finding.rule for finding in waived] == ["result-file-without-fingerprint"]
    assert waived[0].waiver is not None
    assert waived[0].waiver.by
    assert len(waived[0].waiver.reason) > 40


def _evaluations(results: tuple[DesignInputResult, ...]) -> dict[str, Evaluation]:
    return {evaluation.key: evaluation for result in results for evaluation in result.evaluations}


def _model(row: Row) -> str:
    corner = {"LT-2604": "LM-06-018", "LT-2605": "LM-06-058", "LT-2606": "LM-09-018"}
    return corner.get(row["lot"], "LM-09-058")


def _values(name: str) -> Iterator[tuple[Row, float]]:
    """Rows and values in the design input's unit, read without this project's reader."""
    if name == "VP-103":
        lines = (RESULTS / "VP-103/burst_export.csv").read_text(encoding="latin-1").splitlines()[7:]
        for row in csv.DictReader(lines, delimiter=";"):
            psi = float(row["Berstdruck"].replace(",", "."))
            yield {"lot": row["Los"], "condition": row["Zustand"]}, psi * PSI_PA / ATM_PA
        return
    file, column, factor = {
        "VP-102": ("VP-102/securement_forward.csv", "securement_forward [N]", 1.0),
        "VP-104": ("VP-104/shaft_bond.csv", "shaft_bond_tensile [lbf]", LBF_N),
    }[name]
    with (RESULTS / file).open(encoding="utf-8", newline="") as opened:
        for row in csv.DictReader(opened):
            yield row, float(row[column]) * factor
