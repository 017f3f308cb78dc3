"""Result files to measurements: every file of every protocol, every problem collected.

Two specimens of one name in one protocol stay two rows: whether they are repeated readings of one device or a slip of
the pen is for the audit to ask, and repeated readings never raise n in the acceptance.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import compress, zip_longest

from reportgen.lab.conventions import decimal_sign
from reportgen.lab.grid import SHEET_SUFFIXES, TEXT_SUFFIXES, FileBytes, Grid, decoded, read_file, split_text
from reportgen.lab.headings import Vocabulary, plain
from reportgen.lab.layouts import Located, header_index, locate
from reportgen.lab.meaning import measurements_of
from reportgen.lab.records import Guess, Measurements
from reportgen.lab.rows import Block
from reportgen.lab.trace_rows import blocks_from_traces
from reportgen.lab.workbook import hidden_faults, read_sheets
from reportgen.problems import Place, Problem, UnreadableInput, counted_more
from reportgen.project.records import Layout, Project, Protocol, ResultFile, SourceFile

_DELIMITERS = (",", ";", "\t", "|")
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
# words that stand where a specimen id should, in the lines a spreadsheet or a machine adds below the table
_SUMMARY_WORDS = frozenset(
    {
        *("mean", "average", "median", "sd", "s d", "std", "std dev", "stdev", "standard deviation", "cv", "rsd"),
        *("coefficient of variation", "min", "minimum", "max", "maximum", "range", "count"),
    }
)


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
    for protocol in project.protocols:
        vocabulary = Vocabulary(project.design_input(id) for id in protocol.verifies)
        answered: set[str] = set()
        faultless = True
        for result_file in protocol.results:
            source = read_file(project.folder, result_file.file, named_at=result_file.at("file"))
            if isinstance(source, Problem):
                problems.append(source)
                faultless = False
                continue
            sources[source.file] = source.source
            found = _read_one(source, protocol, result_file, vocabulary)
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


# ------------------------------------------------------------------------------------------------- one file


@dataclass(slots=True)
class _FileReading:
    blocks: list[Block] = field(default_factory=list)
    guesses: list[Guess] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    answered: set[str] = field(default_factory=set)


def _read_one(source: FileBytes, protocol: Protocol, result_file: ResultFile, vocabulary: Vocabulary) -> _FileReading:
    reading = _FileReading()
    layout = result_file.layout
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
        _take_block(grid, located, protocol, layout, vocabulary, delimiter, reading)
    return reading


def _unknown_suffix(source: FileBytes) -> Problem:
    return Problem(
        place=Place(source.file),
        found=f"a file ending in {source.suffix!r}",
        expected=f"one of {', '.join((*TEXT_SUFFIXES, *SHEET_SUFFIXES))}",
        mend="save it as .xlsx, or export it as .csv",
    )


def _one_sheet(source: FileBytes, layout: Layout, vocabulary: Vocabulary, reading: _FileReading) -> Grid | None:
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
    source: FileBytes, layout: Layout, vocabulary: Vocabulary, reading: _FileReading
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


def _likely_delimiter(source: FileBytes, text: str, layout: Layout, vocabulary: Vocabulary) -> str:
    """The delimiter under which most headings are recognised; of equals, the one that makes more cells."""
    sample = "\n".join(text[:20_000].splitlines()[:101])
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
    protocol: Protocol,
    layout: Layout,
    vocabulary: Vocabulary,
    delimiter: str,
    reading: _FileReading,
) -> None:
    """The data rows of a located table as columns of texts."""
    rows, numbers = _data_rows(grid, located, reading)
    width = max([located.width, *map(len, rows)])
    if width > located.width:
        reading.problems.extend(_too_many_cells(grid, rows, numbers, located.width))
    columns = list(zip_longest(*rows, [""] * width, fillvalue=""))
    texts = {name: list(columns[index][:-1]) for name, index in located.columns.items() if index < width}
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
        protocol=protocol,
        layout=layout,
        vocabulary=vocabulary,
        grid=grid,
        numbers=numbers,
        texts=texts,
        headings={name: grid.rows[located.header][index].strip() for name, index in located.columns.items()},
        values=[(column, list(columns[column.index][:-1])) for column in located.values],
        long=located.shape == "long",
        long_unit=located.long_unit,
        decimal_comma=sign == ",",
    )
    reading.blocks.append(block)
    reading.answered.update(block.design_inputs())


def _data_rows(grid: Grid, located: Located, reading: _FileReading) -> tuple[list[list[str]], list[int]]:
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
