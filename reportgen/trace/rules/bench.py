"""What reading the bench's files brought to light: remarks on force-displacement records, and guesses of the reader."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.lab.records import Quality
from reportgen.problems import Place
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Check, Hole, rule
from reportgen.trace.wording import brief, counted, in_order, listed

PRACTICE = "common practice, no source"
# kind of remark: severity, what it finds, why a reviewer cares, source, remedy
_REMARKS: dict[Quality, tuple[Severity, str, str, str, str]] = {
    Quality.NO_DROP: (
        Severity.MAJOR,
        "Force-displacement records in which the force never dropped as the method's rule asks.",
        "the value is then only a lower bound of the strength.",
        "ASTM F2394 (results depend on the endpoint).",
        "Pull further in the next test. Here, say in the failure mode how the specimen ended.",
    ),
    Quality.SATURATED: (
        Severity.MAJOR,
        "Force-displacement records that run flat at the capacity of the force sensor.",
        "the true force was higher than the sensor could show.",
        "ISO/IEC 17025:2017, 6.4 (equipment fit for its use); " + PRACTICE + ".",
        "Test with a sensor of larger capacity, and mark these values as lower bounds.",
    ),
    Quality.FEW_POINTS: (
        Severity.MINOR,
        "Force-displacement records with few points around the peak.",
        "the peak may lie between two points.",
        PRACTICE + ".",
        "Record at a higher rate, or pull more slowly within the method.",
    ),
    Quality.COARSE_SAMPLING: (
        Severity.MINOR,
        "Force-displacement records sampled coarsely for the rate of pulling.",
        "between two points the force may rise and fall unseen.",
        PRACTICE + ".",
        "Record at a higher rate, or pull more slowly within the method.",
    ),
    Quality.RATE: (
        Severity.MAJOR,
        "Force-displacement records whose rate of pulling is outside the method's tolerance.",
        "the force depends on the rate, so the specimen was not tested by the method.",
        "FDA guidance on PTA and specialty catheters, 2023 (report the pull rate).",
        "Record a deviation with its impact, or repeat the specimens at the rate of the method.",
    ),
    Quality.SHORT_TRAVEL: (
        Severity.MAJOR,
        "Force-displacement records that end before the travel which the method asks for.",
        "a later, higher or lower force was not looked for.",
        PRACTICE + ".",
        "Record a deviation with its impact, or repeat the specimens over the whole travel.",
    ),
    Quality.NOT_MONOTONE: (
        Severity.MINOR,
        "Force-displacement records in which the displacement goes back.",
        "the machine was reversed, or rows are out of order; the first drop may be an artifact.",
        PRACTICE + ".",
        "Look at the record and the machine's log, and file the record as it was taken.",
    ),
    Quality.OFFSET: (
        Severity.MINOR,
        "Force-displacement records that start with a force other than zero.",
        "an untared weight or a preload is part of every force in the record.",
        PRACTICE + ".",
        "Tare before pulling. Here, declare the baseline in the method's reduction or explain the preload.",
    ),
    Quality.FILED_DIFFERS: (
        Severity.MAJOR,
        "Values in a result file that differ from what the method's rule makes of the specimen's own record.",
        "the number in the report must lead back to the raw record; one of the two is wrong.",
        "ISO/IEC 17025:2017, 7.5 and 7.11 (records, transfer of data); public data-integrity guidances (ALCOA+).",
        "Find out whether the filed value was taken by another rule, rounded or mistyped, and correct the wrong one.",
    ),
    Quality.SENSITIVE: (
        Severity.MINOR,
        "Force-displacement records whose value changes when the drop threshold is varied a little.",
        "the number then hangs on the choice of the threshold.",
        PRACTICE + ".",
        "Look at the plots, justify the threshold in the method, and discuss these specimens.",
    ),
}


def _remark_check(kind: Quality, what: str, why: str, source: str, remedy: str) -> Check:
    def check(evidence: Evidence) -> Iterator[Hole]:
        by_protocol: dict[str, list[tuple[str, str, Place]]] = {}
        for reduced in evidence.reading.reduced:
            for remark in reduced.remarks:
                if remark.kind is kind:
                    entry = (reduced.trace.specimen, remark.message, remark.place)
                    by_protocol.setdefault(reduced.trace.protocol, []).append(entry)
        for protocol, entries in by_protocol.items():
            specimens = in_order(specimen for specimen, _, _ in entries)
            yield Hole(
                records=(protocol, *specimens),
                place=entries[0][2],
                message=f"{counted(len(specimens), 'force-displacement record')} of {protocol} "
                f"({listed(specimens)}): {brief(entries[0][1])}.",
                remedy=remedy,
            )

    check.__doc__ = f"{what}\n\n    Why: {why}\n    Source: {source}\n    "
    return check


for _kind, (_severity, _what, _why, _source, _remedy) in _REMARKS.items():
    rule(_kind.value, severity=_severity)(_remark_check(_kind, _what, _why, _source, _remedy))


_DECLARE_FILE = "Declare it under `layout` of this file, under `results` of the protocol, if only to confirm it."
_DECLARE_RECORD = "Declare it under `traces` of the protocol (columns, units, decimal...), if only to confirm it."


@rule("reader-guessed", severity=Severity.NOTE)
def guessed(evidence: Evidence) -> Iterator[Hole]:
    """Something about a result file that was not declared, so that the reader had to guess it.

    Why: a wrong guess (a decimal comma, a unit) changes every number; it is said aloud so that somebody looks.
    Source: common practice, no source.
    """
    records = {reduced.trace.place.file for reduced in evidence.reading.reduced}
    for guess in evidence.reading.measurements.guesses:
        yield Hole(
            records=(),
            place=guess.place,
            message=f"The reader assumed: {brief(guess.what)}.",
            remedy=_DECLARE_RECORD if guess.place.file in records else _DECLARE_FILE,
        )
