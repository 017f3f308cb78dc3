"""One result file to blocks of texts: which sheet, which delimiter, where the table stands, what its columns are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import compress, zip_longest

from reportgen.lab.conventions import decimal_sign
from reportgen.lab.grid import SHEET_SUFFIXES, TEXT_SUFFIXES, FileBytes, Grid, Shelf, decoded, split_text
from reportgen.lab.headings import Vocabulary, plain
from reportgen.lab.layouts import Located, header_index, locate
from reportgen.lab.records import Guess
from reportgen.lab.rows import Block, texts_of
from reportgen.lab.workbook import hidden_faults, read_sheets
from reportgen.problems import Place, Problem, counted_more
from reportgen.project.records import Layout, Protocol, ResultFile, SourceFile

# so much of a text is looked at to tell its delimiter
_SAMPLE = 20_000
_DELIMITERS = (",", ";", "\t", "|")
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
# words that stand where a specimen id should, in the lines a spreadsheet or a machine adds below the table
_SUMMARY_WORDS = frozenset(
    {
        *("mean", "average", "median", "sd", "s d", "std", "std dev", "stdev", "standard deviation", "cv", "rsd"),
        *("coefficient of variation", "min", "minimum", "max", "maximum", "range", "count"),
    }
)


@dataclass(frozen=True, slots=True)
class FiledResults:
    """A result file with what says how it is to be read."""

    result_file: ResultFile
    protocol: Protocol
    vocabulary: Vocabulary


@dataclass(slots=True)
class FileReading:
    """What came out of one file: `answered` are the design inputs that it has a place for."""

    source: SourceFile | None = None
    blocks: list[Block] = field(default_factory=list)
    guesses: list[Guess] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    answered: set[str] = field(default_factory=set)


def read_result_file(shelf: Shelf, filed: FiledResults) -> FileReading:
    source = shelf.read(filed.result_file.file, named_at=filed.result_file.at("file"))
    if isinstance(source, Problem):
        return FileReading(problems=[source])
    reading = FileReading(source.source)
    layout, vocabulary = filed.result_file.layout, filed.vocabulary
    delimiter = ""
    if source.suffix in SHEET_SUFFIXES:
        grid = _one_sheet(source, layout, vocabulary, reading)
    elif source.suffix in TEXT_SUFFIXES:
        grid, delimiter = _one_text(source, layout, vocabulary, reading)
    else:
        grid = None
        reading.problems.append(_unknown_suffix(source))
    if grid is None:
        return reading
    located = locate(grid, layout, vocabulary)
    reading.problems.extend(located.problems)
    reading.guesses.extend(located.guesses)
    if not located.problems:
        _take_block(grid, located, filed, delimiter, reading)
    return reading


def _unknown_suffix(source: FileBytes) -> Problem:
    return Problem(
        place=Place(source.file),
        found=f"a file ending in {source.suffix!r}",
        expected=f"one of {', '.join((*TEXT_SUFFIXES, *SHEET_SUFFIXES))}",
        mend="save it as .xlsx, or export it as .csv",
    )


def _one_sheet(source: FileBytes, layout: Layout, vocabulary: Vocabulary, reading: FileReading) -> Grid | None:
    grids, problems = read_sheets(source, layout.sheet)
    reading.problems.extend(problems)
    filled = [grid for grid in grids if any(map(any, grid.rows))]
    if not filled:
        if not problems:
            reading.problems.append(_nothing_in(source))
        return None
    grid = max(filled, key=lambda grid: header_index(grid, layout, vocabulary)[1])
    # a sheet of notes or lists is no rival; one with headings of its own may be
    rivals = [other for other in filled if other is not grid and header_index(other, layout, vocabulary)[1] > 1]
    if layout.sheet is None and rivals:
        others = ", ".join(repr(other.sheet) for other in rivals)
        reading.guesses.append(Guess(grid.place(0), f"sheet {grid.sheet!r} read, not {others}"))
    reading.problems.extend(hidden_faults(source, grid.sheet))
    return grid


def _one_text(
    source: FileBytes, layout: Layout, vocabulary: Vocabulary, reading: FileReading
) -> tuple[Grid | None, str]:
    text = decoded(source, layout.encoding)
    if isinstance(text, Problem):
        reading.problems.append(text)
        return None, ""
    content, guessed_encoding = text
    if not content.strip():
        reading.problems.append(_nothing_in(source))
        return None, ""
    if guessed_encoding is not None:
        reading.guesses.append(Guess(Place(source.file), f"encoding {guessed_encoding}"))
    delimiter = layout.delimiter
    if delimiter is None:
        surely = _surely_by_commas(source, content, layout, vocabulary)
        if surely is not None:
            return surely, ","
        delimiter = _likely_delimiter(source, content, layout, vocabulary)
        usual = "\t" if source.suffix == ".tsv" else ","
        if delimiter != usual:
            reading.guesses.append(Guess(Place(source.file), f"cells separated by a {_NAMES[delimiter]}"))
    elif len(delimiter) != 1:
        reading.problems.append(_no_delimiter(layout, delimiter))
        return None, ""
    grid = split_text(source, content, delimiter)
    if isinstance(grid, Problem):
        reading.problems.append(grid)
        return None, ""
    return grid, delimiter


def _no_delimiter(layout: Layout, delimiter: str) -> Problem:
    return Problem(
        place=layout.at("delimiter"),
        found=f"{delimiter!r} as the delimiter",
        expected="one sign, such as ',' or ';' or a tab (\"\\t\" in double quotes)",
        mend="correct delimiter under layout, or leave it out to have it recognized",
    )


def _nothing_in(source: FileBytes) -> Problem:
    return Problem(
        place=Place(source.file),
        found="nothing: the file is empty",
        expected="at least a heading row",
        mend="export the file again, or take it out of the protocol's results",
    )


def _surely_by_commas(source: FileBytes, text: str, layout: Layout, vocabulary: Vocabulary) -> Grid | None:
    """The usual case, told without looking twice: every heading is recognized where commas separate the cells."""
    if source.suffix == ".tsv" or "," not in text[:_SAMPLE]:
        return None
    grid = split_text(source, text, ",")
    if isinstance(grid, Problem):
        return None
    index, known = header_index(grid, layout, vocabulary)
    return grid if known >= 3 and known == len(grid.rows[index]) else None


def _likely_delimiter(source: FileBytes, text: str, layout: Layout, vocabulary: Vocabulary) -> str:
    """The delimiter under which most headings are recognised; of equals, the one that makes more cells."""
    sample = "\n".join(text[:_SAMPLE].splitlines()[:101])
    best, score = ",", (0, 0)
    for delimiter in _DELIMITERS:
        if delimiter not in sample:
            continue
        grid = split_text(source, sample, delimiter)
        if isinstance(grid, Problem):
            continue
        index, known = header_index(grid, layout, vocabulary)
        this = (known, len(grid.rows[index]) if index >= 0 else 0)
        if this > score:
            best, score = delimiter, this
            if known >= 3 and known == this[1]:
                break
    return best


def _take_block(
    grid: Grid,
    located: Located,
    filed: FiledResults,
    delimiter: str,
    reading: FileReading,
) -> None:
    """The data rows of a located table as columns of texts."""
    layout = filed.result_file.layout
    rows, numbers = _data_rows(grid, located, reading)
    width = max([located.width, *map(len, rows)])
    if width > located.width:
        reading.problems.extend(_too_many_cells(grid, rows, numbers, located.width))
    columns = list(zip_longest(*rows, [""] * width, fillvalue=""))
    texts = {name: texts_of(columns[index][:-1]) for name, index in located.columns.items() if index < width}
    reading_columns = [column.index for column in located.values]
    if located.shape == "long" and "value" in located.columns:
        reading_columns.append(located.columns["value"])
    sign = decimal_sign(
        [text for index in reading_columns for text in columns[index][:-1]],
        layout,
        delimiter=delimiter,
        place=grid.place(located.header),
    )
    if isinstance(sign, Problem):
        reading.problems.append(sign)
        return
    if isinstance(sign, Guess):
        reading.guesses.append(sign)
        sign = ","
    specimen = located.columns.get("specimen")
    if specimen is not None and grid.holds_numbers(specimen, first=located.first):
        what = "specimen ids stored as numbers: leading zeros, if they had any, are lost in the workbook"
        reading.guesses.append(Guess(grid.place(located.header, "specimen"), what))
    block = Block(
        protocol=filed.protocol,
        layout=layout,
        vocabulary=filed.vocabulary,
        grid=grid,
        numbers=numbers,
        texts=texts,
        headings={name: grid.rows[located.header][index].strip() for name, index in located.columns.items()},
        values=[(column, texts_of(columns[column.index][:-1])) for column in located.values],
        long=located.shape == "long",
        long_unit=located.long_unit,
        decimal_comma=sign == ",",
    )
    reading.blocks.append(block)
    reading.answered.update(block.design_inputs())


def _data_rows(grid: Grid, located: Located, reading: FileReading) -> tuple[list[list[str]], list[int]]:
    body, numbers = grid.rows[located.first :], list(grid.numbers[located.first :])
    filled = [bool("".join(row).strip()) for row in body]
    if not all(filled):
        body, numbers = list(compress(body, filled)), list(compress(numbers, filled))
    specimen = located.columns.get("specimen")
    end = len(body)
    while specimen is not None and end and specimen < len(body[end - 1]):
        if plain(body[end - 1][specimen]) not in _SUMMARY_WORDS:
            break
        end -= 1
    if end < len(body):
        what = f"rows from {numbers[end]} on left out: they read {body[end][specimen or 0].strip()!r} and the like"
        place = Place(grid.file, row=numbers[end], sheet=grid.sheet or None)
        reading.guesses.append(Guess(place, what))
    return body[:end], numbers[:end]


def _too_many_cells(grid: Grid, rows: list[list[str]], numbers: list[int], width: int) -> Iterator[Problem]:
    """More cells than headings: most often a decimal comma in a file whose cells are separated by commas."""
    wrong = [
        (number, row)
        for row, number in zip(rows, numbers, strict=True)
        if len(row) > width and any(cell.strip() for cell in row[width:])
    ]
    if wrong:
        number, row = wrong[0]
        also = f" (and so in {counted_more(len(wrong) - 1, 'row')})" if len(wrong) > 1 else ""
        yield Problem(
            place=Place(grid.file, row=number, sheet=grid.sheet or None),
            found=f"{len(row)} cells where there are {width} headings{also}",
            expected="as many cells as headings",
            mend="look for a decimal comma or a separator inside a cell; export with semicolons or decimal points",
        )
