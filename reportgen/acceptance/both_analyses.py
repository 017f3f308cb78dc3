"""The analysis once more with the specimens that were set aside: does the verdict rest on leaving them out?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from reportgen.acceptance.cases import Case
from reportgen.acceptance.groups import Group
from reportgen.acceptance.records import Evaluation, Figure, Outcome, SetAside, SpecimenValue, Step
from reportgen.acceptance.specimen_values import SpecimenValues
from reportgen.acceptance.wording import counted, listed

NAME = "set aside"


def with_both_analyses(case: Case, evaluation: Evaluation, judge: Callable[[Case], Evaluation]) -> Evaluation:
    """The evaluation with a last step that tells the analysis with the set-aside specimens counted as well.

    The verdict stays that of the declared analysis, without them. The step fails where the other verdict is another.
    Nothing is added where no specimen was set aside, or where the evidence does not count anyway.
    """
    if not case.group.set_aside or evaluation.standing:
        return evaluation
    whole = _with_all(case)
    if whole is None:
        sentence = "The specimens set aside have no value, so there is no analysis with them."
        return _with_step(evaluation, Step(name=NAME, sentence=sentence, outcome=Outcome.NOT_RUN))
    other = judge(replace(case, group=whole))
    same = other.verdict is evaluation.verdict
    names = tuple(dict.fromkeys(entry.specimen for entry in case.group.set_aside if _has_result(entry)))
    those = "it" if len(names) == 1 else "them"
    told = (
        f"{evaluation.verdict} either way (n = {evaluation.n} without {those}, n = {other.n} with {those})"
        if same
        else f"{evaluation.verdict} without {those} (n = {evaluation.n}), {other.verdict} with {those} (n = {other.n})"
    )
    if other.approach_used and other.approach_used != evaluation.approach_used:
        told += f", where the fallback was used ({other.approach_used.replace('_', '-')})"
    sentence = (
        f"The analysis was made once more with {counted(len(names), 'specimen')} that had been set aside "
        f"({listed(names)}): {told}. {other.reason}"
    )
    outcome = Outcome.PASSED if same else Outcome.FAILED
    return _with_step(evaluation, Step(name=NAME, sentence=sentence, outcome=outcome, figures=_figures(other)))


def _with_step(evaluation: Evaluation, step: Step) -> Evaluation:
    *before, last = evaluation.steps
    steps = (*before, step, last) if last.name == "interval" else (*evaluation.steps, step)
    return replace(evaluation, steps=steps)


def _has_result(entry: SetAside) -> bool:
    return entry.value is not None or entry.conforming is not None


def _with_all(case: Case) -> Group | None:
    """The group with its set-aside specimens counted, one value for each device; None where none has a result.

    A device that counts by another reading, or of which several readings were set aside, is represented by the one
    nearest to failing, as everywhere.
    """
    group = case.group
    known = [entry for entry in group.set_aside if _has_result(entry)]
    if not known:
        return None
    by_device: dict[tuple[str, str, str], SpecimenValue] = {}
    for value in (*group.values, *(_value(entry) for entry in known)):
        device = (value.lot, value.condition, value.specimen)
        other = by_device.setdefault(device, value)
        if other is not value and _badness(value, case) > _badness(other, case):
            by_device[device] = value
    left = tuple(entry for entry in group.set_aside if not _has_result(entry))
    return replace(group, values=SpecimenValues.of(tuple(by_device.values())), set_aside=left)


def _badness(value: SpecimenValue, case: Case) -> float:
    if value.conforming is not None or value.value is None:
        return -float(bool(value.conforming))
    lower, upper = case.limits
    below = -math.inf if lower is None else lower - value.value
    return max(below, -math.inf if upper is None else value.value - upper)


def _value(entry: SetAside) -> SpecimenValue:
    return SpecimenValue(
        specimen=entry.specimen,
        lot=entry.lot,
        model=entry.model,
        condition=entry.condition,
        value=entry.value,
        conforming=entry.conforming,
        censored=entry.censored,
        failure_mode=entry.failure_mode,
        place=entry.place,
    )


def _figures(other: Evaluation) -> tuple[Figure, ...]:
    named = (
        ("set_aside_mean", other.mean),
        ("set_aside_sd", other.sd),
        ("set_aside_lower_bound", other.lower_bound),
        ("set_aside_upper_bound", other.upper_bound),
    )
    measured = tuple(Figure(name=name, value=value, unit=other.unit) for name, value in named if value is not None)
    return (Figure(name="set_aside_n", value=other.n), *measured)
