"""One group of specimens with everything that decides over it, and the evaluation it starts from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from reportgen.acceptance.approaches import Claim, Samples
from reportgen.acceptance.assumptions import in_order
from reportgen.acceptance.foreseen import InOrder
from reportgen.acceptance.groups import Group
from reportgen.acceptance.records import Evaluation, Figure, Outcome, Standing, Step, Verdict
from reportgen.acceptance.standing import standing_of, supporting_bridge
from reportgen.acceptance.wording import (
    counted,
    decimals_after_conversion,
    decimals_of_limit,
    decimals_of_step,
    listed,
)
from reportgen.project.records import AssuranceLevel, DecisionRule, DesignInput, Method, Protocol, RoundingMethod
from reportgen.quantities import scale_between
from reportgen.rounding import nearest, parsed
from reportgen.stats.records import Side


@dataclass(frozen=True, kw_only=True)
class Case:
    """A group to be judged. `is_only_group` leaves the group's label out of the key.

    Without slots, so that what every specimen asks for is computed once.
    """

    design_input: DesignInput
    protocol: Protocol
    method: Method
    group: Group
    assurance: AssuranceLevel | None
    assurance_source: str
    is_only_group: bool
    extra_decimals: int
    # the finest step, in the unit of the design input, of the equipment that read the values; None: not known
    resolution: float | None = None

    @cached_property
    def samples(self) -> Samples:
        """The values by lot."""
        return self.group.numbers_by_lot()

    @cached_property
    def pooled(self) -> np.ndarray:
        """The values of all lots, lot after lot."""
        return self.samples[0] if len(self.samples) == 1 else np.concatenate(self.samples)

    @cached_property
    def in_order(self) -> InOrder:
        """The values lot after lot, each in the order in which it was filed."""
        values = self.group.values
        return in_order(self.group.numbers(), values.column("lot")[~np.isnan(values.column("value"))])

    @cached_property
    def is_censored(self) -> bool:
        return any(self.group.values.column("censored").tolist())

    @property
    def key(self) -> str:
        stem = f"{self.protocol.id}/{self.design_input.id}"
        return stem if self.is_only_group or not self.group.label else f"{stem}/{self.group.label}"

    @property
    def unit(self) -> str:
        return self.design_input.unit or ""

    @cached_property
    def limits(self) -> tuple[float | None, float | None]:
        """The limits on the method that was used: moved by the bridging study's factor where it gives one."""
        factor = self.transfer_factor
        lower, upper = self.design_input.lower_limit, self.design_input.upper_limit
        if factor == 1.0:
            return lower, upper
        return (None if lower is None else lower * factor), (None if upper is None else upper * factor)

    @cached_property
    def transfer_factor(self) -> float:
        bridge = supporting_bridge(self.group, protocol=self.protocol, design_input=self.design_input)
        return 1.0 if bridge is None or bridge.factor is None else bridge.factor

    @cached_property
    def limit_decimals(self) -> int:
        """Decimals of the limit as filed where the reader kept them, else of the number itself."""
        if self.design_input.limit_decimals is not None:
            return self.design_input.limit_decimals
        given = (self.design_input.lower_limit, self.design_input.upper_limit)
        return max((decimals_of_limit(limit) for limit in given if limit is not None), default=0)

    @cached_property
    def data_decimals(self) -> int:
        filed = self.group.filed_decimals
        if not self.unit:
            return filed
        return max(
            (
                decimals_after_conversion(filed, from_unit=unit, to_unit=self.unit)
                for unit in self.group.filed_units
                if unit
            ),
            default=filed,
        )

    @property
    def statistic_decimals(self) -> int:
        """Decimals of what is computed: so many as declared beyond the finer of limit and data, of which no more count
        than the equipment resolves. A conversion gives 7.195 lbf three decimals of a newton; a load cell that reads in
        steps of 0.01 N stands behind two.
        """
        data = self.data_decimals
        if self.resolution is not None:
            data = min(data, decimals_of_step(self.resolution))
        return max(data, self.limit_decimals) + self.extra_decimals

    def rounded(self, value: float) -> float:
        """`value` rounded half to even at the last place of the limit (ASTM E29, rounding method)."""
        return float(parsed(nearest(value, self.limit_decimals)))

    def as_compared(self, values: np.ndarray) -> np.ndarray:
        """Specimens' values as the declared rounding compares them with a limit; NaN stays NaN."""
        if self.protocol.analysis_plan.rounding is not RoundingMethod.ROUNDING:
            return values
        return np.array([value if math.isnan(value) else self.rounded(value) for value in values.tolist()])

    def guard(self) -> float | None:
        """The expanded measurement uncertainty by which a bound must clear its limit; None when it is not known."""
        if self.protocol.analysis_plan.decision_rule is DecisionRule.SIMPLE:
            return 0.0
        validation = self.method.validation
        if validation is None or validation.expanded_uncertainty is None or not self.unit:
            return None
        stated = validation.expanded_uncertainty
        return stated.value * float(scale_between(stated.unit, self.unit))

    def claim(self, guard: float) -> Claim | None:
        """The claim with its limits moved inward by the guard; None without confidence and reliability."""
        if self.assurance is None:
            return None
        lower, upper = self.limits
        return Claim(
            confidence=self.assurance.confidence,
            reliability=self.assurance.reliability,
            lower=None if lower is None else lower + guard,
            upper=None if upper is None else upper - guard,
        )

    def standing(self) -> tuple[Standing, ...]:
        return standing_of(self.group, protocol=self.protocol, design_input=self.design_input)


def untested(case: Case) -> Evaluation:
    """The evaluation before anything was computed: what every judgement starts from."""
    return Evaluation(**untested_fields(case))


def untested_fields(case: Case) -> dict[str, Any]:
    """The fields of `untested`: what is computed is laid over them before the evaluation is built."""
    group, plan, (lower, upper) = case.group, case.protocol.analysis_plan, case.limits
    return dict(  # noqa: C408 (read as the call that it becomes)
        key=case.key,
        design_input=case.design_input.id,
        protocol=case.protocol.id,
        method=case.method.id,
        group=group.label,
        kind=case.design_input.kind.value,
        unit=case.unit,
        side=_side(lower, upper),
        approach=plan.approach.value,
        approach_used="",
        confidence=case.assurance.confidence if case.assurance else None,
        reliability=case.assurance.reliability if case.assurance else None,
        assurance_source=case.assurance_source,
        lower_limit=lower,
        upper_limit=upper,
        guard=case.guard() or 0.0,
        lots=group.lots,
        models=tuple(sorted(filter(None, set(group.values.column("model").tolist())))),
        conditions=tuple(sorted(filter(None, set(group.values.column("condition").tolist())))),
        n_planned=group.n_planned,
        n=len(group.values),
        n_missing=n_outstanding(group),
        values=group.values,
        set_aside=group.set_aside,
        mean=None,
        sd=None,
        minimum=None,
        maximum=None,
        k=None,
        lower_bound=None,
        upper_bound=None,
        achieved_reliability=None,
        achieved_confidence=None,
        failures=None,
        margin=None,
        margin_sd=None,
        interval_method="",
        steps=(),
        standing=case.standing(),
        verdict=Verdict.NOT_TESTED,
        reason=_untested_reason(group),
        would_change_it=f"test the {counted(group.n_planned, 'planned specimen')}"
        if group.n_planned
        else "plan specimens",
        data_decimals=case.data_decimals,
        statistic_decimals=case.statistic_decimals,
        limit_decimals=case.limit_decimals,
    )


def _side(lower: float | None, upper: float | None) -> Side | None:
    if lower is None:
        return None if upper is None else "upper"
    return "lower" if upper is None else "both"


def n_outstanding(group: Group) -> int:
    """Planned specimens without a result that neither an exclusion nor a deviation accounts for."""
    return max(0, group.n_planned - len(group.values) - group.n_set_aside - group.accounted)


def specimens_step(group: Group) -> Step:
    """Who was planned, tested and set aside: the first step of every evaluation."""
    parts = [f"{counted(len(group.values), 'specimen')} of {group.n_planned} planned gave a valid result"]
    if group.set_aside:
        parts.append(f"{_those_set_aside(group)} set aside ({_causes(group)})")
    outstanding = n_outstanding(group)
    if outstanding:
        parts.append(f"{counted(outstanding, 'planned specimen')} without a result so far")
    if group.readings_folded:
        parts.append(
            f"{counted(group.readings_folded, 'further reading')} of the same devices did not raise n: the reading"
            " nearest to failing stands for its device"
        )
    return Step(
        name="specimens",
        sentence="; ".join(parts) + ".",
        outcome=Outcome.FAILED if outstanding else Outcome.PASSED,
        figures=(
            Figure(name="n", value=len(group.values)),
            Figure(name="n_planned", value=group.n_planned),
            Figure(name="n_set_aside", value=group.n_set_aside),
            Figure(name="n_outstanding", value=outstanding),
        ),
    )


def _those_set_aside(group: Group) -> str:
    """Specimens, or readings where of every device concerned another reading counts."""
    if group.n_set_aside:
        return counted(group.n_set_aside, "specimen")
    return counted(len(group.set_aside), "reading")


def _causes(group: Group) -> str:
    return listed([f"{entry.specimen}: {entry.cause or 'no cause recorded'}" for entry in group.set_aside])


def _untested_reason(group: Group) -> str:
    if group.set_aside:
        return f"No valid result: {counted(group.n_set_aside, 'specimen')} set aside ({_causes(group)})."
    return (
        f"None of the {counted(group.n_planned, 'planned specimen')} has a result yet."
        if group.n_planned
        else ("No specimens are planned and none were tested.")
    )
