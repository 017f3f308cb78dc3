"""Failures: each has a mode that the method knows, and each one was looked into."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.acceptance.records import Evaluation, SpecimenValue
from reportgen.lab.records import Batch
from reportgen.project.records import FailureMode, Protocol
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import counted, group_text, in_order, listed


def failed_values(evaluation: Evaluation) -> list[SpecimenValue]:
    """The specimens that missed their limit, as acceptance compared them."""
    return [evaluation.values[at] for at in evaluation.failing]


@rule("failed-specimen-without-investigation", severity=Severity.BLOCKER)
def failure_uninvestigated(evidence: Evidence) -> Iterator[Hole]:
    """A specimen that missed its limit and that no investigation names.

    Why: failed results are shown with their resolution; a failure nobody looked into may happen in use.
    Source: FDA bench performance guidance, 2019; ISO 13485:2016, 8.3; 21 CFR 820 (QMSR).
    """
    for protocol, record, evaluation in evidence.evaluations():
        named = {specimen for investigation in protocol.investigations for specimen in investigation.specimens}
        failed = [value for value in failed_values(evaluation) if value.specimen not in named]
        if failed:
            specimens = [value.specimen for value in failed]
            yield Hole(
                records=(protocol.id, record.id, *specimens),
                place=failed[0].place,
                message=f"{counted(len(failed), 'specimen')} of {group_text(evaluation.key)} failed "
                f"({listed(specimens)}), and no investigation names {'it' if len(failed) == 1 else 'them'}.",
                remedy=f"Find out why, and write it under `investigations` of {protocol.id} with the specimens, the "
                "cause and the conclusion. Keep the results.",
            )


@rule("failure-mode-not-in-method", severity=Severity.BLOCKER)
def unknown_mode(evidence: Evidence) -> Iterator[Hole]:
    """A failure mode in the results that the method's list does not have.

    Why: how a device failed decides whether its value counts; an unlisted code has no rule.
    Source: FDA stent guidance, 2010, IV (pressure and failure mode per specimen); common practice.
    """
    for protocol in evidence.project.protocols:
        known = _modes(evidence, protocol)
        strange: dict[str, Batch] = {}
        for batch in evidence.tested(protocol):
            if batch.failure_mode and known and batch.failure_mode not in known:
                strange.setdefault(batch.failure_mode, batch)
        for code, batch in strange.items():
            yield Hole(
                records=(protocol.id, protocol.method),
                place=batch.place,
                message=f"Failure mode {code!r} of {protocol.id} is not in the list of method {protocol.method} "
                f"({listed(sorted(known))}).",
                remedy=f"Write a listed code in column failure_mode, or add this one under `failure_modes` of "
                f"{protocol.method} by a revision that says whether such a specimen is valid.",
            )


def _modes(evidence: Evidence, protocol: Protocol) -> dict[str, FailureMode]:
    return {mode.code: mode for mode in evidence.methods[protocol.method].failure_modes}


@rule("failure-mode-not-recorded", severity=Severity.MINOR)
def mode_missing(evidence: Evidence) -> Iterator[Hole]:
    """Results of a method with a list of failure modes that do not say how the specimen ended.

    Why: without the mode a force cannot be told from a grip that slipped.
    Source: FDA stent guidance, 2010, IV (failure mode per sample); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        bare = [batch for batch in evidence.counted(protocol) if not batch.failure_mode]
        if bare and _modes(evidence, protocol):
            yield Hole(
                records=(protocol.id, protocol.method),
                place=bare[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in bare), 'result')} "
                "without a failure mode.",
                remedy=f"Fill column failure_mode of the result file with a code of {protocol.method}: "
                f"{listed(sorted(_modes(evidence, protocol)))}.",
            )


@rule("failed-specimen-without-failure-mode", severity=Severity.BLOCKER)
def failed_without_mode(evidence: Evidence) -> Iterator[Hole]:
    """A specimen that missed its limit and does not say how it failed.

    Why: the mode is what ties a failed test to the harm it may do.
    Source: FDA stent guidance, 2010, IV; FDA bench performance guidance, 2019 (failed results with resolution).
    """
    for protocol, record, evaluation in evidence.evaluations():
        failed = [value for value in failed_values(evaluation) if not value.failure_mode]
        if failed:
            yield Hole(
                records=(protocol.id, record.id, *(value.specimen for value in failed)),
                place=failed[0].place,
                message=f"{counted(len(failed), 'specimen')} of {group_text(evaluation.key)} failed, and the result "
                f"file does not say how: {listed(value.specimen for value in failed)}.",
                remedy="Fill column failure_mode of the result file with a code that the method lists under "
                "`failure_modes`.",
            )


@rule("invalid-specimen-counted", severity=Severity.BLOCKER)
def invalid_counted(evidence: Evidence) -> Iterator[Hole]:
    """A result counted although its failure mode is one that the method calls invalid.

    Why: a slip in the grip says how well the grip held, not the device.
    Source: common practice, no source; ASTM F2394 (results depend on grip and endpoint).
    """
    for protocol in evidence.project.protocols:
        invalid = {code for code, mode in _modes(evidence, protocol).items() if not mode.valid}
        counted_ones = [batch for batch in evidence.counted(protocol) if batch.failure_mode in invalid]
        if counted_ones:
            n = sum(batch.n for batch in counted_ones)
            yield Hole(
                records=(protocol.id, *in_order(batch.lot for batch in counted_ones)),
                place=counted_ones[0].place,
                message=f"{protocol.id} counts {counted(n, 'result')} with failure mode "
                f"{listed(in_order(batch.failure_mode for batch in counted_ones))}, which {protocol.method} calls "
                "invalid.",
                remedy="In the result file write `yes` in column excluded and the cause in column cause, or correct "
                "column failure_mode.",
            )
