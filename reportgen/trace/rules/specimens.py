"""Specimens: all accounted for, each counted once, none lost without a cause."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.acceptance.records import SpecimenValues
from reportgen.lab.records import Batch
from reportgen.problems import Place
from reportgen.project.records import Protocol
from reportgen.trace.evidence import Evidence
from reportgen.trace.records import Severity
from reportgen.trace.rule import Hole, rule
from reportgen.trace.wording import counted, group_text, in_order, listed

# one specimen number may be used again in another lot or condition
IDENTITY = ("lot", "condition", "specimen")


@rule("planned-specimens-unaccounted", severity=Severity.BLOCKER)
def unaccounted(evidence: Evidence) -> Iterator[Hole]:
    """Planned specimens that have neither a result nor an exclusion nor a deviation that names them.

    Why: specimens that quietly vanish may be the ones that failed; planned, tested and analysed have to reconcile.
    Source: FDA bench performance guidance, 2019 (all data points); FDA stent guidance, 2010, III.B.
    """
    for protocol in evidence.project.protocols:
        if not evidence.has_results(protocol):
            continue
        excused = {specimen for deviation in protocol.deviations for specimen in deviation.specimens}
        for lot, condition, planned, design_inputs in _planned(protocol):
            short = {}
            for id in design_inputs:
                key = (protocol.id, id, lot, condition)
                absent = evidence.specimens_missing.get(key, ())
                n = evidence.specimens_tested.get(key, 0) + sum(specimen in excused for specimen in absent)
                if n < planned:
                    short[id] = (planned - n, [specimen for specimen in absent if specimen not in excused])
            if short:
                yield _unaccounted_hole(protocol, lot, condition, planned, short)


def _planned(protocol: Protocol) -> Iterator[tuple[str, str, int, tuple[str, ...]]]:
    totals: dict[tuple[str, str], int] = {}
    for group in protocol.sampling.groups:
        totals[group.lot, group.condition] = totals.get((group.lot, group.condition), 0) + group.n
    for (lot, condition), n in totals.items():
        yield lot, condition, n, protocol.verifies


def _unaccounted_hole(
    protocol: Protocol, lot: str, condition: str, planned: int, short: dict[str, tuple[int, list[str]]]
) -> Hole:
    n, named = max(short.values(), key=lambda pair: pair[0])
    which = f" ({listed(named)})" if named else ""
    return Hole(
        records=(protocol.id, lot, *short),
        place=protocol.at("sampling"),
        message=f"{protocol.id} plans {counted(planned, 'specimen')} of lot {lot}, condition {condition}; {n} of "
        f"them{which} {'has' if n == 1 else 'have'} neither a result for {listed(short)} nor a recorded reason.",
        remedy="Test them as planned and add their results to the result file. Only specimens that were lost or "
        "spoiled for a cause unconnected with the results may be listed there with `yes` in column excluded and that "
        "cause, or be named under `specimens` of a deviation that says what happened to them.",
    )


@rule("more-specimens-than-planned", severity=Severity.MAJOR)
def too_many(evidence: Evidence) -> Iterator[Hole]:
    """More specimens with results than the protocol plans for a lot in a condition.

    Why: testing on until the result pleases breaks every statistical claim.
    Source: common practice, no source; ASTM F3172 (sample size is fixed before testing).
    """
    for protocol in evidence.project.protocols:
        for lot, condition, planned, design_inputs in _planned(protocol):
            counts = [evidence.specimens_tested.get((protocol.id, id, lot, condition), 0) for id in design_inputs]
            if counts and max(counts) > planned:
                yield Hole(
                    records=(protocol.id, lot),
                    place=protocol.at("sampling"),
                    message=f"{protocol.id} plans {counted(planned, 'specimen')} of lot {lot}, condition "
                    f"{condition}, but {max(counts)} have results.",
                    remedy="Record a deviation that says why more were tested and whether that was decided before "
                    "the results were known, and bring the sampling plan in line by a revision; keep all results.",
                )


@rule("lot-not-in-sampling-plan", severity=Severity.MAJOR)
def unplanned_lot(evidence: Evidence) -> Iterator[Hole]:
    """Results of a lot, or of a condition of a lot, that the sampling plan does not name.

    Why: what was tested is not what was approved.
    Source: FDA bench performance guidance, 2019 (test sample information); common practice, no source.
    """
    for protocol in evidence.project.protocols:
        planned = {(group.lot, group.condition) for group in protocol.sampling.groups}
        strange: dict[tuple[str, str], Batch] = {}
        for batch in evidence.tested(protocol):
            if (batch.lot, batch.condition) not in planned:
                strange.setdefault((batch.lot, batch.condition), batch)
        for (lot, condition), batch in strange.items():
            yield Hole(
                records=(protocol.id, lot),
                place=batch.place,
                message=f"{protocol.id} has results of lot {lot}, condition {condition}, which its sampling plan "
                "does not name.",
                remedy="Correct the lot or condition in the result file, or record a deviation and add the group to "
                "the sampling plan by a revision.",
            )


@rule("exclusion-without-cause", severity=Severity.BLOCKER)
def exclusion_cause(evidence: Evidence) -> Iterator[Hole]:
    """A specimen that was set aside without a recorded cause.

    Why: a value may only be left out for a cause that was found, never because it looks wrong.
    Source: ASTM E178 (outlying observations); FDA stent guidance, 2010, III.B (outliers and anomalies).
    """
    excluded = evidence.reading.measurements.where(excluded=True).of(cause="")
    found: dict[tuple[str, str], list[str]] = {}
    places: dict[tuple[str, str], Place] = {}
    for (protocol, lot, specimen), place in excluded.rows("protocol", "lot", "specimen"):
        found.setdefault((protocol, lot), []).append(specimen)
        places.setdefault((protocol, lot), place)
    for (protocol, lot), specimens in found.items():
        named = in_order(specimens)
        yield Hole(
            records=(protocol, lot, *named),
            place=places[protocol, lot],
            message=f"{protocol} sets aside {counted(len(named), 'specimen')} of lot {lot} ({listed(named)}) without "
            "a cause.",
            remedy="Write in column cause of the result file what happened and how it was found, or write `no` in "
            "column excluded so that the specimen counts.",
        )


@rule("exclusion-not-investigated", severity=Severity.MAJOR)
def exclusion_uninvestigated(evidence: Evidence) -> Iterator[Hole]:
    """A specimen set aside with a cause, but named by no investigation and no approved deviation.

    Why: a cause written next to a value is a claim; somebody has to have looked and agreed.
    Source: ASTM E178; common practice, no source.
    """
    excluded = evidence.reading.measurements.where(excluded=True)
    found: dict[str, dict[str, Place]] = {}
    for (protocol, specimen, cause), place in excluded.rows("protocol", "specimen", "cause"):
        if cause:
            found.setdefault(protocol, {}).setdefault(specimen, place)
    for id, specimens in found.items():
        covered = _investigated(evidence.protocols[id])
        open_ones = [specimen for specimen in specimens if specimen not in covered]
        if open_ones:
            yield Hole(
                records=(id, *open_ones),
                place=specimens[open_ones[0]],
                message=f"{id} sets aside {counted(len(open_ones), 'specimen')} ({listed(open_ones)}); no "
                f"investigation and no approved deviation names {'it' if len(open_ones) == 1 else 'them'}.",
                remedy=f"Name each under `investigations` of {id} (specimens, cause, conclusion), or under "
                "`specimens` of an approved deviation.",
            )


def _investigated(protocol: Protocol) -> set[str]:
    named = {specimen for investigation in protocol.investigations for specimen in investigation.specimens}
    return named | {specimen for d in protocol.deviations if d.approved_by for specimen in d.specimens}


@rule("retest-without-investigation", severity=Severity.BLOCKER)
def retest(evidence: Evidence) -> Iterator[Hole]:
    """A specimen with one result set aside and another one counted for the same design input, not investigated.

    Why: a second result that replaces a first one is how a failure disappears.
    Source: common practice, no source; public data-integrity guidances (testing into compliance).
    """
    repeated = evidence.reading.measurements.where(missing=False).repeated("protocol", "design_input", *IDENTITY)
    twice = repeated.spread_over("excluded", within=("protocol", "design_input", *IDENTITY))
    found: dict[tuple[str, str], dict[str, Place]] = {}
    for (protocol, design_input, specimen), place in twice.rows("protocol", "design_input", "specimen"):
        found.setdefault((protocol, design_input), {}).setdefault(specimen, place)
    for (id, design_input), specimens in found.items():
        named = {s for investigation in evidence.protocols[id].investigations for s in investigation.specimens}
        open_ones = [specimen for specimen in specimens if specimen not in named]
        if open_ones:
            yield Hole(
                records=(id, design_input, *open_ones),
                place=specimens[open_ones[0]],
                message=f"In {id} the result of {listed(open_ones)} for {design_input} was set aside and another "
                "result of the same specimen is counted.",
                remedy=f"Write under `investigations` of {id} why the first result is invalid, naming the specimen, or "
                "count the first result.",
            )


@rule("repeated-readings-counted", severity=Severity.BLOCKER)
def repeats_counted(evidence: Evidence) -> Iterator[Hole]:
    """An evaluation whose n is larger than its number of different specimens.

    Why: one device is one specimen; further readings of it, or its many struts, say nothing about other devices.
    Source: FDA stent guidance, 2010, IV (one stent is one specimen whatever its symmetry).
    """
    for protocol, record, evaluation in evidence.evaluations():
        values = SpecimenValues.of(evaluation.values)
        different = len(set(values.column("specimen").tolist()))
        if evaluation.n > different:
            # labs number each lot from 1
            named = (values.column(name).tolist() for name in ("lot", "condition", "specimen"))
            different = len(set(zip(*named, strict=True)))
        if evaluation.n > different:
            yield Hole(
                records=(protocol.id, record.id),
                place=evaluation.values[0].place if evaluation.values else protocol.at("results"),
                message=f"{group_text(evaluation.key)} counts {counted(evaluation.n, 'value')}, but they come from "
                f"{counted(different, 'specimen')} only.",
                remedy="Report one value for each device, the one nearest to failing or the one the method prescribes.",
            )


@rule("analysed-count-differs", severity=Severity.BLOCKER)
def analysed(evidence: Evidence) -> Iterator[Hole]:
    """Fewer specimens in the evaluations of a design input than the result files count for it.

    Why: planned, tested and analysed have to reconcile; two devices of different lots may share one id, or a group was
    not judged at all.
    Source: FDA bench performance guidance, 2019 (all data points); common practice, no source.
    """
    counting = evidence.reading.measurements.where(missing=False, excluded=False)
    filed: dict[tuple[str, str], int] = {}
    by_group = counting.count_distinct("specimen", by=("protocol", "design_input", "lot", "condition"))
    for (protocol, design_input, _, _), n in by_group.items():
        filed[protocol, design_input] = filed.get((protocol, design_input), 0) + n
    judged: dict[tuple[str, str], int] = {}
    for protocol_record, record, evaluation in evidence.evaluations():
        key = (protocol_record.id, record.id)
        judged[key] = judged.get(key, 0) + evaluation.n
    for (protocol, design_input), n in filed.items():
        evaluated = judged.get((protocol, design_input), 0)
        if evaluated < n:
            yield Hole(
                records=(protocol, design_input),
                place=evidence.protocols[protocol].at("results"),
                message=f"The result files of {protocol} count {counted(n, 'specimen')} for {design_input}, but "
                f"only {evaluated} {'was' if evaluated == 1 else 'were'} evaluated.",
                remedy="Give every device an id of its own in the result files, also across lots, and check that each "
                "lot and condition stands under sampling.groups of the protocol.",
            )


@rule("several-readings-of-one-specimen", severity=Severity.NOTE)
def repeats(evidence: Evidence) -> Iterator[Hole]:
    """Specimens with more than one counted reading of one characteristic; n counts each device once.

    Why: the reader should know that one reading stands for the device, and which one.
    Source: FDA stent guidance, 2010, IV (several readings per stent, one stent one specimen).
    """
    counting = evidence.reading.measurements.where(missing=False, excluded=False)
    found: dict[tuple[str, str], dict[tuple[str, ...], Place]] = {}
    columns = ("protocol", "design_input", *IDENTITY)
    for (protocol, design_input, *identity), place in counting.repeated(*columns).rows(*columns):
        found.setdefault((protocol, design_input), {}).setdefault(tuple(identity), place)
    for (id, design_input), specimens in found.items():
        yield Hole(
            records=(id, design_input),
            place=next(iter(specimens.values())),
            message=f"{id} has several readings of {counted(len(specimens), 'specimen')} for {design_input} "
            f"({listed(identity[-1] for identity in specimens)}); the one nearest to failing stands for the device.",
            remedy="Nothing needs mending if the readings belong to one device. If they are different devices, give "
            "each its own specimen id.",
        )


def _identity_text(identity: str) -> str:
    lot, condition, specimen = identity.split("/", 2)
    return f"{specimen} (lot {lot}, {condition})"


@rule("specimen-used-twice-in-destructive-test", severity=Severity.BLOCKER)
def destroyed_twice(evidence: Evidence) -> Iterator[Hole]:
    """A specimen with results of a destructive test and results of another protocol at the same time or later.

    Why: a device that was pulled apart cannot be tested again, so two devices share one id or a result is not its own.
    Source: common practice, no source.
    """
    destructive = {p.id for p in evidence.project.protocols if evidence.methods[p.method].destructive}
    tested = evidence.reading.measurements.where(missing=False)
    first_uses: dict[tuple[str, ...], dict[str, tuple[str, Place]]] = {}
    shared = tested.spread_over("protocol", within=IDENTITY)
    for (protocol, day, *names), place in shared.rows("protocol", "tested_on", *IDENTITY):
        first_uses.setdefault(tuple(names), {}).setdefault(protocol, (day, place))
    clashes: dict[tuple[str, str], dict[str, Place]] = {}
    for identity, uses in first_uses.items():
        for destroyer in sorted(destructive & uses.keys()):
            day = uses[destroyer][0]
            for other, (later, place) in uses.items():
                # a harmless test may come first; two destructive ones never agree, and are told once
                twice = other in destructive and other > destroyer
                after = other not in destructive and bool(day) and later > day
                if other != destroyer and (twice or after):
                    clashes.setdefault((destroyer, other), {}).setdefault("/".join(identity), place)
    for (destroyer, other), specimens in clashes.items():
        yield Hole(
            records=(destroyer, other, *(name.rpartition("/")[2] for name in specimens)),
            place=next(iter(specimens.values())),
            message=f"{destroyer} destroys its specimens, but {other} has later results of "
            f"{counted(len(specimens), 'specimen')} with the same id: {listed(map(_identity_text, specimens))}.",
            remedy="Give every device its own id throughout the project, or correct the id or the date in the "
            "result file.",
        )
