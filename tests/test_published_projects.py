"""Whole projects made from published examples: exactly the findings one would expect, and the bounds that are printed.

Sources stand in `tests/reference/projects/*/README.md` and beside each check. Limits are invented, values are not.
"""

from __future__ import annotations

import csv
import math
import shutil
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from reportgen.acceptance.records import Evaluation
from reportgen.workflow import Analysis, analyse, build
from tests.conftest import OPEN_DATA, unavailable

REFERENCE = Path(__file__).parent / "reference"
PROJECTS = REFERENCE / "projects"
RECORDS = {"VP-601": "coated_control_*.csv", "VP-602": "coated_0*.csv", "VP-603": "core_control_*.csv"}


@dataclass(frozen=True)
class Expected:
    """What each project ends as. Each finding by severity, rule and first record, with why it is no false alarm."""

    verdicts: dict[str, str]
    findings: dict[tuple[str, str, str], str]


EXPECTED = {
    "strength_in_batches": Expected(
        verdicts={
            "DI-401": "met", "DI-402": "met", "DI-403": "not demonstrated", "DI-404": "met", "DI-405": "not met",
            "DI-406": "not tested",
        },
        findings={
            ("blocker", "design-input-not-met", "DI-405"): "4 of 20 fail, as in the handbook's example",
            ("blocker", "distribution-rejected", "VP-403"): "CMH-17 rejects the normal and the Weibull distribution",
            ("major", "design-input-not-demonstrated", "DI-403"): "without a distribution there is no bound",
            ("minor", "test-environment-not-stated", "TM-41"): "the source does not say in what and how warm",
            ("minor", "test-environment-not-stated", "TM-42"): "the source does not say in what and how warm",
            ("note", "design-input-not-tested", "DI-406"): "its protocol has no results",
            ("note", "clause-evidence-incomplete", "harrow-bench"): "follows from DI-403, DI-405 and DI-406",
        },
    ),
    "rinse_residues": Expected(
        verdicts={
            "DI-501": "met", "DI-502": "met", "DI-503": "not demonstrated", "DI-504": "not met",
            "DI-505": "not demonstrated", "DI-506": "not tested",
        },
        findings={
            ("blocker", "design-input-not-met", "DI-504"): "35.45 µg/L against a limit of 30 µg/L",
            ("major", "design-input-not-demonstrated", "DI-503"): "no value above the limit, but a bound above it",
            ("major", "design-input-not-demonstrated", "DI-505"): "no bound for values below detection on this side",
            ("minor", "test-environment-not-stated", "TM-51"): "the source does not say in what and how warm",
            ("note", "design-input-not-tested", "DI-506"): "its protocol has no results",
            ("note", "clause-evidence-incomplete", "brora-bench"): "follows from DI-503 to DI-506",
        },
    ),
    "puncture_records": Expected(
        verdicts={"DI-601": "met", "DI-602": "not demonstrated", "DI-603": "not met", "DI-604": "not tested"},
        findings={
            ("blocker", "design-input-not-met", "DI-603"): "core_control 8 bore 395.84 N against a limit of 500 N",
            ("blocker", "distribution-rejected", "VP-603"): "one of 8 far below and one far above the rest",
            ("major", "design-input-not-demonstrated", "DI-602"): "four specimens of each exposure scatter widely",
            ("major", "clamping-not-stated", "TM-61"): "the source does not say which parts were held",
            ("major", "clamping-not-stated", "TM-62"): "the source does not say which parts were held",
            ("minor", "test-environment-not-stated", "TM-61"): "the source does not say in what and how warm",
            ("minor", "test-environment-not-stated", "TM-62"): "the source does not say in what and how warm",
            ("note", "design-input-not-tested", "DI-604"): "its protocol has no results",
            ("note", "clause-evidence-incomplete", "laide-bench"): "follows from DI-602 to DI-604",
        },
    ),
}  # fmt: skip


def _folder(name: str, tmp: Path) -> Path:
    """The project's folder; the one with records of the machine as a copy with the records in it."""
    if name != "puncture_records":
        return PROJECTS / name
    if not (OPEN_DATA / "utm_puncture").is_dir():
        unavailable("the published machine exports are not beside this checkout")
    folder = tmp / name
    shutil.copytree(PROJECTS / name, folder)
    for protocol, pattern in RECORDS.items():
        target = folder / "traces" / protocol
        target.mkdir(parents=True)
        found = sorted((OPEN_DATA / "utm_puncture").glob(pattern))
        assert found, pattern
        for path in found:
            shutil.copyfile(path, target / path.name)
    return folder


@pytest.fixture(scope="module")
def analyses() -> dict[str, Analysis]:
    return {}


@pytest.fixture
def analysed(request: pytest.FixtureRequest, analyses: dict[str, Analysis], tmp_path: Path) -> Analysis:
    name = request.param
    if name not in analyses:
        analyses[name] = analyse(_folder(name, tmp_path))
    return analyses[name]


strength = pytest.mark.parametrize("analysed", ["strength_in_batches"], indirect=True)
residues = pytest.mark.parametrize("analysed", ["rinse_residues"], indirect=True)
puncture = pytest.mark.parametrize("analysed", ["puncture_records"], indirect=True)


def _evaluations(analysed: Analysis, protocol: str) -> list[Evaluation]:
    found = [one for result in analysed.results for one in result.evaluations if one.protocol == protocol]
    assert found, protocol
    return found


def _only(analysed: Analysis, protocol: str) -> Evaluation:
    (evaluation,) = _evaluations(analysed, protocol)
    return evaluation


def _figures(evaluation: Evaluation) -> dict[str, float]:
    return {figure.name: figure.value for step in evaluation.steps for figure in step.figures}


def _printed(source: str, quantity: str, inputs: str | None = None) -> tuple[float, float]:
    """A published figure and half a unit of its last digit, or the coarser arithmetic that the source states."""
    with (REFERENCE / "published" / source).open("rb") as file:
        checks = tomllib.load(file)["check"]
    (check,) = [c for c in checks if c["quantity"] == quantity and inputs in (None, c["inputs"])]
    text = check["printed"]
    half = 0.5 * 10.0 ** -len(text.partition(".")[2])
    return float(text), check.get("tolerance", half)


def _table(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _factor(n: int, coverage: str) -> float:
    """One-sided normal factor for 95 % confidence: Montgomery and Runger, 7th ed. 2018, table XII, three decimals."""
    (row,) = [
        row
        for row in _table("published/montgomery_runger_table_xii_one_sided.csv")
        if (int(row["n"]), row["coverage"], row["confidence"]) == (n, coverage, "0.95")
    ]
    return float(row["k_printed"])


@pytest.mark.parametrize(("name", "expected"), EXPECTED.items(), ids=list(EXPECTED))
def test_findings_are_exactly_those_expected(name: str, expected: Expected, tmp_path: Path) -> None:
    found = analyse(_folder(name, tmp_path)).audit.findings
    told = [(finding.severity.value, finding.rule, finding.records[0]) for finding in found]
    assert sorted(told) == sorted(expected.findings), "\n".join(f"{f.rule}: {f.message}" for f in found)


@pytest.mark.parametrize(("name", "expected"), EXPECTED.items(), ids=list(EXPECTED))
def test_verdicts_of_each_kind(name: str, expected: Expected, tmp_path: Path) -> None:
    results = analyse(_folder(name, tmp_path)).results
    assert {result.design_input: result.verdict.value for result in results} == expected.verdicts
    assert set(expected.verdicts.values()) == {"met", "not met", "not demonstrated", "not tested"}


@pytest.mark.parametrize("name", list(EXPECTED))
def test_documents_are_built(name: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    analysis = build(_folder(name, tmp_path), out, date="2026-11-25").analysis
    assert analysis.must_be_mended
    documents = list(out.rglob("*.docx"))
    # the section and a report for each protocol
    assert len(documents) >= 1 + len(analysis.project.protocols)
    for document in documents:
        with zipfile.ZipFile(document) as archive:
            assert b"Draft" in archive.read("word/document.xml"), document.name
    assert list(out.rglob("*.xlsx"))
    assert list(out.rglob("*.html"))


def _on_file(project: str, protocol: str) -> list[dict[str, str]]:
    return _table(f"projects/{project}/results/{protocol}.csv")


@pytest.mark.parametrize(("protocol", "condition"), [("VP-401", "CTD"), ("VP-402", "ETW2"), ("VP-403", "ETW")])
def test_strengths_on_file_are_those_of_cmh17_1g_8_3_11_1_1(protocol: str, condition: str) -> None:
    source = [row for row in _table("published/cmh17_example_8_3_11_1_1.csv") if row["condition"] == condition]
    filed = [(row["lot"][1:], list(row.values())[-1]) for row in _on_file("strength_in_batches", protocol)]
    assert sorted(filed) == sorted((row["batch"], row["strength"]) for row in source)


def test_large_sample_on_file_is_that_of_the_cmstatr_validation_document() -> None:
    source = [row["value"] for row in _table("basis_data.csv") if row["dataset"] == "B04_validation61"]
    assert [row["tape_strength [ksi]"] for row in _on_file("strength_in_batches", "VP-404")] == source


@pytest.mark.parametrize(("protocol", "source", "column"), [
    ("VP-501", "epa2009_ex17_3_chrysene_lognormal_utl.toml", "chrysene"),
    ("VP-502", "epa2009_ex17_4_copper_nonparametric_utl.toml", "copper"),
    ("VP-503", "epa2009_ex10_1_nickel.toml", "nickel"),
    ("VP-504", "epa2009_ex12_4_naphthalene_rosner.toml", "naphthalene"),
    ("VP-505", "epa2009_ex15_1_manganese_censored.toml", "manganese"),
])  # fmt: skip
def test_residues_on_file_are_those_of_the_epa_guidance(protocol: str, source: str, column: str) -> None:
    with (REFERENCE / "published" / source).open("rb") as file:
        data = tomllib.load(file)["data"]
    values = data[f"{column}_ppb"]
    below = data.get("below_detection", [False] * len(values))
    cells = [row[f"{column} [µg/L]"] for row in _on_file("rinse_residues", protocol)]
    assert [cell.startswith("<") for cell in cells] == below
    assert [float(cell.lstrip("<")) for cell in cells] == values


@strength
def test_pooled_bound_is_that_of_r_cmstatr_cmh17_1g_8_3_11_1_1_ctd(analysed: Analysis) -> None:
    # R 4.2.2, cmstatr 0.9.1 basis_normal on the three CTD batches of CMH-17-1G 8.3.11.1.1 (12 digits)
    (row,) = [
        row
        for row in _table("basis_values.csv")
        if (row["dataset"], row["method"], row["basis"]) == ("B03_cmh17_8_3_11_1_1_CTD", "normal", "B")
    ]
    evaluation = _only(analysed, "VP-401")
    assert evaluation.lower_bound == pytest.approx(float(row["value_cmstatr"]), rel=1e-12)
    assert evaluation.k == pytest.approx(_factor(19, "0.9"), abs=5e-4)


@strength
def test_batches_that_differ_are_judged_each_cmh17_1g_8_3_11_1_1_etw2(analysed: Analysis) -> None:
    # the handbook divides the k-sample Anderson-Darling statistic by k - 1 = 2
    each = _evaluations(analysed, "VP-402")
    assert [(one.lots, one.n) for one in each] == [(("B1",), 7), (("B2",), 7), (("B3",), 6)]
    printed, half = _printed("cmh17_example_8_3_11_1_1.toml", "ADK", "ETW2, 3 batches")
    for one in each:
        assert _figures(one)["lots_anderson_darling"] / 2 == pytest.approx(printed, abs=half)
        assert one.k == pytest.approx(_factor(one.n, "0.9"), abs=5e-4)
        assert one.lower_bound is not None
        assert one.mean is not None
        assert one.sd is not None
        assert one.lower_bound == pytest.approx(one.mean - _factor(one.n, "0.9") * one.sd, abs=5e-4 * one.sd)


@strength
def test_neither_distribution_holds_cmh17_1g_8_3_11_1_1_etw(analysed: Analysis) -> None:
    evaluation = _only(analysed, "VP-403")
    figures = _figures(evaluation)
    printed, half = _printed("cmh17_example_8_3_11_1_1.toml", "ADK", "ETW, 3 batches")
    assert figures["lots_anderson_darling"] / 2 == pytest.approx(printed, abs=half)
    n = evaluation.n
    # observed significance levels by the formulas of CMH-17-1G 8.3 (from memory), from our statistics
    normal = figures["distribution_anderson_darling"] * (1 + 4 / n - 25 / n**2)
    weibull = figures["fallback_distribution_anderson_darling"] * (1 + 0.2 / math.sqrt(n))
    for quantity, level in (
        ("normal OSL", 1 / (1 + math.exp(-0.48 + 0.78 * math.log(normal) + 4.58 * normal))),
        ("Weibull OSL (as tested)", 1 / (1 + math.exp(-0.10 + 1.24 * math.log(weibull) + 4.48 * weibull))),
    ):
        printed, half = _printed("cmh17_example_8_3_11_1_1.toml", quantity)
        assert level == pytest.approx(printed, abs=half), quantity
    assert evaluation.lower_bound is None


@strength
def test_third_smallest_of_61_is_the_bound_cmstatr_validation_document(analysed: Analysis) -> None:
    # printed 122.738297 for values given to four decimals
    assert _only(analysed, "VP-404").lower_bound == pytest.approx(122.738297, abs=5e-6)


@strength
def test_share_of_failures_nist_ehandbook_7_2_4_1(analysed: Analysis) -> None:
    # 4 of 20, two-sided 90 %, so one-sided 95 %; from memory, and the last printed digit is one too high
    evaluation = _only(analysed, "VP-405")
    upper, tolerance = _printed("nist_ehb_proportions_and_oc.toml", "exact upper limit")
    assert evaluation.failures == 4
    assert evaluation.achieved_reliability == pytest.approx(1 - upper, abs=tolerance)


@residues
def test_lognormal_upper_limit_epa_2009_example_17_3_chrysene(analysed: Analysis) -> None:
    source = "epa2009_ex17_3_chrysene_lognormal_utl.toml"
    evaluation = _only(analysed, "VP-501")
    for found, quantity in ((evaluation.upper_bound, "upper tolerance limit, ppb"), (evaluation.k, "k1")):
        printed, half = _printed(source, quantity)
        assert found == pytest.approx(printed, abs=half), quantity


@residues
def test_an_outlier_of_lognormal_values_is_looked_for_among_their_logarithms(analysed: Analysis) -> None:
    # 39.2 of example 17-3 would be flagged among the values themselves, which are not normal
    step = next(step for step in _only(analysed, "VP-501").steps if step.name == "outliers")
    assert step.outcome.value == "passed"
    assert "logarithms" in step.sentence


@residues
def test_distribution_free_upper_limit_epa_2009_example_17_4_copper(analysed: Analysis) -> None:
    printed, _ = _printed("epa2009_ex17_4_copper_nonparametric_utl.toml", "upper tolerance limit = maximum")
    assert _only(analysed, "VP-502").upper_bound == printed


@residues
def test_mean_and_sd_epa_2009_example_10_1_nickel(analysed: Analysis) -> None:
    evaluation = _only(analysed, "VP-503")
    assert (evaluation.approach, evaluation.approach_used) == ("normal", "lognormal")
    for found, quantity in ((evaluation.mean, "mean"), (evaluation.sd, "standard deviation")):
        printed, half = _printed("epa2009_ex10_1_nickel.toml", quantity)
        assert found == pytest.approx(printed, abs=half), quantity


@residues
def test_outlier_epa_2009_example_12_4_naphthalene(analysed: Analysis) -> None:
    figures = _figures(_only(analysed, "VP-504"))
    for name, quantity in (("outlier_statistic", "R1"), ("outlier_critical_value", "lambda1")):
        printed, half = _printed("epa2009_ex12_4_naphthalene_rosner.toml", quantity)
        assert figures[name] == pytest.approx(printed, abs=half), quantity


def _machine_summary(lot: str) -> dict[str, tuple[float, float]]:
    """What the machine's software printed for a lot, with half a unit of the print.

    Plus half a unit of the fifth decimal to which the exports round loads: the machine computed before that rounding.
    """
    with (OPEN_DATA / "utm_puncture_machine_summary.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["lot"] == lot]
    assert len(rows) == 4
    return {
        row["statistic"]: (float(row["printed_N"]), 0.5 * 10.0 ** -len(row["printed_N"].partition(".")[2]) + 0.5e-5)
        for row in rows
    }


@puncture
@pytest.mark.parametrize(("protocol", "filed", "published"), [
    ("VP-601", "U-000", "coated_control"), ("VP-602", "U-010", "coated_010"), ("VP-602", "U-030", "coated_030"),
    ("VP-602", "U-070", "coated_070"), ("VP-603", "C-000", "core_control"),
])  # fmt: skip
def test_lots_are_those_that_the_machine_printed(analysed: Analysis, protocol: str, filed: str, published: str) -> None:
    (one,) = [evaluation for evaluation in _evaluations(analysed, protocol) if evaluation.lots == (filed,)]
    printed = _machine_summary(published)
    for name, found in (("mean", one.mean), ("sd", one.sd), ("min", one.minimum), ("max", one.maximum)):
        assert found == pytest.approx(printed[name][0], abs=printed[name][1]), name
    if protocol == "VP-603":
        # normality is rejected and no fallback declared
        assert one.lower_bound is None
        return
    # the bound from printed figures alone: mean - k sd, k of Montgomery and Runger table XII (n = 4: 4.162)
    factor, (mean, mean_half), (sd, sd_half) = _factor(one.n, "0.9"), printed["mean"], printed["sd"]
    assert one.lower_bound == pytest.approx(mean - factor * sd, abs=mean_half + factor * sd_half + 5e-4 * sd)


@puncture
def test_every_value_is_the_largest_load_in_the_machine_header(analysed: Analysis) -> None:
    with (OPEN_DATA / "utm_puncture_machine_results.csv").open(encoding="utf-8", newline="") as file:
        header = {Path(row["file"]).stem: float(row["header_max_load_N"]) for row in csv.DictReader(file)}
    table = analysed.reading.measurements.table
    assert dict(zip(table["specimen"], table["value"], strict=True)) == header
    assert len(header) == 24
