"""Sentences about how a test was done: method, reduction, validation, declared plan, and where its report is."""

from __future__ import annotations

from reportgen.compose.argument_tables import standard_name
from reportgen.compose.article_tables import quantity
from reportgen.compose.dossier import Dossier
from reportgen.compose.numbers import percent
from reportgen.compose.records import Run, Runs
from reportgen.compose.sentences import LOT_RULES, approach_name, counted, ended, listed
from reportgen.project.records import AnalysisPlan, DecisionRule, Method, Protocol, RoundingMethod


def performed(dossier: Dossier, protocol: Protocol) -> str:
    """Which test, by which method, and whether a standard or guidance recommends it so."""
    method = dossier.project.method(protocol.method)
    sentence = f"{ended(protocol.title)} Method {method.id}, revision {protocol.method_revision} ({method.title})."
    cited = sorted({(standard_name(dossier, clause.map), clause.clause) for clause in method.clauses})
    if not cited:
        return f"{sentence} No guidance or standard is cited for this method."
    names = listed(f"{name}, {clause}" for name, clause in cited)
    return f"{sentence} It answers {names}; options chosen and deviations are listed with the standards used."


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
        items.append(f"Agreement with the assumed distribution is checked at a significance level of {level}.")
    lots = f"Lots: {LOT_RULES[plan.lots]}"
    if plan.compatibility_alpha is not None:
        lots += f", at a significance level of {percent(plan.compatibility_alpha)} for the comparison"
    items.append(lots + "." + (f" {ended(plan.lots_justification)}" if plan.lots_justification else ""))
    by = f"each {listed(plan.evaluate_by)}" if plan.evaluate_by else "all specimens together"
    items.append(f"Evaluated separately: {by}." if plan.evaluate_by else f"Evaluated: {by}.")
    items.append(
        f"Outliers are reported at a significance level of {percent(plan.outlier_alpha)} and never removed for being "
        "outliers; a specimen is set aside only for a recorded cause."
    )
    if plan.every_specimen_conforms:
        items.append("Besides the statistical claim, every single specimen has to conform.")
    if plan.approach.value == "attribute":
        items.append(f"Failures allowed: {plan.allowed_failures}.")
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
    return f"Measured is {ended(method.measurand)} {ended(method.fixture.description)}"


def reduction(method: Method) -> str:
    """How a force-displacement record becomes a value."""
    rule = method.reduction
    if rule is None:
        return ""
    if rule.rule == "maximum":
        parts = ["The value is the highest force of the record"]
    else:
        drops = [quantity(rule.absolute_drop)] if rule.absolute_drop else []
        drops += [percent(rule.relative_drop)] if rule.relative_drop else []
        fall = f" of at least {listed(drops)}" if drops else ""
        parts = [f"The value is the force at the first drop{fall}; a higher force later in the record does not count"]
    if rule.window_from or rule.window_to:
        low = quantity(rule.window_from) if rule.window_from else "the start"
        high = f" to {quantity(rule.window_to)}" if rule.window_to else " on"
        parts.append(f"looked for from {low}{high}")
    if rule.smoothing_points:
        parts.append(f"after smoothing over {counted(rule.smoothing_points, 'point')}")
    return ", ".join(parts) + "."


def validation(method: Method) -> str:
    """What shows that the method measures what it should, and where it does not."""
    known = method.validation
    if known is None:
        return ""
    sentence = f"{ended(known.report + ': ' + known.kind)}"
    if known.study:
        sentence += f" Study: {ended(known.study)}"
    return sentence


def location(protocol: Protocol) -> str:
    """Where the complete report is."""
    report = protocol.report
    where = (
        f", in the submission at {report.location}"
        if report.location
        else "; its place in the submission is not recorded"
    )
    return f"Test report {report.number}, revision {report.revision}{where}."
