"""From measurements to verdicts, by the plan that the protocol declared before testing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache, partial

import numpy as np

from reportgen.acceptance.attribute import judge_attribute
from reportgen.acceptance.cases import Case
from reportgen.acceptance.columns import Columns
from reportgen.acceptance.foreseen import Foreseen
from reportgen.acceptance.groups import Group, groups_of
from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.acceptance.variable import foresee_checks, judge_variable
from reportgen.acceptance.verdicts import of_design_input
from reportgen.lab.records import Measurements
from reportgen.project.records import Approach, DesignInput, Equipment, Kind, Method, Project, Protocol
from reportgen.quantities import convert, same_kind

_FinestStep = Callable[[tuple[str, ...], str | None], float | None]
_NOWHERE = np.array([], dtype=np.intp)


def evaluate(project: Project, measurements: Measurements) -> tuple[DesignInputResult, ...]:
    """The verdict on every design input, in the order of the register.

    Args:
        measurements: the whole long table; values are in the unit of their design input.
    """
    columns = Columns(measurements)
    parts = columns.parts()
    lots = {(lot.lot, lot.condition): lot for lot in project.lots}
    methods = {method.id: method for method in project.methods}
    finest = lru_cache(maxsize=None)(partial(_finest_step, {piece.id: piece for piece in project.equipment}))
    protocols: dict[str, list[Protocol]] = {}
    for protocol in project.protocols:
        for verified in protocol.verifies:
            protocols.setdefault(verified, []).append(protocol)

    cases: list[tuple[DesignInput, list[Case]]] = []
    for design_input in project.design_inputs:
        own: list[Case] = []
        for protocol in protocols.get(design_input.id, []):
            rows = parts.get((protocol.id, design_input.id), _NOWHERE)
            groups = groups_of(rows, columns, protocol=protocol, design_input=design_input, lots=lots)
            own += _cases(project, design_input, protocol, methods[protocol.method], groups, finest)
        cases.append((design_input, own))
    foreseen = foresee_checks(case for _, own in cases for case in own if not _is_by_attribute(case))
    return tuple(
        of_design_input(design_input, tuple(evaluation for case in own for evaluation in _judged(case, foreseen)))
        for design_input, own in cases
    )


def _cases(
    project: Project,
    design_input: DesignInput,
    protocol: Protocol,
    method: Method,
    groups: tuple[Group, ...],
    finest: _FinestStep,
) -> list[Case]:
    assurance, source = project.assurance_of(design_input)
    return [
        Case(
            design_input=design_input,
            protocol=protocol,
            method=method,
            group=group,
            assurance=assurance,
            assurance_source=source,
            is_only_group=len(groups) == 1,
            extra_decimals=project.settings.print_rounding.extra_decimals,
            resolution=_resolution(group, method, design_input, finest),
        )
        for group in groups
    ]


def _resolution(group: Group, method: Method, design_input: DesignInput, finest: _FinestStep) -> float | None:
    """The finest step of the equipment that a group's values were filed with, else of what the method lists."""
    used = {tuple(filed.split(";")) if filed else method.equipment for filed in group.equipment}
    steps = [finest(listed, design_input.unit) for listed in used]
    return min((step for step in steps if step is not None), default=None)


def _finest_step(equipment: Mapping[str, Equipment], listed: tuple[str, ...], unit: str | None) -> float | None:
    """The finest resolution, in this unit, among these pieces of equipment; None where none is on file."""
    steps = [equipment[id].resolution for id in listed if id in equipment]
    found = [
        convert(step.value, from_unit=step.unit, to_unit=unit)
        for step in steps
        if step is not None and unit and step.value > 0 and same_kind(step.unit, unit)
    ]
    return min(found, default=None)


def _is_by_attribute(case: Case) -> bool:
    return case.design_input.kind is Kind.ATTRIBUTE or case.protocol.analysis_plan.approach is Approach.ATTRIBUTE


def _judged(case: Case, foreseen: Foreseen) -> list[Evaluation]:
    return judge_attribute(case) if _is_by_attribute(case) else judge_variable(case, foreseen)


def tested(results: tuple[DesignInputResult, ...]) -> bool:
    """Whether any specimen of any design input has been tested."""
    return any(result.verdict is not Verdict.NOT_TESTED for result in results)
