"""CSV and XLSX files of other programs: any names, any sheet, any heading row."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Sequence

from reportgen.formula_guard import unguarded
from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.foreign import ForeignRow, ForeignTable, plain_name
from reportgen.project.import_mapping import Declared, RegisterMapping
from reportgen.project.sheets import read_sheet
from reportgen.project.tables import Grid, csv_lines
from reportgen.project.texts import decode

_DELIMITERS = (",", ";", "\t", "|")


def read_foreign_csv(
    data: bytes, *, file: str, declared: Declared, register: str
) -> tuple[ForeignTable | None, list[Problem]]:
    """The rows below the heading row. Without a declared delimiter, the one that finds most of the mapped names."""
    mapping = declared.mapping
    text = _text(data, file=file, declared=declared)
    if isinstance(text, Problem):
        return None, [text]
    one = mapping.registers()[register]
    delimiter = mapping.delimiter or _delimiter(text, one)
    if len(delimiter) != 1:
        return None, [
            Problem(
                place=declared.place("delimiter"),
                found=repr(delimiter),
                expected="one sign, such as ';'",
                mend="write the sign that stands between the cells, in quotation marks",
            )
        ]
    grid = csv_lines(text, file=file, delimiter=delimiter)
    if isinstance(grid, Problem):
        return None, [grid]
    if mapping.formula_guard:
        lines = tuple((number, [unguarded(cell) for cell in cells]) for number, cells in grid.lines)
        grid = Grid(None, lines)
    return _table(grid, file=file, declared=declared, register=register)


def read_foreign_xlsx(
    data: bytes, *, file: str, declared: Declared, register: str
) -> tuple[ForeignTable | None, list[Problem]]:
    """The rows of the declared sheet; of the first sheet that is not hidden when none is declared."""
    one = declared.mapping.registers()[register]
    sheet = read_sheet(data, file=file, name=one.sheet or register, only=one.sheet is not None)
    if isinstance(sheet, Problem):
        return None, [sheet]
    table, problems = _table(sheet.grid, file=file, declared=declared, register=register)
    if table is not None:
        wanted = wanted_names(one)
        headings = [plain_name(heading) for heading in _heading(sheet.grid, one)]
        kept = [heading if heading in wanted else "" for heading in headings]
        faults = sheet.faults(kept, heading_row=one.heading_row, place=table.place)
        problems.extend(fault for fault in faults if fault.place.column in wanted)
        table = ForeignTable(table.place, table.names, table.rows, tells_decimals=False)
    return table, problems


def wanted_names(mapping: RegisterMapping) -> dict[str, tuple[str, ...]]:
    """Each name of theirs that a mapping uses, with its path in the mapping file."""
    named: dict[str, tuple[str, ...]] = {}
    for field, name in mapping.columns.items():
        named.setdefault(plain_name(name), ("columns", field))
    if mapping.limits is not None:
        named.setdefault(plain_name(mapping.limits), ("limits",))
    for name in mapping.only:
        named.setdefault(plain_name(name), ("only", name))
    return named


def unknown_names(declared: Declared, register: str, names: Sequence[str], *, where: str) -> list[Problem]:
    """Mapped names that the file does not have."""
    return [
        Problem(
            place=declared.place(register, *path),
            found=f"{name!r}, which {where} does not have",
            expected="one of " + ", ".join(repr(known) for known in names[:40]),
            mend=did_you_mean(name, names),
        )
        for name, path in wanted_names(declared.mapping.registers()[register]).items()
        if name not in names
    ]


def _text(data: bytes, *, file: str, declared: Declared) -> str | Problem:
    encoding = declared.mapping.encoding
    if encoding is None:
        return decode(data, file=file)
    try:
        codecs.lookup(encoding)
        return data.decode(encoding).removeprefix("\ufeff")
    except LookupError:
        return Problem(
            place=declared.place("encoding"),
            found=repr(encoding),
            expected="the name of an encoding, such as utf-8, cp1252 or shift_jis",
            mend="correct the name, or delete the line if the file is UTF-8",
        )
    except UnicodeError as error:
        start = getattr(error, "start", 0)
        return Problem(
            place=Place(file, row=data.count(b"\n", 0, start) + 1),
            found=f"byte {data[start]:#04x}, which is no {encoding}",
            expected=f"text in {encoding}, as the mapping declares",
            mend="declare the encoding that the file has, or save the file as UTF-8",
        )


def _delimiter(text: str, mapping: RegisterMapping) -> str:
    wanted = wanted_names(mapping)

    def found(delimiter: str) -> tuple[int, int]:
        heading: list[str] = []
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        for number, cells in enumerate(reader, start=1):
            if number == mapping.heading_row:
                heading = cells
                break
        # where the heading row tells nothing, the commonest sign lets that be told rather than a wrong one
        return sum(plain_name(cell) in wanted for cell in heading), text.count(delimiter)

    try:
        return max(_DELIMITERS, key=found)
    except csv.Error:
        return ","


def _heading(grid: Grid, mapping: RegisterMapping) -> Sequence[str]:
    return next((cells for number, cells in grid.lines if number == mapping.heading_row), ())


def _table(grid: Grid, *, file: str, declared: Declared, register: str) -> tuple[ForeignTable | None, list[Problem]]:
    one = declared.mapping.registers()[register]
    headings = [plain_name(cell) for cell in _heading(grid, one)]
    place = Place(file, row=one.heading_row, sheet=grid.sheet)
    if not any(headings):
        nothing = Problem(
            place=place,
            found="nothing in this row",
            expected="the headings of the table",
            mend=f"declare the row that holds them as 'heading_row' of {register} in the mapping file",
        )
        return None, [nothing]
    wanted = wanted_names(one)
    problems = [
        Problem(
            place=Place(file, row=one.heading_row, column=name, sheet=grid.sheet),
            found=f"the heading {name!r} more than once",
            expected="one column of that name, since the mapping uses it",
            mend="rename one of the columns in the file",
        )
        for name in wanted
        if headings.count(name) > 1
    ]
    known = tuple(dict.fromkeys(heading for heading in headings if heading))
    problems.extend(unknown_names(declared, register, known, where=f"row {one.heading_row} of {place.file}"))
    if problems:
        return None, problems
    rows = tuple(
        ForeignRow(Place(file, row=number, sheet=grid.sheet), _cells(headings, cells))
        for number, cells in grid.lines
        if number > one.heading_row and any(cell.strip() for cell in cells)
    )
    return ForeignTable(Place(file, sheet=grid.sheet), known, rows), []


def _cells(headings: Sequence[str], cells: Sequence[str]) -> dict[str, tuple[str, ...]]:
    pairs = zip(headings, cells, strict=False)
    return {heading: (cell.strip(),) for heading, cell in pairs if heading and cell.strip()}
