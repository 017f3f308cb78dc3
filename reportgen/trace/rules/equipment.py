"""Equipment: recorded, of the method, calibrated on the day, and fit for the values measured."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from reportgen.lab.records import Batch
from reportgen.project.records import DesignInput, Equipment, Protocol, Quantity
from reportgen.quantities import convert, same_kind
from reportgen.trace.evidence import CalibrationPeriod, Evidence, day_of
from reportgen.trace.records import Severity
from reportgen.trace.rule import ONCE_EXPLAINED, Hole, rule
from reportgen.trace.wording import counted, listed

_OUT = re.compile(r"\bout(?:side)?\b.{0,4}\b(?:of|tolerance|limits)|\bfail", re.IGNORECASE)


def _named(batch: Batch) -> tuple[str, ...]:
    return tuple(part.strip() for part in batch.equipment.split(";") if part.strip())


def _uses(evidence: Evidence, protocol: Protocol) -> dict[str, list[Batch]]:
    """The batches of a protocol by the equipment that they name."""
    found: dict[str, list[Batch]] = {}
    for batch in evidence.tested(protocol):
        for id in _named(batch):
            found.setdefault(id, []).append(batch)
    return found


@rule("equipment-not-recorded", severity=Severity.MAJOR)
def not_recorded(evidence: Evidence) -> Iterator[Hole]:
    """Results that do not say with which equipment they were taken, although the method lists equipment.

    Why: without the identity no calibration can be shown.
    Source: ISO 13485:2016, 7.6 and 8.2.6 (identity of test equipment); ISO/IEC 17025:2017, 7.5.1.
    """
    for protocol in evidence.project.protocols:
        bare = [batch for batch in evidence.tested(protocol) if not _named(batch)]
        wanted = evidence.methods[protocol.method].equipment
        if bare and wanted:
            yield Hole(
                records=(protocol.id, *wanted),
                place=bare[0].place,
                message=f"{protocol.id} has {counted(sum(batch.n for batch in bare), 'result')} without equipment; "
                f"method {protocol.method} lists {listed(wanted)}.",
                remedy="Fill column equipment of the result file with the ids used, separated by semicolons.",
            )


@rule("equipment-not-in-register", severity=Severity.BLOCKER)
def not_registered(evidence: Evidence) -> Iterator[Hole]:
    """Equipment named in results that the register does not have.

    Why: nothing is known about its calibration.
    Source: ISO 13485:2016, 7.6.
    """
    for protocol in evidence.project.protocols:
        for id, batches in _uses(evidence, protocol).items():
            if id not in evidence.equipment:
                yield Hole(
                    records=(protocol.id, id),
                    place=batches[0].place,
                    message=f"{protocol.id} has results taken with {id}, which equipment.csv does not list.",
                    remedy="Correct the id in the result file, or add the equipment with its calibration to "
                    "equipment.csv.",
                )


@rule("equipment-not-of-method", severity=Severity.MAJOR)
def not_of_method(evidence: Evidence) -> Iterator[Hole]:
    """Results taken with equipment that the method does not list.

    Why: the validation speaks of the equipment it was done with.
    Source: ISO/IEC 17025:2017, 7.2.2; common practice, no source.
    """
    for protocol in evidence.project.protocols:
        wanted = evidence.methods[protocol.method].equipment
        strange = {
            id: b for id, b in _uses(evidence, protocol).items() if id in evidence.equipment and id not in wanted
        }
        for id, batches in strange.items() if wanted else ():
            yield Hole(
                records=(protocol.id, protocol.method, id),
                place=batches[0].place,
                message=f"{protocol.id} has results taken with {id}; method {protocol.method} lists {listed(wanted)}.",
                remedy=f"Add it under `equipment` of {protocol.method} by a revision if the method was validated with "
                "it, or record a deviation with its impact.",
            )


@rule("calibration-not-valid-on-test-date", severity=Severity.BLOCKER)
def not_calibrated(evidence: Evidence) -> Iterator[Hole]:
    """Equipment that was not within a calibration period on a day it was used.

    Why: every value taken with it is then open.
    Source: ISO 13485:2016, 7.6; ISO/IEC 17025:2017, 6.4; 21 CFR 820 (QMSR).
    """
    for protocol in evidence.project.protocols:
        for id, batches in _uses(evidence, protocol).items():
            if id not in evidence.equipment or evidence.equipment[id].measures.casefold() in ("none", "nothing", "-"):
                continue
            periods = evidence.calibrations.get(id, ())
            days = {day: batch for batch in batches if (day := day_of(batch.tested_on)) is not None}
            open_days = [day for day in sorted(days) if not any(period.covers(day) for period in periods)]
            if open_days:
                n = sum(batch.n for batch in batches if day_of(batch.tested_on) in open_days)
                yield _calibration_hole(evidence.equipment[id], protocol, open_days, n, periods, days[open_days[0]])


def _calibration_hole(
    equipment: Equipment,
    protocol: Protocol,
    open_days: list[date],
    n: int,
    periods: tuple[CalibrationPeriod, ...],
    batch: Batch,
) -> Hole:
    known = listed([f"{period.start} to {period.end}" for period in periods]) or "none on record"
    return Hole(
        records=(protocol.id, equipment.id),
        place=equipment.at("calibration_due"),
        message=f"{equipment.id} ({equipment.description}) took {counted(n, 'result')} of {protocol.id} on "
        f"{listed([str(day) for day in open_days])} (first: {batch.place}); its calibration periods are: {known}.",
        remedy="Add the calibration that was valid on that day to calibrations.csv, or correct the date. If there "
        "was none, have the equipment checked as found, assess the impact in a deviation, or test again.",
    )


@rule("calibration-lapsed-between-tests", severity=Severity.MAJOR)
def lapsed(evidence: Evidence) -> Iterator[Hole]:
    """Equipment whose calibration ran out between two test days of one protocol before it was calibrated again.

    Why: the two parts of the data rest on two calibrations with an open time between them.
    Source: ISO/IEC 17025:2017, 6.4; ISO 13485:2016, 7.6 (validity of earlier results); common practice.
    """
    for protocol in evidence.project.protocols:
        for id, batches in _uses(evidence, protocol).items():
            days = sorted(day for batch in batches if (day := day_of(batch.tested_on)) is not None)
            for earlier, later in pairwise(evidence.calibrations.get(id, ())):
                gap = (later.start - earlier.end).days - 1
                if gap > 0 and days and days[0] <= earlier.end and days[-1] >= later.start and not later.as_found:
                    yield Hole(
                        records=(protocol.id, id),
                        place=later.place,
                        message=f"The calibration of {id} ran out on {earlier.end} and was renewed on {later.start}, "
                        f"between test days of {protocol.id} ({days[0]} to {days[-1]}).",
                        remedy="Write in column as_found of calibrations.csv what the later calibration found "
                        "before adjustment; it shows whether the earlier results stand.",
                    )


@rule("calibration-found-out-of-tolerance", severity=Severity.BLOCKER)
def found_out(evidence: Evidence) -> Iterator[Hole]:
    """Equipment found out of tolerance at the calibration after it was used, with no deviation that assesses it.

    Why: the validity of earlier results has to be assessed and recorded.
    Source: ISO 13485:2016, 7.6. Recognized by the words of column as_found.
    """
    for protocol in evidence.project.protocols:
        assessed = " ".join(d.description for d in protocol.deviations if d.impact)
        for id, batches in _uses(evidence, protocol).items():
            days = [day for batch in batches if (day := day_of(batch.tested_on)) is not None]
            for period in evidence.calibrations.get(id, ()):
                if days and _OUT.search(period.as_found) and min(days) < period.start and id not in assessed:
                    yield Hole(
                        records=(protocol.id, id),
                        place=period.place,
                        message=f"{id} was found {period.as_found!r} on {period.start}, after it took results of "
                        f"{protocol.id} (from {min(days)} on).",
                        remedy=f"Record a deviation of {protocol.id} that names {id} and assesses the impact on its "
                        "results.",
                    )


@rule("equipment-unfit-for-values", severity=Severity.MAJOR)
def unfit(evidence: Evidence) -> Iterator[Hole]:
    """Equipment whose capacity or resolution does not suit the values or the limits.

    Why: above capacity a sensor clips; far below it, or with a coarse reading, the value says little.
    Source: ASTM E29 (resolution against tolerance); the shares are the project's own settings (a tenth of the
    tolerance by default is common practice, no source).
    """
    for protocol in evidence.project.protocols:
        for id, batches in _uses(evidence, protocol).items():
            equipment = evidence.equipment.get(id)
            for design_input in protocol.verifies if equipment else ():
                record = evidence.design_inputs.get(design_input)
                values = [batch for batch in batches if batch.design_input == design_input and batch.counts]
                if equipment is not None and record is not None and record.unit and values:
                    faults = [
                        *_load_faults(evidence, equipment, record, values),
                        *_reading_faults(evidence, equipment, record),
                    ]
                    if faults:
                        yield Hole(
                            records=(protocol.id, id, record.id),
                            place=equipment.at("capacity" if "capacity" in faults[0] else "resolution"),
                            message=f"{id} ({equipment.description}) does not suit {record.id} in {protocol.id}: "
                            f"{'; '.join(faults)}.",
                            remedy="Correct capacity and resolution in equipment.csv if they are wrong. Otherwise "
                            "test with fitting equipment, or say in the discussion why the values hold. "
                            f"{ONCE_EXPLAINED}",
                        )


def _in_unit(quantity: Quantity | None, unit: str) -> float | None:
    if quantity is None or not same_kind(quantity.unit, unit):
        return None
    return convert(quantity.value, from_unit=quantity.unit, to_unit=unit)


def _load_faults(evidence: Evidence, equipment: Equipment, record: DesignInput, batches: list[Batch]) -> Iterator[str]:
    unit = record.unit or ""
    capacity = _in_unit(equipment.capacity, unit)
    highest = max((batch.highest for batch in batches if batch.highest is not None), default=None)
    lowest = min((batch.lowest for batch in batches if batch.lowest is not None), default=None)
    share = evidence.project.settings.smallest_share_of_capacity
    if capacity is not None and highest is not None and highest > capacity:
        yield f"a value of {highest:g} {unit} is above its capacity of {equipment.capacity}"
    if capacity is not None and lowest is not None and lowest < share * capacity:
        yield f"a value of {lowest:g} {unit} is below {share * 100:g} % of its capacity of {equipment.capacity}"


def _reading_faults(evidence: Evidence, equipment: Equipment, record: DesignInput) -> Iterator[str]:
    unit = record.unit or ""
    resolution = _in_unit(equipment.resolution, unit)
    width = tolerance_width(record)
    share = evidence.project.settings.coarsest_resolution_share
    if resolution is not None and width and resolution > share * width * (1 + 1e-12):
        yield f"its resolution of {equipment.resolution} is more than {share:g} of the tolerance, {width:g} {unit}"


def equipment_resolutions(evidence: Evidence, protocol: Protocol, record: DesignInput) -> list[float]:
    """The known resolutions, in the design input's unit, of the equipment that a protocol's method lists or used."""
    named = (*evidence.methods[protocol.method].equipment, *_uses(evidence, protocol))
    known = [_in_unit(evidence.equipment[id].resolution, record.unit or "") for id in named if id in evidence.equipment]
    return [resolution for resolution in known if resolution is not None]


def tolerance_width(record: DesignInput) -> float | None:
    """The distance between the limits; with one limit that limit's own size."""
    if record.lower_limit is not None and record.upper_limit is not None:
        return record.upper_limit - record.lower_limit
    one = record.lower_limit if record.lower_limit is not None else record.upper_limit
    return abs(one) if one is not None else None
