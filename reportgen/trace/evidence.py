"""All that the rules look at, indexed once so that every rule stays linear in the size of the project."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TypeVar

from reportgen.acceptance.records import DesignInputResult, Evaluation
from reportgen.lab.records import Batch, LabReading
from reportgen.problems import Place
from reportgen.project.records import (
    AssuranceLevel,
    DesignInput,
    Equipment,
    Lot,
    Method,
    Project,
    Protocol,
    Purpose,
    Risk,
    UserNeed,
)
from reportgen.trace.records import EarlierPackage

Claim = tuple[AssuranceLevel | None, str]
GroupKey = tuple[str, str, str, str]
K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationPeriod:
    """From when to when one calibration of a piece of equipment holds, both days included."""

    start: date
    end: date
    certificate: str
    as_found: str
    place: Place

    def covers(self, day: date) -> bool:
        return self.start <= day <= self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The project, what the bench wrote, the verdicts, and indexes into them. Keys are ids."""

    project: Project
    reading: LabReading
    results: tuple[DesignInputResult, ...]
    user_needs: dict[str, UserNeed]
    risks: dict[str, Risk]
    design_inputs: dict[str, DesignInput]
    protocols: dict[str, Protocol]
    methods: dict[str, Method]
    equipment: dict[str, Equipment]
    calibrations: dict[str, tuple[CalibrationPeriod, ...]]
    lots: dict[tuple[str, str], Lot]
    claims: dict[str, Claim]
    protocols_of: dict[str, tuple[Protocol, ...]]
    evaluations_of: dict[str, tuple[Evaluation, ...]]
    batches_of: dict[str, tuple[Batch, ...]]
    # by protocol, design input, lot and condition
    specimens_tested: dict[GroupKey, int]
    specimens_missing: dict[GroupKey, tuple[str, ...]]
    earlier: EarlierPackage | None = None

    def verifying(self) -> Iterator[tuple[Protocol, DesignInput]]:
        """Each verification protocol with each design input that it verifies."""
        for protocol in self.project.protocols:
            if protocol.purpose is Purpose.VERIFICATION:
                for id in protocol.verifies:
                    if id in self.design_inputs:
                        yield protocol, self.design_inputs[id]

    def evaluations(self) -> Iterator[tuple[Protocol, DesignInput, Evaluation]]:
        """Each evaluation with the records that it belongs to, protocols in the order of the project."""
        for protocol in self.project.protocols:
            for evaluation in self.evaluations_of.get(protocol.id, ()):
                yield protocol, self.design_inputs[evaluation.design_input], evaluation

    def tested(self, protocol: Protocol) -> tuple[Batch, ...]:
        """The batches of a protocol that hold results, those set aside by the lab among them."""
        return tuple(batch for batch in self.batches_of.get(protocol.id, ()) if not batch.missing)

    def counted(self, protocol: Protocol) -> tuple[Batch, ...]:
        """The batches of a protocol that hold results which count."""
        return tuple(batch for batch in self.batches_of.get(protocol.id, ()) if batch.counts)

    def has_results(self, protocol: Protocol) -> bool:
        return any(not batch.missing for batch in self.batches_of.get(protocol.id, ()))

    def test_days(self, protocol: Protocol) -> tuple[tuple[date, Batch], ...]:
        """The dated batches of a protocol, earliest first."""
        dated = [(day_of(batch.tested_on), batch) for batch in self.tested(protocol)]
        return tuple(sorted(((day, batch) for day, batch in dated if day), key=lambda pair: pair[0]))

    def lots_used(self, protocol: Protocol) -> dict[tuple[str, str], Lot]:
        """The lots, by lot and condition, whose results a protocol has; the planned ones while it has none."""
        tested = {(batch.lot, batch.condition) for batch in self.tested(protocol)}
        wanted = sorted(tested or {(group.lot, group.condition) for group in protocol.sampling.groups})
        return {key: self.lots[key] for key in wanted if key in self.lots}


@lru_cache(maxsize=65_536)
def day_of(text: str) -> date | None:
    """The day that an ISO text names; None for anything else."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def gather(
    project: Project,
    reading: LabReading,
    results: tuple[DesignInputResult, ...],
    *,
    earlier: EarlierPackage | None = None,
) -> Evidence:
    """The evidence with its indexes."""
    risks = {record.id: record for record in project.risks}
    evaluations = [evaluation for result in results for evaluation in result.evaluations]
    return Evidence(
        project=project,
        reading=reading,
        results=results,
        user_needs={record.id: record for record in project.user_needs},
        risks=risks,
        design_inputs={record.id: record for record in project.design_inputs},
        protocols={record.id: record for record in project.protocols},
        methods={record.id: record for record in project.methods},
        equipment={record.id: record for record in project.equipment},
        calibrations=_calibrations(project),
        lots={(record.lot, record.condition): record for record in project.lots},
        claims={record.id: claim_of(project, record, risks) for record in project.design_inputs},
        protocols_of=_grouped((id, protocol) for protocol in project.protocols for id in protocol.verifies),
        evaluations_of=_grouped((evaluation.protocol, evaluation) for evaluation in evaluations),
        batches_of=_grouped((batch.protocol, batch) for batch in reading.measurements.batches()),
        specimens_tested=_tested(reading),
        specimens_missing=_missing(reading),
        earlier=earlier,
    )


def claim_of(project: Project, design_input: DesignInput, risks: dict[str, Risk]) -> Claim:
    """As `Project.assurance_of`, asked of the risks of one design input alone, so that many stay cheap."""
    own = tuple(risks[id] for id in design_input.risk if id in risks)
    return project.model_copy(update={"risks": own}).assurance_of(design_input)


def _calibrations(project: Project) -> dict[str, tuple[CalibrationPeriod, ...]]:
    periods = [
        (record.id, (record.calibrated_on, record.calibration_due, record.certificate, "", record.place))
        for record in project.equipment
    ]
    periods += [
        (
            record.equipment,
            (record.calibrated_on, record.calibration_due, record.certificate, record.as_found, record.place),
        )
        for record in project.calibrations
    ]
    whole = [
        (id, CalibrationPeriod(start=start, end=end, certificate=certificate, as_found=as_found, place=place))
        for id, (start, end, certificate, as_found, place) in periods
        if start is not None and end is not None
    ]
    return _grouped(sorted(whole, key=lambda pair: (pair[1].start, pair[1].end)))


def _missing(reading: LabReading) -> dict[GroupKey, tuple[str, ...]]:
    named = reading.measurements.where(missing=True, excluded=False)
    columns = ("protocol", "design_input", "lot", "condition", "specimen")
    return _grouped(
        ((p, d, lot, condition), specimen) for p, d, lot, condition, specimen in named.combinations(*columns)
    )


def _tested(reading: LabReading) -> dict[GroupKey, int]:
    counts = reading.measurements.where(missing=False).count_distinct(
        "specimen", by=("protocol", "design_input", "lot", "condition")
    )
    return {(p, d, lot, condition): count for (p, d, lot, condition), count in counts.items()}


def _grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, tuple[V, ...]]:
    found: dict[K, list[V]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
    return {key: tuple(values) for key, values in found.items()}
