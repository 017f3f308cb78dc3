"""Which record belongs to which specimen, and the reduced values put into the table of measurements."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from reportgen.both_cores import shared_out
from reportgen.lab.grid import FileBytes, Shelf
from reportgen.lab.records import Guess, Measurements, Quality, ReducedTrace, TraceRemark
from reportgen.lab.reduce import reduced
from reportgen.lab.rule import Settings, settings_of
from reportgen.lab.specimens import Specimens
from reportgen.lab.trace_files import Job, jobs_of
from reportgen.lab.traces import Record, TraceReading, read_traces
from reportgen.problems import Place, Problem, counted_more, did_you_mean
from reportgen.project.records import Project, Protocol, SourceFile
from reportgen.quantities import convert, to_si, unit
from reportgen.rounding import nearest, parsed

# files read and parsed together
_TOGETHER = 8


@dataclass(slots=True)
class TraceResults:
    """The measurements with the reduced values in place, and what else came of the records.

    `unplaced` are the problems of records whose specimen no result file lists: where a result file could not be read,
    they are its consequence.
    """

    measurements: Measurements
    reduced: list[ReducedTrace] = field(default_factory=list)
    sources: list[SourceFile] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    unplaced: list[Problem] = field(default_factory=list)


@dataclass(slots=True)
class _Outcome:
    job: Job
    source: SourceFile | None = None
    pulls: list[tuple[int, ReducedTrace]] = field(default_factory=list)
    guesses: tuple[str, ...] = ()
    problems: list[Problem] = field(default_factory=list)
    unplaced: list[Problem] = field(default_factory=list)


def collect_traces(project: Project, measurements: Measurements) -> TraceResults:
    """Reads and reduces the records of all protocols. Problems are collected; the table of the input is not changed."""
    results = TraceResults(measurements)
    table = measurements.table
    guesses: list[Guess] = []
    result_files = frozenset(file.file for protocol in project.protocols for file in protocol.results)
    for protocol in project.protocols:
        if protocol.traces is None:
            continue
        settings = _settled(project, protocol, results)
        if settings is None:
            continue
        specimens = Specimens(project, protocol, table)
        jobs = jobs_of(
            project.folder,
            protocol.traces,
            specimens,
            not_records=result_files,
            problems=results.problems,
            unplaced=results.unplaced,
            guesses=guesses,
        )
        outcomes = _reduce_all(project, protocol, settings, specimens, jobs)
        table = _with_values(project, protocol, table, outcomes, results, guesses)
    results.measurements = Measurements(table, (*measurements.guesses, *guesses))
    return results


def _settled(project: Project, protocol: Protocol, results: TraceResults) -> Settings | None:
    assert protocol.traces is not None
    record = project.design_input(protocol.traces.design_input)
    if record.unit is None or unit(record.unit).kind != "force":
        results.problems.append(
            Problem(
                place=protocol.traces.at("design_input"),
                found=f"{record.id}, which is in {record.unit or 'no unit'}",
                expected="a design input in a unit of force: that is what a record is reduced to",
                mend="name the design input of the force, or take 'traces' out of the protocol",
            )
        )
        return None
    settings = settings_of(project.method(protocol.method))
    if isinstance(settings, Problem):
        results.problems.append(settings)
        return None
    return settings


# ------------------------------------------------------------------------------------------------ reading


def _reduce_all(
    project: Project, protocol: Protocol, settings: Settings, specimens: Specimens, jobs: list[Job]
) -> Iterable[_Outcome]:
    """A few files after a few on both cores: only the records being read and thinned ones are held in memory."""
    shelf = Shelf(project.folder)
    batches = [jobs[begin : begin + _TOGETHER] for begin in range(0, len(jobs), _TOGETHER)]
    done = shared_out(lambda batch: _reduce_files(shelf, protocol, settings, specimens, batch), batches)
    return [outcome for batch in done for outcome in batch]


def _reduce_files(
    shelf: Shelf, protocol: Protocol, settings: Settings, specimens: Specimens, jobs: list[Job]
) -> list[_Outcome]:
    assert protocol.traces is not None
    outcomes = [_Outcome(job) for job in jobs]
    sources: list[tuple[_Outcome, FileBytes]] = []
    for outcome in outcomes:
        source = shelf.read(outcome.job.file, named_at=outcome.job.named_at)
        if isinstance(source, Problem):
            outcome.problems.append(source)
        else:
            outcome.source = source.source
            sources.append((outcome, source))
    readings = read_traces([source for _, source in sources], protocol.traces)
    for (outcome, source), reading in zip(sources, readings, strict=True):
        if isinstance(reading, Problem):
            outcome.problems.append(reading)
        else:
            outcome.guesses = reading.guesses
            _reduce_records(reading, outcome, protocol, settings, specimens, sha256=source.source.sha256)
    return outcomes


def _reduce_records(
    reading: TraceReading,
    outcome: _Outcome,
    protocol: Protocol,
    settings: Settings,
    specimens: Specimens,
    *,
    sha256: str,
) -> None:
    for record, position in _assigned(reading, specimens, outcome.job, outcome):
        capacity, resolution = specimens.force_cell(position)
        pull = reduced(
            record,
            settings,
            protocol=protocol.id,
            specimen=specimens.name_at(position),
            sha256=sha256,
            capacity_n=capacity,
            resolution_n=resolution,
        )
        if isinstance(pull, Problem):
            outcome.problems.append(pull)
        else:
            outcome.pulls.append((position, pull))


def _assigned(reading: TraceReading, specimens: Specimens, job: Job, outcome: _Outcome) -> Iterator[tuple[Record, int]]:
    """Each record with the row of its specimen: the file's, or the one that the headings name."""
    if job.position is not None:
        if len(reading.records) == 1:
            yield reading.records[0], job.position
            return
        name = specimens.name_at(job.position)
        of_this = [record for record in reading.records if specimens.named_in(record.label) == name]
        if len(of_this) == 1:
            yield of_this[0], job.position
            return
        outcome.problems.append(_several_records(job, reading, name))
        return
    for record in reading.records:
        name_or_none = specimens.named_in(record.label)
        position = specimens.find(specimen=name_or_none) if name_or_none is not None else None
        if isinstance(position, int):
            yield record, position
            continue
        outcome.unplaced.append(
            Problem(
                place=record.place,
                found=position or f"a record headed {record.label!r}, which names no specimen of the protocol",
                expected="headings (or a line above them) with the specimen ids of the result file",
                mend=did_you_mean(record.label, specimens.names),
            )
        )


def _several_records(job: Job, reading: TraceReading, name: str) -> Problem:
    return Problem(
        place=Place(job.file),
        found=f"{len(reading.records)} records in the file of specimen {name!r}: "
        + ", ".join(repr(record.label) for record in reading.records),
        expected="one displacement and one force, or headings that name the specimen",
        mend="name the columns in the protocol, under traces: columns, as 'force: <heading>'",
    )


# ------------------------------------------------------------------------------------------------ into the table


def _with_values(
    project: Project,
    protocol: Protocol,
    table: pd.DataFrame,
    outcomes: Iterable[_Outcome],
    results: TraceResults,
    guesses: list[Guess],
) -> pd.DataFrame:
    assert protocol.traces is not None
    wanted = project.design_input(protocol.traces.design_input).unit or "N"
    columns = {name: table[name].to_numpy(copy=True) for name in ("value", "value_si", "missing")}
    texts = {
        name: table[name].to_numpy(dtype=object, copy=True)
        for name in ("filed_value", "filed_unit", "censored", "trace")
    }
    first_of: dict[int, str] = {}
    said: dict[str, tuple[Place, int]] = {}
    for outcome in outcomes:
        results.problems.extend(outcome.problems)
        results.unplaced.extend(outcome.unplaced)
        if outcome.source is not None:
            results.sources.append(outcome.source)
        for text in outcome.guesses:
            place, count = said.get(text, (Place(outcome.job.file), 0))
            said[text] = (place, count + 1)
        for position, pull in outcome.pulls:
            if position in first_of:
                results.problems.append(_second_record(pull, outcome.job.file, first_of[position]))
                continue
            first_of[position] = outcome.job.file
            results.reduced.append(_put(pull, position, outcome.job.file, wanted, columns, texts))
    for text, (place, count) in said.items():
        guesses.append(Guess(place, text + (f" (and in {counted_more(count - 1, 'record')})" if count > 1 else "")))
    dtype = table["filed_value"].dtype
    return table.assign(
        **columns, **{name: pd.Series(of, dtype=dtype, index=table.index) for name, of in texts.items()}
    )


def _second_record(pull: ReducedTrace, file: str, first: str) -> Problem:
    return Problem(
        place=pull.trace.place,
        found=f"a second record of specimen {pull.trace.specimen!r}; the first is {first}",
        expected="one record for each specimen",
        mend=f"keep one: move {file} out of the folder, or list the pull as a specimen of its own",
    )


def _put(
    pull: ReducedTrace,
    position: int,
    file: str,
    wanted: str,
    columns: dict[str, np.ndarray],
    texts: dict[str, np.ndarray],
) -> ReducedTrace:
    """The reduced value in its row. A value filed by hand stays as filed beside it, and a difference is remarked."""
    force = pull.reduction.force_n
    filed, filed_unit = str(texts["filed_value"][position]), str(texts["filed_unit"][position])
    remark = None
    if filed and not columns["missing"][position] and not np.isnan(columns["value"][position]):
        remark = _difference(pull, filed, filed_unit, float(columns["value_si"][position]))
    else:
        shown = parsed(nearest(force, pull.force_decimals))
        texts["filed_value"][position], texts["filed_unit"][position] = f"{shown:f}", "N"
    columns["value"][position] = convert(force, from_unit="N", to_unit=wanted)
    columns["value_si"][position] = to_si(force, "N")
    columns["missing"][position] = False
    texts["trace"][position] = file
    if not pull.reduction.dropped:
        texts["censored"][position] = "above"
    if remark is None:
        return pull
    return replace(pull, remarks=(*pull.remarks, remark))


def _difference(pull: ReducedTrace, filed: str, filed_unit: str, filed_n: float) -> TraceRemark | None:
    """A filed value may differ from the reduced one by half a unit of its last digit, and no more."""
    digits = re.search(r"\d[.,](\d+)", filed)
    half = convert(0.5 * 10.0 ** -len(digits[1]) if digits else 0.5, from_unit=filed_unit, to_unit="N")
    difference = pull.reduction.force_n - filed_n
    if abs(difference) <= half * (1 + 1e-9):
        return None
    return TraceRemark(
        kind=Quality.FILED_DIFFERS,
        number=difference,
        unit="N",
        message=f"{filed} {filed_unit} was filed by hand, the record gives {pull.reduction.force_n:.6g} N by the "
        "method's rule; the record's value is used",
        place=pull.trace.place,
    )
