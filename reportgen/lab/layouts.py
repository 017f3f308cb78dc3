"""Where things stand in a result file: the heading row, the columns, the units, the decimal sign.

What the protocol declares is followed to the letter, and it is a problem when the file does not answer to it. What it
leaves out is guessed, and every guess that goes beyond the plain layout is said aloud.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from reportgen.lab.conventions import checked_unit
from reportgen.lab.grid import Grid
from reportgen.lab.headings import COLUMN_NAMES, LONG_COLUMNS, Vocabulary, heading, is_unit, plain
from reportgen.lab.records import Guess
from reportgen.problems import Place, Problem, did_you_mean
from reportgen.project.records import Kind, Layout
from reportgen.quantities import same_kind

# a heading below this row is not looked for: header blocks of machines are shorter (common practice, no source)
_SEARCHED_ROWS = 100
_NAME_COLUMNS = "name it in the protocol, under layout of this file: columns, as"
# a row with so many known headings and no other cell is the heading row: no later one is looked at
_SURE = 3
# a column of the tool's own data-collection workbook that is there for people
_IGNORED = frozenset({"test order"})


@dataclass(slots=True)
class ValueColumn:
    """A column of readings of one characteristic (wide shape). `unit` is as filed; '' for attributes."""

    design_input: str
    index: int
    heading: str
    unit: str


@dataclass(slots=True)
class Located:
    """A table found in a grid. `columns` maps our columns to indices; `first` is the index of the first data row."""

    header: int
    first: int
    width: int
    shape: str = "wide"
    columns: dict[str, int] = field(default_factory=dict)
    values: list[ValueColumn] = field(default_factory=list)
    long_unit: str | None = None
    guesses: list[Guess] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def header_index(grid: Grid, layout: Layout, vocabulary: Vocabulary) -> tuple[int, int]:
    """The row that is most likely the heading row, and how many headings were recognised in it."""
    rows = grid.rows
    if layout.skip_rows is not None:
        declared = next((i for i in range(layout.skip_rows, len(rows)) if any(map(str.strip, rows[i]))), -1)
        return declared, (_recognised(rows[declared], layout, vocabulary) if declared >= 0 else 0)
    best, most = -1, 0
    for index, row in enumerate(rows[:_SEARCHED_ROWS]):
        known = _recognised(row, layout, vocabulary)
        if known > most:
            best, most = index, known
            if known >= _SURE and known >= sum(map(bool, row)):
                break
    return best, most


def _recognised(row: Sequence[str], layout: Layout, vocabulary: Vocabulary) -> int:
    named = {plain(name) for name in layout.columns.values()}
    # a title such as "Sample report" names one column by chance; the declared headings count double
    return vocabulary.recognised(row) + 2 * sum(1 for cell in row if cell and plain(cell) in named)


def locate(grid: Grid, layout: Layout, vocabulary: Vocabulary) -> Located:
    """Finds the table of a result file. Everything that is wrong with it is in `problems` of the answer."""
    header, known = header_index(grid, layout, vocabulary)
    located = Located(header=header, first=header + 1, width=0)
    if header < 0 or known == 0:
        located.problems.append(_no_header(grid, layout, vocabulary))
        return located
    cells = [cell.strip() for cell in grid.rows[header]]
    located.width = len(cells)
    if layout.skip_rows is None and grid.numbers[header] > 1:
        located.guesses.append(Guess(grid.place(header), f"row {grid.numbers[header]} taken for the heading row"))
    _name_columns(grid, layout, vocabulary, located, cells)
    _settle_shape(grid, layout, located)
    _take_unit_row(grid, layout, located)
    if located.shape == "wide":
        _guess_by_unit(grid, vocabulary, located, cells)
        _settle_units(grid, layout, vocabulary, located)
    else:
        located.values.clear()
    if "specimen" not in located.columns and "specimen" not in layout.constants:
        located.problems.append(_no_specimen_column(grid, located, cells))
    _tell_unused(grid, located, cells)
    return located


def _no_header(grid: Grid, layout: Layout, vocabulary: Vocabulary) -> Problem:
    first = next((row for row in grid.rows if any(cell.strip() for cell in row)), [])
    shown = ", ".join(repr(cell.strip()[:40]) for cell in first[:8] if cell.strip())
    wanted = ", ".join(repr(name) for name in ("specimen", "lot", *vocabulary.characteristics))
    where = f"row {layout.skip_rows + 1}" if layout.skip_rows is not None else f"the first {_SEARCHED_ROWS} rows"
    return Problem(
        place=Place(grid.file, sheet=grid.sheet or None),
        found=f"no heading row in {where}; "
        + (f"the first filled row reads {shown}" if shown else "every row is empty"),
        expected=f"a row with headings such as {wanted}",
        mend=f"{_NAME_COLUMNS} 'specimen: <heading in the file>', and so on",
    )


def _no_specimen_column(grid: Grid, located: Located, cells: Sequence[str]) -> Problem:
    return Problem(
        place=grid.place(located.header, "specimen"),
        found="headings " + ", ".join(repr(cell) for cell in cells if cell),
        expected="a column with the specimen ids, headed 'specimen'",
        mend=f"{_NAME_COLUMNS} 'specimen: <heading in the file>'",
    )


def _name_columns(grid: Grid, layout: Layout, vocabulary: Vocabulary, located: Located, cells: Sequence[str]) -> None:
    located.problems.extend(_unknown_declarations(layout, vocabulary))
    declared = _declared_columns(grid, layout, vocabulary, located, cells)
    for index, cell in enumerate(cells):
        if not cell or index in declared:
            continue
        design_input = vocabulary.design_input(cell)
        if design_input is not None and design_input not in declared.values():
            _add_value(grid, located, design_input, index, cell)
            continue
        column = vocabulary.column(cell)
        if column is None or column in layout.columns or column in layout.constants:
            continue
        if column in located.columns:
            # the plain heading wins over a likely one: `specimen` beside `serial number`
            if plain(cell) != plain(column):
                continue
            if plain(cells[located.columns[column]]) == plain(column):
                located.problems.append(_twice(grid, located.header, cell))
                continue
        located.columns[column] = index
    for column, index in located.columns.items():
        if index not in declared and plain(cells[index]) != plain(column):
            place = grid.place(located.header, cells[index])
            located.guesses.append(Guess(place, f"heading {cells[index]!r} taken for the column '{column}'"))


def _unknown_declarations(layout: Layout, vocabulary: Vocabulary) -> Iterator[Problem]:
    """Names on the left of a declaration that mean nothing here: a slip there must not pass for a declaration."""
    for key, names, columns in (
        ("columns", layout.columns, tuple(COLUMN_NAMES)),
        ("constants", layout.constants, tuple(COLUMN_NAMES)),
        ("units", layout.units, ("value",)),
    ):
        for name in names:
            if name not in columns and vocabulary.design_input(name) is None:
                yield Problem(
                    place=layout.at(key),
                    found=f"the name {name!r}, which means nothing here",
                    expected=f"a column such as {', '.join(columns[:3])}, or a characteristic of the protocol",
                    mend=did_you_mean(name, [*columns, *vocabulary.characteristics]),
                )


def _declared_columns(
    grid: Grid, layout: Layout, vocabulary: Vocabulary, located: Located, cells: Sequence[str]
) -> dict[int, str]:
    """Follows layout.columns: index of the column -> our name for it."""
    where = {plain(cell): index for index, cell in reversed(list(enumerate(cells))) if cell}
    exact = {cell: index for index, cell in reversed(list(enumerate(cells))) if cell}
    declared: dict[int, str] = {}
    for ours, theirs in layout.columns.items():
        design_input = vocabulary.design_input(ours)
        if design_input is None and ours not in COLUMN_NAMES:
            continue
        index = exact.get(theirs.strip(), where.get(plain(theirs)))
        if index is None:
            located.problems.append(
                Problem(
                    place=grid.place(located.header, theirs),
                    found="headings " + ", ".join(repr(cell) for cell in cells if cell),
                    expected=f"the heading {theirs!r}, which the layout declares for {ours!r}",
                    mend=did_you_mean(theirs, [cell for cell in cells if cell]),
                )
            )
            continue
        declared[index] = design_input or ours
        if design_input is not None:
            _add_value(grid, located, design_input, index, cells[index])
        else:
            located.columns[ours] = index
    return declared


def _add_value(grid: Grid, located: Located, design_input: str, index: int, cell: str) -> None:
    if any(column.design_input == design_input for column in located.values):
        located.problems.append(_twice(grid, located.header, cell))
        return
    located.values.append(ValueColumn(design_input, index, cell, ""))


def _twice(grid: Grid, header: int, cell: str) -> Problem:
    return Problem(
        place=grid.place(header, cell),
        found=f"a second column that means the same as {cell!r}",
        expected="one column for each thing recorded",
        mend="rename or remove one, or name the right one in layout.columns",
    )


def _settle_shape(grid: Grid, layout: Layout, located: Located) -> None:
    looks_long = "characteristic" in located.columns or "characteristic" in layout.constants
    looks_long = looks_long and "value" in located.columns
    if layout.shape is not None:
        located.shape = layout.shape
    elif looks_long and not located.values:
        located.shape = "long"
    if located.shape == "wide":
        for name in LONG_COLUMNS:
            located.columns.pop(name, None)
        return
    for name in ("characteristic", "value"):
        if name not in located.columns and name not in layout.constants:
            located.problems.append(
                Problem(
                    place=grid.place(located.header, name),
                    found=f"a table in long shape without a column '{name}'",
                    expected="columns 'characteristic' and 'value', one reading a row",
                    mend=f"{_NAME_COLUMNS} '{name}: <heading in the file>'",
                )
            )
    if "value" in located.columns:
        located.long_unit = heading(grid.rows[located.header][located.columns["value"]].strip()).unit


def _take_unit_row(grid: Grid, layout: Layout, located: Located) -> None:
    """A row of units under the headings, such as `(mm)  (N)`: declared, or recognised by its look."""
    index = located.header + 1
    if layout.unit_row is False or index >= len(grid.rows):
        return
    row = [cell.strip() for cell in grid.rows[index]]
    # "1" and "-" spell units too, but in a cell of their own they are data
    units = {i for i, cell in enumerate(row) if (bare := cell.strip("[]() ")) not in ("", "1", "-") and is_unit(bare)}
    specimen = located.columns.get("specimen")
    looks = any(is_value in units for is_value in _value_indices(located)) and (
        specimen is None or specimen >= len(row) or row[specimen] in ("", "-", "–")
    )
    if not (layout.unit_row or looks):
        return
    located.first = index + 1
    if layout.unit_row is None:
        located.guesses.append(Guess(grid.place(index), f"row {grid.numbers[index]} taken for a row of units"))
    for column in located.values:
        if column.index < len(row) and row[column.index]:
            column.unit = row[column.index].strip("[]() ")
    value = located.columns.get("value")
    if value is not None and value < len(row) and row[value]:
        located.long_unit = row[value].strip("[]() ")


def _value_indices(located: Located) -> list[int]:
    indices = [column.index for column in located.values]
    return [*indices, located.columns["value"]] if "value" in located.columns else indices


def _guess_by_unit(grid: Grid, vocabulary: Vocabulary, located: Located, cells: Sequence[str]) -> None:
    """The one unclaimed column in a unit of the right kind is taken for the one characteristic that is missing."""
    claimed = {column.design_input for column in located.values}
    taken = {*located.columns.values(), *(column.index for column in located.values)}
    open_inputs = [
        record for record in vocabulary.design_inputs.values()
        if record.id not in claimed and record.kind is Kind.VARIABLE and record.unit
    ]  # fmt: skip
    for record in open_inputs:
        assert record.unit is not None
        rivals = [other for other in open_inputs if other.unit and same_kind(other.unit, record.unit)]
        fitting = [
            index for index, cell in enumerate(cells)
            if index not in taken and (filed := heading(cell).unit) and is_unit(filed) and same_kind(filed, record.unit)
        ]  # fmt: skip
        if len(rivals) == 1 and len(fitting) == 1:
            index = fitting[0]
            located.values.append(ValueColumn(record.id, index, cells[index], ""))
            taken.add(index)
            what = f"column {cells[index]!r} taken for {record.characteristic!r}: the one column in such a unit"
            located.guesses.append(Guess(grid.place(located.header, cells[index]), what))


def _settle_units(grid: Grid, layout: Layout, vocabulary: Vocabulary, located: Located) -> None:
    declared = {vocabulary.design_input(name): text for name, text in layout.units.items()}
    for column in located.values:
        record = vocabulary.design_inputs[column.design_input]
        if record.kind is Kind.ATTRIBUTE:
            column.unit = ""
            continue
        filed = declared.get(column.design_input) or column.unit or heading(column.heading).unit
        place = grid.place(located.header, column.heading)
        outcome = checked_unit(filed, wanted=record.unit or "", place=place, characteristic=record.characteristic)
        if isinstance(outcome, Problem):
            located.problems.append(outcome)
        else:
            column.unit = outcome


def _tell_unused(grid: Grid, located: Located, cells: Sequence[str]) -> None:
    used = {*located.columns.values(), *(column.index for column in located.values)}
    unused = [cell for index, cell in enumerate(cells) if cell and index not in used and plain(cell) not in _IGNORED]
    if unused:
        names = ", ".join(repr(cell) for cell in unused)
        located.guesses.append(Guess(grid.place(located.header), f"columns not used: {names}"))
