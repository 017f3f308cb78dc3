"""What a record says must fit together: limits, units, levels, dates. One subject per function."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from reportgen.problems import Problem, did_you_mean
from reportgen.project.draft import Draft
from reportgen.project.records import Approach, Criterion, DesignInput, Kind, LotRule, Protocol, Record


def consistency_problems(draft: Draft) -> list[Problem]:
    """All contradictions inside records, and between the risks and the assurance levels."""
    problems = [problem for check in _OF_DESIGN_INPUT for record in draft.design_inputs for problem in check(record)]
    problems.extend(_severities(draft))
    problems.extend(_calibration_periods(draft))
    for protocol in draft.protocols:
        problems.extend(_file_name(protocol))
        problems.extend(_random_model(protocol))
        for criterion in protocol.criteria:
            problems.extend(_limits_in_order(criterion))
    return problems


def _has_unit(design_input: DesignInput) -> Iterator[Problem]:
    if design_input.kind is Kind.VARIABLE and design_input.unit is None:
        yield Problem(
            place=design_input.at("unit"),
            found=f"no unit for the variable design input {design_input.id!r}",
            expected="a unit such as N, mm or kPa",
            mend="write the unit of its limits",
        )


def _has_limit(design_input: DesignInput) -> Iterator[Problem]:
    none = design_input.lower_limit is None and design_input.upper_limit is None
    if design_input.kind is Kind.VARIABLE and none:
        yield Problem(
            place=design_input.at("lower_limit"),
            found=f"no limit for the variable design input {design_input.id!r}",
            expected="a lower limit, an upper limit, or both",
            mend="write the limit, or make its kind 'attribute' if it is judged pass or fail",
        )


def _attribute_has_none(design_input: DesignInput) -> Iterator[Problem]:
    for name in ("lower_limit", "upper_limit"):
        if design_input.kind is Kind.ATTRIBUTE and getattr(design_input, name) is not None:
            yield Problem(
                place=design_input.at(name),
                found=f"a limit for the attribute design input {design_input.id!r}",
                expected="no limit: an attribute passes or fails",
                mend="delete the limit, or make its kind 'variable' if values are measured",
            )


def _limits_in_order(record: DesignInput | Criterion) -> Iterator[Problem]:
    lower, upper = record.lower_limit, record.upper_limit
    if lower is not None and upper is not None and lower >= upper:
        yield Problem(
            place=record.at("lower_limit"),
            found=f"lower limit {lower:g}, upper limit {upper:g}",
            expected="a lower limit below the upper limit",
            mend="correct the two limits; they may have been exchanged",
        )


def _whole_claim(design_input: DesignInput) -> Iterator[Problem]:
    pair = (("confidence", "reliability"), ("reliability", "confidence"))
    for given, absent in pair:
        if getattr(design_input, given) is not None and getattr(design_input, absent) is None:
            yield Problem(
                place=design_input.at(absent),
                found=f"a {given} without a {absent}",
                expected="both, or neither (then the level of its risk holds)",
                mend=f"write the {absent}, or delete the {given}",
            )


def _reason_for_own_claim(design_input: DesignInput) -> Iterator[Problem]:
    own = design_input.confidence is not None and design_input.reliability is not None
    if own and not design_input.assurance_reason:
        yield Problem(
            place=design_input.at("assurance_reason"),
            found=f"confidence and reliability of its own for {design_input.id!r}, without a reason",
            expected="the reason why the level of its risk does not hold",
            mend="write it in the column 'assurance_reason', or delete the two figures",
        )


_OF_DESIGN_INPUT: tuple[Callable[[DesignInput], Iterator[Problem]], ...] = (
    _has_unit,
    _has_limit,
    _attribute_has_none,
    _limits_in_order,
    _whole_claim,
    _reason_for_own_claim,
)


def _severities(draft: Draft) -> Iterator[Problem]:
    """A severity that the company's table does not know would leave design inputs without a claim."""
    if draft.settings is None:
        return
    levels = tuple(draft.settings.assurance_levels.levels)
    for risk in draft.risks:
        if risk.severity not in levels:
            yield Problem(
                place=risk.at("severity"),
                found=repr(risk.severity),
                expected="a severity of assurance_levels in project.yaml",
                mend=did_you_mean(risk.severity, levels),
            )


def _calibration_periods(draft: Draft) -> Iterator[Problem]:
    records: tuple[Record, ...] = (*draft.equipment, *draft.calibrations)
    for record in records:
        begun, due = getattr(record, "calibrated_on", None), getattr(record, "calibration_due", None)
        if begun is not None and due is not None and due < begun:
            yield Problem(
                place=record.at("calibration_due"),
                found=f"calibration due on {due}, before it was done on {begun}",
                expected="a due date after the calibration",
                mend="correct the two dates; they may have been exchanged",
            )


def _random_model(protocol: Protocol) -> Iterator[Problem]:
    """Lots as a random sample are a model of normal values within and between lots; there is none of other kinds."""
    plan = protocol.analysis_plan
    if plan.lots is LotRule.BETWEEN_LOT and plan.approach is not Approach.NORMAL:
        yield Problem(
            place=plan.at("lots"),
            found=f"lots: between_lot beside approach: {plan.approach.value}",
            expected="approach: normal, as the model of lots takes values as normal within and between lots",
            mend="write approach: normal, or another rule for lots: each_lot, pooled or pool_if_compatible",
        )


def _file_name(protocol: Protocol) -> Iterator[Problem]:
    """A report is named after its protocol, on every system that may hold it."""
    if set(protocol.id) & set('\\:*?"<>') or protocol.id.startswith(".") or protocol.id.endswith("."):
        cleaned = "".join("-" if letter in '\\:*?"<>' else letter for letter in protocol.id).strip(".") or "VP-1"
        yield Problem(
            place=protocol.at("id"),
            found=repr(protocol.id),
            expected="an id that can be the name of a file, since its report is named after it",
            mend=f"write {cleaned!r}",
        )
