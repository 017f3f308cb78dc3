"""Test methods: the approved revision, validated where it is used, described so that it can be repeated."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reportgen.project.records import Method, Protocol
from reportgen.quantities import convert, same_kind, unit
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import ONCE_EXPLAINED, Hole, rule
from reportgen.trace.wording import counted, group_text, in_order, listed

_RATE = re.compile(r"rate|speed|velocity", re.IGNORECASE)


@rule("method-revision-differs", severity=Severity.BLOCKER)
def other_revision(evidence: Evidence) -> Iterator[Hole]:
    """Results taken by another revision of the method than the protocol names.

    Why: a changed fixture, rate or endpoint changes the number, and inside one set mixes two measurements.
    Source: ISO/IEC 17025:2017, 7.2.1 (method in force) and 7.8.2; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        wrong = [b for b in evidence.tested(protocol) if b.method_revision not in ("", protocol.method_revision)]
        if wrong:
            used = in_order(batch.method_revision for batch in wrong)
            yield Hole(
                records=(protocol.id, protocol.method),
                place=wrong[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in wrong), 'result')} taken by revision "
                f"{listed(used)} of method {protocol.method}; the protocol names revision {protocol.method_revision}.",
                remedy="Correct column method_revision of the result file if it is wrong. Otherwise record a "
                "deviation with the differences between the revisions and their impact, and revise the protocol "
                f"for the next test. {ONCE_EXPLAINED}",
            )


@rule("method-file-revision-differs", severity=Severity.MAJOR)
def other_file_revision(evidence: Evidence) -> Iterator[Hole]:
    """A protocol that names another revision of its method than the method file describes.

    Why: parameters and fixture printed in the report would then be those of another revision.
    Source: ISO 13485:2016, 4.2.4 (relevant versions); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        method = evidence.methods[protocol.method]
        if protocol.method_revision != method.revision:
            yield Hole(
                records=(protocol.id, method.id),
                place=protocol.at("method_revision"),
                message=f"{protocol.id} names revision {protocol.method_revision} of method {method.id}; the method "
                f"file ({method.place.file}) describes revision {method.revision}.",
                remedy="Put the revision that was used into methods/, or correct method_revision of the protocol.",
            )


@rule("method-revision-not-recorded", severity=Severity.MINOR)
def revision_missing(evidence: Evidence) -> Iterator[Hole]:
    """Results that do not say by which revision of the method they were taken.

    Why: the protocol says which one was meant; only the record says which one was used.
    Source: ISO/IEC 17025:2017, 7.5.1 and 7.8.2.
    """
    for protocol in evidence.project.protocols:
        bare = [batch for batch in evidence.tested(protocol) if not batch.method_revision]
        if bare:
            yield Hole(
                records=(protocol.id, protocol.method),
                place=bare[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in bare), 'result')} without method "
                "revision.",
                remedy="Fill column method_revision of the result file from the laboratory record.",
            )


@rule("method-without-validation", severity=Severity.BLOCKER)
def not_validated(evidence: Evidence) -> Iterator[Hole]:
    """A method used by a protocol that has no validation on record.

    Why: nobody has shown that the method measures what it should.
    Source: ISO/IEC 17025:2017, 7.2.2; ISO 13485:2016, 7.6; FDA bench performance guidance, 2019.
    """
    for method, protocols in methods_used(evidence):
        if method.validation is None:
            yield Hole(
                records=(method.id, *(protocol.id for protocol in protocols)),
                place=method.at("validation"),
                message=f"Method {method.id} ({method.title}), used by {listed(p.id for p in protocols)}, has no "
                "validation.",
                remedy="Add `validation` with report, kind and figures (for a measuring method a gauge study, for a "
                "pass/fail method an agreement study).",
            )


def methods_used(evidence: Evidence) -> Iterator[tuple[Method, tuple[Protocol, ...]]]:
    users: dict[str, list[Protocol]] = {}
    for protocol in evidence.project.protocols:
        users.setdefault(protocol.method, []).append(protocol)
    for method in evidence.project.methods:
        if method.id in users:
            yield method, tuple(users[method.id])


@rule("values-outside-validated-range", severity=Severity.MAJOR)
def outside_range(evidence: Evidence) -> Iterator[Hole]:
    """Counted values that lie outside the range over which the method was validated.

    Why: the method's uncertainty is known only where it was looked at.
    Source: ISO/IEC 17025:2017, 7.2.2 (range of the values); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        validation = evidence.methods[protocol.method].validation
        if validation is None:
            continue
        for id in protocol.verifies:
            for limit, is_low in ((validation.range_low, True), (validation.range_high, False)):
                record = evidence.design_inputs.get(id)
                if record is None or limit is None or not record.unit or not same_kind(limit.unit, record.unit):
                    continue
                edge = convert(limit.value, from_unit=limit.unit, to_unit=record.unit)
                beyond = [
                    (value, batch)
                    for batch in evidence.counted(protocol)
                    if batch.design_input == id and (value := batch.lowest if is_low else batch.highest) is not None
                    if (value < edge if is_low else value > edge)
                ]
                if beyond:
                    worst, batch = (min if is_low else max)(beyond, key=lambda pair: pair[0])
                    yield Hole(
                        records=(protocol.id, protocol.method, id),
                        place=batch.place,
                        message=f"{protocol.id} has a value of {worst:g} {record.unit} for {id}; method "
                        f"{protocol.method} was validated {'from' if is_low else 'up to'} {limit} "
                        f"({validation.report}).",
                        remedy="Extend the validation to this range, or say in the discussion why it holds there. "
                        f"{ONCE_EXPLAINED}",
                    )


@rule("method-validated-for-other-sizes", severity=Severity.MAJOR)
def other_sizes(evidence: Evidence) -> Iterator[Hole]:
    """A tested model that is none of those the method was validated with.

    Why: a grip that holds a 6 mm device may slip on a 9 mm one; the study says nothing about it.
    Source: ISO/IEC 17025:2017, 7.2.2 (validation as extensive as the use asks); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        validation = evidence.methods[protocol.method].validation
        if validation is None or not validation.models:
            continue
        tested = {batch.model for batch in evidence.counted(protocol) if batch.model}
        other = sorted(tested - set(validation.models))
        if other:
            yield Hole(
                records=(protocol.id, protocol.method, *other),
                place=validation.at("models"),
                message=f"{protocol.id} tests {listed(other)}; method {protocol.method} was validated with "
                f"{listed(validation.models)} ({validation.report}).",
                remedy="Extend the validation to these models and add them to it, or say in the discussion why it "
                f"holds for them. {ONCE_EXPLAINED}",
            )


@rule("pull-rate-not-stated", severity=Severity.MAJOR)
def no_rate(evidence: Evidence) -> Iterator[Hole]:
    """A destructive force method that states no rate of pulling or pushing.

    Why: polymers and bonds hold more when pulled faster; the rate has to be reported.
    Source: FDA guidance on PTA and specialty catheters, 2023 (bond strength: clamped parts and pull rate).
    """
    for method, protocols in methods_used(evidence):
        is_force = method.unit is not None and unit(method.unit).kind == "force"
        if is_force and method.destructive and not any(_RATE.search(p.name) for p in method.parameters):
            yield Hole(
                records=(method.id, *(protocol.id for protocol in protocols)),
                place=method.at("parameters"),
                message=f"Method {method.id} measures a force to failure and states no rate of pulling.",
                remedy="Add a parameter such as: name: pull rate, value: 200, tolerance: 10, unit: mm/min.",
            )


@rule("method-without-failure-modes", severity=Severity.MINOR)
def no_modes(evidence: Evidence) -> Iterator[Hole]:
    """A destructive method with no list of failure modes.

    Why: whether a broken device counts, is a lower bound or is invalid has to be settled before testing.
    Source: FDA stent guidance, 2010, IV (failure modes); common practice, no source.
    """
    for method, protocols in methods_used(evidence):
        if method.destructive and not method.failure_modes:
            yield Hole(
                records=(method.id, *(protocol.id for protocol in protocols)),
                place=method.at("failure_modes"),
                message=f"Method {method.id} destroys its specimens and lists no failure modes.",
                remedy="List under failure_modes each way a specimen may end, with `valid: false` for the invalid "
                "ones.",
            )


@rule("margin-inside-uncertainty", severity=Severity.MAJOR)
def inside_uncertainty(evidence: Evidence) -> Iterator[Hole]:
    """A design input met by less than the expanded uncertainty of its method, under the simple decision rule.

    Why: with such a margin the pass may be an error of measurement; the decision rule has to be stated and agreed.
    Source: ISO/IEC 17025:2017, 7.8.6 (decision rule); JCGM 106:2012 (guard bands).
    """
    for protocol, record, evaluation in evidence.evaluations():
        validation = evidence.methods[protocol.method].validation
        spread = validation.expanded_uncertainty if validation else None
        if spread is None or evaluation.margin is None or not same_kind(spread.unit, evaluation.unit):
            continue
        width = convert(spread.value, from_unit=spread.unit, to_unit=evaluation.unit)
        if protocol.analysis_plan.decision_rule.value == "simple" and 0 <= evaluation.margin < width:
            yield Hole(
                records=(protocol.id, record.id),
                place=protocol.at("analysis_plan"),
                message=f"{group_text(evaluation.key)} clears its limit by {evaluation.margin:.4g} {evaluation.unit}, "
                f"less than the expanded uncertainty of {protocol.method}, {spread}, and the plan decides without a "
                "guard band.",
                remedy="Explain in the discussion why the simple rule is acceptable here, or declare "
                f"`decision_rule: guarded` before a new test. {ONCE_EXPLAINED}",
            )
