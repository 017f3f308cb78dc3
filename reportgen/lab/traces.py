"""Force-displacement records as arrays, whatever separators, decimal signs and encodings their files have.

Forces come out in N, displacements in mm, times in s: the parsed number times the exact factor, rounded once more
(at most one unit in the last place of a double; nothing where the record is in N and mm).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from reportgen.lab.grid import SHEET_SUFFIXES, FileBytes, decoded
from reportgen.lab.trace_layout import Curve, TraceTable, first_numbers, trace_table
from reportgen.lab.trace_numbers import Body, Columns, decimals_shown, parsed, unreadable
from reportgen.lab.workbook import hidden_faults, read_sheets
from reportgen.problems import Place, Problem
from reportgen.project.records import TraceFiles
from reportgen.quantities import scale_between

_FIRST_LOOK = 2_000
_SECOND_LOOK = 200_000
_MOST_DECIMALS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """One specimen's record as filed. `label` is what the file calls it, '' where it holds one specimen only.

    force_decimals: decimals in N that show about what the file's own force column shows.
    """

    label: str
    displacement_mm: np.ndarray
    force_n: np.ndarray
    time_s: np.ndarray | None
    place: Place
    force_decimals: int = _MOST_DECIMALS


@dataclass(frozen=True, slots=True, eq=False)
class TraceReading:
    records: tuple[Record, ...]
    guesses: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Sniffed:
    """A file whose layout is known, before its numbers are parsed."""

    body: Body
    table: TraceTable
    guesses: tuple[str, ...]


def read_trace(source: FileBytes, declared: TraceFiles) -> TraceReading | Problem:
    """All records of one file, in the order of its columns."""
    return read_traces((source,), declared)[0]


def read_traces(sources: Sequence[FileBytes], declared: TraceFiles) -> list[TraceReading | Problem]:
    """The records of several files, in their order; their numbers are parsed together, which is quicker."""
    looked_at = [_sniffed(source, declared) for source in sources]
    columns = iter(parsed([each.body for each in looked_at if isinstance(each, _Sniffed)]))
    return [_reading(each, next(columns)) if isinstance(each, _Sniffed) else each for each in looked_at]


def _sniffed(source: FileBytes, declared: TraceFiles) -> _Sniffed | Problem:
    place = Place(source.file)
    if source.suffix in SHEET_SUFFIXES:  # whose cells are apart already
        declared = declared.model_copy(update={"delimiter": "\t"})
    outcome = _as_bytes(source, declared)
    if isinstance(outcome, Problem):
        return outcome
    data, guesses = outcome
    table: TraceTable | Problem = Problem(place=place, found="", expected="", mend="")
    for size in (_FIRST_LOOK, _SECOND_LOOK):
        lines = _first_lines(data, size)
        table = trace_table(lines, declared, place=place)
        if isinstance(table, TraceTable) or size >= len(data):
            break
    if isinstance(table, Problem):
        return table
    used = {index for curve in table.curves for index in (curve.displacement, curve.force, curve.time)}
    body = Body(
        place=place,
        data=data,
        offset=_offset_of_line(data, table.first),
        row=table.first + 1,
        delimiter=table.delimiter,
        decimal=table.decimal,
        width=table.width,
        needed=tuple(sorted(index for index in used if index is not None)),
    )
    return _Sniffed(body, table, (*guesses, *table.guesses))


def _reading(file: _Sniffed, columns: Columns | Problem) -> TraceReading | Problem:
    if isinstance(columns, Problem):
        return columns
    records = []
    for curve in file.table.curves:
        record = _record(curve, file, columns)
        if isinstance(record, Problem):
            return record
        if record is not None:
            records.append(record)
    return TraceReading(tuple(records), file.guesses) if records else _too_short(file.body)


def _as_bytes(source: FileBytes, declared: TraceFiles) -> tuple[bytes, tuple[str, ...]] | Problem:
    """The file in an encoding whose digits are single bytes: Latin-1 stays, only headings would differ."""
    if source.suffix in SHEET_SUFFIXES:
        return _sheet_as_bytes(source, declared)
    data = source.data
    guesses: tuple[str, ...] = ()
    if declared.encoding is not None or data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in data[:100]:
        text = decoded(source, declared.encoding)
        if isinstance(text, Problem):
            return text
        data = text[0].encode("utf-8")
        guesses = (f"encoding {text[1]}",) if text[1] is not None else ()
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    return data, guesses


def _sheet_as_bytes(source: FileBytes, declared: TraceFiles) -> tuple[bytes, tuple[str, ...]] | Problem:
    """A sheet as lines with tabs: each number as the shortest decimal that names what the workbook holds."""
    grids, problems = read_sheets(source, declared.sheet)
    if problems:
        return problems[0]
    texts = {grid.sheet: "".join("\t".join(map(_one_line, row)) + "\n" for row in grid.rows) for grid in grids}
    with_numbers = [name for name, text in texts.items() if first_numbers(text.splitlines(), declared) is not None]
    chosen = declared.sheet or (with_numbers[0] if with_numbers else grids[0].sheet if grids else "")
    hidden = hidden_faults(source, chosen) if chosen in texts else []
    if hidden:
        return hidden[0]
    others = ", ".join(repr(name) for name in with_numbers if name != chosen)
    guesses = (f"sheet {chosen!r} read, not {others}",) if others and declared.sheet is None else ()
    return texts.get(chosen, "").encode("utf-8"), guesses


def _one_line(cell: str) -> str:
    return " ".join(cell.split())


def _first_lines(data: bytes, size: int) -> list[str]:
    head = data[:size]
    if len(data) > size:
        head = head[: head.rfind(b"\n") + 1] or head
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError:
        text = head.decode("cp1252", errors="replace")
    return [line.rstrip("\r") for line in text.split("\n")]


def _offset_of_line(data: bytes, line: int) -> int:
    position = 0
    for _ in range(line):
        position = data.find(b"\n", position) + 1
    return position


def _record(curve: Curve, file: _Sniffed, columns: Columns) -> Record | Problem | None:
    """One curve in N, mm and s; None where its columns are blank. A gap inside a record is a fault of the file."""
    displacement, force = columns[curve.displacement], columns[curve.force]
    time = columns[curve.time] if curve.time is not None else None
    # one sum instead of looking at each point: it is finite only when all of them are
    if force.size < 2 or not math.isfinite(displacement.sum() + force.sum()):
        count = _filled_points(displacement, force)
        if isinstance(count, int) and count < 2:
            return None
        if isinstance(count, _Gap):
            return unreadable(file.body.place, file.body.row + count.index, count.what)
        displacement, force, time = displacement[:count], force[:count], None if time is None else time[:count]
    if time is not None and not math.isfinite(time.sum()):
        time = None
    units = file.table.units
    return Record(
        curve.label,
        _scaled(displacement, units[curve.displacement], "mm"),
        _scaled(force, units[curve.force], "N"),
        None if time is None or curve.time is None else _scaled(time, units[curve.time], "s"),
        Place(file.body.place.file, row=file.body.row),
        _decimals_in_newton(decimals_shown(file.body, curve.force), units[curve.force]),
    )


@lru_cache(maxsize=64)
def _decimals_in_newton(shown: int, unit: str) -> int:
    """The decimals that show the step of a column in N, when it shows so many in its own unit."""
    step, decimals = scale_between(unit, "N") / 10**shown, 0
    while step < 1 and decimals < _MOST_DECIMALS:
        step *= 10
        decimals += 1
    return decimals


@dataclass(frozen=True, slots=True)
class _Gap:
    index: int
    what: str


def _filled_points(displacement: np.ndarray, force: np.ndarray) -> int | _Gap:
    """How many points the record has when blanks follow it (a shorter record side by side); a gap is a fault."""
    infinite = np.isinf(displacement) | np.isinf(force)
    if infinite.any():
        return _Gap(int(infinite.argmax()), "a number that is not finite")
    filled = ~(np.isnan(displacement) | np.isnan(force))
    count = int(np.count_nonzero(filled))
    if count and not filled[:count].all():
        return _Gap(int((~filled).argmax()), "no number in the middle of a record")
    return count


def _scaled(values: np.ndarray, from_unit: str, to_unit: str) -> np.ndarray:
    factor = _factor(from_unit, to_unit)
    return values if factor == 1 else values * factor


@lru_cache(maxsize=64)
def _factor(from_unit: str, to_unit: str) -> float:
    return float(scale_between(from_unit, to_unit))


def _too_short(body: Body) -> Problem:
    return Problem(
        place=Place(body.place.file, row=body.row),
        found="fewer than two points",
        expected="a record of displacement and force",
        mend="export the record again; take an empty one out of the folder",
    )
