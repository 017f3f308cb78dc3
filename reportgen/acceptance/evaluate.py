"""From measurements to verdicts, by the plan that the protocol declared before testing."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from reportgen.acceptance.attribute import judge_attribute
from reportgen.acceptance.cases import Case
from reportgen.acceptance.groups import Reading, groups_of, readings_of
from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.acceptance.variable import judge_variable
from reportgen.acceptance.verdicts import of_design_input
from reportgen.lab.records import Measurements
from reportgen.project.records import DesignInput, Kind, Lot, Method, Project, Protocol

_NOWHERE = np.array([], dtype=np.intp)


def evaluate(project: Project, measurements: Measurements) -> tuple[DesignInputResult, ...]:
    """The verdict on every design input, in the order of the register.

    Args:
        measurements: the whole long table; values are in the unit of their design input.
    """
    table = measurements.table
    positions, readings = _positions(table), readings_of(table)
    lots = {(lot.lot, lot.condition): lot for lot in project.lots}
    methods = {method.id: method for method in project.methods}
    protocols: dict[str, list[Protocol]] = {}
    for protocol in project.protocols:
        for verified in protocol.verifies:
            protocols.setdefault(verified, []).append(protocol)

    results = []
    for design_input in project.design_inputs:
        evaluations: list[Evaluation] = []
        for protocol in protocols.get(design_input.id, []):
            own = [readings[at] for at in positions.get((protocol.id, design_input.id), _NOWHERE)]
            evaluations += _evaluations(project, design_input, protocol, methods[protocol.method], lots, own)
        results.append(of_design_input(design_input, tuple(evaluations)))
    return tuple(results)


def _positions(table: pd.DataFrame) -> dict[tuple[str, str], np.ndarray]:
    """Where the rows of each protocol and design input stand: one pass, so that many design inputs stay linear."""
    if table.empty:
        return {}
    found = table.groupby(["protocol", "design_input"], sort=False).indices
    return {(str(key[0]), str(key[1])): np.asarray(where) for key, where in found.items() if isinstance(key, tuple)}


def _evaluations(
    project: Project,
    design_input: DesignInput,
    protocol: Protocol,
    method: Method,
    lots: Mapping[tuple[str, str], Lot],
    readings: list[Reading],
) -> list[Evaluation]:
    groups = groups_of(readings, protocol=protocol, design_input=design_input, lots=lots)
    assurance, source = project.assurance_of(design_input)
    found: list[Evaluation] = []
    for group in groups:
        case = Case(
            design_input=design_input,
            protocol=protocol,
            method=method,
            group=group,
            assurance=assurance,
            assurance_source=source,
            is_only_group=len(groups) == 1,
            extra_decimals=project.settings.print_rounding.extra_decimals,
        )
        by_attribute = design_input.kind is Kind.ATTRIBUTE or protocol.analysis_plan.approach.value == "attribute"
        found += judge_attribute(case) if by_attribute else judge_variable(case)
    return found


def tested(results: tuple[DesignInputResult, ...]) -> bool:
    """Whether any specimen of any design input has been tested."""
    return any(result.verdict is not Verdict.NOT_TESTED for result in results)
