"""The numbers themselves: units, distribution, outliers, censored values, readings too alike or too coarse."""

from __future__ import annotations

import math
from collections.abc import Iterator

from reportgen.acceptance.records import Evaluation, Outcome, SpecimenValue, SpecimenValues
from reportgen.lab.records import Batch
from reportgen.project.records import DesignInput, Protocol
from reportgen.quantities import UnknownUnit, same_kind
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import ONCE_EXPLAINED, Hole, rule
from reportgen.trace.rules.equipment import equipment_resolutions, tolerance_width
from reportgen.trace.wording import group_text, listed

# With fewer values equal readings may be chance; common practice, no source.
LEAST_N_ALIKE = 5


def _units(evidence: Evidence) -> Iterator[tuple[str, str, dict[str, Batch]]]:
    """By protocol and design input, the first batch of each unit as filed."""
    for protocol in evidence.project.protocols:
        found: dict[str, dict[str, Batch]] = {}
        for batch in evidence.tested(protocol):
            if batch.filed_unit and batch.design_input in evidence.design_inputs:
                found.setdefault(batch.design_input, {}).setdefault(batch.filed_unit, batch)
        for design_input, units in found.items():
            yield protocol.id, design_input, units


def _measures_the_same(first: str, second: str) -> bool:
    try:
        return same_kind(first, second)
    except UnknownUnit:
        return False


@rule("unit-differs-in-kind", severity=Severity.BLOCKER)
def wrong_kind(evidence: Evidence) -> Iterator[Hole]:
    """Results in a unit that does not measure what the design input limits.

    Why: a pressure cannot be held against a force; the number has no meaning there.
    Source: SI brochure, 9th edition; common practice, no source.
    """
    for protocol, id, units in _units(evidence):
        wanted = evidence.design_inputs[id].unit
        for filed, batch in units.items():
            if wanted is None or not _measures_the_same(filed, wanted):
                yield Hole(
                    records=(protocol, id),
                    place=batch.place,
                    message=f"{protocol} files results of {id} in {filed!r}; the design input is in "
                    f"{wanted or 'no unit (an attribute)'!r}.",
                    remedy="Correct the unit in the result file, or column unit of design_inputs.csv.",
                )


@rule("mixed-units", severity=Severity.MINOR)
def mixed_units(evidence: Evidence) -> Iterator[Hole]:
    """One characteristic filed in several units within one protocol.

    Why: each change of unit is a place where a factor gets lost; values are converted exactly here, but were they filed
    as measured?
    Source: common practice, no source.
    """
    for protocol, id, units in _units(evidence):
        if len(units) > 1:
            places = listed([f"{filed!r} ({batch.place})" for filed, batch in units.items()])
            yield Hole(
                records=(protocol, id),
                place=list(units.values())[1].place,
                message=f"{protocol} files results of {id} in several units: {places}.",
                remedy="Check that each file states the unit it was measured in; use one unit in the next test.",
            )


@rule("distribution-rejected", severity=Severity.BLOCKER)
def rejected(evidence: Evidence) -> Iterator[Hole]:
    """Values that contradict the declared distribution, with no declared fallback that holds.

    Why: a bound from a distribution that the data contradict may be far from the truth in the tail that matters.
    Source: ISO 16269-6:2014 (normal intervals assume a normal population); CMH-17 volume 1, chapter 8.
    """
    for protocol, record, evaluation in evidence.evaluations():
        steps = {step.name: step for step in evaluation.steps}
        told, fallback = steps.get("distribution"), steps.get("fallback")
        if told is None or told.outcome is not Outcome.FAILED:
            continue
        if fallback is None or fallback.outcome is Outcome.FAILED:
            yield Hole(
                records=(protocol.id, record.id),
                place=protocol.at("analysis_plan"),
                message=f"{group_text(evaluation.key)}: {told.sentence}",
                remedy="Look for a cause in the test first. For a new test, declare before it a fallback that needs "
                "no such distribution (distribution_free) with enough specimens.",
            )


@rule("distribution-not-checked", severity=Severity.MAJOR)
def unchecked(evidence: Evidence) -> Iterator[Hole]:
    """A bound from a fitted distribution whose agreement with the values was not checked.

    Why: whether the data are normal is the first question about a normal tolerance bound.
    Source: ISO 16269-6:2014; CMH-17 volume 1, chapter 8; common practice.
    """
    for protocol, record, evaluation in evidence.evaluations():
        for step in evaluation.steps:
            if step.name == "distribution" and step.outcome is Outcome.NOT_RUN:
                yield Hole(
                    records=(protocol.id, record.id),
                    place=protocol.at("analysis_plan.normality_alpha"),
                    message=f"{group_text(evaluation.key)}: {step.sentence}",
                    remedy="Declare analysis_plan.normality_alpha before the next test. For these results, say in "
                    "the discussion what supports the distribution (probability plot, earlier lots). "
                    f"{ONCE_EXPLAINED}",
                )


@rule("outlier-not-explained", severity=Severity.MAJOR)
def outlier(evidence: Evidence) -> Iterator[Hole]:
    """A value flagged by the outlier test that neither an investigation nor the discussion names.

    Why: it stays in, as it must; but a reviewer wants to read what was found about it.
    Source: ASTM E178; FDA stent guidance, 2010, III.B (analysis incl. outliers and anomalies).
    """
    for protocol, record, evaluation in evidence.evaluations():
        told = [step for step in evaluation.steps if step.name == "outliers" and step.outcome is Outcome.FAILED]
        if not told:
            continue
        extreme = _flagged(evaluation, told[0].sentence)
        named = {specimen for investigation in protocol.investigations for specimen in investigation.specimens}
        if extreme and extreme.specimen not in named and extreme.specimen not in protocol.discussion:
            yield Hole(
                records=(protocol.id, record.id, extreme.specimen),
                place=extreme.place,
                message=f"{group_text(evaluation.key)}: specimen {extreme.specimen} ({extreme.value:g} "
                f"{evaluation.unit}) lies far from the others (outlier), and nothing is written about it.",
                remedy=f"Look for a cause and write under `investigations` or `discussion` of {protocol.id} what was "
                "found, naming the specimen. Without a cause it stays counted.",
            )


def _flagged(evaluation: Evaluation, sentence: str) -> SpecimenValue | None:
    """The specimen that the step's sentence names, else the one farthest from the mean."""
    values = SpecimenValues.of(evaluation.values)
    numbers, mean = values.column("value").tolist(), evaluation.mean
    known = [at for at, number in enumerate(numbers) if not math.isnan(number)]
    specimens = values.column("specimen").tolist()
    named = next((at for at in known if sentence.startswith(f"Specimen {specimens[at]} is ")), None)
    if named is None and known and mean is not None:
        named = max(known, key=lambda at: abs(numbers[at] - mean))
    return None if named is None else values.single(named)


@rule("censored-values-counted-as-exact", severity=Severity.BLOCKER)
def censored(evidence: Evidence) -> Iterator[Hole]:
    """Values that are only known to lie beyond a reading, taken as exact in a fitted bound.

    Why: mean, spread and factor are then wrong in an unknown direction.
    Source: common practice, no source; reliability texts on censored data (NIST/SEMATECH e-Handbook 8.1.3).
    """
    for protocol, record, evaluation in evidence.evaluations():
        values = SpecimenValues.of(evaluation.values)
        beyond = values.where(values.column("censored").astype(bool))
        fitted = evaluation.approach_used not in ("", "distribution_free", "attribute")
        has_bound = evaluation.lower_bound is not None or evaluation.upper_bound is not None
        if beyond and fitted and has_bound and "censored" not in evaluation.approach_used:
            yield Hole(
                records=(protocol.id, record.id, *(value.specimen for value in beyond)),
                place=beyond[0].place,
                message=f"{group_text(evaluation.key)} takes {listed(value.specimen for value in beyond)} as exact, "
                f"but {'this value is' if len(beyond) == 1 else 'these values are'} only known to lie beyond the "
                "reading.",
                remedy="Evaluate by an approach that holds censored values, or test with a range in which every "
                "specimen fails.",
            )


@rule("values-all-alike", severity=Severity.MAJOR)
def alike(evidence: Evidence) -> Iterator[Hole]:
    """Five or more specimens with exactly the same measured value.

    Why: devices differ; equal readings mean that the reading is too coarse, clipped or copied.
    Source: common practice, no source.
    """
    for protocol, record, evaluation in evidence.evaluations():
        if evaluation.kind == "variable" and evaluation.n >= LEAST_N_ALIKE and evaluation.minimum == evaluation.maximum:
            yield Hole(
                records=(protocol.id, record.id),
                place=evaluation.values[0].place if evaluation.values else protocol.at("results"),
                message=f"All {evaluation.n} values of {group_text(evaluation.key)} are {evaluation.minimum:g} "
                f"{evaluation.unit}.",
                remedy="Compare with the laboratory record: was the reading rounded, clipped at a limit, or copied "
                "down?",
            )


@rule("same-values-in-two-groups", severity=Severity.MAJOR)
def copied(evidence: Evidence) -> Iterator[Hole]:
    """Two groups of specimens with the very same values in the same order.

    Why: this does not happen by chance; one of them was pasted twice.
    Source: common practice, no source.
    """
    for protocol in evidence.project.protocols:
        seen: dict[bytes, str] = {}
        for evaluation in evidence.evaluations_of.get(protocol.id, ()):
            for (lot, condition), values in _by_lot(evaluation):
                numbers = values.numbers()
                if len(numbers) < LEAST_N_ALIKE:
                    continue
                name = f"{evaluation.design_input}, lot {lot}, {condition}"
                # as bytes, which one comparison tells apart; adding zero makes one zero of both
                first = seen.setdefault((numbers + 0.0).tobytes(), name)
                if first == name or len(set(numbers.tolist())) < 3:
                    continue
                yield Hole(
                    records=(protocol.id, lot),
                    place=values[0].place,
                    message=f"In {protocol.id} the {len(numbers)} values of {name} are the same, in the same order, "
                    f"as those of {first}.",
                    remedy="Compare both with the laboratory record and correct the one that was pasted.",
                )


def _by_lot(evaluation: Evaluation) -> Iterator[tuple[tuple[str, str], SpecimenValues]]:
    values = SpecimenValues.of(evaluation.values)
    lots, conditions = values.column("lot"), values.column("condition")
    if len(evaluation.lots) == 1 == len(evaluation.conditions) and conditions.all():
        yield (evaluation.lots[0], evaluation.conditions[0]), values
        return
    for lot, condition in dict.fromkeys(zip(lots.tolist(), conditions.tolist(), strict=True)):
        yield (lot, condition), values.where((lots == lot) & (conditions == condition))


@rule("values-recorded-coarsely", severity=Severity.MINOR)
def coarse(evidence: Evidence) -> Iterator[Hole]:
    """Values filed with so few decimals that a step is a large part of the tolerance.

    Why: rounding then decides between pass and fail, and makes a distribution check reject.
    Source: ASTM E29; a tenth of the tolerance is common practice, no source, and is a setting of the project.
    """
    share = evidence.project.settings.coarsest_resolution_share
    for protocol, record, evaluation in evidence.evaluations():
        width = tolerance_width(record)
        step = 10.0**-evaluation.data_decimals
        spread = evaluation.n > 1 and evaluation.minimum != evaluation.maximum
        if evaluation.kind == "variable" and width and spread and step > share * width * (1 + 1e-12):
            yield Hole(
                records=(protocol.id, record.id),
                place=evaluation.values[0].place if evaluation.values else protocol.at("results"),
                message=f"Values of {group_text(evaluation.key)} are filed in steps of {step:g} {evaluation.unit}, "
                f"more than {share:g} of the tolerance of {width:g} {evaluation.unit}.",
                remedy="File the values with all decimals that the equipment gives.",
            )


# With fewer values a check of the distribution rarely rejects anything; common practice, no source.
LEAST_N_TO_CHECK = 15


@rule("distribution-hardly-checkable", severity=Severity.MINOR)
def hardly_checkable(evidence: Evidence) -> Iterator[Hole]:
    """A fitted distribution on fewer than fifteen values, where the plan does not say what supports it.

    Why: a check of so few values passes almost any distribution, so it is no evidence by itself.
    Source: common practice, no source.
    """
    told: set[str] = set()
    for protocol, record, evaluation in evidence.evaluations():
        checked = any(step.name == "distribution" and step.outcome is Outcome.PASSED for step in evaluation.steps)
        fitted = evaluation.approach_used in ("normal", "lognormal", "weibull", "box_cox")
        few = evaluation.n < LEAST_N_TO_CHECK and not protocol.analysis_plan.justification
        if checked and fitted and few and protocol.id not in told:
            told.add(protocol.id)
            yield Hole(
                records=(protocol.id, record.id),
                place=protocol.at("analysis_plan.justification"),
                message=f"{group_text(evaluation.key)} takes {evaluation.n} values as "
                f"{evaluation.approach_used}; they are too few to check that well, and the plan "
                "does not say what else supports it.",
                remedy="Write in analysis_plan.justification what earlier lots or the physics of the test say about "
                "the distribution. For a new test, plan more specimens or the approach distribution_free.",
            )


@rule("values-heaped-on-fives", severity=Severity.MINOR)
def heaped(evidence: Evidence) -> Iterator[Hole]:
    """Ten or more values that all end in 0 or 5, although the equipment reads finer.

    Why: somebody rounded while reading, so the filed decimals promise more than was measured.
    Source: common practice, no source; ten such endings by chance have a probability of 1 in 10 million.
    """
    for protocol, record, evaluation in evidence.evaluations():
        if evaluation.kind != "variable" or evaluation.n < 10 or _converted(evidence, protocol, record):
            continue
        unit = 10.0**-evaluation.data_decimals
        numbers = SpecimenValues.of(evaluation.values).numbers().tolist()
        if any(abs(number / unit - 5 * round(number / unit / 5)) >= 1e-6 for number in numbers):
            continue
        reads = max(equipment_resolutions(evidence, protocol, record), default=0.0)
        if len(set(numbers)) > 2 and reads < 5 * unit * (1 - 1e-9):
            yield Hole(
                records=(protocol.id, record.id),
                place=evaluation.values[0].place,
                message=f"All {evaluation.n} values of {group_text(evaluation.key)} end in 0 or 5 at their last "
                f"decimal ({unit:g} {evaluation.unit}).",
                remedy="File the readings as the equipment gave them. If it reads in steps of five, write that as its "
                "resolution in equipment.csv.",
            )


def _converted(evidence: Evidence, protocol: Protocol, record: DesignInput) -> bool:
    """Whether values were filed in another unit than the design input's: their decimals are then not those filed."""
    own = [batch for batch in evidence.counted(protocol) if batch.design_input == record.id]
    return any(batch.filed_unit not in ("", record.unit) for batch in own)
