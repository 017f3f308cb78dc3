"""How a step of the plan ended, in the words of a report: a check that decides nothing neither passes nor fails."""

from __future__ import annotations

from reportgen.acceptance.records import Evaluation, Outcome, Step, Verdict

_WORDS = {
    Outcome.PASSED: "passed",
    Outcome.FAILED: "failed",
    Outcome.WAIVED: "waived",
    Outcome.NOT_RUN: "not run",
}
# checks that are reported, and by which no verdict is decided
_INFORMING = frozenset(("lots", "outliers", "run order", "set aside"))
# held against the limits: nothing to pass where the evidence does not count against them
_DECIDING = frozenset(("conformance", "interval"))


def outcome_words(step: Step, evaluation: Evaluation) -> str:
    """'passed', 'failed', 'flagged', 'for information' ... after the name of a step."""
    if step.name in _DECIDING and evaluation.standing:
        return "for information"
    if step.name in _DECIDING and is_interim(evaluation):
        # what the values so far show neither passes nor fails: the plan is judged when it is complete
        return {("conformance", Outcome.PASSED): "passed so far"}.get((step.name, step.outcome), "interim")
    if step.name == "lots" and step.figures and len(evaluation.lots) == 1:
        # several were compared and only one is in the group: the plan pools lots that agree, and these did not agree,
        # or could not be compared
        return "judged apart"
    if step.outcome is Outcome.NOT_RUN:
        # a comparison that the plan does not decide by is made all the same: then 'not run' would be wrong
        return "for information" if step.figures else _WORDS[step.outcome]
    if step.name == "lots" and not step.figures:
        return "not applicable: one lot"
    if step.name in _INFORMING:
        return {Outcome.PASSED: "nothing flagged", Outcome.FAILED: "flagged"}.get(step.outcome, _WORDS[step.outcome])
    if step.name == "distribution" and not step.figures and step.outcome is Outcome.PASSED:
        # nothing is assumed, so nothing was looked at
        return "not applicable"
    if step.name == "distribution" and step.outcome is Outcome.FAILED:
        # it chooses the approach: the declared fallback, where there is one
        return "rejected"
    if step.name == "fallback" and step.outcome is Outcome.PASSED:
        return "used"
    if step.name == "specimens" and step.outcome is Outcome.FAILED:
        return "incomplete"
    if step.outcome is Outcome.FAILED and evaluation.verdict is Verdict.MET and step.name == "conformance":
        # the plan judges the bound, not each single specimen
        return "flagged"
    return _WORDS[step.outcome]


def is_interim(evaluation: Evaluation) -> bool:
    """Whether planned specimens are outstanding and no result has settled the verdict."""
    return evaluation.verdict is Verdict.NOT_DEMONSTRATED and any(
        step.name == "specimens" and step.outcome is Outcome.FAILED for step in evaluation.steps
    )


def turns_by_exclusion(evaluation: Evaluation) -> bool:
    """Whether the verdict would be another with the specimens that were set aside."""
    return any(step.name == "set aside" and step.outcome is Outcome.FAILED for step in evaluation.steps)


def devices_set_aside(evaluation: Evaluation) -> int:
    """Devices of which a reading was set aside, those among them of which another reading counts."""
    return len({(one.lot, one.condition, one.specimen) for one in evaluation.set_aside})
