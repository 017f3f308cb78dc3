"""Force-displacement records as arrays: parsed in one pass by Arrow, whatever separators and decimal signs they have.

Forces come out in N, displacements in mm, times in s: the parsed number times the exact factor, rounded once more
(at most one unit in the last place of a double; nothing where the record is in N and mm).
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from reportgen.lab.cells import decimal_texts, numbers
from reportgen.lab.grid import FileBytes, decoded
from reportgen.lab.trace_layout import Curve, TraceTable, trace_table
from reportgen.problems import Place, Problem
from reportgen.project.records import TraceFiles
from reportgen.quantities import scale_between

_FIRST_LOOK = 3_000
_SECOND_LOOK = 200_000
_MOST_DECIMALS = 6
_POINTS_LOOKED_AT = 1_000  # for the decimals that a column shows


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


def read_trace(source: FileBytes, declared: TraceFiles) -> TraceReading | Problem:
    """All records of one file, in the order of its columns."""
    place = Place(source.file)
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
    columns = _parsed(data, table, place)
    if isinstance(columns, Problem):
        return columns
    records = []
    for curve in table.curves:
        record = _record(curve, table, columns, place)
        if isinstance(record, Problem):
            return record
        if record is not None:
            records.append(record)
    if not records:
        return _too_short(place, table)
    return TraceReading(tuple(records), (*guesses, *table.guesses))


def _as_bytes(source: FileBytes, declared: TraceFiles) -> tuple[bytes, tuple[str, ...]] | Problem:
    """The file in an encoding whose digits are single bytes: Latin-1 stays, only headings would differ."""
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


def _parsed(data: bytes, table: TraceTable, place: Place) -> dict[int, np.ndarray] | Problem:
    """The columns that are needed, NaN where blank: by Arrow, or line by line where Arrow cannot make sense of one."""
    used = {index for curve in table.curves for index in (curve.displacement, curve.force, curve.time)}
    needed = sorted(index for index in used if index is not None)
    names = [str(index) for index in range(table.width)]
    wanted = [str(index) for index in needed]
    body = pa.py_buffer(data).slice(_offset_of_line(data, table.first))
    try:
        parsed = arrow_csv.read_csv(
            pa.BufferReader(body),
            read_options=arrow_csv.ReadOptions(column_names=names, use_threads=False, block_size=1 << 24),
            parse_options=arrow_csv.ParseOptions(delimiter=table.delimiter),
            convert_options=arrow_csv.ConvertOptions(
                column_types={name: pa.float64() for name in wanted},
                include_columns=wanted,
                decimal_point=table.decimal,
                null_values=[""],
            ),
        )
    except pa.ArrowInvalid:
        return _parsed_line_by_line(data, table, needed, place)
    return {int(name): _array(parsed.column(name)) for name in wanted}


def _array(column: pa.ChunkedArray) -> np.ndarray:
    chunk = column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()
    return np.asarray(chunk.to_numpy(zero_copy_only=False), dtype=np.float64)


def _parsed_line_by_line(
    data: bytes, table: TraceTable, needed: list[int], place: Place
) -> dict[int, np.ndarray] | Problem:
    """For lines of unequal length and remarks below the numbers; says which line is none of either."""
    text = data[_offset_of_line(data, table.first) :].decode("utf-8", errors="replace")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=table.delimiter))
    except csv.Error as error:
        return _unreadable(place, table.first + 1, f"a line that cannot be split into cells ({error})")
    while rows and not _looks_numeric(rows[-1], needed):
        rows.pop()
    columns: dict[int, np.ndarray] = {}
    for index in needed:
        texts = pa.array([row[index].strip() if index < len(row) else "" for row in rows], pa.string())
        comma = np.full(len(rows), table.decimal == ",", dtype=bool)
        values = numbers(decimal_texts(texts, comma))
        wrong = np.flatnonzero(np.isnan(values))
        wrong = wrong[[texts[int(i)].as_py() != "" for i in wrong]] if wrong.size else wrong
        if wrong.size:
            line = int(wrong[0])
            return _unreadable(place, table.first + line + 1, repr(texts[line].as_py()))
        columns[index] = values
    return columns


def _looks_numeric(row: list[str], needed: list[int]) -> bool:
    return any(index < len(row) and any(sign.isdigit() for sign in row[index]) for index in needed)


def _unreadable(place: Place, row: int, found: str) -> Problem:
    return Problem(
        place=Place(place.file, row=row),
        found=found,
        expected="a line of numbers, as in the lines before",
        mend="export the record again, or take the line out of a copy and name the copy",
    )


def _record(curve: Curve, table: TraceTable, columns: dict[int, np.ndarray], place: Place) -> Record | Problem | None:
    """One curve in N, mm and s; None where its columns are blank. A gap inside a record is a fault of the file."""
    displacement, force = columns[curve.displacement], columns[curve.force]
    time = columns[curve.time] if curve.time is not None else None
    # one sum instead of looking at each point: it is finite only when all of them are
    if force.size < 2 or not np.isfinite(displacement.sum() + force.sum()):
        count = _filled_points(displacement, force)
        if isinstance(count, int) and count < 2:
            return None
        if isinstance(count, _Gap):
            return _unreadable(place, table.first + count.index + 1, count.what)
        displacement, force, time = displacement[:count], force[:count], None if time is None else time[:count]
    if time is not None and not np.isfinite(time.sum()):
        time = None
    return Record(
        curve.label,
        _scaled(displacement, table.units[curve.displacement], "mm"),
        _scaled(force, table.units[curve.force], "N"),
        None if time is None or curve.time is None else _scaled(time, table.units[curve.time], "s"),
        Place(place.file, row=table.first + 1),
        _decimals_in_newton(force, table.units[curve.force]),
    )


def _decimals_in_newton(force: np.ndarray, unit: str) -> int:
    """The decimals that the column shows in its own unit, and those that show the same step in N."""
    looked_at = force[:: max(1, force.size // _POINTS_LOOKED_AT)]
    shown = 0
    while shown < _MOST_DECIMALS and np.abs(looked_at - np.round(looked_at, shown)).max() > 1e-9:
        shown += 1
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
    factor = scale_between(from_unit, to_unit)
    return values if factor == 1 else values * float(factor)


def _too_short(place: Place, table: TraceTable) -> Problem:
    return Problem(
        place=Place(place.file, row=table.first + 1),
        found="fewer than two points",
        expected="a record of displacement and force",
        mend="export the record again; take an empty one out of the folder",
    )
