"""All that the earlier steps found, in one object, with the questions that every document asks of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from reportgen.acceptance.records import DesignInputResult, Evaluation, Verdict
from reportgen.compose.bound import bound_values
from reportgen.compose.records import BoundValue, BuildFacts, Run
from reportgen.lab.records import LabReading, Measurements
from reportgen.project.records import DesignInput, Equipment, Lot, Project, Protocol, RoundingMethod
from reportgen.trace.records import Audit, Finding, Severity

# worst first: what a reader must know comes before what is well
VERDICT_ORDER = (Verdict.NOT_MET, Verdict.NOT_DEMONSTRATED, Verdict.NOT_TESTED, Verdict.MET)


@dataclass(frozen=True, slots=True)
class Dossier:
    """The inputs of composing. `bound` holds every bound value by key, `measured` the measurements of each protocol."""

    project: Project
    reading: LabReading
    results: tuple[DesignInputResult, ...]
    audit: Audit
    facts: BuildFacts
    bound: Mapping[str, BoundValue]
    measured: Mapping[str, Measurements]

    def evaluations(self) -> tuple[Evaluation, ...]:
        return tuple(evaluation for result in self.results for evaluation in result.evaluations)

    def evaluations_of(self, protocol: str) -> tuple[Evaluation, ...]:
        return tuple(evaluation for evaluation in self.evaluations() if evaluation.protocol == protocol)

    def result_of(self, design_input: str) -> DesignInputResult | None:
        return next((result for result in self.results if result.design_input == design_input), None)

    def design_inputs_of(self, protocol: Protocol) -> tuple[DesignInput, ...]:
        return tuple(record for record in self.project.design_inputs if record.id in protocol.verifies)

    def protocols_of(self, design_input: str) -> tuple[Protocol, ...]:
        return tuple(protocol for protocol in self.project.protocols if design_input in protocol.verifies)

    def measurements_of(self, protocol: str) -> Measurements:
        return self.measured[protocol]

    def lots_of(self, protocol: Protocol) -> tuple[Lot, ...]:
        """The rows of the lot register that a protocol planned or tested."""
        wanted = {(group.lot, group.condition) for group in protocol.sampling.groups}
        wanted |= set(self.measurements_of(protocol.id).combinations("lot", "condition"))  # type: ignore[arg-type]
        return tuple(lot for lot in self.project.lots if (lot.lot, lot.condition) in wanted)

    def equipment_of(self, protocol: Protocol) -> tuple[Equipment, ...]:
        """What the result files name; where they name none, what the method asks for."""
        named = {
            id.strip()
            for (ids,) in self.measurements_of(protocol.id).combinations("equipment")
            for id in ids.split(";")
        } - {""}
        wanted = named or set(self.project.method(protocol.method).equipment)
        return tuple(record for record in self.project.equipment if record.id in wanted)

    def ageing_equipment_of(self, protocol: Protocol) -> tuple[Equipment, ...]:
        """What the lot register names in the ageing of the lots, as far as no specimen was tested with it."""
        told = " ".join(lot.ageing for lot in self.lots_of(protocol))
        tested_with = {record.id for record in self.equipment_of(protocol)}
        return tuple(
            record
            for record in self.project.equipment
            if record.id not in tested_with and re.search(rf"(?<![\w-]){re.escape(record.id)}(?![\w-])", told)
        )

    def has_results(self, protocol: Protocol) -> bool:
        """Whether any result of a protocol is on file, whether or not it counts."""
        return len(self.measurements_of(protocol.id).where(missing=False)) > 0

    def test_days(self, protocol: str) -> tuple[str, ...]:
        """The days on which results were filed, as ISO dates in order."""
        return tuple(sorted(day for (day,) in self.measurements_of(protocol).combinations("tested_on") if day))

    def never_rounds(self) -> bool:
        """Whether every plan compares unrounded values."""
        plans = (protocol.analysis_plan for protocol in self.project.protocols)
        return all(plan.rounding is RoundingMethod.ABSOLUTE for plan in plans)

    def blockers(self) -> tuple[Finding, ...]:
        """The findings for which the package may not be submitted: blockers that nobody waived."""
        return tuple(f for f in self.audit.findings if f.severity is Severity.BLOCKER and f.waiver is None)

    def concerns(self, protocol: Protocol) -> frozenset[str]:
        """The ids of everything a protocol's report is about."""
        method = self.project.method(protocol.method)
        own = {protocol.id, protocol.report.number, method.id, *protocol.verifies, *method.equipment}
        own |= {deviation.id for deviation in protocol.deviations} | {study.study for study in protocol.bridging}
        own |= {lot.lot for lot in self.lots_of(protocol)} | {record.id for record in self.equipment_of(protocol)}
        return frozenset(own | {evaluation.key for evaluation in self.evaluations_of(protocol.id)})

    def findings_about(self, protocol: Protocol) -> tuple[Finding, ...]:
        """The findings that name a record of this protocol, and no other protocol instead."""
        concerns = self.concerns(protocol)
        others = {other.id for other in self.project.protocols} - {protocol.id}
        return tuple(
            finding
            for finding in self.audit.findings
            if concerns & set(finding.records) and (protocol.id in finding.records or not others & set(finding.records))
        )

    def number(self, evaluation: Evaluation, name: str, *, bold: bool = False) -> Run:
        """A bound value as text. Raises: KeyError where the evaluation has none of that name."""
        entry = self.bound[f"{evaluation.key}/{name}"]
        return Run(text=entry.text, key=entry.key, bold=bold)

    def has(self, evaluation: Evaluation, name: str) -> bool:
        return f"{evaluation.key}/{name}" in self.bound

    def quantity(self, evaluation: Evaluation, name: str) -> tuple[Run, ...]:
        """A bound value with its unit behind it."""
        unit = self.bound[f"{evaluation.key}/{name}"].unit
        return (self.number(evaluation, name), *((Run(text=f" {unit}"),) if unit else ()))


def dossier_of(
    project: Project,
    reading: LabReading,
    results: tuple[DesignInputResult, ...],
    audit: Audit,
    *,
    facts: BuildFacts,
) -> Dossier:
    """Everything in one object, the bound values computed."""
    bound = bound_values(results)
    measured = {one.id: reading.measurements.of(protocol=one.id) for one in project.protocols}
    return Dossier(project, reading, results, audit, facts, bound, measured)
