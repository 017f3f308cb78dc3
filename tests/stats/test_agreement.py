"""Kappa against the literature's examples and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st
from statsmodels.stats import inter_rater

from reportgen.stats import cohen_kappa, fleiss_kappa

# Ten items judged by fourteen raters into five classes, the layout of Fleiss 1971 as textbooks print it (from memory):
# kappa 0.210, mean agreement 0.378, agreement by chance 0.213.
FLEISS_COUNTS = [
    (0, 0, 0, 0, 14),
    (0, 2, 6, 4, 2),
    (0, 0, 3, 5, 6),
    (0, 3, 9, 2, 0),
    (2, 2, 8, 1, 1),
    (7, 7, 0, 0, 0),
    (3, 2, 6, 3, 0),
    (2, 5, 3, 2, 2),
    (6, 5, 2, 1, 0),
    (0, 2, 2, 3, 7),
]


def expanded(counts) -> list[list[int]]:
    return [[label for label, count in enumerate(item) for _ in range(count)] for item in counts]


def test_fleiss_kappa_textbook_example_of_ten_items():
    result = fleiss_kappa(expanded(FLEISS_COUNTS))
    assert result.kappa == pytest.approx(0.210, abs=5e-4)
    assert result.p_observed == pytest.approx(0.378, abs=5e-4)
    assert result.p_expected == pytest.approx(0.213, abs=5e-4)
    assert result.kappa == pytest.approx(inter_rater.fleiss_kappa(np.array(FLEISS_COUNTS)), rel=1e-12)
    assert (result.n_items, result.n_raters) == (10, 14)
    assert set(result.categories) == {0, 1, 2, 3, 4}
    assert result.p_value < 1e-6
    assert (result.lower, result.upper, result.standard_error) == (None, None, None)


def test_cohen_kappa_textbook_example_of_fifty_items():
    # 20 both yes, 5 and 10 disagree, 15 both no: observed 0.7, by chance 0.5, kappa 0.4 (textbook arithmetic).
    first = ["yes"] * 25 + ["no"] * 25
    second = ["yes"] * 20 + ["no"] * 5 + ["yes"] * 10 + ["no"] * 15
    result = cohen_kappa(first, second)
    assert (result.p_observed, result.p_expected) == (pytest.approx(0.7), pytest.approx(0.5))
    assert result.kappa == pytest.approx(0.4)
    assert result.categories == ("yes", "no")


judgements = st.integers(0, 10_000).map(
    lambda seed: (
        np.random.default_rng([seed, 1]).integers(0, 2 + seed % 3, 10 + seed % 60),
        np.random.default_rng([seed, 2]).uniform(size=10 + seed % 60) < 0.6,
        np.random.default_rng([seed, 3]).integers(0, 2 + seed % 3, 10 + seed % 60),
    )
)


@given(judgements)
def test_cohen_kappa_statsmodels(drawn):
    first, agree, other = drawn
    second = np.where(agree, first, other)
    assume(len({*first.tolist(), *second.tolist()}) > 1)
    table, _ = inter_rater.to_table(np.column_stack((first, second)), bins=np.arange(-0.5, 5.5))
    theirs = inter_rater.cohens_kappa(table)  # its interval is of 95 %
    ours = cohen_kappa(first.tolist(), second.tolist(), confidence=0.95)
    assert ours.kappa == pytest.approx(theirs.kappa, rel=1e-9, abs=1e-12)
    assert ours.standard_error == pytest.approx(theirs.std_kappa, rel=1e-7, abs=1e-9)
    assert ours.lower == pytest.approx(theirs.kappa_low, rel=1e-7, abs=1e-9)
    assert ours.upper == pytest.approx(min(theirs.kappa_upp, 1.0), rel=1e-7, abs=1e-9)
    assert ours.p_value == pytest.approx(theirs.pvalue_one_sided, rel=1e-6, abs=1e-12)


@given(st.integers(0, 10_000))
def test_fleiss_kappa_statsmodels(seed):
    rng = np.random.default_rng(seed)
    ratings = rng.integers(0, 2 + seed % 3, (5 + seed % 20, 2 + seed % 5))
    assume(np.ptp(ratings) > 0)
    table, _ = inter_rater.aggregate_raters(ratings)
    assert fleiss_kappa(ratings.tolist()).kappa == pytest.approx(inter_rater.fleiss_kappa(table), rel=1e-9, abs=1e-12)


def test_fleiss_p_value_is_right_under_no_agreement_by_simulation():
    # 2,000 studies of 40 items, 3 raters, two classes without agreement: 5 % have p below 0.05, standard error 0.005.
    rng = np.random.default_rng(17)
    small = sum(fleiss_kappa((rng.uniform(size=(40, 3)) < 0.3).tolist()).p_value < 0.05 for _ in range(2000))
    assert 0.03 < small / 2000 < 0.07


def test_fleiss_standard_error_under_no_agreement_is_the_spread_of_kappa():
    # Three classes of unequal shares, 2,000 studies of 60 items, 4 raters, fixed seed: z scatters by 1 (error 0.016).
    rng = np.random.default_rng(23)
    results = [fleiss_kappa(rng.choice(3, (60, 4), p=(0.8, 0.15, 0.05)).tolist()) for _ in range(2000)]
    assert np.std([scipy.stats.norm.isf(result.p_value) for result in results]) == pytest.approx(1.0, abs=0.08)


def test_a_rater_who_knows_one_label_only_agrees_by_chance():
    for second in (["a", "b", "a"], ["b", "a", "c"], ["a"] * 6 + ["b"] * 7):
        result = cohen_kappa(["a"] * len(second), second)
        assert result.kappa == pytest.approx(0.0, abs=1e-12)
        assert result.p_value == 1.0


def test_results_say_what_they_are_and_what_they_came_from():
    result = cohen_kappa(["a", "b", "a"], ["a", "b", "b"], confidence=0.9)
    assert (result.name, result.confidence, result.n_items, result.n_raters) == ("Cohen's kappa", 0.9, 3, 2)
    assert result.upper == 1.0  # cut there
    result = fleiss_kappa([["a", "b"], ["a", "a"]], confidence=0.9)
    assert (result.name, result.confidence) == ("Fleiss' kappa", 0.9)


def test_full_agreement_is_one_without_uncertainty():
    result = cohen_kappa(["ok", "ok", "bad"], ["ok", "ok", "bad"])
    assert (result.kappa, result.upper) == (pytest.approx(1.0), pytest.approx(1.0))
    assert result.standard_error == pytest.approx(0.0, abs=1e-7)
    assert fleiss_kappa([["ok"] * 3, ["bad"] * 3]).kappa == pytest.approx(1.0)


def test_agreement_worse_than_chance_is_negative_with_a_large_p():
    result = cohen_kappa(["a", "b", "a", "b"], ["b", "a", "b", "a"])
    assert result.kappa == pytest.approx(-1.0)
    assert result.p_value > 0.9


def test_kappa_does_not_depend_on_names_or_on_who_is_first():
    first, second = ["a", "a", "b", "c", "c", "a"], ["a", "b", "b", "c", "a", "a"]
    renamed = (
        [{"a": 9, "b": 1, "c": 4}[label] for label in first],
        [{"a": 9, "b": 1, "c": 4}[label] for label in second],
    )
    expected = cohen_kappa(first, second).kappa
    assert cohen_kappa(*renamed).kappa == pytest.approx(expected)
    assert cohen_kappa(second, first).kappa == pytest.approx(expected)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: cohen_kappa(["a", "b"], ["a"]), "got 2 and 1 labels"),
        (lambda: cohen_kappa(["a"], ["b"]), "got 1 and 1 labels"),
        (lambda: cohen_kappa(["a", "a"], ["a", "a"]), "every label is 'a'"),
        (lambda: cohen_kappa(["a", "b"], ["a", "b"], confidence=95), r"^confidence"),
        (lambda: fleiss_kappa([["a", "b"]]), r"got 1 items with \[2\] labels"),
        (lambda: fleiss_kappa([["a", "b"], ["a"]]), r"got 2 items with \[1, 2\] labels"),
        (lambda: fleiss_kappa([["a"], ["b"]]), r"got 2 items with \[1\] labels"),
        (lambda: fleiss_kappa([["a", "a"], ["a", "a"]]), "every label is 'a'"),
        (lambda: fleiss_kappa([["a", "b"], ["a", "b"]], confidence=0.0), r"^confidence"),
    ],
)
def test_judgements_that_cannot_be_compared_are_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
