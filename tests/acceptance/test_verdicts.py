"""The four verdicts, each reached in every way that leads to it, with the reason and the remedy a person reads."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reportgen.acceptance.records import Evaluation, Outcome, Step, Verdict
from reportgen.project.records import DesignInput, Equipment, Validation
from tests.acceptance.scenario import design_input, judged, only, plan, row, rows_of_lots

REFERENCE = Path(__file__).parent.parent / "reference"

# Thirty values around 20, from a seeded generator: their order matters to no test of this file.
SCORES = [float(x) for x in np.sort(np.random.default_rng(7).normal(size=30))]
THIRTY = [round(20 + score, 2) for score in SCORES]


# a claim whose bound lies below the smallest of the thirty values
STRICT = {"confidence": 0.95, "reliability": 0.99, "assurance_reason": "r"}


def lower(limit: float, **changes: object) -> DesignInput:
    return design_input(lower_limit=limit, **changes)


def test_met_when_the_bound_clears_the_limit_says_by_how_much() -> None:
    result = judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=lower(15))
    evaluation = only(result)
    assert result.verdict is Verdict.MET
    assert result.would_change_it == ""
    assert evaluation.margin == evaluation.lower_bound - 15
    assert evaluation.margin_sd == pytest.approx(evaluation.margin / evaluation.sd)
    assert "95 % confidence" in result.reason
    assert "lower limit 15 N" in result.reason


def test_not_met_when_one_specimen_is_outside_names_it() -> None:
    values = [*THIRTY[:-1], 14.99]
    result = judged([row(i, v) for i, v in enumerate(values, 1)], target=lower(15))
    assert result.verdict is Verdict.NOT_MET
    assert "S030" in result.reason


def test_the_specimens_that_do_not_conform_are_marked_one_by_one() -> None:
    values = [14.99, *THIRTY[:-2], 14.0]
    evaluation = only(judged([row(i, v) for i, v in enumerate(values, 1)], target=lower(15)))
    assert sorted(evaluation.values[at].specimen for at in evaluation.failing) == ["S001", "S030"]
    assert evaluation.unclear == ()
    attribute = design_input(kind="attribute", unit=None)
    rows = [row(i, None, missing=False, conforming=float(i != 7), filed_unit="") for i in range(1, 60)]
    counted = only(judged(rows, target=attribute, analysis=plan(approach="attribute")))
    assert [counted.values[at].specimen for at in counted.failing] == ["S007"]


def test_a_value_at_the_limit_conforms() -> None:
    values = [*THIRTY, 15.0]
    result = judged([row(i, v) for i, v in enumerate(values, 1)], target=lower(15), analysis=plan(normality_alpha=1e-9))
    assert result.verdict is not Verdict.NOT_MET


def test_not_demonstrated_by_spread_tells_the_n_that_would_do_and_what_is_shown_now() -> None:
    spread = judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=lower(min(THIRTY), **STRICT))
    assert spread.verdict is Verdict.NOT_DEMONSTRATED
    assert "is demonstrated" in spread.reason
    assert (
        "would demonstrate it if its mean and spread" in spread.would_change_it
        or "no sample size" in spread.would_change_it
    )
    assert 0 < only(spread).achieved_reliability < 0.99


def test_not_tested_when_planned_but_blank() -> None:
    result = judged([row(i, None) for i in range(1, 6)], target=lower(15))
    assert result.verdict is Verdict.NOT_TESTED
    assert "5 planned specimens" in result.reason


def test_half_filled_sheet_is_not_demonstrated_however_good_it_looks() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(40 + i, None) for i in range(3)]
    result = judged(rows, target=lower(10))
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert "30 of 33 planned specimens" in result.reason
    assert only(result).n_missing == 3


@pytest.mark.parametrize(("limit", "holds_so_far"), [(10, True), (min(THIRTY), False)])
def test_leaving_out_the_rest_of_a_running_test_is_no_way_out(limit: float, holds_so_far: bool) -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(40 + i, None) for i in range(3)]
    told = judged(rows, target=lower(limit, **STRICT)).would_change_it
    assert told.startswith("test the remaining 3 specimens as planned; leaving any out needs a deviation with a cause")
    assert ("the values so far do not show it" in told) is not holds_so_far


def test_missing_specimens_named_by_a_deviation_are_accounted_for() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(41, None)]
    lost = {"deviations": ({"id": "DV-1", "description": "S041 was lost", "specimens": ("S041",)},)}
    assert judged(rows, target=lower(10), protocol=lost).verdict is Verdict.MET


def test_two_open_rows_of_one_excused_device_account_for_one_specimen() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(41, None), row(41, None)]
    lost = {"deviations": ({"id": "DV-1", "description": "S041 was lost", "specimens": ("S041",)},)}
    result = judged(rows, target=lower(10), protocol=lost, planned=32)
    assert only(result).n_missing == 1
    assert result.verdict is Verdict.NOT_DEMONSTRATED


def test_excluded_specimen_is_set_aside_with_its_cause_and_counts_for_nothing() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(31, 2.0, excluded=True, cause="grip slipped")]
    evaluation = only(judged(rows, target=lower(10)))
    assert evaluation.verdict is Verdict.MET
    assert evaluation.n == 30
    assert [(entry.specimen, entry.cause) for entry in evaluation.set_aside] == [("S031", "grip slipped")]


def test_repeated_readings_of_one_device_never_raise_n_and_the_worst_stands() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(1, 15.5), row(1, 25.0)]
    evaluation = only(judged(rows, target=lower(10), planned=30))
    assert evaluation.n == 30
    assert evaluation.minimum == min([*THIRTY, 15.5])


def test_two_readings_set_aside_of_one_device_do_not_stand_for_a_second_device() -> None:
    # counted by readings, the second one would have hidden that a planned specimen was never tested
    aside = [row(31, 2.0, excluded=True, cause="grip slipped"), row(31, 2.1, excluded=True, cause="grip slipped")]
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + aside
    result = judged(rows, target=lower(10), planned=32)
    evaluation = only(result)
    assert (evaluation.n, evaluation.n_set_aside, evaluation.n_missing) == (30, 1, 1)
    assert result.verdict is Verdict.NOT_DEMONSTRATED


def test_a_reading_set_aside_of_a_device_that_counts_by_another_reading_is_no_further_specimen() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(30, 2.0, excluded=True, cause="misread")]
    evaluation = only(judged(rows, target=lower(10), planned=31))
    assert (evaluation.n, evaluation.n_set_aside, evaluation.n_missing) == (30, 0, 1)
    assert "1 reading set aside (S030: misread)" in evaluation.steps[0].sentence


def test_lots_that_each_number_their_specimens_from_one_keep_all_their_devices() -> None:
    rows = [
        row(i, value, lot=lot)
        for lot, values in (("L1", THIRTY[::2]), ("L2", THIRTY[1::2]))
        for i, value in enumerate(values)
    ]
    assert only(judged(rows, target=lower(10))).n == 30


def test_several_untested_groups_are_told_as_one() -> None:
    rows = [row(i, None, condition=condition) for condition in ("fresh", "aged") for i in range(4)]
    result = judged(rows, target=lower(10), analysis=plan(evaluate_by=("condition",)))
    assert result.verdict is Verdict.NOT_TESTED
    assert "8 planned specimens" in result.reason


def test_limit_set_on_another_method_never_counts_even_when_the_numbers_are_fine() -> None:
    result = judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=lower(1, limit_method="TM-9"))
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert [reason.rule for reason in only(result).standing] == ["limit-set-on-another-method"]
    assert "TM-9" in result.reason
    failing = judged([row(1, 0.5), row(2, 0.6)], target=lower(1, limit_method="TM-9"))
    assert failing.verdict is Verdict.NOT_DEMONSTRATED, "a limit from another method cannot fail a specimen either"


@pytest.mark.parametrize(
    ("study", "verdict"),
    [
        ({"supports_transfer": True}, Verdict.MET),
        ({"supports_transfer": False}, Verdict.NOT_DEMONSTRATED),
        ({"supports_transfer": True, "conditions": ("aged",)}, Verdict.NOT_DEMONSTRATED),
        ({"supports_transfer": True, "models": ("OTHER",)}, Verdict.NOT_DEMONSTRATED),
    ],
)
def test_bridging_study_counts_only_where_it_supports_and_covers(study: dict[str, object], verdict: Verdict) -> None:
    bridging = {"study": "BS-1", "limit_method": "TM-9", "conclusion": "c"} | study
    result = judged(
        [row(i, v) for i, v in enumerate(THIRTY, 1)],
        target=lower(10, limit_method="TM-9"),
        protocol={"bridging": (bridging,)},
    )
    assert result.verdict is verdict


def test_bridging_factor_moves_the_limit() -> None:
    bridging = {"study": "BS-1", "limit_method": "TM-9", "conclusion": "c", "supports_transfer": True, "factor": 1.5}
    evaluation = only(
        judged(
            [row(i, v) for i, v in enumerate(THIRTY, 1)],
            target=lower(10, limit_method="TM-9"),
            protocol={"bridging": (bridging,)},
        )
    )
    assert evaluation.lower_limit == 15.0
    assert any(step.name == "limit transfer" for step in evaluation.steps)


def test_characterization_results_do_not_verify() -> None:
    result = judged(
        [row(i, v) for i, v in enumerate(THIRTY, 1)], target=lower(1), protocol={"purpose": "characterization"}
    )
    assert [reason.rule for reason in only(result).standing] == ["results-for-characterization-only"]


def test_guarded_decision_needs_the_bound_to_clear_by_the_uncertainty() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    simple = only(judged(rows, target=lower(15, **STRICT)))
    limit = simple.lower_bound - 0.1
    stated = Validation.model_validate({"report": "R", "kind": "gauge", "expanded_uncertainty": "0.2 N"})
    guarded = plan(decision_rule="guarded")
    assert judged(rows, target=lower(limit, **STRICT)).verdict is Verdict.MET
    result = judged(rows, target=lower(limit, **STRICT), analysis=guarded, validation=stated)
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert only(result).guard == pytest.approx(0.2)
    assert ", moved inward by the guard band of 0.2 N, by " in result.reason
    assert only(result).margin == pytest.approx(-0.1)
    unknown = judged(rows, target=lower(limit), analysis=guarded)
    assert unknown.verdict is Verdict.NOT_DEMONSTRATED
    assert "uncertainty" in unknown.reason


def test_e29_rounding_method_compares_at_the_limits_last_place() -> None:
    # ASTM E29, rounding method: 14.96 is rounded to 15.0 before it is held against 15.0; absolute method: it fails
    values = [*THIRTY, 14.96]
    rows = [row(i, v) for i, v in enumerate(values, 1)]
    target = lower(15.0, limit_decimals=1)
    loose = plan(normality_alpha=1e-9)
    assert judged(rows, target=target, analysis=loose).verdict is Verdict.NOT_MET
    rounded = plan(normality_alpha=1e-9, rounding="rounding")
    assert judged(rows, target=target, analysis=rounded).verdict is not Verdict.NOT_MET


def test_a_reason_that_all_groups_share_names_them_all() -> None:
    rows = rows_of_lots({"L1": THIRTY[:15], "L2": THIRTY[15:]})
    target = lower(3.6, limit_method="TM-0", limit_basis="b")
    result = judged(rows, target=target, analysis=plan(lots="each_lot"))
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert result.reason.startswith("VP-1 (L1 and L2): The evidence does not count")
    apart = judged(
        rows_of_lots({"L1": THIRTY, "L2": [v - 8 for v in THIRTY]}), target=lower(12), analysis=plan(lots="each_lot")
    )
    assert apart.reason.startswith("VP-1 (L2): ")


def test_the_equipment_filed_with_the_values_counts_before_the_methods_list() -> None:
    fine, coarse = (
        Equipment.model_validate({"id": id, "description": "d", "measures": "m", "resolution": step})
        for id, step in (("LC-07", "0.005 N"), ("LC-09", "0.01 N"))
    )
    target = lower(3.6, limit_decimals=2)
    decimals = {}
    for filed in ("", "LC-09", "LC-07;LC-09"):
        rows = [row(i, v, filed_value=f"{v:.3f}", filed_unit="lbf", equipment=filed) for i, v in enumerate(THIRTY, 1)]
        decimals[filed] = only(judged(rows, target=target, equipment=(fine, coarse))).statistic_decimals
    assert decimals == {"": 4, "LC-09": 3, "LC-07;LC-09": 4}


@pytest.mark.parametrize(
    ("filed_unit", "resolutions", "decimals"),
    [
        # 0.001 lbf is 0.0044 N: three decimals; the load cell reads in steps of 0.01 N and stands behind two
        ("lbf", (), 4),
        ("lbf", ("0.01 N",), 3),
        ("lbf", ("0.002 lbf",), 4),
        # half of a newton has one decimal; the limit of 3.60 N has two, and counts whatever the cell resolves
        ("lbf", ("0.5 N",), 3),
        # a pressure gauge of the grips says nothing about forces; of two load cells the finer counts
        ("lbf", ("1 kPa",), 4),
        ("lbf", ("0.5 N", "0.01 N"), 3),
        # a machine that exports three decimals of a newton whatever it resolves
        ("N", ("0.01 N",), 3),
        ("N", ("0.001 N",), 4),
    ],
)
def test_statistics_are_printed_no_finer_than_the_equipment_resolves(
    filed_unit: str, resolutions: tuple[str, ...], decimals: int
) -> None:
    equipment = [
        Equipment.model_validate({"id": f"E-{at}", "description": "d", "measures": "m", "resolution": step})
        for at, step in enumerate(resolutions)
    ]
    target = lower(3.6, limit_decimals=2)
    rows = [row(i, v, filed_value=f"{v:.3f}", filed_unit=filed_unit) for i, v in enumerate(THIRTY, 1)]
    evaluation = only(judged(rows, target=target, equipment=equipment))
    assert evaluation.statistic_decimals == decimals
    assert evaluation.data_decimals == 3, "single readings keep their decimals"


def test_the_step_on_the_interval_rounds_as_the_verdict_does() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    bound = only(judged(rows, target=lower(15.0))).lower_bound
    assert 17.72935 < bound < 17.7294, "the case needs a bound that rounds up to its limit"
    target = lower(17.7294, limit_decimals=4)
    told = {}
    for rounding in ("absolute", "rounding"):
        single = plan(rounding=rounding, every_specimen_conforms=False)
        evaluation = only(judged(rows, target=target, analysis=single))
        step = next(step for step in evaluation.steps if step.name == "interval")
        told[rounding] = (evaluation.verdict, step.outcome, step.sentence.rsplit(". ", 1)[1])
    assert told == {
        # the smallest of thirty, 17.48, lies under this limit, and no bound excuses it
        "absolute": (Verdict.NOT_MET, Outcome.FAILED, "It misses the limit."),
        "rounding": (Verdict.MET, Outcome.PASSED, "It clears the limit."),
    }


SKEWED = [round(float(np.exp(score)) * 3 + 5, 3) for score in SCORES]


def test_failed_normality_without_fallback_is_not_demonstrated_and_no_bound_is_shown() -> None:
    evaluation = only(judged([row(i, v) for i, v in enumerate(SKEWED, 1)], target=lower(1)))
    assert evaluation.verdict is Verdict.NOT_DEMONSTRATED
    assert evaluation.lower_bound is None
    assert "fallback" in evaluation.reason


def test_declared_fallback_is_used_and_told() -> None:
    analysis = plan(fallback="distribution_free")
    evaluation = only(
        judged(
            [row(i, v) for i, v in enumerate(SKEWED * 2, 1)],
            target=lower(1, confidence=0.9, reliability=0.9),
            analysis=analysis,
        )
    )
    assert evaluation.verdict is Verdict.MET
    assert (evaluation.approach, evaluation.approach_used) == ("normal", "distribution_free")
    told = [step for step in evaluation.steps if step.name == "fallback"]
    assert len(told) == 1
    assert "declared fallback" in told[0].sentence


def test_stopped_specimens_are_neither_dropped_nor_failures() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    rows = [entry | ({"censored": "above"} if float(str(entry["value"])) > 21 else {}) for entry in rows]
    evaluation = only(judged(rows, target=lower(10)))
    assert evaluation.n == 30
    assert evaluation.approach_used == "normal, censored"
    assert evaluation.verdict is Verdict.MET


def test_stopped_below_the_lower_limit_leaves_conformance_open() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(31, 9.0, censored="above")]
    result = judged(rows, target=lower(10))
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert "S031" in result.reason


def test_one_specimen_says_what_is_needed() -> None:
    result = judged([row(1, 20.0)], target=lower(10))
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert "at least 2" in result.reason


def test_two_sided_uses_the_exact_two_sided_factor_of_r() -> None:
    # R and multi-precision: exact two-sided k for n = 30, 95/95 (tests/reference/normal_two_sided_k.csv)
    with (REFERENCE / "normal_two_sided_k.csv").open(newline="") as file:
        (k,) = [
            float(entry["k"])
            for entry in csv.DictReader(file)
            if (entry["n"], entry["confidence"], entry["coverage"]) == ("30", "0.95", "0.95")
        ]
    evaluation = only(
        judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=design_input(lower_limit=10, upper_limit=30))
    )
    assert evaluation.k == pytest.approx(k, rel=1e-12)
    assert evaluation.verdict is Verdict.MET
    assert evaluation.side == "both"


def test_each_lot_gives_one_evaluation_per_lot_and_the_worst_decides() -> None:
    rows = rows_of_lots({"L1": THIRTY, "L2": [value - 6 for value in THIRTY]})
    result = judged(rows, target=lower(13), analysis=plan(lots="each_lot"))
    assert [evaluation.group for evaluation in result.evaluations] == ["L1", "L2"]
    assert result.evaluations[0].verdict is Verdict.MET
    assert result.verdict is result.evaluations[1].verdict is not Verdict.MET
    assert "L2" in result.reason
    assert [evaluation.key for evaluation in result.evaluations] == ["VP-1/DI-1/L1", "VP-1/DI-1/L2"]


def test_conditions_are_judged_apart_and_an_untested_one_is_not_hidden() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)] + [row(50 + i, None, condition="aged") for i in range(5)]
    result = judged(rows, target=lower(10), analysis=plan(evaluate_by=("condition",)))
    assert {evaluation.group: evaluation.verdict for evaluation in result.evaluations} == {
        "aged": Verdict.NOT_TESTED,
        "fresh": Verdict.MET,
    }
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert result.reason.startswith("Tested in part only")


def test_between_lot_bound_is_wider_than_the_pooled_one_when_lots_differ() -> None:
    lots = {f"L{i}": [value + 1.5 * i for value in THIRTY[i::3]] for i in range(3)}
    pooled = only(judged(rows_of_lots(lots), target=lower(1)))
    between = only(judged(rows_of_lots(lots), target=lower(1), analysis=plan(lots="between_lot")))
    assert between.approach_used == "between_lot"
    assert between.lower_bound < pooled.lower_bound
    # the margin is told in the spread that the factor multiplies: mean - k sd is the bound
    spread = (between.mean - between.lower_bound) / between.k
    assert between.margin_sd == pytest.approx((between.lower_bound - 1) / spread)
    assert spread > between.sd


def test_own_claim_without_a_level_is_told() -> None:
    target = design_input(lower_limit=10, risk=())
    result = judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=target)
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert "No claim" in result.reason


def test_attribute_failures_beyond_the_plan_are_not_met_and_named() -> None:
    target = design_input(kind="attribute", unit=None)
    rows = [row(i, None, missing=False, conforming=float(i != 7), filed_unit="") for i in range(1, 60)]
    result = judged(rows, target=target, analysis=plan(approach="attribute"))
    assert result.verdict is Verdict.NOT_MET
    assert "S007" in result.reason
    allowed = judged(rows, target=target, analysis=plan(approach="attribute", allowed_failures=1))
    assert allowed.verdict is Verdict.NOT_DEMONSTRATED
    # 93 with one failure is the exact binomial plan for 95/95 (tests/reference/attribute.csv, min_n)
    assert "a new sample of 93 specimens" in allowed.would_change_it
    assert "with no more than 1 failure" in allowed.would_change_it


def test_outlier_is_reported_and_kept() -> None:
    values = [*THIRTY[5:], 30.0]
    evaluation = only(
        judged([row(i, v) for i, v in enumerate(values, 1)], target=lower(1), analysis=plan(normality_alpha=1e-12))
    )
    (step,) = [step for step in evaluation.steps if step.name == "outliers"]
    assert step.outcome is Outcome.FAILED
    assert "S026" in step.sentence
    assert evaluation.n == 26
    assert evaluation.maximum == 30.0


def test_permutation_of_the_specimens_changes_nothing() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    forward, backward = only(judged(rows, target=lower(15))), only(judged(rows[::-1], target=lower(15)))
    assert forward.lower_bound == pytest.approx(backward.lower_bound, rel=1e-14)
    assert replace(
        forward, values=(), steps=(), mean=0, sd=0, lower_bound=0, margin=0, margin_sd=0, k=0, achieved_reliability=0
    ) == replace(
        backward, values=(), steps=(), mean=0, sd=0, lower_bound=0, margin=0, margin_sd=0, k=0, achieved_reliability=0
    )


def test_lots_of_two_cannot_be_compared_and_are_not_taken_as_alike() -> None:
    rows = rows_of_lots({"L1": [20.0, 20.4], "L2": [20.1, 20.9]})
    result = judged(rows, target=lower(1), analysis=plan(lots="pool_if_compatible", compatibility_alpha=0.05))
    assert [evaluation.group for evaluation in result.evaluations] == ["L1", "L2"]
    assert result.evaluations[0].steps[2].outcome is Outcome.NOT_RUN


def test_too_few_values_for_a_distribution_free_bound_are_told_with_the_number_that_would_do() -> None:
    # by the smallest of n values, 95 % coverage holds with the confidence 1 - 0.95^n: 0.9490 for 58, 0.9515 for 59
    assert 1 - 0.95**58 < 0.95 <= 1 - 0.95**59
    claim = {"confidence": 0.95, "reliability": 0.95, "assurance_reason": "r"}
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    result = judged(
        rows, target=lower(15.0, **claim), analysis=plan(approach="distribution_free", normality_alpha=None)
    )
    assert result.verdict is Verdict.NOT_DEMONSTRATED
    assert (
        "A distribution-free bound for 95 % confidence and 95 % reliability needs at least 59 values, and there are 30."
        in result.reason
    )
    assert result.would_change_it == (
        "a new sample of 59 specimens, tested under a new protocol approved beforehand, would demonstrate it if all of "
        "them are within the limits; specimens must not be added to this sample: its results are known, and the "
        "confidence claimed would no longer hold"
    )


def _step(evaluation: Evaluation, name: str) -> Step:
    return next(step for step in evaluation.steps if step.name == name)


def test_a_bound_that_does_not_count_is_held_against_its_limit_for_information_only() -> None:
    evaluation = only(judged([row(i, v) for i, v in enumerate(THIRTY, 1)], target=lower(1, limit_method="TM-9")))
    said = _step(evaluation, "interval").sentence
    assert said.endswith("For information only, as the evidence does not count against this design input: it clears"
                         " the limit.")  # fmt: skip


def test_the_order_of_filing_is_told_with_the_level_at_which_it_was_looked_at() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    said = _step(only(judged(rows, target=lower(1.0))), "run order").sentence
    assert " was detected at the 5 % level (" in said
    assert "neither" not in said


def test_two_limits_are_told_in_the_plural_and_the_margin_is_that_to_the_nearer() -> None:
    rows = [row(i, v) for i, v in enumerate(THIRTY, 1)]
    evaluation = only(judged(rows, target=lower(1.0, upper_limit=100.0)))
    assert evaluation.lower_bound is not None
    assert evaluation.margin == pytest.approx(evaluation.lower_bound - 1.0)
    assert "which clears the limits 1 to 100 N; the nearer limit is cleared by" in evaluation.reason
    assert _step(evaluation, "interval").sentence.endswith("It lies within the limits.")
    assert _step(evaluation, "conformance").sentence == "All 30 specimens are within the limits."


@pytest.mark.parametrize(
    ("n", "side", "told"),
    [
        # sample sizes of distribution-free bounds, ISO 16269-6:2014, clause 7 and its tables: 59 and 93 for 95/95 on
        # one side with the extreme and the next value; from memory, the confidences by the binomial sum
        (59, {"lower_limit": 1.0}, ", the smallest of 59 values, with 95.1 % confidence."),
        (93, {"lower_limit": 1.0}, ", the 2nd smallest of 93 values, with 95.0 % confidence."),
        (93, {"upper_limit": 1000.0}, ", the 2nd largest of 93 values, with 95.0 % confidence."),
    ],
)
def test_a_distribution_free_bound_says_which_value_it_is(n: int, side: dict[str, float], told: str) -> None:
    claim = {"confidence": 0.95, "reliability": 0.95, "assurance_reason": "r"}
    filed = [row(at, 10 + 0.01 * at) for at in range(1, n + 1)]
    analysis = plan(approach="distribution_free", normality_alpha=None)
    found = only(judged(filed, target=design_input(**side, **claim), analysis=analysis))
    (step,) = (one for one in found.steps if one.name == "interval")
    assert told in step.sentence
