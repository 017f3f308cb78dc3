"""From need to requirement: is every need and risk answered, is every requirement needed, is each one verified?"""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.acceptance.records import DesignInputResult, Verdict
from reportgen.project.records import Purpose
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import brief, listed


@rule("design-input-without-protocol", severity=Severity.BLOCKER)
def without_protocol(evidence: Evidence) -> Iterator[Hole]:
    """A design input that no protocol verifies.

    Why: a requirement without a test has no evidence, and a reviewer walks the list of requirements line by line.
    Source: 21 CFR 820 (QMSR) with ISO 13485:2016, 7.3.6; FDA bench performance guidance, 2019.
    """
    for record in evidence.project.design_inputs:
        if record.id not in evidence.protocols_of:
            yield Hole(
                records=(record.id,),
                place=record.at("id"),
                message=f"No protocol verifies design input {record.id} ({brief(record.statement)}).",
                remedy=f"Add {record.id} to `verifies` of the protocol that tests it, or write a protocol for it.",
            )


@rule("protocol-verifies-nothing", severity=Severity.MAJOR)
def verifies_nothing(evidence: Evidence) -> Iterator[Hole]:
    """A verification protocol whose list of design inputs is empty.

    Why: a test that no requirement asks for cannot support a claim, and makes a reviewer ask what it hides.
    Source: common practice, no source; both directions of traceability are asked by ISO 13485:2016, 7.3.2.
    """
    for protocol in evidence.project.protocols:
        if not protocol.verifies and protocol.purpose is Purpose.VERIFICATION:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("verifies"),
                message=f"Protocol {protocol.id} is meant for verification but names no design input that it verifies.",
                remedy="Name the design inputs under `verifies`, or declare `purpose: characterization`.",
            )


@rule("design-input-without-user-need", severity=Severity.MAJOR)
def without_user_need(evidence: Evidence) -> Iterator[Hole]:
    """A design input that answers no user need.

    Why: inputs come from intended use; one without a need has no reason that a reviewer can follow.
    Source: ISO 13485:2016, 7.3.3; 21 CFR 820 (QMSR).
    """
    for record in evidence.project.design_inputs:
        if not record.user_need:
            yield Hole(
                records=(record.id,),
                place=record.at("user_need"),
                message=f"Design input {record.id} ({brief(record.statement)}) names no user need.",
                remedy="Write the id of the user need that it serves, as listed in user_needs.csv.",
            )


@rule("design-input-without-risk", severity=Severity.MAJOR)
def without_risk(evidence: Evidence) -> Iterator[Hole]:
    """A design input that is tied to no risk.

    Why: the limit, the confidence and the reliability all rest on what happens when the requirement is missed.
    Source: ISO 14971:2019, 7.2 (verification of risk control); FDA stent guidance, 2010, III.B (clinical rationale).
    """
    for record in evidence.project.design_inputs:
        if not record.risk:
            yield Hole(
                records=(record.id,),
                place=record.at("risk"),
                message=f"Design input {record.id} ({brief(record.statement)}) names no risk.",
                remedy="Write the id of the risk that it controls, as listed in risks.csv.",
            )


@rule("user-need-without-design-input", severity=Severity.MAJOR)
def need_unanswered(evidence: Evidence) -> Iterator[Hole]:
    """A user need that no design input answers.

    Why: what users need but nobody specified is not verified by any test.
    Source: ISO 13485:2016, 7.3.2 and 7.3.3 (traceability of outputs to inputs).
    """
    answered = {id for record in evidence.project.design_inputs for id in record.user_need}
    for record in evidence.project.user_needs:
        if record.id not in answered:
            yield Hole(
                records=(record.id,),
                place=record.at("id"),
                message=f"No design input answers user need {record.id} ({brief(record.statement)}).",
                remedy=f"Write {record.id} in column user_need of the design input that answers it, or add one.",
            )


@rule("risk-without-design-input", severity=Severity.MAJOR)
def risk_unanswered(evidence: Evidence) -> Iterator[Hole]:
    """A risk in the register that no design input controls.

    Why: a risk control has to be verified as implemented and effective; here nothing is there to verify.
    Source: ISO 14971:2019, 7.2.
    """
    answered = {id for record in evidence.project.design_inputs for id in record.risk}
    for record in evidence.project.risks:
        if record.id not in answered:
            yield Hole(
                records=(record.id,),
                place=record.at("id"),
                message=f"No design input controls risk {record.id} ({record.hazard}: {brief(record.harm)}).",
                remedy=f"Write {record.id} in column risk of the design input that controls it, or remove the risk "
                "from this register if another part of the submission answers it.",
            )


def _risks_of(evidence: Evidence, result: DesignInputResult) -> str:
    ids = evidence.design_inputs[result.design_input].risk
    return f" It controls {listed(ids)}." if ids else ""


def _remedy(result: DesignInputResult, otherwise: str) -> str:
    text = brief(result.would_change_it) or otherwise
    return f"{text[:1].upper()}{text[1:]}."


@rule("design-input-not-met", severity=Severity.BLOCKER)
def not_met(evidence: Evidence) -> Iterator[Hole]:
    """A design input whose results miss its criterion.

    Why: failed results have to be shown with their resolution; a risk control without passing evidence is none.
    Source: FDA bench performance guidance, 2019 (results summary); ISO 14971:2019, 7.2.
    """
    for result in evidence.results:
        if result.verdict is Verdict.NOT_MET:
            yield Hole(
                records=(result.design_input,),
                place=evidence.design_inputs[result.design_input].at("id"),
                message=f"Design input {result.design_input} is not met. {result.reason}{_risks_of(evidence, result)}",
                remedy=f"{_remedy(result, 'Change the design and test again')} Do not remove results.",
            )


@rule("design-input-not-demonstrated", severity=Severity.MAJOR)
def not_demonstrated(evidence: Evidence) -> Iterator[Hole]:
    """A design input whose specimens conform, but whose claim of confidence and reliability does not hold.

    Why: a passing sample is not yet evidence about the product; the level set by risk has to be reached.
    Source: ISO 13485:2016, 7.3.6 (statistical techniques with rationale); FDA stent guidance, 2010, III.B.
    Left to the rule of that name: evidence that does not count for a reason of its own (a standing reason).
    """
    for result in evidence.results:
        short = [e for e in result.evaluations if e.verdict is Verdict.NOT_DEMONSTRATED and not e.standing]
        if result.verdict is Verdict.NOT_DEMONSTRATED and short:
            yield Hole(
                records=(result.design_input, *sorted({evaluation.protocol for evaluation in short})),
                place=evidence.design_inputs[result.design_input].at("id"),
                message=f"Design input {result.design_input} is not demonstrated. "
                f"{result.reason}{_risks_of(evidence, result)}",
                remedy=_remedy(result, "Test more specimens under the same plan"),
            )


@rule("design-input-not-tested", severity=Severity.NOTE)
def not_tested(evidence: Evidence) -> Iterator[Hole]:
    """A design input that has a protocol but no results yet.

    Why: the work is under way; before submission each such line has to be closed.
    Source: common practice, no source.
    """
    for result in evidence.results:
        if result.verdict is Verdict.NOT_TESTED and result.design_input in evidence.protocols_of:
            protocols = [protocol.id for protocol in evidence.protocols_of[result.design_input]]
            yield Hole(
                records=(result.design_input, *protocols),
                place=evidence.design_inputs[result.design_input].at("id"),
                message=f"Design input {result.design_input} has no results yet; {listed(protocols)} is to give them.",
                remedy=f"Test under {listed(protocols)} and name the result files under `results` of the protocol.",
            )


@rule("verification-not-in-mapping-file", severity=Severity.MINOR)
def not_mapped(evidence: Evidence) -> Iterator[Hole]:
    """A design input that a protocol verifies, while the mapping file does not link the two.

    Why: without the link no clause and no section of the document is told for this evidence.
    Source: common practice, no source.
    """
    mapped = {(link.design_input, link.protocol) for link in evidence.project.requirements_map.links}
    for protocol, record in evidence.verifying():
        if (record.id, protocol.id) not in mapped:
            yield Hole(
                records=(record.id, protocol.id),
                place=evidence.project.requirements_map.at("links"),
                message=f"Protocol {protocol.id} verifies {record.id}, but requirements_map.yaml does not link the "
                "two.",
                remedy=f"Add a link with design_input {record.id}, protocol {protocol.id}, its clauses and its "
                "section.",
            )


@rule("mapping-file-names-other-protocol", severity=Severity.MAJOR)
def mapped_but_not_verified(evidence: Evidence) -> Iterator[Hole]:
    """A link of the mapping file between a design input and a protocol that does not verify it.

    Why: the trace table would send a reviewer to a report in which the requirement is not tested.
    Source: EU MDR 2017/745, Annex II section 4 (precise identity of each document); common practice, no source.
    """
    verified = {(id, protocol.id) for protocol in evidence.project.protocols for id in protocol.verifies}
    for link in evidence.project.requirements_map.links:
        if (link.design_input, link.protocol) not in verified:
            yield Hole(
                records=(link.design_input, link.protocol),
                place=link.at("protocol"),
                message=f"requirements_map.yaml links {link.design_input} to protocol {link.protocol}, which does "
                "not list it under `verifies`.",
                remedy=f"Name the protocol that verifies {link.design_input}, or add it to `verifies` of "
                f"{link.protocol}.",
            )
