"""The acceptance chain, from rows to bound and verdict, against figures that others published."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import pytest

from reportgen.acceptance.records import Verdict
from tests.acceptance.scenario import design_input, judged, only, plan, row, rows_of_lots

REFERENCE = Path(__file__).parent.parent / "reference"


def published(name: str) -> dict[str, object]:
    with (REFERENCE / "published" / name).open("rb") as file:
        return tomllib.load(file)


def batches(dataset: str) -> dict[str, list[float]]:
    lots: dict[str, list[float]] = {}
    with (REFERENCE / "basis_data.csv").open(newline="") as file:
        for line in csv.DictReader(file):
            if line["dataset"] == dataset:
                lots.setdefault(f"B{line['batch']}", []).append(float(line["value"]))
    assert lots, f"no rows of {dataset}"
    return lots


def test_lognormal_upper_limit_epa_2009_example_17_3_chrysene() -> None:
    # USEPA Unified Guidance (2009), example 17-3, as printed by EnvStats: mean and sd of logs, k and the limit in ppb
    values = published("epa2009_ex17_3_chrysene_lognormal_utl.toml")["data"]["chrysene_ppb"]  # type: ignore[index]
    result = judged(
        [row(i, value) for i, value in enumerate(values, 1)],
        target=design_input(upper_limit=100, confidence=0.95, reliability=0.95),
        analysis=plan(approach="lognormal"),
    )
    evaluation = only(result)
    assert evaluation.k == pytest.approx(3.187294, abs=5e-7)
    assert evaluation.upper_bound == pytest.approx(90.9247, abs=5e-5)
    assert result.verdict is Verdict.MET
    tighter = judged(
        [row(i, value) for i, value in enumerate(values, 1)],
        target=design_input(upper_limit=90, confidence=0.95, reliability=0.95),
        analysis=plan(approach="lognormal"),
    )
    assert tighter.verdict is Verdict.NOT_DEMONSTRATED


def test_distribution_free_with_values_below_detection_epa_2009_example_17_4_copper() -> None:
    # USEPA Unified Guidance (2009), example 17-4: the limit is the maximum, 9.2 ppb, and covers 88.26538 % at 95 %
    data = published("epa2009_ex17_4_copper_nonparametric_utl.toml")["data"]
    pairs = zip(data["copper_ppb"], data["below_detection"], strict=True)  # type: ignore[index]
    rows = [row(i, value, censored="below" if low else "") for i, (value, low) in enumerate(pairs, 1)]
    result = judged(
        rows,
        target=design_input(upper_limit=10, confidence=0.95, reliability=0.88),
        analysis=plan(approach="distribution_free"),
    )
    assert only(result).upper_bound == 9.2
    assert result.verdict is Verdict.MET


def test_distribution_free_achieved_reliability_epa_2009_example_17_4_copper() -> None:
    # the same sample without its censoring marks: the coverage that EnvStats prints as 88.26538 %
    values = published("epa2009_ex17_4_copper_nonparametric_utl.toml")["data"]["copper_ppb"]  # type: ignore[index]
    result = judged(
        [row(i, value) for i, value in enumerate(values, 1)],
        target=design_input(upper_limit=10, confidence=0.95, reliability=0.88),
        analysis=plan(approach="distribution_free"),
    )
    assert only(result).achieved_reliability == pytest.approx(0.8826538, abs=5e-8)


def normal_basis_rows() -> list[dict[str, str]]:
    with (REFERENCE / "basis_values.csv").open(newline="") as file:
        return [entry for entry in csv.DictReader(file) if entry["method"] == "normal"]


NORMAL_BASIS = normal_basis_rows()
assert NORMAL_BASIS


@pytest.mark.parametrize("entry", NORMAL_BASIS, ids=[f"R-{entry['case_id']}" for entry in NORMAL_BASIS])
def test_pooled_normal_bound_of_r_cmstatr(entry: dict[str, str]) -> None:
    # R 4.2.2 and cmstatr 0.9.1 basis_normal on the batches of CMH-17-1G 8.3.11.1.1 and others, 12 digits to trust
    evaluation = only(
        judged(
            rows_of_lots(batches(entry["dataset"])),
            target=design_input(lower_limit=1, confidence=0.95, reliability=float(entry["coverage"])),
            analysis=plan(normality_alpha=1e-9),
        )
    )
    assert evaluation.k == pytest.approx(float(entry["factor"]), rel=1e-11)
    assert evaluation.lower_bound == pytest.approx(float(entry["value"]), rel=1e-11)


def test_batches_that_do_not_pool_are_judged_each_cmh17_1g_8_3_11_1_1_etw2() -> None:
    # CMH-17-1G 8.3.11.1.1: ETW2 fails the k-sample Anderson-Darling test (3.024 as A2akN/(k-1)), ETW passes (0.793)
    split = judged(
        rows_of_lots(batches("B06_cmh17_8_3_11_1_1_ETW2")),
        target=design_input(lower_limit=1, confidence=0.95, reliability=0.9),
        analysis=plan(lots="pool_if_compatible", compatibility_alpha=0.025),
    )
    assert [evaluation.group for evaluation in split.evaluations] == ["B1", "B2", "B3"]
    figures = {f.name: f.value for step in split.evaluations[0].steps for f in step.figures}
    assert figures["lots_anderson_darling"] / 2 == pytest.approx(3.024, abs=5e-4)


def test_success_run_59_without_failure_shows_95_95() -> None:
    # Exact: 0.95**59 = 0.0485 < 0.05 <= 0.95**58; the figure 59 is common to the trade (common practice, no source)
    attribute = design_input(kind="attribute", unit=None, confidence=0.95, reliability=0.95)
    for n, verdict in ((58, Verdict.NOT_DEMONSTRATED), (59, Verdict.MET)):
        rows = [row(i, None, missing=False, conforming=1.0, filed_unit="") for i in range(1, n + 1)]
        assert judged(rows, target=attribute, analysis=plan(approach="attribute")).verdict is verdict
