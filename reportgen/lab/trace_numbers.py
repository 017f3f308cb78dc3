"""The lines of numbers of records as arrays: by Arrow in one pass, files of one layout together.

Setting up a parser costs as much as a quarter of parsing a record of five thousand points, so several records of one
layout are handed over as one text, a line that no record can hold between each two of them.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.csv as arrow_csv

from reportgen.lab.cells import decimal_texts, numbers
from reportgen.problems import Place, Problem

Columns = dict[int, np.ndarray]

_LINES_LOOKED_AT = 8
_FRACTION = {
    sign: re.compile(rb' *"?[-+]?\d*' + re.escape(sign).encode() + rb"(\d*)(?:[eE]([+-]?\d{1,3}))?") for sign in ".,"
}


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """The lines of numbers of one file: `data` from `offset` on.

    `row` is the row of the first line, `needed` the indices of the columns wanted.
    """

    place: Place
    data: bytes
    offset: int
    row: int
    delimiter: str
    decimal: str
    width: int
    needed: tuple[int, ...]

    @property
    def lines(self) -> memoryview:
        return memoryview(self.data)[self.offset :]

    @property
    def layout(self) -> tuple[str, str, int, tuple[int, ...]]:
        return self.delimiter, self.decimal, self.width, self.needed


def parsed(bodies: Sequence[Body]) -> list[Columns | Problem]:
    """The needed columns of each, NaN where blank; line by line where Arrow cannot make sense of one."""
    outcomes: dict[int, Columns | Problem] = {}
    alike: dict[tuple[str, str, int, tuple[int, ...]], list[int]] = {}
    for position, body in enumerate(bodies):
        alike.setdefault(body.layout, []).append(position)
    for positions in alike.values():
        together = [bodies[position] for position in positions]
        columns = _together(together) if len(together) > 1 else None
        outcomes.update(zip(positions, columns or map(_alone, together), strict=True))
    return [outcomes[position] for position in range(len(bodies))]


def _alone(body: Body) -> Columns | Problem:
    columns = _by_arrow(body.lines, body)
    return columns if columns is not None else _line_by_line(body)


def _together(bodies: list[Body]) -> list[Columns] | None:
    """None where a file has lines of another kind, or numbers that are not finite: then each is read by itself."""
    first = bodies[0]
    between = first.delimiter.join(["-inf"] * first.width).encode() + b"\n"
    pieces: list[memoryview | bytes] = []
    for body in bodies:
        pieces += [body.lines, between if body.data.endswith(b"\n") else b"\n" + between]
    columns = _by_arrow(b"".join(pieces), first)
    if columns is None:
        return None
    ends = (columns[first.needed[0]] == -np.inf).nonzero()[0].tolist()
    if len(ends) != len(bodies):
        return None
    starts = [0, *(end + 1 for end in ends)]
    return [
        {index: column[start:end] for index, column in columns.items()}
        for start, end in zip(starts, ends, strict=False)
    ]


def _by_arrow(lines: bytes | memoryview, body: Body) -> Columns | None:
    wanted = [str(index) for index in body.needed]
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(lines),
            read_options=arrow_csv.ReadOptions(
                column_names=[str(index) for index in range(body.width)], use_threads=False, block_size=1 << 24
            ),
            parse_options=arrow_csv.ParseOptions(delimiter=body.delimiter),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(wanted, pa.float64()),
                include_columns=wanted,
                decimal_point=body.decimal,
                null_values=[""],
            ),
        )
    except pa.ArrowInvalid:
        return None
    return {index: _array(table.column(name)) for index, name in zip(body.needed, wanted, strict=True)}


def _array(column: pa.ChunkedArray) -> np.ndarray:
    chunk = column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()
    return np.asarray(chunk.to_numpy(zero_copy_only=False), dtype=np.float64)


def _line_by_line(body: Body) -> Columns | Problem:
    """For lines of unequal length and remarks below the numbers; says which line is none of either."""
    text = bytes(body.lines).decode("utf-8", errors="replace")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=body.delimiter))
    except csv.Error as error:
        return unreadable(body.place, body.row, f"a line that cannot be split into cells ({error})")
    while rows and not _looks_numeric(rows[-1], body.needed):
        rows.pop()
    columns: Columns = {}
    for index in body.needed:
        texts = pa.array([row[index].strip() if index < len(row) else "" for row in rows], pa.string())
        comma = np.full(len(rows), body.decimal == ",", dtype=bool)
        values = numbers(decimal_texts(texts, comma))
        wrong = np.flatnonzero(np.isnan(values))
        wrong = wrong[[texts[int(i)].as_py() != "" for i in wrong]] if wrong.size else wrong
        if wrong.size:
            line = int(wrong[0])
            return unreadable(body.place, body.row + line, repr(texts[line].as_py()))
        columns[index] = values
    return columns


def _looks_numeric(row: list[str], needed: Sequence[int]) -> bool:
    return any(index < len(row) and any(sign.isdigit() for sign in row[index]) for index in needed)


def decimals_shown(body: Body, index: int) -> int:
    """The most decimals that a column shows in lines spread over the record: as finely as the machine writes."""
    length, most = len(body.data) - body.offset, 0
    pattern, delimiter = _FRACTION[body.decimal], body.delimiter.encode()
    for share in range(_LINES_LOOKED_AT):
        begin = body.offset + length * share // _LINES_LOOKED_AT
        if share:
            begin = body.data.find(b"\n", begin) + 1
        end = body.data.find(b"\n", begin)
        cells = body.data[begin : end if end >= 0 else None].split(delimiter)
        fraction = pattern.match(cells[index]) if index < len(cells) else None
        if fraction is not None:
            most = max(most, len(fraction[1]) - int(fraction[2] or 0))
    return most


def unreadable(place: Place, row: int, found: str) -> Problem:
    return Problem(
        place=Place(place.file, row=row),
        found=found,
        expected="a line of numbers, as in the lines before",
        mend="export the record again; or take the line out of a copy, keep the original, and use the copy",
    )
