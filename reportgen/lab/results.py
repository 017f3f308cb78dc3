"""Result files to measurements: every file of every protocol, every problem collected.

Two specimens of one name in one protocol stay two rows: whether they are repeated readings of one device or a slip of
the pen is for the audit to ask, and repeated readings never raise n in the acceptance.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from reportgen.both_cores import beside
from reportgen.lab.grid import Shelf
from reportgen.lab.headings import Vocabulary
from reportgen.lab.meaning import measurements_of
from reportgen.lab.records import Guess, Measurements
from reportgen.lab.result_file import FiledResults, FileReading, read_result_file
from reportgen.lab.rows import Block
from reportgen.lab.trace_rows import blocks_from_traces
from reportgen.problems import Place, Problem, UnreadableInput
from reportgen.project.records import Project, Protocol, SourceFile

# below this many files a copy of the process costs more than it saves
_WORTH_A_COPY = 64
_SHARE_HERE = 0.6


@dataclass(slots=True)
class ResultsReading:
    """What came out of the result files: never half an answer, as `problems` says what is not in it."""

    measurements: Measurements
    sources: list[SourceFile] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_results(project: Project) -> Measurements:
    """All measurements of a project's result files. Raises: UnreadableInput with every problem of every file."""
    reading = collect_results(project)
    if reading.problems:
        raise UnreadableInput(reading.problems)
    return reading.measurements


def collect_results(project: Project) -> ResultsReading:
    """As `read_results`, with the fingerprints, and with the problems beside what could be read."""
    blocks: list[Block] = []
    guesses: list[Guess] = []
    problems: list[Problem] = []
    sources: dict[str, SourceFile] = {}
    vocabularies = [Vocabulary(project.design_input(id) for id in p.verifies) for p in project.protocols]
    readings = iter(_read_files(project, vocabularies))
    for protocol, vocabulary in zip(project.protocols, vocabularies, strict=True):
        answered: set[str] = set()
        faultless = True
        for _ in protocol.results:
            found = next(readings)
            if found.source is not None:
                sources[found.source.path] = found.source
            blocks.extend(found.blocks)
            guesses.extend(found.guesses)
            problems.extend(found.problems)
            answered.update(found.answered)
            faultless = faultless and not found.problems
        blocks.extend(blocks_from_traces(project, protocol, vocabulary, guesses=guesses, problems=problems))
        if faultless and protocol.results:
            problems.extend(_unanswered(protocol, vocabulary, answered))
    table, more_guesses, more_problems = measurements_of(project, blocks)
    problems.extend(more_problems)
    return ResultsReading(Measurements(table, (*guesses, *more_guesses)), list(sources.values()), problems)


def _unanswered(protocol: Protocol, vocabulary: Vocabulary, answered: set[str]) -> Iterator[Problem]:
    from_traces = {protocol.traces.design_input} if protocol.traces is not None else set()
    for id in protocol.verifies:
        if id in answered or id in from_traces:
            continue
        record = vocabulary.design_inputs[id]
        name = f"{record.characteristic} [{record.unit}]" if record.unit else record.characteristic
        yield Problem(
            place=Place(protocol.results[0].file, column=name),
            found=f"no column for {record.characteristic!r} ({id}) in the result files of {protocol.id}",
            expected=f"a column headed {name!r}, blank where nothing was measured yet",
            mend="add the column, or name it in layout.columns as "
            f"'{record.characteristic}: <heading in the file>'; or take {id} out of the protocol's 'verifies'",
        )


# ------------------------------------------------------------------------------------------------ all files


def _read_files(project: Project, vocabularies: Sequence[Vocabulary]) -> list[FileReading]:
    """Every result file of every protocol, in order; many are read by a copy of this process as well."""
    shelf = Shelf(project.folder)
    filed = [
        FiledResults(result_file, protocol, vocabulary)
        for protocol, vocabulary in zip(project.protocols, vocabularies, strict=True)
        for result_file in protocol.results
    ]
    if len(filed) < _WORTH_A_COPY:
        return [read_result_file(shelf, one) for one in filed]
    here = round(_SHARE_HERE * len(filed))
    with beside(
        lambda: [read_result_file(shelf, one) for one in filed[here:]],
        pack=_packed,
        unpack=lambda told: _unpacked(told, filed[here:]),
    ) as read_beside:
        return [*(read_result_file(shelf, one) for one in filed[:here]), *read_beside()]


def _packed(readings: list[FileReading]) -> bytes:
    sent = [([block.portable() for block in reading.blocks], replace(reading, blocks=[])) for reading in readings]
    return pickle.dumps(sent, pickle.HIGHEST_PROTOCOL)


def _unpacked(told: bytes, filed: Sequence[FiledResults]) -> list[FileReading]:
    readings = []
    for one, (blocks, reading) in zip(filed, pickle.loads(told), strict=True):
        told_by_plan: dict[str, Any] = {
            "protocol": one.protocol,
            "layout": one.result_file.layout,
            "vocabulary": one.vocabulary,
        }
        readings.append(replace(reading, blocks=[Block(**told_by_plan, **block) for block in blocks]))
    return readings
