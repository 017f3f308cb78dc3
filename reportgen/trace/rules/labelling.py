"""Labeling: each claim and each chart rests on results that carry it."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.acceptance.records import Verdict
from reportgen.project.records import DesignInput, LabelClaim
from reportgen.quantities import convert, same_kind
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import brief, claim_text, limits_text, listed

RATED_BURST = (0.95, 0.999)
ABOVE_RATED_BURST = (0.95, 0.99)
FARTHEST_ABOVE_RATED_BURST = 1.25


def _claims(evidence: Evidence, kind: str = "") -> Iterator[LabelClaim]:
    for claim in evidence.project.settings.labelling:
        if not kind or claim.kind == kind:
            yield claim


def _inputs(evidence: Evidence, claim: LabelClaim) -> list[DesignInput]:
    return [evidence.design_inputs[id] for id in claim.design_inputs if id in evidence.design_inputs]


def _known_documents(evidence: Evidence) -> set[str]:
    known = {entry.document for entry in evidence.project.requirements_map.evidence_elsewhere}
    return known | {protocol.report.number for protocol in evidence.project.protocols}


@rule("label-claim-without-evidence", severity=Severity.MAJOR)
def unsupported(evidence: Evidence) -> Iterator[Hole]:
    """A claim of the labeling that names no design input, and no document that this project knows.

    Why: a figure in the instructions for use has to lead to the test that carries it.
    Source: FDA stent guidance, 2010, IV (labelling rests on test data); common practice, no source.
    """
    known = _known_documents(evidence)
    for claim in _claims(evidence):
        if not claim.design_inputs and claim.document not in known:
            told = (
                f"rests on document {claim.document!r}, which this project does not list"
                if claim.document
                else "names nothing that it rests on"
            )
            yield Hole(
                records=(claim.id,),
                place=claim.at("document" if claim.document else "design_inputs"),
                message=f"Label claim {claim.id} ({brief(claim.statement)}) {told}.",
                remedy="Name the design inputs that it rests on, or a document listed under `evidence_elsewhere` in "
                "requirements_map.yaml.",
            )


@rule("label-claim-not-shown", severity=Severity.MAJOR)
def not_shown(evidence: Evidence) -> Iterator[Hole]:
    """A claim of the labeling whose design input is not met.

    Why: the labeling would promise more than the results show.
    Source: FDA stent guidance, 2010, IV (labelling rests on test data); common practice, no source.
    """
    verdicts = {result.design_input: result.verdict for result in evidence.results}
    for claim in _claims(evidence):
        short = [record.id for record in _inputs(evidence, claim) if verdicts.get(record.id) is not Verdict.MET]
        if short:
            told = listed([f"{id} is {verdicts.get(id, Verdict.NOT_TESTED)}" for id in short])
            yield Hole(
                records=(claim.id, *short),
                place=claim.at("design_inputs"),
                message=f"Label claim {claim.id} ({brief(claim.statement)}) rests on results that do not carry it: "
                f"{told}.",
                remedy=f"Complete the evidence of {listed(short)}, or take the claim out of the labeling.",
            )


@rule("label-value-beyond-verified-limit", severity=Severity.BLOCKER)
def beyond_limit(evidence: Evidence) -> Iterator[Hole]:
    """A figure in the labeling that promises more than the limit its design input was verified against.

    Why: what was shown ends at the limit of the test.
    Source: FDA stent guidance, 2010, IV (rated burst pressure); common practice, no source.
    """
    for claim in _claims(evidence):
        for record in _inputs(evidence, claim):
            value = claim.value
            if value is None or not record.unit or not same_kind(value.unit, record.unit):
                continue
            figure = convert(value.value, from_unit=value.unit, to_unit=record.unit)
            if not _within(figure, record):
                limits = limits_text(record.lower_limit, record.upper_limit, record.unit)
                yield Hole(
                    records=(claim.id, record.id),
                    place=claim.at("value"),
                    message=f"Label claim {claim.id} says {value}; {record.id} is verified for {limits}.",
                    remedy="Claim what was verified, or set the limit of the design input to the claim and test anew.",
                )


def _within(figure: float, record: DesignInput) -> bool:
    """Whether a claimed figure is no stricter than the limits; one conversion may cost one part in 10^12."""
    lower, upper, slack = record.lower_limit, record.upper_limit, 1e-12 * abs(figure)
    if lower is not None and upper is not None:
        return lower - slack <= figure <= upper + slack
    if lower is not None:
        return figure <= lower + slack
    return upper is None or figure >= upper - slack


@rule("rated-burst-claim-below-level", severity=Severity.BLOCKER)
def rated_burst(evidence: Evidence) -> Iterator[Hole]:
    """A labeled rated burst pressure whose design input is held to less than 95 % confidence and 99.9 % reliability.

    Why: users inflate to this pressure with every device; the agency named the level itself.
    Source: FDA stent guidance, 2010, IV (balloon rated burst pressure).
    """
    for claim in _claims(evidence, "rated_burst"):
        for record in _inputs(evidence, claim):
            level = evidence.claims[record.id][0]
            if level is None or (level.confidence >= RATED_BURST[0] and level.reliability >= RATED_BURST[1]):
                continue
            yield Hole(
                records=(claim.id, record.id),
                place=claim.at("design_inputs"),
                message=f"Label claim {claim.id} is a rated burst pressure; {record.id} behind it claims "
                f"{claim_text(level.confidence, level.reliability)} instead of {claim_text(*RATED_BURST)}.",
                remedy=f"State confidence {RATED_BURST[0]:g} and reliability {RATED_BURST[1]:g} for {record.id}, with "
                "enough specimens.",
            )


@rule("label-rounding-not-stated", severity=Severity.MAJOR)
def rounding_unsaid(evidence: Evidence) -> Iterator[Hole]:
    """A compliance chart that does not say how its figures were rounded.

    Why: a chart in steps of 0.1 mm may hide that a balloon grows beyond the vessel.
    Source: FDA stent guidance, 2010, IV (balloon compliance: rounding disclosed).
    """
    for claim in _claims(evidence, "compliance_chart"):
        if not claim.rounding:
            yield Hole(
                records=(claim.id,),
                place=claim.at("rounding"),
                message=f"Compliance chart {claim.id} does not say how its figures were rounded.",
                remedy="Write it under `rounding`, such as: means, to the nearest 0.05 mm, half to even.",
            )


@rule("compliance-chart-normalised", severity=Severity.BLOCKER)
def normalised(evidence: Evidence) -> Iterator[Hole]:
    """A compliance chart that was shifted so that it meets the labeled diameter at nominal pressure.

    Why: the chart is then no measurement, and every diameter on it is off by what was shifted.
    Source: FDA guidance on PTA and specialty catheters, 2023 (compliance charts are not normalized).
    """
    for claim in _claims(evidence, "compliance_chart"):
        if claim.normalised:
            yield Hole(
                records=(claim.id,),
                place=claim.at("normalised"),
                message=f"Compliance chart {claim.id} was normalized: it shows other diameters than those measured.",
                remedy="Print the measured diameters, and correct `normalised` when that is done.",
            )


@rule("compliance-chart-above-rated-burst", severity=Severity.BLOCKER)
def above_rated_burst(evidence: Evidence) -> Iterator[Hole]:
    """A compliance chart that goes beyond the rated burst pressure without the results that this takes.

    Why: a chart invites users to the last pressure it shows.
    Source: FDA stent guidance, 2010, IV (balloon compliance: above rated burst, at most 25 %, only with 99 % at 95 %).
    """
    for claim in _claims(evidence, "compliance_chart"):
        top, rated = claim.up_to, next(_claims(evidence, "rated_burst"), None)
        if top is None or rated is None or rated.value is None or not same_kind(top.unit, rated.value.unit):
            continue
        rating = convert(rated.value.value, from_unit=rated.value.unit, to_unit=top.unit)
        farthest = FARTHEST_ABOVE_RATED_BURST * rating
        shown = _shown_up_to(evidence, claim, top.value, top.unit)
        if top.value > farthest * (1 + 1e-12) or (top.value > rating * (1 + 1e-12) and not shown):
            why = (
                "more than a quarter above it"
                if top.value > farthest
                else f"and no design input of the chart shows {claim_text(*ABOVE_RATED_BURST)} at that pressure"
            )
            yield Hole(
                records=(claim.id, rated.id),
                place=claim.at("up_to"),
                message=f"Compliance chart {claim.id} goes up to {top}; rated burst pressure is {rated.value}, {why}.",
                remedy="End the chart at rated burst pressure, or name a met design input whose lower limit is the "
                "last pressure of the chart.",
            )


def _shown_up_to(evidence: Evidence, claim: LabelClaim, pressure: float, unit: str) -> bool:
    met = {result.design_input for result in evidence.results if result.verdict is Verdict.MET}
    for record in _inputs(evidence, claim):
        level, limit = evidence.claims[record.id][0], record.lower_limit
        if record.id not in met or level is None or limit is None or not record.unit:
            continue
        enough = level.confidence >= ABOVE_RATED_BURST[0] and level.reliability >= ABOVE_RATED_BURST[1]
        if not enough or not same_kind(record.unit, unit):
            continue
        if convert(limit, from_unit=record.unit, to_unit=unit) >= pressure * (1 - 1e-12):
            return True
    return False
