"""What is still to be done: specimens that protocols wait for, with their laboratory, and clauses without evidence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from reportgen.citation_text import cited
from reportgen.compose.citations import clause_number
from reportgen.compose.dossier import Dossier
from reportgen.compose.records import SpecimenCounts, StatusGap, StatusWaiting
from reportgen.lab.records import Measurements
from reportgen.project.records import Protocol
from reportgen.trace.records import CoverageStatus

_Place = tuple[str, str]  # lot and condition


def waiting(dossier: Dossier) -> tuple[StatusWaiting, ...]:
    """One entry for each lot and condition of which planned specimens have no result and no excuse."""
    return tuple(
        StatusWaiting(
            protocol=protocol.id,
            title=protocol.title,
            design_inputs=protocol.verifies,
            lot=lot,
            condition=condition,
            counts=counts,
            laboratory=protocol.laboratory.name if protocol.laboratory else "",
        )
        for protocol in dossier.project.protocols
        if any(evaluation.n_missing for evaluation in dossier.evaluations_of(protocol.id))
        for (lot, condition), counts in _counts(dossier.measurements_of(protocol.id), protocol)
        if counts.left
    )


def _counts(measurements: Measurements, protocol: Protocol) -> list[tuple[_Place, SpecimenCounts]]:
    """Devices of each planned group; one of which any reading counts is valid, and is not set aside as well."""
    excused = {specimen for deviation in protocol.deviations for specimen in deviation.specimens}
    valid = _devices(measurements.where(missing=False, excluded=False))
    aside = _devices(measurements.where(missing=False, excluded=True)) - valid
    lost = {one for one in _devices(measurements.where(missing=True)) - valid - aside if one[2] in excused}
    n_valid, n_aside, n_lost = _by_group(valid), _by_group(aside), _by_group(lost)
    planned: Counter[_Place] = Counter()
    for group in protocol.sampling.groups:
        planned[group.lot, group.condition] += group.n
    return [
        (
            place,
            SpecimenCounts(
                planned=n,
                tested=n_valid[place] + n_aside[place],
                valid=n_valid[place],
                set_aside=n_aside[place],
                left=max(0, n - n_valid[place] - n_aside[place] - n_lost[place]),
            ),
        )
        for place, n in planned.items()
    ]


def _devices(measurements: Measurements) -> set[tuple[str, str, str]]:
    return {(lot, condition, id) for lot, condition, id in measurements.combinations("lot", "condition", "specimen")}


def _by_group(devices: Iterable[tuple[str, str, str]]) -> Counter[_Place]:
    return Counter((lot, condition) for lot, condition, _ in devices)


def map_titles(dossier: Dossier) -> dict[str, str]:
    """What each map is called, by its id; its id is added where two maps treat the same edition of one standard."""
    titles = {clause_map.id: cited(clause_map.number, clause_map.edition) for clause_map in dossier.project.maps}
    count = Counter(titles.values())
    return {id: title if count[title] == 1 else f"{title} ({id})" for id, title in titles.items()}


def gaps(dossier: Dossier) -> tuple[StatusGap, ...]:
    """Clauses in use that nothing answers yet, those that nobody addressed first."""
    titles = map_titles(dossier)
    return tuple(
        StatusGap(
            standard=titles.get(entry.map, entry.map),
            clause=clause_number(dossier, entry.map, entry.clause) or "–",
            topic=entry.topic,
            status=entry.status.value,
            sentence=entry.sentence,
        )
        for wanted in (CoverageStatus.NOT_ADDRESSED, CoverageStatus.EVIDENCE_MISSING)
        for entry in dossier.audit.coverage
        if entry.status is wanted
    )
