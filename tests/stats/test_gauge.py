"""Gauge studies: a published crossed study, R on nested ones, statsmodels, coverage by simulation."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scipy.stats
import statsmodels.api
import statsmodels.formula.api
from hypothesis import given
from hypothesis import strategies as st

from reportgen.stats import GaugeStudy, crossed_gauge, nested_gauge, variance_components

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


HELICOPTER = tomllib.loads((REFERENCE / "published" / "sixsigma_gauge_rr_helicopter.toml").read_text(encoding="utf-8"))


def helicopter(**options) -> GaugeStudy:
    data = HELICOPTER["data"]
    return crossed_gauge(data["time1"], part=data["prototype"], operator=data["operator"], **options)


@pytest.mark.parametrize(
    "check", HELICOPTER["check"], ids=[f"six-sigma-2012-{c['quantity']}" for c in HELICOPTER["check"]]
)
def test_crossed_gauge_cano_moguerza_redchuk_2012_chapter_5(check):
    kind, source = check["quantity"].split()
    lines = {line.source: line for line in helicopter().table}
    if source == "total":
        value = sum(line.sum_of_squares for line in lines.values())
    else:
        line = lines["part" if source == "prototype" else source]
        value = {"SS": line.sum_of_squares, "MS": line.mean_square, "F": line.f}[kind]
    half_unit = 0.5 * 10.0 ** -len(check["printed"].partition(".")[2])
    assert value == pytest.approx(float(check["printed"]), abs=half_unit)


def test_crossed_gauge_components_follow_from_the_published_mean_squares():
    study = helicopter()
    part, operator, interaction, error = 0.600359259, 0.026470370, 0.020848148, 0.021411111
    assert study.variance_part == pytest.approx((part - interaction) / 9, rel=1e-6)
    assert study.variance_operator == pytest.approx((operator - interaction) / 9, rel=1e-5)
    assert study.variance_interaction == 0.0  # its estimate is negative, and is kept as computed
    assert dict(study.components)["interaction"].raw == pytest.approx((interaction - error) / 3, rel=1e-4)
    assert study.variance_repeatability == pytest.approx(error, rel=1e-6)
    assert study.variance_reproducibility == study.variance_operator
    assert study.variance_gauge == pytest.approx(study.variance_operator + error, rel=1e-6)
    assert study.variance_total == pytest.approx(study.variance_gauge + study.variance_part)
    assert (study.n_parts, study.n_operators, study.n, study.design) == (3, 3, 27, "crossed")


def test_figures_of_merit_of_the_published_study():
    study = helicopter()
    gauge_sd, total_sd = study.variance_gauge**0.5, study.variance_total**0.5
    assert study.percent_study_variation == pytest.approx(100 * gauge_sd / total_sd)
    assert study.percent_contribution == pytest.approx(100 * study.variance_gauge / study.variance_total)
    assert study.percent_tolerance(2.0) == pytest.approx(100 * 6 * gauge_sd / 2.0)
    assert study.percent_tolerance(2.0, sd_multiple=5.15) == pytest.approx(100 * 5.15 * gauge_sd / 2.0)
    assert study.expanded_uncertainty(coverage_factor=2.0) == pytest.approx(2 * gauge_sd)
    assert study.distinct_categories == int(2**0.5 * study.variance_part**0.5 / gauge_sd) == 2


NESTED = [row for row in rows("variance_components.csv") if row["design"] == "nested_two_way"]


def test_reference_file_holds_three_nested_studies():
    assert len(NESTED) == 3


@pytest.mark.parametrize("row", NESTED, ids=[f"r-{row['case_id']}-{row['dataset']}" for row in NESTED])
def test_nested_gauge_r(row):
    data = [line for line in rows("variance_components_data.csv") if line["dataset"] == row["dataset"]]
    study = nested_gauge(
        [float(line["value"]) for line in data],
        part=[line["part"] for line in data],
        operator=[line["operator"] for line in data],
    )
    expected = {
        key: float(value) for key, value in row.items() if value and key not in ("case_id", "dataset", "design")
    }
    lines, components = {line.source: line for line in study.table}, dict(study.components)
    for source, suffix in (("operator", "operator"), ("part", "part"), ("repeatability", "error")):
        assert lines[source].mean_square == pytest.approx(expected[f"ms_{suffix}"], rel=1e-10)
        assert lines[source].df == expected[f"df_{suffix}"]
        assert components[source].variance == pytest.approx(expected[f"var_{suffix}"], rel=1e-9)
        assert components[source].sd == pytest.approx(expected[f"sd_{suffix}"], rel=1e-9)
        share = 100 * components[source].variance / study.variance_total
        assert share == pytest.approx(expected[f"pct_var_{suffix}"], rel=1e-9)
    for source in ("operator", "part"):
        assert lines[source].f == pytest.approx(expected[f"f_{source}"], rel=1e-10)
        assert lines[source].p_value == pytest.approx(expected[f"p_{source}"], rel=1e-9)
        assert components[source].raw == pytest.approx(expected[f"var_{source}_anova"], rel=1e-9)
    assert study.variance_total == pytest.approx(expected["var_total"], rel=1e-10)
    assert study.variance_interaction is None
    assert study.grand_mean == pytest.approx(expected["grand_mean"], rel=1e-11)
    assert study.n_operators == expected["n_operators"]
    assert study.n_parts == expected["n_operators"] * expected["n_parts_per_operator"]
    assert study.design == "nested"


def crossed_table(seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    p, o, r = 2 + seed % 5, 2 + seed % 3, 2 + seed % 2
    part, operator, _ = (axis.ravel() for axis in np.meshgrid(range(p), range(o), range(r), indexing="ij"))
    values = rng.normal(0, 2, p)[part] + rng.normal(0, 1, o)[operator] + rng.normal(0, 0.5, part.size)
    return pd.DataFrame({"value": values + 40, "part": part, "operator": operator})


@given(st.integers(0, 10_000))
def test_crossed_anova_statsmodels(seed):
    table = crossed_table(seed)
    theirs = statsmodels.api.stats.anova_lm(
        statsmodels.formula.api.ols("value ~ C(part) * C(operator)", data=table).fit()
    )
    study = crossed_gauge(table["value"].to_numpy(), part=table["part"].tolist(), operator=table["operator"].tolist())
    named = {
        "part": "C(part)",
        "operator": "C(operator)",
        "interaction": "C(part):C(operator)",
        "repeatability": "Residual",
    }
    lines = {line.source: line for line in study.table}
    for ours, name in named.items():
        assert lines[ours].sum_of_squares == pytest.approx(theirs.loc[name, "sum_sq"], rel=1e-7, abs=1e-9)
        assert lines[ours].df == theirs.loc[name, "df"]
    # statsmodels tests against the residual; operators and parts drawn at random are tested against the interaction.
    assert lines["interaction"].f == pytest.approx(theirs.loc["C(part):C(operator)", "F"], rel=1e-6, abs=1e-9)
    for source in ("part", "operator"):
        f = lines[source].mean_square / lines["interaction"].mean_square
        assert lines[source].f == pytest.approx(f)
        assert lines[source].p_value == pytest.approx(
            scipy.stats.f.sf(f, lines[source].df, lines["interaction"].df), rel=1e-9
        )


@given(st.integers(0, 10_000))
def test_without_interaction_it_is_the_additive_model_of_statsmodels(seed):
    table = crossed_table(seed)
    theirs = statsmodels.api.stats.anova_lm(
        statsmodels.formula.api.ols("value ~ C(part) + C(operator)", data=table).fit()
    )
    study = crossed_gauge(
        table["value"].to_numpy(),
        part=table["part"].tolist(),
        operator=table["operator"].tolist(),
        with_interaction=False,
    )
    lines = {line.source: line for line in study.table}
    for ours, name in {"part": "C(part)", "operator": "C(operator)"}.items():
        assert lines[ours].f == pytest.approx(theirs.loc[name, "F"], rel=1e-6, abs=1e-9)
        assert lines[ours].p_value == pytest.approx(theirs.loc[name, "PR(>F)"], rel=1e-6, abs=1e-9)
    assert study.variance_repeatability == pytest.approx(theirs.loc["Residual", "mean_sq"], rel=1e-7)
    assert study.variance_interaction is None
    assert study.variance_reproducibility == study.variance_operator


def test_one_measurement_each_needs_the_model_without_interaction():
    values, part, operator = [1.0, 2.0, 4.0, 5.5, 7.0, 9.0], [1, 1, 2, 2, 3, 3], ["a", "b"] * 3
    with pytest.raises(ValueError, match="at least 2 times, or the interaction cannot be told"):
        crossed_gauge(values, part=part, operator=operator)
    study = crossed_gauge(values, part=part, operator=operator, with_interaction=False)
    assert {line.source: line.df for line in study.table} == {"operator": 1, "part": 2, "repeatability": 2}


@given(st.integers(0, 10_000))
def test_components_reproduce_the_expected_mean_squares(seed):
    table = crossed_table(seed)
    study = crossed_gauge(table["value"].to_numpy(), part=table["part"].tolist(), operator=table["operator"].tolist())
    raw = {source: component.raw for source, component in study.components}
    squares = {line.source: line.mean_square for line in study.table}
    p, o = study.n_parts, study.n_operators
    r = study.n // (p * o)
    assert squares["repeatability"] == pytest.approx(raw["repeatability"])
    assert squares["interaction"] == pytest.approx(raw["repeatability"] + r * raw["interaction"])
    shared = raw["repeatability"] + r * raw["interaction"]
    assert squares["operator"] == pytest.approx(shared + p * r * raw["operator"])
    assert squares["part"] == pytest.approx(shared + o * r * raw["part"])
    assert raw["reproducibility"] == pytest.approx(raw["operator"] + raw["interaction"], abs=1e-12)
    assert raw["gauge"] == pytest.approx(raw["reproducibility"] + raw["repeatability"], abs=1e-12)
    assert raw["total"] == pytest.approx(raw["gauge"] + raw["part"])
    for _, component in study.components:
        assert 0 <= component.lower <= component.upper


@given(st.integers(0, 10_000), st.floats(0.01, 100.0), st.floats(-30, 30))
def test_order_unit_and_shift_change_nothing(seed, factor, shift):
    table = crossed_table(seed)
    mixed = table.sample(frac=1.0, random_state=seed)
    for gauge in (crossed_gauge, nested_gauge):
        before = gauge(table["value"].to_numpy(), part=table["part"].tolist(), operator=table["operator"].tolist())
        values = (mixed["value"].to_numpy() + shift) * factor
        after = gauge(values, part=mixed["part"].tolist(), operator=mixed["operator"].tolist())
        ours, theirs = dict(before.components), dict(after.components)
        for source, component in ours.items():
            assert theirs[source].raw == pytest.approx(component.raw * factor**2, rel=1e-6, abs=1e-8 * factor**2)
            assert theirs[source].upper == pytest.approx(component.upper * factor**2, rel=1e-6, abs=1e-8 * factor**2)
        assert after.percent_study_variation == pytest.approx(before.percent_study_variation, rel=1e-6)


def test_the_same_part_label_under_two_operators_is_two_parts_when_nested():
    values = [1.0, 1.2, 3.0, 3.1, 7.0, 7.4, 9.0, 9.3]
    operator = ["a"] * 4 + ["b"] * 4
    shared = nested_gauge(values, part=[1, 1, 2, 2, 1, 1, 2, 2], operator=operator)
    own = nested_gauge(values, part=[1, 1, 2, 2, 3, 3, 4, 4], operator=operator)
    assert shared == own
    assert shared.n_parts == 4


def test_unbalanced_nested_study_has_the_expected_mean_squares_of_its_design():
    # E(MS) by the trace of the projections on the design itself, for one unbalanced layout: the coefficients by which
    # the estimators divide must be these.
    operator = np.array([0] * 7 + [1] * 5 + [2] * 4)
    part = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4, 5, 6, 6, 6])
    n = operator.size
    in_operator = (operator[:, None] == operator).astype(float)
    in_part = (part[:, None] == part).astype(float)
    project_operator = in_operator / in_operator.sum(axis=1)
    project_part = in_part / in_part.sum(axis=1)
    project_mean = np.full((n, n), 1 / n)
    df_operator, df_part = 2, 4
    between = (project_operator - project_mean) / df_operator
    within = (project_part - project_operator) / df_part
    k = {
        (name, source): float(np.trace(matrix @ covariance))
        for name, matrix in (("operator", between), ("part", within))
        for source, covariance in (("operator", in_operator), ("part", in_part))
    }
    assert k["part", "operator"] == pytest.approx(0, abs=1e-12)
    values = np.random.default_rng(8).normal(size=n) + operator * 2.0 + part * 0.7
    study = nested_gauge(values, part=part.tolist(), operator=operator.tolist())
    squares = {line.source: line.mean_square for line in study.table}
    raw = {source: component.raw for source, component in study.components}
    assert squares["part"] == pytest.approx(raw["repeatability"] + k["part", "part"] * raw["part"])
    expected = raw["repeatability"] + k["operator", "part"] * raw["part"] + k["operator", "operator"] * raw["operator"]
    assert squares["operator"] == pytest.approx(expected)
    assert squares["operator"] == pytest.approx(float(values @ between @ values))
    assert squares["part"] == pytest.approx(float(values @ within @ values))


def test_nested_study_without_operators_is_the_one_way_analysis():
    rng = np.random.default_rng(2)
    values, part = rng.normal(size=24) + np.repeat(rng.normal(size=8) * 3, 3), np.repeat(np.arange(8), 3).tolist()
    study = nested_gauge(values, part=part, operator=["a"] * 12 + ["b"] * 12)
    halves = [variance_components(values[:12], group=part[:12]), variance_components(values[12:], group=part[12:])]
    assert study.variance_repeatability == pytest.approx(np.mean([half.within for half in halves]))
    mean_square = np.mean([half.table[0].mean_square for half in halves])
    assert {line.source: line.mean_square for line in study.table}["part"] == pytest.approx(mean_square)


def test_a_gauge_without_any_variance_tells_any_number_of_categories():
    study = crossed_gauge(
        [1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 2.0, 2.0], part=[1] * 4 + [2] * 4, operator=["a", "a", "b", "b"] * 2
    )
    assert study.variance_gauge == 0
    assert study.distinct_categories is None
    assert study.percent_study_variation == 0


def test_a_gauge_that_tells_nothing_apart_has_one_category():
    study = crossed_gauge(
        [1.0, 2.0, 2.0, 1.0, 2.0, 1.0, 1.0, 2.0], part=[1] * 4 + [2] * 4, operator=["a", "a", "b", "b"] * 2
    )
    assert (study.variance_part, study.distinct_categories) == (0.0, 1)
    assert study.percent_study_variation == 100


@pytest.mark.slow
@pytest.mark.parametrize("shares", [(4.0, 0.3, 0.2, 1.0), (1.0, 1.0, 0.0, 0.2)], ids=["good-parts", "operators-differ"])
def test_coverage_of_the_crossed_intervals_by_simulation(shares):
    # Nominal 0.95, fixed seed, 2,000 studies of 8 parts, 4 operators, 2 repeats; standard error 0.005. The method may
    # be a little below nominal (reproducibility, whose formula has three mean squares) and is often above.
    p, o, r = 8, 4, 2
    rng = np.random.default_rng(9)
    part, operator, _ = (axis.ravel() for axis in np.meshgrid(range(p), range(o), range(r), indexing="ij"))
    v_part, v_operator, v_both, v_error = shares
    truth = {"part": v_part, "operator": v_operator, "interaction": v_both, "repeatability": v_error}
    truth["reproducibility"] = v_operator + v_both
    truth["gauge"] = truth["reproducibility"] + v_error
    truth["total"] = truth["gauge"] + v_part
    covered = dict.fromkeys(truth, 0)
    for _ in range(2000):
        values = rng.normal(0, v_part**0.5, p)[part] + rng.normal(0, v_operator**0.5, o)[operator]
        values += rng.normal(0, v_both**0.5, (p, o))[part, operator] + rng.normal(0, v_error**0.5, part.size)
        for source, component in crossed_gauge(values, part=part.tolist(), operator=operator.tolist()).components:
            covered[source] += component.lower <= truth[source] <= component.upper
    shares_covered = {source: count / 2000 for source, count in covered.items()}
    assert all(0.93 <= share <= 0.99 for share in shares_covered.values()), shares_covered


VALUES, PART, OPERATOR = [1.0, 2.0, 3.0, 4.0, 2.0, 3.0, 5.0, 4.0], [1, 1, 1, 1, 2, 2, 2, 2], ["a", "a", "b", "b"] * 2


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: crossed_gauge(VALUES, part=PART[:-1], operator=OPERATOR),
            "part must hold one label for each value; got 7 for 8",
        ),
        (
            lambda: crossed_gauge(VALUES, part=PART, operator=OPERATOR[:-1]),
            "operator must hold one label for each value; got 7 for 8",
        ),
        (
            lambda: crossed_gauge(VALUES, part=[1] * 8, operator=OPERATOR),
            "2 parts and 2 operators or more; got 1 and 2",
        ),
        (lambda: crossed_gauge(VALUES, part=PART, operator=["a"] * 8), "2 parts and 2 operators or more; got 2 and 1"),
        (lambda: crossed_gauge(VALUES[:7], part=PART[:7], operator=OPERATOR[:7]), "equally often; got between 1 and 2"),
        (
            lambda: crossed_gauge(VALUES, part=PART, operator=["a", "a", "b", "b", "a", "a", "a", "a"]),
            "got between 0 and 4",
        ),
        (lambda: crossed_gauge([3.0] * 8, part=PART, operator=OPERATOR), r"all 8 are 3\.0"),
        (lambda: crossed_gauge(VALUES, part=PART, operator=OPERATOR, confidence=95), "confidence"),
        (lambda: nested_gauge(VALUES, part=PART, operator=["a"] * 8), "8 values of 2 parts of 1 operators"),
        (lambda: nested_gauge(VALUES, part=PART, operator=PART), "8 values of 2 parts of 2 operators"),
        (lambda: nested_gauge(VALUES, part=list(range(8)), operator=OPERATOR), "8 values of 8 parts of 2 operators"),
        (lambda: nested_gauge(VALUES, part=PART[:-1], operator=OPERATOR), "part must hold one label for each value"),
        (lambda: helicopter().percent_tolerance(0.0), "tolerance must be above 0"),
        (lambda: helicopter().percent_tolerance(1.0, sd_multiple=-1), "sd_multiple must be above 0"),
        (lambda: helicopter().expanded_uncertainty(coverage_factor=0), "coverage_factor must be above 0"),
    ],
)
def test_designs_and_arguments_out_of_range_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
