"""Results that do not count whatever their numbers: the reasons that acceptance gave, and bridging studies."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.acceptance.records import Standing
from reportgen.project.records import Bridging, DesignInput, Protocol
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import brief, listed


def standing_hole(protocol: Protocol, record: DesignInput, keys: list[str], standing: Standing) -> Hole:
    """A standing reason of evaluations as a finding."""
    groups = [group for key in keys if (group := key.partition("/")[2].partition("/")[2])]
    which = f", {'group' if len(groups) == 1 else 'groups'} {listed(groups)}," if groups else ""
    bridged = standing.rule == "limit-set-on-another-method"
    linked = f" A study is linked under `bridging` of {protocol.id}." if bridged else ""
    return Hole(
        records=(record.id, protocol.id),
        place=protocol.at("purpose" if standing.rule == "results-for-characterization-only" else "method"),
        message=f"Results of {record.id} in {protocol.id}{which} do not count: {brief(standing.sentence)}.",
        remedy=f"{standing.would_change_it[:1].upper()}{brief(standing.would_change_it[1:])}.{linked}",
    )


def standing_holes(evidence: Evidence, name: str) -> Iterator[Hole]:
    """The standing reasons of this name, told once for each protocol and design input."""
    told: dict[tuple[str, str, str], tuple[Protocol, DesignInput, list[str], Standing]] = {}
    for protocol, record, evaluation in evidence.evaluations():
        for standing in evaluation.standing:
            if standing.rule == name:
                key = (protocol.id, record.id, standing.sentence)
                told.setdefault(key, (protocol, record, [], standing))[2].append(evaluation.key)
    for one in told.values():
        yield standing_hole(*one)


@rule("limit-set-on-another-method", severity=Severity.BLOCKER)
def other_method(evidence: Evidence) -> Iterator[Hole]:
    """Results from another test method than the one the limit was set with, without a bridging study that holds.

    Why: fixture families read differently on the same devices, so a limit belongs to the method it grew up with.
    Source: ASTM F2394 (results depend on pre-treatment, grip and endpoint); common practice, no source.
    """
    yield from standing_holes(evidence, "limit-set-on-another-method")


@rule("results-for-characterization-only", severity=Severity.BLOCKER)
def characterization(evidence: Evidence) -> Iterator[Hole]:
    """Results of a characterization study offered as verification of a design input.

    Why: they were not collected under a plan with criteria set before testing.
    Source: FDA bench performance guidance, 2019 (assessment criteria for characterization tests without pass/fail).
    """
    yield from standing_holes(evidence, "results-for-characterization-only")


def relied_on(evidence: Evidence) -> Iterator[tuple[Protocol, Bridging, tuple[str, ...]]]:
    """Each bridging link, with the design inputs whose limit it would carry over to this protocol's method."""
    for protocol in evidence.project.protocols:
        for bridging in protocol.bridging:
            carried = [
                id
                for id in protocol.verifies
                if id in evidence.design_inputs and evidence.design_inputs[id].limit_method == bridging.limit_method
            ]
            yield protocol, bridging, tuple(carried)


@rule("bridging-study-carries-nothing", severity=Severity.MINOR)
def bridging_idle(evidence: Evidence) -> Iterator[Hole]:
    """A bridging link to a method on which no limit of this protocol's design inputs was set.

    Why: a link that carries no limit over is a slip in one of the two ids, and the limit meant stays unbridged.
    Source: common practice, no source.
    """
    for protocol, bridging, carried in relied_on(evidence):
        if not carried or bridging.limit_method == protocol.method:
            yield Hole(
                records=(protocol.id, bridging.limit_method),
                place=bridging.at("limit_method"),
                message=f"{protocol.id} links bridging study {bridging.study} for limits set with method "
                f"{bridging.limit_method}, but none of its design inputs has a limit that it would carry over.",
                remedy="Correct limit_method here (under `bridging` of the protocol) or in design_inputs.csv, or "
                "remove the link.",
            )


@rule("bridging-study-not-found", severity=Severity.MAJOR)
def bridging_missing(evidence: Evidence) -> Iterator[Hole]:
    """A bridging study that a limit rests on and that is no record, file or document named anywhere in the project.

    Why: the study is evidence like any other; a reviewer will ask for it by number.
    Source: FDA bench performance guidance, 2019 (where the complete report is); common practice, no source.
    """
    project = evidence.project
    known = {protocol.id for protocol in project.protocols} | {protocol.report.number for protocol in project.protocols}
    known |= {source.path for source in (*project.sources, *evidence.reading.sources)}
    known |= {entry.document for entry in project.requirements_map.evidence_elsewhere}
    for protocol, bridging, carried in relied_on(evidence):
        if carried and not any(name and name in bridging.study for name in known):
            yield Hole(
                records=(protocol.id, *carried),
                place=bridging.at("study"),
                message=f"Bridging study {bridging.study!r} carries the limit of {listed(carried)} over to "
                f"{protocol.method}, but it is no protocol, report, file or document that this project names.",
                remedy="Name the protocol or file of the study, or list its report under `evidence_elsewhere` in "
                "requirements_map.yaml.",
            )
