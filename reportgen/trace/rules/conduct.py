"""How the test was carried out: approvals and dates in order, people named, conditioning done."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from reportgen.project.records import Deviation, Protocol
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import ONCE_EXPLAINED, Hole, rule
from reportgen.trace.wording import brief, counted, in_order, listed


@rule("analysis-plan-after-first-result", severity=Severity.BLOCKER)
def plan_too_late(evidence: Evidence) -> Iterator[Hole]:
    """An analysis plan that was declared after the first result was taken.

    Why: a way of judging that was chosen when values were known can be chosen to pass.
    Source: FDA bench performance guidance, 2019 (data analysis plan in the protocol); common practice.
    """
    for protocol in evidence.project.protocols:
        days, declared = evidence.test_days(protocol), protocol.analysis_plan.declared_on
        if days and declared > days[0][0]:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("analysis_plan.declared_on"),
                message=f"The analysis plan of {protocol.id} was declared on {declared}, after its first result of "
                f"{days[0][0]} ({days[0][1].place}).",
                remedy="Correct the date if it is wrong. Otherwise test anew under the declared plan, or record a "
                "deviation that shows why the plan was not chosen by looking at the results.",
            )


@rule("results-before-protocol-approval", severity=Severity.BLOCKER)
def before_approval(evidence: Evidence) -> Iterator[Hole]:
    """Results dated before the protocol was approved.

    Why: what was tested before approval was not tested under the protocol.
    Source: FDA stent guidance, 2010, III.C; ISO 13485:2016, 7.3.6 (verification plans come first).
    """
    for protocol in evidence.project.protocols:
        early = [(day, batch) for day, batch in evidence.test_days(protocol) if day < protocol.approved_on]
        if early:
            n = sum(batch.n for _, batch in early)
            yield Hole(
                records=(protocol.id,),
                place=early[0][1].place,
                message=f"{protocol.id} has {counted(n, 'result')}, from {early[0][0]} on, taken before the protocol "
                f"was approved on {protocol.approved_on}.",
                remedy="Correct the date if it is wrong; otherwise repeat these tests under the approved protocol.",
            )


@rule("protocol-without-approver", severity=Severity.MINOR)
def no_approver(evidence: Evidence) -> Iterator[Hole]:
    """A protocol that does not say who approved it.

    Why: an approval date without a name cannot be checked against the signed record.
    Source: ISO 13485:2016, 4.2.4; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        if not protocol.approved_by:
            yield Hole(
                records=(protocol.id,),
                place=protocol.at("approved_by"),
                message=f"{protocol.id} was approved on {protocol.approved_on}, but no approver is named.",
                remedy="Write in approved_by the name on the signed protocol.",
            )


@rule("test-date-not-recorded", severity=Severity.MAJOR)
def no_date(evidence: Evidence) -> Iterator[Hole]:
    """Results without the date on which they were taken.

    Why: calibration, approval and aging can only be checked against a date; records have to be contemporaneous.
    Source: ISO/IEC 17025:2017, 7.5.1 and 7.8.2; public data-integrity guidances (ALCOA+).
    """
    for protocol in evidence.project.protocols:
        undated = [batch for batch in evidence.tested(protocol) if not batch.tested_on]
        if undated:
            yield Hole(
                records=(protocol.id, *in_order(batch.lot for batch in undated)),
                place=undated[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in undated), 'result')} "
                "without a test date.",
                remedy="Fill column tested_on of the result file from the laboratory record, such as 2026-03-31.",
            )


@rule("operator-not-recorded", severity=Severity.MAJOR)
def no_operator(evidence: Evidence) -> Iterator[Hole]:
    """Results without the person who took them.

    Why: a record has to be attributable.
    Source: ISO/IEC 17025:2017, 7.5.1; public data-integrity guidances (ALCOA+).
    """
    for protocol in evidence.project.protocols:
        unnamed = [batch for batch in evidence.tested(protocol) if not batch.operator]
        if unnamed:
            yield Hole(
                records=(protocol.id, *in_order(batch.lot for batch in unnamed)),
                place=unnamed[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in unnamed), 'result')} "
                "without an operator's name.",
                remedy="Fill column operator of the result file from the laboratory record.",
            )


def _same_person(first: str, second: str) -> bool:
    return bool(first) and " ".join(first.split()).casefold() == " ".join(second.split()).casefold()


@rule("tested-and-approved-by-same-person", severity=Severity.MAJOR)
def same_person(evidence: Evidence) -> Iterator[Hole]:
    """A person who took results and also approved the protocol, a deviation of it, or its report.

    Why: nobody independent has then looked at the work.
    Source: common practice, no source; independence of review is asked by ISO 13485:2016, 7.3.5.
    """
    for protocol in evidence.project.protocols:
        approvers = [(protocol.approved_by, "the protocol", protocol.at("approved_by"))]
        approvers += [(d.approved_by, f"deviation {d.id}", d.at("approved_by")) for d in protocol.deviations]
        approvers += [(a.name, f"report {protocol.report.number}", a.at("name")) for a in protocol.report.approvals]
        operators = in_order(batch.operator for batch in evidence.tested(protocol))
        for approver, what, place in approvers:
            if any(_same_person(approver, operator) for operator in operators):
                yield Hole(
                    records=(protocol.id,),
                    place=place,
                    message=f"{approver} took results of {protocol.id} and is named as approver of {what}.",
                    remedy="Have somebody approve who did not test, or correct the name.",
                )


def _words(text: str) -> str:
    return " ".join(text.split()).casefold()


def _excused(step: str, deviations: tuple[Deviation, ...]) -> bool:
    """Whether a deviation names this step and says why leaving it out does not matter."""
    return any(_words(step) in _words(d.description) and d.impact and d.justification for d in deviations)


@rule("preconditioning-not-done", severity=Severity.BLOCKER)
def preconditioning(evidence: Evidence) -> Iterator[Hole]:
    """A preconditioning step that the method asks for and the protocol's conditioning record does not show.

    Why: specimens that were not tracked, soaked or warmed as in use may hold better than devices will.
    Source: FDA guidance on PTA and specialty catheters, 2023 (precondition by tracking before all tests, or justify);
    FDA stent guidance, 2010, IV.
    """
    for protocol in evidence.project.protocols:
        done = [_words(f"{step.step} {step.detail}") for step in protocol.conditioning]
        for step in evidence.methods[protocol.method].preconditioning:
            if not any(_words(step) in text for text in done) and not _excused(step, protocol.deviations):
                yield Hole(
                    records=(protocol.id, protocol.method),
                    place=protocol.at("conditioning"),
                    message=f"Method {protocol.method} asks for preconditioning {step!r}; the conditioning of "
                    f"{protocol.id} does not show it.",
                    remedy="Add the step under `conditioning` if it was done. If not, record a deviation whose "
                    f"description names {step!r}, with impact and justification.",
                )


@rule("conditioning-without-record", severity=Severity.MINOR)
def conditioning_unrecorded(evidence: Evidence) -> Iterator[Hole]:
    """A conditioning step with results after it, but neither a date nor a record that it was done.

    Why: the plan says what was meant; only a record says that it happened.
    Source: FDA guidance on PTA and specialty catheters, 2023; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        bare = [step for step in protocol.conditioning if step.done_on is None and not step.record]
        if bare and evidence.has_results(protocol):
            yield Hole(
                records=(protocol.id,),
                place=bare[0].at("done_on"),
                message=f"{protocol.id} has results, but nothing shows that these conditioning steps were done: "
                f"{listed([step.step for step in bare])}.",
                remedy="Write for each step when it was done (done_on) or which sheet or file shows it (record).",
            )


@rule("conditioning-out-of-order", severity=Severity.BLOCKER)
def conditioning_order(evidence: Evidence) -> Iterator[Hole]:
    """Conditioning steps whose dates run backwards, or that lie after the first result.

    Why: a soak after the pull conditioned nothing; the order of steps changes what the device goes through.
    Source: FDA stent guidance, 2010, IV; FDA guidance on PTA and specialty catheters, 2023.
    """
    for protocol in evidence.project.protocols:
        dated = [(step.done_on, step) for step in protocol.conditioning if step.done_on is not None]
        days = evidence.test_days(protocol)
        for index, (day, step) in enumerate(dated):
            backwards = index > 0 and day < dated[index - 1][0]
            late = bool(days) and day > days[-1][0]
            if backwards or late:
                why = (
                    f"before step {dated[index - 1][1].step!r}"
                    if backwards
                    else f"after the last result of {days[-1][0]}"
                )
                yield Hole(
                    records=(protocol.id,),
                    place=step.at("done_on"),
                    message=f"Conditioning step {step.step!r} of {protocol.id} was done on {day}, {why}.",
                    remedy=f"Correct the date, or record a deviation with its impact. {ONCE_EXPLAINED}",
                )


@rule("conditioning-order-differs-from-method", severity=Severity.MAJOR)
def method_order(evidence: Evidence) -> Iterator[Hole]:
    """Conditioning steps that a protocol lists in another order than its method asks for.

    Why: tracking a soaked device and soaking a tracked one are two treatments.
    Source: ASTM F2394 (results depend on pre-treatment); FDA guidance on PTA and specialty catheters, 2023.
    """
    for protocol in evidence.project.protocols:
        done = [_words(f"{step.step} {step.detail}") for step in protocol.conditioning]
        asked = evidence.methods[protocol.method].preconditioning
        places = [(next((i for i, text in enumerate(done) if _words(step) in text), None), step) for step in asked]
        found = [(at, step) for at, step in places if at is not None]
        for (earlier, first), (later, second) in pairwise(found):
            if later < earlier and not _excused(second, protocol.deviations):
                yield Hole(
                    records=(protocol.id, protocol.method),
                    place=protocol.conditioning[later].at("step"),
                    message=f"{protocol.id} lists {second!r} before {first!r}; method {protocol.method} asks for them "
                    "the other way round.",
                    remedy="Correct the order if only the list is wrong. Otherwise record a deviation that names "
                    f"{second!r}, with impact and justification.",
                )


@rule("deviation-without-impact", severity=Severity.BLOCKER)
def deviation_impact(evidence: Evidence) -> Iterator[Hole]:
    """A deviation whose effect on the results was not assessed.

    Why: deviations are reported with their effect; one without is an open question about every number.
    Source: FDA stent guidance, 2010, III.B; FDA bench performance guidance, 2019 (protocol deviations and effect).
    """
    for protocol in evidence.project.protocols:
        for deviation in protocol.deviations:
            if not deviation.impact:
                yield Hole(
                    records=(protocol.id, deviation.id),
                    place=deviation.at("impact"),
                    message=f"Deviation {deviation.id} of {protocol.id} ({brief(deviation.description)}) has no "
                    "assessment of its impact.",
                    remedy="Write in `impact` what the deviation could do to the results, and why they still stand.",
                )


@rule("deviation-without-justification", severity=Severity.MAJOR)
def deviation_justification(evidence: Evidence) -> Iterator[Hole]:
    """A deviation without a reason why the test was accepted all the same.

    Why: impact says what could happen; the reason says why that is acceptable.
    Source: FDA bench performance guidance, 2019 (deviations shown with their resolution).
    """
    for protocol in evidence.project.protocols:
        for deviation in protocol.deviations:
            if not deviation.justification:
                yield Hole(
                    records=(protocol.id, deviation.id),
                    place=deviation.at("justification"),
                    message=f"Deviation {deviation.id} of {protocol.id} ({brief(deviation.description)}) has no "
                    "justification.",
                    remedy="Write in `justification` why the results are accepted with this deviation.",
                )


@rule("deviation-not-approved", severity=Severity.MAJOR)
def deviation_unapproved(evidence: Evidence) -> Iterator[Hole]:
    """A deviation that nobody approved, or without the date.

    Why: a departure from an approved protocol needs the same authority as the protocol.
    Source: ISO 13485:2016, 7.3.9 and 4.2.4; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        for deviation in protocol.deviations:
            if not deviation.approved_by or deviation.approved_on is None:
                missing = "approved_by" if not deviation.approved_by else "approved_on"
                yield Hole(
                    records=(protocol.id, deviation.id),
                    place=deviation.at(missing),
                    message=f"Deviation {deviation.id} of {protocol.id} "
                    f"{'names nobody who approved it' if missing == 'approved_by' else 'has no day of approval'}.",
                    remedy="Write in approved_by and approved_on who approved the deviation, and on which day.",
                )


@rule("lot-tied-to-one-operator-or-equipment", severity=Severity.MINOR)
def confounded(evidence: Evidence) -> Iterator[Hole]:
    """Several lots, several operators (or machines), and each lot was tested by one of them alone.

    Why: a difference between lots can then not be told from a difference between operators or machines.
    Source: design of experiments (NIST/SEMATECH e-Handbook 5.3, blocking and balance); common practice.
    """
    for protocol in evidence.project.protocols:
        for what in ("operator", "equipment"):
            by_lot = _by_lot(evidence, protocol, what)
            names = [next(iter(found)) for found in by_lot.values() if len(found) == 1]
            if len(by_lot) > 1 and len(names) == len(by_lot) and len(set(names)) > 1:
                pairs = listed([f"lot {lot} by {name}" for lot, name in zip(by_lot, names, strict=True)])
                yield Hole(
                    records=(protocol.id, *by_lot),
                    place=evidence.counted(protocol)[0].place,
                    message=f"In {protocol.id} each lot was tested with one {what} only: {pairs}.",
                    remedy=f"Say in the discussion why the {what} makes no difference (such as the gauge study), and "
                    f"mix them in the next test. {ONCE_EXPLAINED}",
                )


def _by_lot(evidence: Evidence, protocol: Protocol, what: str) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for batch in evidence.counted(protocol):
        found.setdefault(batch.lot, set()).add(str(getattr(batch, what)))
    return found if all("" not in names for names in found.values()) else {}
