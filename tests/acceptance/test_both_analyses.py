"""The second analysis, with the specimens that were set aside: its numbers, its verdict, and one value for a device."""

from __future__ import annotations

import statistics

import pytest

from reportgen.acceptance.records import Evaluation, Outcome, Step, Verdict
from tests.acceptance.scenario import design_input, judged, only, plan, row

# evenly spread about 20 N: far above a limit of 10 N
TWENTY = tuple(19.0 + 0.1 * number for number in range(20))
LIMIT = design_input(lower_limit=10.0)


def _step(evaluation: Evaluation) -> Step | None:
    return next((step for step in evaluation.steps if step.name == "set aside"), None)


def _judged(*aside: dict[str, object]) -> Evaluation:
    rows = [row(number, value) for number, value in enumerate(TWENTY, 1)]
    return only(judged([*rows, *aside], target=LIMIT))


def test_without_exclusions_there_is_no_second_analysis() -> None:
    assert _step(_judged()) is None


def test_an_exclusion_that_turns_the_verdict_is_told_with_both_and_the_verdict_stays_the_declared_one() -> None:
    evaluation = _judged(row(21, 4.0, excluded=True, cause="slipped"))
    step = _step(evaluation)
    assert evaluation.verdict is Verdict.MET
    assert step is not None
    assert step.outcome is Outcome.FAILED
    assert "met without it (n = 20), not met with it (n = 21)" in step.sentence
    assert "S021" in step.sentence


def test_the_numbers_with_all_specimens_are_those_of_all_values() -> None:
    evaluation = _judged(row(21, 18.5, excluded=True, cause="slipped"))
    step = _step(evaluation)
    assert step is not None
    assert step.outcome is Outcome.PASSED
    figures = {figure.name: figure.value for figure in step.figures}
    values = [*TWENTY, 18.5]
    assert figures["set_aside_n"] == 21
    assert figures["set_aside_mean"] == pytest.approx(statistics.fmean(values), rel=1e-12)
    assert figures["set_aside_sd"] == pytest.approx(statistics.stdev(values), rel=1e-12)
    # the declared analysis is untouched
    assert evaluation.mean == pytest.approx(statistics.fmean(TWENTY), rel=1e-12)


@pytest.mark.parametrize("number", [20, 21])
def test_a_device_counts_once_with_its_worse_reading(number: int) -> None:
    """Specimen 20 counts by another reading already; of specimen 21 two readings were set aside."""
    readings = (9.0, 9.5) if number == 21 else (9.0,)
    step = _step(_judged(*(row(number, value, excluded=True, cause="misread") for value in readings)))
    assert step is not None
    figures = {figure.name: figure.value for figure in step.figures}
    values = [*TWENTY[: number - 1], 9.0]
    assert figures["set_aside_n"] == number
    assert figures["set_aside_mean"] == pytest.approx(statistics.fmean(values), rel=1e-12)


def test_without_a_value_the_second_analysis_is_not_run() -> None:
    step = _step(_judged(row(21, None, excluded=True, cause="broken in its tray")))
    assert step is not None
    assert step.outcome is Outcome.NOT_RUN


def test_an_attribute_failure_set_aside_is_counted_in_the_second_analysis() -> None:
    rows = [row(number, None, conforming=1.0, missing=False) for number in range(1, 60)]
    rows.append(row(60, None, conforming=0.0, missing=False, excluded=True, cause="plug loose"))
    target = design_input(kind="attribute", unit=None)
    evaluation = only(judged(rows, target=target, analysis=plan(approach="attribute", normality_alpha=None)))
    step = _step(evaluation)
    assert evaluation.verdict is Verdict.MET
    assert step is not None
    assert step.outcome is Outcome.FAILED


def test_values_filed_on_another_scale_than_the_limit_do_not_count() -> None:
    """ln 20 is 3.0: whatever the numbers say, they are not those of the limit."""
    rows = [row(number, value) for number, value in enumerate(TWENTY, 1)]
    results = ({"file": "results/vp_1.csv", "layout": {"scales": {"force": "ln"}}},)
    evaluation = only(judged(rows, target=LIMIT, protocol={"results": results}))
    assert evaluation.verdict is Verdict.NOT_DEMONSTRATED
    assert [reason.rule for reason in evaluation.standing] == ["values-and-limits-on-different-scales"]
