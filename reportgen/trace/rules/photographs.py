"""Photographs that a protocol asks for: taken, and of the specimens that they have to show."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.project.records import Protocol
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.rules.failures import failed_values
from reportgen.trace.wording import counted, in_order, listed

SETUP, FAILED, EVERY = "setup", "failed specimens", "every specimen"


@rule("photograph-missing", severity=Severity.MAJOR)
def missing(evidence: Evidence) -> Iterator[Hole]:
    """A photograph that the protocol asks for, of the set-up or of specimens with results, and that is not on file.

    Why: how a device failed is seen, not read; the protocol said that it would be shown.
    Source: FDA stent guidance, 2010, IV (photograph or drawing of the set-up; failure mode); common practice.
    """
    for protocol in evidence.project.protocols:
        if not evidence.has_results(protocol):
            continue
        shown = {specimen for photograph in protocol.photographs for specimen in photograph.specimens}
        lacking = [specimen for specimen in _wanted(evidence, protocol) if specimen not in shown]
        parts = [] if not lacking else [f"{counted(len(lacking), 'specimen')} ({listed(lacking)})"]
        if SETUP in protocol.photographs_of and not any(photograph.setup for photograph in protocol.photographs):
            parts.insert(0, "the set-up")
        if parts:
            yield Hole(
                records=(protocol.id, *lacking),
                place=protocol.at("photographs"),
                message=f"{protocol.id} asks for photographs of {listed(protocol.photographs_of)}; none is on file of "
                f"{listed(parts)}.",
                remedy="List each photograph under `photographs` with its file or record number, and `setup: true` or "
                "the specimens it shows. If one was not taken, record a deviation and take it off photographs_of by a "
                "revision.",
            )


def _wanted(evidence: Evidence, protocol: Protocol) -> tuple[str, ...]:
    if EVERY in protocol.photographs_of:
        tested = evidence.reading.measurements.where(missing=False).of(protocol=protocol.id)
        return in_order(specimen for (specimen,) in tested.combinations("specimen"))
    if FAILED in protocol.photographs_of:
        evaluations = evidence.evaluations_of.get(protocol.id, ())
        return in_order(value.specimen for one in evaluations for value in failed_values(one))
    return ()


@rule("photograph-of-unknown-specimen", severity=Severity.MINOR)
def unknown(evidence: Evidence) -> Iterator[Hole]:
    """A photograph of a specimen that the protocol has no row of.

    Why: it shows another device than a reader thinks, or one whose result is missing.
    Source: common practice, no source; ISO/IEC 17025:2017, 7.5.1 (records are identified).
    """
    for protocol in evidence.project.protocols:
        if not any(photograph.specimens for photograph in protocol.photographs):
            continue
        known = {one for (one,) in evidence.reading.measurements.of(protocol=protocol.id).combinations("specimen")}
        for photograph in protocol.photographs:
            strange = [specimen for specimen in photograph.specimens if specimen not in known]
            if strange:
                yield Hole(
                    records=(protocol.id, *strange),
                    place=photograph.at("specimens"),
                    message=f"Photograph {photograph.file} of {protocol.id} shows {listed(strange)}, of which its "
                    "result files have no row.",
                    remedy="Correct the specimen, or add its result.",
                )
