"""The analysis once more with the specimens that were set aside: does the verdict rest on leaving them out?"""

from __future__ import annotations

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
    whole = _with_all(case.group)
    if whole is None:
        sentence = "The specimens set aside have no value, so there is no analysis with them."
        return _with_step(evaluation, Step(name=NAME, sentence=sentence, outcome=Outcome.NOT_RUN))
    other = judge(replace(case, group=whole))
    same = other.verdict is evaluation.verdict
    names = [entry.specimen for entry in case.group.set_aside if _has_result(entry)]
    those = "it" if len(names) == 1 else "them"
    told = (
        f"{evaluation.verdict} either way"
        if same
        else f"{evaluation.verdict} without {those}, {other.verdict} with {those}"
    )
    sentence = (
        f"The analysis was made once more with {counted(len(names), 'specimen')} that had been set aside "
        f"({listed(names)}): "
        f"{told}. {other.reason}"
    )
    outcome = Outcome.PASSED if same else Outcome.FAILED
    return _with_step(evaluation, Step(name=NAME, sentence=sentence, outcome=outcome, figures=_figures(other)))


def _with_step(evaluation: Evaluation, step: Step) -> Evaluation:
    *before, last = evaluation.steps
    steps = (*before, step, last) if last.name == "interval" else (*evaluation.steps, step)
    return replace(evaluation, steps=steps)


def _has_result(entry: SetAside) -> bool:
    return entry.value is not None or entry.conforming is not None


def _with_all(group: Group) -> Group | None:
    """The group with its set-aside specimens counted; None where none of them has a result."""
    known = [entry for entry in group.set_aside if _has_result(entry)]
    if not known:
        return None
    taken = {(value.lot, value.condition, value.specimen) for value in group.values}
    # a device that was tested again counts with its later result too: one value more, never a better one instead
    added = tuple(_value(entry, again=(entry.lot, entry.condition, entry.specimen) in taken) for entry in known)
    left = tuple(entry for entry in group.set_aside if not _has_result(entry))
    return replace(group, values=SpecimenValues.of((*group.values, *added)), set_aside=left)


def _value(entry: SetAside, *, again: bool) -> SpecimenValue:
    return SpecimenValue(
        specimen=f"{entry.specimen} (first result)" if again else entry.specimen,
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
