"""Hand-made evaluations and dossiers: every verdict and every odd case without running the steps before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from reportgen.acceptance.records import (
    DesignInputResult,
    Evaluation,
    Figure,
    Outcome,
    SpecimenValue,
    Step,
    Verdict,
)
from reportgen.compose.dossier import Dossier, dossier_of
from reportgen.compose.records import BuildFacts
from reportgen.lab.read import read_lab
from reportgen.problems import Place
from reportgen.project.read import read_project
from reportgen.trace.records import Audit, Finding
from tests.good_project import BOND_FRESH_N, write_good_project

FACTS = BuildFacts(version="0.0.test", date="2026-05-04", tool_versions=(("python", "3.11"),))


def values_of(numbers: tuple[float, ...]) -> tuple[SpecimenValue, ...]:
    return tuple(
        SpecimenValue(
            specimen=f"PF{number:02d}",
            lot="L-0101",
            model="CR-5F-100",
            condition="fresh",
            value=value,
            conforming=True,
            censored="",
            failure_mode="bond",
            place=Place("results/vp_01.csv", row=number + 1),
        )
        for number, value in enumerate(numbers, start=1)
    )


def evaluation(**changed: Any) -> Evaluation:
    """Bond strength of ten fresh specimens against a lower limit of 10 N: met, with round invented statistics."""
    met = Evaluation(
        key="VP-01/DI-001/fresh",
        design_input="DI-001",
        protocol="VP-01",
        method="TM-01",
        group="fresh",
        kind="variable",
        unit="N",
        side="lower",
        approach="normal",
        approach_used="normal",
        confidence=0.95,
        reliability=0.95,
        assurance_source="risk R-1",
        lower_limit=10.0,
        upper_limit=None,
        guard=0.0,
        lots=("L-0101",),
        models=("CR-5F-100",),
        conditions=("fresh",),
        n_planned=10,
        n=10,
        n_missing=0,
        values=values_of(BOND_FRESH_N),
        set_aside=(),
        mean=18.046,
        sd=1.0885,
        minimum=16.22,
        maximum=19.86,
        k=2.9110,
        lower_bound=14.8775,
        upper_bound=None,
        achieved_reliability=0.9999612,
        achieved_confidence=None,
        failures=None,
        margin=4.8775,
        margin_sd=4.4809,
        interval_method="exact normal tolerance interval, noncentral t",
        steps=(
            Step(
                name="distribution",
                sentence="At the declared significance level 0.05 the values do not contradict a normal distribution.",
                outcome=Outcome.PASSED,
                figures=(Figure(name="distribution_anderson_darling_p", value=0.97412),),
            ),
        ),
        standing=(),
        verdict=Verdict.MET,
        reason="The lower bound of 14.877 N clears the limit of 10 N.",
        would_change_it="",
        data_decimals=2,
        limit_decimals=0,
        statistic_decimals=3,
    )
    return replace(met, **changed)


def dossier(folder: Path, *evaluations: Evaluation, findings: tuple[Finding, ...] = ()) -> Dossier:
    """The good project with these evaluations as all there is; the other design inputs are not tested."""
    project = read_project(write_good_project(folder))
    results = []
    for design_input in project.design_inputs:
        mine = tuple(one for one in evaluations if one.design_input == design_input.id)
        verdict = mine[0].verdict if mine else Verdict.NOT_TESTED
        reason = mine[0].reason if mine else "No result is on file."
        remedy = mine[0].would_change_it if mine else "test the planned specimens"
        results.append(
            DesignInputResult(
                design_input=design_input.id, verdict=verdict, reason=reason, would_change_it=remedy, evaluations=mine
            )
        )
    return dossier_of(project, read_lab(project), tuple(results), Audit((), findings), facts=FACTS)
