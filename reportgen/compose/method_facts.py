"""Sentences about how a test was done: method, reduction, validation, declared plan, and where its report is."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from reportgen.compose.article_tables import quantity
from reportgen.compose.citations import gathered
from reportgen.compose.dossier import Dossier
from reportgen.compose.progress import Progress, progress
from reportgen.compose.records import Run, Runs
from reportgen.compose.sentences import approach_name
from reportgen.compose.wording import ended, listed, sentence
from reportgen.project.records import (
    AnalysisPlan,
    Approach,
    ClauseRef,
    DecisionRule,
    LotRule,
    Method,
    Protocol,
    Purpose,
    Reduction,
    RoundingMethod,
)
from reportgen.quantities import unit
from reportgen.rounding import percent

NOT_ISSUED = "not issued yet"
_NO_PLACE = "Its place in the submission is not recorded"


def performed(dossier: Dossier, protocol: Protocol) -> str:
    """Which test, by which method, and whether a standard or guidance recommends it so."""
    method = dossier.project.method(protocol.method)
    told = f"{ended(protocol.title)} Method {method.id}, revision {protocol.method_revision} ({method.title})."
    cited = gathered(dossier, method.clauses)
    named = {str(one) for one in method.clauses}
    linked = _linked(dossier, protocol, besides=named)
    covers = f"The method covers {'; '.join(cited)}." if cited else "No guidance or standard is cited for this method."
    if not linked:
        return f"{told} {covers}"
    return " ".join((told, covers, *linked))


def _linked(dossier: Dossier, protocol: Protocol, *, besides: Collection[str]) -> Iterator[str]:
    """The clauses that the mapping file links to the design inputs of this protocol: first those of all of them."""
    clauses: dict[str, ClauseRef] = {}
    inputs: dict[str, list[str]] = {}
    for link in dossier.project.requirements_map.links:
        for clause in link.clauses if link.protocol == protocol.id else ():
            if str(clause) not in besides:
                clauses.setdefault(str(clause), clause)
                inputs.setdefault(str(clause), []).append(link.design_input)
    alike: dict[tuple[str, ...], list[ClauseRef]] = {}
    for name, ids in inputs.items():
        alike.setdefault(tuple(one for one in protocol.verifies if one in ids), []).append(clauses[name])
    for shared, found in sorted(alike.items(), key=lambda pair: -len(pair[0])):
        if len(shared) < len(protocol.verifies):
            whose = f"{listed(shared)} {'is' if len(shared) == 1 else 'are'}"
        else:
            whose = f"The design {'input addressed here is' if len(shared) == 1 else 'inputs addressed here are'}"
        yield f"{whose} also linked to {'; '.join(gathered(dossier, found))}."


_BY_SIZE = (
    "the Anderson-Darling test decides, for fewer than 8 values the Shapiro-Wilk test; the other is given for "
    "information"
)
_DECIDES = {
    Approach.NORMAL: _BY_SIZE,
    Approach.LOGNORMAL: _BY_SIZE,
    Approach.BOX_COX: _BY_SIZE,
    Approach.WEIBULL: "the Anderson-Darling test decides",
}


def plan_items(plan: AnalysisPlan) -> tuple[Runs, ...]:
    """The declared plan as a list."""
    approach = f"Approach: {approach_name(plan.approach)}"
    approach += (
        f"; declared fallback if the distribution is contradicted: {approach_name(plan.fallback)}"
        if plan.fallback
        else ""
    )
    items = [approach + "."]
    if plan.normality_alpha is not None:
        level = percent(plan.normality_alpha)
        decides = f"; {_DECIDES[plan.approach]}" if plan.approach in _DECIDES else ""
        items.append(f"Agreement with the assumed distribution is checked at a significance level of {level}{decides}.")
    items.append(_lot_rule(plan) + (f" {ended(plan.lots_justification)}" if plan.lots_justification else ""))
    if plan.evaluate_by:
        each = " combination of " if len(plan.evaluate_by) > 1 else " "
        items.append(f"Evaluated separately: each{each}{listed(plan.evaluate_by)}.")
    elif plan.lots is not LotRule.EACH_LOT:
        items.append("Models and conditions are not evaluated separately.")
    if plan.approach.value == "attribute":
        # specimens are counted as conforming or failing: there is no value to be an outlier, to round or to guard
        items.append(f"Failures allowed: {plan.allowed_failures or 'none'}.")
        items.append("A specimen is set aside only for a recorded cause.")
        return tuple((Run(text=item),) for item in items)
    items.append(
        f"Outliers are reported at a significance level of {percent(plan.outlier_alpha)} and never removed for being "
        "outliers; a specimen is set aside only for a recorded cause."
    )
    items.append(
        f"The order of testing is looked at for a drift at a significance level of {percent(plan.outlier_alpha)}; this "
        "is reported and decides nothing."
    )
    if plan.every_specimen_conforms:
        items.append("Besides the statistical claim, every single specimen has to conform.")
    items.append(
        "Values are compared with limits as measured (the absolute method)."
        if plan.rounding is RoundingMethod.ABSOLUTE
        else "Values are compared with limits after rounding to the limit's last place (the rounding method)."
    )
    if plan.decision_rule is DecisionRule.GUARDED:
        items.append("Decision rule: limits are tightened by the expanded uncertainty of the measurement.")
    else:
        items.append("Decision rule: simple acceptance, without a guard band.")
    return tuple((Run(text=item),) for item in items)


def method_in_brief(dossier: Dossier, protocol: Protocol) -> str:
    """Fixture and measurand in a sentence each."""
    method = dossier.project.method(protocol.method)
    return f"Measurand: {sentence(method.measurand)} Fixture: {sentence(method.fixture.description)}"


def conditioning(protocol: Protocol) -> str:
    """What is done to the specimens before the test, step by step, in a sentence."""
    if not protocol.conditioning:
        return "The protocol asks for no conditioning before the test."
    steps = (step.step for step in protocol.conditioning)
    told = (step[:1].lower() + step[1:] if step[1:2].islower() else step for step in steps)
    return f"Before the test: {'; '.join(told)}."


def reduction(method: Method) -> str:
    """How a force-displacement record becomes a value."""
    rule = method.reduction
    if rule is None:
        return ""
    if rule.rule == "maximum":
        sentences = ["The value is the highest force of the record."]
    else:
        drops = [quantity(rule.absolute_drop)] if rule.absolute_drop else []
        drops += [f"{percent(rule.relative_drop)} of the force before it"] if rule.relative_drop else []
        fall = f", a fall of at least {listed(drops)}" if drops else ""
        sentences = [
            f"The value is the highest force before the first real drop of the record{fall}. A higher force later in "
            "the record does not count."
        ]
    if rule.window_from or rule.window_to:
        start = f"from {quantity(rule.window_from)}" if rule.window_from else "from the start"
        sentences.append(
            f"It is looked for {start}" + (f" to {quantity(rule.window_to)}." if rule.window_to else " on.")
        )
    return " ".join((*sentences, *_corrections(rule)))


def _corrections(rule: Reduction) -> list[str]:
    """What is done to a record before its value is looked for, in the order in which it is done."""
    told = []
    if rule.baseline:
        by_travel = unit(rule.baseline.unit).kind == "length"
        start, end = ("the median force over the first ", " of travel") if by_travel else ("an offset of ", "")
        told.append(f"{start}{quantity(rule.baseline)}{end} is subtracted from the record")
    if rule.toe_force:
        told.append(f"displacement counts from where the force reaches {quantity(rule.toe_force)}")
    if rule.smoothing_points and rule.smoothing_points > 1:
        told.append(f"the force is smoothed by a moving average over {rule.smoothing_points} points")
    return [f"Before that, {listed(told)}."] if told else []


def validation(method: Method) -> str:
    """What shows that the method measures what it should, and where it does not."""
    known = method.validation
    if known is None:
        return ""
    told = ended(f"{known.report}: {known.kind}")
    return f"{told} Study: {ended(known.study)}" if known.study else told


def location(dossier: Dossier, protocol: Protocol) -> str:
    """Where the complete report is, or is to be: one without a date is not issued yet."""
    report = protocol.report
    named = f"Test report {report.number}, revision {report.revision}"
    where = f"in the submission at {report.location}" if report.location else ""
    if report.on is None:
        how_far = progress(dossier, protocol)
        why = "it bears no date" if how_far is Progress.FINISHED else how_far.value
        return f"{named}, is not issued yet: {why}. {f'It is to stand {where}' if where else _NO_PLACE}."
    issued = f"{named}, issued on {report.on.isoformat()}"
    return f"{issued}, {where}." if where else f"{issued}. {_NO_PLACE}."


def _lot_rule(plan: AnalysisPlan) -> str:
    level = f" at a significance level of {percent(plan.compatibility_alpha)}" if plan.compatibility_alpha else ""
    of_group = f" of a {' and '.join(plan.evaluate_by)}" if plan.evaluate_by else ""
    return {
        LotRule.EACH_LOT: "Each lot is evaluated by itself and has to meet the criterion alone.",
        LotRule.POOLED: f"All lots{of_group} are evaluated together as one sample.",
        LotRule.POOL_IF_COMPATIBLE: f"Lots{of_group} are evaluated together if their comparison finds no "
        f"difference{level}, else each by itself.",
        LotRule.BETWEEN_LOT: f"Lots{of_group} are taken as a random sample of production; the bound holds their "
        "spread.",
    }[plan.lots]


def criteria_lead(dossier: Dossier, protocol: Protocol) -> str:
    """Where the criteria come from, and whether they stood before the first result."""
    if protocol.purpose is Purpose.CHARACTERIZATION:
        return "This test characterizes the device. Its results are assessed and verify no design input."
    approved = protocol.approved_on.isoformat()
    source = (
        "The criteria come from the design inputs; confidence and reliability follow from the severity of the risk, or "
        f"are stated by the design input with a reason. The protocol was approved on {approved}"
    )
    days = dossier.test_days(protocol.id)
    if not days:
        return f"{source}; no result is filed yet."
    if approved <= days[0]:
        return f"{source}, before the first result of {days[0]}."
    return f"{source}, after the first result of {days[0]}: the criteria were not fixed before testing."


def plan_lead(dossier: Dossier, protocol: Protocol) -> str:
    """Whether the analysis plan was declared before the first result."""
    declared, days = protocol.analysis_plan.declared_on.isoformat(), dossier.test_days(protocol.id)
    if not days:
        return f"The plan was declared on {declared}; no result is filed yet."
    if declared <= days[0]:
        return f"The plan was declared on {declared}, before the first result of {days[0]}."
    return (
        f"The plan was declared on {declared}, after the first result of {days[0]}: it is no plan made before testing."
    )


def plans_lead(dossier: Dossier) -> str:
    """Whether the analysis plans of all protocols were declared before their first results."""
    tested = [one for one in dossier.project.protocols if dossier.test_days(one.id)]
    if not tested:
        return "The analysis plan of each protocol is declared; no result is filed yet."
    late = [one.id for one in tested if one.analysis_plan.declared_on.isoformat() > dossier.test_days(one.id)[0]]
    if not late:
        return "The analysis plan of each protocol was declared before its first result."
    return f"The analysis plan of each protocol was declared before its first result, except of {listed(late)}."
