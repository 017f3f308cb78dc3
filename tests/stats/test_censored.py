"""Fits to suspended specimens against R survival, published fits, a general optimiser and their own definition."""

from __future__ import annotations

import csv
import pickle
import tomllib
from pathlib import Path

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from reportgen.stats import CensoredFit, censored_fit, one_sided_factor

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert table, name
    return table


SUSPENDED = {}
for _row in rows("censored_data.csv"):
    SUSPENDED.setdefault(_row["dataset"], []).append((float(_row["value"]), _row["event"] == "0"))
COMPLETE = {}
for _row in rows("datasets.csv"):
    COMPLETE.setdefault(_row["dataset"], []).append(float(_row["value"]))


def fit_of(dataset, distribution):
    values, censored = zip(*SUSPENDED[dataset], strict=True)
    return censored_fit(values, censored, distribution=distribution)


@pytest.mark.parametrize(
    "row",
    [pytest.param(row, id=f"{row['case_id']}-{row['dataset']}-{row['distribution']}") for row in rows("censored.csv")],
)
def test_fit_r_survival(row):
    # survival::survreg and an independent Newton fit; 11 digits
    fit = fit_of(row["dataset"], row["distribution"])
    close = {"rel": 1e-10, "abs": 0}
    assert (fit.n, fit.n_failed) == (int(row["n"]), int(row["n_events"]))
    assert fit.location == pytest.approx(float(row["location"]), **close)
    assert fit.scale == pytest.approx(float(row["scale"]), **close)
    assert fit.log_likelihood == pytest.approx(float(row["loglik"]), **close)
    (of_location, joint), (also_joint, of_scale) = fit.covariance
    assert of_location**0.5 == pytest.approx(float(row["se_location"]), **close)
    assert of_scale**0.5 == pytest.approx(float(row["se_log_scale"]), **close)
    # without a suspended specimen it is 0 for a normal population, up to rounding
    assert joint == pytest.approx(float(row["cov_location_log_scale"]), rel=1e-10, abs=1e-14 * of_location**0.5)
    assert also_joint == pytest.approx(joint, rel=1e-9, abs=1e-14 * of_location**0.5)
    p = float(row["p"])
    assert fit.quantile(p) == pytest.approx(float(row["quantile"]), **close)
    assert fit.standard_error(p) == pytest.approx(float(row["se_quantile"]), **close)


@pytest.mark.parametrize(
    "row",
    [pytest.param(row, id=row["case_id"]) for row in rows("censored.csv") if row["distribution"] == "weibull"],
)
def test_weibull_parameters_r_survival(row):
    fit = fit_of(row["dataset"], "weibull")
    assert dict(fit.parameters) == {
        "shape": pytest.approx(float(row["weibull_shape"]), rel=1e-10),
        "scale": pytest.approx(float(row["weibull_scale"]), rel=1e-10),
    }


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}")
        for row in rows("lognormal_and_weibull.csv")
        if row["method"] == "likelihood_ratio"
    ],
)
def test_likelihood_ratio_bound_r(row):
    # complete samples, Weibull; 10 digits as a formula
    values = COMPLETE[row["dataset"]]
    fit = censored_fit(values, [False] * len(values), distribution="weibull")
    bound = fit.lower_bound(1 - float(row["coverage"]), confidence=float(row["confidence"]))
    assert bound == pytest.approx(float(row["lower_bound"]), rel=1e-9, abs=0)
    assert fit.log_likelihood == pytest.approx(float(row["loglik_mle"]), rel=1e-11)


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"{row['case_id']}-{row['dataset']}")
        for row in rows("lognormal_and_weibull.csv")
        if row["method"] == "wald_on_log_quantile"
    ],
)
def test_standard_error_r_survreg(row):
    values = COMPLETE[row["dataset"]]
    fit, p = censored_fit(values, [False] * len(values), distribution="weibull"), 1 - float(row["coverage"])
    z = scipy.stats.norm.ppf(float(row["confidence"]))
    bound = fit.quantile(p) * np.exp(-z * fit.standard_error(p) / fit.quantile(p))
    assert bound == pytest.approx(float(row["lower_bound"]), rel=1e-8, abs=0)


def test_weibull_fit_of_163_lifetimes_davidson_pilon_2019():
    source = tomllib.loads(
        (REFERENCE / "published/lifelines_waltons_weibull_censored.toml").read_text(encoding="utf-8")
    )
    printed = {check["quantity"]: check["printed"] for check in source["check"]}
    censored = [event == 0 for event in source["data"]["event"]]
    fit = censored_fit(source["data"]["time"], censored, distribution="weibull")
    assert fit.n == int(printed["observations"])
    assert fit.n_failed == int(printed["events"])
    assert fit.parameters["shape"] == pytest.approx(float(printed["shape rho"]), rel=0, abs=5e-3)
    assert 1 / fit.parameters["scale"] == pytest.approx(float(printed["rate lambda"]), rel=0, abs=5e-3)
    assert fit.log_likelihood == pytest.approx(float(printed["log-likelihood"]), rel=0, abs=5e-4)


def test_left_censored_manganese_epa_2009_example_15_1_by_reciprocals():
    # A concentration below its detection limit is a reciprocal above one: right-censored, with the log mean negated.
    source = tomllib.loads((REFERENCE / "published/epa2009_ex15_1_manganese_censored.toml").read_text(encoding="utf-8"))
    mean, sd, limit = (check for check in source["check"])
    reciprocals = 1 / np.array(source["data"]["manganese_ppb"])
    fit = censored_fit(reciprocals, source["data"]["below_detection"], distribution="lognormal")
    # the printed values come from a looser search; the file states how far it may be off
    assert -fit.parameters["log_mean"] == pytest.approx(float(mean["printed"]), rel=0, abs=mean["tolerance"])
    assert fit.parameters["log_sd"] == pytest.approx(float(sd["printed"]), rel=0, abs=sd["tolerance"])
    k = one_sided_factor(25, confidence=0.95, coverage=0.90)
    upper = -fit.parameters["log_mean"] + k * fit.parameters["log_sd"]
    assert upper == pytest.approx(float(limit["printed"]), rel=0, abs=limit["tolerance"])


DISTRIBUTIONS = {
    "normal": (scipy.stats.norm, lambda location, scale: {"loc": location, "scale": scale}),
    "lognormal": (scipy.stats.lognorm, lambda location, scale: {"s": scale, "scale": np.exp(location)}),
    "weibull": (scipy.stats.weibull_min, lambda location, scale: {"c": 1 / scale, "scale": np.exp(location)}),
}


def log_likelihood(distribution, values, censored, location, log_scale):
    family, arguments = DISTRIBUTIONS[distribution]
    given_arguments = arguments(location, np.exp(log_scale))
    failed = family.logpdf(values[~censored], **given_arguments).sum()
    return failed + family.logsf(values[censored], **given_arguments).sum()


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_bounds_by_a_general_optimiser(distribution, confidence):
    # the profile likelihood at the bound, by scipy.stats densities and scipy.optimize
    values, censored = (np.array(column) for column in zip(*SUSPENDED["C01_normal"], strict=True))
    fit, p = censored_fit(values, censored, distribution=distribution), 0.05
    z, w = scipy.stats.norm.ppf(confidence), DISTRIBUTIONS["normal"][0].ppf(p)
    if distribution == "weibull":
        w = np.log(-np.log1p(-p))
    for bound in (fit.lower_bound(p, confidence=confidence), fit.upper_bound(p, confidence=confidence)):
        on_scale = bound if distribution == "normal" else np.log(bound)
        best = scipy.optimize.minimize_scalar(
            lambda log_scale, q=on_scale: (
                -log_likelihood(distribution, values, censored, q - w * np.exp(log_scale), log_scale)
            ),
            bracket=(np.log(fit.scale), np.log(fit.scale) + 0.2),
            tol=1e-12,
        )
        assert 2 * (fit.log_likelihood + best.fun) == pytest.approx(z**2, rel=1e-7)
    assert fit.lower_bound(p, confidence=confidence) < fit.quantile(p) < fit.upper_bound(p, confidence=confidence)


def test_bound_at_even_odds_is_the_estimate_and_below_it_on_the_other_side():
    fit = fit_of("C01_normal", "normal")
    assert fit.lower_bound(0.1, confidence=0.5) == pytest.approx(fit.quantile(0.1), rel=1e-7)
    assert fit.lower_bound(0.1, confidence=0.2) == pytest.approx(fit.upper_bound(0.1, confidence=0.8), rel=1e-12)


def test_a_complete_normal_sample_has_the_plain_mean_and_the_divisor_n():
    values = COMPLETE["D01_seal_strength"]
    fit = censored_fit(values, [False] * len(values), distribution="normal")
    assert dict(fit.parameters) == {
        "mean": pytest.approx(np.mean(values), rel=1e-13),
        "sd": pytest.approx(np.std(values), rel=1e-12),
    }
    assert list(fit.parameters) == ["mean", "sd"]
    assert len(fit.parameters) == 2


def test_a_suspended_specimen_is_neither_a_failure_nor_dropped():
    values, flags = [10.0, 11.0, 12.0, 13.0, 14.0], [False] * 4 + [True]
    suspended = censored_fit(values, flags, distribution="normal")
    as_failure = censored_fit(values, [False] * 5, distribution="normal")
    dropped = censored_fit(values[:4], [False] * 4, distribution="normal")
    assert suspended.parameters["mean"] > as_failure.parameters["mean"] > dropped.parameters["mean"]
    assert (suspended.n, suspended.n_failed) == (5, 4)


def test_stopping_below_every_failure_tells_next_to_nothing():
    values = [10.0, 11.0, 12.0]
    plain = censored_fit(values, [False] * 3, distribution="normal")
    more = censored_fit([*values, 1e-3], [False] * 3 + [True], distribution="normal")
    assert more.parameters["mean"] == pytest.approx(plain.parameters["mean"], rel=1e-9)
    assert more.parameters["sd"] == pytest.approx(plain.parameters["sd"], rel=1e-9)


def test_a_fit_can_be_sent_to_another_process_and_compared():
    fit = fit_of("C01_normal", "weibull")
    copy = pickle.loads(pickle.dumps(fit))
    assert isinstance(copy, CensoredFit)
    assert copy == fit
    with pytest.raises(KeyError):
        fit.parameters["mean"]


@pytest.mark.parametrize(
    ("values", "censored", "distribution", "message"),
    [
        pytest.param(
            [1.0, 2.0], [0, 0], "gamma", r"^distribution must be one of 'normal', .*; got 'gamma'$", id="name"
        ),
        pytest.param([1.0, 2.0], [False], "normal", r"^censored must have one entry per value, .* \(1,\)$", id="short"),
        pytest.param([1.0, 2.0], [0, 2], "normal", r"^censored must be true or false .*; got \[0, 2\]$", id="flags"),
        pytest.param([1.0, 2.0], ["no", "no"], "normal", r"^censored must be true or false", id="text-flags"),
        pytest.param(
            [1.0, 2.0, 0.0], [0, 0, 1], "weibull", r"^values must all be above 0 .*weibull .*; got 0.0$", id="0"
        ),
        pytest.param([1.0, 2.0, 3.0], [0, 1, 1], "normal", r"at 2 different values at least; 1 of 3 failed", id="one"),
        pytest.param([2.0, 2.0, 3.0], [0, 0, 1], "normal", r"at 2 different values at least; 2 of 3 failed", id="tied"),
        pytest.param([2.0, 3.0], [1, 1], "normal", r"at 2 different values at least; 0 of 2 failed", id="none"),
        pytest.param([2.0, np.nan], [0, 0], "normal", r"^values must be finite", id="nan"),
    ],
)
def test_refusals(values, censored, distribution, message):
    with pytest.raises(ValueError, match=message):
        censored_fit(values, censored, distribution=distribution)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        pytest.param(lambda fit: fit.quantile(0.0), r"^p must be a fraction", id="quantile"),
        pytest.param(lambda fit: fit.standard_error(1.0), r"^p must be a fraction", id="error"),
        pytest.param(lambda fit: fit.lower_bound(0.1, confidence=95), r"^confidence must be .* 0.95\)$", id="lower"),
        pytest.param(lambda fit: fit.upper_bound(2.0, confidence=0.9), r"^p must be a fraction", id="upper"),
    ],
)
def test_refused_questions(call, message):
    with pytest.raises(ValueError, match=message):
        call(fit_of("C01_normal", "normal"))


specimens = st.lists(st.tuples(st.floats(0.5, 50.0), st.booleans()), min_size=3, max_size=25)


@settings(max_examples=40, deadline=None)
@given(specimens, st.sampled_from(sorted(DISTRIBUTIONS)), st.floats(0.01, 100.0), st.randoms(use_true_random=False))
def test_a_change_of_unit_and_of_order_carries_through(pairs, distribution, scale, random):
    failed = [value for value, is_stopped in pairs if not is_stopped]
    assume(len(failed) >= 2)
    assume(np.ptp(np.log(failed)) > 0.05)
    values, censored = zip(*pairs, strict=True)
    plain = censored_fit(values, censored, distribution=distribution)
    mixed, mixed_censored = zip(*random.sample(pairs, len(pairs)), strict=True)
    other = censored_fit(scale * np.array(mixed), mixed_censored, distribution=distribution)
    for p in (0.05, 0.5):
        tolerance = {"rel": 1e-7, "abs": 1e-7 * scale * plain.standard_error(p)}
        assert other.quantile(p) == pytest.approx(scale * plain.quantile(p), **tolerance)
        assert other.lower_bound(p, confidence=0.9) == pytest.approx(
            scale * plain.lower_bound(p, confidence=0.9), **tolerance
        )
