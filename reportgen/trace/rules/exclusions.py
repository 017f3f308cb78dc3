"""Specimens set aside: for a cause that was found, closed, and with both analyses told."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from reportgen.acceptance.records import Outcome
from reportgen.problems import Place
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import counted, group_text, in_order, listed

# a cause made of these words alone says how a value looks, not what happened
_LOOKS = re.compile(
    r"(?:\W|\d|\b(?:an?|and|as|at|be|because|by|considered|deviating|dixon|extreme|far|failed|flagged|from|grubbs|high"
    r"|identified|implausible|in|is|it|large|limit|low|mean|not|of|off|others?|out|outliers?|outlying|outside|plausible"
    r"|rest|results?|removed|sigma|small|statistical|statistically|test|than|the|to|too|unusual|unusually|values?|very"
    r"|was)\b)+",
    re.IGNORECASE,
)


def _by_protocol(
    told: Iterable[tuple[str, str, str, Place]],
) -> Iterator[tuple[str, tuple[str, ...], str, Place]]:
    """The specimens of each protocol, with the cause and the place of the first."""
    found: dict[str, dict[str, tuple[str, Place]]] = {}
    for protocol, specimen, cause, place in told:
        found.setdefault(protocol, {}).setdefault(specimen, (cause, place))
    for protocol, specimens in found.items():
        cause, place = next(iter(specimens.values()))
        yield protocol, tuple(specimens), cause, place


@rule("excluded-as-outlier-only", severity=Severity.BLOCKER)
def outlier_only(evidence: Evidence) -> Iterator[Hole]:
    """A specimen set aside because its value lies off, with no cause that was found in the test or the device.

    Why: an outlier test says that a value is unusual, never that it is wrong; the unusual device may be the one that
    fails in use.
    Source: ASTM E178 (a test alone is no reason to reject); FDA stent guidance, 2010, III.B (outliers and anomalies).
    Recognized where the cause consists of such words alone.
    """
    excluded = evidence.reading.measurements.where(excluded=True)
    told = (
        (protocol, specimen, cause, place)
        for (protocol, specimen, cause), place in excluded.rows("protocol", "specimen", "cause")
        if cause and _LOOKS.fullmatch(cause)
    )
    for protocol, specimens, cause, place in _by_protocol(told):
        yield Hole(
            records=(protocol, *specimens),
            place=place,
            message=f"{protocol} sets aside {counted(len(specimens), 'specimen')} ({listed(specimens)}) because of "
            f"the value alone: {cause!r}.",
            remedy="Look for what happened in the test or in the device. Without an assignable cause, count the "
            "specimen.",
        )


@rule("counted-with-exclusion-cause", severity=Severity.MAJOR)
def taken_back(evidence: Evidence) -> Iterator[Hole]:
    """A result that counts although a cause of exclusion stands beside it.

    Why: somebody set it aside and somebody took it back; a reader cannot tell which of the two holds, nor why.
    Source: ASTM E178; public data-integrity guidances (changes keep their reason).
    """
    counting = evidence.reading.measurements.where(missing=False, excluded=False)
    causes = {cause for (cause,) in counting.combinations("cause") if cause}
    told = (
        (protocol, specimen, cause, place)
        for cause in sorted(causes)
        for (protocol, specimen), place in counting.of(cause=cause).rows("protocol", "specimen")
    )
    for protocol, specimens, cause, place in _by_protocol(told):
        yield Hole(
            records=(protocol, *specimens),
            place=place,
            message=f"{protocol} counts {counted(len(specimens), 'specimen')} ({listed(specimens)}) beside which a "
            f"cause of exclusion stands: {cause!r}.",
            remedy="Write `yes` in column excluded if the cause holds. If it does not, clear column cause and say in "
            "column note, or in an investigation, why the result was taken back.",
        )


@rule("verdict-rests-on-exclusion", severity=Severity.MAJOR)
def rests_on_exclusion(evidence: Evidence) -> Iterator[Hole]:
    """Specimens set aside whose results, if counted, would change the verdict, and that the discussion does not name.

    Why: an exclusion that decides is the first thing a reviewer recomputes; both analyses have to be told.
    Source: ASTM E178 (report the analysis with and without); FDA bench performance guidance, 2019 (all data points).
    """
    for protocol, record, evaluation in evidence.evaluations():
        told = [step for step in evaluation.steps if step.name == "set aside" and step.outcome is Outcome.FAILED]
        specimens = in_order(entry.specimen for entry in evaluation.set_aside)
        open_ones = [specimen for specimen in specimens if specimen not in protocol.discussion]
        if told and open_ones:
            yield Hole(
                records=(protocol.id, record.id, *open_ones),
                place=evaluation.set_aside[0].place,
                message=f"{group_text(evaluation.key)}: {told[0].sentence}",
                remedy=f"Name {listed(open_ones)} in `discussion` of {protocol.id}, and say there why the analysis "
                "without is the right one.",
            )


@rule("investigation-not-closed", severity=Severity.MINOR)
def not_closed(evidence: Evidence) -> Iterator[Hole]:
    """An investigation without the day on which it was closed.

    Why: results are judged as if its conclusion stood, while it may still change.
    Source: ISO 13485:2016, 8.3 and 8.5.2; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        for investigation in protocol.investigations:
            if investigation.closed_on is None:
                yield Hole(
                    records=(protocol.id, investigation.id),
                    place=investigation.at("closed_on"),
                    message=f"Investigation {investigation.id} of {protocol.id} is not closed.",
                    remedy="Close it and write the day under closed_on.",
                )
