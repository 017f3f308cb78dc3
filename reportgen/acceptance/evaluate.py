"""From measurements to verdicts, by the plan that the protocol declared before testing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache, partial

import numpy as np

from reportgen.acceptance.cases import Case
from reportgen.acceptance.columns import Columns
from reportgen.acceptance.groups import Group, groups_of
from reportgen.acceptance.judging import judge_all
from reportgen.acceptance.records import DesignInputResult, Verdict
from reportgen.lab.records import Measurements
from reportgen.project.records import DesignInput, Equipment, Method, Project, Protocol
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

    def cases_of(design_input: DesignInput) -> list[Case]:
        own: list[Case] = []
        for protocol in protocols.get(design_input.id, []):
            rows = parts.get((protocol.id, design_input.id), _NOWHERE)
            groups = groups_of(rows, columns, protocol=protocol, design_input=design_input, lots=lots)
            own += _cases(project, design_input, protocol, methods[protocol.method], groups, finest)
        return own

    return judge_all(project.design_inputs, cases_of, columns)


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


def tested(results: tuple[DesignInputResult, ...]) -> bool:
    """Whether any specimen of any design input has been tested."""
    return any(result.verdict is not Verdict.NOT_TESTED for result in results)
